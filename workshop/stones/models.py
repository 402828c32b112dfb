"""Stones in progress: one piece followed on its own, from the rough to off the dop.

The law of weight for a stone: weight it started with = what it weighs now + losses by cause; and for a stone sawn
or broken into several: its last weight = its children as they began + kerf, chips and lost + the unexplained gap.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.common.fields import LengthField, MoneyField, WeightField
from workshop.common.models import Photo
from workshop.materials.models import Material, Statement
from workshop.people.models import Belonging, Ownership, ownership_constraint
from workshop.rough.models import Draw, RoughLot

ZERO = Decimal(0)


class Stage(models.TextChoices):
    """How far a stone has come. The first side may be crown or pavilion: cutters differ."""

    SELECTED = "selected", "selected"
    SAWN = "sawn", "sawn"
    PREFORMED = "preformed", "preformed"
    FIRST_CUT = "first_cut", "first side cut"
    FIRST_POLISHED = "first_polished", "first side polished"
    TRANSFERRED = "transferred", "transferred"
    SECOND_CUT = "second_cut", "second side cut"
    SECOND_POLISHED = "second_polished", "second side polished"
    OFF_DOP = "off_dop", "off the dop"
    FINISHED = "finished", "finished"


STAGES = list(Stage)
#: Between these a stone sits on its dop, and a weight would weigh dop and wax too.
ON_THE_DOP = (
    Stage.FIRST_CUT, Stage.FIRST_POLISHED, Stage.TRANSFERRED, Stage.SECOND_CUT, Stage.SECOND_POLISHED,
)  # fmt: skip


class Ending(models.TextChoices):
    """How a stone's way ended before it was finished."""

    SPLIT = "split", "made several of"
    BROKEN = "broken", "broken in work"
    LOST = "lost", "lost"
    SCRAPPED = "scrapped", "scrapped"
    UNWORKED = "unworked", "returned unworked"
    PUT_BY = "put_by", "put by"


#: A lost stone may be found and one put by may be taken up again; the other endings are final.
REOPENABLE = (Ending.LOST, Ending.PUT_BY)


class Wait(models.TextChoices):
    """What a stone waits for, where it stands."""

    GLUE = "glue", "glue"
    CLIENT = "client", "client"
    LAP = "lap", "lap"
    OTHER = "other", "other"


class Side(models.TextChoices):
    """The side that is cut first."""

    PAVILION = "pavilion", "pavilion first"
    CROWN = "crown", "crown first"


class StoneQuerySet(models.QuerySet["Stone"]):
    """Named questions about stones."""

    def own(self) -> StoneQuerySet:
        """The shop's own stones."""
        return self.filter(ownership=Ownership.SHOP)

    def on_the_bench(self) -> StoneQuerySet:
        """Stones somebody could work on: neither finished nor ended."""
        return self.filter(ending="").exclude(stage=Stage.FINISHED)

    def waiting(self) -> StoneQuerySet:
        """Stones on the bench that wait for something."""
        return self.on_the_bench().exclude(waiting_for="")

    def idle_since(self, moment: datetime) -> StoneQuerySet:
        """Stones on the bench nobody has touched since a moment."""
        return self.on_the_bench().filter(touched_at__lt=moment)

    def bearing_leaves(self) -> StoneQuerySet:
        """Stones that carry cost of their own: all but those made into several."""
        return self.exclude(ending=Ending.SPLIT)

    def matching(self, words: str) -> StoneQuerySet:
        """Stones whose code, plan, notes or material holds the words."""
        return self.filter(
            models.Q(code__iexact=words)
            | models.Q(plan__icontains=words)
            | models.Q(material__species__icontains=words)
            | models.Q(material__variety__icontains=words)
        )


class Stone(Belonging):
    """One piece followed on its own."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="stones")
    draw = models.ForeignKey(Draw, on_delete=models.PROTECT, related_name="stones")
    parent = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="children"
    )
    material = models.ForeignKey(
        Material, null=True, blank=True, on_delete=models.PROTECT, related_name="stones"
    )
    plan = models.CharField(max_length=200, blank=True, help_text="What it is to become: shape, cut, size.")
    shape = models.CharField(max_length=24, blank=True)
    first_side = models.CharField(max_length=8, choices=Side, default=Side.PAVILION)
    stage = models.CharField(max_length=16, choices=Stage, default=Stage.SELECTED)
    waiting_for = models.CharField(max_length=8, choices=Wait, blank=True)
    waiting_note = models.CharField(max_length=200, blank=True)
    waiting_since = models.DateTimeField(null=True, blank=True)
    stop_note = models.CharField(
        max_length=300, blank=True, help_text="Where to go on: row 3, index 24 left."
    )
    ending = models.CharField(max_length=10, choices=Ending, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=300, blank=True)
    rework = models.BooleanField(default=False, help_text="It went back a stage; hours now count as rework.")
    drawn_at = models.DateTimeField()
    touched_at = models.DateTimeField(db_index=True)
    length_mm = LengthField(null=True, blank=True)
    width_mm = LengthField(null=True, blank=True)
    depth_mm = LengthField(null=True, blank=True)

    start_ct = WeightField(help_text="As drawn, or as it came from its parent.")
    weight_ct = WeightField(help_text="By the last weighing that counts.")
    gap_ct = WeightField(default=ZERO, help_text="Unexplained when it was made into several.")

    bears_cost = models.BooleanField(default=True)
    rough_cost = MoneyField(default=ZERO, help_text="Its share of the lot's landed cost.")
    cost_fixed = models.BooleanField(default=False, help_text="Sold: its share does not change any more.")
    cost_difference = MoneyField(default=ZERO, help_text="What a later bill or credit would have changed.")
    other_cost = MoneyField(default=ZERO, help_text="Wear and what was paid for this stone alone.")
    wear_cost = MoneyField(default=ZERO)
    bench_seconds = models.PositiveIntegerField(default=0)
    off_bench_seconds = models.PositiveIntegerField(default=0)
    bench_labour = MoneyField(default=ZERO)
    off_bench_labour = MoneyField(default=ZERO)
    treatment_asked_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="A recut opened the treatment question; older answers need confirming.",
    )

    objects = StoneQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["ending", "stage"]), models.Index(fields=["lot", "ending"])]
        constraints = [
            ownership_constraint("stone"),
            models.CheckConstraint(condition=models.Q(start_ct__gt=0), name="stone_started_with_weight"),
            models.CheckConstraint(
                condition=models.Q(weight_ct__gte=0, weight_ct__lte=models.F("start_ct")),
                name="stone_never_gains_weight",
            ),
            models.CheckConstraint(
                condition=models.Q(ending="", ended_at__isnull=True)
                | models.Q(~models.Q(ending=""), ended_at__isnull=False),
                name="stone_ending_has_a_time",
            ),
            models.CheckConstraint(
                condition=models.Q(waiting_for="") | models.Q(waiting_since__isnull=False),
                name="stone_waits_since",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("stones:stone", args=[self.code])

    @property
    def is_open(self) -> bool:
        """Whether it can still be worked on."""
        return not self.ending and self.stage != Stage.FINISHED

    @property
    def on_dop(self) -> bool:
        """Whether a weight taken now would weigh the dop too."""
        return self.stage in ON_THE_DOP

    @property
    def labour(self) -> Decimal:
        """The cost of all hours so far."""
        return self.bench_labour + self.off_bench_labour

    @property
    def cost_to_date(self) -> Decimal:
        """Rough, hours, wear and what was paid for it alone."""
        return self.rough_cost + self.labour + self.wear_cost + self.other_cost

    @property
    def state_tone(self) -> str:
        """The sign a badge of its state carries beside the words."""
        if self.ending:
            return "quiet" if self.ending in {Ending.SPLIT, Ending.PUT_BY, Ending.UNWORKED} else "gone"
        if self.waiting_for:
            return "wait"
        return "done" if self.stage == Stage.FINISHED else "work"

    @property
    def state_word(self) -> str:
        """Where it stands, in the trade's words."""
        if self.ending:
            return self.get_ending_display()
        if self.waiting_for:
            return f"{self.get_stage_display()}, waiting for {self.get_waiting_for_display()}"
        return self.get_stage_display()


class LossCause(models.TextChoices):
    """Where weight went."""

    SWARF = "swarf", "swarf"
    KERF = "kerf", "kerf"
    CHIPS = "chips", "chips"
    TRIM = "trim", "trimmed skin"
    CULLED = "culled", "culled"
    RETURNED = "returned", "returned"
    LOST = "lost", "lost"


class Weighing(models.Model):
    """A reading of the scale, loose and clean. A correction is a new row that names the one it corrects."""

    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="weighings")
    weight_ct = WeightField()
    entered = models.CharField(max_length=40, help_text="As typed, unit included.")
    stage = models.CharField(max_length=16, choices=Stage)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    cause = models.CharField(max_length=10, choices=LossCause, default=LossCause.SWARF)
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    reason = models.CharField(max_length=300, blank=True)
    order = models.PositiveIntegerField(
        help_text="Place in the stone's run of weighings; a correction keeps it."
    )
    counts = models.BooleanField(default=True, help_text="False once it was corrected.")

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(weight_ct__gt=0), name="weighing_weighs_something"),
            models.UniqueConstraint(
                fields=["stone", "order"],
                condition=models.Q(counts=True),
                name="weighing_one_counts_per_place",
            ),
            models.CheckConstraint(
                condition=models.Q(corrects__isnull=True) | ~models.Q(reason=""),
                name="weighing_correction_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stone.code} {self.weight_ct} ct"


class Loss(models.Model):
    """Weight a stone lost between two weighings, by cause; kept in step with the weighings that count."""

    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="losses")
    weighing = models.ForeignKey(
        Weighing, null=True, blank=True, on_delete=models.CASCADE, related_name="losses"
    )
    weight_ct = WeightField()
    cause = models.CharField(max_length=10, choices=LossCause)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        verbose_name_plural = "losses"
        constraints = [
            models.CheckConstraint(condition=models.Q(weight_ct__gt=0), name="loss_weighs_something")
        ]

    def __str__(self) -> str:
        return f"{self.stone.code} lost {self.weight_ct} ct ({self.get_cause_display()})"


class StageChange(models.Model):
    """A step on or back, and why it went back."""

    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="stage_changes")
    old = models.CharField(max_length=16, choices=Stage)
    new = models.CharField(max_length=16, choices=Stage)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)
    went_back = models.BooleanField(default=False)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(went_back=False) | ~models.Q(reason=""), name="stage_back_has_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.stone.code} {self.old} → {self.new}"


class NoteKind(models.TextChoices):
    """What sort of note it is."""

    NOTE = "note", "note"
    STOP = "stop", "where I stopped"
    TROUBLE = "trouble", "trouble"
    COLOUR = "colour", "colour seen"
    ON_DOP = "on_dop", "weight read on the dop"


class StoneNote(models.Model):
    """A note. A colour or a weight noted on the dop stays a note and never becomes a fact of the stone."""

    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="notes")
    kind = models.CharField(max_length=8, choices=NoteKind, default=NoteKind.NOTE)
    text = models.TextField(max_length=2000)
    stage = models.CharField(max_length=16, choices=Stage)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.stone.code} {self.get_kind_display()}"


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
        return self.filter(doubtful=True, counts=True)

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
            models.Index(
                fields=["hand"], name="time_running", condition=models.Q(ended_at__isnull=True, counts=True)
            ),
            models.Index(
                fields=["hand"], name="time_doubtful", condition=models.Q(doubtful=True, counts=True)
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


class ExtraKind(models.TextChoices):
    """What was paid or worn for one stone alone."""

    WEAR = "wear", "wear of laps and polish"
    LABORATORY = "laboratory", "laboratory"
    MATERIAL = "material", "material"
    POST = "post", "post"
    OTHER = "other", "other"


class StoneExtra(models.Model):
    """A cost of one stone besides rough and hours."""

    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="extras")
    kind = models.CharField(max_length=12, choices=ExtraKind)
    amount = MoneyField()
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["on", "pk"]

    def __str__(self) -> str:
        return f"{self.stone.code} {self.get_kind_display()} {self.amount}"


class StoneStatement(Statement):
    """What was said about one stone, beyond what was said about its lot."""

    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="statements")

    class Meta:
        ordering = ["pk"]


class StonePhoto(models.Model):
    """A photograph of a stone, at the stage it was taken."""

    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    stage = models.CharField(max_length=16, choices=Stage)
    caption = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.UniqueConstraint(fields=["stone", "photo"], name="stone_photo_once")]

    def __str__(self) -> str:
        return self.caption or f"{self.stone.code} photograph"
