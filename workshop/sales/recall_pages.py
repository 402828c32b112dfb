"""Pieces of the pages of recalls: what they are about, and the form of a deed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.contrib import messages as notices
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from workshop.common.access import fetch
from workshop.common.deeds import DeedForm, status_of, try_deed

from .models import EntryKind, Recall, RecallEntry
from .recall_groups import ROWS


def recall_of(code: str) -> Recall:
    """The recall with a code."""
    rows = Recall.objects.select_related("lot", "stone_statement__stone", "opened_by", "closed_by")
    return fetch(rows, code)


def entries_of(shown: Recall) -> list[RecallEntry]:
    """Its entries with all that a page of them asks."""
    found = list(shown.entries.select_related(*ROWS))
    for one in found:
        one.recall = shown
    return found


def entry_of(code: str, pk: int, kind: EntryKind | None = None) -> RecallEntry:
    """One entry of a recall, of a kind where only that will do."""
    rows = RecallEntry.objects.select_related(
        *ROWS, "line__gem", "recall__lot", "recall__stone_statement__stone", "done_by"
    )
    if kind is not None:
        rows = rows.filter(kind=kind)
    return get_object_or_404(rows, pk=pk, recall=recall_of(code))


def entry_page(
    request: HttpRequest, shown: RecallEntry, form: DeedForm, deed: Callable[[], None], **more: Any
) -> HttpResponse:
    """The form of one deed on an entry."""
    return deed_page(request, shown.recall, form, deed, back=shown.get_absolute_url(), entry=shown, **more)


def deed_page(
    request: HttpRequest,
    shown: Recall,
    form: DeedForm,
    deed: Callable[[], None],
    *,
    back: str,
    template: str = "sales/recall_deed.html",
    done: str = "",
    **context: Any,
) -> HttpResponse:
    """The form of one deed; after it, back to what it was done to."""
    if request.method == "POST" and form.is_valid():

        def led() -> str:
            deed()
            return back

        if led_to := try_deed(request, form, led):
            if done:
                notices.success(request, done)
            return redirect(led_to)
    told = {"recall": shown, "form": form, "back": back, **context}
    return render(request, template, told, status=status_of(form))


def base_of(request: HttpRequest) -> str:
    """Where the shop is reached, for papers issued by the way."""
    return request.build_absolute_uri("/")


def today_of(request: HttpRequest, now: datetime) -> date:
    """The day as the shop counts days."""
    day: date = request.shop.day_of(now)  # type: ignore[attr-defined]
    return day
