"""What the sales room keeps: sales with their gems and payments."""

from __future__ import annotations

from .sale import BY_HAND, Channel, Payment, PaymentWay, Sale, SaleLine, SaleQuerySet

__all__ = ["BY_HAND", "Channel", "Payment", "PaymentWay", "Sale", "SaleLine", "SaleQuerySet"]
