"""Taking a parcel in: what it is, what it was said to be, and every sum it cost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, MoneyInput, NumberInput, PicturesInput, WeightInput
from workshop.common.models import Hand, Shop
from workshop.handbook.money import currencies, digits
from workshop.materials.forms import treatment_choices
from workshop.materials.models import Evidence, Material, Nature, Question, Treated
from workshop.people.forms import SomebodyMixin
from workshop.people.models import Contact, Ownership

from ..models import CostKind, Origin, PriceBasis
from ..sharing import CostLine

#: How a lot can come in, and what that says of its origin and its owner.
WAYS_IN = {
    "bought": ("bought", Origin.BOUGHT, Ownership.SHOP),
    "found": ("found or dug", Origin.FOUND, Ownership.SHOP),
    "client": ("a client's, left to be cut", Origin.LEFT, Ownership.CLIENT),
    "lent": ("lent by a dealer", Origin.LEFT, Ownership.LENT),
}
#: Sums a bill may hold, in the order of a landed cost sheet.
EXTRAS = {
    CostKind.FREIGHT: "Freight",
    CostKind.INSURANCE: "Insurance",
    CostKind.FEE: "Bank, card or wire fee",
    CostKind.CLEARANCE: "Clearance",
    CostKind.DUTY: "Duty",
    CostKind.TAX: "Tax you do not get back",
    CostKind.RECOVERABLE: "Tax you get back",
}


def currency_choices(home: str) -> list[tuple[str, str]]:
    """Every currency, the shop's own first."""
    names = currencies()
    return [
        (home, f"{home} – {names[home]}"),
        *((code, f"{code} – {name}") for code, name in names.items() if code != home),
    ]


def checked_places(amount: Decimal, currency: str) -> Decimal:
    """The amount, if the currency has that many decimals: 1.500 USD may well be a thousand and five hundred."""
    typed = max(0, -int(amount.as_tuple().exponent))
    if typed > digits(currency):
        raise ValidationError(
            f"{currency} has {digits(currency)} decimals; type thousands without a mark, such as 1500."
        )
    return amount


class ReceiveForm(SomebodyMixin, DeedForm):
    """A parcel as it comes in, to be filled in within a minute: most of it may stay empty."""

    way_in = forms.ChoiceField(
        label="It was",
        choices=[(key, words) for key, (words, _, _) in WAYS_IN.items()],
        initial="bought",
        widget=forms.RadioSelect,
    )
    seller = forms.ModelChoiceField(
        queryset=Contact.objects.filter(is_supplier=True), required=False, empty_label="nobody on the list"
    )
    new_seller = forms.CharField(label="or a new seller", max_length=160, required=False)
    owner = forms.ModelChoiceField(
        label="Whose it is", queryset=Contact.objects.all(), required=False, empty_label="the shop's own"
    )
    new_owner = forms.CharField(label="or a new owner", max_length=160, required=False)
    received_on = DayInput(label="Came in on")
    weight = WeightInput(help_text="Any unit: 84.6 g, 423 ct, 1.2 kg.")
    pieces = forms.IntegerField(
        label="Pieces",
        min_value=1,
        max_value=1_000_000,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    sold_as = forms.CharField(
        label="Sold as", max_length=300, help_text="The seller's own words: tourmaline, mine run, untreated."
    )
    material = forms.ModelChoiceField(
        label="Species and variety", queryset=Material.objects.all(), required=False, empty_label="not said"
    )
    colour = forms.CharField(max_length=300, required=False)
    origin = forms.CharField(
        max_length=300, required=False, help_text="Country, district or mine, as it was said."
    )
    treated = forms.ChoiceField(
        label="Treatment", choices=[("", "not said"), *Treated.choices], required=False
    )
    treatments = forms.MultipleChoiceField(
        label="Which treatment", required=False, widget=forms.CheckboxSelectMultiple
    )
    nature = forms.ChoiceField(label="Nature", choices=[("", "not said"), *Nature.choices], required=False)
    evidence = forms.TypedChoiceField(
        label="How you know",
        coerce=int,
        choices=[choice for choice in Evidence.choices if choice[0] != Evidence.NOTHING],
        initial=Evidence.SAID,
    )
    how = forms.CharField(
        label="Readings or document",
        max_length=1000,
        required=False,
        help_text="Needed from “tested here” upwards; invoice and its number otherwise.",
    )

    unit_price = NumberInput(label="Price", least=0, most=10**9, places=4, required=False)
    price_basis = forms.ChoiceField(label="Per", choices=PriceBasis.choices, initial=PriceBasis.GRAM)
    currency = forms.ChoiceField()
    rate = NumberInput(label="Bank's rate", above_zero=True, most=10**6, places=8, required=False)

    pictures = PicturesInput(
        label="Photographs", required=False, help_text="Several at once; choose them last."
    )
    declared_value = MoneyInput(label="Declared or insured at", required=False)
    notes = forms.CharField(max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, shop: Shop, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.home, self.today = shop.currency, today
        self.fields["received_on"].initial = today
        self.fields["weight"].unit = shop.rough_unit  # type: ignore[attr-defined]
        self.fields["declared_value"].unit = shop.currency  # type: ignore[attr-defined]
        self.fields["currency"].choices = currency_choices(shop.currency)  # type: ignore[attr-defined]
        self.fields["rate"].help_text = f"How many {shop.currency} the bank took for one of that currency."
        self.fields["treatments"].choices = treatment_choices()  # type: ignore[attr-defined]
        for kind, label in EXTRAS.items():
            self.fields[kind.value] = MoneyInput(label=label, required=False)
            self.fields[f"{kind.value}_in"] = forms.ChoiceField(
                label=f"{label}: in",
                choices=[("home", shop.currency), ("price", "as price")],
                required=False,
            )
        self.order_fields([*self.fields, "sure", "once"])

    @property
    def extras(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        """Each extra cost with the box for its currency."""
        for kind in EXTRAS:
            yield self[kind.value], self[f"{kind.value}_in"]

    @property
    def owner_asked(self) -> bool:
        """Whether somebody else's goods are spoken of, so that the boxes for their owner stand open."""
        return self.is_bound and (
            self.data.get("way_in") in {"client", "lent"} or bool({"owner", "new_owner"} & self.errors.keys())
        )

    @property
    def treatment_asked(self) -> bool:
        """Whether the list of treatments stands open."""
        return self.is_bound and (self.data.get("treated") == Treated.TREATED or "treatments" in self.errors)

    def leave_pictures(self) -> None:
        """For a look at the figures no picture needs decoding."""
        self._pictures = self.fields.pop("pictures")

    def take_pictures_again(self) -> None:
        """The box comes back for the real sending; a browser does not give chosen files back."""
        self.fields["pictures"] = self._pictures

    def clean_received_on(self) -> date:
        """Nothing came in tomorrow."""
        day: date = self.cleaned_data["received_on"]
        if day > self.today:
            raise ValidationError("This day lies in the future.")
        return day

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        self.check_somebody("seller")
        self.check_somebody("owner")
        self._check_owner()
        self._check_price()
        self._check_statements()
        return cleaned

    def _check_owner(self) -> None:
        typed = self.cleaned_data
        named = typed.get("owner") or typed.get("new_owner")
        if typed.get("way_in") in {"bought", "found"} and named:
            field = "owner" if typed.get("owner") else "new_owner"
            self.add_error(field, "The shop's own goods have no other owner.")
        if typed.get("way_in") in {"client", "lent"} and not named:
            self.add_error("owner", "Say whose it is.")

    def _check_price(self) -> None:
        typed = self.cleaned_data
        sums = [name for name in ("unit_price", *EXTRAS) if typed.get(name) is not None]
        if typed.get("way_in") in {"client", "lent"}:
            for name in sums:
                self.add_error(name, "What is not the shop's own has no price and no cost here.")
            return
        currency = typed.get("currency")
        if currency == self.home and typed.get("rate") not in {None, Decimal(1)}:
            self.add_error("rate", f"The price is in {self.home} already, so its rate is 1.")
        if (
            currency
            and currency != self.home
            and sums
            and typed.get("rate") is None
            and "rate" not in self.errors
        ):
            needs = typed.get("unit_price") is not None or any(
                typed.get(f"{kind}_in") == "price" for kind in EXTRAS
            )
            if needs:
                self.add_error(
                    "rate", f"Give the rate the bank took: how many {self.home} for one {currency}."
                )
        if (
            typed.get("price_basis") == PriceBasis.PIECE
            and typed.get("unit_price") is not None
            and not typed.get("pieces")
        ):
            self.add_error("pieces", "A price per piece needs the number of pieces.")
        for kind in EXTRAS:
            amount = typed.get(kind.value)
            if amount is not None and currency:
                try:
                    checked_places(amount, self._currency_of(kind))
                except ValidationError as error:
                    self.add_error(kind.value, error)

    def _check_statements(self) -> None:
        typed = self.cleaned_data
        if (
            typed.get("treated") == Treated.TREATED
            and not typed.get("treatments")
            and "treatments" not in self.errors
        ):
            self.add_error("treatments", "Say which treatment, or that it was not tested.")
        if (
            typed.get("treatments")
            and typed.get("treated") != Treated.TREATED
            and "treated" not in self.errors
        ):
            self.add_error("treated", "A treatment is named below; then the answer is “treated”.")
        if typed.get("evidence", 0) >= Evidence.TESTED and not typed.get("how"):
            self.add_error("how", "Say which readings or which document this rests on.")

    def _currency_of(self, kind: CostKind) -> str:
        asked = self.cleaned_data.get(f"{kind.value}_in")
        return str(self.cleaned_data["currency"]) if asked == "price" else self.home

    def cost_lines(self) -> list[CostLine]:
        """The extra costs that were filled in."""
        rate = self.cleaned_data.get("rate") or Decimal(1)
        lines = []
        for kind in EXTRAS:
            amount = self.cleaned_data.get(kind.value)
            if amount:
                currency = self._currency_of(kind)
                lines.append(CostLine(kind, amount, currency, Decimal(1) if currency == self.home else rate))
        return lines

    def statements(self, said_by: str) -> list[dict[str, Any]]:
        """What was said about the goods, one statement for each question that was answered."""
        typed = self.cleaned_data
        answers: list[dict[str, Any]] = []
        if typed["material"]:
            answers.append({"question": Question.SPECIES, "material": typed["material"]})
        if typed["nature"]:
            answers.append({"question": Question.NATURE, "nature": typed["nature"]})
        if typed["treated"]:
            answers.append(
                {
                    "question": Question.TREATMENT,
                    "treated": typed["treated"],
                    "treatments": typed["treatments"],
                }
            )
        for question in (Question.ORIGIN, Question.COLOUR):
            if typed[question.value]:
                answers.append({"question": question, "words": typed[question.value]})
        common = {
            "evidence": typed["evidence"],
            "how": typed["how"],
            "said_by": said_by,
            "said_on": typed["received_on"],
        }
        return [{**answer, **common} for answer in answers]

    def receipt(self, *, by: Hand | None, at: datetime) -> dict[str, Any]:
        """What ``receive_lot`` is told; call inside the deed, since it may put somebody on the contact list."""
        typed = self.cleaned_data
        _, came, ownership = WAYS_IN[typed["way_in"]]
        seller = self.somebody("seller", "supplier", by=by, at=at)
        part = "client" if ownership == Ownership.CLIENT else "supplier"
        owner = self.somebody("owner", part, by=by, at=at) if ownership != Ownership.SHOP else None
        speaker = seller or owner
        priced = typed["unit_price"] is not None
        return {
            "came": came,
            "ownership": ownership,
            "seller": seller,
            "owner": owner,
            "received_on": typed["received_on"],
            "weight": typed["weight"],
            "pieces": typed["pieces"],
            "sold_as": typed["sold_as"],
            "price_basis": typed["price_basis"] if priced else "",
            "unit_price": typed["unit_price"],
            "currency": typed["currency"] if priced else "",
            "rate": typed["rate"] if priced and typed["currency"] != self.home else None,
            "extras": self.cost_lines(),
            "statements": self.statements(str(speaker) if speaker is not None else "the shop"),
            "declared_value": typed["declared_value"],
            "notes": typed["notes"],
            "sure": self.is_sure,
        }
