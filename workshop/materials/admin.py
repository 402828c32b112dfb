"""Materials and treatments, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import Material, Treatment


@admin.register(Material)
class MaterialAdmin(LookOnly):
    """Every material."""

    list_display = ["key", "species", "variety", "from_handbook"]
    search_fields = ["species", "variety", "name"]
    list_filter = ["from_handbook"]


@admin.register(Treatment)
class TreatmentAdmin(LookOnly):
    """Every treatment."""

    list_display = ["key", "words"]
