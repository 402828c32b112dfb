"""What people do in the sales room: sell, be paid, lower a price, take a sale back, invoice and credit."""

from __future__ import annotations

from .invoices import credit_difference, credit_whole, invoice_of, issue_invoice, to_credit
from .selling import Asked, cancel_sale, lower_price, pay, sell

__all__ = [
    "Asked", "cancel_sale", "credit_difference", "credit_whole", "invoice_of", "issue_invoice", "lower_price", "pay",
    "sell", "to_credit",
]  # fmt: skip
