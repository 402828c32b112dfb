"""What is typed about a paper: why it is withdrawn, why the key changes, and the file or number to be checked."""

from __future__ import annotations

from django import forms

from workshop.common.deeds import DeedForm

from .sealing import MOST_BYTES


class VoidForm(DeedForm):
    """Why a paper no longer counts."""

    reason = forms.CharField(
        label="Why it is withdrawn",
        max_length=300,
        help_text="Anyone with the card reads this on its check page; of a paper between you and a client "
        "the page tells only that it is void.",
    )


class ChangeKeyForm(DeedForm):
    """Why papers are signed with another key from now on."""

    reason = forms.CharField(
        label="Why the key is changed",
        max_length=300,
        help_text="Once a key may be in other hands, or every few years. What it signed stays valid.",
    )


class CheckFileForm(forms.Form):
    """A PDF to be compared with what was issued."""

    file = forms.FileField(
        label="The PDF of the paper", widget=forms.FileInput(attrs={"accept": "application/pdf"})
    )

    def clean_file(self) -> bytes:
        """Its bytes."""
        handed_in = self.cleaned_data["file"]
        if handed_in.size > MOST_BYTES:
            raise forms.ValidationError("This file is too large to be one of our papers.")
        return bytes(handed_in.read())


class CheckAnyForm(CheckFileForm):
    """A PDF, or the number printed on a paper."""

    file = forms.FileField(
        label="The PDF of the paper",
        required=False,
        widget=forms.FileInput(attrs={"accept": "application/pdf"}),
    )
    number = forms.CharField(label="or its number", max_length=20, required=False)

    def clean_file(self) -> bytes:
        """Its bytes; nothing where only a number was typed."""
        return super().clean_file() if self.cleaned_data.get("file") else b""

    def clean(self) -> dict[str, object]:
        """One of the two."""
        said = super().clean() or {}
        if not self.errors and not said.get("file") and not said.get("number"):
            self.add_error("file", "Choose the PDF, or type the number.")
        return said
