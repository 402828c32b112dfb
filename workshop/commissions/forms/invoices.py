"""What may be typed about invoices of a commission: which charges, which deposits to take off, what is credited."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import MoneyInput, NumberInput
from workshop.common.say import money
from workshop.handbook.money import round_money
from workshop.papers.forms_invoicing import TERMS, TermsForm

from ..actions import invoices
from ..models import Charge, Commission, CommissionInvoice, CommissionPayment
from .account import accepted

#: What a credit note may take off.
TAKEN_BACK, PART, WHOLE = "taken_back", "part", "whole"


class _Ticks(forms.ModelMultipleChoiceField):
    """Rows to tick, each with its sum."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, label: str, rows: Any, **kwargs: Any) -> None:
        super().__init__(queryset=rows, label=label, initial=list(rows), **kwargs)

    def label_from_instance(self, row: Any) -> str:
        if isinstance(row, Charge):
            return f"{row.words}: {money(row.gross, row.commission.currency)}"
        return f"{row.paper.number}: {money(row.gross, row.commission.currency)}"


class InvoiceForm(TermsForm):
    """The charges of one invoice and its terms."""

    def __init__(self, *args: Any, commission: Commission, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        charges = [row.pk for row in invoices.to_invoice(commission)]
        rows = Charge.objects.filter(pk__in=charges).select_related("commission")
        self.fields["charges"] = _Ticks("Charges", rows)
        deposits = [row.pk for row in invoices.deposits_to_deduct(commission)]
        if deposits:
            found = CommissionInvoice.objects.filter(pk__in=deposits).select_related("paper", "commission")
            self.fields["deduct"] = _Ticks("Deposits to take off", found, required=False)
        self.order_fields(["charges", "deduct", *TERMS, "sure", "once"])

    @property
    def told(self) -> dict[str, Any]:
        """What the deed takes besides the terms."""
        typed = self.cleaned_data
        return {"charges": list(typed["charges"]), "deduct": list(typed.get("deduct") or [])}


class DepositInvoiceForm(TermsForm):
    """The rate a deposit holds, and the terms of its invoice. It is paid: it is due on no day."""

    tax_percent = NumberInput(label="Tax in it", unit="%", least=0, most=100, places=3)

    def __init__(self, *args: Any, percent: Decimal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["due_on"].initial = None
        self.fields["due_on"].widget = forms.HiddenInput()
        self.fields["tax_percent"].initial = f"{percent.normalize():f}"
        self.order_fields(["tax_percent", *TERMS, "sure", "once"])


class CreditForm(DeedForm):
    """What is taken off an invoice, and why."""

    what = forms.ChoiceField(label="Take off", widget=forms.RadioSelect)
    amount = MoneyInput(label="How much of it", required=False)
    reason = forms.CharField(
        label="Why", max_length=200, help_text="Stands in the credit note.", required=False
    )

    def __init__(self, *args: Any, invoice: CommissionInvoice, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.invoice, currency = invoice, invoice.commission.currency
        choices = list(self._choices(currency))
        self.fields["what"].choices = choices  # type: ignore[attr-defined]
        self.fields["what"].initial = choices[0][0] if choices else None
        self.fields["amount"].unit = currency  # type: ignore[attr-defined]
        if invoice.is_deposit:
            self.fields["amount"].initial = round_money(invoice.left, currency)
        else:
            del self.fields["amount"]

    def _choices(self, currency: str) -> Any:
        left = money(self.invoice.left, currency)
        if self.invoice.is_deposit:
            yield PART, f"what goes back of the deposit, up to {left}"
            return
        off = sum((row.charge.gross for row, _ in invoices.to_credit(self.invoice)), Decimal(0))
        if off:
            yield TAKEN_BACK, f"charges that were taken back: {money(off, currency)}"
        for row in invoices.to_invoice(self.invoice.commission):
            if row.gross < 0:
                yield f"credit-{row.pk}", f"credit on the account, {row.words}: {money(-row.gross, currency)}"
        yield WHOLE, f"all that is left: {left}; its charges may be invoiced anew"

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        what = typed.get("what", "")
        if (
            not what.startswith("credit-")
            and not typed.get("reason", "").strip()
            and "reason" not in self.errors
        ):
            self.add_error("reason", "Say why: the reason stands in the credit note.")
        if what == PART and typed.get("amount") is None and "amount" not in self.errors:
            self.add_error("amount", "Say how much.")
        return typed

    @property
    def credit(self) -> Charge | None:
        """The credit of the account that is taken off, where one was picked."""
        what = self.cleaned_data["what"]
        return Charge.objects.get(pk=what.removeprefix("credit-")) if what.startswith("credit-") else None


def percent_of(payment: CommissionPayment, shop_percent: Decimal) -> Decimal:
    """The rate to begin a deposit's invoice with: that of the accepted version, or the shop's."""
    quote = accepted(payment.commission)
    return quote.tax_percent if quote is not None else shop_percent
