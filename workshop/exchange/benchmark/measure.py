"""Measure a deed against its floor in turns (A B A B), so that a busy moment falls on both alike."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Timed:
    """Milliseconds of a deed and of its floor, and what the deed asked and sent."""

    name: str
    p50: float
    p95: float
    floor: float
    queries: int | None = None
    size: int | None = None
    aim: float | None = None

    @property
    def ratio(self) -> float:
        """The deed's median over the floor's median."""
        return self.p50 / self.floor if self.floor else float("inf")

    @property
    def within(self) -> bool:
        """Whether the ratio keeps its aim, where it has one."""
        return self.aim is None or self.ratio <= self.aim


def against(
    name: str,
    deed: Callable[[], Any],
    floor: Callable[[], Any],
    *,
    rounds: int,
    queries: int | None = None,
    size: int | None = None,
    aim: float | None = None,
) -> Timed:
    """Run both ``rounds`` times in turns, after one run of each to warm them."""
    deed()
    floor()
    deeds, floors = [], []
    for _ in range(rounds):
        deeds.append(milliseconds(deed))
        floors.append(milliseconds(floor))
    deeds.sort()
    p95 = deeds[min(int(len(deeds) * 0.95), len(deeds) - 1)]
    return Timed(name, statistics.median(deeds), p95, statistics.median(floors), queries, size, aim)


def milliseconds(deed: Callable[[], Any]) -> float:
    """How long a deed takes, once."""
    start = time.perf_counter()
    deed()
    return (time.perf_counter() - start) * 1000


COLUMNS = (
    ("p50 ms", 9),
    ("p95 ms", 9),
    ("floor ms", 9),
    ("ratio", 7),
    ("aim", 5),
    ("queries", 8),
    ("bytes", 9),
)


def table(rows: list[Timed]) -> str:
    """The rows as text, for a terminal."""
    wide = max((len(row.name) for row in rows), default=4)
    head = "what".ljust(wide) + "".join(name.rjust(width) for name, width in COLUMNS)
    return "\n".join([head, "-" * len(head), *(_line(row, wide) for row in rows)])


def _line(row: Timed, wide: int) -> str:
    figures = (
        f"{row.p50:.2f}",
        f"{row.p95:.2f}",
        f"{row.floor:.2f}",
        f"{row.ratio:.2f}",
        "" if row.aim is None else f"{row.aim:g}",
        "" if row.queries is None else str(row.queries),
        "" if row.size is None else f"{row.size:,}",
    )
    told = "".join(figure.rjust(width) for figure, (_, width) in zip(figures, COLUMNS, strict=True))
    return row.name.ljust(wide) + told + ("" if row.within else "  over its aim")
