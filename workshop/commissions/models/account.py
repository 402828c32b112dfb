"""A commission's account: what was charged and credited, what came in and went back. Rows are never changed."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models

from workshop.common.fields import MoneyField, PercentField
from workshop.common.models import AppendOnly

from .commission import Commission, CommissionItem

ZERO = Decimal(0)


class ChargeKind(models.TextChoices):
    """What was charged, or credited when the sum is negative."""

    WORK = "work", "work"
    EXTRA = "extra", "extra"
    STONE = "stone", "a stone of the shop's own"
    INSPECTION = "inspection", "inspection"
    CANCELLATION = "cancellation", "work done until it was cancelled"
    POST = "post", "post and insurance"
    CREDIT = "credit", "credit"
    BOUGHT = "bought", "client's stone bought by the shop"
    OFF_CUT = "off_cut", "off-cut kept as payment"
    TAKEN_BACK = "taken_back", "an earlier charge taken back"


class Charge(AppendOnly):
    """One sum the client owes, or (negative) is credited. A wrong one is taken back by another."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="charges")
    item = models.ForeignKey(
        CommissionItem, null=True, blank=True, on_delete=models.PROTECT, related_name="charges"
    )
    kind = models.CharField(max_length=12, choices=ChargeKind)
    words = models.CharField(max_length=200)
    on = models.DateField()
    net = MoneyField()
    tax_percent = PercentField(default=ZERO)
    tax = MoneyField(default=ZERO)
    gross = MoneyField()
    takes_back = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="taken_back_by"
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(gross=0), name="charge_is_something"),
            models.CheckConstraint(
                condition=models.Q(gross=models.F("net") + models.F("tax")),
                name="charge_net_and_tax_are_gross",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.commission.code} {self.words} {self.gross}"


class PaidAs(models.TextChoices):
    """What a payment was for."""

    DEPOSIT = "deposit", "deposit"
    BALANCE = "balance", "balance"
    REFUND = "refund", "refund"


class PaidBy(models.TextChoices):
    """How money came or went."""

    CASH = "cash", "cash"
    TRANSFER = "transfer", "bank transfer"
    CARD = "card", "card"
    OTHER = "other", "other"


class CommissionPayment(AppendOnly):
    """Money that came for a commission, or (negative) went back."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="payments")
    paid_as = models.CharField(max_length=8, choices=PaidAs)
    amount = MoneyField(help_text="Negative when money went back.")
    way = models.CharField(max_length=10, choices=PaidBy, default=PaidBy.TRANSFER)
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(paid_as=PaidAs.REFUND, amount__lt=0)
                | (~models.Q(paid_as=PaidAs.REFUND) & models.Q(amount__gt=0)),
                name="commissionpayment_sign_fits",
            )
        ]

    def __str__(self) -> str:
        return f"{self.commission.code} {self.amount}"
