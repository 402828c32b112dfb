"""Cut plans: the shape, size, weight and hours decided on for a piece, with the figures as they stood that day."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.common.fields import (
    FactorField,
    LengthField,
    MoneyField,
    PercentField,
    UnitPriceField,
    WeightField,
)
from workshop.handbook.outlines import LABELS
from workshop.rough.models import RoughLot
from workshop.stones.models import Stone


class CutStyle(models.TextChoices):
    """How the facets are laid; the keys are those of the handbook's solids."""

    BRILLIANT = "brilliant", "brilliant"
    STEP = "step", "step"
    MIXED = "mixed", "brilliant crown, step pavilion"


class CutPlanQuerySet(models.QuerySet["CutPlan"]):
    """Named questions about cut plans."""

    def standing(self) -> CutPlanQuerySet:
        """Plans no later one has taken the place of."""
        return self.filter(superseded_at__isnull=True)

    def matching(self, words: str) -> CutPlanQuerySet:
        """Plans about which every word is said: in code, stone, lot, outline or material."""
        found = self
        for word in words.split():
            found = found.filter(
                models.Q(code__iexact=word)
                | models.Q(stone__code__iexact=word)
                | models.Q(lot__code__iexact=word)
                | models.Q(outline__icontains=word)
                | models.Q(material_name__icontains=word)
            )
        return found


class CutPlan(models.Model):
    """What a piece is to become. A changed mind is a new plan; the old one stays as it was, superseded."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    stone = models.ForeignKey(
        Stone, null=True, blank=True, on_delete=models.PROTECT, related_name="cut_plans"
    )
    lot = models.ForeignKey(
        RoughLot, null=True, blank=True, on_delete=models.PROTECT, related_name="cut_plans",
        help_text="For a piece that still lies in its lot and is known by its measures only.",
    )  # fmt: skip
    material_name = models.CharField(max_length=200, blank=True)
    specific_gravity = FactorField()
    refractive_index = FactorField()

    outline = models.CharField(max_length=24, choices=list(LABELS.items()))
    sides = models.PositiveSmallIntegerField(default=8, help_text="Of a regular polygon.")
    style = models.CharField(max_length=10, choices=CutStyle)
    keel = models.BooleanField(default=False)
    crown_angle_deg = PercentField()
    pavilion_angle_deg = PercentField(help_text="Of the steepest mains, or of the tier at the culet.")
    least_pavilion_deg = PercentField(help_text="Of the flattest mains: where it windows first.")
    table_percent = PercentField()
    girdle_percent = PercentField()
    facets = models.PositiveSmallIntegerField()
    length_mm = LengthField()
    width_mm = LengthField()
    depth_mm = LengthField()

    rough = models.JSONField(help_text="The piece as it was described: calipers, shape, flats, losses, skin.")
    lay = models.JSONField(help_text="How the stone lies in it: rotation and position.")
    rough_ct = WeightField()
    bound_ct = WeightField(help_text="The largest stone of this cut that the described piece can hold.")
    weight_low_ct = WeightField()
    weight_ct = WeightField(help_text="As many such stones end above as below.")
    weight_high_ct = WeightField()
    seconds_low = models.PositiveIntegerField()
    seconds = models.PositiveIntegerField(help_text="Hours at the bench; off-bench time comes on top.")
    seconds_high = models.PositiveIntegerField()
    off_bench_percent = PercentField(default=Decimal(0))
    share_percent = PercentField(help_text="How many of such stones end inside the ranges.")
    own_stones = models.PositiveIntegerField(
        default=0, help_text="Finished stones the ranges had learned from."
    )
    window_tilt_deg = PercentField(null=True, blank=True, help_text="Nothing: at no tilt.")
    window_percent = PercentField(default=Decimal(0), help_text="Of the face that windows without any tilt.")

    # As they stood when it was chosen; nothing where whoever chose it sees no prices.
    currency = models.CharField(max_length=3, blank=True)
    hourly_rate = MoneyField(null=True, blank=True)
    asked_per_ct = UnitPriceField(null=True, blank=True)
    cost_before = MoneyField(null=True, blank=True, help_text="Rough, and what was spent on it until then.")
    cost = MoneyField(null=True, blank=True)
    price = MoneyField(null=True, blank=True)
    earned_per_hour = MoneyField(null=True, blank=True)

    chosen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    chosen_at = models.DateTimeField(db_index=True)
    superseded_at = models.DateTimeField(null=True, blank=True)

    objects = CutPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(stone__isnull=False, lot__isnull=True)
                | models.Q(stone__isnull=True, lot__isnull=False),
                name="cutplan_of_a_stone_or_of_a_piece",
            ),
            models.UniqueConstraint(
                fields=["stone"],
                condition=models.Q(superseded_at__isnull=True),
                name="cutplan_one_standing_per_stone",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    weight_low_ct__gt=0,
                    weight_ct__gte=models.F("weight_low_ct"),
                    weight_high_ct__gte=models.F("weight_ct"),
                    rough_ct__gte=models.F("weight_high_ct"),
                ),
                name="cutplan_weights_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    seconds_low__gt=0,
                    seconds__gte=models.F("seconds_low"),
                    seconds_high__gte=models.F("seconds"),
                ),
                name="cutplan_hours_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(length_mm__gt=0, width_mm__gt=0, depth_mm__gt=0), name="cutplan_has_size"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.words}"

    def get_absolute_url(self) -> str:
        return reverse("planning:plan", args=[self.code])

    @property
    def subject(self) -> Stone | RoughLot:
        """The stone, or the lot the piece lies in."""
        piece = self.stone or self.lot
        assert piece is not None
        return piece

    @property
    def words(self) -> str:
        """The plan in one line, as it stands on the stone."""
        size = f"{self.length_mm} × {self.width_mm} × {self.depth_mm} mm"
        weights = f"{self.weight_low_ct:.2f}–{self.weight_high_ct:.2f} ct"
        return f"{self.get_outline_display()}, {self.get_style_display()}, about {size}, {weights}"

    @property
    def recovery_percent(self) -> Decimal:
        """Expected weight in per cent of the piece."""
        return 100 * self.weight_ct / self.rough_ct

    @property
    def stands(self) -> bool:
        """Whether no later plan took its place."""
        return self.superseded_at is None

    @property
    def state_word(self) -> str:
        """Whether it stands, in words."""
        return "stands" if self.stands else "superseded"

    @property
    def state_tone(self) -> str:
        """The sign its badge carries."""
        return "done" if self.stands else "quiet"
