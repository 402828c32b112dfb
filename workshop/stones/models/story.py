"""What happened to a stone and what was said, seen and spent: steps, notes, statements, photographs, extras."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from workshop.common.fields import MoneyField
from workshop.common.models import Photo
from workshop.materials.models import Statement

from .stone import Stage, Stone


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
