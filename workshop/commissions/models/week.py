"""How many hours of the bench a week has."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from workshop.common.fields import PercentField


class BenchHours(models.Model):
    """Hours of the bench a week from a Monday on: until the next row, or for the one week of a holiday."""

    from_on = models.DateField(help_text="A Monday.")
    hours = PercentField(validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(168))])
    one_week = models.BooleanField(default=False, help_text="For this week only.")
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["from_on", "pk"]
        verbose_name_plural = "bench hours"
        constraints = [
            models.UniqueConstraint(fields=["from_on", "one_week"], name="benchhours_once"),
            models.CheckConstraint(
                condition=models.Q(hours__gte=0, hours__lte=168), name="benchhours_fit_a_week"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hours} h a week from {self.from_on}"
