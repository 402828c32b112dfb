"""What the sales room keeps: sales with their gems and payments, the invoices about them, memos, holds and recalls."""

from __future__ import annotations

from .invoice import SaleInvoice, SaleInvoiceLine
from .memo import LENT, STANDING, Direction, Hold, LineState, Memo, MemoLine, MemoQuerySet
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
    "BY_HAND", "LENT", "PEOPLE", "STANDING", "Channel", "Choice", "Direction", "EntryKind", "EntryQuerySet",
    "EntryState", "Hold", "LineKind", "LineState", "Memo", "MemoLine", "MemoQuerySet", "Payment", "PaymentWay",
    "Recall", "RecallEntry", "RecallQuerySet", "Sale", "SaleInvoice", "SaleInvoiceLine", "SaleLine", "SaleQuerySet",
    "still_to_do",
]  # fmt: skip
