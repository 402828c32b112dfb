"""Notes, photographs, waiting, going back, the plan, and what a stone cost besides rough and hours."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, LengthInput, MoneyInput, PicturesInput
from workshop.handbook.outlines import LABELS

from ..models import STAGES, ExtraKind, NoteKind, Side, Stage, Stone, Wait


class NoteForm(DeedForm):
    """A note of one sort or another."""

    kind = forms.ChoiceField(choices=NoteKind, widget=forms.RadioSelect, initial=NoteKind.NOTE)
    text = forms.CharField(max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))


class PhotoForm(DeedForm):
    """Photographs of a stone at the stage it stands at."""

    pictures = PicturesInput(
        label="Photographs", help_text="JPEG, PNG or WebP. Where it was taken is left out."
    )
    caption = forms.CharField(max_length=200, required=False)


class WaitForm(DeedForm):
    """What a stone waits for."""

    what = forms.ChoiceField(label="It waits for", choices=Wait, widget=forms.RadioSelect)
    note = forms.CharField(
        max_length=200, required=False, help_text="Needed where it waits for something else."
    )


class BackForm(DeedForm):
    """Which stage a stone goes back to, and why."""

    stage = forms.ChoiceField(label="Back to", widget=forms.RadioSelect)
    reason = forms.CharField(
        max_length=300, help_text="A chip, an inclusion reached, a recut. Hours from now on count as rework."
    )

    def __init__(self, *args: Any, stone: Stone, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        behind = STAGES[: STAGES.index(Stage(stone.stage))]
        self.fields["stage"].choices = [(stage.value, stage.label) for stage in behind]  # type: ignore[attr-defined]


class PlanForm(DeedForm):
    """What a stone is to become, and the size of the piece it is cut from."""

    plan = forms.CharField(
        max_length=200, required=False, help_text="In your own words: design, size, what to lose or hide."
    )
    shape = forms.ChoiceField(choices=[("", "not yet known"), *LABELS.items()], required=False)
    first_side = forms.ChoiceField(label="Cut first", choices=Side, widget=forms.RadioSelect)
    length_mm = LengthInput(label="Length", required=False)
    width_mm = LengthInput(label="Width", required=False)
    depth_mm = LengthInput(label="Depth", required=False)

    CHANGES = ("plan", "shape", "first_side", "length_mm", "width_mm", "depth_mm")

    @classmethod
    def values_of(cls, stone: Stone) -> dict[str, Any]:
        """What stands there now."""
        return {name: getattr(stone, name) for name in cls.CHANGES}


class ExtraForm(DeedForm):
    """A cost of one stone alone."""

    kind = forms.ChoiceField(label="For", choices=ExtraKind)
    amount = MoneyInput(signed=True, help_text="A minus takes an earlier sum back.")
    on = DayInput(label="Day")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, currency: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].unit = currency  # type: ignore[attr-defined]
        self.fields["on"].initial = today


class BuyForm(DeedForm):
    """What the shop pays the owner of a stone for it."""

    paid = MoneyInput(label="Price paid", help_text="Zero where it was given, such as instead of payment.")
    reason = forms.CharField(label="How it changed hands", max_length=200)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["paid"].unit = currency  # type: ignore[attr-defined]
