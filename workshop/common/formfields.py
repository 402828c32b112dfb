"""Form fields that read weights, lengths, money and times as people type them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator

from workshop.handbook.errors import HandbookError
from workshop.handbook.money import parse_money
from workshop.handbook.units import Weight, parse_length, parse_number, parse_weight

from . import photos


class TypedField(forms.CharField):
    """A number typed as text: decimal comma and point both understood, the error beside the field."""

    def __init__(self, *, unit: str = "", **kwargs: Any) -> None:
        self.unit = unit
        kwargs.setdefault("max_length", 40)
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(**kwargs)

    def read(self, text: str) -> Any:
        raise NotImplementedError

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        try:
            return self.read(text)
        except HandbookError as error:
            raise ValidationError(str(error)) from error


class WeightInput(TypedField):
    """``4.2 g``, ``21 ct``, ``1,5g``; a bare number is in ``unit``. Cleans to ``handbook.units.Weight``.

    Cleaned weights remember how they were typed in ``as_typed(weight)``.
    """

    def read(self, text: str) -> Weight:
        return parse_weight(text, unit=self.unit or None)


def as_typed(weight: Weight) -> str:
    """The entry with its unit, as it is kept beside the carats."""
    return f"{weight.entered} {weight.unit}"


class LengthInput(TypedField):
    """Millimetres, to 0.01."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(unit="mm", **kwargs)

    def read(self, text: str) -> Decimal:
        return parse_length(text)


class MoneyInput(TypedField):
    """An amount in a currency, given as ``unit``. Negative only where ``signed``."""

    def __init__(self, *, signed: bool = False, **kwargs: Any) -> None:
        self.signed = signed
        super().__init__(**kwargs)

    def read(self, text: str) -> Decimal:
        amount = parse_money(text, self.unit) if self.unit else parse_number(text)
        if amount < 0 and not self.signed:
            raise ValidationError("Give an amount of zero or more.")
        return amount


class NumberInput(TypedField):
    """A plain number within bounds and with at most ``places`` decimals: a rate, a factor, a percentage, an angle."""

    def __init__(
        self,
        *,
        least: Decimal | int | None = None,
        most: Decimal | int | None = None,
        places: int = 4,
        above_zero: bool = False,
        **kwargs: Any,
    ) -> None:
        self.least, self.most, self.places, self.above_zero = least, most, places, above_zero
        super().__init__(**kwargs)

    def read(self, text: str) -> Decimal:
        number = parse_number(text)
        if self.above_zero and number <= 0:
            raise ValidationError("Give a number above zero.")
        if self.least is not None and number < self.least:
            raise ValidationError(f"Give a number of at least {self.least}.")
        if self.most is not None and number > self.most:
            raise ValidationError(f"Give a number of at most {self.most}.")
        if number != number.quantize(Decimal(1).scaleb(-self.places)):
            raise ValidationError(f"Give at most {self.places} decimal places.")
        return number


#: Whatever a shop has was bought, cut or sold after this; an earlier year is a slip, or a moment UTC cannot name.
FIRST_DAY = date(1900, 1, 1)
LOOK_AT_THE_YEAR = "Look at the year."


class DayInput(forms.DateField):
    """A calendar day, picked or typed."""

    default_validators = [MinValueValidator(FIRST_DAY, LOOK_AT_THE_YEAR)]

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)


class MomentInput(forms.DateTimeField):
    """A day and a time of day on the shop's clock."""

    default_validators = [
        MinValueValidator(datetime.combine(FIRST_DAY, datetime.min.time(), UTC), LOOK_AT_THE_YEAR)
    ]

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        )
        super().__init__(**kwargs)


class PicturesInput(forms.FileField):
    """Photographs, one or several; cleans to a list of what ``photos.prepare`` made of each.

    The pictures are decoded here, before any write transaction begins.
    """

    def __init__(self, *, several: bool = True, **kwargs: Any) -> None:
        self.several = several
        widget = _ManyFiles if several else forms.FileInput
        attrs = {
            "accept": "image/jpeg,image/png,image/webp",
            "data-max-bytes": str(settings.PICTURE_MAX_BYTES),
        }
        kwargs.setdefault("widget", widget(attrs=attrs))
        super().__init__(**kwargs)

    def clean(self, value: Any, initial: Any = None) -> list[dict[str, bytes]]:
        uploads = [one for one in (value if isinstance(value, list | tuple) else [value]) if one]
        if not uploads:
            super().clean(None, initial)
            return []
        prepared, problems = [], []
        for upload in uploads:
            try:
                prepared.append(photos.prepare(super().clean(upload, initial)))
            except ValidationError as error:
                problems += [ValidationError(f"{upload.name}: {said}") for said in error.messages]
        if problems:
            raise ValidationError(problems)
        return prepared


class _ManyFiles(forms.FileInput):
    allow_multiple_selected = True


def _shop_language() -> str:
    from .models import Shop

    return Shop.the().paper_language


class LanguageInput(forms.ChoiceField):
    """The language a paper is printed in. Cleans to nothing where none was chosen: the deed knows which one then."""

    def __init__(self, **kwargs: Any) -> None:
        usual: dict[str, Any] = {
            "choices": settings.LANGUAGES,
            "initial": _shop_language,
            "label": "Language",
        }
        kwargs = usual | kwargs
        super().__init__(required=False, **kwargs)
