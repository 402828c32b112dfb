"""Making and withdrawing a client's private link, noting that it was used, and counting wrong ones."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx

from .. import links
from ..models import ClientLink, Commission, WrongAddress

LEAST_DAYS, MOST_DAYS = 1, 365
#: A page looked at again within the hour writes nothing: looking should not make others wait for the one writer.
SEEN_AGAIN: Final = timedelta(hours=1)
#: Counted rows are of no use after the time they are counted over.
FORGET_AFTER: Final = timedelta(days=1)


def make_link(commission: Commission, *, by: Hand | None, at: datetime, days: int = 60) -> ClientLink:
    """A new private link. Links made earlier keep opening until they run out or are withdrawn."""
    if not LEAST_DAYS <= days <= MOST_DAYS:
        raise DeedRefused(f"Let it open for {LEAST_DAYS} to {MOST_DAYS} days.", field="days")
    with write_tx():
        link = ClientLink.objects.create(
            commission=commission,
            key=links.new_key(),
            made_at=at,
            expires_at=at + timedelta(days=days),
            made_by=by,
        )
        journal.note(
            "made client's link",
            commission.code,
            by=by,
            at=at,
            after={"until": link.expires_at, "days": days},
        )
    return link


def withdraw_link(link: ClientLink, *, by: Hand | None, at: datetime) -> ClientLink:
    """Close a link at once; whoever holds it is told no more than somebody who guessed."""
    with write_tx():
        link = ClientLink.objects.select_related("commission").get(pk=link.pk)
        if link.withdrawn_at is not None:
            raise DeedRefused("This link was withdrawn already.")
        link.withdrawn_at = at
        link.save(update_fields=["withdrawn_at"])
        journal.note(
            "withdrew client's link", link.commission.code, by=by, at=at, before={"until": link.expires_at}
        )
    return link


def note_seen(link: ClientLink, *, at: datetime) -> None:
    """Note that the client's page was opened, at most once an hour."""
    if link.last_seen_at is not None and at - link.last_seen_at < SEEN_AGAIN:
        return
    with write_tx():
        ClientLink.objects.filter(pk=link.pk).update(last_seen_at=at)


def count_wrong(place: str, *, at: datetime) -> bool:
    """Count a wrong address asked for from a place. Whether that place has now asked too often.

    Past the limit nothing more is written: whoever hammers at the door neither fills the table nor holds the
    write lock.
    """
    if links.is_busy(place, at):
        return True
    with write_tx():
        WrongAddress.objects.filter(at__lt=at - FORGET_AFTER).delete()
        WrongAddress.objects.create(place=place, at=at)
    return False
