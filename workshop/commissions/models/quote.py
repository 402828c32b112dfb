"""Quotes: numbered versions of a promise. One that was sent never changes; a new one takes its place."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.urls import reverse

from workshop.common.fields import LengthField, MoneyField, PercentField, WeightField
from workshop.papers.models import Paper
from workshop.planning.models import CutPlan

from .commission import Commission, CommissionItem
from .tariff import Tariff

ZERO = Decimal(0)


class QuoteState(models.TextChoices):
    """What became of a version."""

    DRAFT = "draft", "draft"
    SENT = "sent", "sent"
    ACCEPTED = "accepted", "accepted"
    DECLINED = "declined", "declined"
    SUPERSEDED = "superseded", "superseded"
    WITHDRAWN = "withdrawn", "withdrawn"


class QuoteQuerySet(models.QuerySet["Quote"]):
    """Named questions about quotes."""

    def open_on(self, day: date) -> QuoteQuerySet:
        """Sent versions the client may still accept on a day."""
        return self.filter(state=QuoteState.SENT, valid_until__gte=day)

    def expired_on(self, day: date) -> QuoteQuerySet:
        """Sent versions whose time is over."""
        return self.filter(state=QuoteState.SENT, valid_until__lt=day)


class Quote(models.Model):
    """One version. While it is a draft its figures may change; from the sending on they stand."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="quotes")
    version = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=10, choices=QuoteState, default=QuoteState.DRAFT)
    tariff = models.ForeignKey(
        Tariff, null=True, blank=True, on_delete=models.SET_NULL, related_name="quotes"
    )
    currency = models.CharField(max_length=3)
    tax_percent = PercentField(default=ZERO)
    tax_included = models.BooleanField(default=True)
    firm = models.BooleanField(
        default=False, help_text="A firm price instead of a range that follows the weight."
    )
    valid_until = models.DateField(null=True, blank=True)
    expected_week = models.DateField(null=True, blank=True, help_text="Monday of the week it is expected in.")
    queue_place = models.PositiveSmallIntegerField(null=True, blank=True)
    deposit = MoneyField(default=ZERO)
    deposit_refundable = models.BooleanField(default=False)
    terms = models.TextField(max_length=6000, blank=True)
    risk_lines = models.JSONField(
        default=list, blank=True, help_text="The risk topics put before the client."
    )
    note = models.TextField(max_length=2000, blank=True, help_text="A word to the client, printed.")
    why = models.CharField(max_length=300, blank=True, help_text="Why this version follows the one before.")
    rates = models.JSONField(
        default=list, blank=True, help_text="The lines of the tariff as they were when it was quoted."
    )
    # Sums of the lines, tax in: what the client would pay.
    price_low = MoneyField(default=ZERO)
    price = MoneyField(default=ZERO)
    price_high = MoneyField(default=ZERO)
    sent_at = models.DateTimeField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_name = models.CharField(max_length=160, blank=True, help_text="As the client typed it.")
    answered_words = models.TextField(
        max_length=2000, blank=True, help_text="The client's own words, if any."
    )
    agreed_wording = models.TextField(blank=True, help_text="The words the client agreed to, as shown.")
    answered_from = models.CharField(
        max_length=60, blank=True, help_text="Client's page, or told to the cutter."
    )
    paper = models.ForeignKey(Paper, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    made_at = models.DateTimeField()

    objects = QuoteQuerySet.as_manager()

    class Meta:
        ordering = ["commission", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["commission", "version"], name="quote_version_once"),
            models.UniqueConstraint(
                fields=["commission"], condition=models.Q(state="sent"), name="quote_one_open_version"
            ),
            models.UniqueConstraint(
                fields=["commission"], condition=models.Q(state="accepted"), name="quote_one_accepted_version"
            ),
            models.UniqueConstraint(
                fields=["commission"], condition=models.Q(state="draft"), name="quote_one_draft"
            ),
            models.CheckConstraint(
                condition=models.Q(price_low__lte=models.F("price"), price__lte=models.F("price_high")),
                name="quote_prices_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(deposit__gte=0, deposit__lte=models.F("price_high")),
                name="quote_deposit_within_price",
            ),
            models.CheckConstraint(
                condition=models.Q(state="draft")
                | models.Q(sent_at__isnull=False, valid_until__isnull=False),
                name="quote_sent_has_a_time",
            ),
            models.CheckConstraint(
                condition=~models.Q(state__in=["accepted", "declined"]) | models.Q(answered_at__isnull=False),
                name="quote_answer_has_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.commission.code}, version {self.version}"

    def get_absolute_url(self) -> str:
        return reverse("commissions:quote", args=[self.commission.code, self.version])

    def delete(self, *args: object, **kwargs: object) -> tuple[int, dict[str, int]]:
        if not self.is_draft:
            raise ValidationError("A quote that was sent is never deleted; withdraw it.")
        return super().delete(*args, **kwargs)  # type: ignore[arg-type]

    @property
    def is_draft(self) -> bool:
        """Whether its figures may still change."""
        return self.state == QuoteState.DRAFT

    def is_open_on(self, day: date) -> bool:
        """Whether the client may accept it on that day."""
        return self.state == QuoteState.SENT and self.valid_until is not None and day <= self.valid_until

    def state_on(self, day: date) -> str:
        """Where it stands on a day, in words."""
        if self.state == QuoteState.SENT and not self.is_open_on(day):
            return "expired"
        return self.get_state_display()


class QuoteLine(models.Model):
    """One piece in one version: what it rests on, what it may become, and what that costs and earns.

    Prices hold the tax where the quote says so. Costs and what an hour earns are for the cutter alone.
    """

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(CommissionItem, on_delete=models.PROTECT, related_name="quote_lines")
    plan = models.ForeignKey(CutPlan, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    what = models.CharField(max_length=300, help_text="What will be done, in words for the client.")
    # What it rests on.
    rough_ct = WeightField(
        null=True, blank=True, help_text="The piece as it lies here; for a recut the stone."
    )
    rough_pieces = models.PositiveSmallIntegerField(default=1)
    gems = models.PositiveSmallIntegerField(default=1)
    facets = models.PositiveSmallIntegerField(null=True, blank=True)
    flawed = models.BooleanField(default=False)
    extras = models.JSONField(default=list, blank=True, help_text="Keys of ``Extra`` that apply.")
    # What it may become, each gem.
    weight_low_ct = WeightField(null=True, blank=True)
    weight_ct = WeightField(null=True, blank=True)
    weight_high_ct = WeightField(null=True, blank=True)
    length_low_mm = LengthField(null=True, blank=True)
    length_high_mm = LengthField(null=True, blank=True)
    width_low_mm = LengthField(null=True, blank=True)
    width_high_mm = LengthField(null=True, blank=True)
    floor_ct = WeightField(null=True, blank=True)
    seconds_low = models.PositiveIntegerField(default=0)
    seconds = models.PositiveIntegerField(default=0, help_text="All hours, bench and off-bench.")
    seconds_high = models.PositiveIntegerField(default=0)
    # What the client pays.
    price_low = MoneyField(default=ZERO)
    price = MoneyField(default=ZERO)
    price_high = MoneyField(default=ZERO)
    basis = models.JSONField(
        default=list, blank=True, help_text="The steps of the tariff for the middle case."
    )
    typed = models.JSONField(
        default=dict,
        blank=True,
        help_text="Figures typed over what was worked out, by the name of the column.",
    )
    overridden = models.BooleanField(default=False)
    override_reason = models.CharField(max_length=300, blank=True)
    # For the cutter alone.
    hourly_rate = MoneyField(default=ZERO)
    material_cost = MoneyField(default=ZERO, help_text="Rough of the shop's own, wear, laboratory, post.")
    cost_low = MoneyField(default=ZERO)
    cost = MoneyField(default=ZERO)
    cost_high = MoneyField(default=ZERO)
    chance_percent = PercentField(
        null=True, blank=True, help_text="That the price covers the hours and costs."
    )
    earned_low = MoneyField(null=True, blank=True, help_text="By the hour, if it takes the fewest hours.")
    earned = MoneyField(null=True, blank=True)
    earned_high = MoneyField(null=True, blank=True, help_text="By the hour, if it takes the most hours.")
    own_stones = models.PositiveIntegerField(default=0)
    share_percent = PercentField(default=Decimal(80))

    class Meta:
        ordering = ["quote", "item__number"]
        constraints = [
            models.UniqueConstraint(fields=["quote", "item"], name="quote_piece_once"),
            models.CheckConstraint(
                condition=models.Q(
                    price_low__gte=0, price_low__lte=models.F("price"), price__lte=models.F("price_high")
                ),
                name="quoteline_prices_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(weight_ct__isnull=True)
                | models.Q(
                    weight_low_ct__gt=0,
                    weight_low_ct__lte=models.F("weight_ct"),
                    weight_ct__lte=models.F("weight_high_ct"),
                ),
                name="quoteline_weights_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    seconds_low__lte=models.F("seconds"), seconds__lte=models.F("seconds_high")
                ),
                name="quoteline_hours_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(floor_ct__isnull=True)
                | models.Q(weight_high_ct__isnull=True)
                | models.Q(floor_ct__lte=models.F("weight_high_ct")),
                name="quoteline_floor_below_its_range",
            ),
            models.CheckConstraint(
                condition=models.Q(overridden=False) | ~models.Q(override_reason=""),
                name="quoteline_override_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quote}, piece {self.item.number}"

    def save(self, *args: object, **kwargs: object) -> None:
        if not self.quote.is_draft:
            raise ValidationError("A quote that was sent never changes; make a new version.")
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    def delete(self, *args: object, **kwargs: object) -> tuple[int, dict[str, int]]:
        if not self.quote.is_draft:
            raise ValidationError("A quote that was sent never changes; make a new version.")
        return super().delete(*args, **kwargs)  # type: ignore[arg-type]
