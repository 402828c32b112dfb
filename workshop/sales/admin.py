"""Sales and what belongs to them, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import Payment, Recall, RecallEntry, Sale, SaleLine


@admin.register(Sale)
class SaleAdmin(LookOnly):
    """Every sale."""

    list_display = ["code", "sold_on", "buyer", "net", "tax", "gross", "paid", "cancelled_on"]
    list_select_related = ["buyer"]
    search_fields = ["code", "buyer__name"]
    list_filter = ["channel"]


@admin.register(SaleLine)
class SaleLineAdmin(LookOnly):
    """Every gem in a sale."""

    list_display = ["sale", "gem", "price", "net", "tax", "fees", "stands"]
    list_select_related = ["sale", "gem"]
    search_fields = ["sale__code", "gem__code"]


@admin.register(Payment)
class PaymentAdmin(LookOnly):
    """Every payment."""

    list_display = ["sale", "amount", "way", "on", "note"]
    list_select_related = ["sale"]
    search_fields = ["sale__code"]


@admin.register(Recall)
class RecallAdmin(LookOnly):
    """Every recall."""

    list_display = ["code", "question", "answer", "evidence", "said_on", "lot", "opened_at", "closed_on"]
    list_select_related = ["lot"]
    search_fields = ["code", "lot__code"]
    list_filter = ["question"]


@admin.register(RecallEntry)
class RecallEntryAdmin(LookOnly):
    """Every thing and person a recall touches."""

    list_display = ["recall", "kind", "code", "touched", "contact", "state", "told_on", "choice"]
    list_select_related = ["recall", "contact"]
    search_fields = ["recall__code", "code"]
    list_filter = ["kind", "state"]
