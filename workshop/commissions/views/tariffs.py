"""Tariffs of the shop: the list, one read out in plain words and tried, writing, changing and ending one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import fetch, hand_of, money_only, owner_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed
from workshop.common.models import Shop
from workshop.handbook.errors import HandbookError
from workshop.handbook.money import tax_in_gross, tax_on_net
from workshop.handbook.tariffs import Priced, Rate, WorkToPrice, price_work

from ..actions import tariffs as actions
from ..forms.tariffs import (
    EndTariffForm,
    TariffForm,
    TryTariffForm,
    as_typed,
    fresh,
    sent_back,
)
from ..models import QuoteState, Tariff
from ..tariffs import rates_of, said_lines

#: Which box of the try-out answers for which figure of the work.
BOXES = {
    "finished_ct": "finished",
    "rough_ct": "rough",
    "seconds": "hours",
    "facets": "facets",
    "gems": "gems",
}


@money_only
@require_safe
def tariffs(request: HttpRequest) -> HttpResponse:
    """Every tariff, the newest first."""
    rows = Tariff.objects.annotate(line_count=Count("lines")).order_by("-from_on", "-pk")
    today = _shop(request).day_of(timezone.now())
    context = {"tariffs": [(row, state_of(row, today)) for row in rows]}
    return render(request, "commissions/tariffs.html", context)


def state_of(tariff: Tariff, today: date) -> tuple[str, str]:
    """Whether it holds on a day: the word and the tone of its badge."""
    if tariff.is_valid_on(today):
        return "holds", "work"
    return ("from later", "wait") if tariff.from_on > today else ("ended", "gone")


@money_only
@require_safe
def tariff(request: HttpRequest, code: str) -> HttpResponse:
    """One tariff in plain words, and what a piece of work would cost by it."""
    shown = tariff_of(code)
    rates = rates_of(shown)
    asked = set(request.GET) & set(TryTariffForm.base_fields)
    form = TryTariffForm(request.GET if asked else None, rates=list(rates))
    priced = _tried(form, rates, shown.currency) if asked and form.is_valid() else None
    quotes = shown.quotes.exclude(state=QuoteState.DRAFT)
    context = {
        "tariff": shown,
        "state": state_of(shown, _shop(request).day_of(timezone.now())),
        "lines": said_lines(rates, shown.currency),
        "form": form,
        "priced": priced,
        "tax": None if priced is None else _tax(shown, priced.amount),
        "quoted": quotes.count(),
    }
    return render(request, "commissions/tariff.html", context, status=status_of(form))


def _tried(form: TryTariffForm, rates: Sequence[Rate], currency: str) -> Priced | None:
    typed = form.cleaned_data
    work = WorkToPrice(
        finished_ct=typed["finished"].ct if typed["finished"] else None,
        rough_ct=typed["rough"].ct if typed["rough"] else None,
        seconds=None if typed["hours"] is None else int(typed["hours"] * 3600),
        facets=typed["facets"],
        species=typed["species"],
        gems=typed["gems"] or 1,
        rough_pieces=1 if typed["rough_pieces"] is None else typed["rough_pieces"],
        extras=tuple(typed.get("extras") or ()),
    )
    try:
        return price_work(rates, work, currency)
    except HandbookError as error:
        field = BOXES.get(str(error.said.get("needs") or error.said.get("field") or ""))
        form.add_error(field, str(error))
        return None


def _tax(tariff: Tariff, amount: Decimal) -> dict[str, Decimal]:
    """What of a price is tax, or comes on top of it."""
    if tariff.tax_included:
        tax = tax_in_gross(amount, tariff.tax_percent, tariff.currency)
        return {"net": amount - tax, "tax": tax, "gross": amount}
    tax = tax_on_net(amount, tariff.tax_percent, tariff.currency)
    return {"net": amount, "tax": tax, "gross": amount + tax}


@owner_only
def add_tariff(request: HttpRequest) -> HttpResponse:
    """Write a new tariff, from the shop's own rate or from an earlier one (``?from=T-0001``)."""
    shop, now = _shop(request), timezone.now()
    begun = fresh(shop, shop.day_of(now))
    if earlier := request.GET.get("from"):
        begun = {**as_typed(tariff_of(earlier)), "from_on": begun["from_on"], "until_on": None}

    def deed(form: TariffForm) -> Tariff:
        return actions.add_tariff(form.facts, form.rates, by=hand_of(request), at=now)

    return _sheet(request, begun, deed, {"title": "New tariff", "back": reverse("commissions:tariffs")})


@owner_only
def edit_tariff(request: HttpRequest, code: str) -> HttpResponse:
    """Change a tariff; what was quoted by it keeps its figures."""
    shown, now = tariff_of(code), timezone.now()

    def deed(form: TariffForm) -> Tariff:
        return actions.change_tariff(shown, form.facts, form.rates, by=hand_of(request), at=now)

    told = {
        "title": f"Change {shown.code}",
        "tariff": shown,
        "back": shown.get_absolute_url(),
        "quoted": shown.quotes.exclude(state=QuoteState.DRAFT).count(),
    }
    return _sheet(request, as_typed(shown), deed, told)


def _sheet(
    request: HttpRequest, begun: dict[str, Any], deed: Callable[[TariffForm], Tariff], told: dict[str, Any]
) -> HttpResponse:
    """The price sheet. A button for more rows shows it again with what was typed, and keeps nothing."""
    shop = _shop(request)
    if grow := request.POST.get("grow", ""):
        form = TariffForm(initial=sent_back(request.POST), shop=shop, grow=grow)
    else:
        form = TariffForm(posted(request), initial=begun, shop=shop)
        if request.method == "POST" and form.is_valid():
            led_to = try_deed(request, form, lambda: deed(form).get_absolute_url())
            if led_to:
                return redirect(led_to)
    return render(
        request, "commissions/tariff_form.html", {"form": form, "grown": grow, **told}, status=status_of(form)
    )


@owner_only
def end_tariff(request: HttpRequest, code: str) -> HttpResponse:
    """Say until when a tariff holds."""
    shown, now = tariff_of(code), timezone.now()
    today = _shop(request).day_of(now)
    form = EndTariffForm(posted(request), initial={"until_on": max(today, shown.from_on)})

    def deed() -> str:
        until_on = form.cleaned_data["until_on"]
        return actions.end_tariff(shown, until_on=until_on, by=hand_of(request), at=now).get_absolute_url()

    return _deed_page(request, shown, form, deed, title=f"End {shown.code}", submit="End it")


@owner_only
def delete_tariff(request: HttpRequest, code: str) -> HttpResponse:
    """Take away a tariff nothing was quoted by."""
    shown, now = tariff_of(code), timezone.now()
    form = DeedForm(posted(request))

    def deed() -> str:
        actions.delete_tariff(shown, by=hand_of(request), at=now)
        return reverse("commissions:tariffs")

    return _deed_page(request, shown, form, deed, title=f"Take away {shown.code}", submit="Take it away")


def _deed_page(
    request: HttpRequest, shown: Tariff, form: DeedForm, deed: Callable[[], str], *, title: str, submit: str
) -> HttpResponse:
    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {"tariff": shown, "form": form, "title": title, "submit": submit}
    return render(request, "commissions/tariff_deed.html", context, status=status_of(form))


def tariff_of(code: str) -> Tariff:
    """The tariff with a code."""
    return fetch(Tariff.objects.prefetch_related("lines"), code)


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop
