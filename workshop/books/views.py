"""Today, stock at cost, one stone's account, and the search box."""

from __future__ import annotations

from decimal import Decimal

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import fetch, hand_of, money_only
from workshop.common.charts import hours_chart
from workshop.common.models import Shop
from workshop.stones.models import Stone

from . import questions, recalled
from .lent import lent_today


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    """The clock, stones by stage, what waits, what needs an answer."""
    hand, now, shop = hand_of(request), timezone.now(), Shop.the()
    if hand.runs_the_shop and shop.set_up_at is None:
        return redirect("common:first_steps")
    day = shop.day_of(now)
    week = questions.hours_of_last_days(None if hand.sees_money else hand, day)
    context = {
        "day": day,
        "stages": questions.stones_by_stage(),
        "promises": questions.promises(day),
        "recalls": recalled.recalls_today(hand),
        "lent": lent_today(hand, day),
        "answers": questions.what_needs_an_answer(hand, now, shop.currency),
        "at_hand": questions.at_hand(hand) if hand.may_record else [],
        "week": week,
        "week_bench": sum(one.bench for one in week),
        "week_off": sum(one.off for one in week),
        "is_new": not Stone.objects.exists(),
    }
    return render(request, "books/today.html", context)


@money_only
@require_safe
def stock(request: HttpRequest) -> HttpResponse:
    """What is in the house and what it cost: the shop's own, and the goods of others apart, at nil."""
    own, ties = questions.own_stock(), questions.rough_cost_ties()
    context = {
        "own": own,
        "own_weight": sum((line.weight_ct for line in own), Decimal(0)),
        "own_cost": sum((line.cost for line in own), Decimal(0)),
        "own_count": sum(line.count for line in own),
        "others": questions.goods_of_others(),
        "ties": ties,
        "below_cost": questions.below_cost(),
        "now": timezone.now(),
    }
    return render(request, "books/stock.html", context)


@money_only
@require_safe
def account(request: HttpRequest, code: str) -> HttpResponse:
    """One stone's account: what it cost and what its hour earned, at the bench alone and truly."""
    stone = fetch(Stone.objects.select_related("lot", "material", "parent"), code)
    told = questions.account_of(stone, Shop.the().currency)
    chart = hours_chart([(word, hours) for word, _, _, hours in told.hours]) if told.hours else ""
    return render(request, "books/account.html", {"stone": stone, "account": told, "chart": chart})


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """One box for any code or word. A code leads straight to its page."""
    words = request.GET.get("q", "").replace("\x00", "").strip()[:80]
    if not words:
        return render(request, "books/find.html", {"find_text": ""})
    row = questions.by_code(words)
    if row is not None:
        return redirect(row.get_absolute_url())
    return render(
        request,
        "books/find.html",
        {"find_text": words, "found": questions.find(words, sees_money=hand_of(request).sees_money)},
    )
