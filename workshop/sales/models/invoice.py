"""Invoices and credit notes of sales: which paper speaks of which line, and what of it still counts."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from workshop.common.fields import MoneyField
from workshop.papers.of_account import AccountPaper, account_constraints

from .sale import Sale, SaleLine

ZERO = Decimal(0)


class SaleInvoice(AccountPaper):
    """An invoice of a sale, or a credit note that takes something off it."""

    sale = models.ForeignKey(Sale, on_delete=models.PROTECT, related_name="invoices")
    stands = models.BooleanField(default=True, help_text="No longer where all of it was credited.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            *account_constraints("saleinvoice"),
            models.UniqueConstraint(
                fields=["sale"],
                condition=models.Q(stands=True, credits__isnull=True),
                name="sale_is_invoiced_once",
            ),
        ]


class SaleInvoiceLine(models.Model):
    """A line of a sale as an invoice says it; on a credit note, what is taken off that line."""

    invoice = models.ForeignKey(SaleInvoice, on_delete=models.PROTECT, related_name="lines")
    line = models.ForeignKey(SaleLine, on_delete=models.PROTECT, related_name="invoiced")
    words = models.CharField(max_length=300)
    quantity = models.CharField(max_length=60)
    net = MoneyField()
    tax = MoneyField()
    stands = models.BooleanField(default=True, help_text="Only a line of an invoice that still counts.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["line"], condition=models.Q(stands=True), name="saleline_is_invoiced_once"
            ),
            models.CheckConstraint(
                condition=models.Q(net__gte=0, tax__gte=0), name="saleinvoiceline_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.invoice}: {self.words}"
