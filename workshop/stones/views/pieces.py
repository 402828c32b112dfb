"""One stone becomes several, or breaks."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from workshop.common import say
from workshop.common.access import hand_of, recorder_only
from workshop.common.deeds import posted

from .. import actions
from ..access import stone_of
from ..forms import BreakForm, SplitForm
from .cautions import cautions_about
from .pages import back_url, deed_page


@recorder_only
def split(request: HttpRequest, code: str) -> HttpResponse:
    """Saw or cleave a stone into several. Without a script: one row more, and a look at the gap, are buttons."""
    stone = stone_of(code)
    unit = request.shop.weight_unit  # type: ignore[attr-defined]
    asked = request.POST.get("show", "")
    form = SplitForm(posted(request), unit=unit, more=1 if asked == "row" else 0)
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        children = actions.split_stone(
            stone,
            form.pieces,
            by=by,
            at=now,
            kerf_ct=form.gone("kerf"),
            chips_ct=form.gone("chips"),
            lost_ct=form.gone("lost"),
            reason=form.cleaned_data["reason"],
            sure=form.is_sure,
        )
        made = ", ".join(child.code for child in children)
        messages.success(request, f"{stone.code} was made into {made}. Write the codes on their bags.")
        return stone.get_absolute_url()

    gap = form.gap(stone) if form.is_bound and form.is_valid() else None
    if asked and form.is_bound:
        return _look(request, stone, form, gap)
    return deed_page(
        request, stone, form, deed, title=f"Make several of {stone.code}", submit="Close it and open the pieces",
        moments=("sawing",), template="stones/split.html", gap=gap,
    )  # fmt: skip


def _look(request: HttpRequest, stone: Any, form: SplitForm, gap: Any) -> HttpResponse:
    """The form as typed, one row longer or with its gap worked out; nothing is kept."""
    shown = {
        "stone": stone,
        "form": form,
        "title": f"Make several of {stone.code}",
        "submit": "Close it and open the pieces",
        "back": back_url(request, stone),
        "cautions": cautions_about(stone, ("sawing",)),
        "gap": gap,
    }
    return render(request, "stones/split.html", shown, status=422 if form.errors else 200)


@recorder_only
def break_(request: HttpRequest, code: str) -> HttpResponse:
    """A stone broke in work."""
    stone = stone_of(code)
    by, now = hand_of(request), timezone.now()
    unit = request.shop.weight_unit  # type: ignore[attr-defined]
    form = BreakForm(posted(request), unit=unit, sees_money=by.sees_money)

    def deed() -> str:
        typed = form.cleaned_data
        actions.break_stone(
            stone,
            reason=typed["reason"],
            fragments=typed["fragments"],
            cost_on_survivors=form.on_survivors,
            by=by,
            at=now,
        )
        return stone.get_absolute_url()

    def done() -> str:
        left = form.cleaned_data["fragments"]
        return f"{stone.code} is broken in work" + (
            f"; {say.carats(left.ct)} are left of it." if left else "."
        )

    return deed_page(
        request, stone, form, deed, title=f"{stone.code} broke", submit="It broke", done=done,
        also_split=True,
    )  # fmt: skip
