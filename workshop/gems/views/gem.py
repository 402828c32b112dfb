"""One gem's page: how it looks, what it is and on whose word, where it is, and what it cost."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of
from workshop.papers.models import Paper, PaperKind
from workshop.stones.views.story import statements_about

from .. import figures
from ..access import gem_of
from ..models import FinishedGem, Gone, Suite
from ..papers import open_questions, size_words


@require_safe
def gem(request: HttpRequest, code: str) -> HttpResponse:
    """The page of one gem."""
    shown = gem_of(code)
    by = hand_of(request)
    cards = list(Paper.objects.about(shown.code).select_related("superseded_by"))
    context: dict[str, Any] = {
        "gem": shown,
        "drawing": "" if shown.public_photo else figures.drawn(shown),
        "photos": shown.stone.photos.select_related("photo").order_by("-at", "-pk"),
        "size": size_words(shown),
        "recoveries": figures.recoveries(shown),
        "statements": statements_about(shown.stone),
        "questions": open_questions(shown),
        "cards": cards,
        "standing": _standing(cards, PaperKind.INFO_CARD),
        "certificate": _standing(cards, PaperKind.CERTIFICATE),
        "suite": Suite.objects.standing().filter(members__gem=shown, members__until__isnull=True).first(),
        "may_come_back": bool(shown.gone_on) and shown.gone_as not in {Gone.SOLD, Gone.RECUT},
        "siblings": _other_gems(shown),
        "events": figures.told(shown, money=by.sees_money),
    }
    if by.sees_money:
        currency = request.shop.currency  # type: ignore[attr-defined]
        context |= {
            "account": figures.account_of(shown, currency),
            "prices": shown.prices.select_related("by"),
        }
    return render(request, "gems/gem.html", context)


def _standing(papers: list[Paper], kind: PaperKind) -> Paper | None:
    return next((paper for paper in papers if paper.stands and paper.kind == kind), None)


def _other_gems(shown: FinishedGem) -> list[FinishedGem]:
    """What the same stone was before a recut, or became after it."""
    return list(shown.stone.gems.exclude(pk=shown.pk).order_by("pk"))
