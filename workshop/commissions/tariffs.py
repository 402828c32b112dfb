"""A tariff of the shop as the handbook reckons with it, and its lines in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from workshop.common import say
from workshop.handbook.tariffs import Rate, RateKind, Weighed

from .models import Extra, Tariff, TariffLine

#: The columns a line and a rate have in common, by the same name.
SHARED = (
    "amount", "step_amount", "started", "from_ct", "to_ct", "from_facets", "to_facets", "species", "factor",
    "percent", "extra",
)  # fmt: skip


def rates_of(tariff: Tariff) -> tuple[Rate, ...]:
    """The lines of a tariff, in the order they were written."""
    return rates_from(tariff.lines.all())


def rates_from(lines: Iterable[TariffLine]) -> tuple[Rate, ...]:
    """The same of lines that may not be kept yet. An extra without a name of its own has that of its kind."""
    return tuple(
        Rate(
            kind=RateKind(line.kind),
            label=line.label or (Extra(line.extra).label if line.extra else ""),
            weighed=Weighed(line.weighed_as),
            **{name: getattr(line, name) for name in SHARED},
        )
        for line in lines
    )


def line_from(rate: Rate, tariff: Tariff) -> TariffLine:
    """A rate as a line of a tariff, not kept yet."""
    return TariffLine(
        tariff=tariff,
        kind=rate.kind.value,
        label=rate.label,
        weighed_as=rate.weighed.value,
        **{name: getattr(rate, name) for name in SHARED},
    )


@dataclass(frozen=True)
class SaidLine:
    """One line of a tariff as it is read out: what for, how much, and what goes with it."""

    what: str
    price: str
    more: str = ""


def said_lines(rates: Iterable[Rate], currency: str) -> list[SaidLine]:
    """The lines in plain words, in the order in which they are reckoned."""
    order = list(RateKind)
    return [_said(rate, currency) for rate in sorted(rates, key=lambda rate: _place(order, rate))]


def _place(order: list[RateKind], rate: Rate) -> tuple[int, Decimal, int]:
    # Percentages come after the extras they also raise.
    place = len(order) if rate.kind is RateKind.PERCENT else order.index(rate.kind)
    return place, rate.from_ct or Decimal(0), rate.from_facets or 0


def _said(rate: Rate, currency: str) -> SaidLine:
    price = say.money(rate.amount, currency)
    named = f", {rate.label}" if rate.label else ""
    match rate.kind:
        case RateKind.BASE:
            return SaidLine(f"A gem{_band(rate)}{named}", price, _further(rate, currency))
        case RateKind.CARAT:
            return SaidLine(f"Each carat{_band(rate)}{named}", price, _weighed(rate))
        case RateKind.PIECE | RateKind.ROUGH:
            thing = "gem" if rate.kind is RateKind.PIECE else "piece of rough"
            return SaidLine(f"Each {thing}{named}", price)
        case RateKind.HOUR:
            return SaidLine(f"Each hour{named}", price)
        case RateKind.FACETS:
            return SaidLine(f"{_facets(rate)} facets", _factor(rate))
        case RateKind.SPECIES:
            return SaidLine(_begun(rate.species), _factor(rate))
        case RateKind.MINIMUM:
            return SaidLine(f"The least for a gem{named}", price, "before extras and percentages")
        case RateKind.EXTRA:
            told = price if rate.amount is not None else say.percent(rate.percent, 3 if _fine(rate) else 0)
            return SaidLine(_begun(rate.label or rate.extra), told, "only where it applies")
        case RateKind.PERCENT:
            return SaidLine(
                _begun(rate.label or "on top"), say.percent(rate.percent, 3 if _fine(rate) else 0)
            )


def _begun(words: str) -> str:
    return words[:1].upper() + words[1:]


def _fine(rate: Rate) -> bool:
    return rate.percent is not None and rate.percent != rate.percent.to_integral_value()


def _plain_ct(weight: Decimal | None) -> str:
    return f"{say.number((weight or Decimal(0)).normalize() + 0)}{say.GAP}ct"


def _band(rate: Rate) -> str:
    above = f" above {_plain_ct(rate.from_ct)}" if rate.from_ct else ""
    return above + (f" up to {_plain_ct(rate.to_ct)}" if rate.to_ct is not None else "")


def _further(rate: Rate, currency: str) -> str:
    if rate.step_amount is None:
        return _weighed(rate)
    carat = "each further started carat" if rate.started else "each further carat"
    return ", ".join(filter(None, [f"{carat} {say.money(rate.step_amount, currency)}", _by_rough(rate)]))


def _weighed(rate: Rate) -> str:
    started = "each started carat counts whole" if rate.started else ""
    return ", ".join(filter(None, [_by_rough(rate), started]))


def _by_rough(rate: Rate) -> str:
    return "by the weight of the rough" if rate.weighed is Weighed.ROUGH else ""


def _facets(rate: Rate) -> str:
    if rate.to_facets is None:
        return f"{rate.from_facets} or more" if rate.from_facets is not None else "Any number of"
    return (
        f"Up to {rate.to_facets}" if rate.from_facets is None else f"{rate.from_facets} to {rate.to_facets}"
    )


def _factor(rate: Rate) -> str:
    return "by request" if rate.factor is None else f"× {say.number(rate.factor.normalize() + 0)}"
