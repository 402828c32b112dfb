"""What may be typed about an invoice, whatever it is about: when it is due, the words on its tax, a note."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, Final

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput

from .invoicing import Terms

#: Common practice, no source; the shop's own terms are typed over it.
DAYS_TO_PAY: Final = 14
TERMS: Final = ("due_on", "simplified", "reverse_charge", "tax_words", "note")


class TermsForm(DeedForm):
    """The terms of one invoice."""

    due_on = DayInput(label="To be paid by", required=False)
    simplified = forms.BooleanField(
        label="Simplified, without the customer's address",
        required=False,
        help_text="For small sums, where your local law allows it.",
    )
    reverse_charge = forms.BooleanField(
        label="Reverse charge: the customer accounts for the tax", required=False
    )
    tax_words = forms.CharField(
        label="Words on the tax",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Such as the exemption, where no tax is charged. Printed as typed; have them checked against your "
        "local law.",
    )
    note = forms.CharField(max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["due_on"].initial = today + timedelta(days=DAYS_TO_PAY)

    @property
    def terms(self) -> Terms:
        """What the deed takes."""
        return Terms(sure=self.is_sure, **{name: self.cleaned_data[name] for name in TERMS})


class WhyForm(DeedForm):
    """Why something is credited."""

    reason = forms.CharField(label="Why", max_length=200, help_text="Stands in the credit note.")
