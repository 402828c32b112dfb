"""What may be typed in a deed on a lot that reaches its stones: a sort, a bill, weight that left, a piece drawn."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError

from workshop.common.deeds import DeedForm
from workshop.common.formfields import (
    DayInput,
    LengthInput,
    MoneyInput,
    NumberInput,
    PicturesInput,
    WeightInput,
)
from workshop.common.models import Hand, Shop
from workshop.handbook.outlines import LABELS
from workshop.materials.models import Material
from workshop.people.models import Ownership
from workshop.rough.forms import EXTRAS, checked_places, currency_choices
from workshop.rough.models import CostKind, GroupKind, LotLossCause, RoughLot, Rule, SortGroup
from workshop.rough.sharing import CostLine

from ..actions import GroupSpec
from ..models import Side

MOST_GROUPS = 60
#: How the boxes of the table are named.
ROWS = "g"


class SortForm(DeedForm):
    """By which rule the cost of a sorted lot is shared."""

    rule = forms.ChoiceField(label="Share the cost", choices=Rule.choices, widget=forms.RadioSelect)


class GroupForm(forms.Form):
    """One group of a sort. A row in which nothing is typed does not count."""

    pk = forms.IntegerField(widget=forms.HiddenInput, required=False)
    name = forms.CharField(label="Group", max_length=60, required=False)
    kind = forms.ChoiceField(label="For", choices=GroupKind.choices, required=False)
    weight = WeightInput(required=False)
    pieces = forms.IntegerField(
        min_value=0,
        max_value=1_000_000,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    factor = NumberInput(label="Grade", least=0, most=10_000, places=4, required=False)
    value = NumberInput(label="Value", least=0, most=10**9, places=3, required=False)
    notes = forms.CharField(label="Remark", max_length=300, required=False)
    out = forms.BooleanField(label="Leave out", required=False)

    @property
    def is_blank(self) -> bool:
        """Whether the row was left alone or is to be left out; a grade that stood there already says nothing."""
        told = ("name", "weight", "pieces", "value", "notes")
        typed = any(self.data.get(self.add_prefix(name), "").strip() for name in told)
        return not typed or bool(self.data.get(self.add_prefix("out")))

    def full_clean(self) -> None:
        """What stands in a row that is left out is not looked at."""
        super().full_clean()
        if self.is_bound and self.is_blank:
            self._errors = forms.utils.ErrorDict()

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        if self.is_blank:
            return cleaned
        if not self.cleaned_data.get("name") and "name" not in self.errors:
            self.add_error("name", "Give the group a name, such as A.")
        if self.cleaned_data.get("weight") is None and "weight" not in self.errors:
            self.add_error("weight", "Weigh the group.")
        return cleaned

    def spec(self) -> GroupSpec:
        """The group as it should stand."""
        typed = self.cleaned_data
        return GroupSpec(
            pk=typed["pk"],
            name=typed["name"],
            kind=typed["kind"] or GroupKind.FACET,
            weight_ct=typed["weight"].ct,
            pieces=typed["pieces"],
            factor=Decimal(1) if typed["factor"] is None else typed["factor"],
            value=typed["value"] or Decimal(0),
            notes=typed["notes"],
        )


class GroupRows(forms.BaseFormSet):
    """The table of groups."""

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for form in self.forms:
            form.fields["weight"].unit = shop.rough_unit
            form.fields["value"].unit = shop.currency

    @property
    def slips(self) -> list[tuple[str, str]]:
        """What is wrong with the rows: the box it belongs to, and words that name the row."""
        if not self.is_bound:
            return []
        whole = [("", str(error)) for error in self.non_form_errors()]
        return whole + [
            (box.id_for_label, f"Row {number}, {box.label}: {error}")
            for number, form in enumerate(self.forms, start=1)
            for box in form
            for error in box.errors
        ]

    def specs(self) -> list[GroupSpec]:
        """The groups that were filled in."""
        return [form.spec() for form in self.forms if not form.is_blank]


_GroupFormSet = forms.formset_factory(
    GroupForm,
    formset=GroupRows,
    extra=0,
    max_num=MOST_GROUPS,
    validate_max=True,
    absolute_max=MOST_GROUPS + 1,
)


def group_rows(
    data: Mapping[str, str] | None = None, *, shop: Shop, initial: list[dict[str, Any]]
) -> GroupRows:
    """The table of groups, sent or to be filled in."""
    # The factory's class takes what ``GroupRows`` takes, which its stub cannot know.
    return cast("type[GroupRows]", _GroupFormSet)(data, prefix=ROWS, shop=shop, initial=initial)


def rows_of(lot: RoughLot, unit: str) -> list[dict[str, Any]]:
    """The groups of a lot as they would be typed; three empty rows where it was never sorted."""
    groups = list(lot.groups.all())
    if not groups:
        blank: dict[str, Any] = {"factor": 1}
        return [blank, blank, {**blank, "kind": GroupKind.CULL}]
    return [
        {
            "pk": group.pk,
            "name": group.name,
            "kind": group.kind,
            "weight": _in_unit(group.weight_ct, unit),
            "pieces": group.pieces,
            "factor": f"{group.factor.normalize():f}",
            "value": f"{group.value.normalize():f}" if group.value else "",
            "notes": group.notes,
        }
        for group in groups
    ]


def rows_as_typed(data: Mapping[str, str]) -> list[dict[str, Any]]:
    """The rows of a table that was sent, word for word, without judging them."""
    try:
        count = min(max(int(data.get(f"{ROWS}-TOTAL_FORMS", "0")), 0), MOST_GROUPS)
    except ValueError:
        count = 0
    return [
        {name: data.get(f"{ROWS}-{number}-{name}", "") for name in GroupForm.base_fields}
        for number in range(count)
    ]


def _in_unit(ct: Decimal, unit: str) -> str:
    figure = ct / 5 if unit == "g" else ct
    return f"{figure.normalize():f} {unit}"


class BillForm(DeedForm):
    """A bill that came late, or a credit from the seller; one currency, one rate, as many sums as it holds."""

    paid_on = DayInput(label="Paid on")
    currency = forms.ChoiceField()
    rate = NumberInput(label="Bank's rate", above_zero=True, most=10**6, places=8, required=False)
    note = forms.CharField(
        label="Remark", max_length=200, required=False, help_text="Number of the bill, reason."
    )
    credit = MoneyInput(
        label="Seller's credit", required=False, help_text="What you get back; type it without a minus."
    )

    #: What a bill may hold besides what a receipt does.
    SUMS = {CostKind.GOODS: "Goods", **EXTRAS, CostKind.OTHER: "Other"}

    def __init__(self, *args: Any, shop: Shop, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.home, self.today = shop.currency, today
        self.fields["paid_on"].initial = today
        self.fields["currency"].choices = currency_choices(shop.currency)  # type: ignore[attr-defined]
        self.fields["rate"].help_text = f"How many {shop.currency} the bank took for one of that currency."
        for kind, label in self.SUMS.items():
            self.fields[kind.value] = MoneyInput(label=label, required=False)

    @property
    def sums(self) -> list[forms.BoundField]:
        """The boxes for what was charged."""
        return [self[kind.value] for kind in self.SUMS]

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        currency, rate = self.cleaned_data.get("currency"), self.cleaned_data.get("rate")
        if currency and currency != self.home and rate is None and "rate" not in self.errors:
            self.add_error("rate", f"Give the rate the bank took: how many {self.home} for one {currency}.")
        if currency == self.home and rate not in {None, Decimal(1)}:
            self.add_error("rate", f"The bill is in {self.home} already, so its rate is 1.")
        filled = [name for name in [*self.SUMS, "credit"] if self.cleaned_data.get(name)]
        if not filled and not self.errors:
            raise ValidationError("Fill in at least one sum.")
        for name in filled if currency else []:
            try:
                checked_places(self.cleaned_data[name], str(currency))
            except ValidationError as error:
                self.add_error(name, error)
        return cleaned

    def lines(self) -> list[CostLine]:
        """The sums of the bill; a credit is below zero."""
        typed = self.cleaned_data
        currency = typed["currency"]
        rate = typed["rate"] or Decimal(1)
        charged = [(kind, typed[kind.value]) for kind in self.SUMS if typed.get(kind.value)]
        if typed["credit"]:
            charged.append((CostKind.CREDIT, -typed["credit"]))
        return [CostLine(kind, amount, currency, rate, typed["note"]) for kind, amount in charged]


class _FromLotForm(DeedForm):
    """What is taken from a lot comes from one of its groups, once it is sorted."""

    group = forms.ModelChoiceField(queryset=SortGroup.objects.none(), empty_label="choose the group")

    def __init__(self, *args: Any, lot: RoughLot, shop: Shop, today: date, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lot, self.shop, self.today = lot, shop, today
        self.fields["weight"].unit = unit  # type: ignore[attr-defined]
        groups = self.fields["group"]
        groups.queryset = lot.groups.filter(left_ct__gt=0)  # type: ignore[attr-defined]
        groups.label_from_instance = (  # type: ignore[attr-defined]
            lambda group: f"{group.name}, {group.get_kind_display()}, {group.left_ct:f} ct left"
        )
        if not lot.is_sorted:
            del self.fields["group"]

    def check_day(self, name: str) -> None:
        """The day of a deed lies between the lot's coming in and today."""
        day = self.cleaned_data.get(name)
        if day is not None and day > self.today:
            self.add_error(name, "This day lies in the future.")
        if day is not None and day < self.lot.received_on:
            self.add_error(name, "The lot had not come in by then.")


class LoseForm(_FromLotForm):
    """Weight that left a lot without becoming a stone."""

    weight = WeightInput(help_text="Any unit: 3.2 g, 16 ct.")
    pieces = forms.IntegerField(
        min_value=0,
        max_value=1_000_000,
        initial=1,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        help_text="0 for chips and dust.",
    )
    cause = forms.ChoiceField(label="Why", choices=LotLossCause.choices, widget=forms.RadioSelect)
    on = DayInput(label="On")
    written_off = forms.BooleanField(
        label="Write its cost off",
        required=False,
        help_text="For a loss nobody planned on. Otherwise what is left carries the cost, as for trimming and culling.",
    )
    reason = forms.CharField(label="Remark", max_length=300, required=False)

    def __init__(self, *args: Any, by: Hand, **kwargs: Any) -> None:
        super().__init__(*args, unit=kwargs["shop"].rough_unit, **kwargs)
        self.fields["on"].initial = self.today
        own = self.lot.ownership == Ownership.SHOP
        unfit = {LotLossCause.OWNER} if own else {LotLossCause.SOLD, LotLossCause.RETURNED}
        self.fields["cause"].choices = [  # type: ignore[attr-defined]
            choice for choice in LotLossCause.choices if choice[0] not in unfit
        ]
        if not (own and by.runs_the_shop):
            del self.fields["written_off"]
        self.order_fields(
            ["weight", "group", "pieces", "cause", "on", "written_off", "reason", "sure", "once"]
        )

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        self.check_day("on")
        if self.cleaned_data.get("cause") == LotLossCause.LOST and not self.cleaned_data.get("reason"):
            self.add_error("reason", "Say where it was last seen.")
        return cleaned

    def loss(self) -> dict[str, Any]:
        """What ``lose_from_lot`` is told."""
        names = ("weight", "cause", "on", "pieces", "reason")
        return {
            **{name: self.cleaned_data[name] for name in names},
            "group": self.cleaned_data.get("group"),
            "written_off": bool(self.cleaned_data.get("written_off")),
        }


class DrawForm(_FromLotForm):
    """A piece taken from a lot, to be followed on its own."""

    weight = WeightInput(help_text="Any unit: 4.26 g, 21.3 ct.")
    length_mm = LengthInput(label="Length", required=False)
    width_mm = LengthInput(label="Width", required=False)
    depth_mm = LengthInput(label="Depth", required=False)
    plan = forms.CharField(
        label="What it is to become",
        max_length=200,
        required=False,
        help_text="Shape, cut, size, what to lose.",
    )
    shape = forms.ChoiceField(choices=[("", "not yet known"), *LABELS.items()], required=False)
    first_side = forms.ChoiceField(
        label="Cut first", choices=Side.choices, initial=Side.PAVILION, widget=forms.RadioSelect
    )
    material = forms.ModelChoiceField(
        label="Species", queryset=Material.objects.all(), required=False, empty_label="as the lot"
    )
    drawn_on = DayInput(label="Drawn on")
    pictures = PicturesInput(label="Photographs", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, unit=kwargs["shop"].rough_unit, **kwargs)
        self.fields["drawn_on"].initial = self.today
        self.fields["material"].initial = self.lot.material

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        self.check_day("drawn_on")
        return cleaned

    def moment(self, now: datetime) -> datetime:
        """When it was drawn: now, or at noon of an earlier day, since nobody noted the hour."""
        day: date = self.cleaned_data["drawn_on"]
        if day == self.today:
            return now
        return datetime.combine(day, time(12), tzinfo=self.shop.tzinfo)

    def piece(self) -> dict[str, Any]:
        """What ``draw_stone`` is told besides the weight."""
        names = ("length_mm", "width_mm", "depth_mm", "plan", "shape", "first_side", "material")
        return {"group": self.cleaned_data.get("group"), **{name: self.cleaned_data[name] for name in names}}


class CorrectLotForm(DeedForm):
    """A lot's weight as it should have been typed."""

    weight = WeightInput(label="Its right weight", help_text="Any unit: 84.60 g, 423 ct.")
    reason = forms.CharField(label="Why", max_length=300)

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["weight"].unit = shop.rough_unit  # type: ignore[attr-defined]
