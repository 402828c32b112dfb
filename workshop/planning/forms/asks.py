"""What the forms of this room share: they ask by address, so that every answer can be kept, sent and come back to."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, Self

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from workshop.common.formfields import NumberInput
from workshop.handbook import tables
from workshop.handbook.errors import HandbookError
from workshop.handbook.outlines import LABELS

from ..models import CutStyle

SMALL_NUMBER = {"least": 0, "places": 2}


class AskForm(forms.Form):
    """A form that is sent by GET: the answer stands at its own address, and nothing is kept."""

    @classmethod
    def of(cls, request: HttpRequest, initial: dict[str, Any] | None = None, **kwargs: Any) -> Self:
        """Bound once any of its fields stands in the address; else showing ``initial``."""
        form = cls(None, initial=initial, **kwargs)
        if any(name in request.GET for name in form.fields):
            return cls(request.GET, initial=initial, **kwargs)
        return form

    def tell(self, error: HandbookError, field: str | None = None) -> None:
        """What the handbook refused, beside the field it belongs to."""
        self.add_error(field if field in self.fields else None, str(error))

    @property
    def answered(self) -> bool:
        """Whether it was sent and is fit to be answered."""
        return self.is_bound and self.is_valid()


def number(label: str, *, unit: str = "", help: str = "", **bounds: Any) -> NumberInput:
    """A plain number with its unit."""
    return NumberInput(label=label, unit=unit, help_text=help, **bounds)


def percent(label: str, *, least: int = 0, most: int = 100, **more: Any) -> NumberInput:
    """A percentage."""
    return number(label, unit="%", least=least, most=most, places=2, **more)


def angle(label: str, **more: Any) -> NumberInput:
    """An angle of a facet; what no facet can stand at is refused with a sentence of its own."""
    return number(label, unit="°", places=3, **more)


def index_field(label: str = "Refractive index", **more: Any) -> NumberInput:
    """A refractive index; the lower one of a doubly refractive stone is the safer."""
    more.setdefault("help", "The lower one of a doubly refractive stone is the safer. 1.3 to 3.5.")
    return number(label, places=4, **more)


def gravity_field(label: str = "Specific gravity", **more: Any) -> NumberInput:
    """A specific gravity."""
    return number(label, places=4, **more)


def checked_index(value: Decimal | None) -> Decimal | None:
    """The index, or the handbook's sentence."""
    from workshop.handbook import optics

    if value is not None:
        sentence(lambda: optics.checked_index(float(value)))
    return value


def checked_facet(value: Decimal | None) -> Decimal | None:
    """An angle a main can stand at, or a sentence."""
    if value is not None and not 0 < value < 90:
        raise ValidationError(f"A main stands between 0° and 90° from the girdle plane, not at {value}°.")
    return value


def checked_gravity(value: Decimal | None) -> Decimal | None:
    """A gravity a gem can have, or a sentence."""
    if value is not None and not Decimal("0.5") <= value <= 25:
        raise ValidationError(f"An SG of {value} is not one of a gem; give 0.5 to 25.")
    return value


def sentence(question: Any) -> Any:
    """What the handbook answers; what it refuses becomes the field's own error."""
    try:
        return question()
    except HandbookError as error:
        raise ValidationError(str(error)) from error


def outline_choices(keys: Iterable[str] = tuple(LABELS)) -> list[tuple[str, str]]:
    """Outlines by their trade names."""
    return [(key, LABELS[key]) for key in keys]


def style_choices() -> list[tuple[str, str]]:
    """Styles, the outline's usual one first."""
    return [("", "the outline's usual one"), *CutStyle.choices]


def material_choices(empty: str = "as typed below") -> list[Any]:
    """The handbook's materials by species, for pages that need no data of the shop."""
    by_species: dict[str, list[tuple[str, str]]] = {}
    for row in sorted(tables.materials(), key=lambda row: (row.species, row.variety)):
        by_species.setdefault(row.species, []).append((row.key, row.name or f"{row.species}, {row.variety}"))
    return [("", empty), *by_species.items()]


class MaterialFields(forms.Form):
    """A material of the handbook, or index and gravity typed."""

    material = forms.ChoiceField(
        required=False, help_text="Fills in index and gravity where they are left empty."
    )
    ri = index_field(required=False)
    sg = gravity_field(required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["material"].choices = material_choices()  # type: ignore[attr-defined]

    def clean_ri(self) -> Decimal | None:
        return checked_index(self.cleaned_data["ri"])

    def clean_sg(self) -> Decimal | None:
        return checked_gravity(self.cleaned_data["sg"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        key = cleaned.get("material")
        if key:
            row = tables.material(key)
            cleaned["ri"] = cleaned.get("ri") or row.ri_low
            cleaned["sg"] = cleaned.get("sg") or row.sg_typical
        for name, words in (("ri", "an index"), ("sg", "a gravity")):
            if name in self.fields and not cleaned.get(name) and name not in self.errors:
                self.add_error(name, f"Give {words}, or choose the material.")
        return cleaned


class CutFields(forms.Form):
    """Outline, style and the angles and percentages of a cut."""

    outline = forms.ChoiceField(choices=outline_choices)
    style = forms.ChoiceField(choices=style_choices, required=False)
    sides = number("Sides", least=3, most=24, places=0, help="Of a regular polygon.", required=False)
    point = forms.BooleanField(
        label="Mains all run to one point", required=False,
        help_text="Otherwise a long curved brilliant ends in a keel, its mains at one angle.",
    )  # fmt: skip
    crown_angle = angle("Crown mains")
    pavilion_angle = angle("Pavilion mains")
    table = percent("Table", least=5, most=95, help="Of the width.")
    girdle = percent(
        "Girdle", most=50, help="Of the width, at its thick places. Common practice is 2 to 3 %."
    )

    def clean_crown_angle(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["crown_angle"])

    def clean_pavilion_angle(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["pavilion_angle"])


USUAL_CUT: dict[str, Any] = {
    "outline": "oval", "style": "", "sides": "8", "point": False, "crown_angle": "34", "pavilion_angle": "42",
    "table": "57", "girdle": "3",
}  # fmt: skip
