"""The questions one may ask of the list of gems."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_filters as filters
from django import forms
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpRequest

from workshop.common.access import hand_of
from workshop.common.formfields import NumberInput, WeightInput
from workshop.handbook.units import Weight
from workshop.materials.models import Material
from workshop.papers.models import Paper, PaperKind
from workshop.people.models import Ownership

from .models import FinishedGem, FinishedGemQuerySet, Gone, Shape, Suite, SuiteKind

#: What may be asked of where a gem is.
STATES = [
    ("stock", "own, in stock"),
    ("here", "on the books"),
    ("away", "with somebody else"),
    ("gone", "gone"),
    *[(way.value, way.label) for way in Gone],
]
MOST_MONEY = 10**9


def _materials(request: HttpRequest | None) -> QuerySet[Material]:
    # Asked for each material, and each answer ends at its first gem: a list of all gems' materials would read them all.
    return Material.objects.filter(Exists(FinishedGem.objects.filter(stone__material=OuterRef("pk"))))


class _WeightFilter(filters.Filter):
    field_class = WeightInput


class _SumFilter(filters.Filter):
    field_class = NumberInput


class GemFilter(filters.FilterSet):
    """Words, what it is, how it looks, weight, where it is, whose, what it lacks; and price for those who see it."""

    words = filters.CharFilter(label="Words or code", method="with_words", max_length=80)
    state = filters.ChoiceFilter(label="Where", choices=STATES, method="in_state", empty_label="anywhere")
    material = filters.ModelChoiceFilter(
        label="Species",
        queryset=_materials,
        field_name="stone__material",
        to_field_name="key",
        empty_label="any",
    )
    shape = filters.ChoiceFilter(label="Shape", choices=Shape, empty_label="any")
    colour = filters.CharFilter(label="Words of its colour", method="with_colour", max_length=80)
    heavier = _WeightFilter(label="Weight from", method="from_weight", unit="ct")
    lighter = _WeightFilter(label="Weight to", method="to_weight", unit="ct")
    whose = filters.ChoiceFilter(
        label="Whose", field_name="ownership", choices=Ownership, empty_label="anybody's"
    )
    dearer = _SumFilter(
        label="Price from", field_name="price", lookup_expr="gte", least=0, most=MOST_MONEY, places=3
    )
    cheaper = _SumFilter(
        label="Price to", field_name="price", lookup_expr="lte", least=0, most=MOST_MONEY, places=3
    )
    no_photo = filters.BooleanFilter(
        label="Without a public photograph", method="without_photo", widget=forms.CheckboxInput
    )
    no_card = filters.BooleanFilter(label="Without a card", method="without_card", widget=forms.CheckboxInput)

    class Meta:
        model = FinishedGem
        fields: list[str] = []

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, request=request, **kwargs)
        if not hand_of(request).sees_money:
            # A search by price tells prices.
            del self.filters["dearer"], self.filters["cheaper"]

    def with_words(self, rows: FinishedGemQuerySet, name: str, value: str) -> FinishedGemQuerySet:
        return rows.matching(value)

    def with_colour(self, rows: FinishedGemQuerySet, name: str, value: str) -> FinishedGemQuerySet:
        """Every word must stand in the colour."""
        for word in value.split():
            rows = rows.filter(colour__icontains=word)
        return rows

    def in_state(self, rows: FinishedGemQuerySet, name: str, value: str) -> FinishedGemQuerySet:
        asked = {"stock": rows.in_stock, "here": rows.here, "away": rows.away, "gone": rows.gone}
        return asked[value]() if value in asked else rows.filter(gone_as=value)

    def from_weight(self, rows: FinishedGemQuerySet, name: str, value: Weight) -> FinishedGemQuerySet:
        return rows.filter(weight_ct__gte=_ct(value))

    def to_weight(self, rows: FinishedGemQuerySet, name: str, value: Weight) -> FinishedGemQuerySet:
        return rows.filter(weight_ct__lte=_ct(value))

    def without_photo(self, rows: FinishedGemQuerySet, name: str, value: bool) -> FinishedGemQuerySet:
        return rows.filter(public_photo__isnull=True) if value else rows

    def without_card(self, rows: FinishedGemQuerySet, name: str, value: bool) -> FinishedGemQuerySet:
        """Those about which no information card stands."""
        standing = Paper.objects.standing().filter(about=OuterRef("code"), kind=PaperKind.INFO_CARD)
        return rows.filter(~Exists(standing)) if value else rows


def _ct(weight: Weight) -> Decimal:
    return weight.ct


SUITE_STATES = [("together", "together"), ("apart", "broken up")]


class SuiteFilter(filters.FilterSet):
    """Name, code or a gem's code; kind; whether it stands."""

    words = filters.CharFilter(label="Name, code or gem", method="with_words", max_length=80)
    kind = filters.ChoiceFilter(label="Kind", choices=SuiteKind, empty_label="any")
    state = filters.ChoiceFilter(label="State", choices=SUITE_STATES, method="in_state", empty_label="all")

    class Meta:
        model = Suite
        fields: list[str] = []

    def with_words(self, rows: QuerySet[Suite], name: str, value: str) -> QuerySet[Suite]:
        """Its name or code, or the code of a gem that is or was in it."""
        return rows.matching(value.strip())  # type: ignore[attr-defined]

    def in_state(self, rows: QuerySet[Suite], name: str, value: str) -> QuerySet[Suite]:
        """Those that stand, or were broken up."""
        return rows.filter(broken_up_on__isnull=value == "together")
