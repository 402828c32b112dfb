"""A commission's account: what was charged, what came and went back; the go-ahead and the price of the work."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of, money_only, owner_only
from workshop.common.deeds import posted
from workshop.common.errors import DeedRefused

from ..access import commission_of, item_of
from ..actions import account as actions
from ..actions import changes, invoices
from ..actions.work_price import WorkPrice, price_of_work
from ..forms.account import ChargeForm, GoAheadForm, PayForm, RefundForm, TakeBackForm, WorkForm, accepted
from ..models import CLOSED, Charge, Commission, CommissionItem, State
from .pages import deed_page, shop_of, today_of

#: The owner's own terms are no law.
LAW = "Your own terms; have them checked against your local law."


@money_only
@require_safe
def account(request: HttpRequest, code: str) -> HttpResponse:
    """What the client owes, and every row it comes from."""
    shown = commission_of(code)
    context = {
        "commission": shown,
        "charges": list(shown.charges.select_related("item", "takes_back", "taken_back_by", "by")),
        "payments": list(shown.payments.select_related("by")),
        "work": work_due(shown),
        "quote": accepted(shown),
        "expected": actions.expected(shown),
        "closed": shown.is_closed,
        **_invoices(shown),
    }
    return render(request, "commissions/account.html", context)


def _invoices(shown: Commission) -> dict[str, Any]:
    rows = shown.invoices.select_related("paper", "credits__paper", "deducted_in__paper", "commission")
    return {
        "invoices": [(one, bool(invoices.to_credit(one))) for one in rows],
        "to_invoice": invoices.to_invoice(shown),
        "deposits_bare": invoices.deposits_to_invoice(shown),
    }


def work_due(commission: Commission) -> list[tuple[CommissionItem, WorkPrice]]:
    """Finished pieces whose work is not on the account yet, and what it comes to."""
    if commission.state in CLOSED:
        return []
    due = []
    for item in commission.items.select_related("commission", "material"):
        if item.outcome in {"open", "delivered"} and not actions.has_work_charge(item):
            try:
                due.append((item, price_of_work(item)))
            except DeedRefused:
                # Not finished, not quoted, or sold as the shop's own: nothing is due by the quote.
                continue
    return due


def _page(request: HttpRequest, shown: Commission, form: Any, deed: Any, **words: Any) -> HttpResponse:
    return deed_page(
        request, shown, form, deed, at="#account", template="commissions/account_deed.html", **words
    )


def _typed(request: HttpRequest, shown: Commission) -> dict[str, Any]:
    return {"commission": shown, "shop": shop_of(request), "today": today_of(request, timezone.now())}


@owner_only
def charge(request: HttpRequest, code: str) -> HttpResponse:
    """Charge a sum, or credit one."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = ChargeForm(posted(request), **_typed(request, shown))
    return _page(
        request, shown, form, lambda: actions.charge(shown, by=by, at=now, **form.told),
        title=f"Charge or credit {shown.code}", submit="Book it", done="It is on the account.",
        hint="A credit is typed without a sign. What the shop sells of its own is booked by its sale.",
    )  # fmt: skip


@owner_only
def charge_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a wrong charge back."""
    row = get_object_or_404(Charge.objects.select_related("commission__client"), pk=pk)
    by, now = hand_of(request), timezone.now()
    form = TakeBackForm(posted(request))
    return _page(
        request, row.commission, form,
        lambda: actions.take_back_charge(row, reason=form.cleaned_data["reason"], by=by, at=now),
        title="Take a charge back", submit="Take it back", done="It is taken back; both rows stay.", row=row,
        hint="Its mirror is booked today. Neither row is ever deleted.",
    )  # fmt: skip


@owner_only
def pay(request: HttpRequest, code: str) -> HttpResponse:
    """Book money that came."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = PayForm(posted(request), **_typed(request, shown))
    names = ("amount", "paid_as", "way", "on", "note")
    return _page(
        request, shown, form, lambda: actions.pay(shown, by=by, at=now, sure=form.is_sure, **form.take(*names)),
        title=f"Money came for {shown.code}", submit="Book it", done="It is on the account.",
    )  # fmt: skip


@owner_only
def refund(request: HttpRequest, code: str) -> HttpResponse:
    """Book money that went back."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = RefundForm(posted(request), **_typed(request, shown))
    names = ("amount", "way", "on", "note")
    return _page(
        request, shown, form, lambda: actions.refund(shown, by=by, at=now, sure=form.is_sure, **form.take(*names)),
        title=f"Money went back for {shown.code}", submit="Book it", done="It is on the account.",
    )  # fmt: skip


@owner_only
def go_ahead(request: HttpRequest, code: str) -> HttpResponse:
    """Let the work begin, with the deposit or a reason."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = GoAheadForm(posted(request), **_typed(request, shown))

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in ("deposit", "way", "reason") if name in typed}
        on = typed.get("on") or today_of(request, now)
        changes.give_go_ahead(shown, on=on, by=by, at=now, sure=form.is_sure, **told)

    quote = accepted(shown)
    if shown.state != State.ACCEPTED:
        hint = ""
    elif "deposit" in form.fields:
        hint = "The deposit below was agreed in the accepted version. Clear it and say why, if work begins without it."
    else:
        hint = "The deposit agreed has come." if quote and quote.deposit else "No deposit was agreed."
    unsigned = [one.code for one in shown.intakes.all() if one.signed_at is None]
    if unsigned and shown.state == State.ACCEPTED:
        codes = ", ".join(unsigned)
        hint = f"{codes}: not signed by the client yet; have the receipt signed before work begins. {hint}"
    return _page(
        request, shown, form, deed, title=f"Go-ahead for {shown.code}", submit="Let the work begin",
        done=f"{shown.code} is in work.", hint=hint, law=LAW,
    )  # fmt: skip


@owner_only
def charge_work(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Charge the work on a finished piece: the sum worked out is shown before it is booked."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    shown = item.commission
    try:
        told = price_of_work(item)
    except DeedRefused as refusal:
        context = {"commission": shown, "title": "Charge the work", "refusal": refusal.message}
        return render(
            request,
            "commissions/changes_refused.html",
            context,
            status=422 if request.method == "POST" else 200,
        )
    form = WorkForm(posted(request), due=told.amount, **_typed(request, shown))
    return _page(
        request, shown, form, lambda: changes.charge_work(item, by=by, at=now, **form.take("amount", "reason", "on")),
        title=f"Charge the work on piece {number}", submit="Put it on the account", done="It is on the account.",
        work=told,
    )  # fmt: skip
