"""Gems that a memo binds: refused to every deed that would take them away, until the memo is settled."""

from __future__ import annotations

from workshop.common.errors import DeedRefused

from .models import FinishedGem


def refuse_bound(gem: FinishedGem) -> None:
    """Refuse a deed on a gem that is lent or set aside. Raises DeedRefused."""
    if gem.bound_to:
        raise DeedRefused(f"{gem.code} stands on memo {gem.bound_to}; settle it there.", field="gem")
