"""The clock: stretches of one hand's time, each stone's part of them, and the roll-up by day."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import models

from workshop.common.fields import MoneyField
from workshop.rough.models import RoughLot

from .stone import Stone


class Activity(models.TextChoices):
    """What an hour went on. The bench runs from the preform to the last polish; the rest is off-bench time."""

    SORT = "sort", "sort"
    PLAN = "plan", "plan"
    SAW = "saw", "saw"
    PREFORM = "preform", "preform"
    CUT_PAVILION = "cut_pavilion", "cut pavilion"
    POLISH_PAVILION = "polish_pavilion", "polish pavilion"
    TRANSFER = "transfer", "dop or transfer"
    CUT_CROWN = "cut_crown", "cut crown"
    POLISH_CROWN = "polish_crown", "polish crown"
    CLEAN = "clean", "clean and measure"
    PHOTOGRAPH = "photograph", "photographs"
    PAPERS = "papers", "papers"
    CLIENT = "client", "messages and client"
    SELL = "sell", "list, pack and post"
    MACHINE = "machine", "machine care"
    OTHER = "other", "other"


BENCH_ACTIVITIES = (
    Activity.SAW, Activity.PREFORM, Activity.CUT_PAVILION, Activity.POLISH_PAVILION, Activity.TRANSFER,
    Activity.CUT_CROWN, Activity.POLISH_CROWN,
)  # fmt: skip


class BenchTimeQuerySet(models.QuerySet["BenchTime"]):
    """Named questions about times."""

    def running(self) -> BenchTimeQuerySet:
        """Clocks that run now."""
        return self.filter(ended_at__isnull=True, counts=True)

    def doubtful(self) -> BenchTimeQuerySet:
        """Times somebody should look at: over four hours or over midnight."""
        # A handful among a million, found by their own small index in a query apart: asked for by hand or in the
        # order of time, SQLite would walk all times instead.
        few = BenchTime.objects.order_by().filter(doubtful=True, counts=True).values_list("pk", flat=True)
        return self.filter(pk__in=list(few))

    def overlapping(self, hand_id: int, start: datetime, end: datetime | None) -> BenchTimeQuerySet:
        """Times of one hand that share a moment with start–end; an open end reaches for ever."""
        found = self.filter(hand_id=hand_id, counts=True).filter(
            models.Q(ended_at__isnull=True) | models.Q(ended_at__gt=start)
        )
        return found if end is None else found.filter(started_at__lt=end)


class BenchTime(models.Model):
    """A stretch of one hand's time: for one stone, for several at once, for a lot, or for the shop."""

    hand = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="times")
    activity = models.CharField(max_length=16, choices=Activity)
    lot = models.ForeignKey(RoughLot, null=True, blank=True, on_delete=models.PROTECT, related_name="times")
    started_at = models.DateTimeField(db_index=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    rate = MoneyField(help_text="What an hour of this hand cost then.")
    on_bench = models.BooleanField()
    rework = models.BooleanField(default=False)
    doubtful = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    reason = models.CharField(max_length=300, blank=True)
    counts = models.BooleanField(default=True, help_text="False once it was corrected or struck out.")
    struck_why = models.CharField(max_length=300, blank=True)

    objects = BenchTimeQuerySet.as_manager()

    class Meta:
        ordering = ["-started_at", "-pk"]
        indexes = [
            models.Index(fields=["hand", "started_at"]),
            # Both are a handful of rows among a million: the whole question is answered from the index.
            models.Index(
                fields=["-started_at"],
                name="time_running",
                condition=models.Q(ended_at__isnull=True, counts=True),
            ),
            models.Index(
                fields=["-started_at"], name="time_doubtful", condition=models.Q(doubtful=True, counts=True)
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["hand"],
                condition=models.Q(ended_at__isnull=True, counts=True),
                name="hand_has_one_clock_running",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at__isnull=True) | models.Q(ended_at__gt=models.F("started_at")),
                name="time_runs_forwards",
            ),
            models.CheckConstraint(
                condition=models.Q(corrects__isnull=True) | ~models.Q(reason=""),
                name="time_correction_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hand} {self.get_activity_display()} {self.started_at:%Y-%m-%d %H:%M}"

    @property
    def seconds(self) -> int | None:
        """Its length, once it ended."""
        return None if self.ended_at is None else int((self.ended_at - self.started_at).total_seconds())


class TimeShare(models.Model):
    """One stone's part of a stretch of time; the parts of a stretch add up to it to the second."""

    time = models.ForeignKey(BenchTime, on_delete=models.CASCADE, related_name="shares")
    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="time_shares")
    seconds = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["time", "stone"], name="time_shared_once_per_stone")]

    def __str__(self) -> str:
        return f"{self.stone.code} {self.seconds} s"


class DayHours(models.Model):
    """Roll-up of counted times: one row a day, hand, activity and kind. Reports read this, never all times."""

    day = models.DateField()
    hand = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    activity = models.CharField(max_length=16, choices=Activity)
    on_bench = models.BooleanField()
    rework = models.BooleanField()
    on_stones = models.BooleanField(help_text="Given to stones; otherwise to a lot or the shop.")
    seconds = models.PositiveBigIntegerField(default=0)

    class Meta:
        ordering = ["-day"]
        constraints = [
            models.UniqueConstraint(
                fields=["day", "hand", "activity", "on_bench", "rework", "on_stones"], name="day_hours_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.activity} {self.seconds} s"
