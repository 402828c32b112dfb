"""What the sales room keeps: sales with their gems and payments, the invoices about them, and recalls."""

from __future__ import annotations

from .invoice import SaleInvoice, SaleInvoiceLine
from .recall import (
    PEOPLE,
    Choice,
    EntryKind,
    EntryQuerySet,
    EntryState,
    Recall,
    RecallEntry,
    RecallQuerySet,
    still_to_do,
)
from .sale import BY_HAND, Channel, LineKind, Payment, PaymentWay, Sale, SaleLine, SaleQuerySet

__all__ = [
    "BY_HAND", "PEOPLE", "Channel", "Choice", "EntryKind", "EntryQuerySet", "EntryState", "LineKind", "Payment",
    "PaymentWay", "Recall", "RecallEntry", "RecallQuerySet", "Sale", "SaleInvoice", "SaleInvoiceLine",
    "SaleLine", "SaleQuerySet", "still_to_do",
]  # fmt: skip
