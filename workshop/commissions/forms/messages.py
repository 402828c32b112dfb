"""What may be typed about a client's link and a message."""

from __future__ import annotations

from django import forms

from workshop.common.deeds import DeedForm

from ..actions.links import LEAST_DAYS, MOST_DAYS
from .client import ONE_LINE


class LinkForm(DeedForm):
    """How long the client's page opens."""

    days = forms.IntegerField(
        label="It opens for", initial=60, min_value=LEAST_DAYS, max_value=MOST_DAYS,
        widget=forms.NumberInput(attrs={"data-unit": "days", "inputmode": "numeric"}),
    )  # fmt: skip


class MessageForm(DeedForm):
    """A message to a client; its texts are filled in from the records and may be changed."""

    to = forms.EmailField(
        label="To",
        max_length=254,
        required=False,
        help_text="Leave it out to copy the text and give it another way.",
    )
    subject = forms.CharField(max_length=200, validators=[ONE_LINE])
    body = forms.CharField(label="Text", max_length=6000, widget=forms.Textarea(attrs={"rows": 14}))


class ToldForm(DeedForm):
    """What the client told by telephone, by letter or at the counter."""

    words = forms.CharField(
        label="What the client said", max_length=6000, widget=forms.Textarea(attrs={"rows": 5})
    )
