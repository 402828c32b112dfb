"""Rows of the stones room, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import BenchTime, Stone, StoneExtra, StoneNote, StoneStatement, Weighing


@admin.register(Stone)
class StoneLook(LookOnly):
    list_display = ("code", "lot", "material", "stage", "ending", "weight_ct", "touched_at")
    list_filter = ("stage", "ending", "ownership")
    list_select_related = ("lot", "material")
    search_fields = ("code", "plan")


@admin.register(Weighing)
class WeighingLook(LookOnly):
    list_display = ("stone", "weight_ct", "entered", "stage", "at", "by", "counts")
    list_select_related = ("stone", "by")
    search_fields = ("stone__code",)


@admin.register(BenchTime)
class BenchTimeLook(LookOnly):
    list_display = ("hand", "activity", "started_at", "ended_at", "rework", "doubtful", "counts")
    list_filter = ("activity", "doubtful", "counts")
    list_select_related = ("hand",)


@admin.register(StoneNote)
class StoneNoteLook(LookOnly):
    list_display = ("stone", "kind", "stage", "at", "by")
    list_select_related = ("stone", "by")


@admin.register(StoneStatement)
class StoneStatementLook(LookOnly):
    list_display = ("stone", "question", "evidence", "said_by", "said_on")
    list_select_related = ("stone",)


@admin.register(StoneExtra)
class StoneExtraLook(LookOnly):
    list_display = ("stone", "kind", "amount", "on")
    list_select_related = ("stone",)
