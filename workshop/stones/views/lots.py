"""Deeds on a lot that reach its stones: sorting it, a late bill, weight that left it, drawing a stone."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from workshop.common import photos
from workshop.common.access import hand_of, owner_only, recorder_only
from workshop.common.deeds import posted, posted_files, status_of, try_deed, try_out
from workshop.common.models import Shop
from workshop.handbook.units import from_carats
from workshop.rough.access import lot_of
from workshop.rough.figures import GroupFigures, of_groups, per_unit
from workshop.rough.models import RoughLot
from workshop.rough.sharing import gap_ct

from .. import actions
from ..forms.lots import (
    MOST_GROUPS,
    BillForm,
    CorrectLotForm,
    DrawForm,
    LoseForm,
    SortForm,
    group_rows,
    rows_as_typed,
    rows_of,
)
from ..models import Stone

#: Buttons of the sorting table that do not save.
LOOK, ONE_MORE = "preview", "one_more"


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop


@dataclass(frozen=True)
class SoldShare:
    """A sold stone whose share would be another one now; it keeps the one it was sold with."""

    code: str
    difference: Decimal


@dataclass(frozen=True)
class SortOutcome:
    """What a sort comes to: each group's share, the gap, and what would differ on sold stones."""

    groups: list[GroupFigures]
    gap_ct: Decimal
    weight_ct: Decimal
    cost: Decimal
    sold: list[SoldShare]


def outcome_of(lot: RoughLot) -> SortOutcome:
    """Read off a sorted lot, while a rehearsed sort still stands."""
    draws, losses = list(lot.draws.all()), list(lot.losses.all())
    groups = of_groups(list(lot.groups.all()), draws, losses)
    return SortOutcome(
        groups=groups,
        gap_ct=gap_ct(lot),
        weight_ct=sum((one.group.weight_ct for one in groups), Decimal(0)),
        cost=sum((one.cost for one in groups), Decimal(0)),
        sold=sold_shares(lot),
    )


def sold_shares(lot: RoughLot) -> list[SoldShare]:
    """The sold stones of a lot that carry another share than they would now."""
    sold = Stone.objects.filter(lot=lot, cost_fixed=True).exclude(cost_difference=0).order_by("pk")
    return [SoldShare(stone.code, stone.cost_difference) for stone in sold]


@owner_only
def sort(request: HttpRequest, code: str) -> HttpResponse:
    """Sort a lot into groups and choose how its cost is shared. Two buttons look or add a row; one saves."""
    lot, shop, by, now = lot_of(code), _shop(request), hand_of(request), timezone.now()
    if ONE_MORE in request.POST:
        return _one_more_row(request, lot, shop)
    form = SortForm(posted(request), initial={"rule": lot.share_rule})
    rows = group_rows(posted(request), shop=shop, initial=rows_of(lot, shop.rough_unit))
    outcome = None
    # Both are asked, so that one press shows every mistake.
    if request.method == "POST" and all([form.is_valid(), rows.is_valid()]):

        def deed() -> RoughLot:
            return actions.sort_lot(
                lot, rows.specs(), rule=form.cleaned_data["rule"], by=by, at=now, sure=form.is_sure
            )

        if LOOK in request.POST:
            outcome = try_out(form, lambda: outcome_of(deed()))
        elif led_to := try_deed(request, form, lambda: deed().get_absolute_url()):
            return redirect(led_to)
    refused = rows.is_bound and not rows.is_valid()
    return render(
        request,
        "stones/sort.html",
        {"lot": lot, "form": form, "rows": rows, "outcome": outcome, "slips": rows.slips},
        status=422 if refused else status_of(form),
    )


def _one_more_row(request: HttpRequest, lot: RoughLot, shop: Shop) -> HttpResponse:
    typed = [*rows_as_typed(request.POST), {"factor": 1}]
    form = SortForm(initial={"rule": request.POST.get("rule", lot.share_rule)})
    rows = group_rows(shop=shop, initial=typed[:MOST_GROUPS])
    return render(request, "stones/sort.html", {"lot": lot, "form": form, "rows": rows})


@dataclass(frozen=True)
class BillOutcome:
    """What a late bill comes to."""

    before: Decimal
    after: Decimal
    per_gram: Decimal | None
    cost_left: Decimal
    apart: Decimal
    sold: list[SoldShare]


def _bill_outcome(before: Decimal, lot: RoughLot) -> BillOutcome:
    return BillOutcome(
        before=before,
        after=lot.landed_cost,
        per_gram=per_unit(lot.landed_cost, from_carats(lot.weight_ct, "g")),
        cost_left=lot.cost_left,
        apart=lot.recoverable_tax,
        sold=sold_shares(lot),
    )


@owner_only
def charge(request: HttpRequest, code: str) -> HttpResponse:
    """Book a late bill or a seller's credit; “Work it out” shows what changes and keeps nothing."""
    lot, shop, by, now = lot_of(code), _shop(request), hand_of(request), timezone.now()
    form = BillForm(
        posted(request),
        shop=shop,
        today=shop.day_of(now),
        initial={"currency": lot.currency or shop.currency, "rate": _plain(lot.rate)},
    )
    outcome = None
    if request.method == "POST" and form.is_valid():

        def deed() -> RoughLot:
            return actions.charge_lot(lot, form.lines(), paid_on=form.cleaned_data["paid_on"], by=by, at=now)

        if LOOK in request.POST:
            outcome = try_out(form, lambda: _bill_outcome(lot.landed_cost, deed()))
        elif led_to := try_deed(request, form, lambda: deed().get_absolute_url()):
            return redirect(led_to)
    return render(
        request, "stones/charge.html", {"lot": lot, "form": form, "outcome": outcome}, status=status_of(form)
    )


def _plain(rate: Decimal | None) -> str:
    return "" if rate is None or rate == 1 else f"{rate.normalize():f}"


@recorder_only
def lose(request: HttpRequest, code: str) -> HttpResponse:
    """Weight left the lot without becoming a stone."""
    lot, shop, by, now = lot_of(code), _shop(request), hand_of(request), timezone.now()
    form = LoseForm(posted(request), lot=lot, shop=shop, today=shop.day_of(now), by=by)

    def deed() -> str:
        actions.lose_from_lot(lot, by=by, at=now, **form.loss())
        return lot.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    return render(request, "stones/lose.html", {"lot": lot, "form": form}, status=status_of(form))


@recorder_only
def draw(request: HttpRequest, code: str) -> HttpResponse:
    """Take a piece from the lot, to be followed on its own."""
    lot, shop, by, now = lot_of(code), _shop(request), hand_of(request), timezone.now()
    form = DrawForm(posted(request), posted_files(request), lot=lot, shop=shop, today=shop.day_of(now))

    def deed() -> str:
        at = form.moment(now)
        stone = actions.draw_stone(
            lot, form.cleaned_data["weight"], by=by, at=at, sure=form.is_sure, **form.piece()
        )
        for sizes in form.cleaned_data["pictures"]:
            actions.add_stone_photo(stone, photos.keep(sizes, by=by, at=at), by=by, at=at)
        return stone.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    return render(request, "stones/draw.html", {"lot": lot, "form": form}, status=status_of(form))


@owner_only
def correct_lot(request: HttpRequest, code: str) -> HttpResponse:
    """Put a lot's mistyped weight right."""
    lot, by, now = lot_of(code), hand_of(request), timezone.now()
    form = CorrectLotForm(posted(request), shop=_shop(request))

    def deed() -> str:
        typed = form.cleaned_data
        actions.correct_lot_weight(
            lot, typed["weight"], reason=typed["reason"], by=by, at=now, sure=form.is_sure
        )
        return lot.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    return render(request, "stones/correct_lot.html", {"lot": lot, "form": form}, status=status_of(form))
