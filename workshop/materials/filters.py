"""The questions one may ask of the list of materials."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from .models import Material


class MaterialFilter(django_filters.FilterSet):
    """Words in species, variety or everyday name; the handbook's or the shop's own."""

    words = django_filters.CharFilter(label="Words", method="with_words", max_length=80)
    whose = django_filters.ChoiceFilter(
        label="From",
        method="from_whom",
        empty_label="everywhere",
        choices=[("handbook", "the handbook"), ("shop", "the shop's own")],
    )

    class Meta:
        model = Material
        fields: list[str] = []

    def with_words(self, rows: QuerySet[Material], name: str, value: str) -> QuerySet[Material]:
        """Every word must stand somewhere in the names."""
        return rows.matching(value)  # type: ignore[attr-defined]

    def from_whom(self, rows: QuerySet[Material], name: str, value: str) -> QuerySet[Material]:
        """The handbook's rows, or those the shop added."""
        return rows.filter(from_handbook=value == "handbook")
