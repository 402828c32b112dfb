"""Looks a shop over: its laws, files, hashes, numbers, database, disk and versions; says what is wrong and what to do.

It changes nothing. Every figure the deeds keep for convenience is worked out again from the bare rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from . import files, laws, machine


@dataclass(frozen=True)
class Finding:
    """One thing that is not as it should be. ``serious``: figures or papers cannot be relied on."""

    what: str
    advice: str
    serious: bool = True


#: In the order they are told: what everything else rests on comes first.
CHECKS: tuple[tuple[str, Callable[[], Iterator[machine.Told]]], ...] = (
    ("the machine and its programs", machine.programs),
    ("disk and data folder", machine.disk),
    ("the database", machine.database),
    ("numbers without a gap", laws.numbers),
    ("weights", laws.weights),
    ("what lots cost", laws.money),
    ("hours", laws.hours),
    ("whose goods they are", laws.ownership),
    ("sales", laws.sales),
    ("commissions", laws.commissions),
    ("pictures and documents", files.pictures),
    ("papers", files.papers),
)

MOST_TOLD = 20


def look_over() -> Iterator[tuple[str, list[Finding]]]:
    """Each check by name with what it found, as it goes."""
    for name, check in CHECKS:
        found = []
        for what, advice, serious in check():
            found.append(Finding(what, advice, serious))
            if len(found) == MOST_TOLD:
                break
        yield name, found
        if check is machine.database and any(one.serious for one in found):
            # What follows reads the rows, and would only fall over the same stone.
            return
