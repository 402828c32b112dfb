"""What a sale tells: each gem's cost and what the hour earned, and what was worked on it after it was sold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.handbook.costing import StoneAccount, account

from .models import Sale, SaleLine

ZERO = Decimal(0)


@dataclass(frozen=True)
class LineFigures:
    """One gem of a sale with its account, and what its stone has cost since."""

    line: SaleLine
    figures: StoneAccount
    later_seconds: int
    later_cost: Decimal


@dataclass(frozen=True)
class SaleFigures:
    """A sale, gem by gem and together."""

    sale: Sale
    lines: list[LineFigures]
    together: StoneAccount
    net: Decimal
    fees: Decimal

    @property
    def later_seconds(self) -> int:
        """Time booked on these stones after the sale."""
        return sum(one.later_seconds for one in self.lines)

    @property
    def later_cost(self) -> Decimal:
        """What that time cost; it lowers no margin here and stands apart."""
        return sum((one.later_cost for one in self.lines), ZERO)


def figures_of(sale: Sale, lines: Sequence[SaleLine]) -> SaleFigures:
    """All figures of a sale from the cost it was made at; what came later is told apart."""
    return SaleFigures(
        sale=sale,
        lines=[_line(sale, line) for line in lines],
        together=_account(sale, lines),
        net=sum((line.net for line in lines), ZERO),
        fees=sum((line.fees for line in lines), ZERO),
    )


def _line(sale: Sale, line: SaleLine) -> LineFigures:
    stone = line.gem.stone
    seconds = stone.bench_seconds + stone.off_bench_seconds - line.bench_seconds - line.off_bench_seconds
    cost = stone.labour - line.bench_labour - line.off_bench_labour
    return LineFigures(line, _account(sale, [line]), seconds, cost)


def _account(sale: Sale, lines: Sequence[SaleLine]) -> StoneAccount:
    """Of one line or of several together: sums first, quotients once."""
    return account(
        material=_sum(lines, "material"),
        seconds_bench=sum(line.bench_seconds for line in lines),
        seconds_off=sum(line.off_bench_seconds for line in lines),
        labour_bench=_sum(lines, "bench_labour"),
        labour_off=_sum(lines, "off_bench_labour"),
        wear=_sum(lines, "wear"),
        other=_sum(lines, "other"),
        price_net=_sum(lines, "net"),
        fees=_sum(lines, "fees"),
        finished_ct=sum((line.gem.weight_ct for line in lines), ZERO),
        currency=sale.currency,
    )


def _sum(lines: Sequence[SaleLine], column: str) -> Decimal:
    return sum((getattr(line, column) for line in lines), ZERO)
