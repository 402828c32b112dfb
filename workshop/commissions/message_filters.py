"""The questions one may ask of the list of messages."""

from __future__ import annotations

import django_filters as filters
from django import forms
from django.db.models import Q, QuerySet

from .models import Message, MessageState, Moment

#: What still needs somebody: not sent, refused, or begun and not answered for.
OPEN_STATES = (MessageState.READY, MessageState.SENDING, MessageState.FAILED)


class MessageFilter(filters.FilterSet):
    """Words, what became of it, about which moment, and when it was written."""

    words = filters.CharFilter(label="Words or code", method="with_words", max_length=80)
    state = filters.ChoiceFilter(
        label="State",
        method="in_state",
        empty_label="any",
        choices=[("open", "needs a look"), *MessageState.choices],
    )
    moment = filters.ChoiceFilter(label="About", choices=Moment, empty_label="anything")
    since = filters.DateFilter(
        label="Written from", field_name="made_at", lookup_expr="date__gte",
        widget=forms.DateInput(attrs={"type": "date"}),
    )  # fmt: skip
    until = filters.DateFilter(
        label="Written until", field_name="made_at", lookup_expr="date__lte",
        widget=forms.DateInput(attrs={"type": "date"}),
    )  # fmt: skip

    class Meta:
        model = Message
        fields: list[str] = []

    def with_words(self, rows: QuerySet[Message], name: str, value: str) -> QuerySet[Message]:
        return rows.filter(
            Q(commission__code__iexact=value)
            | Q(commission__client__name__icontains=value)
            | Q(subject__icontains=value)
            | Q(body__icontains=value)
        )

    def in_state(self, rows: QuerySet[Message], name: str, value: str) -> QuerySet[Message]:
        return rows.filter(state__in=OPEN_STATES) if value == "open" else rows.filter(state=value)
