"""What each calculator asks. ``GROUPS`` says how its fields stand on the page: a legend and the names under it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from workshop.common.formfields import LengthInput, MoneyInput, TypedField, WeightInput
from workshop.handbook.identify import OPTIC_CHARACTERS
from workshop.handbook.tables.abrasives import STANDARDS
from workshop.handbook.units import parse_number

from .asks import (
    AskForm,
    MaterialFields,
    angle,
    checked_facet,
    checked_gravity,
    checked_index,
    gravity_field,
    index_field,
    number,
    outline_choices,
    percent,
)

Groups = Sequence[tuple[str, str]]
MOST_NUMBERS = 200
#: Shapes that are weighed from millimetres besides the faceted outlines.
ROUNDED = {"cabochon": "cabochon", "bead": "bead or sphere", "briolette": "briolette"}


class NumbersInput(TypedField):
    """Several numbers, parted by spaces, semicolons or new lines; decimal comma and point both understood."""

    def __init__(self, *, whole: bool = False, least: int = 1, **kwargs: Any) -> None:
        self.whole, self.least_count = whole, least
        kwargs.setdefault("max_length", 2000)
        kwargs.setdefault(
            "widget", forms.Textarea(attrs={"rows": 2, "inputmode": "decimal", "autocomplete": "off"})
        )
        super().__init__(**kwargs)

    def read(self, text: str) -> list[Decimal]:
        found = [parse_number(word) for word in text.replace(";", " ").split()]
        if not self.least_count <= len(found) <= MOST_NUMBERS:
            raise ValidationError(f"Give {self.least_count} to {MOST_NUMBERS} numbers, parted by spaces.")
        if self.whole and any(one != int(one) for one in found):
            raise ValidationError("Settings of a wheel are whole numbers here.")
        return found


class WindowForm(AskForm):
    """An index, and a pavilion to hold against it."""

    ri = index_field()
    pavilion = angle("Pavilion mains", required=False)

    GROUPS: ClassVar[Groups] = [("The stone", "ri pavilion")]
    INITIAL: ClassVar[dict[str, Any]] = {}

    def clean_ri(self) -> Decimal | None:
        return checked_index(self.cleaned_data["ri"])

    def clean_pavilion(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["pavilion"])


class IdentifyForm(AskForm):
    """Readings, each with how far off it may be."""

    ri = index_field("One index, or a spot reading", required=False, help="1.3 to 3.5.")
    ri_low = index_field("Lower edge", required=False, help="Of a doubly refractive stone.")
    ri_high = index_field("Higher edge", required=False, help="")
    ri_within = number("Good to ±", above_zero=True, most=1, places=4, required=False)
    over = forms.BooleanField(label="An edge lies beyond the scale", required=False)
    birefringence = number("Birefringence", least=0, most=1, places=4, required=False)
    birefringence_within = number("Good to ±", above_zero=True, most=1, places=4, required=False)
    sg = gravity_field(required=False)
    sg_within = number("Good to ±", above_zero=True, most=5, places=4, required=False)
    optic = forms.ChoiceField(
        label="Optic character", choices=[("", "not seen"), *((one, one) for one in OPTIC_CHARACTERS)],
        required=False,
    )  # fmt: skip

    GROUPS: ClassVar[Groups] = [
        ("Refractometer", "ri ri_low ri_high ri_within over"),
        ("Birefringence, if read apart", "birefringence birefringence_within"),
        ("Weighed in water", "sg sg_within"),
        ("Polariscope", "optic"),
    ]
    # Common practice, no source: a good refractometer is read to 0.002, a gravity by hand to 0.02.
    INITIAL: ClassVar[dict[str, Any]] = {
        "ri_within": "0.002",
        "birefringence_within": "0.002",
        "sg_within": "0.02",
    }

    def clean_ri(self) -> Decimal | None:
        return checked_index(self.cleaned_data["ri"])

    def clean_ri_low(self) -> Decimal | None:
        return checked_index(self.cleaned_data["ri_low"])

    def clean_ri_high(self) -> Decimal | None:
        return checked_index(self.cleaned_data["ri_high"])

    def clean_sg(self) -> Decimal | None:
        return checked_gravity(self.cleaned_data["sg"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        edges = ("ri", "ri_low", "ri_high")
        needs = {"ri_within": edges, "birefringence_within": ("birefringence",), "sg_within": ("sg",)}
        for name, readings in needs.items():
            if (
                any(cleaned.get(one) is not None for one in readings)
                and not cleaned.get(name)
                and name not in self.errors
            ):
                self.add_error(name, "How far off may the reading be?")
        if not self.errors and not any(
            cleaned.get(name) for name in (*edges, "over", "birefringence", "sg", "optic")
        ):
            raise ValidationError("Give at least one reading.")
        return cleaned


class DensityForm(AskForm):
    """Weighed in air and hanging in water."""

    air = WeightInput(label="Weight in air", unit="ct")
    water = WeightInput(label="Reading in water, stone and wire", unit="ct")
    wire = WeightInput(label="Wire alone in the water", unit="ct", required=False)
    step = WeightInput(label="Step of the balance", unit="ct")
    celsius = number("Temperature of the water", unit="°C", places=2)
    within = number("known to ±", unit="°C", least=0, most=20, places=2)
    lift = forms.BooleanField(label="Allow for the lift of the air", required=False)

    GROUPS: ClassVar[Groups] = [("Balance", "air water wire step"), ("Water", "celsius within lift")]
    INITIAL: ClassVar[dict[str, Any]] = {"step": "0.01 ct", "celsius": "20", "within": "1"}


class WheelForm(AskForm):
    """How a wheel divides."""

    teeth = number("Teeth of the wheel", least=3, most=720, places=0)
    fold = number("Facets around", least=1, most=360, places=0)
    start = number(
        "First facet at",
        least=0,
        most=720,
        places=3,
        required=False,
        help="A setting; a fraction for a fine offset.",
    )

    GROUPS: ClassVar[Groups] = [("Wheel", "teeth fold start")]
    INITIAL: ClassVar[dict[str, Any]] = {"teeth": "96", "start": "0"}


class SettingsForm(AskForm):
    """Settings of one wheel carried to another."""

    settings = NumbersInput(label="Settings", whole=True, help_text="Parted by spaces: 3 9 15 21.")
    old = number("On a wheel of", unit="teeth", least=3, most=720, places=0)
    new = number("To a wheel of", unit="teeth", least=3, most=720, places=0)

    GROUPS: ClassVar[Groups] = [("Settings", "settings old new")]
    INITIAL: ClassVar[dict[str, Any]] = {"old": "64", "new": "96"}


class TangentForm(AskForm):
    """The angles of one side carried to a new main angle."""

    angles = NumbersInput(
        label="Angles of the side",
        unit="°",
        help_text="All tiers of the crown, or all of the pavilion, parted by spaces.",
    )
    old = angle("Its mains stand at")
    new = angle("They are to stand at")
    pavilion = forms.BooleanField(label="This is the pavilion: hold it against the index", required=False)
    ri = index_field("New refractive index", required=False)

    GROUPS: ClassVar[Groups] = [("Angles", "angles old new"), ("The new material", "pavilion ri")]
    INITIAL: ClassVar[dict[str, Any]] = {}

    def clean_old(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["old"])

    def clean_new(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["new"])

    def clean_ri(self) -> Decimal | None:
        return checked_index(self.cleaned_data["ri"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("pavilion") and not cleaned.get("ri") and "ri" not in self.errors:
            self.add_error("ri", "Give the index of the new material.")
        return cleaned


class GritForm(AskForm):
    """A grit label under its standard, or a grain in microns."""

    label = forms.CharField(label="Label", max_length=12, required=False, help_text="1200, P1200, #8000.")
    standard = forms.ChoiceField(choices=list(STANDARDS.items()))
    microns = number("Or a grain of", unit="µm", above_zero=True, most=5000, places=3, required=False)

    GROUPS: ClassVar[Groups] = [("A label", "label standard"), ("A grain", "microns")]
    INITIAL: ClassVar[dict[str, Any]] = {"standard": "diamond"}

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if not self.errors and not cleaned.get("label") and not cleaned.get("microns"):
            raise ValidationError("Give a label, or a grain in microns.")
        return cleaned


class WeightForm(MaterialFields, AskForm):
    """A stone measured in its setting."""

    outline = forms.ChoiceField(choices=[*outline_choices(), *ROUNDED.items()])
    length_mm = LengthInput(label="Length", help_text="The greater diameter of a round.")
    width_mm = LengthInput(label="Width")
    depth_mm = LengthInput(label="Depth")
    correction = number(
        "Correction for belly and girdle", least=Decimal("0.9"), most=Decimal("1.15"), places=3, required=False,
        help="Your own eye: 1 for none. Published: belly 1.02 to 1.06, girdle 1.03 to 1.08.",
    )  # fmt: skip
    table = percent("Table", least=5, most=95)
    crown_angle = angle("Crown mains")

    GROUPS: ClassVar[Groups] = [
        ("Size", "outline length_mm width_mm depth_mm"),
        ("Material", "material sg"),
        ("For a closer look", "correction table crown_angle"),
    ]
    INITIAL: ClassVar[dict[str, Any]] = {
        "outline": "oval",
        "correction": "1",
        "table": "57",
        "crown_angle": "34",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["ri"]

    def clean_crown_angle(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["crown_angle"])


class BuyingForm(AskForm):
    """A parcel before it is bought."""

    weight = WeightInput(label="Weight of the parcel", unit="g", help_text="In grams unless you write ct.")
    price = MoneyInput(label="Price asked for it")
    extras = MoneyInput(label="Freight, duty, fees and tax that stays", required=False)
    stones = number("Stones it will make", least=1, most=100000, places=0)
    low = percent("Recovery, careful", help="20 % is the careful planner's figure.")
    middle = percent("Recovery, expected", help="About 30 % is common; 25 to 33 % in custom work.")
    high = percent("Recovery, at best")
    hours = number("Hours a stone", unit="h", least=0, most=1000, places=2)
    rate = MoneyInput(label="An hour costs")
    fee = percent("Fees and commission when it sells", most=99, required=False)
    margin = percent("Margin wanted, of the price", most=99, required=False)

    GROUPS: ClassVar[Groups] = [
        ("The parcel", "weight price extras stones"),
        ("What it gives", "low middle high hours"),
        ("Money", "rate fee margin"),
    ]
    INITIAL: ClassVar[dict[str, Any]] = {"low": "20", "middle": "30", "high": "33", "fee": "0", "margin": "0"}

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, MoneyInput):
                field.unit = currency

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        shares = [cleaned.get(name) for name in ("low", "middle", "high")]
        if None not in shares and not 0 < shares[0] <= shares[1] <= shares[2]:  # type: ignore[operator]
            self.add_error("middle", "The three recoveries rise: careful, expected, at best; all above zero.")
        if (cleaned.get("fee") or 0) + (cleaned.get("margin") or 0) >= 100:
            self.add_error("margin", "Fees and margin together leave nothing of the price.")
        return cleaned


class GirdleForm(AskForm):
    """Side lengths read around a girdle."""

    sides = NumbersInput(
        label="Sides, in order round the stone",
        unit="mm",
        least=3,
        help_text="Clockwise, the first whole side after twelve o'clock first; parted by spaces.",
    )
    tolerance = percent("A side is even within ±", most=50)
    outline = forms.ChoiceField(choices=[("", "all sides equal"), *outline_choices()], required=False)
    ratio = number(
        "Length to width", above_zero=True, most=8, places=3, required=False, help="Empty: the usual one."
    )

    GROUPS: ClassVar[Groups] = [("Read", "sides tolerance"), ("The plan", "outline ratio")]
    INITIAL: ClassVar[dict[str, Any]] = {"tolerance": "2"}
