"""Tariffs of the shop: written, changed, ended, and taken away while nothing was quoted by them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.handbook.errors import HandbookError
from workshop.handbook.tariffs import Rate, check_rates

from ..models import Tariff, TariffLine
from ..tariffs import line_from, rates_of

PREFIX = "T"
ZERO = Decimal(0)


@dataclass(frozen=True)
class TariffFacts:
    """What a tariff says besides its lines."""

    name: str
    from_on: date
    currency: str
    until_on: date | None = None
    tax_percent: Decimal = ZERO
    tax_included: bool = True
    deposit_percent: Decimal = Decimal(50)
    deposit_refundable: bool = False
    valid_days: int = 14
    terms: str = ""
    notes: str = ""


def add_tariff(facts: TariffFacts, rates: Sequence[Rate], *, by: Hand | None, at: datetime) -> Tariff:
    """Write a new tariff with its lines."""
    with write_tx():
        _check(facts, rates)
        tariff = Tariff(code=numbers.take(PREFIX))
        _write(tariff, facts, rates)
        journal.note("wrote a tariff", tariff.code, by=by, at=at, after=_told(tariff, rates))
    return tariff


def change_tariff(
    tariff: Tariff, facts: TariffFacts, rates: Sequence[Rate], *, by: Hand | None, at: datetime
) -> Tariff:
    """Change a tariff. Quotes that were sent keep the figures they were sent with."""
    with write_tx():
        tariff = Tariff.objects.get(pk=tariff.pk)
        _check(facts, rates)
        before = _told(tariff, rates_of(tariff))
        _write(tariff, facts, rates)
        journal.note("changed a tariff", tariff.code, by=by, at=at, before=before, after=_told(tariff, rates))
    return tariff


def end_tariff(tariff: Tariff, *, until_on: date, by: Hand | None, at: datetime) -> Tariff:
    """Let a tariff hold until a day, that day included."""
    with write_tx():
        tariff = Tariff.objects.get(pk=tariff.pk)
        _check_days(tariff.from_on, until_on)
        before, tariff.until_on = tariff.until_on, until_on
        tariff.save(update_fields=["until_on"])
        journal.note(
            "ended a tariff",
            tariff.code,
            by=by,
            at=at,
            before={"until": before},
            after={"until": until_on},
        )
    return tariff


def delete_tariff(tariff: Tariff, *, by: Hand | None, at: datetime) -> None:
    """Take away a tariff nothing was quoted by."""
    with write_tx():
        tariff = Tariff.objects.get(pk=tariff.pk)
        quote = tariff.quotes.select_related("commission").order_by("pk").first()
        if quote is not None:
            raise DeedRefused(
                f"{quote.commission.code} was quoted by this tariff; it stays. End it instead, and write a new one."
            )
        journal.note("took away a tariff", tariff.code, by=by, at=at, before=_told(tariff, rates_of(tariff)))
        tariff.delete()


def _check(facts: TariffFacts, rates: Sequence[Rate]) -> None:
    _check_days(facts.from_on, facts.until_on)
    try:
        check_rates(rates, facts.currency)
    except HandbookError as error:
        raise DeedRefused(str(error), field="lines") from error


def _check_days(from_on: date, until_on: date | None) -> None:
    if until_on is not None and until_on < from_on:
        raise DeedRefused(f"It begins on {from_on}; it cannot end before that.", field="until_on")


def _write(tariff: Tariff, facts: TariffFacts, rates: Sequence[Rate]) -> None:
    for field in fields(facts):
        setattr(tariff, field.name, getattr(facts, field.name))
    tariff.full_clean()
    tariff.save()
    lines = [line_from(rate, tariff) for rate in rates]
    for line in lines:
        line.full_clean()
    tariff.lines.all().delete()
    TariffLine.objects.bulk_create(lines)


def _told(tariff: Tariff, rates: Sequence[Rate]) -> dict[str, Any]:
    facts = {field.name: getattr(tariff, field.name) for field in fields(TariffFacts)}
    lines = [
        {name: figure for name, figure in vars(rate).items() if figure not in (None, "", False)}
        for rate in rates
    ]
    return {**facts, "lines": lines}
