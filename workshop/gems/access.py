"""Fetch what a page is about: one gem with the rows its page names."""

from __future__ import annotations

from workshop.common.access import fetch

from .models import FinishedGem


def gem_of(code: str) -> FinishedGem:
    """The gem with a code, its stone, its lot, and who owns and who has it."""
    rows = FinishedGem.objects.select_related(
        "stone__material", "stone__lot", "stone__parent", "owner", "holder", "public_photo__photo"
    )
    return fetch(rows, code)
