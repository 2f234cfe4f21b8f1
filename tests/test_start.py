"""The first call: one line that it compiles, and no cache trouble that stops it. Processes of their own.

What is compiled is kept small: `travel_time` is one short kernel without callees.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import chipsim

PACKAGE = Path(chipsim.__file__).parent
CALL = """
import numpy as np
from chipsim.kernels import axis
motion = np.array([[0.0, 0, 5, 0, 0, 0, 0, 0, 2, 0, 2, 10]])
assert axis.travel_time(motion, 0, 10.0) == 2.0
"""
LINE = "chipsim: compiling what it needs"

pytestmark = pytest.mark.skipif(os.environ.get("NUMBA_DISABLE_JIT") == "1", reason="nothing is compiled")


def run(folder, code=CALL, **environment):
    """Run code against the package in a folder; what it printed on standard error."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("NUMBA_", "CHIPSIM_", "XDG_", "HOME"))}
    kept |= {"PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"} | environment
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=kept, cwd="/", check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""
    return done.stderr


@pytest.fixture
def install(tmp_path):
    """A copy of the package; a file where its cache would be, so that not even root can make that folder."""
    shutil.copytree(PACKAGE, tmp_path / "chipsim", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "chipsim" / "kernels" / "__pycache__").write_text("")
    return tmp_path


def test_one_line_the_first_time_and_none_later(install):
    place = {"NUMBA_CACHE_DIR": str(install / "cache")}
    first = run(install, **place)
    assert first.startswith(LINE)
    assert first.count("\n") == 1
    assert "later runs start from the cache" in first
    assert run(install, **place) == ""


def test_the_line_can_be_kept_back(install):
    assert run(install, NUMBA_CACHE_DIR=str(install / "cache"), CHIPSIM_QUIET="1") == ""


def test_no_place_for_a_cache_at_all(install):
    """Read-only install, no home: everything is compiled in memory, every time."""
    for _ in range(2):
        said = run(install, HOME="/dev/null", XDG_CACHE_HOME="/dev/null")
        assert said.startswith(LINE)
        assert "NUMBA_CACHE_DIR" in said


def test_no_home_but_a_writable_install(install):
    (install / "chipsim" / "kernels" / "__pycache__").unlink()
    assert run(install, HOME="/dev/null", XDG_CACHE_HOME="/dev/null").startswith(LINE)
    assert list((install / "chipsim" / "kernels" / "__pycache__").glob("*.nbi"))


@pytest.mark.parametrize("suffix", ["nbi", "nbc"])
def test_a_damaged_cache_is_compiled_again_and_mended(install, suffix):
    place = {"NUMBA_CACHE_DIR": str(install / "cache")}
    run(install, **place)
    (damaged,) = (install / "cache").rglob(f"axis.travel_time*.{suffix}")
    damaged.write_bytes(b"\x80\x05 no pickle")
    assert run(install, **place).startswith(LINE)
    assert run(install, **place) == ""


def test_a_cache_that_goes_away_meanwhile(install):
    """The folder is there when the kernels are read and is not when they are to be written."""
    cache = install / "cache"
    gone = (
        f"from chipsim.kernels import axis\nimport shutil\nshutil.rmtree({str(cache)!r})\nopen({str(cache)!r}, 'w')\n"
    )
    assert run(install, gone + CALL, NUMBA_CACHE_DIR=str(cache)).startswith(LINE)
