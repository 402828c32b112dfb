"""Weighing, and putting a reading right."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from workshop.common import say
from workshop.common.access import hand_of, recorder_only
from workshop.common.deeds import posted
from workshop.common.formfields import as_typed

from .. import actions
from ..access import stone_of, weighing_of
from ..forms import CorrectWeightForm, WeighForm
from .pages import back_url, deed_page


@recorder_only
def weigh(request: HttpRequest, code: str) -> HttpResponse:
    """Weigh a stone: two fields and one tap."""
    stone = stone_of(code)
    form = WeighForm(posted(request), unit=request.shop.weight_unit)  # type: ignore[attr-defined]
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        typed = form.cleaned_data
        actions.record_weight(
            stone,
            typed["weight"],
            by=by,
            at=now,
            cause=typed["cause"],
            parts=form.parts,
            note=typed["note"],
            sure=form.is_sure,
        )
        return back_url(request, stone)

    def done() -> str:
        weight = form.cleaned_data["weight"].ct
        return f"{stone.code} weighs {say.carats(weight)}; {say.carats(stone.weight_ct - weight)} went."

    return deed_page(
        request, stone, form, deed, title=f"Weigh {stone.code}", submit="Weigh", done=done,
        template="stones/weigh.html", last=stone.weighings.filter(counts=True).last(),
    )  # fmt: skip


@recorder_only
def correct_weight(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a wrong reading right; both stay."""
    weighing = weighing_of(pk)
    stone = weighing.stone
    form = CorrectWeightForm(posted(request), unit=request.shop.weight_unit)  # type: ignore[attr-defined]
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        typed = form.cleaned_data
        actions.correct_weight(weighing, typed["weight"], reason=typed["reason"], by=by, at=now)
        return back_url(request, stone)

    def done() -> str:
        return f"{say.carats(weighing.weight_ct)} is now {as_typed(form.cleaned_data['weight'])}; both stay."

    return deed_page(
        request, stone, form, deed, title="Correct a weight", submit="Correct it", done=done,
        template="stones/correct_weight.html", weighing=weighing,
    )  # fmt: skip
