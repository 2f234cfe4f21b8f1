"""Two files that benchmarks have written, side by side: what became faster or slower than the noise?

    python benchmarks/compare.py OLD.json NEW.json [--noise 0.1]

A figure has left the noise if the ratio of the medians is beyond 1 +- noise (the default, 0.1, is what a quiet machine
scatters by) and no run of the one file lies among those of the other.
"""

import argparse
import json
import math
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple


class Row(NamedTuple):
    """One figure in both files: medians, their ratio new / old, and whether it has left the noise."""

    name: str
    unit: str
    old: float
    new: float
    ratio: float
    left: bool


def read(path: Path) -> dict[str, Any]:
    """Read a file that a benchmark wrote with `--json`."""
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        for figure in kept["figures"].values():
            if not figure["runs"] or not all(isinstance(value, float) for value in figure["runs"]):
                raise ValueError("a figure without values")
        _ = kept["benchmark"], kept["sizes"], kept["commit"], kept["machine"]
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise SystemExit(f"{path}: no file that a benchmark wrote with --json ({error})") from None
    return dict(kept)


def rows(old: dict[str, Any], new: dict[str, Any], noise: float) -> list[Row]:
    """Figures that are in both files."""
    found = []
    for name, before in old["figures"].items():
        after = new["figures"].get(name)
        if after is None or after["unit"] != before["unit"]:
            continue
        a, b = median(before["runs"]), median(after["runs"])
        ratio = b / a if a else math.inf if b else 1.0
        apart = max(before["runs"]) < min(after["runs"]) or max(after["runs"]) < min(before["runs"])
        beyond = not 1 / (1 + noise) <= ratio <= 1 + noise
        found.append(Row(name, before["unit"], a, b, ratio, apart and beyond))
    return found


def main(before: Path, after: Path, noise: float = 0.1) -> list[Row]:
    """Print the table and return its rows."""
    old, new = read(before), read(after)
    for what in ("benchmark", "sizes"):
        if old[what] != new[what]:
            raise SystemExit(f"{what} differ, so that there is nothing to compare: {old[what]} and {new[what]}")
    print(f"{old['benchmark']}: {old['commit'][:12]} (old) and {new['commit'][:12]} (new)")
    for name in old["machine"]:
        if old["machine"][name] != new["machine"].get(name):
            print(f"caution: {name} was {old['machine'][name]} and is {new['machine'].get(name)}")
    both = rows(old, new, noise)
    print("| figure | unit | old | new | new / old | |\n|---|---|---|---|---|---|")
    for row in both:
        left = "left the noise" if row.left else ""
        print(f"| {row.name} | {row.unit} | {row.old:.4g} | {row.new:.4g} | {row.ratio:.3f} | {left} |")
    known = {row.name for row in both}
    for which, kept in (("old", old), ("new", new)):
        for name in kept["figures"]:
            if name not in known:
                print(f"only in the {which} file, or in another unit: {name}")
    print(f"{sum(row.left for row in both)} of {len(both)} figures have left a noise of {noise:.0%}")
    return both


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Compare two files that benchmarks have written with --json.")
    parser.add_argument("old", type=Path)
    parser.add_argument("new", type=Path)
    parser.add_argument("--noise", type=float, default=0.1, help="relative; default: 0.1")
    asked = parser.parse_args()
    main(asked.old, asked.new, asked.noise)
