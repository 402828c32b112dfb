"""Invoices and credit notes of a commission: which paper speaks of which charge, and what of it still counts."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from workshop.common.fields import MoneyField, PercentField
from workshop.papers.of_account import AccountPaper, account_constraints

from .account import Charge, CommissionPayment
from .commission import Commission

ZERO = Decimal(0)


class CommissionInvoice(AccountPaper):
    """An invoice of charges, one of a deposit (a payment on account), or a credit note that takes off one of them."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="invoices")
    payment = models.ForeignKey(
        CommissionPayment, null=True, blank=True, on_delete=models.PROTECT, related_name="invoices",
        help_text="The deposit it is about.",
    )  # fmt: skip
    tax_percent = PercentField(null=True, blank=True, help_text="Of a deposit; a charge bears its own.")
    deducted_in = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="deposits",
        help_text="The invoice this deposit was taken off.",
    )  # fmt: skip
    stands = models.BooleanField(default=True, help_text="No longer where all of it was credited.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            *account_constraints("commissioninvoice"),
            models.UniqueConstraint(
                fields=["payment"],
                condition=models.Q(stands=True, credits__isnull=True),
                name="deposit_is_invoiced_once",
            ),
            models.CheckConstraint(
                condition=models.Q(payment__isnull=True, tax_percent__isnull=True)
                | models.Q(payment__isnull=False, tax_percent__isnull=False),
                name="commissioninvoice_deposit_has_rate",
            ),
            models.CheckConstraint(
                condition=models.Q(deducted_in__isnull=True) | models.Q(payment__isnull=False),
                name="commissioninvoice_only_deposits_deducted",
            ),
        ]

    @property
    def is_deposit(self) -> bool:
        """Whether it is about a payment on account."""
        return self.payment_id is not None


class InvoicedCharge(models.Model):
    """A charge as a paper says it; sums as booked, so a credit stands below zero."""

    invoice = models.ForeignKey(CommissionInvoice, on_delete=models.PROTECT, related_name="lines")
    charge = models.ForeignKey(Charge, on_delete=models.PROTECT, related_name="invoiced")
    words = models.CharField(max_length=300)
    net = MoneyField()
    tax = MoneyField()
    stands = models.BooleanField(default=True, help_text="No longer where its paper was credited wholly.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["charge"], condition=models.Q(stands=True), name="charge_is_invoiced_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.invoice}: {self.words}"
