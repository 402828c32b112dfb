"""The list of sales, a sale, selling gems, being paid, lowering a price, and taking a sale back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.commissions.access import commission_of
from workshop.common import say
from workshop.common.access import hand_of, money_only, owner_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed, try_out
from workshop.common.models import JournalEntry, Shop
from workshop.common.paging import page_of

from . import actions
from .access import gem_of, lines_of, sale_of
from .figures import SaleFigures, figures_of
from .filters import SaleFilter
from .forms import CancelForm, LowerForm, PayForm, SellForm
from .models import Sale

SORTS = {
    "code": "pk",
    "sold": "sold_on",
    "buyer": "buyer__name",
    "channel": "channel",
    "net": "net",
    "gross": "gross",
    "paid": "paid",
}
SUMMED = ("net", "tax", "gross", "paid", "fees", "cost")
ZERO = Decimal(0)
STANDS = Q(cancelled_on__isnull=True)


@money_only
@require_safe
def sales(request: HttpRequest) -> HttpResponse:
    """Every sale, newest first, with what they came to together."""
    rows = Sale.objects.select_related("buyer").prefetch_related("lines__gem")
    found = SaleFilter(request.GET, queryset=rows)
    totals = _totals(found.qs)
    page = page_of(request, found.qs, sorts=SORTS, default="-sold", total=totals["count"])
    context = {
        "filter": found,
        "page": page,
        "totals": totals,
        "sort": "-sold",
        "any": totals["count"] or request.GET,
    }
    return render(request, "sales/sales.html", context, status=status_of(found.form))


def _totals(rows: Any) -> dict[str, Any]:
    """Sums over the whole filter; what was taken back is listed but earned nothing."""
    sums: dict[str, Any] = {column: Sum(column, filter=STANDS) for column in SUMMED}
    totals = rows.order_by().aggregate(count=Count("pk"), standing=Count("pk", filter=STANDS), **sums)
    totals |= {column: totals[column] or ZERO for column in SUMMED}
    totals["owed"] = totals["gross"] - totals["paid"]
    totals["margin"] = totals["net"] - totals["fees"] - totals["cost"]
    return totals


@money_only
@require_safe
def sale(request: HttpRequest, code: str) -> HttpResponse:
    """One sale: its gems, tax, payments, and what it truly earned."""
    shown = sale_of(code)
    context = {
        "sale": shown,
        "told": figures_of(shown, lines_of(shown)),
        "payments": shown.payments.all(),
        "events": _events(shown),
        **_invoices(shown),
    }
    return render(request, "sales/sale.html", context)


def _invoices(shown: Sale) -> dict[str, Any]:
    rows = list(shown.invoices.select_related("paper", "credits__paper"))
    standing = next((one for one in rows if one.is_invoice and one.stands), None)
    due = bool(standing and actions.to_credit(standing))
    return {"invoices": rows, "standing_invoice": standing, "credit_due": due}


def _events(shown: Sale) -> list[dict[str, Any]]:
    entries = JournalEntry.objects.filter(about=shown.code).select_related("by")
    return [
        {
            "at": entry.happened_at,
            "text": entry.verb[:1].upper() + entry.verb[1:],
            "who": entry.by,
            "detail": " · ".join([*_told_sums(entry, shown.currency), *filter(None, [entry.reason])]),
        }
        for entry in entries
    ]


def _told_sums(entry: JournalEntry, currency: str) -> list[str]:
    """The sums of one deed: what came or went, and what a gem's price fell to."""
    told = [(key, entry.after[key]) for key in ("gross", "amount", "refund") if entry.after.get(key)]
    told += [(code, price) for code, price in entry.after.items() if code in entry.before and code != "paid"]
    words = {"gross": "", "amount": "", "refund": "back "}
    return [
        f"{words.get(key, key + ' ')}{say.money(Decimal(str(sum_)), currency)}"
        for key, sum_ in told
        if Decimal(str(sum_))
    ]


@owner_only
def sell(request: HttpRequest, code: str) -> HttpResponse:
    """Sell a gem, alone or with others. “Work it out” shows what it comes to and keeps nothing."""
    gem, by, now, shop = gem_of(code), hand_of(request), timezone.now(), _shop(request)
    asked = request.GET.get("commission", "")
    commission = commission_of(asked) if asked else None
    form = SellForm(posted(request), gem=gem, shop=shop, today=shop.day_of(now), commission=commission)
    looking = "preview" in request.POST

    def deed() -> Sale:
        return actions.sell(form.asked, by=by, at=now, **form.terms(by=by, at=now))

    worked_out: SaleFigures | None = None
    if request.method == "POST" and form.is_valid():
        if looking:
            worked_out = try_out(form, lambda: _worked_out(deed()))
        elif led_to := try_deed(request, form, lambda: deed().get_absolute_url()):
            return redirect(led_to)
    refusal = "" if form.is_bound else _why_not(gem)
    context = {"gem": gem, "form": form, "told": worked_out, "refusal": refusal, "commission": commission}
    return render(request, "sales/sell.html", context, status=status_of(form))


def _worked_out(made: Sale) -> SaleFigures:
    return figures_of(made, lines_of(made))


def _why_not(gem: Any) -> str:
    """Why a gem cannot be sold, told before anything is typed."""
    if not gem.is_own:
        return f"{gem.code} belongs to {gem.whose}; the shop cannot sell it."
    return f"{gem.code} is {gem.get_gone_as_display()} since {gem.gone_on}." if gem.gone_on else ""


@owner_only
def pay(request: HttpRequest, code: str) -> HttpResponse:
    """Book money that came, or went back."""
    shown, by, now = sale_of(code), hand_of(request), timezone.now()
    form = PayForm(posted(request), sale=shown, today=_today(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in ("on", "way", "note")}
        actions.pay(shown, amount=form.signed, by=by, at=now, **told)

    return _deed_page(request, shown, form, deed, title=f"Payment for {shown.code}", submit="Book it")


@owner_only
def lower(request: HttpRequest, code: str) -> HttpResponse:
    """Let the buyer keep a gem for less."""
    shown, by, now = sale_of(code), hand_of(request), timezone.now()
    form = LowerForm(posted(request), sale=shown, today=_today(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in ("reason", "on", "way", "credit_note") if name in typed}
        actions.lower_price(
            typed["line"], typed["price"], refund=typed.get("refund") or ZERO, by=by, at=now,
            base_url=request.build_absolute_uri("/"), **told,
        )  # fmt: skip

    return _deed_page(
        request, shown, form, deed, title=f"Lower a price in {shown.code}", submit="Lower it",
        hint="The old price stays in the journal. An invoice stays as it is; a credit note takes the difference off.",
    )  # fmt: skip


@owner_only
def cancel(request: HttpRequest, code: str) -> HttpResponse:
    """Take a sale back: its gems return to stock."""
    shown, by, now = sale_of(code), hand_of(request), timezone.now()
    form = CancelForm(posted(request), sale=shown, today=_today(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in ("reason", "on", "way", "credit_note") if name in typed}
        actions.cancel_sale(
            shown, refund=typed.get("refund") or ZERO, by=by, at=now, base_url=request.build_absolute_uri("/"), **told
        )  # fmt: skip

    return _deed_page(
        request, shown, form, deed, title=f"Take {shown.code} back", submit="Take it back",
        hint="Its gems return to stock and their costs are open again. Look at each before it is offered anew.",
    )  # fmt: skip


def _deed_page(
    request: HttpRequest, shown: Sale, form: DeedForm, deed: Callable[[], None], **context: Any
) -> HttpResponse:
    """The form of one deed on a sale; after the deed, back to the sale."""
    if request.method == "POST" and form.is_valid():

        def led() -> str:
            deed()
            return shown.get_absolute_url()

        if led_to := try_deed(request, form, led):
            return redirect(led_to)
    return render(
        request, "sales/deed.html", {"sale": shown, "form": form, **context}, status=status_of(form)
    )


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop


def _today(request: HttpRequest, now: datetime) -> date:
    day: date = _shop(request).day_of(now)
    return day
