"""What may be typed about a contact, and picking one or naming a new one in another form."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.models import Hand

from . import actions
from .models import Contact


class ContactForm(DeedForm):
    """Somebody the shop deals with."""

    name = forms.CharField(max_length=160)
    firm = forms.CharField(max_length=160, required=False)
    is_supplier = forms.BooleanField(label="Supplier of rough", required=False)
    is_client = forms.BooleanField(label="Client", required=False)
    is_buyer = forms.BooleanField(label="Buyer", required=False)
    is_jeweller = forms.BooleanField(label="Jeweller or setter", required=False)
    is_laboratory = forms.BooleanField(label="Laboratory", required=False)
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    phone = forms.CharField(
        label="Telephone", max_length=60, required=False, widget=forms.TextInput(attrs={"type": "tel"})
    )
    address = forms.CharField(max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    country = forms.CharField(max_length=60, required=False)
    tax_number = forms.CharField(max_length=40, required=False)
    notes = forms.CharField(max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 4}))

    def facts(self) -> dict[str, Any]:
        """The columns of the contact."""
        return {name: self.cleaned_data[name] for name in actions.DESCRIBED}


class SomebodyMixin:
    """A pick from the contact list beside a box for a new name, under ``<field>`` and ``new_<field>``."""

    cleaned_data: dict[str, Any]
    add_error: Any

    def check_somebody(self, field: str) -> None:
        """Only one of the two may be filled in."""
        if self.cleaned_data.get(field) and self.cleaned_data.get(f"new_{field}"):
            self.add_error(f"new_{field}", "Pick somebody from the list or give a new name, not both.")

    def somebody(self, field: str, part: str, *, by: Hand | None, at: datetime) -> Contact | None:
        """The contact picked, or a new one with that name and part; call inside the deed."""
        picked: Contact | None = self.cleaned_data.get(field)
        name = self.cleaned_data.get(f"new_{field}", "")
        if picked is not None or not name:
            return picked
        return actions.add_contact(
            by=by, at=at, name=name, sure=bool(self.cleaned_data.get("sure")), **{f"is_{part}": True}
        )
