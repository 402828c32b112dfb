"""The questions one may ask of the list of plans."""

from __future__ import annotations

import django_filters as filters

from workshop.handbook.outlines import LABELS

from .models import CutPlan, CutPlanQuerySet, CutStyle

STATES = [("stands", "standing"), ("old", "superseded")]


class PlanFilter(filters.FilterSet):
    """Words, outline, style, and whether the plan stands."""

    words = filters.CharFilter(label="Words or code", method="with_words", max_length=80)
    outline = filters.ChoiceFilter(label="Outline", choices=list(LABELS.items()), empty_label="any")
    style = filters.ChoiceFilter(label="Style", choices=CutStyle, empty_label="any")
    state = filters.ChoiceFilter(label="State", choices=STATES, method="in_state", empty_label="all")

    class Meta:
        model = CutPlan
        fields: list[str] = []

    def with_words(self, rows: CutPlanQuerySet, name: str, value: str) -> CutPlanQuerySet:
        return rows.matching(value)

    def in_state(self, rows: CutPlanQuerySet, name: str, value: str) -> CutPlanQuerySet:
        return rows.filter(superseded_at__isnull=value == "stands")
