"""What a gem's page tells of it: what it cost and would earn, how much of the rough it kept, and what happened."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from workshop.common import say
from workshop.common.models import Hand, JournalEntry
from workshop.handbook.costing import StoneAccount, account
from workshop.handbook.drawings import outline_drawing
from workshop.people.models import Place
from workshop.stones.models import Stage

from .models import FinishedGem, Gone, PriceLevel

ZERO = Decimal(0)
JOURNAL_SHOWN = 40


@dataclass(frozen=True)
class CostLine:
    """One part of what a gem cost."""

    words: str
    amount: Decimal
    seconds: int | None = None


@dataclass(frozen=True)
class GemAccount:
    """What a gem cost, part by part, and what it leaves at a price; ``sold_in`` names the sale that fixed it."""

    lines: list[CostLine]
    price: Decimal | None
    fees: Decimal
    figures: StoneAccount
    sold_in: str = ""


def account_of(gem: FinishedGem, currency: str) -> GemAccount:
    """At the sale's own figures once it is sold; before, with all hours to date, at the asking price."""
    # The relation is named by the room above; no import leads up.
    sold = gem.sale_lines.filter(stands=True).select_related("sale").first()  # type: ignore[attr-defined]
    stone = gem.stone
    parts: dict[str, Any] = {
        "material": sold.material if sold else stone.rough_cost,
        "seconds_bench": sold.bench_seconds if sold else stone.bench_seconds,
        "seconds_off": sold.off_bench_seconds if sold else stone.off_bench_seconds,
        "labour_bench": sold.bench_labour if sold else stone.bench_labour,
        "labour_off": sold.off_bench_labour if sold else stone.off_bench_labour,
        "wear": sold.wear if sold else stone.wear_cost,
        "other": sold.other if sold else stone.other_cost,
    }
    price, fees = (sold.net, sold.fees) if sold else (gem.price, ZERO)
    figures = account(**parts, price_net=price, fees=fees, finished_ct=gem.weight_ct, currency=currency)
    return GemAccount(list(_cost_lines(parts)), price, fees, figures, sold.sale.code if sold else "")


def _cost_lines(parts: dict[str, Any]) -> Iterator[CostLine]:
    yield CostLine("Its share of the rough", parts["material"])
    yield CostLine("Hours at the bench", parts["labour_bench"], parts["seconds_bench"])
    yield CostLine("Hours off the bench", parts["labour_off"], parts["seconds_off"])
    yield CostLine("Wear of laps and polish", parts["wear"])
    yield CostLine("Paid for it alone", parts["other"])


@dataclass(frozen=True)
class Recovery:
    """How much of a named piece the gem kept."""

    of: str
    weight_ct: Decimal
    percent: Decimal


def recoveries(gem: FinishedGem) -> list[Recovery]:
    """Against the whole rough, the trimmed piece and the preform, as far as each was weighed."""
    known = [
        ("the whole rough", gem.whole_ct, gem.recovery_from_whole),
        ("the trimmed piece", gem.trimmed_ct, gem.recovery_from_trimmed),
        ("the preform", gem.preform_ct, gem.recovery_from_preform),
    ]
    return [Recovery(of, ct, percent) for of, ct, percent in known if ct and percent is not None]


def drawn(gem: FinishedGem, *, size_px: int = 320) -> str:
    """The gem in lines, to scale, from what the gauge said."""
    return outline_drawing(
        gem.shape, gem.length_mm, gem.width_mm, gem.depth_mm, size_px=size_px, title=f"Outline of {gem.code}"
    )


@dataclass(frozen=True)
class Event:
    """One line of the journal as a page shows it."""

    at: datetime
    text: str
    who: Hand | None
    detail: str


#: What of a journal line is told, and how. Anything not named here stays in the shop's own journal.
TELLS: dict[str, Any] = {
    "stone": str,
    "weight_ct": say.carats,
    "place": lambda value: Place(value).label if value in Place.values else str(value),
    "holder": str,
    "stage": lambda value: Stage(value).label if value in Stage.values else str(value),
    "as": lambda value: Gone(value).label if value in Gone.values else str(value),
    "colour": str,
    "clarity": str,
    "cut": str,
    "paper": str,
    "suite": str,
    "gem": str,
    "name": str,
}


def told(gem: FinishedGem, *, money: bool) -> list[Event]:
    """The newest lines of the journal about a gem; prices only for whoever sees them."""
    entries = JournalEntry.objects.filter(about=gem.code).select_related("by")
    if not money:
        # How a gem changed hands may name the sum in its own words.
        entries = entries.exclude(verb__in=["priced", "changed hands"])
    return [event_of(entry) for entry in entries[:JOURNAL_SHOWN]]


def event_of(entry: JournalEntry) -> Event:
    """A line of the journal as a page tells it."""
    parts = [tell(entry.after[key]) for key, tell in TELLS.items() if entry.after.get(key)]
    parts += [
        f"{level.label} {say.money(Decimal(str(entry.after[level.value])))}"
        for level in PriceLevel
        if entry.after.get(level.value) is not None
    ]
    return Event(
        at=entry.happened_at,
        text=entry.verb[:1].upper() + entry.verb[1:],
        who=entry.by,
        detail=" · ".join([*parts, *([entry.reason] if entry.reason else [])]),
    )
