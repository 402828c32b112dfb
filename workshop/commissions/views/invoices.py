"""Invoicing a commission's charges and deposits, looked at first, and crediting what was invoiced."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed, try_out
from workshop.papers.pages import paper_context

from ..access import commission_of
from ..actions import invoices as actions
from ..forms.invoices import PART, TAKEN_BACK, CreditForm, DepositInvoiceForm, InvoiceForm, percent_of
from ..models import Commission, CommissionInvoice, CommissionPayment
from .pages import shop_of, today_of

HINT = (
    "Once issued it is never changed: what is wrong in it is put right by a credit note. "
    "Your own terms; have them checked against your local law."
)


@owner_only
def invoice(request: HttpRequest, code: str) -> HttpResponse:
    """Invoice charges of a commission; “Look at it” shows the whole paper and issues nothing."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = InvoiceForm(posted(request), commission=shown, today=today_of(request, now))

    def deed() -> CommissionInvoice:
        base = request.build_absolute_uri("/")
        return actions.issue_invoice(shown, terms=form.terms, by=by, at=now, base_url=base, **form.told)

    return _page(request, shown, form, deed, title=f"Invoice {shown.code}", submit="Issue it", hint=HINT)


@owner_only
def invoice_deposit(request: HttpRequest, pk: int) -> HttpResponse:
    """Invoice a deposit as the payment on account it is."""
    payment = get_object_or_404(CommissionPayment.objects.select_related("commission__client"), pk=pk)
    by, now = hand_of(request), timezone.now()
    percent = percent_of(payment, shop_of(request).tax_percent)
    form = DepositInvoiceForm(posted(request), percent=percent, today=today_of(request, now))

    def deed() -> CommissionInvoice:
        base, rate = request.build_absolute_uri("/"), form.cleaned_data["tax_percent"]
        return actions.issue_deposit_invoice(
            payment, tax_percent=rate, terms=form.terms, by=by, at=now, base_url=base
        )

    return _page(
        request, payment.commission, form, deed, title="Invoice a deposit", submit="Issue it",
        hint="The invoice of the work takes it off again. A deposit that only secures may have no tax in it: ask your "
        "adviser.",
    )  # fmt: skip


@owner_only
def credit_note(request: HttpRequest, pk: int) -> HttpResponse:
    """Take something off an invoice by a credit note that names it."""
    rows = CommissionInvoice.objects.select_related("commission__client", "paper")
    told = get_object_or_404(rows, pk=pk, credits__isnull=True)
    by, now = hand_of(request), timezone.now()
    form = CreditForm(posted(request), invoice=told)

    def deed() -> CommissionInvoice:
        typed, base = form.cleaned_data, request.build_absolute_uri("/")
        deeds: dict[str, Any] = {"by": by, "at": now, "base_url": base}
        if (credit := form.credit) is not None:
            return actions.credit_by(told, credit, **deeds)
        if typed["what"] == PART:
            return actions.credit_deposit(told, typed["amount"], reason=typed["reason"], **deeds)
        give = actions.credit_taken_back if typed["what"] == TAKEN_BACK else actions.credit_whole
        return give(told, reason=typed["reason"], **deeds)

    return _page(
        request, told.commission, form, deed, title=f"Credit note off {told.paper.number}", submit="Issue it",
        hint=f"{told.paper.number} stays as it is; the credit note names it by number and day.",
    )  # fmt: skip


def _page(
    request: HttpRequest,
    shown: Commission,
    form: DeedForm,
    deed: Callable[[], CommissionInvoice],
    **context: Any,
) -> HttpResponse:
    looked: dict[str, Any] | None = None
    if request.method == "POST" and form.is_valid():
        if "preview" in request.POST:
            looked = try_out(form, lambda: paper_context(deed().paper))
        elif led_to := try_deed(request, form, lambda: deed().paper.get_absolute_url()):
            return redirect(led_to)
    context = {
        "commission": shown,
        "form": form,
        "back": reverse("commissions:account", args=[shown.code]),
        **context,
    }
    return render(request, "commissions/invoice.html", {**context, **(looked or {})}, status=status_of(form))
