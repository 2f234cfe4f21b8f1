"""Every name that is held to the rules of public ones: those of the package, and what its functions return."""

from importlib import import_module

import chipsim as cs

RETURNED = {
    "learning.bits": ("BitChoice",),
    "choosing.comparing": ("Comparison", "Option"),
    "choosing.layout": ("Layout", "LayoutRow"),
    "choosing.recommending": ("BoardOdds", "Costed", "Recommendation"),
    "choosing.summaries": ("Summary",),
    "choosing.sweeps": ("Cell", "Sweep"),
    "damage.bands": ("Band",),
    "damage.handwork": ("Minutes",),
    "damage.literature": ("Answers", "Statement"),
    "damage.orders": ("Odds",),
    "damage.rose": ("Rose",),
    "damage.tearout": ("chip_type",),
    "designs.svg": ("Drawing",),
    "learning.book": ("BookRecord", "FinishedJob", "job_piece"),
    "learning.grading": ("Grade",),
    "learning.nextpiece": ("NextPiece", "PieceCost"),
    "learning.wear": ("Wear", "edge_metres"),
    "limits.breakouts": ("Breakout", "Breakouts"),
    "limits.checks": ("Limit", "Limits", "all_clear", "limits_table"),
    "limits.forces": ("Forces",),
    "limits.lands": ("Land", "Lands", "lands_table"),
    "limits.time": ("TimeEstimate",),
    "limits.width": ("WidthCard",),
    "scene.cuts": ("reached_feed",),
    "scene.cutters": ("Cutter",),
    "scene.grain": ("edge_angle", "fibre_axis", "grain_words"),
    "scene.machine": ("SpeedProfile", "speed_profile"),
}
"""Modules, and what of them stands outside of the package's own names: results, rows, helpers."""

HOME = {name: module for module, names in RETURNED.items() for name in names}
NAMES = {name: getattr(cs, name) for name in cs.__all__} | {
    name: getattr(import_module(f"chipsim.{module}"), name) for name, module in HOME.items()
}
