"""What may be typed about a handing-over, its arrival, and the closing of a commission."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, LanguageInput, MoneyInput
from workshop.handbook.money import round_money

from ..handing_over import Going
from ..models import ChargeKind, Commission, CommissionItem, Delivery, IntakePiece

ZERO = Decimal(0)


class DeliverForm(DeedForm):
    """Which pieces leave, how, at what declared value."""

    items = forms.ModelMultipleChoiceField(
        label="What leaves", queryset=CommissionItem.objects.none(), widget=forms.CheckboxSelectMultiple
    )
    on = DayInput(label="Day")
    how = forms.CharField(
        label="How it goes", max_length=120, help_text="In person, by courier, registered post …"
    )
    tracking = forms.CharField(label="Tracking number", max_length=80, required=False)
    declared_value = MoneyInput(
        label="Declared value", required=False, help_text="What a carrier or insurer answers for."
    )
    insured_by = forms.CharField(label="Insured by", max_length=160, required=False)
    condition = forms.CharField(
        label="Condition in your words",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Printed on the note: what can be seen now, such as a feather near the girdle.",
    )
    language = LanguageInput(label="Language of the note", help_text="What you typed stays as you typed it.")

    def __init__(
        self, *args: Any, commission: Commission, pieces: Sequence[Going], today: date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        ready = [piece.item for piece in pieces if piece.is_ready]
        field = self.fields["items"]
        # A piece that is not ready is refused by name by the deed; the page offers only those that are.
        field.queryset = commission.items.all()  # type: ignore[attr-defined]
        field.choices = [(item.pk, f"{item.number}. {item.wanted}") for item in ready]  # type: ignore[attr-defined]
        field.initial = [item.pk for item in ready]
        self.fields["declared_value"].unit = commission.currency  # type: ignore[attr-defined]
        self.fields["on"].initial = today
        value = told_value(commission, ready)
        if value:
            self.fields["declared_value"].initial = round_money(value, commission.currency)


def told_value(commission: Commission, items: Sequence[CommissionItem]) -> Decimal:
    """The client's own figures of the goods, and what gems of the shop's own were sold for."""
    theirs = IntakePiece.objects.filter(item__in=items, declared_currency=commission.currency)
    sold = commission.charges.filter(item__in=items, kind=ChargeKind.STONE, taken_back_by__isnull=True)
    told = [*theirs.values_list("declared_value", flat=True), *sold.values_list("gross", flat=True)]
    return sum((one for one in told if one is not None), ZERO)


class ArrivedForm(DeedForm):
    """When it arrived, and who took it."""

    on = DayInput(label="Arrived on")
    received_by = forms.CharField(label="Taken by", max_length=160, required=False)

    def __init__(self, *args: Any, delivery: Delivery, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = today
        self.fields["received_by"].initial = delivery.commission.client.name


class CloseAccountForm(DeedForm):
    """The day a commission closes, and why it does with something still open."""

    on = DayInput(label="Closed on")
    reason = forms.CharField(max_length=300, required=False)

    def __init__(self, *args: Any, commission: Commission, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = today
        reason = self.fields["reason"]
        reason.label = "Why with something open" if commission.balance else "A word on it"
        reason.help_text = (
            "Needed: written off, or still owed and how it is to come." if commission.balance else ""
        )
