"""Readings of the scale."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import WeightInput
from workshop.handbook.units import Weight

from ..models import LossCause

#: Causes one weighs at the bench; the others come from deeds of their own.
AT_THE_BENCH = [
    (cause.value, cause.label) for cause in (LossCause.SWARF, LossCause.TRIM, LossCause.CHIPS, LossCause.KERF)
]


class WeighForm(DeedForm):
    """Two fields and one tap; what part of the loss was something else is asked only of who wants to say."""

    weight = WeightInput()
    cause = forms.ChoiceField(label="What went", choices=AT_THE_BENCH, initial=LossCause.SWARF)
    part = WeightInput(label="Part of the loss that was something else", required=False)
    part_cause = forms.ChoiceField(label="namely", choices=AT_THE_BENCH, initial=LossCause.CHIPS)
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("weight", "part"):
            self.fields[name].unit = unit  # type: ignore[attr-defined]
        # The bench page carries this form inside its own, where a missing cause means swarf.
        self.fields["cause"].required = self.fields["part_cause"].required = False

    def clean_cause(self) -> str:
        return self.cleaned_data["cause"] or LossCause.SWARF

    @property
    def parts(self) -> list[tuple[str, Decimal]]:
        """The part of the loss with a cause of its own, where one was named."""
        part: Weight | None = self.cleaned_data.get("part")
        return [(self.cleaned_data["part_cause"] or LossCause.CHIPS, part.ct)] if part is not None else []


class CorrectWeightForm(DeedForm):
    """What the scale really said, and why the reading was wrong."""

    weight = WeightInput(label="What the scale really said")
    reason = forms.CharField(max_length=300, help_text="Such as: typed in grams, wax on it, wrong stone.")

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["weight"].unit = unit  # type: ignore[attr-defined]
