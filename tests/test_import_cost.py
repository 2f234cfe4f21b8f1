"""`import chipsim` loads nothing heavy: sets of modules, not milliseconds."""

import subprocess
import sys

HEAVY = {"numba", "scipy", "matplotlib", "hypothesis", "numpy"}


def loaded_after(code):
    script = f"{code}\nimport sys\nprint(*(m for m in sys.modules if '.' not in m))"
    result = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(result.stdout.split())


def test_import_is_light():
    assert not loaded_after("import chipsim") & HEAVY


def test_value_objects_need_neither_compiler_nor_pictures():
    code = "import chipsim as cs; cs.Cut(cs.VBit(90, 12.7), cs.ring(20, 2), 18000, 1500); cs.wood('black cherry')"
    assert not loaded_after(code) & {"numba", "matplotlib", "hypothesis", "scipy"}


def test_drawing_is_imported_late():
    assert "matplotlib" not in loaded_after("import chipsim as cs; cs.draw_risk_map")


def test_the_kit_is_imported_without_its_tools():
    assert not loaded_after("import chipsim") & {"pytest"}
    code = "from chipsim.testing import check, checks_for, parametrize_with_checks"
    assert not loaded_after(code) & {"hypothesis", "pytest", "matplotlib"}
    code = "import chipsim as cs; from chipsim.testing import checks_for; checks_for(cs.Machine(500, 5000))"
    assert not loaded_after(code) & {"hypothesis", "pytest"}


def test_every_public_name_resolves():
    import chipsim

    for name in chipsim.__all__:
        assert getattr(chipsim, name) is not None
    assert set(chipsim.__all__) <= set(dir(chipsim))
