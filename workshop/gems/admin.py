"""Gems and their prices, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import FinishedGem, PriceChange


@admin.register(FinishedGem)
class FinishedGemAdmin(LookOnly):
    """Every gem."""

    list_display = ["code", "stone", "shape", "weight_ct", "finished_on", "ownership", "place", "gone_as"]
    list_select_related = ["stone"]
    search_fields = ["code", "stone__code", "colour", "cut"]
    list_filter = ["shape", "ownership", "place", "gone_as"]


@admin.register(PriceChange)
class PriceChangeAdmin(LookOnly):
    """Every price."""

    list_display = ["gem", "level", "amount", "set_on", "reason", "by"]
    list_select_related = ["gem", "by"]
    search_fields = ["gem__code"]
