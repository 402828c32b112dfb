"""What may be typed when a piece ends, goods change hands, a design changes, or all of it is cancelled."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, LengthInput, MoneyInput, WeightInput
from workshop.handbook.outlines import LABELS
from workshop.handbook.units import Weight
from workshop.stones.models import Stone

from ..actions.cancel import Reached
from ..models import PaidBy
from .account import CommissionForm, TaxedForm, accepted


class StonePick(CommissionForm):
    """With the stone it is about, where there are several."""

    stone = forms.ModelChoiceField(queryset=Stone.objects.none(), empty_label=None)

    def __init__(self, *args: Any, stones: Sequence[Stone], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["stone"]
        field.queryset = Stone.objects.filter(pk__in=[stone.pk for stone in stones])
        field.label_from_instance = lambda stone: f"{stone.code}, {stone.weight_ct} ct, {stone.state_word}"
        if len(stones) == 1:
            field.initial, field.widget = stones[0].pk, forms.HiddenInput()


class UnworkedForm(TaxedForm):
    """What the scale says of what goes back, and the fee for looking at it."""

    given_back = WeightInput(label="What goes back weighs")
    note = forms.CharField(label="Why it is not cut", max_length=300, required=False)
    fee = MoneyInput(label="Fee for the inspection", required=False)
    on = DayInput(label="Day")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(["given_back", "note", "fee", "tax_percent", "on"])


class BrokenForm(StonePick, TaxedForm):
    """What happened, what is left, where it goes, and what the work costs."""

    reason = forms.CharField(label="What happened", max_length=300)
    fragments = WeightInput(
        label="What is left of it", required=False, help_text="All fragments together, loose and clean."
    )
    handed_back = forms.BooleanField(label="The fragments go to the client now", required=False)
    goes_on = forms.BooleanField(label="Another stone takes its place; the piece stays open", required=False)
    price = MoneyInput(
        label="Work charged all the same", required=False, help_text="As agreed in your terms."
    )
    on = DayInput(label="Day")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(
            ["stone", "reason", "fragments", "handed_back", "goes_on", "price", "tax_percent", "on"]
        )


class LostForm(StonePick):
    """Where it was last seen."""

    last_seen = forms.CharField(label="Where it was last seen, and when", max_length=200)
    goes_on = forms.BooleanField(label="Another stone takes its place; the piece stays open", required=False)
    on = DayInput(label="Day")


class FoundForm(StonePick):
    """Where it was."""

    where = forms.CharField(label="Where it was", max_length=200)


class DropForm(TaxedForm):
    """Why a piece is not done, what of the client's goes back, and what is due for work done on it."""

    reason = forms.CharField(label="Why", max_length=200)
    given_back = WeightInput(label="What goes back weighs", required=False)
    fee = MoneyInput(label="Due for work done", required=False)
    on = DayInput(label="Day")

    def __init__(self, *args: Any, has_goods: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(["reason", "given_back", "fee", "tax_percent", "on"])
        if not has_goods:
            del self.fields["given_back"]


class RestForm(CommissionForm):
    """What is left here goes home."""

    weighed = WeightInput(label="What goes back weighs")
    reason = forms.CharField(label="How", max_length=200, required=False, help_text="Collected, by post …")
    on = DayInput(label="Day")


class _Bought(StonePick):
    """Goods that become the shop's: what they cost in the shop's own money, where the sum is in another."""

    own_cost = MoneyInput(label="In your own currency", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["own_cost"].unit = self.shop.currency  # type: ignore[attr-defined]
        if self.commission.currency == self.shop.currency:
            del self.fields["own_cost"]

    @property
    def own(self) -> Decimal | None:
        """The cost in the shop's currency, where it was asked for."""
        return self.cleaned_data.get("own_cost")


class BuyForm(_Bought):
    """The client's stone is bought."""

    price = MoneyInput(
        label="Price", help_text="A credit on the client's account, and what the stone cost you."
    )
    reason = forms.CharField(label="How it came to that", max_length=200)
    on = DayInput(label="Day")


class OffCutForm(_Bought):
    """An off-cut is kept."""

    value = MoneyInput(label="At the value of", required=False, help_text="A credit on the client's account.")
    reason = forms.CharField(
        label="In words", max_length=150, required=False, help_text="The client reads it on the account."
    )
    on = DayInput(label="Day")


class ReplaceForm(StonePick):
    """The stone that came to nothing, and the one in its place."""

    new = forms.CharField(label="The stone in its place", max_length=12, help_text="By code, such as S-0012.")
    why = forms.CharField(label="Why this one", max_length=150)

    def clean_new(self) -> Stone:
        code = self.cleaned_data["new"].strip().upper()
        found = Stone.objects.filter(code=code).first()
        if found is None:
            raise forms.ValidationError(f"There is no stone {code}.")
        return found


class DesignForm(CommissionForm):
    """The design as it is to be from now on."""

    wanted = forms.CharField(label="What is wanted now", max_length=300)
    shape = forms.ChoiceField(choices=[("", "as before"), *LABELS.items()], required=False)
    length_mm = LengthInput(label="Length", required=False)
    width_mm = LengthInput(label="Width", required=False)
    why = forms.CharField(label="Why, and who wants it", max_length=200)
    from_client = forms.BooleanField(label="The client asked for it", required=False)


class WordsForm(DeedForm):
    """A sentence for the journal."""

    words = forms.CharField(max_length=200)

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"].label = label


class CancelForm(TaxedForm):
    """Why it is cancelled, what is due, what goes back in money and in goods."""

    reason = forms.CharField(label="Why", max_length=200)
    fee = MoneyInput(label="Due for the work until now", required=False)
    refund = MoneyInput(label="Money that goes back", required=False)
    way = forms.ChoiceField(label="How", choices=PaidBy, initial=PaidBy.TRANSFER)
    on = DayInput(label="Day")

    def __init__(self, *args: Any, pieces: Iterable[Reached], unnamed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.weighed: dict[int, str] = {}
        for one in pieces:
            if one.goods:
                self._add_weight(
                    one.item.number, f"Piece {one.item.number}: {', '.join(one.goods.codes)} weighs"
                )
        if unnamed:
            self._add_weight(0, "Goods of no piece weigh")
        self._offer(-self.commission.balance)
        if self.commission.paid <= self.commission.refunded:
            del self.fields["refund"], self.fields["way"]

    def _offer(self, unnamed: Decimal) -> None:
        """What came in and is not charged yet: kept where the deposit was agreed so, else it goes back."""
        quote = accepted(self.commission)
        if unnamed > 0:
            back = quote is None or quote.deposit_refundable
            self.fields["refund" if back else "fee"].initial = self.rounded(unnamed)

    def _add_weight(self, number: int, label: str) -> None:
        name = f"back_{number}"
        self.fields[name] = WeightInput(label=label, unit=self.shop.weight_unit)
        self.weighed[number] = name

    @property
    def weights(self) -> list[forms.BoundField]:
        """The rows of the goods that go back."""
        return [self[name] for name in self.weighed.values()]

    @property
    def given_back(self) -> dict[int, Weight]:
        """What the scale says, by the number of the piece."""
        return {number: self.cleaned_data[name] for number, name in self.weighed.items()}
