"""Sheets of cards and labels from any list: what was ticked, or all that a filter finds; then the PDF.

A room hands over a ``Choice``: the cards and labels of what was chosen, and what has no card. Its list includes
``papers/_sheet_bar.html`` and a tick box for each row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.errors import DeedRefused

from . import pdf, sheets
from .filters import PaperFilter
from .labels import Label
from .models import Paper, PaperKind
from .views import pdf_response

NOTHING: Final = "Nothing was ticked. Tick some in the list, or take all of it."


@dataclass(frozen=True)
class Choice:
    """What a sheet is made of. ``lacking``: codes of what was chosen and has no standing card."""

    back: str
    cards: Sequence[Paper] = ()
    labels: Sequence[Label] = ()
    lacking: Sequence[str] = ()


def chosen(request: HttpRequest, rows: QuerySet[Any], found: QuerySet[Any], name: str) -> list[Any]:
    """The rows ticked by ``name``, or with ``all`` every row the list's filter found, by their keys.

    Raises DeedRefused for none, for too many, and for a code that is not there.
    """
    if "all" in request.GET:
        count = found.count()
        picked = list(found[: sheets.MOST + 1])
        if count > sheets.MOST:
            raise DeedRefused(
                f"The list holds {count}; a sheet is made of {sheets.MOST} at most. Filter it further, or tick some."
            )
    else:
        codes = list(dict.fromkeys(code.upper()[:20] for code in request.GET.getlist(name)))
        if len(codes) > sheets.MOST:
            raise DeedRefused(f"{len(codes)} are ticked; a sheet is made of {sheets.MOST} at most.")
        key = "number" if name == "paper" else "code"
        by_code = {getattr(row, key): row for row in rows.filter(**{f"{key}__in": codes})}
        if missing := [code for code in codes if code not in by_code]:
            raise DeedRefused(f"There is no {missing[0]}.")
        picked = [by_code[code] for code in codes]
    if not picked:
        raise DeedRefused(NOTHING)
    return picked


def sheet_page(request: HttpRequest, make: Any, *, back: str) -> HttpResponse:
    """The page of a sheet, or with ``of`` and ``on`` in the address its PDF. ``make``: gives the Choice."""
    of, on = request.GET.get("of", ""), request.GET.get("on", "")
    if (of or on) and (of not in {"cards", "labels"} or on not in sheets.STOCKS):
        raise Http404
    choice = Choice(back=back)
    if not request.GET:
        context = {"choice": choice, "back": back, "refusal": NOTHING}
        return render(request, "papers/sheet.html", context)
    try:
        choice = make()
        if of:
            return _drawn(choice, of, on)
    except pdf.PdfUnavailable as refusal:
        return render(request, "papers/no_pdf.html", {"why": refusal.message}, status=503)
    except DeedRefused as refusal:
        context = {
            "choice": choice,
            "back": back,
            "refusal": refusal.message,
            "offers": _offers(request, choice),
        }
        return render(request, "papers/sheet.html", context, status=422)
    context = {"choice": choice, "back": back, "offers": _offers(request, choice)}
    return render(request, "papers/sheet.html", context)


def _drawn(choice: Choice, of: str, on: str) -> HttpResponse:
    if of == "labels":
        return pdf_response(sheets.draw_labels(choice.labels, on), f"labels-{on}")
    if choice.lacking:
        raise DeedRefused(f"No card stands for {', '.join(choice.lacking)}: issue it first, or leave it out.")
    return pdf_response(sheets.draw_cards(choice.cards, on, at=timezone.now()), f"cards-{on}")


def _offers(request: HttpRequest, choice: Choice) -> list[dict[str, Any]]:
    offers: list[dict[str, Any]] = []
    ways = [("cards", choice.cards, sheets.card_grid), ("labels", choice.labels, sheets.label_grid)]
    for of, things, grid in ways:
        if not things or (of == "cards" and choice.lacking):
            continue
        for on, stock in sheets.STOCKS.items():
            count = grid(on).sheets_for(len(things))
            said = QueryDict(request.GET.urlencode(), mutable=True)
            said["of"], said["on"] = of, on
            offers.append({"of": of, "stock": stock.words, "count": count, "query": said.urlencode()})
    return offers


@require_safe
def sheet(request: HttpRequest) -> HttpResponse:
    """A sheet of issued cards, from the list of papers."""

    def make() -> Choice:
        rows = Paper.objects.select_related("superseded_by")
        found = PaperFilter(request.GET, queryset=rows).qs.filter(kind=PaperKind.INFO_CARD)
        picked = chosen(request, rows, found.standing(), "paper")
        sheets.check_cards(picked)
        return Choice(back="papers:papers", cards=picked)

    return sheet_page(request, make, back="papers:papers")
