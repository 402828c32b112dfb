"""Handing over, the page of one delivery, its arrival, and closing a commission."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of, money_only, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.gems.models import FinishedGem, Gone

from .. import handing_over
from ..access import commission_of
from ..actions import delivery as actions
from ..forms.delivery import ArrivedForm, CloseAccountForm, DeliverForm
from ..lines import stones_by_item
from ..models import CommissionItem, Delivery
from .pages import deed_page, today_of


@owner_only
def deliver(request: HttpRequest, code: str) -> HttpResponse:
    """Hand over or post what is finished; what stands in the way of the rest is named with its link."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    pieces = handing_over.going(shown)
    form = DeliverForm(posted(request), commission=shown, pieces=pieces, today=today_of(request, now))

    def deed() -> str:
        typed = form.cleaned_data
        names = ("on", "how", "tracking", "declared_value", "insured_by", "condition", "language")
        made = actions.deliver(
            shown, items=typed["items"], by=by, at=now, base_url=request.build_absolute_uri("/"), sure=form.is_sure,
            **{name: typed[name] for name in names},
        )  # fmt: skip
        return made.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        messages.success(request, "Handed over; the note is issued.")
        return redirect(led_to)
    context = {
        "commission": shown,
        "form": form,
        "ready": [piece for piece in pieces if piece.is_ready],
        "hindered": [piece for piece in pieces if not piece.is_ready],
    }
    return render(request, "commissions/deliver.html", context, status=status_of(form))


@money_only
@require_safe
def delivery(request: HttpRequest, code: str, delivery_code: str) -> HttpResponse:
    """One parcel or handing-over: what was in it, its note, whether it arrived."""
    shown = _delivery_of(code, delivery_code)
    items = list(shown.items.select_related("material"))
    context = {
        "commission": shown.commission,
        "delivery": shown,
        "pieces": _with_gems(items),
        "all_ended": not any(item.is_open for item in shown.commission.items.all()),
    }
    return render(request, "commissions/delivery.html", context)


def _with_gems(items: list[CommissionItem]) -> list[tuple[CommissionItem, list[FinishedGem]]]:
    stones = stones_by_item(items)
    found = FinishedGem.objects.filter(stone__in=[one for line in stones.values() for one in line])
    gems: dict[int, list[FinishedGem]] = {}
    for gem in found.exclude(gone_as=Gone.RECUT).select_related("stone__material"):
        gems.setdefault(gem.stone_id, []).append(gem)
    return [(item, [gem for one in stones[item.pk] for gem in gems.get(one.pk, [])]) for item in items]


def _delivery_of(code: str, delivery_code: str) -> Delivery:
    commission = commission_of(code)
    rows = Delivery.objects.select_related("commission__client", "note__superseded_by", "by")
    return get_object_or_404(rows, commission=commission, code=delivery_code.upper())


@owner_only
def arrived(request: HttpRequest, code: str, delivery_code: str) -> HttpResponse:
    """Note that it arrived."""
    shown, by, now = _delivery_of(code, delivery_code), hand_of(request), timezone.now()
    form = ArrivedForm(posted(request), delivery=shown, today=today_of(request, now))
    if request.method == "POST" and form.is_valid():

        def deed() -> str:
            actions.note_arrival(shown, by=by, at=now, **_typed(form, "on", "received_by"))
            return shown.get_absolute_url()

        if led_to := try_deed(request, form, deed):
            return redirect(led_to)
    context = {
        "commission": shown.commission, "form": form, "title": f"{shown.code} arrived", "submit": "Keep it",
        "back": shown.get_absolute_url(),
    }  # fmt: skip
    return render(request, "commissions/deed.html", context, status=status_of(form))


@owner_only
def close_account(request: HttpRequest, code: str) -> HttpResponse:
    """Close a commission whose pieces have all ended."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = CloseAccountForm(posted(request), commission=shown, today=today_of(request, now))
    return deed_page(
        request, shown, form,
        lambda: actions.close_commission(shown, by=by, at=now, **_typed(form, "on", "reason")),
        title=f"Close {shown.code}", submit="Close it", done=f"{shown.code} is closed.",
        template="commissions/close_account.html",
    )  # fmt: skip


def _typed(form: Any, *names: str) -> dict[str, Any]:
    return {name: form.cleaned_data[name] for name in names}
