"""The laws that the kernel of the risks and the NumPy fronts share: break one, and both move."""

import json
import os
import subprocess
import sys

import pytest

BREAK_EACH = """
import importlib, json
import numpy as np
import chipsim as cs
from chipsim.damage import heat, models, tearout
from chipsim.kernels import laws, risks
from chipsim.scene.grain import fibre_axis

WOOD = cs.wood("sugar maple")
MODEL = cs.RiskModel(scatter=0.0)
CUT = cs.Cut(cs.VBit(90, 6, 2, rake=15), cs.line((0, 0), (3, 0), 1.0), 12_000, 3000,
             machine=cs.Machine(300, 3000, plunge_feed=80))
STRIKES = cs.lip_strikes(CUT, pitch=3.0)
FIBRES = np.broadcast_to(fibre_axis(40.0), (len(STRIKES), 2, 3))
OPEN = (np.cos(np.radians(15) - np.arctan(0.4)), np.sin(np.radians(15) - np.arctan(0.4)))


def kernel():
    found = MODEL.lip_risks(STRIKES, FIBRES, CUT, WOOD)
    names = ("tear", "tear_depth", "temperature", "scorch")
    return [np.asarray(found[name])[STRIKES.exists].tolist() for name in names]


def front():
    heat_of = {"friction": 0.4}
    return [
        float(tearout.crack_length(0.05, 0.2, WOOD)),
        float(tearout.crack_opening(40.0, 15.0)),
        float(heat.sliding_friction(2.0, 12.0)),
        float(heat.lasting_rise(1.0, 0.02, 7.0, 1e-3, WOOD, **heat_of)),
        float(heat.flash_rise(1.0, 2.0, 0.02, WOOD, **heat_of)),
        float(heat.front_rise(1.0, 0.02, 1e-3, 2.0, WOOD, **heat_of)),
        float(models.scorch_index(240.0)),
    ]


whole = kernel(), front()
again = {}
for name in NAMES:
    law = getattr(laws, name)
    setattr(laws, name, lambda *a, law=law: 1.25 * law(*a))
    importlib.reload(risks)
    broken = kernel(), front()
    setattr(laws, name, law)
    again[name] = [a != b for a, b in zip(whole, broken)]
importlib.reload(risks)
print(json.dumps([again, (kernel(), front()) == whole]))
"""
LAWS = ("crack_of_arm", "crack_of_push", "opening", "sliding", "repeated", "flash", "front", "charring")


@pytest.fixture(scope="module")
def moved():
    """For each law: whether the risks of the kernel and the numbers of the fronts move when it is broken."""
    run = subprocess.run(
        [sys.executable, "-c", BREAK_EACH.replace("NAMES", repr(LAWS))],
        env=os.environ | {"NUMBA_DISABLE_JIT": "1", "CHIPSIM_QUIET": "1"},
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    again, restored = json.loads(run.stdout)
    assert restored
    return again


@pytest.mark.parametrize("law", LAWS)
def test_a_broken_law_moves_kernel_and_front(moved, law):
    kernel, front = moved[law]
    assert kernel, f"the kernel does not follow {law}"
    assert front, f"the fronts do not follow {law}"
