"""The bag label of a stone."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from workshop.common.access import fetch
from workshop.common.say import carats
from workshop.papers.labels import Label, label_response, page_url

from ..models import Stone


@require_safe
def label(request: HttpRequest, code: str) -> HttpResponse:
    """Code, species, weight, and a code that leads to the stone's page."""
    stone = fetch(Stone.objects.select_related("material", "lot__material"), code)
    material = stone.material or stone.lot.material
    what = material.everyday_name if material else stone.lot.sold_as
    url = page_url(request, stone.get_absolute_url())
    return label_response(request, Label(stone.code, what, carats(stone.weight_ct), url))
