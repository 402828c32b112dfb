"""The depth budget and the recut: pages that keep nothing."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of
from workshop.common.deeds import status_of
from workshop.handbook import tables
from workshop.handbook.errors import EmptySolid, HandbookError
from workshop.handbook.money import round_money
from workshop.handbook.outlines import LABELS
from workshop.stones.models import Stone

from .. import depth, figures, history, recut
from ..access import asked_code, plan_of, stone_of
from ..cuts import Cut
from ..forms import DepthForm, RecutForm


@require_safe
def depth_budget(request: HttpRequest) -> HttpResponse:
    """A plan held against the depth at the shallow spot. ``?plan=`` or ``?stone=`` fills the form in."""
    form = DepthForm.of(request, DepthForm.INITIAL | _depth_initial(request))
    context: dict[str, Any] = {"form": form}
    if form.answered:
        context |= _budget(form)
    return render(request, "planning/depth.html", context, status=status_of(form))


def _budget(form: DepthForm) -> dict[str, Any]:
    said, cut = form.cleaned_data, form.cut()
    try:
        found = depth.budget(
            cut,
            width_mm=said["width_mm"],
            room_mm=form.room_mm,
            index=float(said["ri"]),
            gravity=float(said["sg"]),
        )
    except HandbookError as error:
        form.tell(error)
        return {}
    shown = [found.planned, *found.ways]
    return {"budget": found, "ways": shown, "tilt_deg": depth.TILT_DEG}


def _depth_initial(request: HttpRequest) -> dict[str, Any]:
    if code := asked_code(request, "plan"):
        plan = plan_of(code)
        return {
            "outline": plan.outline, "style": plan.style, "sides": plan.sides, "point": not plan.keel,
            "crown_angle": f"{plan.crown_angle_deg:f}", "pavilion_angle": f"{plan.pavilion_angle_deg:f}",
            "table": f"{plan.table_percent:f}", "girdle": f"{plan.girdle_percent:f}", "length_mm": plan.length_mm,
            "width_mm": plan.width_mm, "ri": plan.refractive_index, "sg": plan.specific_gravity,
        }  # fmt: skip
    if code := asked_code(request, "stone"):
        return _of_stone(stone_of(code)) | {"style": ""}
    return {}


def _of_stone(stone: Stone) -> dict[str, Any]:
    said: dict[str, Any] = {"length_mm": stone.length_mm, "width_mm": stone.width_mm}
    if stone.shape in LABELS:
        said["outline"] = stone.shape
    if stone.material is not None:
        said |= {"ri": stone.material.ri_low, "sg": stone.material.sg_typical}
        if stone.material.from_handbook:
            said["material"] = stone.material.key
    return said


@require_safe
def recut_or_accept(request: HttpRequest) -> HttpResponse:
    """What a recut takes and what it must bring. ``?stone=`` fills the form in."""
    by, shop = hand_of(request), request.shop  # type: ignore[attr-defined]
    initial = RecutForm.INITIAL | _recut_initial(request)
    if by.sees_money:
        initial["rate"] = f"{round_money(shop.hourly_rate, shop.currency)}"
    form = RecutForm.of(request, initial, currency=shop.currency, money=by.sees_money)
    context: dict[str, Any] = {"form": form}
    if form.answered:
        context |= _recut(form, shop.currency)
    return render(request, "planning/recut.html", context, status=status_of(form))


def _recut_initial(request: HttpRequest) -> dict[str, Any]:
    code = asked_code(request, "stone")
    if not code:
        return {}
    stone = stone_of(code)
    return _of_stone(stone) | {"before": f"{stone.weight_ct} ct", "depth_mm": stone.depth_mm}


def _recut(form: RecutForm, currency: str) -> dict[str, Any]:
    said = form.cleaned_data
    try:
        outcome = _outcome(said)
    except EmptySolid as error:
        form.tell(error, "by_mm" if said["doing"] != "window" else "off_mm")
        return {}
    except HandbookError as error:
        form.tell(error)
        return {}
    past = history.history()
    hours = _hours(said, outcome, past)
    shown = {"outcome": outcome, "hours": hours, "past": past, "loss": said["before"].ct - outcome.weight_ct}
    return shown | (_money(form, outcome, hours["seconds"], currency) if form.money else {})


def _outcome(said: dict[str, Any]) -> recut.Outcome:
    stone = recut.Measured(
        cut=Cut(
            outline=said["outline"],
            style=said["style"],
            length_to_width=float(said["length_mm"] / said["width_mm"]),
            keel=False,
            crown_deg=float(said["crown_angle"]),
            table_percent=float(said["table"]),
            girdle_percent=float(said["girdle"]),
        ),
        length_mm=float(said["length_mm"]),
        width_mm=float(said["width_mm"]),
        depth_mm=float(said["depth_mm"]),
        weight_ct=said["before"].ct,
        index=float(said["ri"]),
        gravity=float(said["sg"]),
    )
    if said["doing"] == "known":
        return recut.known(stone, said["after"].ct)
    if said["doing"] == "window":
        target = said["target_angle"]
        return recut.closed(
            stone, target_deg=None if target is None else float(target), off_mm=float(said["off_mm"] or 0)
        )
    return recut.cut_deeper(stone, said["doing"], float(said["by_mm"]))


def _hours(said: dict[str, Any], outcome: recut.Outcome, past: history.History) -> dict[str, Any]:
    if said["hours"]:
        whole = figures.seconds(float(said["hours"]))
        return {"low": whole, "seconds": whole, "high": whole, "said": True}
    row = tables.material(said["material"]) if said["material"] else None
    hardness = history.hardness_factor(row.species, float(row.mohs_low)) if row else 1.0
    found = recut.hours_of(outcome, hardness, history.needs_care(said["material"]), past)
    return {
        "low": figures.seconds(found.low), "seconds": figures.seconds(found.middle),
        "high": figures.seconds(found.high), "said": False,
    }  # fmt: skip


def _money(form: RecutForm, outcome: recut.Outcome, seconds: int, currency: str) -> dict[str, Any]:
    said = form.cleaned_data
    if said["value_now"] is None:
        return {}
    fee = said["fee"]
    if fee is None:
        fee = recut.fee_of(seconds, said["rate"] or Decimal(0), currency)
    sums = recut.sums(
        said["before"].ct,
        outcome,
        per_carat_before=said["value_now"],
        per_carat_after=said["value_after"],
        fee=fee,
        currency=currency,
    )
    return {"sums": sums, "fee": fee, "fee_said": said["fee"] is not None}
