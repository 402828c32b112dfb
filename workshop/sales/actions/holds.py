"""Holding a gem for somebody until a day, and letting it go again."""

from __future__ import annotations

from datetime import date, datetime

from workshop.common import journal
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.gems.bound import refuse_bound
from workshop.gems.models import FinishedGem
from workshop.people.models import Contact

from ..models import Hold


def hold_on(gem: FinishedGem, day: date) -> Hold | None:
    """The hold that counts on a day."""
    found = Hold.objects.filter(gem=gem, lifted_on__isnull=True).select_related("contact").first()
    return found if found is not None and found.holds_on(day) else None


def hold_gem(
    gem: FinishedGem, contact: Contact, *, until: date, note: str = "", by: Hand | None, at: datetime
) -> Hold:
    """Hold a gem of the shop's own for somebody. One hold at a time; one that is over makes room."""
    with write_tx():
        gem = FinishedGem.objects.select_related("owner").get(pk=gem.pk)
        today = Shop.the().day_of(at)
        if not gem.is_own or gem.gone_on is not None:
            raise DeedRefused(f"{gem.code} is not for sale.", field="gem")
        refuse_bound(gem)
        if until < today:
            raise DeedRefused("That day is over.", field="until")
        standing = hold_on(gem, today)
        if standing is not None:
            raise DeedRefused(
                f"{gem.code} is held for {standing.contact} until {standing.until}; lift that first.",
                field="contact",
            )
        Hold.objects.filter(gem=gem, lifted_on__isnull=True).update(lifted_on=today, lifted_why="over")
        made = Hold(gem=gem, contact=contact, since=today, until=until, note=note.strip(), by=by)
        made.full_clean(exclude=["by"])
        made.save()
        journal.note("held", gem.code, by=by, at=at, after={"for": contact, "until": until}, reason=note)
    return made


def lift_hold(hold: Hold, *, reason: str, by: Hand | None, at: datetime, sure: bool = False) -> Hold:
    """Let a gem be sold to others again; before its day only when it is meant, for a promise is broken."""
    if not reason.strip():
        raise DeedRefused("Say why.", field="reason")
    with write_tx():
        hold = Hold.objects.select_related("gem", "contact").get(pk=hold.pk)
        if hold.lifted_on is not None:
            raise DeedRefused(f"That hold was lifted on {hold.lifted_on}.")
        today = Shop.the().day_of(at)
        if hold.holds_on(today) and not sure:
            raise PleaseConfirm(
                f"It was promised to {hold.contact} until {hold.until}. Lift it all the same?", field="reason"
            )
        hold.lifted_on, hold.lifted_why = today, reason.strip()[:200]
        hold.save(update_fields=["lifted_on", "lifted_why"])
        journal.note("lifted hold", hold.gem.code, by=by, at=at, after={"for": hold.contact}, reason=reason)
    return hold


def refuse_held(gem: FinishedGem, contact: Contact, *, on: date) -> None:
    """Refuse a gem held for somebody else; a hold for the same contact is met by it, one that is over is lifted."""
    found = hold_on(gem, on)
    if found is not None and found.contact_id != contact.pk:
        raise DeedRefused(
            f"{gem.code} is held for {found.contact} until {found.until}; lift the hold first.", field="gem"
        )
    Hold.objects.filter(gem=gem, lifted_on__isnull=True).update(
        lifted_on=on, lifted_why="sold or lent to them" if found else "over"
    )
