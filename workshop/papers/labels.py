"""Bag labels: no numbered papers, just a PDF to stick on a bag and write on with a pencil."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from workshop.common.models import Shop

from . import pdf, qr
from .kinds import LABEL


@dataclass(frozen=True)
class Label:
    """What stands on a bag: the code, what is in it, its weight in words, and the address of its page."""

    code: str
    what: str
    weight: str
    url: str


def draw_label(label: Label) -> bytes:
    """The PDF of a label. Raises pdf.PdfUnavailable without Pango."""
    return pdf.render(LABEL, {"label": label}, {"qr.svg": qr.svg(label.url)})


def page_url(request: HttpRequest, path: str) -> str:
    """Where a telephone reaches a page: at the shop's own address when it has one, else where it is asked from."""
    base = Shop.the().base_url or f"{request.scheme}://{request.get_host()}"
    return base.rstrip("/") + path


def label_response(request: HttpRequest, label: Label) -> HttpResponse:
    """The label as a PDF to print, or a page that says why there is none."""
    try:
        data = draw_label(label)
    except pdf.PdfUnavailable as refusal:
        return render(request, "papers/no_pdf.html", {"why": refusal.message}, status=503)
    except pdf.CannotRender as refusal:
        return render(request, "papers/no_pdf.html", {"why": refusal.message}, status=422)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{label.code}-label.pdf"'
    return response
