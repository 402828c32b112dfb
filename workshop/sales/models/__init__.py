"""What the sales room keeps: sales with their gems and payments, the invoices about them, and recalls."""

from __future__ import annotations

from .invoice import SaleInvoice, SaleInvoiceLine
from .recall import Choice, EntryKind, EntryQuerySet, EntryState, Recall, RecallEntry, RecallQuerySet
from .sale import BY_HAND, Channel, LineKind, Payment, PaymentWay, Sale, SaleLine, SaleQuerySet

__all__ = [
    "BY_HAND", "Channel", "Choice", "EntryKind", "EntryQuerySet", "EntryState", "LineKind", "Payment", "PaymentWay",
    "Recall", "RecallEntry", "RecallQuerySet", "Sale", "SaleInvoice", "SaleInvoiceLine", "SaleLine", "SaleQuerySet",
]  # fmt: skip
