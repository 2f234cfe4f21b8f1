"""chipsim: where a V-groove in solid wood will come out fuzzy, lip by lip, and why.

A path, a V-bit, a spindle speed, a feed and a board go in; for every place on both lips of the groove the chip
history, the fibre-cut angle and the risk of fuzz come out, with the reason, drawn over the toolpath.

>>> import chipsim as cs
>>> bit = cs.VBit(included_angle=60, diameter=12.7, flutes=2, tip_width=0.2)
>>> board = cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(azimuth=0))
>>> cut = cs.Cut(bit, cs.ring(radius=20, depth=2.5), spindle_speed=18_000, feed=1500)
>>> risk = cs.risk_map(cut, board)

Names are imported on first use, so that ``import chipsim`` costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

_NAMES = {
    "bands": ("Band",),
    "choosing": ("Odds", "Recommendation", "recommend"),
    "comparing": ("Comparison", "Option", "compare"),
    "cutters": ("Cutter", "ProfileBit", "VBit"),
    "cuts": ("Carving", "Cut", "Pass", "Travel", "reached_feed"),
    "errors": ("ChipsimError", "ConvergenceError", "DomainError"),
    "fitting": ("FittedModel", "fit", "invented_grades"),
    "forces": ("CuttingForceModel", "Forces", "cutting_forces"),
    "grading": ("Grade", "Grades", "read_grades", "write_grade_form"),
    "grain": (
        "Board",
        "Grain",
        "edge_angle",
        "fibre_angle",
        "fibre_axis",
        "grain_field",
        "grain_words",
        "straight_grain",
    ),
    "kinematics": ("LipStrikes", "ToothPasses", "groove_volume", "lip_strikes", "tooth_passes"),
    "lands": ("Breakout", "Land", "breakouts", "lands_table", "thin_lands"),
    "layout": ("Layout", "LayoutRow", "best_layout"),
    "limits": (
        "Limit",
        "TimeEstimate",
        "WidthCard",
        "all_clear",
        "check_limits",
        "limits_table",
        "time_estimate",
        "width_card",
    ),
    "machine": ("Dial", "Machine", "SpeedProfile", "speed_profile"),
    "models": ("RiskModel",),
    "paths": ("Path", "arc", "curve", "ellipse", "line", "oval", "polyline", "ring", "rosette", "spiral"),
    "plots": (
        "draw_comparison",
        "draw_fit",
        "draw_front",
        "draw_layout",
        "draw_process_window",
        "draw_profile",
        "draw_reached_feed",
        "draw_risk_map",
        "draw_rose",
        "draw_tooth_passes",
        "save_figure",
    ),
    "priors": ("Reader",),
    "records": ("Summary",),
    "risk": ("RiskMap", "Rose", "risk_map", "risk_rose"),
    "rs274": ("read_rs274", "write_rs274"),
    "sheets": ("write_grading_sheet",),
    "species": ("Wood", "wood", "woods"),
    "sweeps": ("Cell", "Sweep", "sweep"),
    "tearout": ("chip_type",),
    "testpiece": ("Coupon", "coupon"),
    "units": ("inch", "ipm", "thou"),
    "variants": ("Setting", "with_bit"),
}
_MODULES = (
    "forces",
    "grain",
    "kinematics",
    "lands",
    "lips",
    "paths",
    "plots",
    "reference",
    "risk",
    "rs274",
    "units",
    "cutters",
    "cuts",
    "species",
)
_HOME = {name: module for module, names in _NAMES.items() for name in names}

# No public function shares its module's name: importing the submodule would overwrite it here.
__all__ = sorted([*_HOME, "reference", "rs274"])
__version__ = "0.1.0"

if TYPE_CHECKING:
    from . import reference, rs274
    from .bands import Band
    from .choosing import Odds, Recommendation, recommend
    from .comparing import Comparison, Option, compare
    from .cuts import Carving, Cut, Pass, Travel, reached_feed
    from .cutters import Cutter, ProfileBit, VBit
    from .errors import ChipsimError, ConvergenceError, DomainError
    from .fitting import FittedModel, fit, invented_grades
    from .forces import CuttingForceModel, Forces, cutting_forces
    from .grading import Grade, Grades, read_grades, write_grade_form
    from .grain import (
        Board,
        Grain,
        edge_angle,
        fibre_angle,
        fibre_axis,
        grain_field,
        grain_words,
        straight_grain,
    )
    from .kinematics import LipStrikes, ToothPasses, groove_volume, lip_strikes, tooth_passes
    from .lands import Breakout, Land, breakouts, lands_table, thin_lands
    from .layout import Layout, LayoutRow, best_layout
    from .limits import Limit, TimeEstimate, WidthCard, all_clear, check_limits, limits_table, time_estimate, width_card
    from .machine import Dial, Machine, SpeedProfile, speed_profile
    from .models import RiskModel
    from .paths import Path, arc, curve, ellipse, line, oval, polyline, ring, rosette, spiral
    from .plots import (
        draw_comparison,
        draw_fit,
        draw_front,
        draw_layout,
        draw_process_window,
        draw_profile,
        draw_reached_feed,
        draw_risk_map,
        draw_rose,
        draw_tooth_passes,
        save_figure,
    )
    from .priors import Reader
    from .records import Summary
    from .risk import RiskMap, Rose, risk_map, risk_rose
    from .rs274 import read_rs274, write_rs274
    from .sheets import write_grading_sheet
    from .species import Wood, wood, woods
    from .sweeps import Cell, Sweep, sweep
    from .tearout import chip_type
    from .testpiece import Coupon, coupon
    from .units import inch, ipm, thou
    from .variants import Setting, with_bit


def __getattr__(name: str) -> Any:
    if name in _HOME:
        value = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
        globals()[name] = value
        return value
    if name in _MODULES:
        return import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
