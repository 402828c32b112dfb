"""The questions one may ask of the list of sales."""

from __future__ import annotations

import django_filters as filters
from django import forms
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpRequest

from workshop.people.models import Contact

from .models import Channel, Sale, SaleQuerySet

STATES = [("standing", "not taken back"), ("unpaid", "not paid in full"), ("taken_back", "taken back")]


def _buyers(request: HttpRequest | None) -> QuerySet[Contact]:
    return Contact.objects.filter(Exists(Sale.objects.filter(buyer=OuterRef("pk"))))


def _day(label: str, lookup: str) -> filters.DateFilter:
    widget = forms.DateInput(attrs={"type": "date"})
    return filters.DateFilter(label=label, field_name="sold_on", lookup_expr=lookup, widget=widget)


class SaleFilter(filters.FilterSet):
    """Words, to whom, where, when, and whether it was paid or taken back."""

    words = filters.CharFilter(label="Words or code", method="with_words", max_length=80)
    buyer = filters.ModelChoiceFilter(
        label="Buyer", queryset=_buyers, to_field_name="code", empty_label="anybody"
    )
    channel = filters.ChoiceFilter(label="Where", choices=Channel, empty_label="anywhere")
    state = filters.ChoiceFilter(label="State", choices=STATES, method="in_state", empty_label="any")
    since = _day("Sold from", "gte")
    until = _day("Sold until", "lte")

    class Meta:
        model = Sale
        fields: list[str] = []

    def with_words(self, rows: SaleQuerySet, name: str, value: str) -> SaleQuerySet:
        return rows.matching(value)

    def in_state(self, rows: SaleQuerySet, name: str, value: str) -> SaleQuerySet:
        if value == "unpaid":
            return rows.unpaid()
        return rows.standing() if value == "standing" else rows.filter(cancelled_on__isnull=False)
