"""What the pages of deeds share: where one comes back to, the page of a form, and a deed behind one tap."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import Resolver404, resolve, reverse
from django.utils.http import url_has_allowed_host_and_scheme

from workshop.common.deeds import DeedForm, status_of, try_deed
from workshop.common.models import LED_TO_LONGEST

from ..models import Stone
from .cautions import cautions_about

Deed = Callable[[], str]


def bench_url(stone: Stone) -> str:
    """The page of a stone at the wheel."""
    return reverse("stones:bench", args=[stone.code])


def back_url(request: HttpRequest, stone: Stone) -> str:
    """Whoever came from the bench goes back to the bench, everybody else to the stone's page."""
    return bench_url(stone) if request.GET.get("from") == "bench" else stone.get_absolute_url()


#: Pages that may be shown again after the clock was stopped on them; others only answer a form.
RETURNS = {
    "books:today", "rough:lot", "rough:lots", "stones:bench", "stones:stone", "stones:stones", "stones:wheel",
    "gems:gem", "gems:gems",
}  # fmt: skip


def came_from(request: HttpRequest, otherwise: str) -> str:
    """The page of ours where a button was pressed."""
    address = request.headers.get("referer", "")
    hosts = {request.get_host()}
    if not url_has_allowed_host_and_scheme(address, allowed_hosts=hosts, require_https=request.is_secure()):
        return otherwise
    parts = urlsplit(address)
    try:
        known = resolve(parts.path).view_name in RETURNS
    except Resolver404:
        return otherwise
    if not known:
        return otherwise
    whole = f"{parts.path}?{parts.query}" if parts.query else parts.path
    # Where a deed led is kept, in a column that a long filter does not fit into.
    return whole if len(whole) <= LED_TO_LONGEST else parts.path


def deed_page(
    request: HttpRequest,
    stone: Stone,
    form: DeedForm,
    deed: Deed,
    *,
    title: str,
    submit: str,
    done: str | Callable[[], str] = "",
    moments: tuple[str, ...] = (),
    template: str = "stones/deed.html",
    **more: Any,
) -> HttpResponse:
    """Show the form of a deed on a stone, or do the deed and lead on. ``moments`` names the cautions that matter."""
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, deed)
        if led_to:
            if done:
                messages.success(request, done if isinstance(done, str) else done())
            return redirect(led_to)
    shown = {
        "stone": stone,
        "form": form,
        "title": title,
        "submit": submit,
        "back": back_url(request, stone),
        "cautions": cautions_about(stone, moments),
        **more,
    }
    return render(request, template, shown, status=status_of(form))


def tap(
    request: HttpRequest,
    form: DeedForm,
    deed: Deed,
    *,
    back: str,
    instead: dict[str, Any] | None = None,
) -> HttpResponse:
    """A deed behind one tap. A refusal is told on a page of its own, with the way back and what could be done."""
    if form.is_valid():
        led_to = try_deed(request, form, deed)
        if led_to:
            return redirect(led_to)
    problems = [problem for problems in form.errors.values() for problem in problems]
    shown = {"problems": problems, "back": back, "instead": instead}
    return render(request, "stones/refused.html", shown, status=422)
