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
    "chips.passes": ("ToothPasses", "tooth_passes"),
    "chips.push": ("lip_push",),
    "chips.strikes": ("LipStrikes", "lip_strikes"),
    "chips.volume": ("groove_volume",),
    "choosing.comparing": ("compare",),
    "choosing.layout": ("best_layout",),
    "choosing.recommending": ("recommend",),
    "choosing.sweeps": ("sweep",),
    "choosing.variants": ("Setting", "with_bit"),
    "damage.ensemble": ("model_draws",),
    "damage.handwork": ("HandWork",),
    "damage.literature": ("ask_literature",),
    "damage.mapping": ("risk_map",),
    "damage.maps": ("RiskMap",),
    "damage.models": ("RiskModel",),
    "damage.priors": ("Grader",),
    "damage.rose": ("risk_rose",),
    "designs.reading": ("paths_from",),
    "designs.svg": ("read_svg",),
    "errors": ("ChipsimError", "ConvergenceError", "DesignWarning", "DomainError"),
    "learning.bits": ("best_bit",),
    "learning.book": ("ShopBook",),
    "learning.fitting": ("FittedModel", "fit"),
    "learning.grading": ("Grades", "read_grades", "write_grade_form"),
    "learning.invented": ("invented_grades",),
    "learning.nextpiece": ("next_coupon",),
    "learning.sheets": ("write_grading_sheet",),
    "learning.testpiece": ("Coupon", "coupon"),
    "limits.breakouts": ("breakouts",),
    "limits.checks": ("check_limits",),
    "limits.forces": ("CuttingForceModel", "cutting_forces"),
    "limits.lands": ("thin_lands",),
    "limits.time": ("time_estimate",),
    "limits.width": ("width_card",),
    "pictures.chips": ("animate_tooth_passes", "draw_tooth_passes"),
    "pictures.choice": ("draw_front", "draw_process_window"),
    "pictures.comparison": ("draw_comparison",),
    "pictures.laying": ("draw_layout",),
    "pictures.learned": ("draw_fit",),
    "pictures.page": ("save_figure",),
    "pictures.risk_map": ("draw_risk_map",),
    "pictures.rose": ("draw_rose",),
    "pictures.setup": ("draw_profile", "draw_reached_feed"),
    "rs274.reader": ("read_rs274",),
    "rs274.writer": ("write_rs274",),
    "scene.cuts": ("Carving", "Cut", "Pass", "AirMove"),
    "scene.cutters": ("ProfileBit", "VBit"),
    "scene.grain": ("Board", "Grain", "fibre_angle", "grain_field", "straight_grain"),
    "scene.machine": ("Dial", "Machine"),
    "scene.oblique": ("push_at_lip", "working_angles"),
    "scene.paths": ("Path", "arc", "curve", "dot", "ellipse", "line", "oval", "polyline", "ring", "rosette", "spiral"),
    "scene.species": ("Wood", "wood", "woods"),
    "units": ("inch", "ipm", "thou"),
}
_ROOMS = ("reference", "rs274", "testing")
_HOME = {name: module for module, names in _NAMES.items() for name in names}

# No public function shares its module's name: importing the submodule would overwrite it here.
__all__ = sorted([*_HOME, "reference", "rs274"])
__version__ = "0.1.0"

if TYPE_CHECKING:  # "as": re-exported, for users who check their types strictly
    from . import reference as reference
    from . import rs274 as rs274
    from .chips.passes import ToothPasses as ToothPasses, tooth_passes as tooth_passes
    from .chips.push import lip_push as lip_push
    from .chips.strikes import LipStrikes as LipStrikes, lip_strikes as lip_strikes
    from .chips.volume import groove_volume as groove_volume
    from .choosing.comparing import compare as compare
    from .choosing.layout import best_layout as best_layout
    from .choosing.recommending import recommend as recommend
    from .choosing.sweeps import sweep as sweep
    from .choosing.variants import Setting as Setting, with_bit as with_bit
    from .damage.ensemble import model_draws as model_draws
    from .damage.handwork import HandWork as HandWork
    from .damage.literature import ask_literature as ask_literature
    from .damage.mapping import risk_map as risk_map
    from .damage.maps import RiskMap as RiskMap
    from .damage.models import RiskModel as RiskModel
    from .damage.priors import Grader as Grader
    from .damage.rose import risk_rose as risk_rose
    from .designs.reading import paths_from as paths_from
    from .designs.svg import read_svg as read_svg
    from .errors import (
        ChipsimError as ChipsimError,
        ConvergenceError as ConvergenceError,
        DesignWarning as DesignWarning,
        DomainError as DomainError,
    )
    from .learning.bits import best_bit as best_bit
    from .learning.book import ShopBook as ShopBook
    from .learning.fitting import FittedModel as FittedModel, fit as fit
    from .learning.grading import Grades as Grades, read_grades as read_grades, write_grade_form as write_grade_form
    from .learning.invented import invented_grades as invented_grades
    from .learning.nextpiece import next_coupon as next_coupon
    from .learning.sheets import write_grading_sheet as write_grading_sheet
    from .learning.testpiece import Coupon as Coupon, coupon as coupon
    from .limits.breakouts import breakouts as breakouts
    from .limits.checks import check_limits as check_limits
    from .limits.forces import CuttingForceModel as CuttingForceModel, cutting_forces as cutting_forces
    from .limits.lands import thin_lands as thin_lands
    from .limits.time import time_estimate as time_estimate
    from .limits.width import width_card as width_card
    from .pictures.chips import animate_tooth_passes as animate_tooth_passes, draw_tooth_passes as draw_tooth_passes
    from .pictures.choice import draw_front as draw_front, draw_process_window as draw_process_window
    from .pictures.comparison import draw_comparison as draw_comparison
    from .pictures.laying import draw_layout as draw_layout
    from .pictures.learned import draw_fit as draw_fit
    from .pictures.page import save_figure as save_figure
    from .pictures.risk_map import draw_risk_map as draw_risk_map
    from .pictures.rose import draw_rose as draw_rose
    from .pictures.setup import draw_profile as draw_profile, draw_reached_feed as draw_reached_feed
    from .rs274.reader import read_rs274 as read_rs274
    from .rs274.writer import write_rs274 as write_rs274
    from .scene.cuts import Carving as Carving, Cut as Cut, Pass as Pass, AirMove as AirMove
    from .scene.cutters import ProfileBit as ProfileBit, VBit as VBit
    from .scene.grain import (
        Board as Board,
        Grain as Grain,
        fibre_angle as fibre_angle,
        grain_field as grain_field,
        straight_grain as straight_grain,
    )
    from .scene.machine import Dial as Dial, Machine as Machine
    from .scene.oblique import push_at_lip as push_at_lip, working_angles as working_angles
    from .scene.paths import (
        Path as Path,
        arc as arc,
        curve as curve,
        dot as dot,
        ellipse as ellipse,
        line as line,
        oval as oval,
        polyline as polyline,
        ring as ring,
        rosette as rosette,
        spiral as spiral,
    )
    from .scene.species import Wood as Wood, wood as wood, woods as woods
    from .units import inch as inch, ipm as ipm, thou as thou


def __getattr__(name: str) -> Any:
    if name in _HOME:
        value = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
        globals()[name] = value
        return value
    if name in _ROOMS:
        return import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
