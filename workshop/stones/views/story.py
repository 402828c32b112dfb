"""The account of one stone, gathered for its page: family, weights, losses, hours, cost, words, journal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, Sum

from workshop.common import charts, say
from workshop.common.models import Hand
from workshop.materials.models import Statement, best_based

from ..actions import said_about
from ..models import Activity, ExtraKind, LossCause, Stone, StonePhoto, TimeShare, Weighing

ZERO = Decimal(0)
TIMES_SHOWN = 40
NOTES_SHOWN = 60


@dataclass(frozen=True)
class Kin:
    """One stone of the family, and the code of the one it came from."""

    stone: Stone
    from_code: str
    is_this: bool


def family_of(stone: Stone) -> list[Kin]:
    """All stones that came of the piece this one came of, each under its parent."""
    kin = list(Stone.objects.filter(draw=stone.draw_id).order_by("pk"))
    below: dict[int | None, list[Stone]] = {}
    for one in kin:
        below.setdefault(one.parent_id, []).append(one)
    found: list[Kin] = []

    def walk(parent: Stone | None) -> None:
        for one in below.get(parent.pk if parent else None, []):
            found.append(Kin(one, parent.code if parent else "", one.pk == stone.pk))
            walk(one)

    walk(None)
    return found


@dataclass(frozen=True)
class Reading:
    """A weighing, and what had gone since the one before it that counts."""

    weighing: Weighing
    lost_ct: Decimal | None


def readings_of(stone: Stone) -> list[Reading]:
    """Every reading, the corrected ones in their place."""
    found: list[Reading] = []
    last: Decimal | None = None
    for weighing in stone.weighings.select_related("by").order_by("order", "pk"):
        lost = last - weighing.weight_ct if weighing.counts and last is not None else None
        found.append(Reading(weighing, lost))
        last = weighing.weight_ct if weighing.counts else last
    return found


def losses_of(stone: Stone) -> list[tuple[str, Decimal]]:
    """What went, by cause, and for a stone made into several the gap nobody can explain."""
    sums = stone.losses.order_by().values_list("cause").annotate(Sum("weight_ct"))
    rows = [(LossCause(cause).label, ct) for cause, ct in sums]
    return [*rows, ("unexplained", stone.gap_ct)] if stone.gap_ct else rows


@dataclass(frozen=True)
class HoursRow:
    """The hours of one activity."""

    activity: Activity
    on_bench: bool
    seconds: int
    rework_seconds: int


def hours_of(stone: Stone) -> list[HoursRow]:
    """Hours by activity, in the order the work goes."""
    sums = (
        TimeShare.objects.filter(stone=stone, time__counts=True, time__ended_at__isnull=False)
        .values("time__activity", "time__on_bench")
        .annotate(total=Sum("seconds"), again=Sum("seconds", filter=Q(time__rework=True)))
    )
    rows = [
        HoursRow(Activity(row["time__activity"]), row["time__on_bench"], row["total"], row["again"] or 0)
        for row in sums
    ]
    order = list(Activity)
    return sorted(rows, key=lambda row: order.index(row.activity))


def times_of(stone: Stone) -> tuple[list[TimeShare], int]:
    """The newest times of a stone, and how many there are."""
    shares = TimeShare.objects.filter(stone=stone)
    newest = (
        shares.select_related("time__hand", "time__corrects")
        .annotate(together=Count("time__shares"))
        .order_by("-time__started_at", "-pk")
    )
    return list(newest[:TIMES_SHOWN]), shares.count()


@dataclass(frozen=True)
class CostLine:
    """One line of what a stone has cost so far."""

    words: str
    amount: Decimal
    detail_seconds: int | None = None


def cost_lines(stone: Stone) -> list[CostLine]:
    """Rough, hours and what was paid for it alone; they add up to its cost to date."""
    alone = sum((extra.amount for extra in stone.extras.all() if extra.kind != ExtraKind.WEAR), ZERO)
    lines = [
        CostLine("Its share of the rough", stone.rough_cost),
        CostLine("Hours at the bench", stone.bench_labour, stone.bench_seconds),
        CostLine("Hours off the bench", stone.off_bench_labour, stone.off_bench_seconds),
        CostLine("Wear of laps and polish", stone.wear_cost),
        CostLine("Paid for it alone", alone),
    ]
    if stone.parent is not None:
        before = CostLine(f"Its part of what {stone.parent.code} took and cost", stone.other_cost - alone)
        lines.insert(1, before)
    return lines


@dataclass(frozen=True)
class Said:
    """A statement, of what it was made, whether it holds, and whether it alone answers its question."""

    statement: Statement
    about: str
    url: str
    holds: bool
    alone: bool


def statements_about(stone: Stone) -> list[Said]:
    """All that was said, by question; the best-based newest of each is marked."""
    said = said_about(stone)
    best = {id(statement) for statement in best_based(said).values()}
    asked = Counter(one.question for one in said)
    rows = [
        Said(one, *_subject(one, stone), holds=id(one) in best, alone=asked[one.question] == 1)
        for one in said
    ]
    return sorted(rows, key=lambda row: (row.statement.question, not row.holds, -row.statement.evidence))


def _subject(statement: Any, stone: Stone) -> tuple[str, str]:
    """Code and address of what the statement was made about."""
    if hasattr(statement, "lot_id"):
        return statement.lot.code, statement.lot.get_absolute_url()
    other = statement.stone
    return ("", "") if other.pk == stone.pk else (other.code, other.get_absolute_url())


def photos_of(stone: Stone) -> list[tuple[str, list[StonePhoto]]]:
    """Photographs by the stage they were taken at, in the order of taking."""
    by_stage: dict[str, list[StonePhoto]] = {}
    for taken in stone.photos.select_related("photo").order_by("at", "pk"):
        by_stage.setdefault(taken.get_stage_display(), []).append(taken)
    return list(by_stage.items())


@dataclass(frozen=True)
class Event:
    """One line of the journal as a page shows it."""

    at: datetime
    text: str
    who: Hand | None
    detail: str
    tone: str = ""


def weight_drawing(readings: Iterable[Reading]) -> str:
    """The weight falling from reading to reading."""
    steps = [
        (
            "as it began" if row.weighing.order == 0 else row.weighing.get_stage_display(),
            row.weighing.weight_ct,
        )
        for row in readings
        if row.weighing.counts
    ]
    return charts.weight_fall_chart(steps, say=say.carats, title="Weight, stage by stage")


def hours_drawing(rows: Iterable[HoursRow]) -> str:
    """A bar for the hours of each activity."""
    return charts.hours_chart(
        [(row.activity.label, Decimal(row.seconds) / 3600) for row in rows],
        say=lambda hours: say.hours(hours * 3600),
        title="Hours by activity",
    )


def family_drawing(family: Sequence[Kin]) -> str:
    """The tree of what came from what."""
    place = {kin.stone.pk: number for number, kin in enumerate(family)}
    nodes = [
        charts.Node(
            code=kin.stone.code,
            label="this one" if kin.is_this else kin.stone.plan,
            weight_ct=kin.stone.weight_ct,
            parent=place[kin.stone.parent_id] if kin.stone.parent_id else None,
            state=kin.stone.state_word,
            alive=not kin.stone.ending,
        )
        for kin in family
    ]
    return charts.pedigree_tree(nodes, say=say.carats, title="What came from what")
