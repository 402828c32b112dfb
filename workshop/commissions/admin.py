"""Commissions and what belongs to them, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from . import models


@admin.register(models.Commission)
class CommissionAdmin(LookOnly):
    """Every commission with its account."""

    list_display = ["code", "client", "state", "asked_on", "due_on", "charged", "paid", "refunded", "balance"]
    list_select_related = ["client"]
    list_filter = ["state"]
    search_fields = ["code", "client__name"]


@admin.register(models.CommissionItem)
class CommissionItemAdmin(LookOnly):
    """Every piece of a commission."""

    list_display = ["commission", "number", "work", "wanted", "floor_ct", "outcome", "outcome_on"]
    list_select_related = ["commission"]
    list_filter = ["work", "outcome"]
    search_fields = ["commission__code", "wanted"]


@admin.register(models.ItemStone)
class ItemStoneAdmin(LookOnly):
    """Every stone that stands or stood for a piece."""

    list_display = ["item", "stone", "since", "until", "why"]
    list_select_related = ["item__commission", "stone"]
    search_fields = ["item__commission__code", "stone__code"]


@admin.register(models.Quote)
class QuoteAdmin(LookOnly):
    """Every version of a quote."""

    list_display = [
        "commission",
        "version",
        "state",
        "price_low",
        "price",
        "price_high",
        "sent_at",
        "valid_until",
    ]
    list_select_related = ["commission"]
    list_filter = ["state"]
    search_fields = ["commission__code"]


@admin.register(models.QuoteLine)
class QuoteLineAdmin(LookOnly):
    """Every line of a quote."""

    list_display = ["quote", "item", "what", "price_low", "price", "price_high", "overridden"]
    list_select_related = ["quote__commission", "item__commission"]
    search_fields = ["quote__commission__code"]


@admin.register(models.Tariff)
class TariffAdmin(LookOnly):
    """Every tariff."""

    list_display = ["code", "name", "from_on", "until_on", "currency", "tax_percent"]
    search_fields = ["code", "name"]


@admin.register(models.TariffLine)
class TariffLineAdmin(LookOnly):
    """Every line of a tariff."""

    list_display = ["tariff", "kind", "label", "amount", "factor", "percent"]
    list_select_related = ["tariff"]
    list_filter = ["kind"]


@admin.register(models.Intake)
class IntakeAdmin(LookOnly):
    """Every taking-in of a client's goods."""

    list_display = ["code", "commission", "received_at", "handed_by", "signed_at"]
    list_select_related = ["commission"]
    search_fields = ["code", "commission__code"]


@admin.register(models.IntakePiece)
class IntakePieceAdmin(LookOnly):
    """Every piece taken in."""

    list_display = ["intake", "lot", "item", "stated_to_be", "weight_ct"]
    list_select_related = ["intake", "lot", "item__commission"]
    search_fields = ["intake__code", "lot__code"]


@admin.register(models.StopAsk)
class StopAskAdmin(LookOnly):
    """Every question put to a client."""

    list_display = ["item", "why", "asked_at", "answer", "answered_at", "withdrawn_at"]
    list_select_related = ["item__commission"]
    list_filter = ["why"]


@admin.register(models.Message)
class MessageAdmin(LookOnly):
    """Every message."""

    list_display = ["commission", "moment", "subject", "state", "made_at", "sent_at"]
    list_select_related = ["commission"]
    list_filter = ["state", "moment"]
    search_fields = ["commission__code"]


@admin.register(models.Charge)
class ChargeAdmin(LookOnly):
    """Every charge and credit."""

    list_display = ["commission", "on", "kind", "words", "net", "tax", "gross"]
    list_select_related = ["commission"]
    list_filter = ["kind"]
    search_fields = ["commission__code"]


@admin.register(models.CommissionPayment)
class CommissionPaymentAdmin(LookOnly):
    """Every payment of a commission."""

    list_display = ["commission", "on", "paid_as", "amount", "way"]
    list_select_related = ["commission"]
    search_fields = ["commission__code"]


@admin.register(models.Delivery)
class DeliveryAdmin(LookOnly):
    """Everything handed over or posted."""

    list_display = ["code", "commission", "on", "how", "arrived_on"]
    list_select_related = ["commission"]
    search_fields = ["code", "commission__code"]


@admin.register(models.ClientLink, models.CalendarLink)
class LinkAdmin(LookOnly):
    """Private links; their keys stay out of sight."""

    exclude = ["key"]
    list_display = ["__str__", "made_at", "withdrawn_at"]


@admin.register(models.BenchHours)
class BenchHoursAdmin(LookOnly):
    """Hours of the bench a week."""

    list_display = ["from_on", "hours", "one_week", "note"]


@admin.register(models.CommissionPhoto)
class CommissionPhotoAdmin(LookOnly):
    """Photographs of commissions, and which are shared."""

    list_display = ["commission", "caption", "at", "shared_at"]
    list_select_related = ["commission"]


@admin.register(models.IntakePhoto)
class IntakePhotoAdmin(LookOnly):
    """Photographs of goods as they came in."""

    list_display = ["piece", "view"]
    list_select_related = ["piece__intake", "piece__lot"]


@admin.register(models.Mark)
class MarkAdmin(LookOnly):
    """Faults pointed at on a photograph."""

    list_display = ["photo", "words", "x_percent", "y_percent"]
    list_select_related = ["photo__piece__intake", "photo__piece__lot"]
