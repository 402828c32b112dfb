"""One piece followed on its own: how far it has come, what it waits for, how it ended, what it carries."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import models
from django.urls import reverse

from workshop.common.fields import LengthField, MoneyField, WeightField
from workshop.materials.models import Material
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

    SPLIT = "split", "made into several"
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


class Work(models.TextChoices):
    """What is done to it. Only the hours of like work teach what the next such stone takes."""

    NEW = "new", "cut new"
    RECUT = "recut", "recut"
    REPOLISH = "repolish", "repolished"
    REPAIR = "repair", "repaired"


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
    work = models.CharField(max_length=8, choices=Work, default=Work.NEW)
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
    def shape_words(self) -> str:
        """The outline in words; what was typed freely stays as it is."""
        return self.shape.replace("cut_corner", "cut-corner").replace("_", " ")

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
