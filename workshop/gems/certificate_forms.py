"""What is chosen for a certificate: photographs, the weights it shows, sheets, and the rules it keeps to."""

from __future__ import annotations

from typing import Any, cast

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import LanguageInput
from workshop.materials.words import Profile
from workshop.papers.kinds import SHEETS, Sheet
from workshop.papers.models import PaperKind

from .models import FinishedGem
from .papers_certificate import USUAL_WEIGHTS, WEIGHTS, Chosen, offered_weights


def rules_field() -> forms.ChoiceField:
    """The rules a paper keeps to; strict unless told otherwise."""
    return forms.ChoiceField(
        label="Rules",
        choices=[(one.value, one.words) for one in Profile],
        initial=Profile.STRICT.value,
        help_text="Strict keeps the buyer safe in all three; choose another only for a market you know.",
    )


def offer_sheets(form: forms.Form, sheets: dict[str, Sheet]) -> None:
    """Let the form's ``sizes`` be chosen from these sheets, the first of them unless told otherwise."""
    sizes = cast(forms.MultipleChoiceField, form.fields["sizes"])
    sizes.choices = [(size, sheet.words) for size, sheet in sheets.items()]
    sizes.initial = list(sheets)[:1]


class CertificateForm(DeedForm):
    """A gem's certificate: what it shows beside what it must say."""

    photos = forms.TypedMultipleChoiceField(
        label="Photographs",
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="The first one stands large; without any, the drawing does.",
    )
    weights = forms.MultipleChoiceField(
        label="Weights on its way",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Only what you tick is told.",
    )
    sizes = forms.MultipleChoiceField(label="Sheets", widget=forms.CheckboxSelectMultiple)
    profile = rules_field()
    language = LanguageInput(help_text="What you typed yourself stays as you typed it.")

    def __init__(self, *args: Any, gem: FinishedGem, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shown = list(gem.stone.photos.order_by("-at", "-pk"))
        if gem.public_photo is not None:
            shown.sort(key=lambda one: one.pk != gem.public_photo_id)
        photos = cast(forms.TypedMultipleChoiceField, self.fields["photos"])
        photos.choices = [
            (one.pk, one.caption or f"{one.get_stage_display()}, {one.at:%d %b %Y}") for one in shown
        ]
        photos.initial = [gem.public_photo_id] if gem.public_photo_id else []
        if not shown:
            del self.fields["photos"]
        offered = offered_weights(gem)
        weights = cast(forms.MultipleChoiceField, self.fields["weights"])
        weights.choices = [(name, WEIGHTS[name]) for name in offered]
        weights.initial = [name for name in offered if name in USUAL_WEIGHTS]
        offer_sheets(self, SHEETS[PaperKind.CERTIFICATE])

    def chosen(self) -> Chosen:
        """What was ticked."""
        said = self.cleaned_data
        return Chosen(photos=tuple(said.get("photos", ())), weights=tuple(said["weights"]))


class CertificateRevisionForm(CertificateForm):
    """The same, with the reason why the old one is replaced; the sheets stay those of the old one."""

    reason = forms.CharField(
        label="Why it is revised", max_length=300, help_text="It stands on the old paper's check page."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["sizes"]
        self.order_fields(["reason", "photos", "weights", "profile", "language"])
