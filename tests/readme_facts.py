"""The guide's table of facts, ring by ring: the numbers it prints, held to those the tests measure."""

import re
from pathlib import Path

import pytest

GUIDE = Path(__file__).parent.parent / "DEVELOPERS.md"


def held_to(fact, measured):
    """The row whose first cell begins with `fact` prints these numbers in its last cell, in order, each as rounded."""
    if not GUIDE.exists():
        pytest.skip("not a checkout")
    rows = [line for line in GUIDE.read_text(encoding="utf-8").splitlines() if line.startswith(f"| {fact}")]
    assert len(rows) == 1, f"{len(rows)} rows of the guide begin with {fact!r}"
    met = rows[0].rstrip(" |").rpartition(" | ")[2]
    # a space between digits is a separator of thousands
    printed = re.findall(r"(?<![\w.])\d+(?: \d{3}\b)*(?:\.\d+)?", met)
    found = [f"{value:.{len(text.partition('.')[2])}f}" for text, value in zip(printed, measured, strict=False)]
    assert len(printed) == len(measured), f"the guide prints {printed}, measured {[round(float(v), 4) for v in measured]}"
    for text, value in zip(printed, measured, strict=True):
        digits = len(text.partition(".")[2])
        # a little more than half a digit: another processor may round the other way
        assert abs(float(text.replace(" ", "")) - value) <= 0.6 * 10**-digits, f"the guide prints {printed}, now {found}"
