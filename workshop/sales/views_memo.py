"""Memos and holds: the list, one memo, lending, sending, having back, settling, and holding a gem."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import fetch, hand_of, money_only, owner_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed
from workshop.common.models import Shop
from workshop.common.paging import page_of

from .access import gem_of
from .actions import holds, memo_ends, memo_in, memo_steps, memos
from .filters_memo import MemoFilter
from .forms_memo import (
    BackForm,
    ExtendForm,
    HoldForm,
    HomeForm,
    LendForm,
    ReasonForm,
    SendForm,
    SettleForm,
    TakeForm,
)
from .models import Hold, LineState, Memo, MemoLine

SORTS = {"code": "pk", "party": "party__name", "back": "return_by"}


@money_only
@require_safe
def memo_list(request: HttpRequest) -> HttpResponse:
    """Every memo, newest first, and the gems held for somebody."""
    rows = Memo.objects.select_related("party").prefetch_related("lines__gem")
    found = MemoFilter(request.GET, queryset=rows, today=_today(request))
    page = page_of(request, found.qs, sorts=SORTS, default="-code")
    held = Hold.objects.filter(lifted_on__isnull=True).select_related("gem", "contact")
    context = {
        "filter": found,
        "page": page,
        "sort": "-code",
        "holds": [(one, one.holds_on(_today(request))) for one in held],
        "today": _today(request),
        "any": page.total or request.GET,
    }
    return render(request, "sales/memos.html", context, status=status_of(found.form))


@money_only
@require_safe
def memo(request: HttpRequest, code: str) -> HttpResponse:
    """One memo: its stones, what became of each, and what is owed should none come back."""
    shown = memo_of(code)
    lines = list(shown.lines.select_related("gem", "lot", "sale"))
    context = {
        "memo": shown,
        "lines": lines,
        "total": sum(line.price for line in lines),
        "at_stake": memo_steps.owed_if_lost(shown),
        "overdue": (_today(request) - shown.return_by).days if shown.is_overdue(_today(request)) else 0,
        "to_charge": any(line.state == LineState.DAMAGED and not line.sale_id for line in lines),
    }
    return render(request, "sales/memo.html", context)


def memo_of(code: str) -> Memo:
    """The memo with a code."""
    return fetch(Memo.objects.select_related("party", "note", "made_by"), code)


def line_of(pk: int) -> MemoLine:
    """A line of a memo."""
    return get_object_or_404(MemoLine.objects.select_related("memo__party", "gem", "lot"), pk=pk)


@owner_only
def lend(request: HttpRequest) -> HttpResponse:
    """Set gems aside for somebody and issue the note to be signed."""
    by, now = hand_of(request), timezone.now()
    asked = request.GET.get("gem", "")
    form = LendForm(posted(request), initial={"code_1": asked[:12]}, **_typed(request))

    def deed() -> str:
        base = request.build_absolute_uri("/")
        return memos.prepare_memo(form.asked, by=by, at=now, base_url=base, **form.told).get_absolute_url()

    return _page(
        request, form, deed, template="sales/lend.html", title="Lend on memo", submit="Set aside and write the note",
        hint="Nothing leaves yet: the note is printed and signed first. An empty price takes the one that is asked.",
    )  # fmt: skip


@owner_only
def take(request: HttpRequest) -> HttpResponse:
    """Goods are lent to the shop."""
    by, now = hand_of(request), timezone.now()
    form = TakeForm(posted(request), **_typed(request))
    return _page(
        request, form, lambda: memo_in.take_memo(form.asked, by=by, at=now, **form.told).get_absolute_url(),
        template="sales/lend.html", title="Take in on memo", submit="Take it in",
        hint="It stays theirs: never your stock, at nil in the books. Weigh it as it comes, even from friends.",
    )  # fmt: skip


@owner_only
def send(request: HttpRequest, code: str) -> HttpResponse:
    """The receiver signed; the gems leave."""
    shown, by, now = memo_of(code), hand_of(request), timezone.now()
    form = SendForm(posted(request), **_typed(request))

    def deed() -> str:
        typed = form.cleaned_data
        return memos.send_memo(
            shown, signed_by=typed["signed_by"], on=typed["on"], by=by, at=now
        ).get_absolute_url()

    return _page(request, form, deed, memo=shown, title=f"Send {shown.code}", submit="It left")


@owner_only
def drop(request: HttpRequest, code: str) -> HttpResponse:
    """A memo that is not sent after all."""
    shown, by, now = memo_of(code), hand_of(request), timezone.now()
    form = ReasonForm(posted(request))
    return _page(
        request, form,
        lambda: memos.drop_memo(shown, reason=form.cleaned_data["reason"], by=by, at=now).get_absolute_url(),
        memo=shown, title=f"Drop {shown.code}", submit="Drop it", hint="Its gems are free again, its note is void.",
    )  # fmt: skip


@owner_only
def extend(request: HttpRequest, code: str) -> HttpResponse:
    """Put the day off."""
    shown, by, now = memo_of(code), hand_of(request), timezone.now()
    form = ExtendForm(posted(request))

    def deed() -> str:
        typed = form.cleaned_data
        return memos.extend(shown, typed["until"], reason=typed["reason"], by=by, at=now).get_absolute_url()

    return _page(
        request, form, deed, memo=shown, title=f"Put {shown.code} off", submit="Put it off",
        hint="Write it to the receiver too, and have it confirmed.",
    )  # fmt: skip


@owner_only
def back(request: HttpRequest, pk: int) -> HttpResponse:
    """A stone is back, or goes back to who lent it."""
    line, by, now = line_of(pk), hand_of(request), timezone.now()
    if line.lot is not None:
        home = HomeForm(posted(request), **_typed(request))

        def give() -> str:
            memo_in.give_back_line(line, by=by, at=now, **_given(home, "weighed", "on"))
            return line.memo.get_absolute_url()

        return _page(
            request, home, give, memo=line.memo, title=f"Give {line.lot.code} back", submit="It is home",
            hint=f"{line.words}: came at {line.weight_ct} ct.",
        )  # fmt: skip
    form = BackForm(posted(request), **_typed(request))

    def deed() -> str:
        told = _given(form, "weighed", "on", "damage", "back_to", "clarity")
        memos.return_line(line, by=by, at=now, sure=form.is_sure, **told)
        return line.memo.get_absolute_url()

    return _page(
        request, form, deed, memo=line.memo, title="Back from memo", submit="It is back",
        hint=f"{line.words}: left at {line.weight_ct} ct. Weigh it and look at it under the loupe before you sign.",
    )  # fmt: skip


@owner_only
def settle(request: HttpRequest, code: str) -> HttpResponse:
    """What the receiver owes: one sale of what was sold, lost or is charged."""
    shown, by, now = memo_of(code), hand_of(request), timezone.now()
    form = SettleForm(posted(request), memo=shown, **_typed(request))
    return _page(
        request, form,
        lambda: memo_ends.settle(shown, by=by, at=now, **form.told).get_absolute_url(),
        memo=shown, title=f"Settle {shown.code}", submit="Make the sale",
        hint="Prices are net and begin with those of the memo. A lost stone leaves the books as lost, and its price is "
        "owed in the same sale; invoice it there.",
    )  # fmt: skip


@owner_only
def hold(request: HttpRequest, code: str) -> HttpResponse:
    """Hold a gem for somebody until a day."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = HoldForm(posted(request))

    def deed() -> str:
        holds.hold_gem(gem, by=by, at=now, **_given(form, "contact", "until", "note"))
        return gem.get_absolute_url()

    standing = Hold.objects.filter(gem=gem, lifted_on__isnull=True).select_related("contact").first()
    return _page(
        request, form, deed, gem=gem, standing=standing, title=f"Hold {gem.code}", submit="Hold it",
        hint="Until that day it is sold to nobody else.",
    )  # fmt: skip


@owner_only
def lift(request: HttpRequest, pk: int) -> HttpResponse:
    """Lift a hold."""
    found = get_object_or_404(Hold.objects.select_related("gem", "contact"), pk=pk)
    by, now = hand_of(request), timezone.now()
    form = ReasonForm(posted(request))

    def deed() -> str:
        holds.lift_hold(found, reason=form.cleaned_data["reason"], sure=form.is_sure, by=by, at=now)
        return found.gem.get_absolute_url()

    return _page(
        request, form, deed, gem=found.gem, title=f"Lift the hold on {found.gem.code}", submit="Lift it",
        hint=f"Held for {found.contact} until {found.until}.",
    )  # fmt: skip


def _given(form: DeedForm, *names: str) -> dict[str, Any]:
    return {name: form.cleaned_data[name] for name in names}


def _typed(request: HttpRequest) -> dict[str, Any]:
    return {"shop": _shop(request), "today": _today(request)}


def _page(
    request: HttpRequest,
    form: DeedForm,
    deed: Callable[[], str],
    *,
    template: str = "sales/memo_deed.html",
    **context: Any,
) -> HttpResponse:
    """The form of one deed; after the deed, on to where it led."""
    sent = request.method == "POST" and form.is_valid()
    if sent and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    return render(request, template, {"form": form, **context}, status=status_of(form))


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop


def _today(request: HttpRequest, now: datetime | None = None) -> date:
    day: date = _shop(request).day_of(now or timezone.now())
    return day
