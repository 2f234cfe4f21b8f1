"""The table of facts and studies, a page of its own: the numbers it prints, held to those the tests measure."""

import csv
import re
from pathlib import Path

import pytest

FACTS = Path(__file__).parent.parent / "examples" / "reference" / "facts.csv"


def held_to(fact, measured):
    """The row whose first cell begins with `fact` prints these numbers in its last cell, in order, each as rounded."""
    if not FACTS.exists():
        pytest.skip("not a checkout")
    with open(FACTS, newline="", encoding="utf-8") as handle:
        rows = [row for row in csv.reader(handle) if row[0].startswith(fact)]
    assert len(rows) == 1, f"{len(rows)} rows of {FACTS.name} begin with {fact!r}"
    met = rows[0][2]
    # a space between digits is a separator of thousands
    printed = re.findall(r"(?<![\w.])\d+(?: \d{3}\b)*(?:\.\d+)?", met)
    found = [f"{value:.{len(text.partition('.')[2])}f}" for text, value in zip(printed, measured, strict=False)]
    assert len(printed) == len(measured), (
        f"the page prints {printed}, measured {[round(float(v), 4) for v in measured]}"
    )
    for text, value in zip(printed, measured, strict=True):
        digits = len(text.partition(".")[2])
        # a little more than half a digit: another processor may round the other way
        assert abs(float(text.replace(" ", "")) - value) <= 0.6 * 10**-digits, f"the page prints {printed}, now {found}"
