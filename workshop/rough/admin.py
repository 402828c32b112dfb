"""Lots and what belongs to them, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import Draw, LotCost, LotDocument, LotLoss, LotPhoto, LotStatement, RoughLot, SortGroup


@admin.register(RoughLot)
class RoughLotAdmin(LookOnly):
    """Every lot."""

    list_display = ["code", "received_on", "sold_as", "seller", "weight_ct", "left_ct", "landed_cost"]
    list_select_related = ["seller"]
    search_fields = ["code", "sold_as", "seller__name"]
    list_filter = ["ownership", "came"]


class OfALot(LookOnly):
    """Rows that belong to a lot."""

    list_select_related = ["lot"]
    search_fields = ["lot__code"]


@admin.register(LotCost)
class LotCostAdmin(OfALot):
    """Every sum."""

    list_display = ["lot", "kind", "amount", "currency", "rate", "amount_home", "paid_on", "late"]


@admin.register(SortGroup)
class SortGroupAdmin(OfALot):
    """Every group."""

    list_display = ["lot", "name", "kind", "weight_ct", "left_ct", "cost_left"]


@admin.register(Draw, LotLoss, LotStatement, LotPhoto, LotDocument)
class RestAdmin(OfALot):
    """Pieces, losses, statements, photographs and papers."""
