"""Fetch what a page of the rough room is about."""

from __future__ import annotations

from django.shortcuts import get_object_or_404

from workshop.common.access import fetch

from .models import LotDocument, RoughLot


def lot_of(code: str) -> RoughLot:
    """The lot with a code, and the rows its head line names."""
    return fetch(RoughLot.objects.select_related("seller", "owner", "holder", "material"), code)


def document_of(code: str, pk: int) -> LotDocument:
    """A paper of a lot."""
    return get_object_or_404(LotDocument.objects.select_related("lot"), pk=pk, lot__code=code.upper())
