"""The questions one may ask of the list of stones."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

import django_filters as filters
from django import forms
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from workshop.common.formfields import FIRST_DAY
from workshop.common.models import Hand, Role
from workshop.materials.models import Material
from workshop.people.models import Ownership

from .models import Ending, Stage, StageChange, Stone, StoneNote, StoneQuerySet, TimeShare, Wait, Weighing

STATES = [("open", "on the bench"), ("finished", "finished"), *Ending.choices]
ANY = "any"


def _day_field(label: str, method: str) -> filters.DateFilter:
    widget = forms.DateInput(attrs={"type": "date"})
    return filters.DateFilter(label=label, method=method, widget=widget)


class StoneFilter(filters.FilterSet):
    """By words, material, lot, stage, waiting, state, whose, who had it in hand, and when."""

    q = filters.CharFilter(label="Code or word", method="by_words", max_length=80)
    material = filters.ModelChoiceFilter(
        queryset=Material.objects.all(), to_field_name="key", empty_label="any", label="Material"
    )
    lot = filters.CharFilter(field_name="lot__code", lookup_expr="iexact", label="Lot", max_length=12)
    state = filters.ChoiceFilter(choices=STATES, method="by_state", label="State", empty_label="any")
    stage = filters.ChoiceFilter(choices=Stage, label="Stage", empty_label="any")
    waiting = filters.ChoiceFilter(
        choices=[(ANY, "for anything"), *Wait.choices],
        method="by_waiting",
        label="Waiting",
        empty_label="all the same",
    )
    whose = filters.ChoiceFilter(
        choices=Ownership, field_name="ownership", label="Whose", empty_label="anybody's"
    )
    hand = filters.ModelChoiceFilter(
        queryset=Hand.objects.filter(role__in=[Role.OWNER, Role.HAND]),
        to_field_name="username",
        method="by_hand",
        label="In whose hands",
        empty_label="anybody's",
    )
    since = _day_field("Touched from", "touched_from")
    until = _day_field("Touched to", "touched_to")

    class Meta:
        model = Stone
        fields: list[str] = []

    def by_words(self, rows: StoneQuerySet, name: str, value: str) -> StoneQuerySet:
        return rows.matching(value.strip())

    def by_state(self, rows: StoneQuerySet, name: str, value: str) -> StoneQuerySet:
        if value == "open":
            return rows.on_the_bench()
        return (
            rows.filter(ending="", stage=Stage.FINISHED) if value == "finished" else rows.filter(ending=value)
        )

    def by_waiting(self, rows: StoneQuerySet, name: str, value: str) -> StoneQuerySet:
        return rows.waiting() if value == ANY else rows.filter(waiting_for=value)

    def by_hand(self, rows: StoneQuerySet, name: str, value: Hand) -> StoneQuerySet:
        """Who gave it time, weighed it, moved it on or wrote about it."""
        touched = [
            Exists(TimeShare.objects.filter(stone=OuterRef("pk"), time__hand=value, time__counts=True)),
            *[
                Exists(kind.objects.filter(stone=OuterRef("pk"), by=value))
                for kind in (Weighing, StageChange, StoneNote)
            ],
        ]
        asked = Q()
        for one in touched:
            asked |= Q(one)
        return rows.filter(asked)

    def touched_from(self, rows: StoneQuerySet, name: str, value: date) -> StoneQuerySet:
        return rows.filter(touched_at__gte=_midnight(value))

    def touched_to(self, rows: StoneQuerySet, name: str, value: date) -> Any:
        return rows.filter(touched_at__lt=_midnight(value + timedelta(days=1))) if value < date.max else rows


def _midnight(day: date) -> datetime:
    """The beginning of a day on the shop's clock."""
    # East of Greenwich the calendar's first day begins before the first moment that UTC can name.
    return datetime.combine(max(day, FIRST_DAY), time.min, timezone.get_current_timezone())
