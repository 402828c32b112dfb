"""The papers issued, one paper, its PDF, its withdrawal, and the check page that anyone with the card may open."""

from __future__ import annotations

import hashlib
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from workshop.common import photos
from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import begun, posted, posted_files, status_of, try_deed
from workshop.common.errors import DeedRefused
from workshop.common.models import Photo
from workshop.common.paging import page_of

from . import actions, checking, keys
from .access import paper_for
from .filters import PaperFilter
from .forms import ChangeKeyForm, CheckAnyForm, CheckFileForm, VoidForm
from .kinds import SHEETS
from .models import PRIVATE, Paper, PaperKey
from .pages import paper_context
from .pdf import PdfUnavailable
from .rendering import PICTURE, PaperDamaged, content_of

SORTS = {"number": "id", "about": "about", "issued": "issued_at"}


@require_safe
def papers(request: HttpRequest) -> HttpResponse:
    """Every paper issued, newest first."""
    found = PaperFilter(request.GET, queryset=Paper.objects.select_related("superseded_by", "issued_by"))
    page = page_of(request, found.qs, sorts=SORTS, default="-number")
    context = {"filter": found, "page": page, "sort": "-number"}
    return render(request, "papers/papers.html", context, status=status_of(found.form))


@require_safe
def paper(request: HttpRequest, number: str) -> HttpResponse:
    """What a paper says, whether it stands, and its PDFs."""
    shown = paper_for(hand_of(request), number)
    return render(request, "papers/paper.html", paper_context(shown))


@require_safe
def pdf(request: HttpRequest, number: str, size: str) -> HttpResponse:
    """The PDF in one size, drawn now when nobody asked for it before."""
    shown = paper_for(hand_of(request), number)
    if size not in SHEETS[shown.kind]:
        raise Http404
    try:
        kept = actions.bytes_of(shown, size, at=timezone.now())
    except PdfUnavailable as refusal:
        return _not_now(request, refusal)
    except DeedRefused as refusal:
        context = paper_context(shown) | {"refusal": refusal.message}
        return render(request, "papers/paper.html", context, status=409)
    return pdf_response(bytes(kept.pdf), f"{shown.number}-{size}")


def pdf_response(data: bytes, name: str) -> HttpResponse:
    """A PDF to be shown by the browser, under a name to keep it by."""
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


@owner_only
def void(request: HttpRequest, number: str) -> HttpResponse:
    """Withdraw a paper with a reason."""
    shown = paper_for(hand_of(request), number)
    form = VoidForm(posted(request), initial=begun(request, "reason"))
    if request.method == "POST" and form.is_valid():
        by, now = hand_of(request), timezone.now()
        led_to = try_deed(
            request,
            form,
            lambda: actions.void(shown, reason=form.cleaned_data["reason"], by=by, at=now).get_absolute_url(),
        )
        if led_to:
            return redirect(led_to)
    return render(request, "papers/void.html", {"paper": shown, "form": form}, status=status_of(form))


@owner_only
def key(request: HttpRequest) -> HttpResponse:
    """The key papers are signed with: its public half to give away, its private half to keep, and changing it."""
    form = ChangeKeyForm(posted(request))
    if request.method == "POST" and form.is_valid():
        by, now, reason = hand_of(request), timezone.now(), form.cleaned_data["reason"]

        def deed() -> str:
            actions.change_key(reason=reason, by=by, at=now)
            return reverse("papers:key")

        if led_to := try_deed(request, form, deed):
            return redirect(led_to)
    signing, fault = _signing_now()
    context = {"form": form, "signing": signing, "fault": fault, "keys": PaperKey.objects.all()}
    return render(request, "papers/key.html", context, status=status_of(form))


def _signing_now() -> tuple[keys.ShopKey | None, str]:
    try:
        return keys.current(), ""
    except keys.KeyDamaged as damage:
        return None, damage.message


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def check(request: HttpRequest, check_code: str) -> HttpResponse:
    """What was issued, and whether it still stands: open to anyone who holds the card, closed to guessing.

    Whoever holds a file sends it to be compared; nothing of it is kept.
    """
    shown = (
        Paper.objects.select_related("superseded_by", "key")
        .prefetch_related("files")
        .filter(check_code=check_code)
        .first()
    )
    if shown is None:
        return render(request, "papers/check_unknown.html", status=404)
    template = "papers/check_private.html" if shown.is_private else "papers/check.html"
    form = CheckFileForm(posted(request), posted_files(request))
    verdict = checking.judge(form.cleaned_data["file"], shown) if form.is_valid() else None
    context = paper_context(shown) | {"form": form, "verdict": verdict}
    response = render(request, template, context, status=status_of(form))
    response["X-Robots-Tag"] = "noindex"
    return response


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def check_any(request: HttpRequest) -> HttpResponse:
    """A file or a number from a paper whose code cannot be read. A number alone tells whether it stands, no more."""
    form = CheckAnyForm(posted(request), posted_files(request))
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        if data := form.cleaned_data["file"]:
            context["verdict"] = checking.judge(data)
        else:
            context["by_number"] = _public(form.cleaned_data["number"])
            context["number"] = form.cleaned_data["number"]
    response = render(request, "papers/check_any.html", context, status=status_of(form))
    response["X-Robots-Tag"] = "noindex"
    return response


def _public(number: str) -> Paper | None:
    rows = (
        Paper.objects.exclude(kind__in=PRIVATE)
        .select_related("superseded_by", "key")
        .prefetch_related("files")
    )
    return None if "\x00" in number else rows.filter(number=number.strip().upper()).first()


@login_not_required
@require_safe
def check_picture(request: HttpRequest, check_code: str) -> HttpResponse:
    """The photograph on a paper, for who holds it; none of a paper between the shop and a client."""
    shown = get_object_or_404(Paper.objects.exclude(kind__in=PRIVATE), check_code=check_code)
    try:
        picture = content_of(shown).get("picture") or {}
        data = photos.read(get_object_or_404(Photo, sha256=picture.get("sha256", "")), PICTURE)
    except (PaperDamaged, FileNotFoundError) as error:
        raise Http404 from error
    if hashlib.sha256(data).hexdigest() != picture["bytes_sha256"]:
        raise Http404
    return HttpResponse(data, content_type="image/jpeg")


def _not_now(request: HttpRequest, refusal: PdfUnavailable) -> HttpResponse:
    return render(request, "papers/no_pdf.html", {"why": refusal.message}, status=503)
