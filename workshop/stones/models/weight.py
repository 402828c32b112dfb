"""Weighings and losses: each reading kept, each loss with its cause."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from workshop.common.fields import WeightField

from .stone import Stage, Stone


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
