"""Setting a gem aside for a memo, lending it, and having it back. It stays the shop's own all the while."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.people.models import Contact, Place

from .bound import refuse_bound
from .models import FinishedGem


def _here(gem: FinishedGem) -> FinishedGem:
    fresh = FinishedGem.objects.select_related("stone", "owner").get(pk=gem.pk)
    if fresh.gone_on is not None:
        raise DeedRefused(
            f"{fresh.code} is {fresh.get_gone_as_display()} since {fresh.gone_on}.", field="gem"
        )
    return fresh


def bind(gem: FinishedGem, memo: str, *, by: Hand | None, at: datetime) -> FinishedGem:
    """Set a gem of the shop's own aside for a memo: from now on only that memo's deeds take it away."""
    with write_tx():
        gem = _here(gem)
        refuse_bound(gem)
        if not gem.is_own:
            raise DeedRefused(f"{gem.code} belongs to {gem.whose}; it is lent to nobody.", field="gem")
        if gem.place not in {Place.SAFE, Place.BENCH}:
            raise DeedRefused(f"{gem.code} is {gem.get_place_display()}; bring it home first.", field="gem")
        gem.bound_to = memo
        gem.full_clean()
        gem.save(update_fields=["bound_to"])
        journal.note("set aside", gem.code, by=by, at=at, after={"memo": memo})
    return gem


def lend(
    gem: FinishedGem, *, holder: Contact, value: Decimal, on: date, by: Hand | None, at: datetime
) -> FinishedGem:
    """A gem set aside for a memo leaves the house; it stays the shop's own."""
    with write_tx():
        gem = _here(gem)
        if not gem.bound_to:
            raise DeedRefused(f"{gem.code} stands on no memo.", field="gem")
        before = {"place": gem.place}
        gem.place, gem.holder, gem.held_since, gem.declared_value = Place.MEMO, holder, on, value
        gem.full_clean()
        gem.save(update_fields=["place", "holder", "held_since", "declared_value"])
        journal.note(
            "lent",
            gem.code,
            by=by,
            at=at,
            before=before,
            after={"memo": gem.bound_to, "holder": holder, "on": on},
        )
    return gem


def unbind(gem: FinishedGem, *, on: date, by: Hand | None, at: datetime, home: bool = True) -> FinishedGem:
    """A memo is over for a gem; ``home``: it is back in the safe, and not about to be sold or written off."""
    with write_tx():
        gem = _here(gem)
        before = {"memo": gem.bound_to, "place": gem.place}
        gem.bound_to = ""
        if home:
            gem.place, gem.holder, gem.held_since, gem.declared_value = Place.SAFE, None, on, None
        gem.full_clean()
        gem.save(update_fields=["bound_to", "place", "holder", "held_since", "declared_value"])
        journal.note(
            "back from memo" if home else "settled on memo",
            gem.code,
            by=by,
            at=at,
            before=before,
            after={"on": on},
        )
    return gem
