"""What is chosen for an information card: picture, sheets, and the rules it keeps to."""

from __future__ import annotations

from typing import Any, cast

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import LanguageInput
from workshop.materials.words import Profile
from workshop.papers.kinds import SHEETS
from workshop.papers.models import PaperKind

from .card_actions import TradeCode
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
    code = forms.CharField(
        label="Trade letters", max_length=20, required=False,
        help_text="Such as H, or H F. Printed only beside the plain words, which always stand.",
    )  # fmt: skip
    code_edition = forms.CharField(
        label="Edition of the list", max_length=40, required=False,
        help_text="Of the AGTA Gemstone Information Manual: the same letter changed its meaning.",
    )  # fmt: skip

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

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if typed.get("code", "").strip() and not typed.get("code_edition", "").strip():
            self.add_error("code_edition", "Name the edition: the same letter changed its meaning.")
        return typed

    @property
    def trade_code(self) -> TradeCode | None:
        """The letters asked for, with the edition of their list."""
        letters = " ".join(self.cleaned_data["code"].upper().split())
        return TradeCode(letters, self.cleaned_data["code_edition"].strip()) if letters else None


class RevisionForm(CardForm):
    """The same, with the reason why the old card is replaced; the sheets stay those of the old one."""

    reason = forms.CharField(
        label="Why it is revised", max_length=300, help_text="It stands on the old card's check page."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["sizes"]
        self.order_fields(["reason", "picture", "profile", "language", "code", "code_edition"])
