"""The questions one may ask of the list of commissions."""

from __future__ import annotations

from datetime import date
from typing import Any

import django_filters as filters
from django import forms
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpRequest

from workshop.common.models import Hand
from workshop.people.models import Contact

from .looks import week_of
from .models import Commission, CommissionItem, CommissionQuerySet, State, WorkKind

STANDING, ASKED, UNPAID = "standing", "asked", "unpaid"
STATES = [(STANDING, "not closed"), *State.choices, (ASKED, "a question is open")]


def _clients(request: HttpRequest | None) -> QuerySet[Contact]:
    return Contact.objects.filter(Exists(Commission.objects.filter(client=OuterRef("pk"))))


class CommissionFilter(filters.FilterSet):
    """Words, client, state, kind of work, the promised week; whether it is paid, for those who see money."""

    words = filters.CharFilter(label="Words or code", method="with_words", max_length=80)
    client = filters.ModelChoiceFilter(
        label="Client", queryset=_clients, to_field_name="code", empty_label="anybody"
    )
    state = filters.ChoiceFilter(label="State", choices=STATES, method="in_state", empty_label="any")
    work = filters.ChoiceFilter(label="Kind of work", choices=WorkKind, method="of_kind", empty_label="any")
    week = filters.DateFilter(
        label="Due in the week of", method="due_in", widget=forms.DateInput(attrs={"type": "date"})
    )
    account = filters.ChoiceFilter(
        label="Account", choices=[(UNPAID, "something is owed")], method="with_account", empty_label="any"
    )

    class Meta:
        model = Commission
        fields: list[str] = []

    def __init__(self, *args: Any, by: Hand, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not by.sees_money:
            del self.filters["account"]

    def with_words(self, rows: CommissionQuerySet, name: str, value: str) -> CommissionQuerySet:
        return rows.matching(value)

    def in_state(self, rows: CommissionQuerySet, name: str, value: str) -> CommissionQuerySet:
        if value == STANDING:
            return rows.standing()
        return rows.standing().with_open_questions() if value == ASKED else rows.filter(state=value)

    def of_kind(self, rows: CommissionQuerySet, name: str, value: str) -> CommissionQuerySet:
        # Not a join: a commission of three such pieces is still one row, and its sums count once.
        pieces = CommissionItem.objects.filter(work=value)
        return rows.filter(pk__in=pieces.order_by().values("commission"))

    def due_in(self, rows: CommissionQuerySet, name: str, value: date) -> CommissionQuerySet:
        return rows.filter(due_on=week_of(value))

    def with_account(self, rows: CommissionQuerySet, name: str, value: str) -> CommissionQuerySet:
        return rows.unpaid()
