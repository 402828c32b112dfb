"""Finishing a stone: from the scale, the gauge and the eye to a gem."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from workshop.common import photos, say
from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.models import Hand
from workshop.stones import actions as stones
from workshop.stones.access import stone_of
from workshop.stones.models import Stage, Stone

from .. import actions
from ..forms import FinishForm, PublicPicture
from ..models import FinishedGem


@owner_only
def finish(request: HttpRequest, code: str) -> HttpResponse:
    """Weigh, measure and describe a stone that is off the dop."""
    stone = stone_of(code)
    if request.method != "POST" and (gem := _gem_of(stone)) is not None:
        return redirect(gem)
    shop = request.shop  # type: ignore[attr-defined]
    form = FinishForm(posted(request), request.FILES or None, stone=stone, shop=shop)
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        gem = actions.finish_gem(
            stone,
            form.measured(),
            by=by,
            at=now,
            public_photo=form.chosen_picture,
            oil_left=form.oil,
            sure=form.is_sure,
        )
        add_pictures(gem, form, by=by, at=now)
        messages.success(
            request, f"{gem.code}: {say.carats(gem.weight_ct)}, {gem.recovery_from_whole} % of the rough."
        )
        return gem.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    ready = stone.stage == Stage.OFF_DOP and not stone.ending
    shown = {"stone": stone, "form": form, "ready": ready}
    return render(request, "gems/finish.html", shown, status=status_of(form))


def add_pictures(gem: FinishedGem, form: PublicPicture, *, by: Hand, at: datetime, caption: str = "") -> None:
    """Keep the pictures that came along; the first may become the public one."""
    kept = [photos.keep(sizes, by=by, at=at) for sizes in form.cleaned_data["pictures"]]
    bound = [stones.add_stone_photo(gem.stone, one, caption=caption, by=by, at=at) for one in kept]
    if bound and form.takes_new_picture:
        actions.describe_gem(gem, {"public_photo": bound[0]}, by=by, at=at)


def _gem_of(stone: Stone) -> FinishedGem | None:
    return FinishedGem.objects.filter(stone=stone).last() if stone.stage == Stage.FINISHED else None
