"""What may be typed about memos and holds: what is lent, to whom, until when, and how each stone ended."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.forms import BoundField

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, MoneyInput, NumberInput, WeightInput
from workshop.common.models import Shop
from workshop.gems.models import FinishedGem
from workshop.handbook.money import round_money
from workshop.people.models import Contact
from workshop.stones.models import Stage

from .actions.memo_ends import Lost, Repair, Sold
from .actions.memo_in import LentIn
from .actions.memos import Lent
from .models import LENT, LineState, Memo, MemoLine

ZERO = Decimal(0)
MOST_GEMS: Final = 12
MOST_LENT_IN: Final = 4
#: Common practice, no source; typed over where another time is agreed.
DAYS_OUT: Final = 30
SOLD, LOST = "sold", "lost"


class _MoneyForm(DeedForm):
    """Sums in the shop's currency, weights in its unit, days from today."""

    def __init__(self, *args: Any, shop: Shop, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop = shop
        self.add_rows()
        for field in self.fields.values():
            if isinstance(field, MoneyInput):
                field.unit = shop.currency
            if isinstance(field, WeightInput):
                field.unit = shop.weight_unit
        if "on" in self.fields:
            self.fields["on"].initial = today
        if "return_by" in self.fields:
            self.fields["return_by"].initial = today + timedelta(days=DAYS_OUT)

    def add_rows(self) -> None:
        """Fields that depend on how many things there are."""


class LendForm(_MoneyForm):
    """Gems to one receiver, each at its net price, and the terms."""

    party = forms.ModelChoiceField(label="To", queryset=Contact.objects.all(), empty_label="pick somebody")
    return_by = DayInput(label="Back by", required=False)
    loss_words = forms.CharField(
        label="Loss, theft, damage and post",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Who bears what, in your own words; have them checked against your local law.",
    )
    terms = forms.CharField(
        label="Payment", max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    insured_value = MoneyInput(label="Insured at", required=False)
    insured_by = forms.CharField(label="Insured by", max_length=160, required=False)

    def add_rows(self) -> None:
        for number in range(1, MOST_GEMS + 1):
            self.fields[f"code_{number}"] = forms.CharField(label="Gem", max_length=12, required=False)
            self.fields[f"price_{number}"] = MoneyInput(label="Price, net", required=False)

    @property
    def rows(self) -> Iterator[tuple[BoundField, BoundField]]:
        """The rows for gems."""
        for number in range(1, MOST_GEMS + 1):
            yield self[f"code_{number}"], self[f"price_{number}"]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        self.asked = list(self._read(typed))
        if not self.asked and not self.errors:
            self.add_error("code_1", "Say which gem, such as G-0012.")
        return typed

    def _read(self, typed: dict[str, Any]) -> Iterator[Lent]:
        codes = {n: (typed.get(f"code_{n}") or "").strip().upper() for n in range(1, MOST_GEMS + 1)}
        known = FinishedGem.objects.in_bulk(
            [code for code in codes.values() if code and "\x00" not in code], field_name="code"
        )
        for number, code in codes.items():
            price = typed.get(f"price_{number}")
            if not code:
                if price is not None:
                    self.add_error(f"code_{number}", "Say which gem, such as G-0012.")
                continue
            gem = known.get(code)
            asked = price if price is not None or gem is None else gem.price
            if gem is None:
                self.add_error(f"code_{number}", f"There is no gem {code}.")
            elif asked is None:
                self.add_error(f"price_{number}", f"No price is asked for {code} yet; give one.")
            else:
                yield Lent(gem, asked)

    @property
    def told(self) -> dict[str, Any]:
        """What the deed takes besides the gems."""
        names = ("party", "return_by", "loss_words", "terms", "insured_value", "insured_by")
        return {name: self.cleaned_data[name] for name in names}


class TakeForm(_MoneyForm):
    """What somebody lends the shop, and until when."""

    party = forms.ModelChoiceField(label="From", queryset=Contact.objects.all(), empty_label="pick somebody")
    on = DayInput(label="Came on")
    return_by = DayInput(label="Goes back by", required=False)
    loss_words = forms.CharField(
        label="Loss, theft, damage and post", max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    terms = forms.CharField(
        label="Payment", max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def add_rows(self) -> None:
        for number in range(1, MOST_LENT_IN + 1):
            self.fields[f"words_{number}"] = forms.CharField(
                label="What, as they say", max_length=160, required=False
            )
            self.fields[f"weight_{number}"] = WeightInput(label="Weight", required=False)
            self.fields[f"price_{number}"] = MoneyInput(label="Their price, net", required=False)

    @property
    def rows(self) -> Iterator[list[BoundField]]:
        """The rows for things."""
        for number in range(1, MOST_LENT_IN + 1):
            yield [self[f"{name}_{number}"] for name in ("words", "weight", "price")]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        self.asked = []
        for number in range(1, MOST_LENT_IN + 1):
            row = {name: typed.get(f"{name}_{number}") for name in ("words", "weight", "price")}
            if not any(value not in (None, "") for value in row.values()):
                continue
            for name, value in row.items():
                if value in (None, "") and f"{name}_{number}" not in self.errors:
                    self.add_error(f"{name}_{number}", "Give this too.")
            if all(value not in (None, "") for value in row.values()):
                self.asked.append(LentIn(**row))  # type: ignore[arg-type]
        if not self.asked and not self.errors:
            self.add_error("words_1", "Say what was lent.")
        return typed

    @property
    def told(self) -> dict[str, Any]:
        """What the deed takes besides the things."""
        return {name: self.cleaned_data[name] for name in ("party", "on", "return_by", "loss_words", "terms")}


class SendForm(_MoneyForm):
    """Who signed, and when it left."""

    signed_by = forms.CharField(label="Who signed for the receiver", max_length=160)
    on = DayInput(label="Left on")


class ExtendForm(DeedForm):
    """A later day."""

    until = DayInput(label="Back by")
    reason = forms.CharField(label="Why", max_length=200)


class BackForm(_MoneyForm):
    """What the scale says of a stone that is back, and what happened to it."""

    weighed = WeightInput(label="Weight now")
    on = DayInput(label="Back on")
    damage = forms.CharField(label="Damage, if any", max_length=250, required=False)
    back_to = forms.ChoiceField(
        label="It goes back to the bench, at",
        required=False,
        choices=[
            ("", "no, it does not"),
            *((one.value, one.label) for one in Stage if one != Stage.FINISHED),
        ],
        help_text="Its papers are void then, as after a recut.",
    )
    clarity = forms.CharField(
        label="or what is seen of it now", max_length=200, required=False, help_text="Its cards are void too."
    )


class HomeForm(_MoneyForm):
    """What the scale says of a thing that goes back to who lent it."""

    weighed = WeightInput(label="Weight now")
    on = DayInput(label="Gave it back on")


class SettleForm(_MoneyForm):
    """Of each stone still out: sold, lost, or neither; of each damaged one: what its work is charged at."""

    on = DayInput(label="Day")
    tax_percent = NumberInput(label="Tax on top", unit="%", least=0, most=100, places=3, required=False)
    lost_tax = NumberInput(
        label="Tax on what is owed for a lost stone",
        unit="%",
        least=0,
        most=100,
        places=3,
        required=False,
        help_text="As a rule none: damages are no supply. Ask your adviser.",
    )

    def __init__(self, *args: Any, memo: Memo, **kwargs: Any) -> None:
        self.lines: list[MemoLine] = list(memo.lines.select_related("gem", "memo"))
        super().__init__(*args, **kwargs)
        self.fields["tax_percent"].initial = f"{self.shop.tax_percent.normalize():f}"
        self.order_fields([*self._names, "on", "tax_percent", "lost_tax", "sure", "once"])

    def add_rows(self) -> None:
        self.out = [line for line in self.lines if line.state in LENT]
        self.hurt = [
            line for line in self.lines if line.state == LineState.DAMAGED and not line.sale_id
            and line.gem is not None and line.gem.gone_as == "recut"
        ]  # fmt: skip
        for line in self.out:
            self.fields[f"how_{line.pk}"] = forms.ChoiceField(
                label=line.words, choices=[("", "still out"), (SOLD, "sold"), (LOST, "lost")], required=False
            )
            price = round_money(line.price, line.memo.currency)
            self.fields[f"price_{line.pk}"] = MoneyInput(label="Price, net", required=False, initial=price)
            self.fields[f"why_{line.pk}"] = forms.CharField(
                label="If lost, how", max_length=150, required=False
            )
        for line in self.hurt:
            self.fields[f"repair_{line.pk}"] = MoneyInput(
                label=f"Work on {line.words}, net", required=False, help_text="Leave it empty to charge none."
            )
        self._names = [name for name in self.fields if name.rpartition("_")[2].isdigit()]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        for line in self.out:
            if typed.get(f"how_{line.pk}") == LOST and not (typed.get(f"why_{line.pk}") or "").strip():
                self.add_error(f"why_{line.pk}", "Say how it was lost.")
        return typed

    @property
    def told(self) -> dict[str, Any]:
        """What the deed takes."""
        typed = self.cleaned_data
        how = {line: typed.get(f"how_{line.pk}") for line in self.out}
        lost_tax = typed.get("lost_tax") or ZERO
        return {
            "sold": [Sold(line, typed[f"price_{line.pk}"]) for line in self.out if how[line] == SOLD],
            "lost": [
                Lost(line, typed[f"why_{line.pk}"], typed[f"price_{line.pk}"], lost_tax)
                for line in self.out
                if how[line] == LOST
            ],
            "repairs": [
                Repair(line, typed[f"repair_{line.pk}"])
                for line in self.hurt
                if typed.get(f"repair_{line.pk}")
            ],
            "on": typed["on"],
            "tax_percent": typed["tax_percent"] or ZERO,
        }


class HoldForm(DeedForm):
    """For whom, and until when."""

    contact = forms.ModelChoiceField(label="For", queryset=Contact.objects.all(), empty_label="pick somebody")
    until = DayInput(label="Until")
    note = forms.CharField(max_length=200, required=False)


class ReasonForm(DeedForm):
    """Why."""

    reason = forms.CharField(label="Why", max_length=200)
