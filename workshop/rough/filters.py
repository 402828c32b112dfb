"""The questions one may ask of the list of lots."""

from __future__ import annotations

import django_filters
from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest

from workshop.materials.models import Material
from workshop.people.models import Contact, Ownership

from .models import RoughLot


def _materials(request: HttpRequest | None) -> QuerySet[Material]:
    return Material.objects.filter(pk__in=RoughLot.objects.values("material"))


def _sellers(request: HttpRequest | None) -> QuerySet[Contact]:
    return Contact.objects.filter(pk__in=RoughLot.objects.values("seller"))


class LotFilter(django_filters.FilterSet):
    """Words, what it is, from whom, whose, with rough left, and when it came in."""

    words = django_filters.CharFilter(label="Words or code", method="with_words", max_length=80)
    material = django_filters.ModelChoiceFilter(
        label="Species", queryset=_materials, to_field_name="key", empty_label="any"
    )
    seller = django_filters.ModelChoiceFilter(
        label="Seller", queryset=_sellers, to_field_name="code", empty_label="any"
    )
    whose = django_filters.ChoiceFilter(
        label="Whose", field_name="ownership", choices=Ownership.choices, empty_label="anybody's"
    )
    since = django_filters.DateFilter(
        label="Came in from",
        field_name="received_on",
        lookup_expr="gte",
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    until = django_filters.DateFilter(
        label="Came in until",
        field_name="received_on",
        lookup_expr="lte",
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    left = django_filters.BooleanFilter(
        label="With rough left", method="with_left", widget=forms.CheckboxInput
    )

    class Meta:
        model = RoughLot
        fields: list[str] = []

    def with_words(self, rows: QuerySet[RoughLot], name: str, value: str) -> QuerySet[RoughLot]:
        """Every word must stand somewhere."""
        return rows.matching(value)  # type: ignore[attr-defined]

    def with_left(self, rows: QuerySet[RoughLot], name: str, value: bool) -> QuerySet[RoughLot]:
        """Ticked: only those one can still draw from."""
        return rows.with_rough_left() if value else rows  # type: ignore[attr-defined]
