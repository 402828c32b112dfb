"""What is done with gems that belong together: make a pair or suite, change it, replace a gem in it, break it up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx

from .models import FinishedGem, Suite, SuiteKind, SuiteMember

MOST_GEMS: Final = 60
WORDS: Final = ("name", "tolerance_mm", "tolerance_ct", "note")


def make_suite(
    gems: Sequence[FinishedGem],
    *,
    name: str,
    kind: str,
    by: Hand | None,
    at: datetime,
    tolerance_mm: Decimal | None = None,
    tolerance_ct: Decimal | None = None,
    note: str = "",
) -> Suite:
    """Put gems together. Refused by name: a gem twice, gone, in another standing suite, or of another owner."""
    with write_tx():
        fresh = _fresh(gems)
        _check_number(kind, len(fresh))
        for gem in fresh:
            _check_free(gem)
        _check_one_owner(fresh)
        day = _day(at)
        suite = Suite(
            code=numbers.take("PS"), name=name.strip(), kind=kind, note=note, made_on=day,
            tolerance_mm=tolerance_mm, tolerance_ct=tolerance_ct,
        )  # fmt: skip
        suite.full_clean()
        suite.save()
        SuiteMember.objects.bulk_create(SuiteMember(suite=suite, gem=gem, since=day) for gem in fresh)
        codes = [gem.code for gem in fresh]
        journal.note("put together", suite.code, by=by, at=at, after={"name": suite.name, "gems": codes})
        for gem in fresh:
            journal.note("put together", gem.code, by=by, at=at, after={"suite": suite.code})
    return suite


def change_suite(suite: Suite, changes: Mapping[str, Any], *, by: Hand | None, at: datetime) -> Suite:
    """Change its name, tolerances or note."""
    with write_tx():
        suite = _standing(suite)
        changes = {name: value for name, value in changes.items() if name in WORDS}
        before = {name: getattr(suite, name) for name in changes}
        for name, value in changes.items():
            setattr(suite, name, value)
        suite.full_clean()
        suite.save()
        changed = {name: value for name, value in changes.items() if before[name] != value}
        old = {name: before[name] for name in changed}
        journal.note("described", suite.code, by=by, at=at, before=old, after=changed)
    return suite


def replace_member(
    suite: Suite, old: FinishedGem, new: FinishedGem, *, why: str, by: Hand | None, at: datetime
) -> Suite:
    """Take a gem out and put another in its place; both stay in the story of the suite."""
    with write_tx():
        suite = _standing(suite)
        why = _reasoned(why)
        row = suite.members.filter(gem=old, until__isnull=True).first()
        if row is None:
            raise DeedRefused(f"{old.code} is not in {suite.code}.", field="old")
        (new,) = _fresh([new])
        _check_free(new)
        others = suite.members.filter(until__isnull=True).exclude(pk=row.pk).select_related("gem__owner")
        _check_one_owner([*(one.gem for one in others), new])
        day = max(_day(at), row.since)
        row.until, row.taken_out_why = day, why
        row.save(update_fields=["until", "taken_out_why"])
        SuiteMember.objects.create(suite=suite, gem=new, since=day)
        journal.note(
            "replaced",
            suite.code,
            by=by,
            at=at,
            before={"gem": old.code},
            after={"gem": new.code},
            reason=why,
        )
        journal.note("taken out", old.code, by=by, at=at, after={"suite": suite.code}, reason=why)
        journal.note("put together", new.code, by=by, at=at, after={"suite": suite.code}, reason=why)
    return suite


def break_up(suite: Suite, *, why: str, by: Hand | None, at: datetime) -> Suite:
    """The gems are single again; what was together stays readable."""
    with write_tx():
        suite = _standing(suite)
        rows = list(suite.members.filter(until__isnull=True).select_related("gem"))
        day = max([_day(at), suite.made_on, *(row.since for row in rows)])
        suite.broken_up_on, suite.broken_up_why = day, _reasoned(why)
        suite.save(update_fields=["broken_up_on", "broken_up_why"])
        suite.members.filter(until__isnull=True).update(until=day)
        codes = [row.gem.code for row in rows]
        journal.note("broken up", suite.code, by=by, at=at, before={"gems": codes}, reason=why)
        for code in codes:
            journal.note("taken out", code, by=by, at=at, after={"suite": suite.code}, reason=why)
    return suite


def members_of(suite: Suite) -> list[FinishedGem]:
    """The gems in it now, or at the end of one that was broken up, in the order they came in."""
    rows = suite.members.filter(until=suite.broken_up_on, taken_out_why="").select_related(
        "gem__stone__material", "gem__stone__lot", "gem__stone__parent", "gem__owner", "gem__holder",
        "gem__public_photo__photo",
    )  # fmt: skip
    return [row.gem for row in rows]


def _fresh(gems: Sequence[FinishedGem]) -> list[FinishedGem]:
    codes = [gem.code for gem in gems]
    twice = next((code for code in codes if codes.count(code) > 1), None)
    if twice:
        raise DeedRefused(f"{twice} is named twice.", field="gems")
    rows = FinishedGem.objects.select_related("owner").in_bulk([gem.pk for gem in gems])
    return [rows[gem.pk] for gem in gems]


def _check_number(kind: str, count: int) -> None:
    if kind == SuiteKind.PAIR and count != 2:
        raise DeedRefused(f"A pair is two gems, not {count}.", field="gems")
    if not 2 <= count <= MOST_GEMS:
        raise DeedRefused(f"Name two to {MOST_GEMS} gems, not {count}.", field="gems")


def _check_free(gem: FinishedGem) -> None:
    if not gem.is_here:
        raise DeedRefused(f"{gem.code} is not here any more: {gem.get_gone_as_display()}.", field="gems")
    other = SuiteMember.objects.filter(gem=gem, until__isnull=True).select_related("suite").first()
    if other is not None:
        told = f"{gem.code} is in {other.suite.code} “{other.suite.name}” already; take it out there first."
        raise DeedRefused(told, field="gems")


def _check_one_owner(gems: Sequence[FinishedGem]) -> None:
    first = gems[0]
    for gem in gems:
        if (gem.ownership, gem.owner_id) != (first.ownership, first.owner_id):
            raise DeedRefused(
                f"{gem.code} is {gem.whose}, {first.code} is {first.whose}: only goods of one owner go together.",
                field="gems",
            )


def _standing(suite: Suite) -> Suite:
    fresh = Suite.objects.get(pk=suite.pk)
    if not fresh.stands:
        raise DeedRefused(f"{fresh.code} was broken up on {fresh.broken_up_on}: {fresh.broken_up_why}")
    return fresh


def _reasoned(why: str) -> str:
    if not why.strip():
        raise DeedRefused("Say why: the reason stays with it.", field="why")
    return why.strip()


def _day(at: datetime) -> date:
    day: date = Shop.the().day_of(at)
    return day
