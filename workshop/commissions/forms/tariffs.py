"""A tariff typed as a price sheet: a few rows for each kind of line; rows left empty charge nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, MoneyInput, NumberInput, WeightInput
from workshop.common.models import Shop
from workshop.handbook.errors import HandbookError
from workshop.handbook.money import currencies, digits, round_money
from workshop.handbook.rates import MOST_COUNT, MOST_FACTOR, plain
from workshop.handbook.tariffs import Rate, RateKind, Weighed, check_rates
from workshop.rough.forms.receive import currency_choices

from ..actions.tariffs import TariffFacts
from ..models import Extra, Tariff, WeighedAs

MOST_ROWS = 40


@dataclass(frozen=True)
class Section:
    """One kind of line: its boxes, and how many empty rows stand ready."""

    kind: RateKind
    title: str
    help: str
    columns: tuple[str, ...]
    ready: int = 1
    may_grow: bool = True

    @property
    def main(self) -> str:
        """The box an error of the row belongs beside."""
        return next(name for name in ("amount", "factor", "percent") if name in self.columns)


SECTIONS = (
    Section(
        RateKind.BASE, "A base for a gem",
        "Up to a weight, then for each further carat. Without a price for further carats the base ends at that weight.",
        ("amount", "from_ct", "to_ct", "step_amount", "weighed", "started", "label"),
    ),
    Section(
        RateKind.CARAT, "Per carat",
        "The whole weight at the price of the band it lies in: above the first weight, up to the second.",
        ("amount", "from_ct", "to_ct", "weighed", "started", "label"), ready=2,
    ),
    Section(RateKind.PIECE, "Per gem", "", ("amount", "label")),
    Section(RateKind.ROUGH, "Per piece of rough", "", ("amount", "label")),
    Section(
        RateKind.HOUR, "Per hour", "For all hours of the work, at the bench and beside it.", ("amount", "label"),
        may_grow=False,
    ),
    Section(
        RateKind.FACETS, "Factor by number of facets",
        "The sum so far times the factor. Leave the factor empty where you price by request.",
        ("from_facets", "to_facets", "factor"), ready=2,
    ),
    Section(
        RateKind.SPECIES, "Factor by species or variety",
        "What is not listed counts once. Leave the factor empty where you price by request.",
        ("species", "factor"), ready=2,
    ),
    Section(
        RateKind.MINIMUM, "The least for a gem", "Before extras and percentages.", ("amount", "label"), may_grow=False
    ),
    Section(
        RateKind.EXTRA, "Extras",
        "Charged only where they apply: a fixed sum, or a percentage of the sum before extras.",
        ("amount", "percent", "label"), may_grow=False,
    ),
    Section(RateKind.PERCENT, "On top", "A percentage of everything above it.", ("percent", "label")),
)  # fmt: skip
BY_KIND = {section.kind: section for section in SECTIONS}
NAMED = (RateKind.PIECE, RateKind.ROUGH, RateKind.EXTRA, RateKind.PERCENT)
#: Boxes that say how, not how much.
ASIDE = {"weighed", "started", "label"}
LABELS = {
    "amount": "Price", "from_ct": "Above", "to_ct": "Up to", "step_amount": "Each further carat",
    "weighed": "By the", "started": "Started carats count whole", "from_facets": "From", "to_facets": "To",
    "species": "Species or variety", "factor": "Factor", "percent": "Per cent", "label": "Called",
}  # fmt: skip
FACTS = (
    "name", "from_on", "until_on", "currency", "tax_percent", "tax_included", "deposit_percent",
    "deposit_refundable", "valid_days", "terms", "notes",
)  # fmt: skip


def name_of(section: Section, row: int, column: str) -> str:
    """What a box is called."""
    return f"{section.kind.value}-{row}-{column}"


@dataclass(frozen=True)
class Row:
    """The boxes of one line, with what stands before them."""

    words: str
    fields: list[forms.BoundField]


class TariffForm(DeedForm):
    """A price list as it is written down."""

    name = forms.CharField(label="Name", max_length=120, help_text="How you tell it from others.")
    from_on = DayInput(label="From")
    until_on = DayInput(label="Until", required=False, help_text="Empty: until further notice.")
    currency = forms.ChoiceField()
    tax_percent = NumberInput(label="Tax", unit="%", least=0, most=100, places=3)
    tax_included = forms.BooleanField(label="The prices above hold the tax", required=False)
    deposit_percent = NumberInput(label="Deposit", unit="%", least=0, most=100, places=3)
    deposit_refundable = forms.BooleanField(
        label="The deposit goes back if it is cancelled before work begins", required=False
    )
    valid_days = forms.IntegerField(
        label="A quote stands for",
        min_value=1,
        max_value=3650,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "data-unit": "days"}),
    )
    terms = forms.CharField(
        max_length=6000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="Your own terms, printed on every quote; have them checked against your local law.",
    )
    notes = forms.CharField(
        label="Notes for yourself", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, shop: Shop, grow: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["currency"].choices = currency_choices(shop.currency)  # type: ignore[attr-defined]
        self.unit, self.grown = self._typed_currency(shop.currency), grow
        self.rows = {section.kind: self._row_count(section, grow) for section in SECTIONS}
        for section in SECTIONS:
            for row in range(self.rows[section.kind]):
                for column in section.columns:
                    if column != "label" or section.kind is not RateKind.EXTRA or _extra(row) == Extra.OTHER:
                        self.fields[name_of(section, row, column)] = self._box(section, column)
        self.order_fields([*self.fields, "sure", "once"])

    def _typed_currency(self, home: str) -> str:
        source: Mapping[str, Any] = self.data if self.is_bound else self.initial
        typed = str(source.get("currency") or home)
        return typed if typed in currencies() else home

    def _row_count(self, section: Section, grow: str) -> int:
        if section.kind is RateKind.EXTRA:
            return len(Extra)
        source: Mapping[str, Any] = self.data if self.is_bound else self.initial
        mark = re.compile(rf"{section.kind.value}-(\d{{1,3}})-", re.ASCII)
        there = [int(found[1]) + 1 for found in map(mark.match, source) if found]
        rows = max([section.ready, *there])
        return min(MOST_ROWS, rows + 2 if grow == section.kind.value else rows)

    def _box(self, section: Section, column: str) -> forms.Field:
        label = LABELS[column]
        if section.kind is RateKind.BASE and column == "from_ct":
            label = "Only above"
        match column:
            case "amount" | "step_amount":
                return MoneyInput(label=label, unit=self.unit, required=False)
            case "from_ct" | "to_ct":
                return WeightInput(label=label, unit="ct", required=False)
            case "from_facets" | "to_facets":
                return forms.IntegerField(
                    label=label,
                    min_value=1,
                    max_value=MOST_COUNT,
                    required=False,
                    widget=forms.TextInput(attrs={"inputmode": "numeric"}),
                )
            case "factor":
                return NumberInput(label=label, above_zero=True, most=MOST_FACTOR, places=4, required=False)
            case "percent":
                return NumberInput(
                    label=label, unit="%", above_zero=True, most=MOST_FACTOR, places=3, required=False
                )
            case "weighed":
                return forms.ChoiceField(label=label, choices=WeighedAs.choices, required=False)
            case "started":
                return forms.BooleanField(label=label, required=False)
            case "species":
                return forms.CharField(label=label, max_length=80, required=False)
            case _:
                # A name that was given elsewhere is kept where the sheet has no room for one.
                widget = forms.TextInput if section.kind in NAMED else forms.HiddenInput
                return forms.CharField(label=label, max_length=120, required=False, widget=widget)

    @property
    def sections(self) -> Iterator[tuple[Section, list[Row], bool]]:
        """Each kind of line with its rows, and whether it stands open: something is in it, or wrong with it."""
        empty = True
        for section in SECTIONS:
            rows = [self._row(section, row) for row in range(self.rows[section.kind])]
            boxes = [box for row in rows for box in row.fields]
            used = any(box.errors or (not _is_aside(box) and box.value()) for box in boxes)
            first = section.kind is RateKind.BASE and empty
            empty = empty and not used
            yield section, rows, used or first or self.grown == section.kind.value

    def _row(self, section: Section, row: int) -> Row:
        names = [name_of(section, row, column) for column in section.columns]
        words = str(_extra(row).label).capitalize() if section.kind is RateKind.EXTRA else ""
        boxes = [self[name] for name in names if name in self.fields]
        return Row(words, [box for box in boxes if not box.is_hidden])

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        from_on, until_on = (self.cleaned_data.get(name) for name in ("from_on", "until_on"))
        if from_on and until_on and until_on < from_on:
            self.add_error("until_on", f"It begins on {from_on}; it cannot end before that.")
        if not self.errors.keys() - {"until_on"}:
            self._check_lines()
        return cleaned

    def _check_lines(self) -> None:
        """What the lines say together, each doubt beside its row."""
        places = self._places()
        rates = [self._rate(section, row) for section, row in places]
        try:
            check_rates(rates, self.cleaned_data["currency"])
        except HandbookError as error:
            lines = error.said.get("lines")
            lines = lines if isinstance(lines, tuple) else ()
            for place in lines:
                section, row = places[place]
                self.add_error(name_of(section, row, section.main), str(error))
            if not lines:
                self.add_error(None, str(error))

    def _places(self) -> list[tuple[Section, int]]:
        """Where something was typed, in the order of the page."""
        return [
            (section, row)
            for section in SECTIONS
            for row in range(self.rows[section.kind])
            if any(
                self.cleaned_data.get(name_of(section, row, column)) not in {None, ""}
                for column in section.columns
                # A word without a figure is no line of its own, except for a species.
                if column not in ASIDE
            )
        ]

    @property
    def rates(self) -> list[Rate]:
        """The lines that were typed."""
        return [self._rate(section, row) for section, row in self._places()]

    def _rate(self, section: Section, row: int) -> Rate:
        typed: dict[str, Any] = {
            column: self.cleaned_data.get(name_of(section, row, column)) for column in section.columns
        }
        for column in ("from_ct", "to_ct"):
            if typed.get(column) is not None:
                typed[column] = typed[column].ct
        for column in ("label", "species"):
            if column in typed:
                typed[column] = typed[column] or ""
        if "weighed" in typed:
            typed["weighed"] = Weighed(typed["weighed"] or Weighed.FINISHED)
        if section.kind is RateKind.EXTRA:
            typed["extra"] = _extra(row).value
        return Rate(kind=section.kind, **typed)

    @property
    def facts(self) -> TariffFacts:
        """What stands beside the lines."""
        return TariffFacts(**{name: self.cleaned_data[name] for name in FACTS})


def _is_aside(box: forms.BoundField) -> bool:
    return box.name.rpartition("-")[2] in ASIDE


def _extra(row: int) -> Extra:
    return list(Extra)[row]


def fresh(shop: Shop, today: date) -> dict[str, Any]:
    """What a first tariff begins with: the shop's own hourly rate, and no price anybody made up."""
    begun = {
        "name": f"Price list {today.year}",
        "from_on": today,
        "currency": shop.currency,
        "tax_percent": plain(shop.tax_percent),
        "tax_included": True,
        "deposit_percent": "50",
        "valid_days": 14,
    }
    if shop.hourly_rate > 0:
        rate = round_money(shop.hourly_rate, shop.currency)
        begun[name_of(BY_KIND[RateKind.HOUR], 0, "amount")] = str(rate)
    return begun


def as_typed(tariff: Tariff) -> dict[str, Any]:
    """A tariff as it would have been typed."""
    typed: dict[str, Any] = {name: getattr(tariff, name) for name in FACTS}
    for name in ("tax_percent", "deposit_percent"):
        typed[name] = plain(typed[name])
    counts = dict.fromkeys(RateKind, 0)
    for line in tariff.lines.all():
        section = BY_KIND[RateKind(line.kind)]
        row = list(Extra).index(Extra(line.extra)) if line.extra else counts[section.kind]
        counts[section.kind] += 1
        for column in section.columns:
            figure = getattr(line, "weighed_as" if column == "weighed" else column)
            if figure not in {None, ""}:
                typed[name_of(section, row, column)] = _text(column, figure, tariff.currency)
    return typed


def sent_back(data: Mapping[str, Any]) -> dict[str, Any]:
    """What was typed, to be shown again in a form with more rows that nobody has judged yet."""
    ticks = {"tax_included": False, "deposit_refundable": False}
    return {
        **ticks,
        **{name: data[name] for name in data if name not in {"once", "sure", "csrfmiddlewaretoken"}},
    }


def _text(column: str, figure: Any, currency: str) -> Any:
    if column in {"amount", "step_amount"}:
        return f"{figure:.{digits(currency)}f}"
    return plain(figure) if isinstance(figure, Decimal) else figure


class EndTariffForm(DeedForm):
    """Until which day a tariff holds."""

    until_on = DayInput(label="Last day")


class TryTariffForm(forms.Form):
    """What a piece of work would cost by a tariff. Asked by address, so that it can be kept and sent on."""

    finished = WeightInput(label="Finished weight, each gem", unit="ct", required=False)
    rough = WeightInput(label="Weight of the rough", unit="ct", required=False)
    hours = NumberInput(label="Hours", unit="h", least=0, most=10000, places=2, required=False)
    facets = forms.IntegerField(
        label="Facets", min_value=1, max_value=MOST_COUNT, required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    species = forms.CharField(label="Species or variety", max_length=80, required=False)
    gems = forms.IntegerField(
        label="Gems", min_value=1, max_value=1000, required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    rough_pieces = forms.IntegerField(
        label="Pieces of rough", min_value=0, max_value=1000, required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    extras = forms.MultipleChoiceField(
        label="Extras that apply", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, rates: list[Rate], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = [(rate.extra, rate.label) for rate in rates if rate.kind is RateKind.EXTRA]
        self.fields["extras"].choices = offered  # type: ignore[attr-defined]
        if not offered:
            del self.fields["extras"]
