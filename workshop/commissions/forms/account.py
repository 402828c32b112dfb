"""What may be typed about money: charges, payments, refunds, the deposit and the price of the work."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, MoneyInput, NumberInput, WeightInput
from workshop.common.models import Shop
from workshop.handbook.money import round_money

from ..models import ChargeKind, Commission, CommissionItem, PaidAs, PaidBy, Quote, QuoteState

ZERO = Decimal(0)
#: Kinds of sums booked by hand; the others come with a deed of their own.
BY_HAND = [
    (kind.value, kind.label)
    for kind in (ChargeKind.EXTRA, ChargeKind.POST, ChargeKind.WORK, ChargeKind.INSPECTION, ChargeKind.CREDIT)
]


class CommissionForm(DeedForm):
    """A form on one commission: sums in its currency, weights in the shop's unit, days from today back."""

    def __init__(self, *args: Any, commission: Commission, shop: Shop, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.commission, self.shop = commission, shop
        for field in self.fields.values():
            if isinstance(field, MoneyInput) and not field.unit:
                field.unit = commission.currency
            if isinstance(field, WeightInput):
                field.unit = shop.weight_unit
        if "on" in self.fields:
            self.fields["on"].initial = today

    def rounded(self, amount: Decimal) -> Decimal:
        """A kept sum with as many places as its currency has."""
        return round_money(amount, self.commission.currency)

    def take(self, *names: str) -> dict[str, Any]:
        """Typed values as the deed names them."""
        return {name: self.cleaned_data[name] for name in names}


class TaxedForm(CommissionForm):
    """With a sum that may hold tax: the rate of the accepted version, or the shop's."""

    tax_percent = NumberInput(label="Tax in it", unit="%", least=0, most=100, places=3, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        quote = accepted(self.commission)
        percent = quote.tax_percent if quote is not None else self.shop.tax_percent
        self.fields["tax_percent"].initial = f"{percent.normalize():f}"

    @property
    def tax(self) -> Decimal:
        """The rate typed, or none."""
        return self.cleaned_data.get("tax_percent") or ZERO


def accepted(commission: Commission) -> Quote | None:
    """The version that holds."""
    return commission.quotes.filter(state=QuoteState.ACCEPTED).first()


class ChargeForm(TaxedForm):
    """A sum put on the account by hand, or let off."""

    kind = forms.ChoiceField(label="What", choices=BY_HAND, initial=ChargeKind.EXTRA)
    words = forms.CharField(label="In words, for the client", max_length=200)
    amount = MoneyInput(label="Sum")
    tax_in = forms.ChoiceField(
        label="The sum", choices=[("in", "holds the tax"), ("top", "is without it")], widget=forms.RadioSelect,
        initial="in",
    )  # fmt: skip
    item = forms.ModelChoiceField(
        label="Piece", queryset=CommissionItem.objects.none(), required=False, empty_label="none of them"
    )
    on = DayInput(label="Day")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(["kind", "words", "amount", "tax_percent", "tax_in", "item", "on"])
        field: Any = self.fields["item"]
        field.queryset = self.commission.items.all()
        field.label_from_instance = lambda item: f"{item.number}: {item.wanted}"[:60]

    @property
    def told(self) -> dict[str, Any]:
        """What ``account.charge`` takes; a credit is typed without its sign."""
        typed = self.cleaned_data
        amount = -typed["amount"] if typed["kind"] == ChargeKind.CREDIT else typed["amount"]
        side = "gross" if typed["tax_in"] == "in" else "net"
        return {side: amount, "tax_percent": self.tax, **self.take("kind", "words", "item", "on")}


class ReasonForm(DeedForm):
    """Why."""

    reason = forms.CharField(max_length=200)


class TakeBackForm(ReasonForm):
    """Why a charge is taken back."""

    reason = forms.CharField(max_length=200, help_text="The client reads it on the account.")


class PayForm(CommissionForm):
    """Money that came."""

    amount = MoneyInput(label="Amount")
    paid_as = forms.ChoiceField(
        label="As", choices=[(PaidAs.BALANCE.value, "balance"), (PaidAs.DEPOSIT.value, "deposit")],
        widget=forms.RadioSelect, initial=PaidAs.BALANCE,
    )  # fmt: skip
    way = forms.ChoiceField(label="How", choices=PaidBy, initial=PaidBy.TRANSFER)
    on = DayInput(label="Day")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.commission.balance > 0:
            self.fields["amount"].initial = self.rounded(self.commission.balance)


class RefundForm(CommissionForm):
    """Money that went back."""

    amount = MoneyInput(label="Amount")
    way = forms.ChoiceField(label="How", choices=PaidBy, initial=PaidBy.TRANSFER)
    on = DayInput(label="Day")
    note = forms.CharField(label="Why", max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.commission.balance < 0:
            self.fields["amount"].initial = self.rounded(-self.commission.balance)


class GoAheadForm(CommissionForm):
    """The deposit that came, or why work begins without it."""

    deposit = MoneyInput(label="Deposit that came", required=False)
    way = forms.ChoiceField(label="How", choices=PaidBy, initial=PaidBy.TRANSFER)
    on = DayInput(label="Day it came")
    reason = forms.CharField(
        label="Without it, because",
        max_length=200,
        required=False,
        help_text="Only where the deposit did not come.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        quote = accepted(self.commission)
        missing = (quote.deposit if quote else ZERO) - (self.commission.paid - self.commission.refunded)
        if missing > 0:
            self.fields["deposit"].initial = self.rounded(missing)
        else:
            for name in ("deposit", "way", "on", "reason"):
                del self.fields[name]


class WorkForm(CommissionForm):
    """The work on a finished piece, at the sum worked out or another."""

    amount = MoneyInput(label="Sum")
    reason = forms.CharField(
        label="If another sum, why",
        max_length=150,
        required=False,
        help_text="The client reads it on the account.",
    )
    on = DayInput(label="Day")

    def __init__(self, *args: Any, due: Decimal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].initial = self.rounded(due)
