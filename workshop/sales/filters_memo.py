"""The questions one may ask of the list of memos."""

from __future__ import annotations

from datetime import date
from typing import Any

import django_filters as filters
from django.db.models import Q

from .models import Direction, Memo, MemoQuerySet

STATES = [("standing", "not closed"), ("overdue", "overdue"), ("closed", "closed")]


class MemoFilter(filters.FilterSet):
    """Words, who lends, and where it stands."""

    words = filters.CharFilter(label="Code, party or gem", method="with_words", max_length=80)
    direction = filters.ChoiceFilter(label="Way", choices=Direction, empty_label="both ways")
    state = filters.ChoiceFilter(label="State", choices=STATES, method="in_state", empty_label="any")

    class Meta:
        model = Memo
        fields: list[str] = []

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def with_words(self, rows: MemoQuerySet, name: str, value: str) -> MemoQuerySet:
        lines = Q(pk__in=Memo.objects.filter(lines__gem__code__iexact=value).order_by().values("pk"))
        party = Q(party__name__icontains=value) | Q(party__firm__icontains=value)
        return rows.filter(Q(code__iexact=value) | party | lines)

    def in_state(self, rows: MemoQuerySet, name: str, value: str) -> MemoQuerySet:
        if value == "closed":
            return rows.filter(closed_on__isnull=False)
        if value == "standing":
            return rows.standing()
        return rows.overdue(self.today)
