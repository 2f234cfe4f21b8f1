"""Properties of machines: what no motion may break, and how its time hangs on the limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..scene.machine import Machine, speed_profile
from ..scene.paths import Path
from ..testing import _path
from ._core import Draw, close, holds, property_of, some


@property_of("machine")
def motion_keeps_every_limit(machine: Machine, draw: Draw) -> None:
    """0 <= reached <= typed; v^2 <= a R on arcs; |dv/dt| <= a; in space at most `max_feed`, down at most `plunge_feed`.

    Any path of lines, arcs and ramps. 1e-6 of each limit.
    """
    path, feed = draw(some().paths(pieces=5), "path"), draw(some().feeds, "feed")
    found = speed_profile(path, feed, machine)
    v, s, tol = found.speed, found.station, 1 + 1e-6
    holds((v >= 0) & (v <= feed / 60 * tol), "speed", (v.min(), v.max()), f"in [0, {feed / 60:g}] mm/s", "1e-6 of it")
    bow = np.abs(path.curvature((s[:-1] + s[1:]) / 2))
    slope = np.diff(path.depth_at(s)) / np.diff(s)
    # where the slope changes the speed in the face jumps: that at the end of each stretch is its own
    most = np.maximum(v[:-1], found.arrival)
    # v^2 changes by 2 a ds; quotients of short stretches are rounding
    gain = np.abs(found.arrival**2 - v[:-1] ** 2) - 1e-9 * v.max() ** 2
    for what, value, limit in (
        ("v^2 / R", most**2 * bow, machine.acceleration),
        ("|dv/dt| in space", gain / (2 * np.diff(s)) * np.hypot(1, slope), machine.acceleration),
        ("speed in space", most * np.hypot(1, slope), machine.max_feed / 60),
        ("speed downwards", most * slope, machine.plunge_feed / 60),
    ):
        k = int(np.argmax(value))
        holds(value[k] <= limit * tol, f"{what} from station {s[k]:.9g}", value[k], f"{limit:g} or less", "1e-6 of it")
    holds(v[0] == v[-1] == 0, "speeds at the ends", (v[0], v[-1]), "rest")
    least = path.length / (feed / 60)
    holds(found.duration >= least * (1 - 1e-12), "duration", found.duration, f"{least:g} s, length over feed, or more")


@property_of("machine")
def a_better_machine_is_no_slower(machine: Machine, draw: Draw) -> None:
    """More acceleration, feed, plunge feed or gap at corners, a higher typed feed: never a longer time. 1e-9."""
    path, feed = draw(some().paths(pieces=4), "path"), draw(some().feeds, "feed")
    base = speed_profile(path, feed, machine).duration
    limit = base * (1 + 1e-9)
    better = {
        "acceleration": min(machine.acceleration * 1.7, 50_000),
        "max_feed": min(machine.max_feed * 1.3, 60_000),
        "plunge_feed": min(machine.plunge_feed * 1.3, 60_000),
    }
    if machine.corners == "circle":  # otherwise the gap only says what is a corner and what a curve in chords
        better["vertex_gap"] = min(machine.vertex_gap * 2, 1.0)
    for name, value in better.items():
        time = speed_profile(path, feed, replace(machine, **{name: value})).duration  # type: ignore[arg-type]
        holds(time <= limit, f"duration with {name}={value:g}", time, f"{base:.17g} s or less", "1e-9 of it")
    time = speed_profile(path, min(feed * 1.5, 60_000), machine).duration
    holds(time <= limit, "duration at a higher typed feed", time, f"{base:.17g} s or less", "1e-9 of it")


@property_of("machine")
def strong_axes_take_length_over_feed(machine: Machine, draw: Draw) -> None:
    """Without corners and with ever stronger axes the time tends to length / feed: what is left is one start and stop.

    Level smooth paths, `corners` 'free', 50 000 mm/s2: within feed / a of it.
    """
    path = draw(some().loops(), "path")
    strong = replace(machine, acceleration=50_000, corners="free", max_feed=60_000)
    feed = 1500.0
    found = speed_profile(path, feed, strong).duration
    least = path.length / (feed / 60)
    holds(
        found <= least + 2 * feed / 60 / 50_000 + 1e-9,
        "duration",
        found,
        f"{least:.9g} s",
        f"{2 * feed / 60 / 50_000:g} s",
    )


@property_of("machine")
def there_and_back_take_as_long(machine: Machine, draw: Draw) -> None:
    """The path reversed takes the same time, if plunging is not what limits it. 1e-9 of it."""
    path, feed = draw(some().paths(pieces=5), "path"), draw(some().feeds, "feed")
    even = replace(machine, plunge_feed=60_000)
    there, back = speed_profile(path, feed, even).duration, speed_profile(path.reversed(), feed, even).duration
    close("duration of the way back", back, there, 1e-9 * there, "s")


@property_of("machine")
def joining_saves_time(machine: Machine, draw: Draw) -> None:
    """Two halves of a path run as one take no longer than one after the other, each from rest to rest. 1e-9 of it."""
    path, feed = draw(some().paths(pieces=5, closed=False), "path"), draw(some().feeds, "feed")
    fine, _ = path.split_parts([np.array([0.5 * w]) for w in np.diff(path.joints)])
    k = len(fine.xy) // 2
    parts = [Path(fine.xy[: k + 1], fine.depth[: k + 1], sweep=fine.sweep[:k])]
    parts.append(Path(fine.xy[k:], fine.depth[k:], sweep=fine.sweep[k:]))
    whole = speed_profile(fine, feed, machine).duration
    each = sum(speed_profile(p, feed, machine).duration for p in parts)
    holds(whole <= each * (1 + 1e-9), "duration as one", whole, f"{each:.17g} s or less", "1e-9 of it")


@property_of("machine")
def time_and_station_are_inverse(machine: Machine, draw: Draw) -> None:
    """`station_at(time_at(s))` is s, and times rise along the path. 1e-7 mm."""
    path, feed = draw(some().paths(pieces=4), "path"), draw(some().feeds, "feed")
    found, s = speed_profile(path, feed, machine), _path._stations(path, draw)
    t = found.time_at(s)
    holds(np.diff(t) >= 0, "times along the path", t.tolist(), "rising")
    close("station_at(time_at(s))", found.station_at(t), s, 1e-7 * (1 + path.length), "mm")


@property_of("machine")
def direction_does_not_matter_to_a_machine(machine: Machine, draw: Draw) -> None:
    """The path turned, mirrored or given more vertices takes the same time. 1e-7 of it."""
    path, feed = draw(some().paths(pieces=4), "path"), draw(some().feeds, "feed")
    turn, pitch = draw(some().turns, "turn"), draw(some().reals(0.2, 1), "pitch")
    base = speed_profile(path, feed, machine).duration
    for what, other in (
        ("turned", path.rotated(turn)),
        ("mirrored", path.mirrored()),
        ("refined", path.refined(pitch)),
    ):
        close(f"duration of the path {what}", speed_profile(other, feed, machine).duration, base, 1e-7 * base, "s")


@property_of("machine")
def a_bigger_machine_takes_the_same_time(machine: Machine, draw: Draw) -> None:
    """All lengths, feeds and accelerations times a factor: the same time. 1e-7 of it. Where the limits allow it."""
    path, feed = draw(some().paths(pieces=4), "path"), draw(some().feeds, "feed")
    factor = draw(some().reals(0.5, 3), "factor")
    changed = {n: getattr(machine, n) * factor for n in ("acceleration", "max_feed", "plunge_feed", "vertex_gap")}
    if changed["vertex_gap"] > 1 or changed["acceleration"] > 50_000 or changed["plunge_feed"] < 80:
        return
    if not all(100 <= f <= 60_000 for f in (feed * factor, changed["max_feed"])):
        return
    other = speed_profile(path.scaled(factor), feed * factor, replace(machine, **changed)).duration
    base = speed_profile(path, feed, machine).duration
    close("duration", other, base, 1e-7 * base, "s")
