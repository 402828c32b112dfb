"""What the shop charges: tariffs by date, each any mix of lines."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.db import models
from django.urls import reverse

from workshop.common.fields import FactorField, MoneyField, PercentField, WeightField

ZERO = Decimal(0)


class LineKind(models.TextChoices):
    """What one line of a tariff charges for; the same words as ``RateKind`` in the handbook."""

    BASE = "base", "base up to a weight, then per carat above it"
    CARAT = "carat", "per carat"
    PIECE = "piece", "per gem"
    ROUGH = "rough", "per piece of rough"
    HOUR = "hour", "per hour"
    FACETS = "facets", "factor by number of facets"
    SPECIES = "species", "factor by species"
    MINIMUM = "minimum", "least for one gem"
    PERCENT = "percent", "percentage on top"
    EXTRA = "extra", "fixed extra, where it applies"


class Extra(models.TextChoices):
    """The extras a tariff may set a price for, each charged only where it applies."""

    TRIM = "trim", "trimming the rough"
    RUSH = "rush", "rush"
    SECOND = "second", "second stone from the same rough"
    PAIR = "pair", "matching a pair"
    LABORATORY = "laboratory", "laboratory"
    POST = "post", "post and insurance"
    SOURCING = "sourcing", "finding the rough"
    INSPECTION = "inspection", "inspection, returned unworked"
    OTHER = "other", "other"


class WeighedAs(models.TextChoices):
    """Which weight a line goes by."""

    FINISHED = "finished", "finished weight"
    ROUGH = "rough", "weight of the rough"


class TariffQuerySet(models.QuerySet["Tariff"]):
    """Named questions about tariffs."""

    def valid_on(self, day: date) -> TariffQuerySet:
        """Tariffs a quote of that day may go by, newest first."""
        return (
            self.filter(from_on__lte=day)
            .filter(models.Q(until_on__isnull=True) | models.Q(until_on__gte=day))
            .order_by("-from_on", "-pk")
        )


class Tariff(models.Model):
    """A price list of the shop from a day on. What was quoted by it keeps its own figures."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    name = models.CharField(max_length=120)
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True, help_text="Nothing: until further notice.")
    currency = models.CharField(max_length=3)
    tax_percent = PercentField(default=ZERO)
    tax_included = models.BooleanField(default=True, help_text="Whether the sums of the lines hold the tax.")
    deposit_percent = PercentField(default=Decimal(50))
    deposit_refundable = models.BooleanField(default=False)
    valid_days = models.PositiveSmallIntegerField(default=14, help_text="How long a quote by it stands.")
    terms = models.TextField(
        max_length=6000, blank=True, help_text="Your own terms; have them checked against your local law."
    )
    notes = models.TextField(max_length=2000, blank=True)

    objects = TariffQuerySet.as_manager()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(until_on__isnull=True) | models.Q(until_on__gte=models.F("from_on")),
                name="tariff_days_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(tax_percent__gte=0, deposit_percent__gte=0, deposit_percent__lte=100),
                name="tariff_percentages_make_sense",
            ),
            models.CheckConstraint(condition=models.Q(valid_days__gte=1), name="tariff_quote_valid_a_day"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("commissions:tariff", args=[self.code])

    def is_valid_on(self, day: date) -> bool:
        """Whether a quote of that day may go by it."""
        return self.from_on <= day and (self.until_on is None or day <= self.until_on)


class TariffLine(models.Model):
    """One line of a tariff. Which columns count follows from its kind."""

    tariff = models.ForeignKey(Tariff, on_delete=models.CASCADE, related_name="lines")
    kind = models.CharField(max_length=8, choices=LineKind)
    label = models.CharField(max_length=120, blank=True)
    amount = MoneyField(null=True, blank=True, help_text="Of the base, per unit, of the extra, the least.")
    step_amount = MoneyField(null=True, blank=True, help_text="Base only: for each further carat.")
    started = models.BooleanField(default=False, help_text="Charge each started carat as a whole one.")
    weighed_as = models.CharField(max_length=8, choices=WeighedAs, default=WeighedAs.FINISHED)
    from_ct = WeightField(null=True, blank=True, help_text="Per carat only: above this weight.")
    to_ct = WeightField(null=True, blank=True, help_text="Up to this weight.")
    from_facets = models.PositiveIntegerField(null=True, blank=True)
    to_facets = models.PositiveIntegerField(null=True, blank=True)
    species = models.CharField(max_length=80, blank=True, help_text="Species or variety the factor is for.")
    factor = FactorField(null=True, blank=True)
    percent = PercentField(null=True, blank=True)
    extra = models.CharField(max_length=12, choices=Extra, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(amount__isnull=True) | models.Q(amount__gte=0),
                name="tariffline_amount_not_negative",
            ),
            models.CheckConstraint(
                condition=models.Q(factor__isnull=True) | models.Q(factor__gt=0),
                name="tariffline_factor_positive",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind=LineKind.EXTRA) | ~models.Q(extra=""), name="tariffline_extra_named"
            ),
        ]

    def __str__(self) -> str:
        return self.label or self.get_kind_display()
