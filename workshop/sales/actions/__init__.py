"""What people do in the sales room: sell, be paid, lower a price, take a sale back."""

from __future__ import annotations

from .selling import Asked, cancel_sale, lower_price, pay, sell

__all__ = ["Asked", "cancel_sale", "lower_price", "pay", "sell"]
