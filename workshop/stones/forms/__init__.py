"""From what is typed or tapped at the bench to typed values."""

from .endings import AgainForm, BreakForm, EndForm, SplitForm
from .times import AddTimeForm, CorrectTimeForm, StartForm, StrikeForm, chosen_first
from .weigh import CorrectWeightForm, WeighForm
from .work import BackForm, BuyForm, ExtraForm, NoteForm, PhotoForm, PlanForm, WaitForm

__all__ = [
    "AddTimeForm",
    "AgainForm",
    "BackForm",
    "BreakForm",
    "BuyForm",
    "CorrectTimeForm",
    "CorrectWeightForm",
    "EndForm",
    "ExtraForm",
    "NoteForm",
    "PhotoForm",
    "PlanForm",
    "SplitForm",
    "StartForm",
    "StrikeForm",
    "WaitForm",
    "WeighForm",
    "chosen_first",
]
