"""Fetch what a page is about: one sale with its buyer, one gem that may be sold."""

from __future__ import annotations

from workshop.common.access import fetch
from workshop.gems.models import FinishedGem

from .models import Sale, SaleLine


def sale_of(code: str) -> Sale:
    """The sale with a code."""
    return fetch(Sale.objects.select_related("buyer", "made_by", "commission"), code)


def gem_of(code: str) -> FinishedGem:
    """The gem with a code and what its price is weighed against."""
    return fetch(FinishedGem.objects.select_related("stone__material", "owner"), code)


def lines_of(sale: Sale) -> list[SaleLine]:
    """The gems of a sale, in the order they were named."""
    return list(sale.lines.select_related("gem__stone__material"))
