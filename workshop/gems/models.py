"""Finished gems: measured, described, priced, and where each one is tonight."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.common.fields import LengthField, MoneyField, PercentField, WeightField
from workshop.handbook.weights import recovery_percent
from workshop.people.models import Belonging, Ownership, Place, ownership_constraint
from workshop.stones.models import Stone, StonePhoto


class Shape(models.TextChoices):
    """Girdle outlines, by their trade names; the keys are those of the handbook's outlines."""

    ROUND = "round", "round"
    OVAL = "oval", "oval"
    CUSHION = "cushion", "cushion"
    PEAR = "pear", "pear"
    MARQUISE = "marquise", "marquise"
    RECTANGLE = "rectangle", "rectangle"
    CUT_CORNER = "cut_corner_rectangle", "cut-corner rectangle"
    SQUARE = "square", "square"
    TRIANGLE = "triangle", "triangle"
    KITE = "kite", "kite"
    SHIELD = "shield", "shield"
    HEART = "heart", "heart"
    POLYGON = "polygon", "polygon"


class Gone(models.TextChoices):
    """How a gem left the shop's books."""

    SOLD = "sold", "sold"
    DELIVERED = "delivered", "delivered to its owner"
    GIVEN = "given", "given away"
    KEPT = "kept", "taken for own use"
    LOST = "lost", "lost"
    RECUT = "recut", "back for work"


class FinishedGemQuerySet(models.QuerySet["FinishedGem"]):
    """Named questions about gems."""

    def here(self) -> FinishedGemQuerySet:
        """Gems that have not left the books."""
        return self.filter(gone_on__isnull=True)

    def in_stock(self) -> FinishedGemQuerySet:
        """The shop's own gems that have not left the books: what may be sold."""
        return self.here().filter(ownership=Ownership.SHOP)

    def away(self) -> FinishedGemQuerySet:
        """Gems on the books that lie in somebody else's hands."""
        return self.here().exclude(place__in=[Place.SAFE, Place.BENCH])

    def gone(self) -> FinishedGemQuerySet:
        """Gems that left the books, those back for work aside: they are stones again."""
        return self.filter(gone_on__isnull=False).exclude(gone_as=Gone.RECUT)

    def as_of(self, day: date) -> FinishedGemQuerySet:
        """Gems that were on the books at the end of a day."""
        return self.filter(finished_on__lte=day).filter(
            models.Q(gone_on__isnull=True) | models.Q(gone_on__gt=day)
        )

    def matching(self, words: str) -> FinishedGemQuerySet:
        """Gems about which every word is said: in code, stone, shape, cut, colour or material."""
        found = self
        for word in words.split():
            found = found.filter(
                models.Q(code__iexact=word)
                | models.Q(stone__code__iexact=word)
                | models.Q(shape__icontains=word)
                | models.Q(cut__icontains=word)
                | models.Q(colour__icontains=word)
                | models.Q(stone__material__species__icontains=word)
                | models.Q(stone__material__variety__icontains=word)
                | models.Q(stone__material__name__icontains=word)
            )
        return found


class FinishedGem(Belonging):
    """A stone off the dop, weighed, measured and accepted. A recut closes the row and a later one follows it."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="gems")
    weight_ct = WeightField()
    length_mm = LengthField(help_text="Greatest diameter for a round.")
    width_mm = LengthField(help_text="Least diameter for a round.")
    depth_mm = LengthField()
    shape = models.CharField(max_length=24, choices=Shape)
    cut = models.CharField(max_length=120, blank=True, help_text="Style or design of the facets.")
    colour = models.CharField(max_length=120, help_text="In words, seen clean and loose.")
    colour_light = models.CharField("light used", max_length=80, blank=True)
    clarity = models.CharField(
        max_length=200, blank=True, help_text="In your own words; say what you looked with."
    )
    girdle = models.CharField(max_length=80, blank=True)
    culet = models.CharField(max_length=80, blank=True)
    table_percent = PercentField(null=True, blank=True)
    crown_angle_deg = PercentField(null=True, blank=True)
    pavilion_angle_deg = PercentField(null=True, blank=True)
    facets = models.PositiveIntegerField(null=True, blank=True)
    cut_by = models.CharField(max_length=120, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    finished_on = models.DateField(db_index=True)
    public_photo = models.ForeignKey(
        StonePhoto, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    trimmed_ct = WeightField(null=True, blank=True)
    preform_ct = WeightField(null=True, blank=True)
    whole_ct = WeightField(help_text="The whole rough it came from.")
    cost_at_finish = MoneyField(default=Decimal(0))
    price = MoneyField(
        null=True, blank=True, help_text="The asking price now; the history keeps the older ones."
    )
    gone_on = models.DateField(null=True, blank=True, db_index=True)
    gone_as = models.CharField(max_length=10, choices=Gone, blank=True)
    gone_note = models.CharField(max_length=200, blank=True)
    bound_to = models.CharField(
        max_length=12, blank=True, db_index=True,
        help_text="Code of the memo it is lent or set aside on; while it stands, no other deed takes it away.",
    )  # fmt: skip

    objects = FinishedGemQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            ownership_constraint("gem"),
            models.UniqueConstraint(
                fields=["stone"],
                condition=~models.Q(gone_as=Gone.RECUT),
                name="gem_one_standing_per_stone",
            ),
            models.CheckConstraint(
                condition=models.Q(weight_ct__gt=0, length_mm__gt=0, width_mm__gt=0, depth_mm__gt=0),
                name="gem_has_size",
            ),
            models.CheckConstraint(
                condition=models.Q(gone_on__isnull=True, gone_as="")
                | models.Q(~models.Q(gone_as=""), gone_on__isnull=False),
                name="gem_gone_has_a_day_and_a_way",
            ),
            models.CheckConstraint(
                condition=~models.Q(gone_as=Gone.SOLD) | models.Q(ownership=Ownership.SHOP),
                name="gem_of_others_is_never_sold",
            ),
            models.CheckConstraint(
                condition=models.Q(bound_to="") | models.Q(gone_on__isnull=True, ownership=Ownership.SHOP),
                name="gem_bound_to_a_memo_is_own_and_here",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("gems:gem", args=[self.code])

    @property
    def is_here(self) -> bool:
        """Whether it still stands on the books."""
        return self.gone_on is None

    @property
    def state_word(self) -> str:
        """Where it is, in words."""
        return self.get_gone_as_display() if self.gone_on else self.get_place_display()

    @property
    def waits_for_buyer(self) -> bool:
        """Sold on a commission's account and not handed over yet: it lies here, and is nobody's stock."""
        return self.gone_as == Gone.SOLD and self.place not in {Place.BUYER, Place.GONE}

    @property
    def is_away(self) -> bool:
        """Still on the books, but in somebody else's hands."""
        return self.gone_on is None and self.place not in {Place.SAFE, Place.BENCH}

    @property
    def state_tone(self) -> str:
        """The sign a badge of its state carries beside the words."""
        if not self.gone_on:
            return "wait" if self.is_away else "done"
        return "sold" if self.gone_as in {Gone.SOLD, Gone.DELIVERED} else "gone"

    @property
    def recovery_from_whole(self) -> Decimal:
        """Per cent of the whole rough."""
        return recovery_percent(self.weight_ct, self.whole_ct)

    @property
    def recovery_from_trimmed(self) -> Decimal | None:
        """Per cent of the trimmed piece, where one was weighed."""
        return recovery_percent(self.weight_ct, self.trimmed_ct) if self.trimmed_ct else None

    @property
    def recovery_from_preform(self) -> Decimal | None:
        """Per cent of the preform, where one was weighed."""
        return recovery_percent(self.weight_ct, self.preform_ct) if self.preform_ct else None


class PriceLevel(models.TextChoices):
    """Whom a price is for."""

    RETAIL = "retail", "retail"
    TRADE = "trade", "trade"


class PriceChange(models.Model):
    """A price that was set, when, and why. What was quoted before keeps its own copy."""

    gem = models.ForeignKey(FinishedGem, on_delete=models.PROTECT, related_name="prices")
    level = models.CharField(max_length=8, choices=PriceLevel, default=PriceLevel.RETAIL)
    amount = MoneyField()
    set_on = models.DateField()
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-set_on", "-pk"]
        constraints = [models.CheckConstraint(condition=models.Q(amount__gte=0), name="price_not_negative")]

    def __str__(self) -> str:
        return f"{self.gem.code} {self.amount}"


class SuiteKind(models.TextChoices):
    """What gems that belong together make."""

    PAIR = "pair", "pair"
    SUITE = "suite", "suite"
    PARCEL = "parcel", "matched parcel"


class SuiteQuerySet(models.QuerySet["Suite"]):
    """Named questions about pairs and suites."""

    def standing(self) -> SuiteQuerySet:
        """Those that were not broken up."""
        return self.filter(broken_up_on__isnull=True)

    def matching(self, words: str) -> SuiteQuerySet:
        """Those whose code or name holds the words, or that hold or held the gem of that code."""
        held = models.Q(members__gem__code__iexact=words)
        found = models.Q(code__iexact=words) | models.Q(name__icontains=words) | held
        return self.filter(pk__in=Suite.objects.filter(found).values("pk"))


class Suite(models.Model):
    """Gems that belong together: a pair, a suite, a matched parcel. Each stays a gem of its own."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=8, choices=SuiteKind)
    tolerance_mm = LengthField(
        null=True, blank=True, help_text="How far lengths, and widths, may lie apart and still match."
    )
    tolerance_ct = WeightField(
        null=True, blank=True, help_text="How far weights may lie apart and still match."
    )
    note = models.TextField(max_length=2000, blank=True)
    made_on = models.DateField()
    broken_up_on = models.DateField(null=True, blank=True)
    broken_up_why = models.CharField(max_length=300, blank=True)

    objects = SuiteQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(broken_up_on__isnull=True) | ~models.Q(broken_up_why=""),
                name="suite_broken_up_has_a_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(tolerance_mm__isnull=True) | models.Q(tolerance_mm__gte=0),
                name="suite_tolerance_mm_not_negative",
            ),
            models.CheckConstraint(
                condition=models.Q(tolerance_ct__isnull=True) | models.Q(tolerance_ct__gte=0),
                name="suite_tolerance_ct_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("gems:suite", args=[self.code])

    @property
    def stands(self) -> bool:
        """Whether it was not broken up."""
        return self.broken_up_on is None

    @property
    def state_word(self) -> str:
        """Whether it still stands, in words."""
        return "together" if self.stands else "broken up"

    @property
    def state_tone(self) -> str:
        """The sign a badge of its state carries beside the words."""
        return "done" if self.stands else "gone"


class SuiteMember(models.Model):
    """A gem in a pair or suite, from a day until it was taken out; what was together stays readable."""

    suite = models.ForeignKey(Suite, on_delete=models.PROTECT, related_name="members")
    gem = models.ForeignKey(FinishedGem, on_delete=models.PROTECT, related_name="memberships")
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    taken_out_why = models.CharField(
        max_length=300, blank=True, help_text="Only where it was taken out while the others stayed together."
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["gem"], condition=models.Q(until__isnull=True), name="gem_in_one_standing_suite"
            ),
            models.CheckConstraint(
                condition=models.Q(until__isnull=True) | models.Q(until__gte=models.F("since")),
                name="suite_member_leaves_after_it_came",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.suite.code} {self.gem.code}"
