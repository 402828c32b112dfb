"""How many hours of the bench a week has, and the private address of the calendar of promised weeks."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx

from .. import links
from ..models import BenchHours, CalendarLink

ABOUT = "bench hours"
CALENDAR = "calendar"
MOST_HOURS = 168


def say_hours(
    from_on: date, hours: Decimal, *, by: Hand | None, at: datetime, one_week: bool = False, note: str = ""
) -> BenchHours:
    """Say the hours of the bench from a Monday on, or for that one week. Said again, the later word holds."""
    if from_on.weekday():
        raise DeedRefused("Give a Monday: a week of the bench begins there.", field="from_on")
    if not 0 <= hours <= MOST_HOURS:
        raise DeedRefused(f"A week has 0 to {MOST_HOURS} hours.", field="hours")
    with write_tx():
        row = BenchHours.objects.filter(from_on=from_on, one_week=one_week).first()
        before = {} if row is None else {"hours": row.hours, "note": row.note}
        row = row or BenchHours(from_on=from_on, one_week=one_week)
        row.hours, row.note = hours, note
        row.full_clean()
        row.save()
        after = {"from": from_on, "hours": hours, "one week": one_week, "note": note}
        journal.note("said the hours of a week", ABOUT, by=by, at=at, before=before, after=after)
    return row


def strike_hours(row: BenchHours, *, by: Hand | None, at: datetime) -> None:
    """Take back what was said of the hours from a Monday on; the word before it holds again."""
    with write_tx():
        row = BenchHours.objects.get(pk=row.pk)
        before = {"from": row.from_on, "hours": row.hours, "one week": row.one_week, "note": row.note}
        journal.note("struck the hours of a week", ABOUT, by=by, at=at, before=before)
        row.delete()


def make_calendar_link(hand: Hand, *, at: datetime) -> CalendarLink:
    """A new private address of the calendar; the one before it is withdrawn."""
    with write_tx():
        for old in CalendarLink.objects.filter(hand=hand, withdrawn_at__isnull=True):
            withdraw_calendar_link(old, by=hand, at=at)
        link = CalendarLink.objects.create(key=links.new_key(), hand=hand, made_at=at)
        journal.note("made a calendar link", CALENDAR, by=hand, at=at, after={"hand": hand})
    return link


def withdraw_calendar_link(link: CalendarLink, *, by: Hand | None, at: datetime) -> CalendarLink:
    """Close the address at once; a calendar that asks for it is told nothing."""
    with write_tx():
        link = CalendarLink.objects.select_related("hand").get(pk=link.pk)
        if link.withdrawn_at is not None:
            raise DeedRefused("This link was withdrawn already.")
        link.withdrawn_at = at
        link.save(update_fields=["withdrawn_at"])
        journal.note("withdrew a calendar link", CALENDAR, by=by, at=at, before={"hand": link.hand})
    return link
