"""The papers issued, one paper, its PDF, its withdrawal, and the check page that anyone with the card may open."""

from __future__ import annotations

import hashlib
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_safe

from workshop.common import photos
from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.errors import DeedRefused
from workshop.common.models import Photo
from workshop.common.paging import page_of
from workshop.handbook.drawings import outline_drawing

from . import actions, marks
from .access import paper_for
from .filters import PaperFilter
from .forms import VoidForm
from .kinds import SHEETS
from .models import PRIVATE, Paper
from .pdf import PDF_MISSING, PdfUnavailable
from .rendering import PICTURE, PaperDamaged, content_of, with_cells

DRAWING_PX = 190
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
    return render(request, "papers/paper.html", _paper_context(shown))


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
        context = _paper_context(shown) | {"refusal": refusal.message}
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
    form = VoidForm(posted(request))
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


@login_not_required
@require_safe
def check(request: HttpRequest, check_code: str) -> HttpResponse:
    """What was issued, and whether it still stands: open to anyone who holds the card, closed to guessing."""
    shown = (
        Paper.objects.select_related("superseded_by")
        .prefetch_related("files")
        .filter(check_code=check_code)
        .first()
    )
    if shown is None:
        return render(request, "papers/check_unknown.html", status=404)
    template = "papers/check_private.html" if shown.is_private else "papers/check.html"
    response = render(request, template, _paper_context(shown))
    response["X-Robots-Tag"] = "noindex"
    return response


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


def _paper_context(shown: Paper) -> dict[str, Any]:
    faults = actions.faults(shown)
    try:
        content = content_of(shown)
    except PaperDamaged:
        return {"paper": shown, "faults": faults, "content": None}
    picture = content.get("picture") or {}
    drawing = (
        outline_drawing(**picture["drawing"] | {"size_px": DRAWING_PX})
        if picture.get("kind") == "outline"
        else ""
    )
    sheets = [
        (size, SHEETS[shown.kind][size].words) for size in content["sizes"] if size in SHEETS[shown.kind]
    ]
    return {
        "paper": shown,
        "faults": faults,
        "content": content,
        "issued_on": parse_date(content["issued_on"]),
        "drawing": drawing,
        "blocks": [_shown(block) for block in content.get("blocks", [])],
        "sheets": sheets,
        "pdf_missing": "" if settings.PDF_AVAILABLE else PDF_MISSING,
    }


def _shown(block: dict[str, Any]) -> dict[str, Any]:
    """A part of a document as its page wants it: drawings drawn, figures told from words."""
    if block["kind"] == "photos":
        return block | {"pictures": [_with_marks(picture) for picture in block["pictures"]]}
    if block["kind"] == "drawing":
        return block | {"svg": outline_drawing(**block["drawing"] | {"size_px": DRAWING_PX})}
    return with_cells(block) if block["kind"] == "table" else block


def _with_marks(picture: dict[str, Any]) -> dict[str, Any]:
    address = reverse("common:photo", args=[picture["sha256"], "large"])
    return picture | {"address": address, "svg": marks.marked(picture, address) if picture["marks"] else ""}


def _not_now(request: HttpRequest, refusal: PdfUnavailable) -> HttpResponse:
    return render(request, "papers/no_pdf.html", {"why": refusal.message}, status=503)
