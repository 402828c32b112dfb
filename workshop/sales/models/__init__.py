"""What the sales room keeps: sales with their gems and payments, and the invoices about them."""

from __future__ import annotations

from .invoice import SaleInvoice, SaleInvoiceLine
from .sale import BY_HAND, Channel, LineKind, Payment, PaymentWay, Sale, SaleLine, SaleQuerySet

__all__ = [
    "BY_HAND", "Channel", "LineKind", "Payment", "PaymentWay", "Sale", "SaleInvoice", "SaleInvoiceLine", "SaleLine",
    "SaleQuerySet",
]  # fmt: skip
