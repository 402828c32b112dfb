"""What may be typed about a sale: the gems and their prices, tax and fees, what was paid, and taking it back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField

from workshop.commissions.models import Commission
from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, MoneyInput, NumberInput
from workshop.common.models import Hand, Shop
from workshop.gems.models import FinishedGem
from workshop.handbook.money import round_money
from workshop.people.forms import SomebodyMixin
from workshop.people.models import Contact

from .actions import Asked
from .models import BY_HAND, Channel, PaymentWay, Sale, SaleLine
from .on_account import Agreed, agreed_for

#: How many gems besides the first one form sells.
MORE_GEMS = 7
INCLUDED, ON_TOP = "included", "on_top"
ZERO = Decimal(0)


class SellForm(SomebodyMixin, DeedForm):
    """One gem or several to one buyer, each with its price."""

    price = MoneyInput(label="Price")
    buyer = forms.ModelChoiceField(
        queryset=Contact.objects.all(), required=False, empty_label="nobody on the list"
    )
    new_buyer = forms.CharField(label="or a new buyer", max_length=160, required=False)
    sold_on = DayInput(label="Sold on")
    channel = forms.ChoiceField(label="Where", choices=Channel, initial=Channel.WORKSHOP)
    tax_percent = NumberInput(label="Tax", unit="%", least=0, most=100, places=3, required=False)
    tax = forms.ChoiceField(
        label="The prices",
        choices=[(INCLUDED, "hold the tax"), (ON_TOP, "are without it; it comes on top")],
        widget=forms.RadioSelect,
        initial=INCLUDED,
    )
    fees = MoneyInput(
        label="Fees you bear", required=False, help_text="Of the channel, the card, the payment."
    )
    paid_in_full = forms.BooleanField(label="Paid in full", required=False)
    paid = MoneyInput(label="or paid so far", required=False)
    paid_way = forms.ChoiceField(label="How", choices=BY_HAND, initial=PaymentWay.TRANSFER)
    notes = forms.CharField(max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    #: What is not asked where a commission says whose the gem is and bears the sum.
    TOLD_BY_COMMISSION = ("buyer", "new_buyer", "paid_in_full", "paid", "paid_way")

    def __init__(
        self,
        *args: Any,
        gem: FinishedGem,
        shop: Shop,
        today: date,
        commission: Commission | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.gem, self.commission = gem, commission
        if commission is not None:
            for name in self.TOLD_BY_COMMISSION:
                del self.fields[name]
        for number in range(1, MORE_GEMS + 1):
            self.fields[f"code_{number}"] = forms.CharField(label="Gem", max_length=12, required=False)
            self.fields[f"price_{number}"] = MoneyInput(label="Price", required=False)
        for field in self.fields.values():
            if isinstance(field, MoneyInput):
                field.unit = shop.currency
        if gem.price is not None:
            # The column keeps three places; typed money has as many as its currency.
            self.fields["price"].initial = round_money(gem.price, shop.currency)
        self.fields["sold_on"].initial = today
        self.fields["tax_percent"].initial = f"{shop.tax_percent.normalize():f}"
        self.agreed = agreed_for(commission, gem) if commission is not None else None
        if self.agreed is not None:
            self._begin_with(self.agreed, shop)

    def _begin_with(self, agreed: Agreed, shop: Shop) -> None:
        self.fields["price"].initial = round_money(agreed.price, shop.currency)
        self.fields["tax_percent"].initial = f"{agreed.tax_percent.normalize():f}"
        self.fields["tax"].initial = INCLUDED if agreed.tax_included else ON_TOP

    @property
    def more_gems(self) -> Iterator[tuple[BoundField, BoundField]]:
        """The rows for further gems."""
        for number in range(1, MORE_GEMS + 1):
            yield self[f"code_{number}"], self[f"price_{number}"]

    @property
    def asks_for_more(self) -> bool:
        """Whether a further gem was typed, so that its row is to be seen."""
        return any(code.value() or price.value() for code, price in self.more_gems)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if self.commission is None:
            self._check_buyer_and_paid(typed)
        self.asked = [Asked(self.gem, typed["price"])] if typed.get("price") is not None else []
        self.asked += self._read_more(typed)
        return typed

    def _check_buyer_and_paid(self, typed: dict[str, Any]) -> None:
        self.check_somebody("buyer")
        if (
            not typed.get("buyer")
            and not typed.get("new_buyer", "").strip()
            and "new_buyer" not in self.errors
        ):
            self.add_error("buyer", "Say who buys it: pick somebody or give a new name.")
        if typed.get("paid_in_full") and typed.get("paid"):
            self.add_error("paid", "Either paid in full or a part; leave one of them.")

    def _read_more(self, typed: dict[str, Any]) -> Iterator[Asked]:
        rows = [
            (number, typed.get(f"code_{number}", "").strip().upper()) for number in range(1, MORE_GEMS + 1)
        ]
        known = {
            gem.code: gem
            for gem in FinishedGem.objects.select_related("stone").filter(
                code__in=[code for _, code in rows if code]
            )
        }
        seen = {self.gem.code}
        for number, code in rows:
            price = typed.get(f"price_{number}")
            if not code:
                if price is not None:
                    self.add_error(f"code_{number}", "Say which gem, such as G-0012.")
                continue
            if code not in known:
                self.add_error(f"code_{number}", f"There is no gem {code}.")
            elif code in seen:
                self.add_error(f"code_{number}", f"{code} stands in this sale already.")
            else:
                gem = known[code]
                agreed = gem.price if price is None else price
                if agreed is None:
                    self.add_error(f"price_{number}", f"No price is asked for {code} yet; give one.")
                else:
                    yield Asked(gem, agreed)
            seen.add(code)

    def terms(self, *, by: Hand, at: datetime) -> dict[str, Any]:
        """What ``actions.sell`` takes besides the gems; a new buyer is added here, inside the deed."""
        typed = self.cleaned_data
        terms = {
            "tax_included": typed["tax"] == INCLUDED,
            "tax_percent": typed["tax_percent"] or ZERO,
            "fees": typed["fees"] or ZERO,
            **{name: typed[name] for name in ("sold_on", "channel", "notes")},
        }
        if self.commission is not None:
            return terms | {
                "commission": self.commission, "buyer": self.commission.client, "sure": self.is_sure,
            }  # fmt: skip
        return terms | {
            "buyer": self.somebody("buyer", "buyer", by=by, at=at),
            "paid": typed["paid"] or ZERO,
            **{name: typed[name] for name in ("paid_in_full", "paid_way")},
        }


class _MoneyBack(DeedForm):
    """A day, a way and a sum in the currency of the sale."""

    on = DayInput(label="Day")
    way = forms.ChoiceField(label="How", choices=BY_HAND, initial=PaymentWay.TRANSFER)

    def __init__(self, *args: Any, sale: Sale, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sale = sale
        if sale.commission_id is not None and "refund" in self.fields:
            # What goes back is booked on the commission's account.
            del self.fields["refund"], self.fields["way"]
        for field in self.fields.values():
            if isinstance(field, MoneyInput):
                field.unit = sale.currency
        self.fields["on"].initial = today
        if (
            "credit_note" in self.fields
            and not sale.invoices.filter(stands=True, credits__isnull=True).exists()
        ):
            del self.fields["credit_note"]


class _CreditedMixin(forms.Form):
    """What was invoiced is credited in the same deed, unless it is left for later."""

    credit_note = forms.BooleanField(label="Issue the credit note too", required=False, initial=True)


class PayForm(_MoneyBack):
    """Money that came for a sale, or went back."""

    direction = forms.ChoiceField(
        label="It",
        choices=[("came", "came in"), ("back", "went back to the buyer")],
        widget=forms.RadioSelect,
        initial="came",
    )
    amount = MoneyInput(label="Amount")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, sale: Sale, **kwargs: Any) -> None:
        super().__init__(*args, sale=sale, **kwargs)
        self.order_fields(["direction", "amount", "on", "way", "note"])
        if sale.owed > 0:
            self.fields["amount"].initial = round_money(sale.owed, sale.currency)
        else:
            self.fields["direction"].initial = "back"

    @property
    def signed(self) -> Decimal:
        """The amount; below zero when it went back."""
        amount: Decimal = self.cleaned_data["amount"]
        return -amount if self.cleaned_data["direction"] == "back" else amount


class CancelForm(_MoneyBack, _CreditedMixin):
    """Why a sale is taken back, and what the buyer gets back."""

    reason = forms.CharField(max_length=200, help_text="In the buyer's or your own words.")
    refund = MoneyInput(label="What goes back", required=False)

    def __init__(self, *args: Any, sale: Sale, **kwargs: Any) -> None:
        super().__init__(*args, sale=sale, **kwargs)
        self.order_fields(["reason", "on", "refund", "way", "credit_note"])
        if "refund" in self.fields:
            self.fields["refund"].initial = round_money(sale.paid, sale.currency)


class LowerForm(_MoneyBack, _CreditedMixin):
    """The gem the buyer keeps for less, the new price, and what goes back."""

    line = forms.ModelChoiceField(label="Gem", queryset=SaleLine.objects.none(), empty_label=None)
    price = MoneyInput(label="New price")
    refund = MoneyInput(label="What goes back", required=False)
    reason = forms.CharField(max_length=200, help_text="Such as: the buyer's laboratory found it heated.")

    def __init__(self, *args: Any, sale: Sale, **kwargs: Any) -> None:
        super().__init__(*args, sale=sale, **kwargs)
        self.order_fields(["line", "price", "reason", "refund", "on", "way", "credit_note"])
        field = self.fields["line"]
        field.queryset = sale.lines.select_related("gem")  # type: ignore[attr-defined]
        field.label_from_instance = lambda line: line.gem.code  # type: ignore[attr-defined]
        field.initial = field.queryset.first()  # type: ignore[attr-defined]
