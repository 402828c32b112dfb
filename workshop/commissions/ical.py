"""The calendar of promised weeks, as RFC 5545 writes it, behind a private address.

The address is a random key and its signature under the shop's secret key, so the rows alone open nothing. Whoever
reads the calendar learns weeks, codes and pieces; never a client, a price or a floor.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from django.db.models import Count, Max, Q
from django.urls import reverse
from django.utils.crypto import constant_time_compare, salted_hmac
from icalendar import Calendar, Event, vText

from workshop.common.models import JournalEntry, Shop

from .load import monday_of
from .models import CalendarLink, Commission, Outcome

_SALT: Final = "workshop.commissions.ical"
#: A key of 16 random bytes in base64 has 22 letters; a SHA-256 in hexadecimal has 64.
_SHAPE: Final = re.compile(r"(?P<key>[A-Za-z0-9_-]{22})\.(?P<signature>[0-9a-f]{64})", re.ASCII)
PRODUCT: Final = "-//workshop//promised weeks//EN"
#: Our own name space of event identities (RFC 4122, version 5): the same commission is the same event for ever.
_NAMESPACE: Final = uuid.UUID("6d0d5a0e-6c7e-5b0f-9c36-0c1b6f3f9a11")
_OPEN: Final = Q(items__outcome=Outcome.OPEN)


def token_of(link: CalendarLink) -> str:
    """What stands in the address."""
    return f"{link.key}.{_signature(link.key)}"


def address_of(link: CalendarLink) -> str:
    """The path of the feed."""
    return reverse("commissions:calendar_feed", args=[token_of(link)])


def link_of(token: str) -> CalendarLink | None:
    """The link a token opens; None alike for one malformed, forged, unknown or withdrawn."""
    shape = _SHAPE.fullmatch(token)
    key, signature = (shape["key"], shape["signature"]) if shape else ("", "")
    # Compared before any row is looked for, and even where the shape is wrong: no answer comes sooner than another.
    if not constant_time_compare(signature, _signature(key)) or shape is None:
        return None
    return CalendarLink.objects.filter(key=key, withdrawn_at__isnull=True, hand__is_active=True).first()


def _signature(key: str) -> str:
    return salted_hmac(_SALT, key, algorithm="sha256").hexdigest()


@dataclass(frozen=True)
class PromisedWeek:
    """One event: a commission's week, as often and as late as its records changed."""

    uid: str
    code: str
    pieces: int
    monday: date
    changed_at: datetime
    changes: int


def promised_weeks(shop: Shop) -> list[PromisedWeek]:
    """The week of every standing commission that has one. Two queries."""
    standing = Commission.objects.standing().filter(due_on__isnull=False)
    rows = list(standing.annotate(open_pieces=Count("items", filter=_OPEN)).order_by("due_on", "pk"))
    # The journal only grows, so the number of its lines never falls: what a SEQUENCE has to be.
    changes = {
        entry["about"]: (entry["lines"], entry["last"])
        for entry in JournalEntry.objects.filter(about__in=[row.code for row in rows])
        .order_by()
        .values("about")
        .annotate(lines=Count("pk"), last=Max("written_at"))
    }
    return [_week(row, shop, *changes.get(row.code, (0, row.accepted_at or shop.set_up_at))) for row in rows]


def written(weeks: Iterable[PromisedWeek], shop_name: str) -> bytes:
    """The calendar as text/calendar: folded lines, CRLF, escaped text (RFC 5545, 3.1 and 3.3.11)."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # RFC 7986 5.1 and 5.7: the calendar's own name, and how often it pays to look again.
    # Said to be TEXT, or the library would not escape it; the second name is the one older programs read.
    for name in ("name", "x-wr-calname"):
        calendar.add(name, vText(f"{shop_name}: promised weeks"))
    calendar.add("refresh-interval", timedelta(hours=6), parameters={"VALUE": "DURATION"})
    for week in weeks:
        calendar.add_component(_event(week))
    return bytes(calendar.to_ical())


def _week(row: Commission, shop: Shop, lines: int, last: datetime) -> PromisedWeek:
    assert row.due_on is not None
    return PromisedWeek(
        uid=str(uuid.uuid5(_NAMESPACE, f"{shop.set_up_at:%Y%m%dT%H%M%SZ}/{row.pk}")),
        code=row.code,
        pieces=row.open_pieces,  # type: ignore[attr-defined]
        monday=monday_of(row.due_on),
        changed_at=last,
        changes=lines,
    )


def _event(week: PromisedWeek) -> Event:
    event = Event()
    pieces = f"{week.pieces} piece{'' if week.pieces == 1 else 's'}"
    event.add("uid", week.uid)
    # Without a METHOD the stamp is when the event was last revised (RFC 5545, 3.8.7.2).
    event.add("dtstamp", week.changed_at)
    event.add("last-modified", week.changed_at)
    event.add("sequence", week.changes)
    event.add("dtstart", week.monday)
    event.add("dtend", week.monday + timedelta(days=7))
    event.add("summary", f"{week.code}, {pieces}")
    # A promise is no appointment: it does not block the days (3.8.2.7).
    event.add("transp", "TRANSPARENT")
    return event
