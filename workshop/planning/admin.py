"""Cut plans, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import CutPlan


@admin.register(CutPlan)
class CutPlanAdmin(LookOnly):
    """Every plan, those superseded too."""

    list_display = [
        "code",
        "stone",
        "lot",
        "outline",
        "style",
        "weight_ct",
        "seconds",
        "chosen_at",
        "superseded_at",
    ]
    list_select_related = ["stone", "lot"]
    search_fields = ["code", "stone__code", "lot__code", "material_name"]
    list_filter = ["outline", "style"]
