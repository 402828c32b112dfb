"""Taking in a client's goods: what was handed over, what was said of it, what was seen."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse

from workshop.common.fields import LengthField, MoneyField, PercentField, WeightField
from workshop.common.models import Photo
from workshop.papers.models import Paper
from workshop.rough.models import RoughLot

from .commission import Commission, CommissionItem, OffCuts


class ToldTreatment(models.TextChoices):
    """What the client says of treatments."""

    UNKNOWN = "unknown", "not known"
    NONE = "none", "said to be untreated"
    TREATED = "treated", "said to be treated"


class Intake(models.Model):
    """One handing-over: who brought what, when and how. Its pieces lie in lots that stay the client's."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="intakes")
    received_at = models.DateTimeField()
    handed_by = models.CharField(max_length=160, help_text="Who handed it over.")
    authority = models.CharField(
        max_length=200, blank=True, help_text="If not the owner: on whose word, with what proof."
    )
    how = models.CharField(max_length=120, blank=True, help_text="In person, by courier, registered post …")
    came_clean = models.BooleanField(default=True, help_text="Taken in clean: faults show better so.")
    insured_by = models.CharField(max_length=160, blank=True, help_text="Who insures it while it is here.")
    insured_until = models.DateField(null=True, blank=True)
    return_to = models.CharField(max_length=300, blank=True, help_text="Where and how it goes back.")
    limits = models.CharField(
        max_length=300, blank=True, help_text="Do not cut below …, keep the inscription …"
    )
    uncollected = models.CharField(
        max_length=300,
        blank=True,
        help_text="Your rule for storage and uncollected goods; check your local law.",
    )
    signed_by = models.CharField(max_length=160, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    receipt = models.ForeignKey(Paper, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    report = models.ForeignKey(Paper, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("commissions:intake", args=[self.commission.code, self.code])


class IntakePiece(models.Model):
    """One piece of what was handed over. The client's words and the cutter's stay in two columns."""

    intake = models.ForeignKey(Intake, on_delete=models.PROTECT, related_name="pieces")
    item = models.ForeignKey(
        CommissionItem, null=True, blank=True, on_delete=models.PROTECT, related_name="intake_pieces"
    )
    lot = models.OneToOneField(RoughLot, on_delete=models.PROTECT, related_name="intake_piece")
    stated_to_be = models.CharField(max_length=300, help_text="Stated by the client to be …")
    seen_as = models.CharField(max_length=300, help_text="What you see, described as exactly as you can.")
    weight_ct = WeightField()
    pieces = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    length_mm = LengthField(null=True, blank=True)
    width_mm = LengthField(null=True, blank=True)
    depth_mm = LengthField(null=True, blank=True)
    colour = models.CharField(max_length=120, blank=True)
    tests = models.CharField(max_length=300, blank=True, help_text="Tests done here, or none.")
    inclusions = models.TextField(max_length=1000, blank=True, help_text="Shown to the client and where.")
    chips = models.TextField(max_length=1000, blank=True, help_text="Chips, abrasions, fissures, old glue …")
    magnification = models.CharField(max_length=40, blank=True)
    told_treatment = models.CharField(max_length=8, choices=ToldTreatment, default=ToldTreatment.UNKNOWN)
    treatment_words = models.CharField(max_length=200, blank=True)
    laboratory_report = models.CharField(max_length=120, blank=True, help_text="Number and house, if left.")
    declared_value = MoneyField(null=True, blank=True)
    declared_currency = models.CharField(max_length=3, blank=True)
    declared_words = models.CharField(
        max_length=200, blank=True, help_text="The client's own figure, in the client's words."
    )
    loss_consent_percent = PercentField(
        null=True, blank=True, validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))],
        help_text="Loss of weight the client agrees to, in per cent.",
    )  # fmt: skip
    floor_ct = WeightField(null=True, blank=True, help_text="Below this the client is asked first.")
    off_cuts = models.CharField(max_length=8, choices=OffCuts, default=OffCuts.BACK)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(weight_ct__gt=0), name="intakepiece_weighs_something"),
            models.CheckConstraint(
                condition=models.Q(floor_ct__isnull=True) | models.Q(floor_ct__lte=models.F("weight_ct")),
                name="intakepiece_floor_below_its_weight",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.intake.code} {self.lot.code}"


class IntakePhoto(models.Model):
    """A photograph of a piece as it came in."""

    piece = models.ForeignKey(IntakePiece, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    view = models.CharField(max_length=60, blank=True, help_text="Front, back, side, with a scale …")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["piece", "photo"], name="intake_photo_once")]

    def __str__(self) -> str:
        return self.view or f"{self.piece} photograph"


class Mark(models.Model):
    """A fault pointed at on a photograph: its place in per cent of width and height, and what it is."""

    photo = models.ForeignKey(IntakePhoto, on_delete=models.CASCADE, related_name="marks")
    x_percent = PercentField(validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))])
    y_percent = PercentField(validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))])
    words = models.CharField(max_length=120)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.words
