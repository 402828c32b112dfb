"""Forms of the shop and its hands."""

from __future__ import annotations

import zoneinfo
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from workshop.handbook.errors import HandbookError
from workshop.handbook.money import currencies, digits

from .deeds import DeedForm
from .formfields import LanguageInput, MoneyInput, NumberInput, PicturesInput, WeightInput
from .models import ABOUT_LONGEST, Hand, Role, Shop

#: Offered first; any ISO 4217 currency can be typed.
PASSWORD = {"autocomplete": "new-password"}


def _zones() -> list[tuple[str, str]]:
    names = sorted(
        name for name in zoneinfo.available_timezones() if "/" in name and not name.startswith("Etc/")
    )
    return [("UTC", "UTC"), *((name, name.replace("_", " ")) for name in names)]


def _currencies() -> list[tuple[str, str]]:
    return [(code, f"{code} – {name}") for code, name in currencies().items()]


class ShopForm(DeedForm):
    """The shop's own words and figures."""

    name = forms.CharField(max_length=120, label="Name of the workshop")
    cutter = forms.CharField(
        max_length=120,
        required=False,
        label="Cutter",
        help_text="The name that stands on cards as the cutter.",
    )
    currency = forms.ChoiceField(
        choices=_currencies, help_text="Every sum is kept in it; it cannot be changed later."
    )
    zone = forms.ChoiceField(choices=_zones, label="Time zone", help_text="In which your days begin and end.")
    hourly_rate = MoneyInput(
        label="What an hour costs", help_text="Charged to each stone for the time it took."
    )
    rough_unit = forms.ChoiceField(choices=[("g", "grams"), ("ct", "carats")], label="Rough is weighed in")
    weight_unit = forms.ChoiceField(choices=[("ct", "carats"), ("g", "grams")], label="Stones are weighed in")
    scale_step = WeightInput(
        unit="ct", label="Smallest step of the scale", help_text="0.01 ct is 2 mg; 0.001 g is 0.005 ct."
    )
    tax_percent = NumberInput(
        unit="%", least=0, most=100, places=3, required=False, label="Sales tax offered",
        help_text="You can change it at each sale. Ask locally what applies to you.",
    )  # fmt: skip
    address = forms.CharField(max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    email = forms.EmailField(required=False, label="E-mail")
    website = forms.URLField(required=False, assume_scheme="https")
    tax_number = forms.CharField(max_length=40, required=False)
    mark = PicturesInput(
        several=False, required=False, label="Your mark",
        help_text="A JPEG, PNG or WebP, best square and on white: it stands small at the head of your papers.",
    )  # fmt: skip
    no_mark = forms.BooleanField(required=False, label="Print no mark any more")
    foot_words = forms.CharField(
        max_length=240, required=False, label="A line of your own",
        help_text="At the foot of certificates and documents. What it claims must be true of every stone.",
    )  # fmt: skip
    base_url = forms.URLField(
        required=False, assume_scheme="https", label="Address of the check pages",
        help_text="Where a buyer's phone reaches this app, such as https://cards.example. Printed in the QR code.",
    )  # fmt: skip

    paper_language = LanguageInput(label="Language of papers", help_text="Each paper may have another.")

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        kwargs.setdefault("initial", _shop_initial(shop))
        super().__init__(*args, **kwargs)
        self.fields["hourly_rate"].unit = shop.currency  # type: ignore[attr-defined]
        if shop.mark_id is None:
            self.fields["no_mark"].widget = forms.HiddenInput()
        if shop.set_up_at is not None:
            self.fields["currency"].disabled = True
        else:
            self.fields["hourly_rate"].unit = ""  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        rate, currency = cleaned.get("hourly_rate"), cleaned.get("currency")
        if rate is not None and currency:
            try:
                if rate != round(rate, digits(currency)):
                    self.add_error("hourly_rate", f"{currency} has {digits(currency)} decimal places.")
            except HandbookError as error:
                self.add_error("currency", str(error))
        return cleaned

    def changes(self) -> dict[str, Any]:
        """The fields of ``Shop`` as typed."""
        cleaned = dict(self.cleaned_data)
        for name in ("once", "sure", "mark"):
            cleaned.pop(name)
        if cleaned.pop("no_mark"):
            cleaned["mark"] = None
        cleaned["scale_step_ct"] = cleaned.pop("scale_step").ct
        if not cleaned["paper_language"]:
            cleaned.pop("paper_language")
        cleaned["tax_percent"] = cleaned["tax_percent"] if cleaned["tax_percent"] is not None else Decimal(0)
        return cleaned


def _shop_initial(shop: Shop) -> dict[str, Any]:
    plain = {
        name: getattr(shop, name)
        for name in (
            "name", "cutter", "currency", "zone", "rough_unit", "weight_unit", "address", "email", "website",
            "tax_number", "base_url", "paper_language",
            "foot_words",
        )
    }  # fmt: skip
    return plain | {
        "hourly_rate": f"{round(shop.hourly_rate, digits(shop.currency))}",
        "scale_step": f"{shop.scale_step_ct.normalize():f}",
        "tax_percent": f"{shop.tax_percent.normalize():f}",
    }


class PasswordFields(DeedForm):
    """A password typed twice."""

    password = forms.CharField(
        max_length=128, strip=False, widget=forms.PasswordInput(attrs=PASSWORD),
        help_text="At least 12 characters; a few words in a row are good.",
    )  # fmt: skip
    again = forms.CharField(
        max_length=128, strip=False, widget=forms.PasswordInput(attrs=PASSWORD), label="Password again"
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("password") and cleaned.get("again") and cleaned["password"] != cleaned["again"]:
            raise ValidationError({"again": "The two passwords differ."})
        return cleaned


class FirstOwnerForm(PasswordFields):
    """The one-time link's form: the first owner."""

    username = forms.CharField(
        max_length=ABOUT_LONGEST,
        label="Your name for signing in",
        widget=forms.TextInput(attrs={"autocomplete": "username"}),
    )
    field_order = ["username", "password", "again"]


class NewHandForm(PasswordFields):
    """Let somebody in."""

    username = forms.CharField(max_length=ABOUT_LONGEST, label="Name for signing in")
    full_name = forms.CharField(max_length=150, required=False)
    role = forms.ChoiceField(choices=Role, initial=Role.HAND)
    hourly_rate = MoneyInput(
        required=False, help_text="Only where this hand's hour costs something else than the shop's."
    )
    field_order = ["username", "full_name", "role", "hourly_rate", "password", "again"]

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["hourly_rate"].unit = currency  # type: ignore[attr-defined]


class HandForm(DeedForm):
    """Change a hand."""

    role = forms.ChoiceField(choices=Role)
    hourly_rate = MoneyInput(required=False)
    is_active = forms.BooleanField(required=False, label="May sign in")

    def __init__(self, *args: Any, hand: Hand, currency: str, **kwargs: Any) -> None:
        rate = "" if hand.hourly_rate is None else f"{round(hand.hourly_rate, digits(currency))}"
        kwargs.setdefault("initial", {"role": hand.role, "hourly_rate": rate, "is_active": hand.is_active})
        super().__init__(*args, **kwargs)
        self.fields["hourly_rate"].unit = currency  # type: ignore[attr-defined]
