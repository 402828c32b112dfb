"""What is chosen for an information card: picture, sheets, and the rules it keeps to."""

from __future__ import annotations

from typing import Any, cast

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import LanguageInput
from workshop.materials.words import Profile
from workshop.papers.kinds import SHEETS
from workshop.papers.models import PaperKind

from .models import FinishedGem
from .papers import OUTLINE, PHOTO


class CardForm(DeedForm):
    """A gem's card: drawn or photographed, on which sheets, under which rules."""

    picture = forms.ChoiceField(label="Picture", widget=forms.RadioSelect)
    sizes = forms.MultipleChoiceField(label="Sheets", widget=forms.CheckboxSelectMultiple)
    profile = forms.ChoiceField(
        label="Rules",
        choices=[(one.value, one.words) for one in Profile],
        initial=Profile.STRICT.value,
        help_text="Strict keeps the buyer safe in all three; choose another only for a market you know.",
    )
    language = LanguageInput(help_text="What you typed yourself stays as you typed it.")

    def __init__(self, *args: Any, gem: FinishedGem, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        drawn = (OUTLINE, "a drawing of its outline, from its measurements")
        has_photo = gem.public_photo_id is not None
        picture = cast(forms.ChoiceField, self.fields["picture"])
        picture.choices = [(PHOTO, "the photograph chosen for the public"), drawn] if has_photo else [drawn]
        picture.initial = PHOTO if has_photo else OUTLINE
        sheets = SHEETS[PaperKind.INFO_CARD]
        sizes = cast(forms.MultipleChoiceField, self.fields["sizes"])
        sizes.choices = [(size, sheet.words) for size, sheet in sheets.items()]
        sizes.initial = list(sheets)


class RevisionForm(CardForm):
    """The same, with the reason why the old card is replaced; the sheets stay those of the old one."""

    reason = forms.CharField(
        label="Why it is revised", max_length=300, help_text="It stands on the old card's check page."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["sizes"]
        self.order_fields(["reason", "picture", "profile", "language"])
