"""The bag label of a stone."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from workshop.common.access import fetch
from workshop.common.say import carats
from workshop.papers.labels import Label, label_response, page_url
from workshop.papers.views_sheets import Choice, chosen, sheet_page

from ..filters import StoneFilter
from ..models import Stone


@require_safe
def label(request: HttpRequest, code: str) -> HttpResponse:
    """Code, species, weight, and a code that leads to the stone's page."""
    stone = fetch(Stone.objects.select_related("material", "lot__material"), code)
    return label_response(request, label_of(request, stone))


@require_safe
def sheet(request: HttpRequest) -> HttpResponse:
    """A sheet of labels of the stones ticked, or of all that the list's filter finds."""

    def make() -> Choice:
        rows = Stone.objects.select_related("material", "lot__material")
        stones = chosen(request, rows, StoneFilter(request.GET, queryset=rows).qs, "stone")
        return Choice(back="stones:stones", labels=[label_of(request, stone) for stone in stones])

    return sheet_page(request, make, back="stones:stones")


def label_of(request: HttpRequest, stone: Stone) -> Label:
    """What stands on the bag of a stone."""
    material = stone.material or stone.lot.material
    what = material.everyday_name if material else stone.lot.sold_as
    return Label(stone.code, what, carats(stone.weight_ct), page_url(request, stone.get_absolute_url()))
