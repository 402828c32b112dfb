"""The hours of the bench, as they are said."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, NumberInput

from ..load import monday_of


class HoursForm(DeedForm):
    """Hours of the bench a week, from a week on or for one week."""

    from_on = DayInput(label="From the week of", help_text="Any day of that week.")
    hours = NumberInput(label="Hours at the bench", unit="h", least=0, most=168, places=2)
    one_week = forms.BooleanField(label="For this one week only: holiday, fair, illness", required=False)
    note = forms.CharField(max_length=120, required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["from_on"].initial = monday_of(today)

    def clean_from_on(self) -> date:
        """Any day of the week says its Monday."""
        day: date = self.cleaned_data["from_on"]
        try:
            return monday_of(day)
        except OverflowError as error:
            raise ValidationError("Look at the year.") from error
