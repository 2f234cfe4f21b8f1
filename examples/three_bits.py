"""Three bits at equal groove width: which leaves the cleaner border? Prints a table; an invented scenario.

python examples/three_bits.py
"""

import chipsim as cs

WIDTH = 4.0  # mm, of the groove at the face
SPEED, FEED = 19_000, 1600  # rpm, mm/min
BOARD = cs.Board(cs.wood("yellow-poplar", moisture=9), cs.straight_grain(azimuth=20))
BITS = {
    "60 deg, 1 flute": cs.VBit(60, 12.7, 1, 0.2),
    "90 deg, 2 flutes": cs.VBit(90, 12.7, 2, 0.1),
    "120 deg, 2 flutes, dull": cs.VBit(120, 19.05, 2, 0.1, edge_radius=0.025),
}


def main() -> dict[str, float]:
    """Compare the bits on one oval border; returns mean fuzz by bit."""
    rows, result = [], {}
    for name, bit in BITS.items():
        cut = cs.Cut(bit, cs.oval(90, 60, bit.depth_for_width(WIDTH)), spindle_speed=SPEED, feed=FEED)
        risk = cs.risk_map(cut, BOARD)
        lengths = risk.lengths_by_class()
        result[name] = risk.mean("fuzz")
        rows.append((name, cut.path.depth[0], cut.feed_per_tooth, result[name], lengths))
    classes = list(rows[0][-1])[:4]
    print(
        f"{WIDTH:g} mm ({WIDTH / cs.inch:.3f} in) groove, {BOARD.wood.name}, {SPEED} rpm, {FEED} mm/min "
        f"({FEED / cs.ipm:.0f} in/min); mm of lip by class"
    )
    print(f"{'bit':24s} {'depth':>8s} {'a tooth':>9s} {'mean fuzz':>10s}" + "".join(f"{c:>12s}" for c in classes))
    for name, depth, tooth, mean, lengths in rows:
        cells = "".join(f"{lengths[c]:12.1f}" for c in classes)
        print(f"{name:24s} {depth:5.2f} mm {tooth:6.3f} mm {mean:10.3f}{cells}")
    return result


if __name__ == "__main__":
    main()
