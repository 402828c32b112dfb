"""The row that ties an invoice or a credit note to what it is about; each room that sells has its own table."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from workshop.common.fields import MoneyField

from .models import Paper

ZERO = Decimal(0)


class AccountPaper(models.Model):
    """An invoice, or a credit note that takes a sum off one. All sums are zero or more.

    Directive 2006/112/EC, Art. 219: what amends an invoice and refers to it, specifically and unambiguously, is
    treated as an invoice.
    """

    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="+")
    credits = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="credit_notes",
        help_text="The invoice a credit note takes its sum off.",
    )  # fmt: skip
    issued_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    net = MoneyField()
    tax = MoneyField()
    gross = MoneyField()
    credited = MoneyField(default=ZERO, help_text="Taken off this invoice by credit notes, tax in.")
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.paper.number

    @property
    def is_invoice(self) -> bool:
        """Whether it asks for money; a credit note gives some up."""
        return self.credits_id is None  # type: ignore[attr-defined]  # of a key in an abstract row

    @property
    def left(self) -> Decimal:
        """What of it still counts, tax in."""
        return self.gross - self.credited

    @property
    def number_and_day(self) -> str:
        """How a credit note names it."""
        return f"{self.paper.number} of {self.issued_on.isoformat()}"


def account_constraints(room: str) -> list[models.BaseConstraint]:
    """What the database holds every row to, whatever the deed."""
    q = models.Q
    return [
        models.CheckConstraint(
            condition=q(gross=models.F("net") + models.F("tax")), name=f"{room}_net_and_tax_are_gross"
        ),
        models.CheckConstraint(
            condition=q(credited__gte=0, credited__lte=models.F("gross")), name=f"{room}_not_overcredited"
        ),
        models.CheckConstraint(
            condition=q(credits__isnull=True) | (~q(reason="") & q(credited=0)),
            name=f"{room}_credit_has_reason",
        ),
    ]
