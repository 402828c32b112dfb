"""What this shop's own finished stones say about the next piece: hours, recovery, and the stones most like it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db.models import Exists, OuterRef

from workshop.planning import history
from workshop.stones.models import Stage, StageChange, Stone, Work

from .models import WorkKind

if TYPE_CHECKING:
    from workshop.handbook.estimates import Belief
    from workshop.handbook.estimates import Work as Kind

#: The handbook's kind of work for each of the shop's. A repair has none of its own and goes as a repolish.
WORK_OF: dict[str, Kind] = {
    WorkKind.CUT_OWN: "new", WorkKind.CUT_CLIENT: "new", WorkKind.MATCH: "new",
    WorkKind.RECUT: "recut", WorkKind.REPOLISH: "repolish", WorkKind.REPAIR: "repolish",
}  # fmt: skip
SHOWN = 6
LEAST_ROUGH = Decimal("0.05")

_COLUMNS = (
    "pk", "code", "work", "weight_ct", "start_ct", "bench_seconds", "off_bench_seconds", "material__species",
    "gems__facets", "cut_plans__facets", "cut_plans__superseded_at", "shape",
)  # fmt: skip


@dataclass(frozen=True)
class PastStone:
    """A finished stone of this shop and what it really took."""

    code: str
    species: str
    shape: str
    work: str
    facets: int | None
    start_ct: Decimal
    finished_ct: Decimal
    bench_seconds: int
    off_bench_seconds: int

    @property
    def seconds(self) -> int:
        """All its hours."""
        return self.bench_seconds + self.off_bench_seconds

    @property
    def recovery_percent(self) -> Decimal:
        """What was left of what it started with."""
        return 100 * self.finished_ct / self.start_ct

    @property
    def work_words(self) -> str:
        """What was done to it."""
        return str(Work(self.work).label)

    @property
    def grew(self) -> bool:
        """Whether its weights cannot be true, so that they teach nothing."""
        return self.finished_ct > self.start_ct


@dataclass(frozen=True, eq=False)
class Bench:
    """Beliefs about hours, about what becomes of rough and of cut stones, and the stones they rest on."""

    past: history.History
    rough_share: Belief
    kept: dict[Kind, Belief]
    stones: tuple[PastStone, ...]


def bench() -> Bench:
    """Learn from the newest finished stones; two queries, whatever their number."""
    from workshop.handbook import estimates

    stones = tuple(_newest())
    new = [one for one in stones if one.work == "new" and one.start_ct >= LEAST_ROUGH and not one.grew]
    takes = [(estimates.Take(float(one.start_ct)), float(one.finished_ct)) for one in new]
    return Bench(
        past=history.history(),
        rough_share=estimates.rough_share_belief(takes),
        kept={work: _kept(work, stones) for work in estimates.KEPT_BY_WORK},
        stones=stones,
    )


def _kept(work: Kind, stones: Iterable[PastStone]) -> Belief:
    from workshop.handbook import estimates

    seen = [
        (float(one.start_ct), float(one.finished_ct)) for one in stones if one.work == work and not one.grew
    ]
    return estimates.kept_belief(work, seen)


def _newest() -> Iterable[PastStone]:
    # One that was finished and went back for work holds the hours and the weight of two jobs in one row.
    twice = StageChange.objects.filter(stone=OuterRef("pk"), old=Stage.FINISHED)
    finished = Stone.objects.filter(~Exists(twice), stage=Stage.FINISHED, ending="").order_by(
        "-touched_at", "-pk"
    )
    rows: dict[int, dict[str, Any]] = {}
    for row in finished.values(*_COLUMNS)[: 2 * history.NEWEST]:
        if row["pk"] not in rows or row["cut_plans__superseded_at"] is None:
            rows[row["pk"]] = row
    for row in list(rows.values())[: history.NEWEST]:
        yield PastStone(
            code=row["code"],
            species=row["material__species"] or "",
            shape=row["shape"],
            work=row["work"],
            facets=row["gems__facets"] or row["cut_plans__facets"],
            start_ct=row["start_ct"],
            finished_ct=row["weight_ct"],
            bench_seconds=row["bench_seconds"],
            off_bench_seconds=row["off_bench_seconds"],
        )


def most_like(
    stones: Iterable[PastStone], *, species: str, work: str, facets: int, start_ct: Decimal | None
) -> list[PastStone]:
    """The past stones most like a piece: same species, then same work, then nearest in facets and in weight.

    Stones without any hours tell nothing of time and are left out.
    """
    timed = [one for one in stones if one.seconds]

    def apart(one: PastStone) -> tuple[bool, bool, float]:
        by_facets = abs(math.log((one.facets or history.USUAL_FACETS) / facets))
        by_weight = abs(math.log(float(one.start_ct / start_ct))) if start_ct else 0.0
        return one.species != species, one.work != work, by_facets + by_weight / 2

    return sorted(timed, key=apart)[:SHOWN]
