"""What may be typed about a material, and a statement about what a stone or lot is."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, NumberInput

from .actions import OWN_FACTS
from .models import Evidence, Material, Nature, Question, Treated, Treatment

#: Fields that answer each question.
ANSWERED_BY = {
    Question.SPECIES: ("material",),
    Question.NATURE: ("nature",),
    Question.TREATMENT: ("treated", "treatments", "degree"),
    Question.ORIGIN: (),
    Question.COLOUR: (),
}
WORDS_LABEL = {
    Question.ORIGIN: "Origin, as it was said",
    Question.COLOUR: "Colour, in words",
    Question.TREATMENT: "In the speaker's own words",
}


#: Rows of the table that answer another question: whether anything was done at all, or what nature the stone is of.
NOT_TREATMENTS = ("none_known", "unknown", "synth", "imit", "assembled", "reconst")


def treatment_choices() -> list[tuple[str, str]]:
    """What may have been done to a stone."""
    return list(Treatment.objects.exclude(key__in=NOT_TREATMENTS).values_list("key", "words"))


class AddMaterialForm(DeedForm):
    """A material the handbook does not have."""

    species = forms.CharField(max_length=80, help_text="Such as hambergite.")
    variety = forms.CharField(max_length=120, required=False)
    name = forms.CharField(label="Everyday name", max_length=80, required=False)
    ri_low = NumberInput(label="Lowest refractive index", least=1, most=4, places=4, required=False)
    ri_high = NumberInput(label="Highest refractive index", least=1, most=4, places=4, required=False)
    sg_typical = NumberInput(
        label="Specific gravity", above_zero=True, most=25, places=3, required=False,
        help_text="Without it no weight can be worked out from sizes.",
    )  # fmt: skip
    hardness = forms.CharField(label="Hardness, Mohs", max_length=20, required=False)
    cleavage = forms.CharField(max_length=200, required=False)
    heat_care = forms.CharField(label="Minds heat", max_length=300, required=False)
    acid_care = forms.CharField(label="Minds acid", max_length=300, required=False)
    light_care = forms.CharField(label="Minds light", max_length=300, required=False)
    usual_treatments = forms.CharField(label="Usual treatments", max_length=300, required=False)
    bench_caution = forms.CharField(
        label="Caution at the bench",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What its dust, splinters or fumes can do, and what to do about it.",
    )
    source = forms.CharField(
        label="Where these figures are from",
        max_length=300,
        required=False,
        help_text="Book and page, or an address.",
    )
    notes = forms.CharField(max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        low, high = self.cleaned_data.get("ri_low"), self.cleaned_data.get("ri_high")
        if low is not None and high is not None and low > high:
            self.add_error("ri_high", "The highest index is below the lowest.")
        return cleaned

    def facts(self) -> dict[str, str]:
        """The columns of the material, as text."""
        columns = [name for name in self.fields if name not in {"species", "variety", "once", "sure"}]
        return {
            name: "" if (value := self.cleaned_data.get(name)) is None else str(value) for name in columns
        }


class ChangeMaterialForm(AddMaterialForm):
    """What the shop wrote of a material of its own; of the handbook's, only notes."""

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, initial={name: getattr(material, name) for name in OWN_FACTS}, **kwargs)
        kept = {"notes"} if material.from_handbook else set(OWN_FACTS)
        for name in self.fields.keys() - kept - {"once", "sure"}:
            del self.fields[name]


class StatementForm(DeedForm):
    """What somebody says a stone or lot is, one question at a time, and on what evidence."""

    material = forms.ModelChoiceField(
        label="Species and variety", queryset=Material.objects.all(), empty_label="choose"
    )
    nature = forms.ChoiceField(label="It is", choices=Nature.choices, widget=forms.RadioSelect)
    treated = forms.ChoiceField(label="Treatment", choices=Treated.choices, widget=forms.RadioSelect)
    treatments = forms.MultipleChoiceField(
        label="Which treatment", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Only where it was treated.",
    )  # fmt: skip
    degree = forms.CharField(
        max_length=40, required=False, help_text="Only where one is told: minor, moderate, significant."
    )
    words = forms.CharField(label="In the speaker's own words", max_length=300, required=False)
    evidence = forms.TypedChoiceField(
        label="On what evidence", coerce=int, choices=[c for c in Evidence.choices if c[0] != Evidence.NOTHING],
        initial=Evidence.SAID,
    )  # fmt: skip
    said_by = forms.CharField(label="Who says so", max_length=160)
    how = forms.CharField(
        label="How it is known",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Readings taken, or the document and its number.",
    )
    said_on = DayInput(label="On which day")

    def __init__(self, *args: Any, question: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.question, self.today = Question(question), today
        answered = ANSWERED_BY[self.question]
        for name in {"material", "nature", "treated", "treatments", "degree"}.difference(answered):
            del self.fields[name]
        if "treatments" in self.fields:
            self.fields["treatments"].choices = treatment_choices()  # type: ignore[attr-defined]
        if self.question in WORDS_LABEL:
            self.fields["words"].label = WORDS_LABEL[self.question]
        self.fields["words"].required = not answered
        self.fields["said_on"].initial = today

    def clean_said_on(self) -> date:
        """Nobody has said anything tomorrow."""
        day: date = self.cleaned_data["said_on"]
        if day > self.today:
            raise forms.ValidationError("This day lies in the future.")
        return day

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        treated, named = self.cleaned_data.get("treated"), self.cleaned_data.get("treatments")
        if treated == Treated.TREATED and not named and "treatments" not in self.errors:
            self.add_error("treatments", "Say which treatment, or that it was not tested.")
        if treated and treated != Treated.TREATED and named:
            self.add_error("treatments", "A treatment is named, but the answer says that it was not treated.")
        if self.cleaned_data.get("evidence", 0) >= Evidence.TESTED and not self.cleaned_data.get("how"):
            self.add_error("how", "Say which readings or which document this rests on.")
        return cleaned

    def said(self) -> dict[str, Any]:
        """The fields of ``Statement`` it fills."""
        fields = {name: value for name, value in self.cleaned_data.items() if name not in {"once", "sure"}}
        return {"question": self.question, **fields}
