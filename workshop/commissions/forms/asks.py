"""What may be typed when the work stops: a question, what was found to differ, and an answer."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.formfields import LengthInput, MoneyInput, PicturesInput, WeightInput
from workshop.handbook import tables
from workshop.handbook.units import Weight
from workshop.materials.models import Evidence, Material, Question

from ..actions.asks import OPTIONS
from ..models import StopAsk
from .account import CommissionForm

FROM = ["told by telephone", "told in person", "by letter or e-mail", "by a message"]


class AskForm(CommissionForm):
    """What came up, what it means in figures, and what the client may answer."""

    words = forms.CharField(
        label="What you tell and ask the client", max_length=2000, widget=forms.Textarea(attrs={"rows": 5})
    )
    picture = PicturesInput(
        label="Photograph", several=False, required=False, help_text="The client sees it."
    )
    weight_low = WeightInput(label="It would weigh at least", required=False)
    weight_high = WeightInput(label="at most", required=False)
    length_mm = LengthInput(label="Length", required=False)
    width_mm = LengthInput(label="Width", required=False)
    new_price = MoneyInput(
        label="New price of the piece", required=False, help_text="Only if it changes. Tax as in the quote."
    )
    options = forms.CharField(
        label="Answers offered",
        max_length=1300,
        help_text="One a line.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def __init__(self, *args: Any, why: str, words: str = "", sees_money: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["picture"].widget.attrs["capture"] = "environment"
        self.fields["words"].initial = words
        self.fields["options"].initial = "\n".join(OPTIONS[why])
        if not sees_money:
            del self.fields["new_price"]

    @property
    def told(self) -> dict[str, Any]:
        """What ``ask_client`` takes besides the photograph."""
        typed = self.cleaned_data
        return {
            **self.take("words", "length_mm", "width_mm"),
            "weight_low_ct": _ct(typed["weight_low"]),
            "weight_high_ct": _ct(typed["weight_high"]),
            "new_price": typed.get("new_price"),
            "options": typed["options"].splitlines(),
        }


def _ct(weight: Weight | None) -> Decimal | None:
    return None if weight is None else weight.ct


class DiffersForm(CommissionForm):
    """Species or treatment found to be otherwise, on what evidence, and what the client is asked."""

    question = forms.ChoiceField(
        label="What is different", widget=forms.RadioSelect, initial=Question.TREATMENT,
        choices=[(Question.TREATMENT.value, "the treatment"), (Question.SPECIES.value, "the species")],
    )  # fmt: skip
    material = forms.ModelChoiceField(
        label="Species found", queryset=Material.objects.all(), required=False, empty_label="none picked"
    )
    treatment = forms.ChoiceField(label="Treatment found", required=False)
    evidence = forms.TypedChoiceField(
        label="On what evidence", choices=Evidence, coerce=int, initial=Evidence.TESTED
    )
    how = forms.CharField(
        label="Readings or report", max_length=1000, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Instrument and reading, or the report's number and house.",
    )  # fmt: skip
    words = AskForm.base_fields["words"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["treatment"]
        field.choices = [("", "none picked"), *((one.key, one.words) for one in tables.treatments())]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        wanted = "material" if typed.get("question") == Question.SPECIES else "treatment"
        if not typed.get(wanted) and wanted not in self.errors:
            self.add_error(wanted, "Say which one was found.")
        return typed

    def said(self, *, by: str, on: date) -> dict[str, Any]:
        """The statement, as ``state_about_stone`` takes it."""
        typed = self.cleaned_data
        answer = (
            {"material": typed["material"]}
            if typed["question"] == Question.SPECIES
            else {"treated": "treated", "treatments": [typed["treatment"]]}
        )
        return {**answer, "said_by": by, "said_on": on, **self.take("question", "evidence", "how")}


class AnswerForm(CommissionForm):
    """An answer the client gave another way than on their page."""

    answer = forms.ChoiceField(widget=forms.RadioSelect)
    words = forms.CharField(
        label="In the client's words",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    name = forms.CharField(label="Who answered", max_length=160)
    answered_from = forms.ChoiceField(label="How", choices=[(way, way) for way in FROM])

    def __init__(self, *args: Any, ask: StopAsk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["answer"]
        field.choices = [(option, option) for option in ask.options]
        self.fields["name"].initial = self.commission.client.name
