"""The admin pages look only: what is journalled is changed by deeds, and nothing is deleted there."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest


class LookOnly(admin.ModelAdmin):
    """Rows to look at. No adding, no changing, no deleting."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
