"""What is typed about a pair or suite, and chosen for its certificate."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from workshop.common.deeds import DeedForm
from workshop.common.formfields import LanguageInput, LengthInput, WeightInput
from workshop.papers.kinds import SHEETS
from workshop.papers.models import PaperKind

from .certificate_forms import offer_sheets, rules_field
from .models import FinishedGem, Suite, SuiteKind


class GemCodes(forms.CharField):
    """Codes of gems, with blanks or commas between; cleans to the gems in that order, the unknown named."""

    def __init__(self, *, several: bool = True, **kwargs: Any) -> None:
        self.several = several
        super().__init__(**{"max_length": 800, **kwargs})

    def clean(self, value: Any) -> Any:
        codes = re.split(r"[\s,;]+", super().clean(value).upper().strip(" ,;"))
        rows = {gem.code: gem for gem in FinishedGem.objects.filter(code__in=codes)}
        if unknown := [code for code in codes if code not in rows]:
            raise ValidationError(f"There is no gem {unknown[0][:20]}.")
        if self.several:
            return [rows[code] for code in codes]
        if len(codes) != 1:
            raise ValidationError("Name one gem.")
        return rows[codes[0]]


class SuiteWords(DeedForm):
    """Name, tolerances and note."""

    name = forms.CharField(max_length=120, help_text="It may stand on a paper: no word that claims too much.")
    tolerance_mm = LengthInput(
        required=False, label="Sizes match within", help_text="How far lengths, and widths, may lie apart."
    )
    tolerance_ct = WeightInput(
        required=False, unit="ct", label="Weights match within", help_text="How far weights may lie apart."
    )
    note = forms.CharField(
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For the shop alone.",
    )

    def said(self) -> dict[str, Any]:
        """The columns of ``Suite`` as typed."""
        typed = self.cleaned_data
        weight = typed["tolerance_ct"]
        return {
            "name": typed["name"],
            "tolerance_mm": typed["tolerance_mm"],
            "tolerance_ct": weight.ct if weight is not None else None,
            "note": typed["note"],
        }

    @staticmethod
    def values_of(suite: Suite) -> dict[str, Any]:
        """What the form shows of a suite."""
        return {
            "name": suite.name,
            "note": suite.note,
            "tolerance_mm": "" if suite.tolerance_mm is None else f"{suite.tolerance_mm.normalize():f}",
            "tolerance_ct": "" if suite.tolerance_ct is None else f"{suite.tolerance_ct.normalize():f}",
        }


class MakeSuiteForm(SuiteWords):
    """The same, with the kind and the gems."""

    kind = forms.ChoiceField(choices=SuiteKind)
    gems = GemCodes(label="Gems", help_text="Their codes, such as G-0101 G-0102.")
    field_order = ["gems", "kind", "name", "tolerance_mm", "tolerance_ct", "note"]


class ReplaceForm(DeedForm):
    """One gem for another."""

    old = forms.ChoiceField(label="Taken out")
    new = GemCodes(several=False, max_length=20, label="In its place", help_text="Its code.")
    why = forms.CharField(max_length=300, label="Why")

    def __init__(self, *args: Any, gems: list[FinishedGem], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.gems = {gem.code: gem for gem in gems}
        self.fields["old"].choices = [(gem.code, str(gem)) for gem in gems]  # type: ignore[attr-defined]


class BreakUpForm(DeedForm):
    """Why the gems are single again."""

    why = forms.CharField(max_length=300, label="Why")


class SuitePaperForm(DeedForm):
    """Sheets, rules and language of a suite's certificate."""

    sizes = forms.MultipleChoiceField(label="Sheets", widget=forms.CheckboxSelectMultiple)
    profile = rules_field()
    language = LanguageInput(help_text="What you typed yourself stays as you typed it.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_sheets(self, SHEETS[PaperKind.SUITE])


class SuitePaperRevisionForm(SuitePaperForm):
    """The same, with the reason; the sheets stay those of the old one."""

    reason = forms.CharField(
        label="Why it is revised", max_length=300, help_text="It stands on the old paper's check page."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["sizes"]
        self.order_fields(["reason", "profile", "language"])
