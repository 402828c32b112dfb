"""Stones in progress: one piece followed on its own, from the rough to off the dop.

The law of weight for a stone: weight it started with = what it weighs now + losses by cause; and for a stone sawn
or broken into several: its last weight = its children as they began + kerf, chips and lost + the unexplained gap.
"""

from .stone import ON_THE_DOP, REOPENABLE, STAGES, Ending, Side, Stage, Stone, StoneQuerySet, Wait, Work
from .story import ExtraKind, NoteKind, StageChange, StoneExtra, StoneNote, StonePhoto, StoneStatement
from .time import BENCH_ACTIVITIES, Activity, BenchTime, BenchTimeQuerySet, DayHours, TimeShare
from .weight import Loss, LossCause, Weighing

__all__ = [
    "BENCH_ACTIVITIES",
    "ON_THE_DOP",
    "REOPENABLE",
    "STAGES",
    "Activity",
    "BenchTime",
    "BenchTimeQuerySet",
    "DayHours",
    "Ending",
    "ExtraKind",
    "Loss",
    "LossCause",
    "NoteKind",
    "Side",
    "Stage",
    "StageChange",
    "Stone",
    "StoneExtra",
    "StoneNote",
    "StonePhoto",
    "StoneQuerySet",
    "StoneStatement",
    "TimeShare",
    "Wait",
    "Weighing",
    "Work",
]
