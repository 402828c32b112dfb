"""Fetch what a page is about: one commission with its client, one of its pieces."""

from __future__ import annotations

from django.shortcuts import get_object_or_404

from workshop.common.access import fetch

from .models import Commission, CommissionItem, Quote


def commission_of(code: str) -> Commission:
    """The commission with a code, and its client."""
    return fetch(Commission.objects.select_related("client", "opened_by"), code)


def item_of(code: str, number: int) -> CommissionItem:
    """A piece of a commission by its number."""
    return get_object_or_404(
        CommissionItem.objects.select_related("commission__client", "material"),
        commission=commission_of(code),
        number=number,
    )


def quote_of(code: str, version: int) -> Quote:
    """A version of a commission's quote, with its commission, client, tariff and paper."""
    return get_object_or_404(
        Quote.objects.select_related("commission__client", "tariff", "paper", "made_by"),
        commission=commission_of(code),
        version=version,
    )
