"""What the shop's own finished stones say about hours and recovery, read from the stones' own rows."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Any

from django.db.models import Exists, OuterRef

from workshop.handbook.errors import HandbookError
from workshop.stones.models import Stage, StageChange, Stone, Work

if TYPE_CHECKING:
    from workshop.handbook.estimates import Belief, Job

#: The newest finished stones; a bench changes, and older ones would only slow it down.
NEWEST = 400
USUAL_FACETS = 57
USUAL_HARDNESS = 7.0
#: Middle of the 25-40 % on top that the trade notes assume for time off the bench; until the shop has its own.
USUAL_OFF_BENCH = Decimal("32.5")

_COLUMNS = (
    "work", "weight_ct", "start_ct", "bench_seconds", "off_bench_seconds", "width_mm", "material__species",
    "material__hardness", "material__key", "material__from_handbook", "gems__facets", "gems__width_mm",
    "cut_plans__facets", "cut_plans__bound_ct", "cut_plans__superseded_at", "pk",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class History:
    """Beliefs about hours and recovery, and how they came about."""

    hours: Belief
    recovery: Belief
    hour_stones: int
    recovery_stones: int
    off_bench_percent: Decimal
    off_bench_own: bool


def history() -> History:
    """Learn from the shop's finished stones; one query."""
    from workshop.handbook import estimates

    rows = _newest()
    timed = [pair for pair in map(_timed, rows) if pair is not None]
    kept = [row for row in rows if _kept(row)]
    takes = [
        (estimates.Take(float(row["start_ct"])), float(row["weight_ct"]), float(row["cut_plans__bound_ct"]))
        for row in kept
    ]
    bench = sum(row["bench_seconds"] for row in rows)
    off = sum(row["off_bench_seconds"] for row in rows)
    return History(
        hours=estimates.hours_belief(timed),
        recovery=estimates.recovery_belief(takes),
        hour_stones=len(timed),
        recovery_stones=len(takes),
        off_bench_percent=_share(off, bench) if bench else USUAL_OFF_BENCH,
        off_bench_own=bool(bench),
    )


def _newest() -> list[dict[str, Any]]:
    """The newest finished stones, each once, with its gem (by the name of its relation) and the plan that stands."""
    found: dict[int, dict[str, Any]] = {}
    # One that was finished and went back for work holds the hours and the weight of two jobs in one row.
    twice = StageChange.objects.filter(stone=OuterRef("pk"), old=Stage.FINISHED)
    finished = (
        Stone.objects.filter(stage=Stage.FINISHED, ending="")
        .filter(~Exists(twice))
        .order_by("-touched_at", "-pk")
    )
    for row in finished.values(*_COLUMNS)[: 2 * NEWEST]:
        standing = row["cut_plans__superseded_at"] is None
        if row["pk"] not in found or standing:
            found[row["pk"]] = row
    return list(found.values())[:NEWEST]


def _timed(row: dict[str, Any]) -> tuple[Job, float] | None:
    """A stone's job and its hours at the bench; None where either is not known."""
    from workshop.handbook import estimates

    width = row["gems__width_mm"] or row["width_mm"]
    if not (row["bench_seconds"] and width) or row["work"] not in estimates.WORKS:
        # A repair is like no other: it teaches nothing.
        return None
    facets = row["gems__facets"] or row["cut_plans__facets"] or USUAL_FACETS
    mohs = mohs_of(row["material__hardness"] or "")
    try:
        factor = hardness_factor(row["material__species"] or "", mohs)
        care = needs_care(row["material__key"] if row["material__from_handbook"] else "")
        job = estimates.Job(facets, factor, care, float(width), row["work"])
        return job, row["bench_seconds"] / 3600
    except HandbookError:
        # An odd row of the records is no reason to refuse a plan for another stone.
        return None


def _kept(row: dict[str, Any]) -> bool:
    """Whether a stone tells what part of the largest stone possible it became: only one cut new from rough."""
    bound = row["cut_plans__bound_ct"]
    return bool(
        bound and row["work"] == Work.NEW and row["cut_plans__superseded_at"] is None
        and row["start_ct"] >= Decimal("0.05") and row["weight_ct"] <= 2 * bound
    )  # fmt: skip


def hardness_factor(species: str, mohs: float) -> float:
    """Hours against quartz, by species or hardness."""
    from workshop.handbook import estimates

    return estimates.hardness_factor(species, min(max(mohs, 1.0), 10.0))


def mohs_of(text: str) -> float:
    """The lesser hardness of "7.5–8"; quartz's where nothing can be read."""
    first = text.replace("–", "-").replace(",", ".").split("-")[0].strip()
    try:
        return float(first)
    except ValueError:
        return USUAL_HARDNESS


def needs_care(key: str) -> bool:
    """Whether the handbook calls a material sensitive to heat or perfect in its cleavage."""
    from workshop.handbook import tables

    row = next((one for one in tables.materials() if one.key == key), None) if key else None
    return row is not None and (row.heat_sensitive.startswith("yes") or "perfect" in row.cleavage)


def _share(part: int, whole: int) -> Decimal:
    return (Decimal(100) * part / whole).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
