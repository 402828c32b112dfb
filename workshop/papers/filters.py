"""The questions one may ask of the papers issued."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from .models import Paper, PaperKind

STATES = [("standing", "stand"), ("superseded", "superseded"), ("void", "void")]


class PaperFilter(django_filters.FilterSet):
    """Number or code, kind, and whether it stands."""

    words = django_filters.CharFilter(label="Number or code", method="with_words", max_length=40)
    kind = django_filters.ChoiceFilter(label="Kind", choices=PaperKind, empty_label="every kind")
    state = django_filters.ChoiceFilter(label="State", method="in_state", choices=STATES, empty_label="all")

    class Meta:
        model = Paper
        fields: list[str] = []

    def with_words(self, rows: QuerySet[Paper], name: str, value: str) -> QuerySet[Paper]:
        """Its number, or the code of what it speaks of."""
        return rows.matching(value)  # type: ignore[attr-defined]

    def in_state(self, rows: QuerySet[Paper], name: str, value: str) -> QuerySet[Paper]:
        """Those in one state."""
        return rows.in_state(value)  # type: ignore[attr-defined]
