"""Pairs and suites: the list, one of them, and what is done with it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db.models import Count, Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import fetch, hand_of, owner_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed
from workshop.common.models import JournalEntry, Shop
from workshop.common.paging import page_of
from workshop.papers.models import Paper, PaperKind

from .. import suite_actions
from ..figures import JOURNAL_SHOWN, event_of
from ..filters import SuiteFilter
from ..matching import match_of, total_ct
from ..models import FinishedGem, Suite
from ..papers_suite import matching_rows, questions_of, total
from ..suite_forms import BreakUpForm, MakeSuiteForm, ReplaceForm, SuiteWords

SORTS = {"code": "pk", "name": "name", "made": "made_on"}
#: Those in it now; for one that was broken up, those that were in it to the end.
NOW = Q(members__taken_out_why="")


@require_safe
def suites(request: HttpRequest) -> HttpResponse:
    """Every pair and suite, newest first, with how many gems each has and what they weigh together."""
    rows = Suite.objects.annotate(
        gem_count=Count("members", filter=NOW), weight=Sum("members__gem__weight_ct", filter=NOW)
    )
    found = SuiteFilter(request.GET, queryset=rows)
    page = page_of(request, found.qs, sorts=SORTS, default="-code")
    any_ = bool(page.rows) or bool(request.GET)
    context = {"filter": found, "page": page, "sort": "-code", "any": any_}
    return render(request, "gems/suites.html", context, status=status_of(found.form))


@require_safe
def suite(request: HttpRequest, code: str) -> HttpResponse:
    """One pair or suite: its gems, how they match, what they weigh together, its papers, what happened."""
    shown = fetch(Suite.objects.all(), code)
    gems = suite_actions.members_of(shown)
    papers = list(Paper.objects.about(shown.code).select_related("superseded_by"))
    entries = JournalEntry.objects.filter(about=shown.code).select_related("by")[:JOURNAL_SHOWN]
    shop = Shop.the()
    match = match_of(shown, gems)
    context: dict[str, Any] = {
        "suite": shown,
        "gems": gems,
        "gone": [gem for gem in gems if not gem.is_here] if shown.stands else [],
        "match": match,
        "matching": matching_rows(match, shop),
        "weight": total_ct(gems),
        "stated": total(gems, shop),
        "left": shown.members.exclude(taken_out_why="").select_related("gem"),
        "questions": questions_of(gems) if shown.stands else [],
        "papers": papers,
        "standing": next((paper for paper in papers if paper.stands), None),
        "events": [event_of(entry) for entry in entries],
    }
    return render(request, "gems/suite.html", context)


@owner_only
def make_suite(request: HttpRequest) -> HttpResponse:
    """Put gems together as a pair, suite or matched parcel."""
    ticked = [code[:12] for code in request.GET.getlist("gem")][: suite_actions.MOST_GEMS]
    form = MakeSuiteForm(posted(request), initial={"gems": " ".join(ticked)})

    def deed() -> Suite:
        typed = form.cleaned_data
        return suite_actions.make_suite(
            typed["gems"], kind=typed["kind"], by=hand_of(request), at=timezone.now(), **form.said()
        )

    return _deed_page(request, None, form, deed, title="A pair or suite", submit="Put them together")


@owner_only
def change_suite(request: HttpRequest, code: str) -> HttpResponse:
    """Change the name, the tolerances or the note."""
    shown = fetch(Suite.objects.all(), code)
    form = SuiteWords(posted(request), initial=SuiteWords.values_of(shown))

    def deed() -> Suite:
        return suite_actions.change_suite(shown, form.said(), by=hand_of(request), at=timezone.now())

    return _deed_page(request, shown, form, deed, title=f"Change {shown.code}", submit="Keep")


@owner_only
def replace_member(request: HttpRequest, code: str) -> HttpResponse:
    """Put another gem in the place of one."""
    shown = fetch(Suite.objects.all(), code)
    form = ReplaceForm(posted(request), gems=suite_actions.members_of(shown))

    def deed() -> Suite:
        typed = form.cleaned_data
        old: FinishedGem = form.gems[typed["old"]]
        return suite_actions.replace_member(
            shown, old, typed["new"], why=typed["why"], by=hand_of(request), at=timezone.now()
        )

    return _deed_page(request, shown, form, deed, title=f"Replace a gem of {shown.code}", submit="Replace it")


@owner_only
def break_up(request: HttpRequest, code: str) -> HttpResponse:
    """The gems are single again."""
    shown = fetch(Suite.objects.all(), code)
    form = BreakUpForm(posted(request))

    def deed() -> Suite:
        why = form.cleaned_data["why"]
        return suite_actions.break_up(shown, why=why, by=hand_of(request), at=timezone.now())

    return _deed_page(request, shown, form, deed, title=f"Break up {shown.code}", submit="Break it up")


def _deed_page(
    request: HttpRequest, shown: Suite | None, form: DeedForm, deed: Callable[[], Suite], **words: str
) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, lambda: deed().get_absolute_url())
        if led_to:
            return redirect(led_to)
    standing = Paper.objects.standing().about(shown.code).filter(kind=PaperKind.SUITE) if shown else ()
    context = {"suite": shown, "form": form, "standing": list(standing), **words}
    return render(request, "gems/suite_deed.html", context, status=status_of(form))
