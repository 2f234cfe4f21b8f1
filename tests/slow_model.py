"""The risks of `RiskModel` as its docstring has them, in plain NumPy: the slow road beside `_kernels.lip_risk_sets`."""

from dataclasses import replace

import numpy as np

from chipsim.damage.heat import flash_rise, front_rise, lasting_rise, sliding_friction
from chipsim.damage.models import ROOM, _indentation, lip_frame, scorch_index, tool_feed
from chipsim.damage.tearout import crack_length, longest_arm


def slow_risks(model, strikes, fibres, cut, wood):
    """What `RiskModel.lip_risks` returns."""
    exists = strikes.lips.exists
    scene = _scene(model, strikes.lips, fibres, cut.spin)
    normal = strikes.chips * np.cos(np.radians(strikes.lips.flank_lean))[:, None, None]
    out = {"rubs": np.sum(normal < model.bite_floor * cut.bit.edge_radius, axis=-1)}
    out |= _fuzz(model, scene, strikes, cut, wood)
    out |= _tear(model, scene, strikes, cut, wood) | _scorch(model, strikes, normal, cut, wood)
    return {name: np.where(exists, value, 0 if name == "rubs" else np.nan) for name, value in out.items()}


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
    """Fibre angle on the flank, sine of fibre against cut, and the fibre in the face (across, along >= 0)."""
    shift, _ = scatter_nodes(model)
    v, _, out = lip_frame(lips, spin)
    ahead = np.einsum("...j,...j->...", fibres, v)[..., None]
    aside = np.einsum("...j,...j->...", fibres[..., :2], out)[..., None]
    # turn each fibre about the vertical by every node of the scatter; (v, out) is right-handed for a cw spindle
    c, s = np.cos(shift), np.sin(shift) * (1.0 if spin == "cw" else -1.0)
    along, across = ahead * c - aside * s, ahead * s + aside * c
    lean = np.radians(lips.flank_lean)[:, None, None]
    into = np.cos(lean) * across - np.sin(lean) * fibres[..., 2:]
    angle = np.degrees(np.arctan2(into, along)) % 180.0
    sine = np.sqrt(np.clip(1.0 - along**2, 0.0, None))
    return angle, sine, np.where(along < 0, -across, across), np.abs(along)


def _fuzz(model, scene, strikes, cut, wood):
    angle, sine, across, _ = scene
    _, weight = scatter_nodes(model)
    radius, factor = cut.bit.edge_radius, model.rake_factor(cut.bit.rake)
    support = model.support(angle)
    there = np.arange(strikes.chips.shape[2]) < strikes.counts[..., None]
    chips, speeds = (np.where(there, a, 0.0) for a in (strikes.chips, strikes.cutting_speeds))
    bite = factor * chips / radius * wood.compression_perpendicular / model.reference_support
    gate = 1 - np.exp(-chips / (model.catch_depth * radius))
    impact = factor * speeds / model.critical_speed(wood) * gate
    load = (bite[..., None] * support[..., None, :] + impact[..., None]) * sine[..., None, :]
    hazard = np.sum(np.where(there[..., None], load, 0.0) ** model.exponent, axis=2)
    fuzz = np.sum(weight * across**2 * np.exp(-hazard), axis=-1)
    return {"fuzz": fuzz, "support": support[..., weight.size // 2], "hazard": hazard[..., weight.size // 2]}


def _tear(model, scene, strikes, cut, wood):
    _, _, across, along = scene
    _, weight = scatter_nodes(model)
    if not np.isfinite(wood.fracture_toughness):
        return {"tear": np.nan, "tear_depth": np.nan}
    delta = np.radians(cut.bit.rake) - np.arctan(model.friction)
    # g seen in the face: the crack that a diving fibre leads under the face is as long, and reaches less far
    flat = np.hypot(across, along)
    s, c = (np.divide(a, flat, out=np.zeros_like(a), where=flat > 0) for a in (across, along))
    lift = np.maximum(s * np.cos(delta) + c * np.sin(delta), 0.0) * c
    # crack length goes with the root of the push, so that the reach is sqrt(push) x this
    turn = np.where(s > 0, np.sqrt(lift) * across, 0.0)
    arms, own, before = _teeth(model, strikes, cut, wood)
    p, q = (1.0 - np.exp(-((arm / longest_arm(wood)) ** model.weak_planes)) for arm in arms)

    def depth(reach, stand):
        every = reach[..., None, :] * turn[..., None] - stand[..., None, :]
        return np.fmax(np.nanmax(np.where(np.isnan(every), 0.0, every), axis=-1, initial=0.0), 0.0)

    far, rough = depth(*own), depth(*before)
    spoilt = [1 - np.exp(-d / model.tear_scale) for d in (np.maximum(far, rough), far, rough)]
    p, q = p[..., None], q[..., None]
    tear = np.minimum(p, q) * spoilt[0] + np.maximum(p - q, 0) * spoilt[1] + np.maximum(q - p, 0) * spoilt[2]
    mean = np.maximum(far, rough)
    return {"tear": np.sum(weight * tear, axis=-1), "tear_depth": np.sum(weight * mean, axis=-1)}


def _slot_chip(feed, width, phi):
    f = feed[..., None]
    return np.minimum(f * np.sin(phi) + (f * np.cos(phi)) ** 2 / (2.0 * width[..., None]), f)


def _teeth(model, strikes, cut, wood):
    """Arms of the cut and of an earlier pass; cracks of a unit opening and stands inside the lip of the teeth of both.

    Near the lip the teeth are those of the record. Between the record's layer and where the tooth enters the wood
    they are taken from the steady arc, as are those of the deepest earlier pass. [mm]
    """
    lips = strikes.lips
    width = lips.half_width[:, None]
    turn = cut.spindle_speed * cut.bit.flutes
    feed = np.broadcast_to(tool_feed(lips, cut)[:, None] / turn, lips.exists.shape)
    blunt = model.blunting * cut.bit.edge_radius
    with np.errstate(invalid="ignore", divide="ignore"):
        depth = np.where(lips.exists, np.minimum(strikes.stock, width), 0.0)
        entry = np.arccos(np.clip(1.0 - depth / width, 0.0, 1.0))
        inside = np.clip(1.0 - strikes.depths / width[..., None], 0.0, 1.0)
        chips = np.minimum(strikes.chips * inside, feed[..., None] * cut.bit.flutes)
        arm = np.fmax(feed * np.sin(entry), np.nanmax(np.fmax(chips, 0.0), axis=-1, initial=0.0))
        near = np.arccos(np.clip(1.0 - strikes.bundle / width, 0.0, 1.0))
        span = np.linspace(0.0, 1.0, 9)[1:]
        phi = near[..., None] + (np.maximum(entry - near, 0.0))[..., None] * span
        far = np.where(entry[..., None] > near[..., None], _slot_chip(feed, width, phi), np.nan)
        # a strike that runout carries beyond the nominal lip stands at the lip: what it took is groove, not tear
        teeth = [(chips, np.maximum(strikes.depths, 0.0), arm), (far, width[..., None] * (1.0 - np.cos(phi)), arm)]
        rough, earlier = np.zeros(lips.exists.shape), cut.earlier_passes()
        before = (np.zeros((*lips.exists.shape, 1)), np.full((*lips.exists.shape, 1), np.inf))
        if earlier:
            last = max(earlier, key=lambda c: float(c.path.depth.max()))
            # what a machine lets it reach is the same in either sense
            f = tool_feed(lips, replace(cut, feed=last.feed, passes=None))[:, None] / turn * np.ones(2)
            rough = np.where(strikes.stock < width, f, 0.0)
            # that pass stood in a groove narrower by the stock it left
            narrow = np.where(strikes.stock < width, width - depth, np.nan)
            phi = np.geomspace(0.02, np.pi / 2, 24)
            stand = strikes.stock[..., None] + narrow[..., None] * (1.0 - np.cos(phi))
            before = (crack_length(_slot_chip(f, narrow, phi) + blunt, f[..., None], wood), stand)
        reach = [crack_length(h + blunt, t[..., None], wood) for h, _, t in teeth]
        stands = [np.broadcast_to(y, r.shape) for (_, y, _), r in zip(teeth, reach, strict=True)]
    return (arm, rough), tuple(np.concatenate(each, axis=-1) for each in (reach, stands)), before


def _scorch(model, strikes, normal, cut, wood):
    rubbing = np.exp(-np.where(np.isnan(normal), np.inf, normal) / (model.bite_floor * cut.bit.edge_radius))
    count = rubbing.sum(axis=-1)
    share = rubbing.max(axis=-1, initial=0.0)
    speed = np.where(np.isnan(strikes.cutting_speeds), 0.0, strikes.cutting_speeds).max(axis=-1, initial=0.0)
    friction = sliding_friction(speed, wood.moisture) * (model.friction / 0.4)
    pressure, land = model.contact * _indentation(wood), model.land * cut.bit.edge_radius
    interval = 60.0 / (cut.spindle_speed * cut.bit.flutes)
    lasting = lasting_rise(pressure, land, count, interval, wood, friction=friction)
    if cut.machine is not None:
        sink = cut.machine.plunge_feed / 60.0 * np.sin(np.radians(strikes.lips.flank_lean))[:, None]
        start = (strikes.lips.kind == "start")[:, None] & (sink > 0)
        rubs = np.exp(-sink * interval / (model.bite_floor * cut.bit.edge_radius))
        front = rubs * front_rise(pressure, land, interval, np.where(sink > 0, sink, 1.0), wood, friction=friction)
        share = np.where(start, np.fmax(share, rubs), share)
        lasting = np.where(start, np.fmax(lasting, front), lasting)
    flash = share * flash_rise(pressure, speed, land, wood, friction=friction)
    temperature = ROOM + model.heat_share * (flash + lasting)
    return {"scorch": scorch_index(temperature), "temperature": temperature}
