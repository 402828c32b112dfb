"""The shop, its hands, its numbers, its journal and its photographs."""

from __future__ import annotations

import zoneinfo
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from .fields import MoneyField, PercentField, WeightField

#: A journal line is about a code or a name for signing in; a deed led to an address.
ABOUT_LONGEST, LED_TO_LONGEST = 40, 300


class Role(models.TextChoices):
    """What a signed-in person may do."""

    OWNER = "owner", "Owner"
    HAND = "hand", "Hand"
    READER = "reader", "Reader"


class Hand(AbstractUser):
    """Somebody who signs in. Owners do everything; hands record time and weights and see no prices; readers look."""

    role = models.CharField(max_length=10, choices=Role, default=Role.HAND)
    hourly_rate = MoneyField(
        null=True, blank=True, help_text="Only where this hand's hour costs something else than the shop's."
    )

    class Meta:
        ordering = ["username"]
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="hand_role_known"),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def sees_money(self) -> bool:
        """Whether prices and costs are shown to this person."""
        return self.role in {Role.OWNER, Role.READER}

    @property
    def may_record(self) -> bool:
        """Whether this person may record time, weights and what happens at the bench."""
        return self.role in {Role.OWNER, Role.HAND}

    @property
    def runs_the_shop(self) -> bool:
        """Whether this person may buy, price, sell, issue papers and change the shop."""
        return self.role == Role.OWNER


def _known_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"“{name}” is not a time zone, such as Europe/Lisbon.")


class Shop(models.Model):
    """The one row that says whose workshop this is and how it likes its figures."""

    name = models.CharField(max_length=120)
    cutter = models.CharField(
        max_length=120, blank=True, help_text="The name that stands on cards as the cutter."
    )
    address = models.TextField(max_length=500, blank=True)
    email = models.EmailField(blank=True)
    website = models.URLField(blank=True)
    tax_number = models.CharField(max_length=40, blank=True)
    currency = models.CharField(max_length=3, default="EUR")
    zone = models.CharField(max_length=64, default="UTC", validators=[_known_zone])
    weight_unit = models.CharField(max_length=3, default="ct", choices=[("ct", "carats"), ("g", "grams")])
    rough_unit = models.CharField(max_length=3, default="g", choices=[("g", "grams"), ("ct", "carats")])
    hourly_rate = MoneyField(default=Decimal(0), validators=[MinValueValidator(0)])
    scale_step_ct = WeightField(
        default=Decimal("0.01"), help_text="The smallest step your scale shows, in carats (0.01 ct = 2 mg)."
    )
    base_url = models.URLField(
        blank=True, help_text="Where a buyer reaches the check pages, such as https://cards.example."
    )
    tax_percent = PercentField(default=Decimal(0), help_text="Offered when a sale is made; change it there.")
    paper_language = models.CharField(
        max_length=8,
        default="en",
        choices=settings.LANGUAGES,
        help_text="Of papers, unless told otherwise there.",
    )
    mark = models.ForeignKey(
        "common.Photo",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="The shop's own mark at the head of its papers.",
    )
    foot_words = models.CharField(
        max_length=240, blank=True, help_text="A line of your own at the foot of certificates and documents."
    )
    set_up_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="shop_is_one"),
            models.CheckConstraint(condition=models.Q(hourly_rate__gte=0), name="shop_rate_not_negative"),
            models.CheckConstraint(condition=models.Q(scale_step_ct__gt=0), name="shop_step_positive"),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def the(cls) -> Shop:
        """The shop; a fresh installation gets one with plain defaults."""
        shop = cls.objects.filter(pk=1).first()
        return (
            shop if shop is not None else cls.objects.get_or_create(pk=1, defaults={"name": "My workshop"})[0]
        )

    @property
    def tzinfo(self) -> zoneinfo.ZoneInfo:
        """The shop's zone, in which its days begin and end."""
        return zoneinfo.ZoneInfo(self.zone)

    def day_of(self, moment: datetime) -> Any:
        """The calendar day of a moment as the shop counts days."""
        return timezone.localtime(moment, self.tzinfo).date()


class Series(models.Model):
    """The last number given out in a run of human codes."""

    prefix = models.CharField(max_length=8, primary_key=True)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "series"

    def __str__(self) -> str:
        return f"{self.prefix}-{self.last:04d}"


class AppendOnly(models.Model):
    """A row that is written once. The database refuses changes too (see the triggers in the migrations)."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise ValidationError("This record is written once and never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        raise ValidationError("This record is written once and never deleted.")


class JournalEntry(AppendOnly):
    """One deed: who, when, what, before and after."""

    written_at = models.DateTimeField(auto_now_add=True)
    happened_at = models.DateTimeField()
    by = models.ForeignKey(Hand, null=True, on_delete=models.PROTECT, related_name="+")
    verb = models.CharField(max_length=60)
    about = models.CharField(max_length=ABOUT_LONGEST, db_index=True)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    reason = models.TextField(blank=True)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "journal"

    def __str__(self) -> str:
        return f"{self.about}: {self.verb}"


class DoneDeed(models.Model):
    """A one-time key that was used, and where its deed led."""

    key = models.CharField(max_length=64)
    by = models.ForeignKey(Hand, null=True, on_delete=models.CASCADE, related_name="+")
    led_to = models.CharField(max_length=LED_TO_LONGEST)
    at = models.DateTimeField(auto_now_add=True, db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["key", "by"], name="deed_done_once")]

    def __str__(self) -> str:
        return self.key


class Photo(models.Model):
    """A photograph as the shop keeps it: turned upright, re-encoded, without anything the camera noted."""

    sha256 = models.CharField(max_length=64, unique=True)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    byte_count = models.PositiveIntegerField()
    taken_at = models.DateTimeField()
    added_by = models.ForeignKey(Hand, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"photograph {self.pk}"
