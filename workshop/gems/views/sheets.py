"""A sheet of the cards and bag labels of many gems."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from workshop.common.say import carats
from workshop.papers.labels import Label, page_url
from workshop.papers.models import Paper, PaperKind
from workshop.papers.views_sheets import Choice, chosen, sheet_page

from ..filters import GemFilter
from ..models import FinishedGem

BACK = "gems:gems"


@require_safe
def sheet(request: HttpRequest) -> HttpResponse:
    """Cards and labels of the gems ticked, or of all that the list's filter finds."""

    def make() -> Choice:
        rows = FinishedGem.objects.select_related("stone__material", "stone__lot")
        found = GemFilter(request.GET, queryset=rows, request=request).qs
        gems = chosen(request, rows, found, "gem")
        standing = Paper.objects.standing().filter(
            kind=PaperKind.INFO_CARD, about__in=[gem.code for gem in gems]
        )
        cards = {paper.about: paper for paper in standing.select_related("superseded_by")}
        return Choice(
            back=BACK,
            cards=[cards[gem.code] for gem in gems if gem.code in cards],
            labels=[label_of(request, gem) for gem in gems],
            lacking=[gem.code for gem in gems if gem.code not in cards],
        )

    return sheet_page(request, make, back=BACK)


def label_of(request: HttpRequest, gem: FinishedGem) -> Label:
    """What stands on the bag of a gem."""
    material = gem.stone.material
    what = material.everyday_name if material else gem.stone.lot.sold_as
    return Label(gem.code, what, carats(gem.weight_ct), page_url(request, gem.get_absolute_url()))
