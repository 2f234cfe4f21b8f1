"""What a benchmark measured, kept as JSON with the commit and the machine, so that two runs can be compared.

Every script that measures takes `--json FILE`; `--runs 3` measures three times, which tells `compare.py` how far the
figures scatter by themselves.
"""

import argparse
import inspect
import json
import os
import platform
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import numpy as np
import scipy

import chipsim as cs
from chipsim._shared.files import checked_path, whole_file
from chipsim.errors import DomainError

Figures = dict[str, tuple[float, str]]
"""Name of a figure -> its value and unit; '-' is a ratio or a share."""


def run(main: Callable[..., object], argv: list[str] | None = None, **sizes: float | str) -> dict[str, Any]:
    """Call a script's `main` with the sizes of the command line, and keep what it measured if a file is named."""
    parser = argparse.ArgumentParser(description=(main.__doc__ or "").partition("\n")[0])
    for name, default in sizes.items():
        parser.add_argument(name, nargs="?", type=type(default), default=default, help=f"default: {default}")
    parser.add_argument("--json", metavar="FILE", type=Path, help="write the figures to this file")
    parser.add_argument("--runs", metavar="N", type=int, default=1, help="measure so many times; default: 1")
    asked = vars(parser.parse_args(argv))
    file, runs = asked.pop("json"), asked.pop("runs")
    if runs < 1:
        parser.error(f"--runs must be 1 or more, got {runs}")
    if file:
        try:
            checked_path(file)  # before hours of work, not after
        except DomainError as error:
            parser.error(str(error))
    measured: dict[str, dict[str, Any]] = {}
    for _ in range(runs):
        figures: Figures = {}
        main(**asked, figures=figures)
        for name, (value, unit) in figures.items():
            measured.setdefault(name, {"unit": unit, "runs": []})["runs"].append(float(value))
    kept = {
        "benchmark": Path(inspect.getfile(main)).stem,
        "sizes": asked,
        "commit": commit(),
        "machine": machine(),
        "figures": measured,
    }
    if file:
        with whole_file(file) as out:
            json.dump(kept, out, indent=2)
            out.write("\n")
    return kept


def commit() -> str:
    """What was measured: the commit checked out, with '+' if files differ from it; 'unknown' outside of a checkout."""
    answers = []
    for ask in (("rev-parse", "HEAD"), ("status", "--porcelain")):
        try:
            found = subprocess.run(["git", *ask], cwd=Path(__file__).parent, capture_output=True, text=True, check=True)
        except (OSError, subprocess.CalledProcessError):
            return "unknown"
        answers.append(found.stdout.strip())
    return answers[0] + ("+" if answers[1] else "")


def machine() -> dict[str, str | int | None]:
    """Processor, and the versions of what the figures depend on."""
    return {
        "processor": processor(),
        "processors": os.cpu_count(),
        "system": platform.system(),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "numba": numba.__version__,
        "chipsim": cs.__version__,
    }


def processor() -> str:
    """Name of the processor, as well as the system knows it."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text(encoding="utf-8").splitlines() if info.exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.processor() or platform.machine()
