"""One piece of a draft: few boxes, and beside them what the cutter alone needs to know before promising."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from workshop.common import say
from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.errors import DeedRefused
from workshop.common.models import Shop

from ..access import item_of, quote_of
from ..actions import quotes as actions
from ..bench import Bench, bench
from ..forms.quotes import LineForm
from ..models import CommissionItem, Quote, QuoteLine
from ..quoting import WorkedOut, ask_of
from ..starts import start_of
from .pages import shop_of


@owner_only
def line(request: HttpRequest, code: str, version: int, number: int) -> HttpResponse:
    """The line of one piece in a draft. “Work it out” shows the figures and keeps nothing."""
    quote, item = quote_of(code, version), item_of(code, number)
    if not quote.is_draft:
        return redirect(quote)
    by, now, learned = hand_of(request), timezone.now(), bench()
    kept = quote.lines.filter(item=item).select_related("plan", "item", "quote").first()
    form = LineForm(
        posted(request),
        quote=quote,
        item=item,
        line=kept,
        start=start_of(item),
        initial=_rate(shop_of(request), quote),
    )
    looking = "preview" in request.POST
    found: WorkedOut | None = None
    if request.method == "POST" and form.is_valid():
        if looking:
            found = _found(quote, item, form, learned)
        elif led_to := try_deed(request, form, lambda: _keep(quote, item, form, by=by, at=now)):
            return redirect(led_to)
    elif request.method == "GET" and kept is not None:
        found = _again(quote, item, kept, learned)
    context = {
        "quote": quote, "commission": quote.commission, "item": item, "form": form, "kept": kept, "found": found,
        **(_shown(found, form, kept) if found else {}), "learned": learned, "looking": looking,
        "quietly": "quietly" in request.POST, "slips": _slips(form, quietly="quietly" in request.POST),
    }  # fmt: skip
    if looking and request.headers.get("HX-Request"):
        return render(request, "commissions/_quote_worked.html", context)
    return render(request, "commissions/quote_line.html", context, status=status_of(form))


def _rate(shop: Shop, quote: Quote) -> dict[str, Any]:
    """The shop's hour, where the quote is in the shop's currency and no line says otherwise."""
    if quote.lines.exists() or shop.currency != quote.currency:
        first = quote.lines.first()
        return {"hourly_rate": f"{first.hourly_rate:.2f}"} if first is not None else {}
    return {"hourly_rate": f"{shop.hourly_rate:.2f}"}


def _keep(quote: Quote, item: CommissionItem, form: LineForm, **who: Any) -> str:
    actions.set_line(quote, item, form.asked(), **who)
    return quote.get_absolute_url()


def _found(quote: Quote, item: CommissionItem, form: LineForm, learned: Bench) -> WorkedOut | None:
    """The figures, or None with the form saying why there are none."""
    try:
        return actions.work_out_line(quote, item, form.asked(), learned)[1]
    except DeedRefused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.message)
    return None


def _again(quote: Quote, item: CommissionItem, kept: Any, learned: Bench) -> WorkedOut | None:
    try:
        return actions.work_out_line(quote, item, ask_of(kept), learned)[1]
    except DeedRefused:
        # What was kept cannot be worked out any more (a plan was superseded): the boxes say what there was.
        return None


def _shown(found: WorkedOut, form: LineForm, kept: QuoteLine | None) -> dict[str, Any]:
    """The cases and what was typed over, of the boxes that were sent or of the line that is kept."""
    if form.is_bound:
        ask = form.asked()
    else:
        assert kept is not None
        ask = ask_of(kept)
    return {
        "cases": _cases(found, ask.rough_ct, ask.gems),
        "typed_over": _typed_over(found, form.quote.currency),
        "own": bool(ask.typed.facts()),
    }


def _cases(found: WorkedOut, ask_ct: Decimal | None, gems: int) -> list[dict[str, Any]]:
    """The three cases, a column each."""
    weights = found.weights or (None, None, None)
    names = ("low", "likely", "high")
    rows = zip(names, weights, found.seconds, found.prices, found.costs, found.earned, strict=True)
    return [
        {
            "name": name, "weight": weight, "seconds": seconds, "price": price, "cost": cost, "earned": earned,
            "left": 100 * weight * gems / ask_ct if weight is not None and ask_ct else None,
            "loss": 100 - 100 * weight * gems / ask_ct if weight is not None and ask_ct else None,
        }
        for name, weight, seconds, price, cost, earned in rows
    ]  # fmt: skip


def _typed_over(found: WorkedOut, currency: str) -> list[str]:
    """What was worked out where something typed stands now."""
    said = []
    if "weight_ct" in found.worked_out:
        low, high = (Decimal(found.worked_out[f"weight_{end}_ct"]) for end in ("low", "high"))
        said.append(f"{say.number(low, 2)}–{say.carats(high, 2)}")
    if "seconds" in found.worked_out:
        said.append(say.hours(found.worked_out["seconds"]))
    if "price" in found.worked_out:
        said.append(say.money(found.worked_out["price"], currency))
    return said


def _slips(form: LineForm, *, quietly: bool) -> list[tuple[str, str]]:
    """What is wrong so far; while somebody is still typing, an empty box is not wrong."""
    return [(str(box.label), str(error)) for box in form for error in box.errors if box.data or not quietly]


@owner_only
@require_POST
def out(request: HttpRequest, code: str, version: int, number: int) -> HttpResponse:
    """Take a piece out of a draft again."""
    quote, item = quote_of(code, version), item_of(code, number)
    try:
        actions.drop_line(quote, item, by=hand_of(request), at=timezone.now())
    except DeedRefused as refusal:
        messages.error(request, refusal.message)
    return redirect(quote)
