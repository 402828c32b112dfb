"""Papers, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import Paper


@admin.register(Paper)
class PaperAdmin(LookOnly):
    """Every paper; what it says never changes."""

    list_display = ["number", "kind", "about", "issued_at", "state_word"]
    list_select_related = ["superseded_by"]
    search_fields = ["number", "about"]
    list_filter = ["kind"]
