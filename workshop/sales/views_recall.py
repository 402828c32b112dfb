"""The recalls, one of them with its entries, one entry with its letter, opening and closing."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of, money_only, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.models import JournalEntry
from workshop.common.paging import page_of
from workshop.common.spreadsheet import csv_file
from workshop.rough.models import LotStatement
from workshop.stones.models import StoneStatement

from .actions import recalls as actions
from .forms_recall import (
    CloseForm,
    OpenForm,
)
from .models import PEOPLE, EntryKind, Recall, RecallEntry, still_to_do
from .pedigree import nobody_told
from .recall_groups import WITH_US, group_of, grouped, next_deed, revise_url, void_url
from .recall_pages import deed_page, entries_of, entry_of, recall_of, today_of
from .touched import recall_scope

STILL = still_to_do("entries__")
SORTS = {"code": "pk", "opened": "opened_at", "lot": "lot__code"}
COLUMNS = (
    "recall", "group", "what", "code", "spoken of", "why", "who", "e-mail", "telephone", "state", "told on",
    "told how", "choice", "words", "done on",
)  # fmt: skip


# --- Looking ------------------------------------------------------------------------------------------------------


@require_safe
def recalls(request: HttpRequest) -> HttpResponse:
    """Every recall, newest first, and what was learned of which nobody has been told yet."""
    sees_all = hand_of(request).sees_money
    state = request.GET.get("state", "")
    rows = Recall.objects.select_related("lot", "stone_statement__stone").annotate(
        all=Count("entries", distinct=True),
        to_do=Count("entries", filter=STILL, distinct=True),
        to_tell=Count("entries", filter=STILL & Q(entries__kind__in=PEOPLE), distinct=True),
    )  # fmt: skip
    if state in {"open", "closed"}:
        rows = rows.filter(closed_on__isnull=state == "open")
    page = page_of(request, rows, sorts=SORTS, default="-code")
    waiting = nobody_told() if sees_all else []
    context = {"page": page, "sort": "-code", "waiting": waiting, "any": page.total or state}
    return render(request, "sales/recalls.html", context)


@require_safe
def recall(request: HttpRequest, code: str) -> HttpResponse:
    """One recall and all it touches. Whoever sees no money sees what to set aside, and nobody's name."""
    shown = recall_of(code)
    entries = entries_of(shown)
    if not hand_of(request).sees_money:
        here = [one for one in entries if group_of(one) == WITH_US]
        return render(request, "sales/recall_set_aside.html", {"recall": shown, "entries": here})
    groups = [(name, [(one, next_deed(one)) for one in rows]) for name, rows in grouped(entries)]
    context = {
        "recall": shown, "groups": groups, "to_do": sum(one.is_to_do for one in entries),
        "to_tell": sum(one.is_to_do and one.is_person for one in entries), "events": _events(shown),
    }  # fmt: skip
    return render(request, "sales/recall.html", context)


def _events(shown: Recall) -> list[dict[str, Any]]:
    lines = JournalEntry.objects.filter(about=shown.code).select_related("by")
    return [
        {
            "at": one.happened_at, "text": one.verb[:1].upper() + one.verb[1:], "who": one.by,
            "detail": " · ".join(filter(None, [str(one.after.get("entry", "")), one.reason])),
        }
        for one in lines
    ]  # fmt: skip


@money_only
@require_safe
def table(request: HttpRequest, code: str) -> HttpResponse:
    """The entries as a table for a spreadsheet."""
    shown = recall_of(code)
    rows = [_row(group, one) for group, found in grouped(entries_of(shown)) for one in found]
    return csv_file(f"recall-{shown.code}", COLUMNS, rows)


def _row(group: str, one: RecallEntry) -> tuple[object, ...]:
    who = one.contact
    return (
        one.recall.code, group, one.get_kind_display(), one.code, "yes" if one.touched else "may be", one.why,
        str(who) if who else "", who.email if who else "", who.phone if who else "", one.state_word, one.told_on,
        one.told_how, one.get_choice_display(), one.words, one.done_on,
    )  # fmt: skip


@money_only
@require_safe
def entry(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """One entry: why it is touched, what was said and chosen, and the deeds that put it right."""
    shown = entry_of(code, pk)
    context = {"recall": shown.recall, "entry": shown, "next": next_deed(shown), "deeds": _deeds(shown)}
    return render(request, "sales/recall_entry.html", context)


def _deeds(shown: RecallEntry) -> dict[str, Any]:
    """Which other deeds its page offers, by name."""
    gem, paper, line = shown.gem, shown.paper, shown.line
    may_void = paper is not None and paper.stands and not paper.is_of_account
    return {
        "revise": revise_url(shown),
        "void": void_url(shown) if may_void else "",
        "sale": line.sale if line is not None else None,
        "sold": shown.kind == EntryKind.BUYER and line is not None and line.stands,
        "reprice": shown.kind == EntryKind.GEM and gem is not None and gem.is_here and gem.is_own,
    }


# --- Opening and closing ------------------------------------------------------------------------------------------


@owner_only
def open_recall(request: HttpRequest, about: str, pk: int) -> HttpResponse:
    """What a statement would touch, and opening a recall on it."""
    said = _statement(about, pk)
    known = getattr(said, "recall", None)
    if known is not None and request.method != "POST":
        return redirect(known)
    form, by, now = OpenForm(posted(request)), hand_of(request), timezone.now()
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, lambda: actions.open_recall(said, by=by, at=now).get_absolute_url())
        if led_to:
            return redirect(led_to)
    why_not = actions.why_no_recall(said)
    scope = [] if why_not else recall_scope(said)
    context = {"said": said, "about": _about(said), "form": form, "why_not": why_not, "scope": scope}
    return render(request, "sales/recall_open.html", context, status=status_of(form))


def _statement(about: str, pk: int) -> LotStatement | StoneStatement:
    if about == "lot":
        return get_object_or_404(LotStatement.objects.select_related("lot", "material", "recall"), pk=pk)
    if about == "stone":
        return get_object_or_404(StoneStatement.objects.select_related("stone", "material", "recall"), pk=pk)
    raise Http404


def _about(said: LotStatement | StoneStatement) -> Any:
    return said.lot if isinstance(said, LotStatement) else said.stone


@owner_only
def close(request: HttpRequest, code: str) -> HttpResponse:
    """Close a recall."""
    shown, by, now = recall_of(code), hand_of(request), timezone.now()
    form = CloseForm(posted(request), today=today_of(request, now))

    def deed() -> None:
        actions.close_recall(shown, on=form.cleaned_data["on"], why=form.cleaned_data["why"], by=by, at=now)

    left = shown.entries.still_to_do().count()  # type: ignore[attr-defined]
    hint = f"{left} still to do: say why it is closed all the same." if left else "Nothing is left to do."
    return deed_page(
        request, shown, form, deed, title=f"Close {shown.code}", submit="Close it", hint=hint,
        back=shown.get_absolute_url(),
    )  # fmt: skip
