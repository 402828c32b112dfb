"""The bag label of a lot."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from workshop.common.access import fetch
from workshop.common.say import carats, grams
from workshop.papers.labels import Label, label_response, page_url

from .models import RoughLot


@require_safe
def label(request: HttpRequest, code: str) -> HttpResponse:
    """Code, what it was sold as, weight, and a code that leads to the lot's page."""
    lot = fetch(RoughLot.objects.select_related("material"), code)
    what = lot.material.everyday_name if lot.material else lot.sold_as
    weight = f"{grams(lot.weight_ct)} ({carats(lot.weight_ct)})"
    return label_response(request, Label(lot.code, what, weight, page_url(request, lot.get_absolute_url())))
