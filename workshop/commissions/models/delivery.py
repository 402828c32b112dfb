"""Goods handed over or posted to the client."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.common.fields import MoneyField
from workshop.papers.models import Paper

from .commission import Commission, CommissionItem


class Delivery(models.Model):
    """One parcel or handing-over: what was in it, when and how it went, at what declared value, when it arrived."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="deliveries")
    items = models.ManyToManyField(CommissionItem, related_name="deliveries", blank=True)
    on = models.DateField()
    how = models.CharField(max_length=120, help_text="In person, courier, registered post …")
    tracking = models.CharField(max_length=80, blank=True)
    declared_value = MoneyField(null=True, blank=True)
    insured_by = models.CharField(max_length=160, blank=True)
    arrived_on = models.DateField(null=True, blank=True)
    received_by = models.CharField(max_length=160, blank=True)
    note = models.ForeignKey(Paper, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(arrived_on__isnull=True) | models.Q(arrived_on__gte=models.F("on")),
                name="delivery_days_in_order",
            )
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("commissions:delivery", args=[self.commission.code, self.code])
