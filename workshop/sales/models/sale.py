"""Sales of finished gems: what was asked, taxed, paid and earned."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.commissions.models import Charge, Commission
from workshop.common.fields import MoneyField, PercentField
from workshop.gems.models import FinishedGem
from workshop.people.models import Contact

ZERO = Decimal(0)


class Channel(models.TextChoices):
    """Where the sale was made."""

    WORKSHOP = "workshop", "at the workshop"
    FAIR = "fair", "at a fair"
    ONLINE = "online", "online"
    MAIL = "mail", "by mail or message"
    TRADE = "trade", "to the trade"
    OTHER = "other", "other"


class SaleQuerySet(models.QuerySet["Sale"]):
    """Named questions about sales."""

    def standing(self) -> SaleQuerySet:
        """Sales that were not taken back."""
        return self.filter(cancelled_on__isnull=True)

    def unpaid(self) -> SaleQuerySet:
        """Standing sales with something still owed."""
        return self.standing().filter(paid__lt=models.F("gross"))

    def matching(self, words: str) -> SaleQuerySet:
        """Sales of which every word is said: in code, buyer, notes, or the code of a gem in them."""
        found = self
        for word in words.split():
            # Not joins: a sale of three gems is still one row, and its sums count once; and the few buyers and
            # lines that answer are found once, not looked for again at every sale.
            buyers = Contact.objects.filter(models.Q(name__icontains=word) | models.Q(firm__icontains=word))
            lines = SaleLine.objects.filter(gem__code__iexact=word)
            found = found.filter(
                models.Q(code__iexact=word)
                | models.Q(buyer__in=buyers.order_by().values("pk"))
                | models.Q(notes__icontains=word)
                | models.Q(pk__in=lines.order_by().values("sale"))
            )
        return found


class Sale(models.Model):
    """One sale to one buyer."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    buyer = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="bought")
    sold_on = models.DateField(db_index=True)
    channel = models.CharField(max_length=10, choices=Channel, default=Channel.WORKSHOP)
    currency = models.CharField(max_length=3)
    tax_percent = PercentField(default=ZERO)
    tax_included = models.BooleanField(default=True, help_text="Whether the prices typed hold the tax.")
    fees = MoneyField(default=ZERO, help_text="Channel, card and payment fees you bear.")
    notes = models.TextField(max_length=2000, blank=True)
    net = MoneyField(default=ZERO)
    tax = MoneyField(default=ZERO)
    gross = MoneyField(default=ZERO)
    paid = MoneyField(default=ZERO)
    cost = MoneyField(default=ZERO, help_text="What its gems had cost in all.")
    commission = models.ForeignKey(
        Commission, null=True, blank=True, on_delete=models.PROTECT, related_name="sales",
        help_text="The commission whose account carries the sum.",
    )  # fmt: skip
    cancelled_on = models.DateField(null=True, blank=True)
    cancelled_why = models.CharField(max_length=300, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = SaleQuerySet.as_manager()

    class Meta:
        ordering = ["-sold_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(gross=models.F("net") + models.F("tax")), name="sale_net_and_tax_are_gross"
            ),
            models.CheckConstraint(condition=models.Q(fees__gte=0), name="sale_fees_not_negative"),
            models.CheckConstraint(
                condition=models.Q(cancelled_on__isnull=True) | ~models.Q(cancelled_why=""),
                name="sale_cancelled_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("sales:sale", args=[self.code])

    @property
    def owed(self) -> Decimal:
        """What the buyer still owes; for a sale taken back nothing."""
        return ZERO if self.cancelled_on else self.gross - self.paid

    @property
    def state_word(self) -> str:
        """Where it stands, in words."""
        if self.cancelled_on:
            return "taken back"
        if self.commission_id is not None:
            return "on a commission"
        return "not paid in full" if self.owed else "paid"

    @property
    def state_tone(self) -> str:
        """The sign a badge of its state carries beside the words."""
        if self.cancelled_on:
            return "gone"
        return "wait" if self.owed else "sold"

    @property
    def margin(self) -> Decimal:
        """Net price less fees and all that its gems had cost."""
        return self.net - self.fees - self.cost


class LineKind(models.TextChoices):
    """What a line of a sale asks money for."""

    SOLD = "sold", "sold"
    COMPENSATION = "compensation", "owed for a stone lost while lent"
    REPAIR = "repair", "work on a stone damaged while lent"


class SaleLine(models.Model):
    """One gem in a sale, with the figures it was sold at. What it cost is copied: it does not change any more."""

    sale = models.ForeignKey(Sale, on_delete=models.PROTECT, related_name="lines")
    gem = models.ForeignKey(FinishedGem, on_delete=models.PROTECT, related_name="sale_lines")
    kind = models.CharField(max_length=12, choices=LineKind, default=LineKind.SOLD)
    price = MoneyField(help_text="As typed, with or without tax as the sale says.")
    own_tax_percent = PercentField(
        null=True, blank=True, help_text="Where its rate is another than the sale's."
    )
    net = MoneyField()
    tax = MoneyField()
    fees = MoneyField(default=ZERO, help_text="This gem's part of the sale's fees.")
    material = MoneyField(default=ZERO)
    bench_labour = MoneyField(default=ZERO)
    off_bench_labour = MoneyField(default=ZERO)
    wear = MoneyField(default=ZERO)
    other = MoneyField(default=ZERO)
    bench_seconds = models.PositiveIntegerField(default=0)
    off_bench_seconds = models.PositiveIntegerField(default=0)
    stands = models.BooleanField(default=True)
    charge = models.OneToOneField(
        Charge, null=True, blank=True, on_delete=models.PROTECT, related_name="sale_line",
        help_text="What stands for it on the commission's account.",
    )  # fmt: skip

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["gem"], condition=models.Q(stands=True), name="gem_is_sold_once"),
            models.CheckConstraint(condition=models.Q(price__gte=0), name="saleline_price_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.sale.code} {self.gem.code}"

    @property
    def rate(self) -> Decimal:
        """The tax rate it bears, in per cent."""
        return self.sale.tax_percent if self.own_tax_percent is None else self.own_tax_percent

    @property
    def cost(self) -> Decimal:
        """All that the gem had cost when it was sold."""
        return self.material + self.bench_labour + self.off_bench_labour + self.wear + self.other


class PaymentWay(models.TextChoices):
    """How money came."""

    CASH = "cash", "cash"
    TRANSFER = "transfer", "bank transfer"
    CARD = "card", "card"
    OTHER = "other", "other"
    COMMISSION = "commission", "on the commission's account"


#: What may be picked: a sum stands on a commission's account by the sale itself, never by hand.
BY_HAND = [(way.value, way.label) for way in PaymentWay if way is not PaymentWay.COMMISSION]


class Payment(models.Model):
    """Money that came for a sale, or went back."""

    sale = models.ForeignKey(Sale, on_delete=models.PROTECT, related_name="payments")
    amount = MoneyField(help_text="Negative when money went back.")
    way = models.CharField(max_length=10, choices=PaymentWay, default=PaymentWay.TRANSFER)
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["on", "pk"]
        constraints = [models.CheckConstraint(condition=~models.Q(amount=0), name="payment_is_something")]

    def __str__(self) -> str:
        return f"{self.sale.code} {self.amount}"
