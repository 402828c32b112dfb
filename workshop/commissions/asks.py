"""What a line of a quote is asked from: the piece and the work, what was typed over the figures, and the terms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, fields
from decimal import Decimal
from typing import Any

from workshop.common.errors import DeedRefused
from workshop.handbook.money import tax_in_gross, tax_on_net
from workshop.handbook.tariffs import Rate, RateKind, Weighed
from workshop.planning.models import CutPlan

ZERO = Decimal(0)
Triple = tuple[Decimal, Decimal, Decimal]
#: The names of the figures that may be typed over, low, middle and high.
WEIGHTS = ("weight_low_ct", "weight_ct", "weight_high_ct")
SECONDS = ("seconds_low", "seconds", "seconds_high")
PRICES = ("price_low", "price", "price_high")


@dataclass(frozen=True)
class Typed:
    """Figures typed over what is worked out; None where none was. Weights each gem, seconds of all of them."""

    weight_low_ct: Decimal | None = None
    weight_ct: Decimal | None = None
    weight_high_ct: Decimal | None = None
    length_low_mm: Decimal | None = None
    length_high_mm: Decimal | None = None
    width_low_mm: Decimal | None = None
    width_high_mm: Decimal | None = None
    seconds_low: int | None = None
    seconds: int | None = None
    seconds_high: int | None = None
    price_low: Decimal | None = None
    price: Decimal | None = None
    price_high: Decimal | None = None

    def facts(self) -> dict[str, str]:
        """What was typed, by the name of its column, for the line's own record."""
        return {one.name: str(said) for one in fields(self) if (said := getattr(self, one.name)) is not None}

    @classmethod
    def from_facts(cls, facts: dict[str, str]) -> Typed:
        """Back from the record."""
        return cls(
            **{  # type: ignore[arg-type]
                name: int(text) if name.startswith("seconds") else Decimal(text)
                for name, text in facts.items()
            }
        )


@dataclass(frozen=True)
class Ask:
    """What a line rests on. ``rough_ct``: all the rough together; for a recut the stone as it is.

    ``length_mm`` and ``width_mm``: that stone as it measures. ``hourly_rate``: None takes the shop's.
    """

    what: str = ""
    plan: CutPlan | None = None
    rough_ct: Decimal | None = None
    rough_pieces: int = 1
    gems: int = 1
    facets: int | None = None
    flawed: bool = False
    extras: tuple[str, ...] = ()
    length_mm: Decimal | None = None
    width_mm: Decimal | None = None
    floor_ct: Decimal | None = None
    hourly_rate: Decimal | None = None
    material_cost: Decimal = ZERO
    typed: Typed = field(default_factory=Typed)
    reason: str = ""


@dataclass(frozen=True)
class Terms:
    """How the quote prices: the tariff's lines, the currency, the tax, and whether the price is firm."""

    rates: tuple[Rate, ...]
    currency: str
    tax_percent: Decimal = ZERO
    tax_included: bool = True
    firm: bool = False

    def net(self, price: Decimal) -> Decimal:
        """What is left of a line's price once its tax is out."""
        return price - (tax_in_gross(price, self.tax_percent, self.currency) if self.tax_included else ZERO)

    def gross(self, price: Decimal) -> Decimal:
        """What the client pays for a line: its price with the tax in it."""
        return price + (ZERO if self.tax_included else tax_on_net(price, self.tax_percent, self.currency))


def over(typed: Typed, names: tuple[str, str, str], found: Triple | None) -> tuple[Any, dict[str, Any]]:
    """The figures with what was typed over them, and what was worked out there.

    One figure alone stands for all three; two ends without a middle have it half way between them.
    """
    low, middle, high = (getattr(typed, name) for name in names)
    if low is None and middle is None and high is None:
        return found, {}
    if (low is None) != (high is None):
        raise DeedRefused(
            "Give both ends of the range, or neither.", field=names[0] if low is None else names[2]
        )
    if low is None:
        low = high = middle
    elif middle is None:
        middle = (low + high) / 2 if isinstance(low, Decimal) else (low + high) // 2
    if low > high:
        raise DeedRefused("The range is upside down: its lower end is above its upper end.", field=names[0])
    if not low <= middle <= high:
        raise DeedRefused("The middle lies outside its own range.", field=names[1])
    if names[1] != "price" and low <= 0:
        raise DeedRefused("Give figures above zero.", field=names[0])
    return (low, middle, high), {} if found is None else dict(zip(names, map(str, found), strict=True))


def rates_to_facts(rates: Sequence[Rate]) -> list[dict[str, Any]]:
    """The lines of a tariff for the quote's own record."""
    return [
        {
            name: str(said) if isinstance(said, Decimal) else said
            for name, said in asdict(rate).items()
            if said not in (None, "")
        }
        for rate in rates
    ]


def rates_from_facts(facts: Sequence[dict[str, Any]]) -> tuple[Rate, ...]:
    """Back from the record."""
    figures = {"amount", "step_amount", "from_ct", "to_ct", "factor", "percent"}

    def read(one: dict[str, Any]) -> Rate:
        said: dict[str, Any] = {
            name: Decimal(text) if name in figures else text for name, text in one.items()
        }
        return Rate(**said | {"kind": RateKind(one["kind"]), "weighed": Weighed(one["weighed"])})

    return tuple(read(one) for one in facts)
