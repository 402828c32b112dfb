"""Column types: whole numbers underneath, Decimals above.

Sums made by the database are then exact on SQLite and on PostgreSQL alike; SQLite would sum a ``DecimalField``
through floating point. A value with more places than the column keeps is refused, never rounded in silence:
rounding has its doors in the handbook (``to_thousandth``, ``round_money``).
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core import exceptions
from django.db import models
from django.db.models.expressions import Combinable

# One below the bound of a signed 64-bit column, so that a sum of a page of rows cannot run over it either.
BIGGEST = 10**15
BIGGEST_DIGITS = 15


class ScaledDecimalField(models.BigIntegerField):
    """A Decimal with a fixed number of places, kept as an integer count of its last place."""

    # Read by mypy's plug-in alone: what may be put into such a column, and what comes out.
    _pyi_private_set_type: Decimal | int | Combinable  # type: ignore[assignment]
    _pyi_private_get_type: Decimal  # type: ignore[assignment]
    _pyi_lookup_exact_type: Decimal | int  # type: ignore[assignment]

    places: int = 0
    description = "Decimal with fixed places, stored as an integer"

    def __init__(self, *args: Any, places: int | None = None, **kwargs: Any) -> None:
        if places is not None:
            self.places = places
        super().__init__(*args, **kwargs)

    @property
    def step(self) -> Decimal:
        """The smallest value the column can tell apart."""
        return Decimal(1).scaleb(-self.places)

    def deconstruct(self) -> tuple[str, str, Any, Any]:
        name, path, args, kwargs = super().deconstruct()
        if self.places != type(self).places:
            kwargs["places"] = self.places
        return name, path, args, kwargs

    def to_python(self, value: Any) -> Decimal | None:
        if value is None:
            return None
        if isinstance(value, float):
            raise exceptions.ValidationError("A float has no exact value; give a Decimal.", code="float")
        try:
            read = Decimal(value)
        except (InvalidOperation, TypeError, ValueError) as error:
            raise exceptions.ValidationError(f"“{value}” is not a number.", code="invalid") from error
        if not read.is_finite():
            raise exceptions.ValidationError(f"“{value}” is not a number.", code="invalid")
        return read

    def from_db_value(self, value: int | None, expression: Any, connection: Any) -> Decimal | None:
        return None if value is None else Decimal(int(value)).scaleb(-self.places)

    def get_prep_value(self, value: Any) -> Any:
        if value is None or hasattr(value, "resolve_expression"):
            return value
        return self.count(value)

    def count(self, value: Any) -> int:
        """How many last places ``value`` holds; refuses what does not fit exactly."""
        read = self.to_python(value)
        assert read is not None
        if read.adjusted() > BIGGEST_DIGITS:
            # Asked before any arithmetic: 1e900000 takes seconds to become a whole number.
            raise exceptions.ValidationError("That number is too large.", code="large")
        scaled = read.scaleb(self.places)
        whole = int(scaled)
        if scaled != whole:
            raise exceptions.ValidationError(
                f"{read} has more than {self.places} decimal places.", code="places"
            )
        if abs(whole) > BIGGEST:
            raise exceptions.ValidationError(f"{read} is too large.", code="large")
        return whole

    def clean(self, value: Any, model_instance: Any) -> Any:
        read = self.to_python(value)
        if read is not None:
            self.count(read)
        # The integer validators of the base class would compare the Decimal with bounds of the raw column.
        self.validate(read, model_instance)
        return read

    @property
    def validators(self) -> list[Any]:  # type: ignore[override]
        return list(self._validators)  # type: ignore[attr-defined]

    def value_to_string(self, obj: Any) -> str:
        value = self.value_from_object(obj)
        return "" if value is None else str(value)

    def formfield(self, **kwargs: Any) -> Any:
        return super(models.IntegerField, self).formfield(
            **{"form_class": forms.DecimalField, "decimal_places": self.places, **kwargs}
        )


class WeightField(ScaledDecimalField):
    """Carats to 0.001 (a thousandth of a carat is 0.2 mg)."""

    places = 3


class LengthField(ScaledDecimalField):
    """Millimetres to 0.01."""

    places = 2


class MoneyField(ScaledDecimalField):
    """Money to three places, so that currencies with thousandths fit; always a whole number of minor units.

    ``round_money`` in the handbook is the door that brings a sum to its currency's own places.
    """

    places = 3


class UnitPriceField(ScaledDecimalField):
    """A price per gram, carat or piece, which trade lists quote finer than money is paid."""

    places = 4


class RateField(ScaledDecimalField):
    """An exchange rate as the bank states it."""

    places = 8


class PercentField(ScaledDecimalField):
    """A percentage to three places."""

    places = 3


class FactorField(ScaledDecimalField):
    """A plain factor, such as how much a carat of this grade bears against a carat of the next."""

    places = 4
