"""What is typed about a paper: why it is withdrawn."""

from __future__ import annotations

from django import forms

from workshop.common.deeds import DeedForm


class VoidForm(DeedForm):
    """Why a paper no longer counts."""

    reason = forms.CharField(
        label="Why it is withdrawn",
        max_length=300,
        help_text="Anyone with the card reads this on its check page.",
    )
