"""The risks of `RiskModel` as its docstring has them, in plain NumPy: the slow road beside `_kernels.lip_risk_sets`."""

from itertools import pairwise

import numpy as np

import chipsim as cs
from chipsim.damage.heat import flash_rise, front_rise, lasting_rise, sliding_friction
from chipsim.damage.models import ROOM, _indentation, lip_frame, scorch_index, tool_feed
from chipsim.damage.tearout import crack_length, longest_arm


def slow_risks(model, strikes, fibres, cut, wood):
    """What `RiskModel.lip_risks` returns."""
    exists = strikes.lips.exists
    normal, weight = struck(model, strikes, cut)
    scene = _scene(model, strikes.lips, fibres, cut.spin)
    out = {"rubs": np.sum((normal < model.bite_floor * cut.bit.edge_radius) & (weight > 0), axis=-1)}
    parts = [(share, _fuzz(model, scene, strikes, normal, weight, cut, wood, d)) for share, d in wood.tissues()]
    out |= parts[0][1] | {"fuzz": sum(share * part["fuzz"] for share, part in parts)}
    if len(parts) > 1:  # the hazard of one tissue that leaves as many
        f = model.frailty
        left = sum(share * ((1 + f * p["hazard"]) ** (-1 / f) if f > 0 else np.exp(-p["hazard"])) for share, p in parts)
        out["hazard"] = (left**-f - 1) / f if f > 0 else -np.log(left)
    out |= _tear(model, scene, strikes, cut, wood) | _scorch(model, scene, strikes, normal, weight, cut, wood)
    return {name: np.where(exists, value, 0 if name == "rubs" else np.nan) for name, value in out.items()}


def struck(model, strikes, cut):
    """Of every strike: chip normal to the wall [mm] and weight in the layer; NaN and 0 if there is none.

    The wall the tooth makes is that of its own pass; what an edge takes is the way between two edges along the probe
    times the cosine of the angle it has yet to turn, at most the advance of a turn.
    """
    lips, strokes = strikes.lips, strikes.strokes
    cosine = np.cos(np.radians(lips.flank_lean))[:, None, None]
    there = np.arange(strokes.shape[2]) < strikes.counts[..., None]
    beyond = np.min(np.where(there, strikes.depths, 0.0), axis=-1, keepdims=True, initial=0.0)
    wall, width = (
        np.broadcast_to(beyond, strokes.shape),
        np.broadcast_to(lips.half_width[:, None, None], strokes.shape).copy(),
    )
    for k in range(strikes.pass_strokes.shape[2]):
        own = strikes.pass_strokes[..., k, None]
        other = (own == strokes) & (own != strikes.made_by[:, None, None]) & (own >= 0)
        wall = np.where(other, strikes.pass_left[..., k, None], wall)
        width = np.where(other, strikes.pass_widths[..., k, None], width)
    inside = np.clip(1.0 - (strikes.depths - wall) / width, 0.0, 1.0)
    advance = np.where(strikes.feeds > 0, strikes.feeds * cut.bit.flutes, np.inf)
    chip = np.minimum(strikes.chips * inside, advance) * cosine
    layer = model.bundle * np.minimum(3.0, np.sqrt(0.5) / cosine)
    weight = np.nan_to_num(np.clip(1.0 - (strikes.depths - beyond) / layer, 0.0, None))
    return chip, weight


def scatter_nodes(model):
    """Offsets [rad] and weights of the scatter: a lattice of some degrees, at least 1.2 of its steps a deviation."""
    if model.scatter == 0:
        return np.zeros(1), np.ones(1)
    step = 10 / 3
    while model.scatter <= 1.2 * step:
        step /= 4
    x = np.array([k * step for k in range(-300, 301) if abs(k) * step < 3.2 * model.scatter])
    w = np.exp(-0.5 * (x / model.scatter) ** 2) * np.clip((3.2 - abs(x / model.scatter)) / 0.3, 0, 1)
    return np.radians(x), w / w.sum()


def fine_nodes(model):
    """1601 nodes out to six standard deviations."""
    x = np.linspace(-6, 6, 1601)
    w = np.exp(-x * x / 2)
    return np.radians(model.scatter * x), w / w.sum()


def _scene(model, lips, fibres, spin):
    """Fibres by node of the scatter: angle on the flank, sine against the cut, across the lip; as cracks see them.

    The cut is turned from the lip into the layer, by a share of 3/8 of the angle at which a tooth comes into it: out of
    the wood where the tooth enters it, into it where it leaves. A crack sees a share of the wall's lean.
    """
    shift, _ = scatter_nodes(model)
    v, _, out = lip_frame(lips, spin)
    ahead = np.einsum("...j,...j->...", fibres, v)[..., None]
    aside = np.einsum("...j,...j->...", fibres[..., :2], out)[..., None]
    # turn each fibre about the vertical by every node of the scatter; (v, out) is right-handed for a cw spindle
    c, s = np.cos(shift), np.sin(shift) * (1.0 if spin == "cw" else -1.0)
    straight, beyond = ahead * c - aside * s, ahead * s + aside * c
    layer = model.bundle * np.minimum(3.0, np.sqrt(0.5) / np.cos(np.radians(lips.flank_lean)))
    mean = 3 / 8 * np.arccos(np.clip(1 - layer / lips.half_width, 0.0, 1.0))[:, None]
    entry = np.array([1.0, -1.0]) * (1.0 if spin == "cw" else -1.0)
    turned = (model.turn * mean * entry)[..., None]
    along = straight * np.cos(turned) - beyond * np.sin(turned)
    across = beyond * np.cos(turned) + straight * np.sin(turned)
    lean = np.radians(lips.flank_lean)[:, None, None]
    into = np.cos(lean) * across - np.sin(lean) * fibres[..., 2:]
    angle = np.degrees(np.arctan2(into, along)) % 180.0
    sine = np.hypot(across, fibres[..., 2:])
    seen = model.wall_opening * lean
    under = np.cos(seen) * across - np.sin(seen) * fibres[..., 2:]
    middle = shift.size // 2
    heat = (np.cos(lean) * beyond - np.sin(lean) * fibres[..., 2:])[..., middle]
    return angle, sine, beyond, np.abs(along), np.where(along < 0, -under, under), np.cos(seen), heat


def critical_speed(model, wood, density):
    """Of a tissue at `density` of the wood's mean: of the wall, of the bulk, or of powers of both; and its support."""
    a, b, e = (2.09, 1.13, 0.70) if wood.hardwood else (1.57, 1.01, 0.84)
    support = wood.compression_perpendicular * density**a
    wall = 1.1 * 12_600e6 * cs.wood("sugar maple").density
    bulk = 1.1 * wood.elastic_modulus * 1e6 * density**e * wood.density * density
    give = (10.1 / support) ** model.crushing * 1.68 ** (-model.softening * (wood.moisture - 12) / 13)
    own = (wood.bending_strength * density**b / 109) ** model.own_strength
    speeds = give / np.sqrt(3 * wall), own / np.sqrt(3 * bulk)
    return model.bending_stress * 1e6 * speeds[0] ** model.cell_wall * speeds[1] ** (1 - model.cell_wall), support


def _fuzz(model, scene, strikes, normal, weight, cut, wood, density):
    angle, sine, beyond = scene[:3]
    _, share = scatter_nodes(model)
    radius, factor = cut.bit.edge_radius, model.rake_factor(cut.bit.rake, wood.moisture)
    support = model.support(angle, wood.moisture)
    there = np.arange(strikes.chips.shape[2]) < strikes.counts[..., None]
    chips, speeds = (np.where(there, a, 0.0) for a in (normal / np.sqrt(0.5), strikes.cutting_speeds))
    needed, braced = critical_speed(model, wood, density)
    held = np.exp(-model.lift * np.where(there, strikes.lifts, 0.0))  # what presses the fibres down holds them
    bitten = chips / radius / np.sqrt(1 + (model.crowding * chips / radius) ** 2)
    bite = factor * weight * bitten * braced / model.reference_support * held
    gate = 1 - np.exp(-chips / (model.catch_depth * radius))
    impact = factor * weight * model.inertia * speeds / needed * gate
    load = (bite[..., None] * support[..., None, :] + impact[..., None]) * sine[..., None, :]
    each = np.where(there[..., None], load, 0.0) ** (model.exponent / model.redrawn)
    hazard = np.sum(each, axis=2) ** model.redrawn / model.texture
    if model.frailty > 0:
        stands = (1 + model.frailty * hazard) ** (-1 / model.frailty)
    else:
        stands = np.exp(-hazard)
    loose = model.loosened * (1 - np.exp(-model.disturbed * radius / model.bundle))
    fuzz = np.sum(share * beyond**2 * (stands + loose * (1 - stands)), axis=-1)
    return {"fuzz": fuzz, "support": support[..., share.size // 2], "hazard": hazard[..., share.size // 2]}


def _tear(model, scene, strikes, cut, wood):
    _, _, _, along, under, seen, _ = scene
    _, weight = scatter_nodes(model)
    if not np.isfinite(wood.fracture_toughness):
        return {"tear": np.nan, "tear_depth": np.nan}
    friction = model.friction * sliding_friction(1e3, wood.moisture) / 0.4
    delta = np.radians(cut.bit.rake) - np.arctan(friction)
    # u = cos delta v - sin delta n, and what of u - (u . g) g leads along -n
    push = np.cos(delta) * along - np.sin(delta) * under
    lift = np.maximum(np.sin(delta) + push * under, 0.0)
    # crack length goes with the root of the push, so that the reach is sqrt(push) x this, as seen in the face
    turn = np.where(under > 0, np.sqrt(lift) * under / seen, 0.0)
    tear, deepest = np.zeros((2, *strikes.exists.shape))
    for row, side in np.argwhere(strikes.exists):
        arms, depths = passes_by_hand(model, strikes, cut, wood, row, side, turn[row, side])
        chance, torn = torn_by_passes(model, arms, depths, wood)
        tear[row, side], deepest[row, side] = weight @ chance, weight @ torn
    return {"tear": tear, "tear_depth": deepest}


def torn_by_passes(model, arms, depths, wood):
    """Chance that a lip is spoilt, and the depth torn, by passes of arms (p,) and depths (p, ...).

    One number in (0, 1) for a lip: an arm splits if it is below the arm's chance. Summed over its stretches.
    """
    split = np.array([1 - np.exp(-((arm / longest_arm(wood)) ** model.weak_planes)) if arm > 0 else 0 for arm in arms])
    edges = np.unique(np.append(split, 0.0))
    shape = depths.shape[1:]
    spoilt = np.zeros(shape)
    for low, high in pairwise(edges):
        deep = depths[split >= high].max(axis=0)
        spoilt += (high - low) * (1 - np.exp(-deep / model.tear_scale))
    return spoilt, depths.max(axis=0, initial=0.0)


def _slot_chip(feed, width, phi):
    return np.minimum(feed * np.sin(phi) + (feed * np.cos(phi)) ** 2 / (2.0 * width), feed)


def passes_by_hand(model, strikes, cut, wood, row, side, turn):
    """Arms (p,) of the passes of one lip, and how far each tears beyond it (p, nodes), from the table of passes. [mm]

    A pass's teeth are its strikes in the record; between the record's layer and where they enter the wood they are
    taken from the steady arc of its own groove.
    """
    lips, flutes = strikes.lips, cut.bit.flutes
    arms, depths = [], []
    for k in range(strikes.pass_counts[row, side]):
        stroke, before = strikes.pass_strokes[row, side, k], strikes.pass_before[row, side, k]
        made = stroke == strikes.made_by[row]
        if made:
            wall, width = 0.0, lips.half_width[row]
            feed = tool_feed(lips, cut)[row] / (cut.spindle_speed * flutes)
        else:
            wall, width = strikes.pass_left[row, side, k], strikes.pass_widths[row, side, k]
            feed = strikes.pass_feeds[row, side, k]
        layer = min(strikes.bundle, 0.4 * min(3.0, np.sqrt(0.5) / np.cos(np.radians(lips.flank_lean[row]))))
        mine = (strikes.strokes[row, side] == stroke) & (strikes.depths[row, side] <= layer + 1e-12)
        y = strikes.depths[row, side][mine]
        inside = np.clip(1.0 - (y - wall) / width, 0.0, 1.0)
        took = np.minimum(strikes.chips[row, side][mine] * inside, feed * flutes)
        entry = np.arccos(np.clip(1.0 - (before - wall) / width, 0.0, 1.0))
        near = np.arccos(np.clip(1.0 - max(layer - wall, 0.0) / width, 0.0, 1.0))
        arm = max(feed * np.sin(entry), took.max(initial=0.0))
        if made:
            phi = near + (entry - near) * np.linspace(0.0, 1.0, 9)[1:] if entry > near else np.zeros(0)
        else:
            phi = np.geomspace(0.02, np.pi / 2, 24)
            phi = np.append(phi[(phi > near) & (phi < entry)], entry) if entry > near else np.zeros(0)
        # a strike that runout carries beyond the nominal lip stands at the lip: what it took is groove, not tear
        took = np.append(took, _slot_chip(feed, width, phi))
        stand = np.append(np.maximum(y, 0.0), wall + width * (1.0 - np.cos(phi)))
        near = strikes.depths[row, side] <= layer + 1e-12
        raised = strikes.lifts[row, side, near & (np.arange(near.size) < strikes.counts[row, side])]
        opened = np.exp(model.lift * raised.max()) if raised.size else 1.0
        reach = crack_length((took + model.blunting * cut.bit.edge_radius) * opened, arm, wood)
        arms.append(arm)
        depths.append((reach[:, None] * turn - stand[:, None]).max(axis=0, initial=0.0))
    return np.array(arms), np.array(depths).reshape(len(arms), *np.shape(turn))


def _scorch(model, scene, strikes, normal, weight, cut, wood):
    """The hottest of the passes: its own heat, and what the earlier ones left, each strike's by the time since."""
    rubbing = weight * np.exp(-np.where(np.isnan(normal), np.inf, normal) / (model.bite_floor * cut.bit.edge_radius))
    speeds = np.where(np.isnan(strikes.cutting_speeds), 0.0, strikes.cutting_speeds)
    heel = model.recovery / np.tan(np.radians(cut.bit.clearance))
    pressure, land = model.contact * _indentation(wood), (model.land + heel) * cut.bit.edge_radius + cut.bit.land
    interval = 60.0 / (cut.spindle_speed * cut.bit.flutes)
    one = lasting_rise(pressure, land, 1.0, interval, wood, friction=1.0)

    def grip(speed):
        return sliding_friction(speed, wood.moisture) * (model.friction / 0.4)

    hottest = np.full(strikes.exists.shape, ROOM)
    for row, side in np.argwhere(strikes.exists):
        for k in range(strikes.pass_counts[row, side]):
            stroke, strokes = strikes.pass_strokes[row, side, k], strikes.strokes[row, side]
            mine, times = strokes == stroke, strikes.times[row, side]
            rubs = rubbing[row, side][mine]
            share, speed = rubs.max(initial=0.0), speeds[row, side][mine][rubs > 0].max(initial=0.0)
            lasting = lasting_rise(pressure, land, rubs.sum(), interval, wood, friction=grip(speed))
            earlier = np.isin(strokes, strikes.pass_strokes[row, side, :k])
            if mine.any():
                since = np.maximum(times[mine].max() - times[earlier], interval)
                left = rubbing[row, side][earlier] * grip(speeds[row, side][earlier])
                lasting += one * np.sum(left * np.sqrt(interval / since))
            if cut.machine is not None and strikes.lips.kind[row] == "start" and stroke == strikes.made_by[row]:
                sink = cut.machine.plunge_feed / 60.0 * np.sin(np.radians(strikes.lips.flank_lean[row]))
                if sink > 0:
                    front = np.exp(-sink * interval / (model.bite_floor * cut.bit.edge_radius))
                    share = max(share, front)
                    lasting = max(
                        lasting, front * front_rise(pressure, land, interval, sink, wood, friction=grip(speed))
                    )
            flash = share * flash_rise(pressure, speed, land, wood, friction=grip(speed))
            hottest[row, side] = max(hottest[row, side], ROOM + model.heat_share * (flash + lasting))
    hottest = ROOM + (hottest - ROOM) / np.sqrt(1 + 0.8 * scene[6] ** 2)
    return {"scorch": scorch_index(hottest, model.char), "temperature": hottest}
