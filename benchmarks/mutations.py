"""Plant faults in kernels and models, one at a time in a scratch copy, and show which test catches each.

    python benchmarks/mutations.py [size] [word]

Size 1 only looks whether every fault still applies and tries one of them; any larger size runs them all (an hour or
so); `word` picks the faults that have it in their name. A fault is a piece of a file, which must be there exactly
once, and what is put in its place. Faults in kernels meet `tests/test_kernels_plain.py` without the compiler first,
which takes seconds; only what survives is compiled and meets the tests of the kernels. Other faults meet the tests
named beside them. Before that the same tests must pass on an untouched copy.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
KERNELS = "chipsim/kernels/"
PLAIN = ["tests/test_kernels_plain.py"]
COMPILED = ["tests/test_space.py", "tests/test_kinematics.py", "tests/test_carving.py", "tests/test_symmetries.py"]
TIME_LIMIT = 1800  # s


class Fault(NamedTuple):
    """What is planted, where, and which tests should see it (without them: those of the kernels)."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...] = ()


def kernel(name: str, old: str, new: str, tests: tuple[str, ...] = ()) -> Fault:
    """Fault in the one file of the kernels that holds the piece."""
    held = [p for p in sorted((ROOT / KERNELS).glob("*.py")) if old in p.read_text(encoding="utf-8")]
    if len(held) != 1:
        raise ValueError(f"{name}: {old!r} stands in {len(held)} files of the kernels")
    return Fault(name, KERNELS + held[0].name, old, new, tests)


def model_kernel(name: str, old: str, new: str) -> Fault:
    """Fault in the kernels of the risks."""
    return kernel(name, old, new, MODELS)


MODELS = ("tests/test_models.py", "tests/test_symmetries.py")
GRAIN = ("tests/test_grain.py", "tests/test_symmetries.py")
ROADS = ("tests/test_roads.py -k ahead or steep",)
LAYOUT = ("tests/test_layout.py",)
LIPS = ("tests/test_lips.py",)
NARROW = ("tests/test_narrow_grooves.py",)
HISTORIES = ("tests/test_histories.py",)
SHEARED = ("tests/test_sheared_edges.py",)
LIFT = ("tests/test_lift.py",)
MOVING = ("tests/test_moving_lips.py",)
NEAR_THE_AXIS = ("tests/test_strikes_near_the_axis.py",)
MACHINE = ("tests/test_machine.py",)
SPEEDS = ("tests/test_speed_kernels.py",)
PATHS = ("tests/test_testing.py -k generators",)
BITS = ("tests/test_testing.py -k VBit", "tests/test_published.py")
PROGRAMS = ("tests/test_rs274_ordinary.py",)
FILES = ("tests/test_files.py",)
LEARNING = ("tests/test_fitting.py",)
IDENTITY = ("tests/test_identity.py",)
LOADING = ("tests/test_loading.py",)
MAPS = ("tests/test_risk.py", "tests/test_carving.py", "tests/test_symmetries.py")
WORDS = "tests/test_true_words.py"
TABLES = ("tests/test_printed.py -k column",)
INCHES = ("tests/test_printed.py -k inches",)
SHEET = ("tests/test_printed.py -k sheet",)
EDGES = ("tests/test_printed.py -k edges",)

FAULTS = [
    # --- kernels: motion in space
    kernel(
        "lag along the rotation",
        "    return math.hypot(x, y), lag + math.atan2(y, x)",
        "    return math.hypot(x, y), math.atan2(y, x) - lag",
        SHEARED,
    ),
    kernel(
        "spiral taken for a straight lead",
        "        lag += radii[lo, at + PER_LOG] * math.log(r / radii[lo, 0])\n",
        "        lag += radii[lo, at + PER_LOG] * (r / radii[lo, 0] - 1.0)\n",
        SHEARED,
    ),
    kernel(
        "a flute's order by number, not by time",
        "            lag = FULL - (-lag) % FULL\n",
        "            lag = lag\n",
        SHEARED,
    ),
    kernel(
        "a sheared edge does not turn as it sinks",
        "        return out * fall, job[1] - aside * fall\n",
        "        return out * fall, job[1]\n",
        SHEARED,
    ),
    kernel("short flutes as long as the bit", "    r -= radii[0, at + BACK]\n", "", SHEARED),
    kernel(
        "lips by the nominal direction", "            extra -= twist\n", "            extra -= 0.9 * twist\n", SHEARED
    ),
    kernel(
        "the quick solve takes an edge to stand where its flute does",
        "            behind -= twist\n",
        "            behind = 0.0\n",
        MOVING,
    ),
    kernel("what lifts holds", "*= math.exp(-p[LIFT] * lanes", "*= math.exp(p[LIFT] * lanes", LIFT),
    kernel(
        "a pressed lip tears as a lifted one does",
        "opened[lane] = math.exp(p[LIFT] * lanes.most_lift[lane])",
        "opened[lane] = math.exp(p[LIFT] * abs(lanes.most_lift[lane]))",
        LIFT,
    ),
    Fault(
        "the lift of a straight edge's rake is counted twice",
        "chipsim/chips/strikes.py",
        "* np.sin(np.radians(shear)) * np.cos(lean)",
        "* (np.sin(np.radians(shear)) * np.cos(lean) + 0.1)",
        LIFT,
    ),
    kernel(
        "a standing axis is near nobody",
        "0.0, 0.0 if math.hypot(along, across) <= reach else -1.0, 0.0",
        "0.0, -1.0, 0.0",
    ),
    kernel(
        "the teeth of a tip above the slice count",
        "        if rise > 0.0 and last_rise > 0.0:\n            continue\n",
        "",
    ),
    kernel(
        "the jump under the tip is not looked for",
        "                    low, high = 0.0, (r + job[3]) / ca",
        "                    low, high = n, n",
    ),
    # --- kernels: risks at the lips
    model_kernel(
        "hazard without its exponent", "        half_powers(x, n, int(2.0 * power), out)\n", "        out[:n] = x[:n]\n"
    ),
    model_kernel(
        "gate turned round",
        "caught = thinly if x < 0.125 else 1.0 - impacts[k]",
        "caught = 1.0 - thinly if x < 0.125 else impacts[k]",
    ),
    model_kernel(
        "hazard of the first node for the mean",
        "if detailed and j == directions.nodes[q] // 2:",
        "if detailed and j == 0:",
    ),
    model_kernel(
        "stand added to the crack",
        "a, b = cracks[k, i, j] * pull[j] - stand",
        "a, b = cracks[k, i, j] * pull[j] + stand",
    ),
    model_kernel("fibre taken for a vector", "= -into if along < 0.0 else into,", "= into,"),
    model_kernel("crossing not squared", "crossing[lane] = beyond * beyond", "crossing[lane] = abs(beyond)"),
    model_kernel("strikes without cos a", "if most > 0.0 else took) * lips.lean_cos[row]", "if most > 0.0 else took)"),
    model_kernel(
        "last strike left out",
        "    out[:] = 0.0\n    for i in range(count):",
        "    out[:] = 0.0\n    for i in range(count - 1):",
    ),
    model_kernel(
        "empty lanes rub",
        "there = 1.0 if (rank[i, lane] >= 0.0) & (loads.weights[i * LANES + lane] > 0.0) else 0.0",
        "there = 1.0",
    ),
    model_kernel(
        "one set of coefficients for all",
        "if s == 0 or coefficients.shape[0] > 1:\n                    load_strikes",
        "if s == 0:\n                    load_strikes",
    ),
    model_kernel("one array of fibres for all", "if s == 0 or fibres.shape[0] > 1:", "if s == 0:"),
    model_kernel(
        "scatter of a clockwise spindle for both", "-job.turn * directions.sines[q, j]", "directions.sines[q, j]"
    ),
    model_kernel("every turn of the fibres is the first", "places[t, j]", "places[0, j]"),
    model_kernel(
        "nodes of one scatter for all", "for j in range(directions.nodes[q]):", "for j in range(directions.nodes[0]):"
    ),
    model_kernel("arms split for certain", "splits[k, lane] = 1.0 - lifted[lane] if", "splits[k, lane] = 1.0 if"),
    model_kernel("chip at the entry, not the thickest", "            arm = max(arm, took[teeth])\n", ""),
    model_kernel(
        "shift of the grader forgotten", "eta[s] * 0.6931471805599453 + shifts[s]", "eta[s] * 0.6931471805599453"
    ),
    model_kernel("poor from the cut before", "(eta[s] - c[poor_from, s])", "(eta[s] - c[poor_from - 1, s])"),
    # --- fronts of the risks
    Fault(
        "rake's sign",
        "chipsim/damage/models.py",
        "np.arctan(friction) - np.radians(rake)",
        "np.arctan(friction) + np.radians(rake)",
        MODELS,
    ),
    Fault(
        "arms of the feed a turn",
        "chipsim/damage/models.py",
        "tool_feed(lips, cut) / (cut.spindle_speed * cut.bit.flutes)",
        "tool_feed(lips, cut) / cut.spindle_speed",
        MODELS,
    ),
    Fault(
        "passes a turn and not a tooth apart",
        "chipsim/damage/models.py",
        "60.0 / (cut.spindle_speed * bit.flutes)",
        "60.0 / cut.spindle_speed",
        MODELS,
    ),
    Fault(
        "half a turn of a diving fibre is nothing",
        "chipsim/damage/models.py",
        "turns, 360.0 if np.any",
        "turns, 180.0 if np.any",
        MODELS,
    ),
    Fault(
        "bell of the scatter cut off",
        "chipsim/damage/models.py",
        " * np.minimum((_REACH - away) / _FADE, 1.0)",
        "",
        MODELS,
    ),
    Fault(
        "fibres turned with the design",
        "chipsim/choosing/records.py",
        "turns = -np.asarray",
        "turns = np.asarray",
        LAYOUT,
    ),
    Fault(
        "later cuts for earlier ones",
        "chipsim/chips/blocks.py",
        "for j in sorted([i, *around]) for k",
        "for j in sorted([i, *around])[::-1] for k",
        HISTORIES,
    ),
    Fault(
        "neighbours in one column of cells",
        "chipsim/chips/neighbours.py",
        "    for i in (0, 1):",
        "    for i in (0,):",
        ("tests/test_near.py",),
    ),
    Fault(
        "neighbours one way round",
        "chipsim/chips/neighbours.py",
        "np.append(one, two), cut[np.append(two, one)]",
        "one, cut[two]",
        ("tests/test_near.py",),
    ),
    Fault(
        "edge of the bit for every draw",
        "chipsim/damage/models.py",
        "cut.bit.edge_radius if edges is None else edges",
        "cut.bit.edge_radius",
        ("tests/test_choosing.py", "tests/test_sweeps.py -k record"),
    ),
    # --- kernels: the teeth's paths
    kernel(
        "curvature with the wrong sign",
        "    along = motion[k, H] + half\n    x =",
        "    along = motion[k, H] - half\n    x =",
    ),
    kernel("heading at half of the arc", "    return x, y, along + half, depth_on", "    return x, y, along, depth_on"),
    kernel(
        "twice the acceleration",
        "    ds = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)\n    half",
        "    ds = tau * (motion[k, V] + motion[k, A] * tau)\n    half",
    ),
    kernel("runout towards the wrong side", "    y = rho * math.sin(lag)", "    y = -rho * math.sin(lag)"),
    kernel(
        "flutes counted the other way",
        "    lag = job[4] - FULL * flute / job[2]",
        "    lag = job[4] + FULL * flute / job[2]",
    ),
    kernel("half the runout", "    x = r + rho * math.cos(lag)", "    x = r + 0.5 * rho * math.cos(lag)"),
    kernel(
        "sense of the spindle in the rotation",
        "+ 0.5 * PI - job[0] * (motion[k, H]",
        "+ 0.5 * PI + job[0] * (motion[k, H]",
    ),
    kernel(
        "cutting speed of the wrong wall",
        "speed * speed + 2.0 * swing * speed * math.cos(phi) + fall * fall)",
        "speed * speed - 2.0 * swing * speed * math.cos(phi) + fall * fall)",
    ),
    kernel("no new row at a corner", "if opened and (now < phi - 1e-7 or", "if opened and (False or"),
    # --- kernels: thickness
    kernel(
        "previous tooth only",
        "    for m in range(1, flutes + 1):\n        i =",
        "    for m in range(1, 2):\n        i =",
    ),
    kernel(
        "feed a turn for feed a tooth",
        "        lag = FULL * m / flutes - extra + own",
        "        lag = FULL * m - extra + own",
    ),
    kernel(
        "sine law",
        "    return min(max(radius - most, 0.0), radius)\n",
        "    return max(FULL * motion[k, V] / omega / flutes * math.sin(phi), 0.0)\n",
    ),
    kernel(
        "neighbouring flute mistaken",
        "                    lag = FULL * (flute - i) / flutes",
        "                    lag = FULL * (i - flute) / flutes",
    ),
    kernel("own last quarter turn counts", "last = min(hi, -0.5 * PI / omega) if i == flute else hi", "last = hi"),
    kernel(
        "only the latest visit is looked back at",
        "        for w in range(count - 1, -1, -1):",
        "        for w in range(count - 1, count - 2, -1):",
    ),
    kernel(
        "half turns on a ramp end as on the level",
        "            if wanders:\n",
        "            if False:\n",
        ROADS,
    ),
    kernel(
        "runout's angle stays on a ramp",
        "job[1] + growth * math.sin(extra) / radius",
        "job[1]",
        ROADS,
    ),
    kernel(
        "the slice does not grow on a ramp",
        "(motion[k, W] + motion[k, B] * tau)\n    _, extra",
        "0.0\n    _, extra",
        ROADS,
    ),
    kernel(
        "stretches ruled out too soon",
        "most = max(here[3], there[3]) + slack",
        "most = 0.5 * here[3]",
        (*ROADS, *COMPILED),
    ),
    kernel(
        "no second look near the tip",
        "    for look in range(2):\n        if look == 1:\n            core",
        "    for look in range(1):\n        if look == 1:\n            core",
    ),
    kernel(
        "ramp counted twice",
        "    up = view[4] + depth\n    radius, extra",
        "    up = view[4] + 2.0 * depth - motion[k, D]\n    radius, extra",
    ),
    kernel(
        "ramp forgotten",
        "    up = view[4] + depth\n    radius, extra",
        "    up = view[4] + motion[k, D]\n    radius, extra",
    ),
    kernel(
        "teeth clear a slice that they are above",
        "        rise = flute_rise(radii, flute) - view[4] - motion[k, D]\n",
        "        rise = -1e9\n",
    ),
    kernel(
        "earlier pass forgotten in the table",
        "    n = cover_by_teeth(prior, cx, cy, azimuth, h - depth, radius, cover, n)\n",
        "",
    ),
    kernel(
        "earlier pass met at the face's width",
        "n = cover_by_teeth(prior, cx, cy, azimuth, h - depth, radius, cover, n)",
        "n = cover_by_teeth(prior, cx, cy, azimuth, 0.0, radius, cover, n)",
    ),
    kernel(
        "dropped cos a",
        "                    miss = max(ca * (other + bend), 0.0) - n\n                    # the step",
        "                    miss = max(other + bend, 0.0) - n\n                    # the step",
    ),
    kernel(
        "dropped cos a in the tip zone",
        "                    chip[row, col, level] = ca * thick\n",
        "                    chip[row, col, level] = thick\n",
    ),
    kernel(
        "normal thickness without the climb",
        "up = h + n * sa\n                    other, _",
        "up = h\n                    other, _",
    ),
    kernel(
        "full angle for half in the normal",
        "                lean = math.atan(own_slope(heights, radii, flute, h))",
        "                lean = 2.0 * math.atan(own_slope(heights, radii, flute, h))",
    ),
    kernel(
        "slope beyond a knee instead of below",
        "        if heights[middle] < h - 1e-12:",
        "        if heights[middle] <= h + 1e-12:",
    ),
    kernel(
        "runout carries a crossing over a corner",
        "motion[i, K] * motion[i, DS]) > 1e-9:",
        "motion[i, K] * motion[i, DS]) > 99.0:",
    ),
    # --- kernels: lips
    kernel(
        "first strike lost",
        "            if left[i] < nearest + bundle:\n",
        "            if left[i] < nearest + bundle and i > 0:\n",
        HISTORIES,
    ),
    kernel(
        "layer from the nominal lip",
        "            if left[i] < nearest + bundle:\n",
        "            if left[i] < bundle:\n",
    ),
    kernel(
        "strikes in air count",
        "        level = before\n        for i in range(n):\n            if left[i] >= level - ALIKE:",
        "        level = before\n        for i in range(n):\n            if left[i] >= level + 10.0:",
    ),
    kernel(
        "chip of the strike before",
        "strikes[row, side, count, CHIP] = level - left[i]",
        "strikes[row, side, count, CHIP] = level - left[max(i - 1, 0)]",
    ),
    kernel("cutting speed in mm/s", "count, SPEED] = fast[i] * 1e-3", "count, SPEED] = fast[i]"),
    kernel(
        "lip's teeth come the other way",
        "        b = sense * (ux * ry - uy * rx)\n        if step == 0:",
        "        b = -sense * (ux * ry - uy * rx)\n        if step == 0:",
    ),
    kernel(
        "feed forgotten in a lip's speed",
        "vx = swing * math.cos(direction) + speed * math.cos(heading)",
        "vx = swing * math.cos(direction)",
    ),
    kernel(
        "earlier strokes forgotten at the lip",
        "        surface[row, side] = level\n",
        "        surface[row, side] = before\n",
        HISTORIES,
    ),
    kernel(
        "strikes that a later stroke puts out of the bundle stay",
        "strikes[row, side, out, DEPTH] >= nearest + bundle:",
        "strikes[row, side, out, DEPTH] >= nearest + 99.0:",
        HISTORIES,
    ),
    kernel("strokes that come near taken for clear", "if gap > limit:", "if gap > 0.2 * limit:", HISTORIES),
    kernel(
        "a tip above the face strikes",
        "        elif one < -TOUCHING or two < -TOUCHING:",
        "        elif False:",
        HISTORIES,
    ),
    kernel("a standing tooth strikes from its second turn on only", "since > turn + half", "since > -1.0", HISTORIES),
    kernel(
        "a turn holds one crossing near the axis too",
        "if -a - way - outlook <= max(4.0 * drift, 3.0 * job[3]):",
        "if False:",
        NEAR_THE_AXIS,
    ),
    kernel(
        "stretches of a turn not halved",
        "if abs(slope) <= curl * half + unsure and half > 1e-8:",
        "if False:",
        NEAR_THE_AXIS,
    ),
    kernel(
        "a bundle far from its lip is not looked for",
        "(lonely or level + bundle > outlook)",
        "lonely",
        NEAR_THE_AXIS,
    ),
    Fault(
        "strokes of narrow grooves looked for no farther than strikes",
        "chipsim/chips/blocks.py",
        "outlook = max(outlook, _STOCK)",
        "outlook = max(outlook, 0.0)",
        NARROW,
    ),
    kernel(
        "own crossing leaves the lip",
        "                if gap < -margin:\n",
        "                if gap < -margin and station.shape[0] == 0:\n",
    ),
    kernel("lip cut twice counts twice", "behind > 0.05 and not", "behind > 1e9 and not"),
    kernel("arc's far half not seen", "            near += FULL * rad\n", "            near += 0.0\n"),
    # --- kernels: models
    # --- models
    Fault(
        "against and with the grain swapped",
        "chipsim/damage/models.py",
        '    turn = -1.0 if spin == "cw" else 1.0',
        '    turn = 1.0 if spin == "cw" else -1.0',
        MODELS,
    ),
    Fault("normal points up", "chipsim/damage/models.py", "zero - np.sin(lean)]", "zero + np.sin(lean)]", GRAIN),
    Fault(
        "degrees for radians in the support",
        "chipsim/damage/models.py",
        "        lean = np.radians(180.0 - array(",
        "        lean = (180.0 - array(",
        MODELS,
    ),
    Fault(
        "critical speed without the root of three",
        "chipsim/damage/models.py",
        "(np.sqrt(3.0) * np.sqrt(w.elastic_modulus_true",
        "(np.sqrt(w.elastic_modulus_true",
        ("tests/test_risk.py -k hunts",),
    ),
    Fault(
        "support lost against the grain",
        "chipsim/damage/models.py",
        "np.where(lean < np.pi / 2, np.cos(lean)",
        "np.where(lean > np.pi / 2, -np.cos(lean)",
        MODELS,
    ),
    Fault(
        "typed feed for the reached one",
        "chipsim/damage/models.py",
        "    return 60.0 * cut.speed_profile.speed_at(lips.station)",
        "    return cut.feed + 0.0 * lips.station",
        (*MAPS, "tests/test_models.py", "tests/test_plots.py"),
    ),
    Fault(
        "crack grows with the arm squared",
        "chipsim/kernels/laws.py",
        "return unit * root * np.sqrt(root)",
        "return unit * root",
        ("tests/test_tearout.py",),
    ),
    Fault(
        "longest arm halved",
        "chipsim/damage/tearout.py",
        "float(6 * wood.elastic_modulus_true",
        "float(3 * wood.elastic_modulus_true",
        ("tests/test_tearout.py",),
    ),
    Fault(
        "land in metres",
        "chipsim/damage/heat.py",
        "np.sqrt(diffusivity * b * 1e-3)",
        "np.sqrt(diffusivity * b)",
        ("tests/test_heat.py",),
    ),
    Fault("wet wood grips", "chipsim/damage/heat.py", "0.4 - 0.25 * wet", "0.4 + 0.25 * wet", ("tests/test_heat.py",)),
    # --- grain
    Fault(
        "dive upwards",
        "chipsim/scene/grain.py",
        "level * np.sin(azimuth), -np.sin(dive)], axis=-1)",
        "level * np.sin(azimuth), np.sin(dive)], axis=-1)",
        GRAIN,
    ),
    Fault(
        "fibre angle from the wall",
        "chipsim/scene/grain.py",
        "np.arctan2(_dot(g, n), _dot(g, v))",
        "np.arctan2(_dot(g, v), _dot(g, n))",
        GRAIN,
    ),
    Fault(
        "edge angle up to 180",
        "chipsim/scene/grain.py",
        "np.abs(_dot(e, g))",
        "_dot(e, g)",
        GRAIN,
    ),
    Fault(
        "turned board keeps its azimuths",
        "chipsim/scene/grain.py",
        "        return azimuth + self.turn, dive",
        "        return azimuth, dive",
        GRAIN,
    ),
    # --- lips
    Fault(
        "lip leans the other way on a ramp",
        "chipsim/chips/lips.py",
        "np.column_stack([heading + np.pi / 2 + lean, heading - np.pi / 2 - lean])",
        "np.column_stack([heading + np.pi / 2 - lean, heading - np.pi / 2 + lean])",
        LIPS,
    ),
    Fault(
        "inner and outer lip swapped",
        "chipsim/chips/lips.py",
        "cells) for sign in (-1.0, 1.0))",
        "cells) for sign in (1.0, -1.0))",
        LIPS,
    ),
    Fault(
        "fan on the wrong side of a corner",
        "chipsim/chips/lips.py",
        "amount = np.column_stack([-turn, turn])",
        "amount = np.column_stack([turn, -turn])",
        LIPS,
    ),
    Fault(
        "lip not shortened on a ramp",
        "chipsim/chips/lips.py",
        "    root, bow = np.sqrt(1 - m * m), curvature * width_at(",
        "    root, bow = np.ones_like(m), curvature * width_at(",
        LIPS,
    ),
    # --- paths, bits, cuts
    Fault(
        "mirrored arcs bend as before",
        "chipsim/scene/paths.py",
        "xy=self.xy * [1, -1], sweep=-self.sweep)",
        "xy=self.xy * [1, -1])",
        PATHS,
    ),
    Fault(
        "reversed arcs in the old order",
        "chipsim/scene/paths.py",
        "sweep=-self.sweep[::-1], dwell=dwell)",
        "sweep=-self.sweep, dwell=dwell)",
        PATHS,
    ),
    Fault(
        "reversed ramps in the old order",
        "chipsim/scene/paths.py",
        "self.xy[order], self.depth[order], self.dwell[order]",
        "self.xy[order], self.depth, self.dwell[order]",
        PATHS,
    ),
    Fault(
        "ring about the origin only",
        "chipsim/scene/paths.py",
        "return Path(c + r * corners,",
        "return Path(r * corners,",
        PATHS,
    ),
    Fault(
        "full angle for half",
        "chipsim/scene/cutters.py",
        "        return self.included_angle / 2\n",
        "        return self.included_angle\n",
        BITS,
    ),
    Fault(
        "heel without the turn's 2 pi",
        "chipsim/scene/cutters.py",
        'feed_per_rev, low=0, unit="mm") / (2 * np.pi)\n    sine',
        'feed_per_rev, low=0, unit="mm")\n    sine',
        ("tests/test_limits.py -k heel",),
    ),
    Fault(
        "feed a tooth is the feed a turn",
        "chipsim/scene/cuts.py",
        "        return self.feed_per_rev / self.bit.flutes",
        "        return self.feed_per_rev",
        BITS,
    ),
    # --- machine
    Fault(
        "arcs at twice the acceleration",
        "chipsim/scene/machine.py",
        "np.sqrt(a / np.abs(curvature[bent]))",
        "np.sqrt(2 * a / np.abs(curvature[bent]))",
        MACHINE,
    ),
    Fault(
        "half the braking way",
        "chipsim/scene/machine.py",
        "speeds.hold_back(square, 2 * a * length)",
        "speeds.hold_back(square, 4 * a * length)",
        MACHINE,
    ),
    kernel("corner's angle not halved", "gap / math.tan(total / 4.0)", "gap / math.tan(total / 2.0)", SPEEDS),
    kernel("sides of eight pieces forgotten", "SIDES = (2, 3, 4, 6, 8)", "SIDES = (2, 3, 4, 6)", SPEEDS),
    kernel("braking forgotten", "square[k] = min(square[k], square[k + 1] + gain[k])", "pass", SPEEDS),
    kernel("grades not parted", "* (one[i] - worse[i]) *", "* one[i] *", ("tests/test_handwork.py",)),
    Fault(
        "plunge feed on the way up",
        "chipsim/scene/machine.py",
        "    down, bent = drop > 0,",
        "    down, bent = drop < 0,",
        MACHINE,
    ),
    # --- maps, carvings
    Fault(
        "feed against the lip's speed",
        "chipsim/damage/mapping.py",
        "swing[:, None, None] * v[..., :2] + feed",
        "swing[:, None, None] * v[..., :2] - feed",
        MAPS,
    ),
    Fault("entry and exit swapped", "chipsim/damage/maps.py", '== "cw") else "exit"', '== "ccw") else "exit"', MAPS),
    Fault(
        "volume of both lips",
        "chipsim/chips/volume.py",
        "np.nansum(reach * lips.lip_length)) / 2",
        "np.nansum(reach * lips.lip_length))",
        MAPS,
    ),
    # --- what is printed
    Fault(
        "a table's temperature in kelvin",
        "chipsim/damage/maps.py",
        '": self.temperature,',
        '": self.temperature + 273.15,',
        TABLES,
    ),
    Fault(
        "a table's half-width doubled",
        "chipsim/damage/maps.py",
        '": self.half_width,',
        '": 2 * self.half_width,',
        TABLES,
    ),
    Fault(
        "24.5 mm an inch in a report", "chipsim/damage/words.py", "{length / inch:.2f}", "{length / 24.5:.2f}", INCHES
    ),
    Fault(
        "24.5 mm an inch in lengths", "chipsim/units.py", "{length / inch:.{digits", "{length / 24.5:.{digits", INCHES
    ),
    Fault(
        "the sector before the join hatched",
        "chipsim/learning/sheets.py",
        "edges[s - 1], edges[s], width=w",
        "edges[s - 2], edges[s - 1], width=w",
        SHEET,
    ),
    Fault(
        "the boxes before the join hatched",
        "chipsim/learning/sheets.py",
        "        if number in line.marked:",
        "        if number + 1 in line.marked:",
        SHEET,
    ),
    Fault(
        "small letters on the form",
        "chipsim/learning/grading.py",
        "*((r.code, coupon.sectors, _LIPS",
        "*((r.code.lower(), coupon.sectors, _LIPS",
        ("tests/test_printed.py -k letters",),
    ),
    Fault(
        "along the grain ends early",
        "chipsim/scene/grain.py",
        "min(a, 180 - a) <= near",
        "min(a, 180 - a) < near",
        EDGES,
    ),
    Fault("across the grain ends early", "chipsim/scene/grain.py", "abs(a - 90) <= near", "abs(a - 90) < near", EDGES),
    Fault(
        "along and across to 10 degrees", "chipsim/scene/grain.py", "slack: float = 5.0", "slack: float = 10.0", EDGES
    ),
    # --- words
    Fault(
        "a poor lip's reason says it is fine",
        "chipsim/damage/words.py",
        "self._fuzz_reason(i, k) if value >= clean else self._clean_reason(i, k)",
        "self._clean_reason(i, k)",
        (f"{WORDS} -k explained",),
    ),
    Fault(
        "a table's grooves from 0",
        "chipsim/damage/maps.py",
        '"groove": self.groove + 1,',
        '"groove": self.groove,',
        (f"{WORDS} -k grooves", *TABLES),
    ),
    Fault(
        "end grain is known",
        "chipsim/damage/models.py",
        "    if upright.any():\n",
        "    if False:\n",
        (f"{WORDS} -k end_grain",),
    ),
    Fault(
        "a bit is what it says it is",
        "chipsim/scene/cutters.py",
        "np.ptp(off) <= _OFF_CONE * bit.diameter",
        "np.ptp(off) <= bit.diameter",
        (f"{WORDS} -k nose",),
    ),
    Fault(
        "no doubt where a closed groove starts",
        "chipsim/damage/mapping.py",
        "np.minimum(lips.station, path.length - lips.station) <= reach",
        "np.minimum(lips.station, path.length - lips.station) < 0",
        (f"{WORDS} -k closed",),
    ),
    # --- programs
    Fault(
        "program: the second tool is not looked at",
        "chipsim/rs274/reader.py",
        "        if first != tool and self.wanted is None",
        "        if first == -1 and self.wanted is None",
        PROGRAMS,
    ),
    Fault(
        "program: the other tools are kept",
        "chipsim/rs274/reader.py",
        "self.wanted is not None and tool != self.wanted",
        "self.wanted is not None and tool == -1",
        PROGRAMS,
    ),
    Fault(
        "program: a stop in wood goes on",
        "chipsim/rs274/reader.py",
        """        if event.kind == "stop" and deep:
            self._close()
""",
        """        if event.kind == "stop" and deep:
""",
        PROGRAMS,
    ),
    Fault(
        "program: home out of wood",
        "chipsim/rs274/reader.py",
        """        elif event.kind == "home" and deep:""",
        """        elif event.kind == "home" and not moves:""",
        PROGRAMS,
    ),
    Fault(
        "program: after home all is known",
        "chipsim/rs274/interpreter.py",
        "    if state.lost:\n        _find(state, block, end)\n",
        "    if state.lost:\n        state.lost = {}\n",
        PROGRAMS,
    ),
    Fault(
        "program: centres from zero counted from the start",
        "chipsim/rs274/interpreter.py",
        "i * state.unit + state.origin[first] - a, j",
        "i * state.unit + state.origin[first], j",
        PROGRAMS,
    ),
    Fault(
        "program: code taken for text",
        "chipsim/rs274/interpreter.py",
        "or _LIKE_CODE.search(part) or",
        "or",
        PROGRAMS,
    ),
    Fault(
        "program: any arc will do",
        "chipsim/rs274/interpreter.py",
        "        if abs(before - after) > most + _SAME:\n",
        "        if abs(before - after) > 1.1 * most + _SAME:\n",
        PROGRAMS,
    ),
    Fault(
        "program: units are not looked at",
        "chipsim/rs274/interpreter.py",
        "    if not state.units_said:\n        _look_at_units(state)\n",
        "",
        PROGRAMS,
    ),
    # --- lost work
    Fault(
        "half a file stays beside the old one",
        "chipsim/_shared/files.py",
        "            os.unlink(beside)\n        raise",
        "            os.path.isfile(beside)\n        raise",
        FILES,
    ),
    Fault(
        "written in place, not beside",
        "chipsim/_shared/files.py",
        "    if old is not None and not stat.S_ISREG(old.st_mode):",
        "    if old is not None:",
        FILES,
    ),
    Fault(
        "fibres left out of the identity",
        "chipsim/learning/testpiece.py",
        "cut.path.sweep, fibres.ravel()",
        "cut.path.sweep",
        IDENTITY,
    ),
    Fault(
        "grades are known by the name of their piece alone",
        "chipsim/learning/fitting.py",
        "if g.identity != c.identity:",
        "if g.piece != c.name:",
        IDENTITY,
    ),
    Fault(
        "another species is known as well as the board itself",
        "chipsim/learning/fitting.py",
        "share = np.array([1.0, *KIN])",
        "share = np.array([1.0, 1.0, 1.0])",
        LEARNING,
    ),
    Fault(
        "what does not burn teaches nothing",
        "chipsim/learning/fitting.py",
        "    if worth > 0.98 * _CANDIDATES:",
        "    if worth > 0.0:",
        LEARNING,
    ),
    Fault(
        "a drift counts one way only",
        "chipsim/learning/fitting.py",
        "sums[reach >= abs(int(np.sum(apart)))].sum()",
        "sums[reach > abs(int(np.sum(apart)))].sum()",
        LEARNING,
    ),
    Fault(
        "a flag is no writing",
        "chipsim/learning/grading.py",
        """any(stray) or bool(set(row.get("flags", "").lower()) - set("p ,;+"))""",
        "any(stray)",
        IDENTITY,
    ),
    Fault("heads believed", "chipsim/_shared/files.py", "head + array.size != member.file_size", "False", LOADING),
    Fault("risks loaded as they come", "chipsim/damage/maps.py", "(values > high) |", "(values > np.inf) |", LOADING),
    Fault(
        "times of a kept cell in any order",
        "chipsim/choosing/sweeps.py",
        "or low > likely or likely > high",
        "",
        LOADING,
    ),
    Fault(
        "thousandths of a millimetre for thou",
        "chipsim/units.py",
        "thou = 0.0254",
        "thou = 0.001",
        ("tests/test_symmetries.py -k inches",),
    ),
]


def scratch_copy(folder: Path) -> None:
    """Copy what the tests need, without caches."""
    for name in ("chipsim", "tests", "examples", "benchmarks"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "*.png"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, folder / name)


def planted(fault: Fault, text: str) -> str:
    """The text with the fault in it; ValueError if its place is not there exactly once."""
    if text.count(fault.old) != 1:
        raise ValueError(f"{fault.name}: its place is {text.count(fault.old)} times in {fault.file}")
    return text.replace(fault.old, fault.new)


def failing(folder: Path, tests: str, *, compiled: bool) -> str:
    """Name of the first test that fails there, '' if all pass."""
    env = os.environ | {
        "PYTHONPATH": str(folder),
        "PYTHONDONTWRITEBYTECODE": "1",
        "NUMBA_CACHE_DIR": str(folder / "cache"),
        "NUMBA_DISABLE_JIT": "0" if compiled else "1",
    }
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-q",
        "--no-header",
        "-p",
        "no:cacheprovider",
        *tests.split(" ", 2),
    ]
    try:
        done = subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, timeout=TIME_LIMIT)
    except subprocess.TimeoutExpired:
        return "no end"
    if done.returncode == 0:
        return ""
    found = re.search(r"^(?:FAILED|ERROR) (\S+)", done.stdout, flags=re.M)
    return found[1].removeprefix("tests/") if found else f"pytest says {done.returncode}"


def try_fault(fault: Fault, folder: Path) -> str:
    """Plant, test, take it out again; what caught it, or ''."""
    file = folder / fault.file
    sound = file.read_text(encoding="utf-8")
    stamp = file.stat()
    file.write_text(planted(fault, sound), encoding="utf-8")
    try:
        if not fault.file.startswith(KERNELS):
            rounds = [(t, True) for t in fault.tests]
        else:
            rounds = [(t, False) for t in PLAIN] + [(t, True) for t in fault.tests or COMPILED]
        for tests, compiled in rounds:
            caught = failing(folder, tests, compiled=compiled)
            if caught:
                return caught
        return ""
    finally:
        file.write_text(sound, encoding="utf-8")
        # as old as it was: the compiler's cache of the sound kernels stays good
        os.utime(file, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))


def main(size: int = 20, word: str = "") -> list[tuple[str, str]]:
    """Try the faults, print the table, return rows (fault, caught by)."""
    faults = [f for f in FAULTS if word in f.name]
    for fault in FAULTS:
        planted(fault, (ROOT / fault.file).read_text(encoding="utf-8"))
    print(f"{len(FAULTS)} faults, each in its place")
    if size <= 1:
        faults = [f for f in FAULTS if f.name == "land in metres"]
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        scratch_copy(folder)
        if size > 1:
            for tests in dict.fromkeys(t for f in faults for t in f.tests):
                broken = failing(folder, tests, compiled=True)
                print(f"untouched, {tests}: {broken or 'passes'}", flush=True)
            if any(f.file.startswith(KERNELS) for f in faults):
                print(f"untouched, {PLAIN[0]}: {failing(folder, PLAIN[0], compiled=False) or 'passes'}", flush=True)
        print("| fault | in | caught by |\n|---|---|---|")
        for fault in faults:
            caught = try_fault(fault, folder)
            rows.append((fault.name, caught))
            print(
                f"| {fault.name} | `{Path(fault.file).stem}` | {f'`{caught}`' if caught else 'NOTHING'} |", flush=True
            )
    print(f"{sum(bool(c) for _, c in rows)} of {len(rows)} caught")
    return rows


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20, sys.argv[2] if len(sys.argv) > 2 else "")
