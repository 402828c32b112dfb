"""Who may read what a paper says."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404

from workshop.common.models import Hand

from .models import Paper


def paper_for(hand: Hand, number: str) -> Paper:
    """The paper with a number. Raises PermissionDenied for one between the shop and a client where prices and the
    client's address are not this hand's to see."""
    rows = Paper.objects.select_related("superseded_by", "supersedes", "issued_by", "voided_by")
    paper = get_object_or_404(rows.prefetch_related("files"), number=number.upper())
    if paper.is_private and not hand.sees_money:
        raise PermissionDenied("Papers between the shop and a client are not shown to you.")
    return paper
