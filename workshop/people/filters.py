"""The questions one may ask of the contact list."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from .models import Contact

PARTS = [
    ("supplier", "suppliers of rough"),
    ("client", "clients"),
    ("buyer", "buyers"),
    ("jeweller", "jewellers and setters"),
    ("laboratory", "laboratories"),
]


class ContactFilter(django_filters.FilterSet):
    """Words and the part somebody plays."""

    words = django_filters.CharFilter(label="Words or code", method="with_words", max_length=80)
    part = django_filters.ChoiceFilter(label="Part", method="in_part", empty_label="everybody", choices=PARTS)

    class Meta:
        model = Contact
        fields: list[str] = []

    def with_words(self, rows: QuerySet[Contact], name: str, value: str) -> QuerySet[Contact]:
        """Name, firm, mail or code."""
        return rows.matching(value)  # type: ignore[attr-defined]

    def in_part(self, rows: QuerySet[Contact], name: str, value: str) -> QuerySet[Contact]:
        """Those who play it."""
        return rows.playing(value)  # type: ignore[attr-defined]
