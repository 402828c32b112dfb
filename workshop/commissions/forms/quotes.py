"""What may be typed about a quote: its tariff, a piece's line, dates and terms, what is left out, and the answer."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import (
    DayInput,
    LanguageInput,
    LengthInput,
    MoneyInput,
    NumberInput,
    WeightInput,
)
from workshop.handbook.money import round_money
from workshop.handbook.tariffs import RateKind

from ..asks import Ask, Typed, rates_from_facts
from ..models import CommissionItem, Extra, Quote, QuoteLine, Tariff, WorkKind
from ..quoting import ON_CUT
from ..shown import WORK_WORDS
from ..starts import Start

THOUSANDTH = Decimal("0.001")
HOUR = 3600
TYPED_WEIGHTS = ("weight_low_ct", "weight_high_ct")
TYPED_SIDES = ("length_low_mm", "length_high_mm", "width_low_mm", "width_high_mm")
#: Typed in hours, kept in seconds.
TYPED_HOURS = ("seconds_low", "seconds", "seconds_high")
TYPED_PRICES = ("price_low", "price", "price_high")
LOSSES = ("loss_low", "loss_high")


class DraftForm(DeedForm):
    """By which tariff, firm or by the weight, and why another version."""

    tariff = forms.ModelChoiceField(label="Tariff", queryset=Tariff.objects.none(), empty_label=None)
    firm = forms.BooleanField(
        label="A firm price",
        required=False,
        help_text="Else it follows the finished weight or the hours, as the tariff charges, within a range.",
    )
    why = forms.CharField(
        label="Why another version", max_length=300, required=False, help_text="The client reads this."
    )

    def __init__(self, *args: Any, currency: str, today: date, last: Quote | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = Tariff.objects.valid_on(today).filter(currency=currency)
        self.fields["tariff"].queryset = rows  # type: ignore[attr-defined]
        self.fields["tariff"].initial = rows.filter(quotes=last).first() if last else rows.first()
        self.any_tariff = rows.exists()
        if last is None:
            del self.fields["why"]
        else:
            self.fields["firm"].initial = last.firm


class LineForm(DeedForm):
    """One piece: few boxes, filled in with what is known; own figures over what is worked out, with a reason."""

    what = forms.CharField(label="What will be done", max_length=300, required=False)
    rough_ct = WeightInput(label="Rough weight", required=False)
    facets = forms.IntegerField(min_value=1, max_value=2000, required=False)
    floor_ct = WeightInput(label="Ask below", required=False, help_text="Lighter than this: stop and ask.")
    flawed = forms.BooleanField(label="Flaws to cut around", required=False)
    use_plan = forms.BooleanField(required=False)
    extras = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    gems = forms.IntegerField(label="Gems", min_value=1, max_value=500)
    rough_pieces = forms.IntegerField(label="Pieces of rough", min_value=1, max_value=500)
    hourly_rate = MoneyInput(label="Your hour")
    material_cost = MoneyInput(
        label="Material and wear",
        required=False,
        help_text="Own rough, wear, laboratory, post: without hours.",
    )
    loss_low = NumberInput(label="Loss from", unit="%", least=0, most=99, places=2, required=False)
    loss_high = NumberInput(label="to", unit="%", least=0, most=99, places=2, required=False)
    weight_low_ct = WeightInput(label="Finished from", required=False)
    weight_high_ct = WeightInput(label="to", required=False)
    length_low_mm = LengthInput(label="Length from", required=False)
    length_high_mm = LengthInput(label="to", required=False)
    width_low_mm = LengthInput(label="Width from", required=False)
    width_high_mm = LengthInput(label="to", required=False)
    seconds_low = NumberInput(
        label="Hours from", unit="h", above_zero=True, most=5000, places=2, required=False
    )
    seconds = NumberInput(label="likely", unit="h", above_zero=True, most=5000, places=2, required=False)
    seconds_high = NumberInput(label="to", unit="h", above_zero=True, most=5000, places=2, required=False)
    price_low = MoneyInput(label="Price from", required=False)
    price = MoneyInput(label="likely", required=False)
    price_high = MoneyInput(label="to", required=False)
    reason = forms.CharField(
        label="Why your own figures",
        max_length=300,
        required=False,
        help_text="For you; the client does not see it.",
    )

    def __init__(
        self,
        *args: Any,
        quote: Quote,
        item: CommissionItem,
        line: QuoteLine | None,
        start: Start,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.quote, self.item, self.plan = quote, item, start.plan
        self.recut = item.work in ON_CUT
        for field in self.fields.values():
            if isinstance(field, MoneyInput):
                field.unit = quote.currency
            elif isinstance(field, WeightInput):
                field.unit = "ct"
        self._trim()
        self.initial = {**(_kept(line) if line is not None else _begun(item, start)), **self.initial}

    def _trim(self) -> None:
        """Only what can apply to this piece is asked."""
        extras = _extras_of(self.quote)
        self.fields["extras"].choices = extras  # type: ignore[attr-defined]
        if self.plan is not None:
            words = f"As planned: {self.plan.code}, {self.plan.weight_low_ct:.2f}–{self.plan.weight_high_ct:.2f} ct"
            self.fields["use_plan"].label = words
        gone = [] if extras else ["extras"]
        gone += [] if self.plan is not None else ["use_plan"]
        gone += [] if self.recut else LOSSES
        for name in gone:
            del self.fields[name]
        if self.recut:
            self.fields["rough_ct"].label = "Weight now"

    @property
    def overrides(self) -> bool:
        """Whether figures of one's own stand or were typed, so that their boxes are to be seen."""
        names = (*TYPED_WEIGHTS, *TYPED_SIDES, *TYPED_HOURS, *TYPED_PRICES)
        return any(self[name].value() or self[name].errors for name in names) or bool(self["reason"].errors)

    @property
    def costs_open(self) -> bool:
        """Whether something of counts and costs needs to be seen."""
        return any(self[name].errors for name in ("gems", "rough_pieces", "hourly_rate", "material_cost"))

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        low, high = typed.get("loss_low"), typed.get("loss_high")
        if low is None and high is None:
            return typed
        if low is None or high is None:
            self.add_error(
                "loss_low" if low is None else "loss_high", "Give both ends of the loss, or neither."
            )
        elif low > high:
            self.add_error("loss_low", "The loss is upside down: its lower end is above its upper end.")
        elif typed.get("rough_ct") is None:
            self.add_error("rough_ct", "A loss needs the weight it is taken from.")
        elif any(typed.get(name) for name in TYPED_WEIGHTS):
            self.add_error("loss_low", "Give either the loss or the finished weight.")
        return typed

    def asked(self) -> Ask:
        """What was typed, as the deed takes it."""
        said = self.cleaned_data
        rough = said["rough_ct"].ct if said["rough_ct"] else None
        return Ask(
            what=said["what"],
            plan=self.plan if said.get("use_plan") else None,
            rough_ct=rough,
            rough_pieces=said["rough_pieces"],
            gems=said["gems"],
            facets=said["facets"],
            flawed=said["flawed"],
            extras=tuple(said.get("extras") or ()),
            floor_ct=said["floor_ct"].ct if said["floor_ct"] else None,
            hourly_rate=said["hourly_rate"],
            material_cost=said["material_cost"] or Decimal(0),
            typed=self._typed(rough),
            reason=said["reason"],
        )

    def _typed(self, rough: Decimal | None) -> Typed:
        said = self.cleaned_data
        weights: dict[str, Any] = {name: said[name].ct if said[name] else None for name in TYPED_WEIGHTS}
        if rough is not None and said.get("loss_low") is not None:
            left = [rough * (100 - said[name]) / 100 for name in reversed(LOSSES)]
            kept = [one.quantize(THOUSANDTH, ROUND_HALF_UP) for one in left]
            weights = dict(zip(TYPED_WEIGHTS, kept, strict=True))
        seconds: dict[str, Any] = {
            name: int(said[name] * HOUR) if said[name] else None for name in TYPED_HOURS
        }
        rest = {name: said[name] for name in (*TYPED_SIDES, *TYPED_PRICES)}
        return Typed(**weights, **seconds, **rest)


def _extras_of(quote: Quote) -> list[tuple[str, str]]:
    """The extras that the quote's tariff has a price for."""
    rates = [rate for rate in rates_from_facts(quote.rates) if rate.kind == RateKind.EXTRA]
    return [(rate.extra, rate.label or Extra(rate.extra).label) for rate in rates]


def _begun(item: CommissionItem, start: Start) -> dict[str, Any]:
    quote_floor = item.floor_ct
    return {
        "what": f"{WORK_WORDS[WorkKind(item.work)].capitalize()}: {item.wanted}"[:300],
        "rough_ct": _plain(start.rough_ct),
        "rough_pieces": start.rough_pieces,
        "gems": start.gems,
        "use_plan": start.plan is not None,
        "facets": start.plan.facets if start.plan is not None else None,
        "floor_ct": _plain(quote_floor),
        "material_cost": _plain(start.material_cost) if start.material_cost else None,
    }


def _kept(line: QuoteLine) -> dict[str, Any]:
    typed = Typed.from_facts(line.typed)
    hours = {
        name: _plain(Decimal(seconds) / HOUR) if (seconds := getattr(typed, name)) else None
        for name in TYPED_HOURS
    }
    currency = line.quote.currency
    return {
        "what": line.what, "rough_ct": _plain(line.rough_ct), "rough_pieces": line.rough_pieces, "gems": line.gems,
        "facets": line.facets, "flawed": line.flawed, "extras": line.extras, "use_plan": line.plan_id is not None,
        "floor_ct": _plain(line.floor_ct), "hourly_rate": round_money(line.hourly_rate, currency),
        "material_cost": round_money(line.material_cost, currency), "reason": line.override_reason, **hours,
        **{name: _plain(getattr(typed, name)) for name in (*TYPED_WEIGHTS, *TYPED_SIDES)},
        **{
            name: round_money(price, currency)
            for name in TYPED_PRICES
            if (price := getattr(typed, name)) is not None
        },
    }  # fmt: skip


def _plain(figure: Decimal | None) -> str | None:
    return None if figure is None else f"{figure.quantize(THOUSANDTH).normalize():f}"


class TermsForm(DeedForm):
    """Dates, deposit, terms, risks and a word to the client."""

    tariff = forms.ModelChoiceField(label="Tariff", queryset=Tariff.objects.none(), empty_label=None)
    firm = forms.BooleanField(label="A firm price: the likely one", required=False)
    valid_until = DayInput(label="Stands until")
    expected_week = DayInput(label="Expected in the week of", required=False)
    queue_place = forms.IntegerField(label="Place in the queue", min_value=1, max_value=999, required=False)
    deposit = MoneyInput(label="Deposit", required=False)
    deposit_refundable = forms.BooleanField(
        label="It comes back if the client cancels in time", required=False
    )
    note = forms.CharField(
        label="A word to the client",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    why = forms.CharField(label="Why another version", max_length=300, required=False)
    risk_lines = forms.CharField(
        label="Risks put before the client",
        max_length=20000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 9}),
        help_text="One on each line. They follow from species, treatment and condition; change them as you see fit.",
    )
    terms = forms.CharField(
        label="Your terms",
        max_length=6000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="Your own terms; have them checked against your local law.",
    )

    def __init__(self, *args: Any, quote: Quote, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = Tariff.objects.valid_on(today).filter(currency=quote.currency)
        self.fields["tariff"].queryset = rows  # type: ignore[attr-defined]
        self.fields["deposit"].unit = quote.currency  # type: ignore[attr-defined]
        if quote.version == 1:
            del self.fields["why"]
        self.initial = {
            **{name: getattr(quote, name) for name in self.fields if hasattr(quote, name)},
            "risk_lines": "\n".join(quote.risk_lines),
            "deposit": round_money(quote.deposit, quote.currency),
            **self.initial,
        }

    def said(self) -> dict[str, Any]:
        """What the deed takes."""
        said = {name: self.cleaned_data[name] for name in self.fields if name not in {"sure", "once"}}
        risks = [line.strip() for line in said["risk_lines"].splitlines()]
        return said | {
            "risk_lines": [line for line in risks if line],
            "deposit": said["deposit"] or Decimal(0),
        }


class SendForm(DeedForm):
    """Which open pieces the version says nothing of, each by name."""

    leave = forms.MultipleChoiceField(
        label="Not part of this quote", required=False, widget=forms.CheckboxSelectMultiple
    )
    language = LanguageInput(label="Language of the paper", help_text="What was typed stays as it was typed.")

    def __init__(self, *args: Any, missing: Iterable[CommissionItem], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.missing = list(missing)
        choices = [
            (str(item.number), f"Leave out piece {item.number}: {item.wanted}") for item in self.missing
        ]
        self.fields["leave"].choices = choices  # type: ignore[attr-defined]
        if not choices:
            del self.fields["leave"]

    @property
    def leaving_out(self) -> list[CommissionItem]:
        """The pieces that were ticked."""
        ticked = set(self.cleaned_data.get("leave") or ())
        return [item for item in self.missing if str(item.number) in ticked]


class WithdrawForm(DeedForm):
    """Why it is taken back."""

    reason = forms.CharField(max_length=260, help_text="Stays with the paper; the client may be told.")


class AnswerForm(DeedForm):
    """What the client said, told to the cutter."""

    answer = forms.ChoiceField(
        label="The client", choices=[("yes", "accepts"), ("no", "declines")], widget=forms.RadioSelect
    )
    name = forms.CharField(label="Who answered", max_length=160)
    told = forms.CharField(label="How", max_length=30, initial="by telephone")
    words = forms.CharField(
        label="In their words", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )


class NothingForm(DeedForm):
    """A deed that asks for nothing but to be meant."""
