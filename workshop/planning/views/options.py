"""Options for a piece of rough, and choosing one of them."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from workshop.common.access import hand_of, recorder_only
from workshop.common.deeds import status_of, try_deed
from workshop.handbook.costing import unit_price
from workshop.handbook.errors import DoesNotAddUp, EmptySolid, HandbookError
from workshop.rough.models import RoughLot
from workshop.stones.models import Stone

from .. import actions, history, options
from ..access import lot_of, stone_of
from ..cuts import OFFERED, recommended_pavilion
from ..forms import ChooseForm, PieceForm
from ..forms.piece import initial_money
from ..options import Asked, Option

Piece = Stone | RoughLot
BY_NOTHING = Decimal(-1)
#: An ellipsoid fills pi/6 = 0.52 of its box, a block all of it; our own line between the two.
FULLER_THAN_A_PEBBLE = 0.65

#: What each column of the table is sorted by; money is only there for whoever sees it.
SORTS: dict[str, Callable[[Option], Any]] = {
    "outline": lambda option: option.label,
    "size": lambda option: option.width_mm * option.length_mm,
    "weight": lambda option: option.weight_ct,
    "recovery": lambda option: option.recovery_percent,
    "hours": lambda option: option.seconds,
    "window": lambda option: (option.window_percent, -_tilt(option)),
}
MONEY_SORTS: dict[str, Callable[[Option], Any]] = {
    "cost": lambda option: option.sums.cost if option.sums else BY_NOTHING,
    "price": lambda option: _said(option, "price"),
    "hour": lambda option: _said(option, "earned_per_hour"),
}


def _said(option: Option, name: str) -> Decimal:
    value = getattr(option.sums, name, None)
    return value if value is not None else Decimal("-Infinity")


def _tilt(option: Option) -> float:
    return 90.0 if option.window.tilt_deg is None else option.window.tilt_deg


@require_safe
def of_stone(request: HttpRequest, code: str) -> HttpResponse:
    """Options for a stone."""
    return _page(request, stone_of(code), reverse("planning:choose", args=[code]))


@require_safe
def of_lot(request: HttpRequest, code: str) -> HttpResponse:
    """Options for a piece that still lies in its lot."""
    return _page(request, lot_of(code), reverse("planning:choose_in_lot", args=[code]))


def _page(request: HttpRequest, piece: Piece, choose_url: str) -> HttpResponse:
    past = history.history()
    form = _form(request, piece, past)
    context: dict[str, Any] = {"piece": piece, "form": form, "past": past, "sort": "-weight"}
    if form.answered and "more" not in request.GET:
        context |= _answer(request, form, past)
        context["choose_url"] = f"{choose_url}?{request.GET.urlencode()}"
    context["choosable"] = hand_of(request).may_record and (not isinstance(piece, Stone) or piece.is_open)
    return render(request, "planning/options.html", context, status=status_of(form))


def _form(request: HttpRequest, piece: Piece, past: history.History) -> PieceForm:
    by, shop = hand_of(request), request.shop  # type: ignore[attr-defined]
    species = piece.material.species if piece.material else ""
    initial = _initial(piece)
    if by.sees_money:
        initial |= initial_money(shop, past.off_bench_percent, _spent(piece))
    return PieceForm.of(
        request,
        initial,
        currency=shop.currency,
        money=by.sees_money,
        species=species,
        per_ct=_per_carat(piece) if by.sees_money else Decimal(0),
    )


def _answer(request: HttpRequest, form: PieceForm, past: history.History) -> dict[str, Any]:
    asked = _asked(form)
    table = _table(form, asked, OFFERED, past)
    if table is None:
        return {}
    return {"table": table, "rows": _sorted(request, table.rows, money=form.money), "asked": asked}


def _asked(form: PieceForm) -> Asked:
    said = form.cleaned_data
    return Asked(form.piece(), form.cut(), float(said["ri"]), form.work(), free_ratio=said["free"])


def _table(
    form: PieceForm, asked: Asked, outlines: tuple[str, ...], past: history.History
) -> options.Table | None:
    """The table, or None with the form saying why there is none."""
    try:
        return options.options(asked, outlines, past, form.terms())
    except DoesNotAddUp as error:
        form.tell(error, "weight")
    except EmptySolid:
        words = "The flats, losses and skin leave nothing of the piece: at least one takes it all away."
        form.add_error(None, words)
    except HandbookError as error:
        form.tell(error)
    return None


def _sorted(request: HttpRequest, rows: list[Option], *, money: bool) -> list[Option]:
    wanted = request.GET.get("sort", "-weight")
    sorts = SORTS | MONEY_SORTS if money else SORTS
    key = sorts.get(wanted.lstrip("-"))
    return sorted(rows, key=key, reverse=wanted.startswith("-")) if key else rows


def _initial(piece: Piece) -> dict[str, Any]:
    """What is known of the piece already; the material's lower index, whose critical angle is the safer."""
    material = piece.material
    index = material.ri_low if material else ""
    said: dict[str, Any] = {
        "shape": "pebble", "skin_mm": "0", "style": "", "crown_angle": "34", "table": "57", "girdle": "3",
        "pavilion_angle": f"{recommended_pavilion(_float(index, 1.6)):g}", "ri": index,
        "sg": material.sg_typical if material else "",
        "mohs": f"{history.mohs_of(material.hardness):g}" if material and material.hardness else "",
        "care": history.needs_care(material.key) if material and material.from_handbook else False,
    }  # fmt: skip
    if isinstance(piece, Stone):
        said |= {
            "weight": f"{piece.weight_ct} ct", "length_mm": piece.length_mm, "width_mm": piece.width_mm,
            "height_mm": piece.depth_mm, "shape": likely_shape(piece),
        }  # fmt: skip
    return said


def likely_shape(stone: Stone) -> str:
    """Block or pebble, by how much of its box the stone fills; the person has the last word."""
    sides = (stone.length_mm, stone.width_mm, stone.depth_mm)
    if stone.material is None or None in sides:
        return "pebble"
    box = float(stone.length_mm * stone.width_mm * stone.depth_mm)  # type: ignore[operator]
    filled = float(stone.weight_ct) * 200 / _float(stone.material.sg_typical, 3.0) / box if box else 0.0
    return "block" if filled > FULLER_THAN_A_PEBBLE else "pebble"


def _float(text: str, otherwise: float) -> float:
    try:
        return float(text)
    except ValueError:
        return otherwise


def _spent(piece: Piece) -> Decimal | None:
    """What the stone cost until now; a piece in its lot has its share still to come."""
    return piece.cost_to_date if isinstance(piece, Stone) else None


def _per_carat(piece: Piece) -> Decimal:
    """What a carat of the lot cost, landed, or of the rough the stone came from."""
    if isinstance(piece, Stone):
        return unit_price(piece.rough_cost, piece.start_ct)
    return unit_price(piece.landed_cost, piece.weight_ct)


@require_POST
@recorder_only
def choose(request: HttpRequest, code: str) -> HttpResponse:
    """Make one option the stone's cut plan."""
    return _choose(request, stone_of(code))


@require_POST
@recorder_only
def choose_in_lot(request: HttpRequest, code: str) -> HttpResponse:
    """Make one option the plan for a piece that still lies in its lot."""
    return _choose(request, lot_of(code))


def _choose(request: HttpRequest, piece: Piece) -> HttpResponse:
    """Work the chosen line out anew from what was asked; no figure is taken from the page."""
    by, now, past = hand_of(request), timezone.now(), history.history()
    form, chosen = _form(request, piece, past), ChooseForm(request.POST)
    if form.answered and chosen.is_valid():
        # Worked out here, before the transaction: nobody waits on a search for the largest stone.
        asked = _asked(form)
        table = _table(form, asked, (chosen.cleaned_data["outline"],), past)
        if table is not None and table.rows:
            (option,) = table.rows

            def deed() -> str:
                return actions.choose_plan(
                    piece, option, asked, by=by, at=now, own_stones=past.hour_stones, share=options.SHARE,
                    terms=form.terms(),
                ).get_absolute_url()  # fmt: skip

            led_to = try_deed(request, chosen, deed)
            if led_to:
                return redirect(led_to)
    context = {"piece": piece, "form": form, "chosen": chosen, "past": past, "sort": "-weight"}
    return render(request, "planning/options.html", context, status=422)
