"""What may be typed about a recall: the letter and how it went, what was chosen, what was done, prices and refunds."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, MoneyInput

from .forms import CancelForm, LowerForm
from .letters import Letter
from .models import Choice, Sale

HOW = [
    (words, words) for words in ("by letter", "by e-mail", "by telephone", "in person", "by a message here")
]


class OfferForm(forms.Form):
    """The price a carat a sold gem is worth for what it is; asked before the letter, so that it can name the sums."""

    per_carat = MoneyInput(label="The right price a carat", required=False)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["per_carat"].unit = currency  # type: ignore[attr-defined]

    def clean_per_carat(self) -> Any:
        """Above nothing, where one is given."""
        value = self.cleaned_data["per_carat"]
        if value is not None and value <= 0:
            raise forms.ValidationError("Give a price above zero, or none.")
        return value


class OpenForm(DeedForm):
    """Nothing is asked: what is touched stands on the page."""


class TellForm(DeedForm):
    """The letter, and that it reached somebody: when and how."""

    subject = forms.CharField(max_length=200)
    letter = forms.CharField(
        label="What to say", max_length=6000, widget=forms.Textarea(attrs={"rows": 22}),
        help_text="Change every word you like. It names nobody else and no cost of yours; keep it so.",
    )  # fmt: skip
    how = forms.ChoiceField(label="How they were told", choices=HOW)
    on = DayInput(label="On which day")

    def __init__(self, *args: Any, written: Letter, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["subject"].initial = written.subject
        self.fields["letter"].initial = written.body
        self.fields["on"].initial = today


class ChoiceForm(DeedForm):
    """What somebody who was told chose."""

    choice = forms.ChoiceField(label="They chose", choices=Choice, widget=forms.RadioSelect)
    words = forms.CharField(
        label="In their words", max_length=600, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    on = DayInput(label="On which day")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = today


class SettleForm(DeedForm):
    """What was done with a thing, or why nothing is to be done."""

    words = forms.CharField(
        label="What was done", max_length=600, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Such as: set aside, the bag written anew.",
    )  # fmt: skip
    nothing = forms.BooleanField(label="Nothing is to be done; the words say why", required=False)


class ReasonForm(DeedForm):
    """Why a quote is withdrawn."""

    reason = forms.CharField(max_length=300, help_text="It stays with the quote.")


class RepriceForm(DeedForm):
    """What is asked for a gem from now on, and why."""

    amount = MoneyInput(label="Asking price")
    reason = forms.CharField(max_length=200)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].unit = currency  # type: ignore[attr-defined]


class KeepForm(LowerForm):
    """The buyer keeps it: the new price, what goes back, and what the buyer said."""

    words = forms.CharField(label="In the buyer's words", max_length=600, required=False)

    def __init__(self, *args: Any, sale: Sale, **kwargs: Any) -> None:
        super().__init__(*args, sale=sale, **kwargs)
        del self.fields["line"]
        self.order_fields(["price", "refund", "way", "on", "reason", "words"])


class ReturnForm(CancelForm):
    """The buyer returns it: what goes back, and what the buyer said."""

    words = forms.CharField(label="In the buyer's words", max_length=600, required=False)


class CloseForm(DeedForm):
    """The day it is closed; a reason while something is still to do."""

    on = DayInput(label="Closed on")
    why = forms.CharField(
        label="Why, if something is still to do", max_length=300, required=False,
    )  # fmt: skip

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = today
