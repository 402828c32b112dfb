"""Invoicing a sale, looked at first, and its credit notes."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted, status_of, try_deed, try_out
from workshop.papers.forms_invoicing import TermsForm, WhyForm
from workshop.papers.pages import paper_context

from . import actions
from .access import sale_of
from .models import Sale, SaleInvoice

#: Why no margin scheme is offered, told where the words on the tax are typed.
HINT = (
    "Once issued it is never changed: what is wrong in it is put right by a credit note. Loose precious stones are no "
    "second-hand goods (Directive 2006/112/EC, Art. 311(1)(1)), so there is no margin scheme here."
)


@owner_only
def invoice(request: HttpRequest, code: str) -> HttpResponse:
    """Invoice a sale; “Look at it” shows the whole paper and issues nothing."""
    shown, by, now = sale_of(code), hand_of(request), timezone.now()
    form = TermsForm(posted(request), today=request.shop.day_of(now))  # type: ignore[attr-defined]

    def deed() -> SaleInvoice:
        base = request.build_absolute_uri("/")
        return actions.issue_invoice(shown, terms=form.terms, by=by, at=now, base_url=base)

    looked: dict[str, Any] | None = None
    if request.method == "POST" and form.is_valid():
        if "preview" in request.POST:
            looked = try_out(form, lambda: paper_context(deed().paper))
        elif led_to := try_deed(request, form, lambda: deed().paper.get_absolute_url()):
            return redirect(led_to)
    context = {
        "sale": shown,
        "form": form,
        "title": f"Invoice {shown.code}",
        "submit": "Issue it",
        "hint": HINT,
    }
    return render(request, "sales/invoice.html", {**context, **(looked or {})}, status=status_of(form))


@owner_only
def credit(request: HttpRequest, code: str) -> HttpResponse:
    """Take off an invoice what the sale no longer comes to; or, where they agree, the whole of it."""
    shown, by, now = sale_of(code), hand_of(request), timezone.now()
    form = WhyForm(posted(request), initial={"reason": shown.cancelled_why})
    standing = actions.invoice_of(shown)
    difference = bool(standing and actions.to_credit(standing))

    def deed() -> SaleInvoice:
        give = actions.credit_difference if difference else actions.credit_whole
        base = request.build_absolute_uri("/")
        return give(shown, reason=form.cleaned_data["reason"], by=by, at=now, base_url=base)

    sent = request.method == "POST" and form.is_valid()
    if sent and (led_to := try_deed(request, form, lambda: deed().paper.get_absolute_url())):
        return redirect(led_to)
    context = {
        "sale": shown, "form": form, "title": f"Credit note for {shown.code}", "submit": "Issue it",
        "hint": _credit_hint(shown, standing, difference=difference),
    }  # fmt: skip
    return render(request, "sales/deed.html", context, status=status_of(form))


def _credit_hint(shown: Sale, standing: SaleInvoice | None, *, difference: bool) -> str:
    if standing is None:
        return f"No invoice stands for {shown.code}."
    number = standing.paper.number
    if difference:
        return f"{number} says more than {shown.code} now comes to: the difference is credited, the invoice stays."
    return f"{number} agrees with {shown.code}: all of it is credited, and the sale may be invoiced anew."
