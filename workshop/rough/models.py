"""Rough lots, what they cost landed, how they were sorted, and the pieces drawn from them.

The law of weight for a lot: weight in = pieces drawn + losses by cause + what is left + the unexplained gap.
The law of money: landed cost = cost of the pieces drawn + cost left in the lot + cost written off.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.common.fields import FactorField, MoneyField, RateField, UnitPriceField, WeightField
from workshop.common.models import Photo
from workshop.materials.models import Material, Statement
from workshop.people.models import Belonging, Contact, Ownership, ownership_constraint

ZERO = Decimal(0)


class Origin(models.TextChoices):
    """How a lot came into the shop."""

    BOUGHT = "bought", "bought"
    FOUND = "found", "found or dug"
    LEFT = "left", "left by its owner"


class PriceBasis(models.TextChoices):
    """What the asked price was per."""

    LOT = "lot", "for the lot"
    PIECE = "piece", "per piece"
    GRAM = "g", "per gram"
    CARAT = "ct", "per carat"
    KILO = "kg", "per kilogram"


class Rule(models.TextChoices):
    """How a sorted lot's cost is shared among its groups; the same words as ``ShareRule`` in the handbook."""

    WEIGHT = "weight", "by weight"
    GRADE = "grade", "by grade × weight"
    VALUE = "value", "by estimated value"
    PIECE = "piece", "by piece"


class RoughLotQuerySet(models.QuerySet["RoughLot"]):
    """Named questions about lots."""

    def own(self) -> RoughLotQuerySet:
        """The shop's own lots."""
        return self.filter(ownership=Ownership.SHOP)

    def with_rough_left(self) -> RoughLotQuerySet:
        """Lots from which a piece can still be drawn."""
        return self.filter(left_ct__gt=0)

    def matching(self, words: str) -> RoughLotQuerySet:
        """Lots whose code, words, material, seller or owner hold every one of the words."""
        found = self
        for word in words.split():
            found = found.filter(
                models.Q(code__iexact=word)
                | models.Q(sold_as__icontains=word)
                | models.Q(material__species__icontains=word)
                | models.Q(material__variety__icontains=word)
                | models.Q(seller__name__icontains=word)
                | models.Q(seller__code__iexact=word)
                | models.Q(owner__name__icontains=word)
                | models.Q(owner__code__iexact=word)
            )
        return found

    def as_of(self, day: date) -> RoughLotQuerySet:
        """Lots the shop had taken in by the end of a day."""
        return self.filter(received_on__lte=day)


class RoughLot(Belonging):
    """A parcel of rough as it came in."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    came = models.CharField(max_length=8, choices=Origin, default=Origin.BOUGHT)
    seller = models.ForeignKey(
        Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="lots_sold"
    )
    received_on = models.DateField(db_index=True)
    sold_as = models.CharField(max_length=300, help_text="The seller's own words for the goods.")
    material = models.ForeignKey(
        Material, null=True, blank=True, on_delete=models.PROTECT, related_name="lots",
        help_text="What it is taken for; the statements say on what evidence.",
    )  # fmt: skip
    weight_ct = WeightField()
    entered_weight = models.CharField(max_length=40, help_text="The weight as it was typed, unit included.")
    pieces = models.PositiveIntegerField(null=True, blank=True)
    price_basis = models.CharField(max_length=6, choices=PriceBasis, blank=True)
    unit_price = UnitPriceField(null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True)
    rate = RateField(null=True, blank=True, help_text="Shop currency for one of the price's currency.")
    share_rule = models.CharField(max_length=8, choices=Rule, default=Rule.WEIGHT)
    sorted_on = models.DateField(null=True, blank=True)
    notes = models.TextField(max_length=4000, blank=True)

    # Kept by the actions so that lists and sums need no second look; the law tests hold them to the rows.
    landed_cost = MoneyField(default=ZERO)
    recoverable_tax = MoneyField(default=ZERO)
    left_ct = WeightField(default=ZERO)
    cost_left = MoneyField(default=ZERO)
    cost_written_off = MoneyField(default=ZERO)

    objects = RoughLotQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "-pk"]
        constraints = [
            ownership_constraint("lot"),
            models.CheckConstraint(condition=models.Q(weight_ct__gt=0), name="lot_weighs_something"),
            models.CheckConstraint(condition=models.Q(left_ct__gte=0), name="lot_left_not_negative"),
            models.CheckConstraint(
                condition=models.Q(ownership=Ownership.SHOP) | models.Q(landed_cost=0),
                name="lot_of_others_costs_nothing",
            ),
            models.CheckConstraint(
                condition=models.Q(pieces__isnull=True) | models.Q(pieces__gt=0), name="lot_counts_pieces"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.sold_as}"

    def get_absolute_url(self) -> str:
        return reverse("rough:lot", args=[self.code])

    @property
    def is_sorted(self) -> bool:
        """Whether its cost is shared over groups."""
        return self.sorted_on is not None

    @property
    def state_word(self) -> str:
        """How far it is used, in words."""
        if not self.left_ct:
            return "used up"
        return "sorted" if self.is_sorted else "to sort"

    @property
    def state_tone(self) -> str:
        """The sign its badge carries."""
        if not self.left_ct:
            return "quiet"
        return "done" if self.is_sorted else "rough"


class CostKind(models.TextChoices):
    """What a lot's money went on."""

    GOODS = "goods", "goods"
    FREIGHT = "freight", "freight"
    INSURANCE = "insurance", "insurance"
    FEE = "fee", "bank, card or wire fee"
    CLEARANCE = "clearance", "clearance"
    DUTY = "duty", "duty"
    TAX = "tax", "tax not recoverable"
    RECOVERABLE = "recoverable", "recoverable tax, kept apart"
    CREDIT = "credit", "seller's credit"
    OTHER = "other", "other"


class LotCost(models.Model):
    """One sum of money that belongs to a lot, in its own currency and in the shop's.

    Sums of one bill at one rate are converted together, so that the parts tie to what the bank took.
    """

    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="costs")
    kind = models.CharField(max_length=12, choices=CostKind)
    amount = MoneyField(help_text="In the currency of the bill; a credit is negative.")
    currency = models.CharField(max_length=3)
    rate = RateField(default=Decimal(1))
    amount_home = MoneyField(help_text="In the shop's currency.")
    paid_on = models.DateField()
    late = models.BooleanField(default=False, help_text="Came after the lot was taken in.")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(rate__gt=0), name="lotcost_rate_positive"),
            models.CheckConstraint(
                condition=models.Q(kind=CostKind.CREDIT, amount__lt=0)
                | models.Q(~models.Q(kind=CostKind.CREDIT), amount__gte=0),
                name="lotcost_sign_fits_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot.code} {self.get_kind_display()} {self.amount} {self.currency}"


class GroupKind(models.TextChoices):
    """What a sorted group is kept for."""

    FACET = "facet", "facet grade"
    CAB = "cab", "cab grade"
    CARVING = "carving", "carving"
    SPECIMEN = "specimen", "specimen"
    CULL = "cull", "cull"
    REJECT = "reject", "reject"


CULLS = (GroupKind.CULL, GroupKind.REJECT)


class SortGroup(models.Model):
    """A group a lot was sorted into, with its own bag."""

    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="groups")
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=10, choices=GroupKind, default=GroupKind.FACET)
    weight_ct = WeightField()
    pieces = models.PositiveIntegerField(null=True, blank=True)
    factor = FactorField(default=Decimal(1), help_text="What a carat of it bears, against a carat at 1.")
    value = MoneyField(default=ZERO, help_text="Estimated value of the group, for sharing by value.")
    notes = models.CharField(max_length=300, blank=True)
    left_ct = WeightField(default=ZERO)
    cost_left = MoneyField(default=ZERO)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["lot", "name"], name="group_named_once_in_lot"),
            models.CheckConstraint(condition=models.Q(weight_ct__gte=0), name="group_weight_not_negative"),
            models.CheckConstraint(condition=models.Q(left_ct__gte=0), name="group_left_not_negative"),
            models.CheckConstraint(condition=models.Q(factor__gte=0), name="group_factor_not_negative"),
            models.CheckConstraint(condition=models.Q(value__gte=0), name="group_value_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.lot.code} {self.name}"

    @property
    def is_cull(self) -> bool:
        """Whether it bears no cost."""
        return self.kind in CULLS


class LotLossCause(models.TextChoices):
    """Why weight left a lot without being drawn as a piece."""

    TRIMMED = "trimmed", "trimmed or cobbed away"
    CULLED = "culled", "culled and thrown out"
    RETURNED = "returned", "returned to the seller"
    OWNER = "owner", "given back to its owner"
    SOLD = "sold", "sold as rough"
    LOST = "lost", "lost"


class LotLoss(models.Model):
    """Weight that left a lot, its cause, and whether its cost stays on the survivors or is written off."""

    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="losses")
    group = models.ForeignKey(
        SortGroup, null=True, blank=True, on_delete=models.PROTECT, related_name="losses"
    )
    weight_ct = WeightField()
    pieces = models.PositiveIntegerField(default=1)
    cause = models.CharField(max_length=10, choices=LotLossCause)
    written_off = models.BooleanField(default=False, help_text="Its cost becomes a loss, not the survivors'.")
    cost = MoneyField(default=ZERO)
    on = models.DateField()
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "lot losses"
        constraints = [
            models.CheckConstraint(condition=models.Q(weight_ct__gt=0), name="lotloss_weighs_something")
        ]

    def __str__(self) -> str:
        return f"{self.lot.code} {self.get_cause_display()} {self.weight_ct} ct"


class Draw(models.Model):
    """A piece taken from a lot or a group to be followed on its own; the stone points here."""

    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="draws")
    group = models.ForeignKey(
        SortGroup, null=True, blank=True, on_delete=models.PROTECT, related_name="draws"
    )
    weight_ct = WeightField()
    drawn_on = models.DateField()
    bears_cost = models.BooleanField(
        default=True, help_text="False once the piece broke and its cost was laid on the survivors."
    )
    cost = MoneyField(default=ZERO)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(weight_ct__gt=0), name="draw_weighs_something")
        ]

    def __str__(self) -> str:
        return f"{self.lot.code} piece of {self.weight_ct} ct"


class LotStatement(Statement):
    """What was said about a lot."""

    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="statements")

    class Meta:
        ordering = ["pk"]


class LotPhoto(models.Model):
    """A photograph of a lot."""

    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    caption = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["lot", "photo"], name="lot_photo_once")]

    def __str__(self) -> str:
        return self.caption or f"{self.lot.code} photograph"


class LotDocument(models.Model):
    """A paper that came with a lot: an invoice, a mine's note, a customs form; kept as a file, never rendered."""

    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="documents")
    title = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    byte_count = models.PositiveIntegerField()
    media_type = models.CharField(max_length=60)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.title
