"""What people do with the contact list: add somebody, change what is known of them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from workshop.common import journal, numbers
from workshop.common.errors import PleaseConfirm
from workshop.common.models import Hand
from workshop.common.tx import write_tx

from .models import Contact

DESCRIBED = (
    "name", "firm", "is_supplier", "is_client", "is_buyer", "is_jeweller", "is_laboratory", "email", "phone",
    "address", "country", "tax_number", "notes",
)  # fmt: skip


def add_contact(*, by: Hand | None, at: datetime, name: str, sure: bool = False, **facts: Any) -> Contact:
    """Put somebody on the contact list. One who may be there already is asked about first."""
    name = " ".join(name.split())
    with write_tx():
        if not sure:
            _ask_about_twins(name, facts)
        contact = Contact(code=numbers.take("P"), name=name, **facts)
        contact.full_clean()
        contact.save()
        journal.note(
            "added contact", contact.code, by=by, at=at, after={"name": name, "parts": contact.parts}
        )
    return contact


def _ask_about_twins(name: str, facts: Mapping[str, Any]) -> None:
    twins = Contact.objects.like(name=name, firm=facts.get("firm", ""), email=facts.get("email", ""))
    named = [f"{twin.code} {twin}" for twin in twins[:3]]
    if named:
        raise PleaseConfirm(f"There is {', '.join(named)} already. Is this somebody else?", field="name")


def change_contact(contact: Contact, changes: Mapping[str, Any], *, by: Hand | None, at: datetime) -> Contact:
    """Change what is known of a contact; the journal keeps what stood there before."""
    with write_tx():
        contact = Contact.objects.get(pk=contact.pk)
        before = {
            name: getattr(contact, name)
            for name in DESCRIBED
            if name in changes and getattr(contact, name) != changes[name]
        }
        if not before:
            return contact
        for name in before:
            setattr(contact, name, changes[name])
        contact.full_clean()
        contact.save()
        journal.note(
            "changed contact",
            contact.code,
            by=by,
            at=at,
            before=before,
            after={name: changes[name] for name in before},
        )
    return contact
