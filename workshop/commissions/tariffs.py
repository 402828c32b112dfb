"""A tariff of the shop as the handbook reckons with it."""

from __future__ import annotations

from collections.abc import Iterable

from workshop.handbook.tariffs import Rate, RateKind, Weighed

from .models import Tariff, TariffLine


def rates_of(tariff: Tariff) -> tuple[Rate, ...]:
    """The lines of a tariff, in the order they were written."""
    return rates_from(tariff.lines.all())


def rates_from(lines: Iterable[TariffLine]) -> tuple[Rate, ...]:
    """The same of lines that may not be kept yet."""
    return tuple(
        Rate(
            kind=RateKind(line.kind),
            label=line.label,
            amount=line.amount,
            step_amount=line.step_amount,
            started=line.started,
            weighed=Weighed(line.weighed_as),
            from_ct=line.from_ct,
            to_ct=line.to_ct,
            from_facets=line.from_facets,
            to_facets=line.to_facets,
            species=line.species,
            factor=line.factor,
            percent=line.percent,
            extra=line.extra,
        )
        for line in lines
    )
