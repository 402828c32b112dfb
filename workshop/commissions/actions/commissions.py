"""Opening and changing a commission and its pieces, and closing an enquiry that came to nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Photo, Shop
from workshop.common.tx import write_tx
from workshop.handbook.errors import UnknownCurrency
from workshop.handbook.money import digits
from workshop.materials.models import Material
from workshop.people.models import Contact

from .. import progress
from ..models import Commission, CommissionItem, OffCuts, Outcome, QuoteState, State
from .pieces import (
    add_commission_photo,
    draw_for_item,
    hide_photo,
    link_stone,
    share_photo,
    tell_work,
    unlink_stone,
)
from .standing import open_item, standing_commission

__all__ = [
    "ItemSpec", "add_commission_photo", "add_item", "change_commission", "change_item", "close_enquiry",
    "draw_for_item", "hide_photo", "link_stone", "open_commission", "open_item", "share_photo", "unlink_stone",
]  # fmt: skip

#: More pieces than this are several commissions.
MOST_PIECES = 40
#: What may be changed of a commission at any time; its client and its currency stay.
CHANGEABLE = ("wish", "use", "wished_by", "due_on", "queue_place", "notes")


@dataclass(frozen=True)
class ItemSpec:
    """What is wanted of one piece."""

    work: str
    wanted: str
    material: Material | None = None
    shape: str = ""
    length_mm: Decimal | None = None
    width_mm: Decimal | None = None
    tolerance_mm: Decimal | None = None
    least_ct: Decimal | None = None
    most_ct: Decimal | None = None
    floor_ct: Decimal | None = None
    floor_length_mm: Decimal | None = None
    floor_width_mm: Decimal | None = None
    off_cuts: str = OffCuts.BACK

    @classmethod
    def of(cls, item: CommissionItem) -> ItemSpec:
        """The piece as it stands, to change a part of it with ``dataclasses.replace``."""
        return cls(**{name: getattr(item, name) for name in cls.__dataclass_fields__})

    def onto(self, item: CommissionItem) -> CommissionItem:
        """The piece with these wishes, not yet saved."""
        for name in self.__dataclass_fields__:
            setattr(item, name, getattr(self, name))
        return item


def open_commission(
    client: Contact,
    *,
    asked_on: date,
    items: Sequence[ItemSpec],
    wish: str = "",
    use: str = "",
    wished_by: date | None = None,
    notes: str = "",
    currency: str = "",
    photos: Sequence[Photo] = (),
    by: Hand | None,
    at: datetime,
) -> Commission:
    """Write down an enquiry: whose it is and every piece that is wanted."""
    shop = Shop.the()
    if not items:
        raise DeedRefused("An enquiry needs at least one piece.", field="wanted_1")
    if len(items) > MOST_PIECES:
        raise DeedRefused(f"At most {MOST_PIECES} pieces in one commission; open a second one.")
    if asked_on > shop.day_of(at):
        raise DeedRefused("The day lies in the future.", field="asked_on")
    _check_wished(wished_by, asked_on)
    currency = _checked_currency(currency or shop.currency)
    with write_tx():
        commission = Commission(
            code=numbers.take("C"), client=client, currency=currency, asked_on=asked_on,
            wish=wish, use=use, wished_by=wished_by, notes=notes, opened_by=by,
        )  # fmt: skip
        commission.full_clean(exclude=["opened_by"])
        commission.save()
        for number, spec in enumerate(items, start=1):
            _put(CommissionItem(commission=commission, number=number), spec)
        for photo in photos:
            commission.photos.create(photo=photo, at=at)
        if not client.is_client:
            client.is_client = True
            client.save(update_fields=["is_client"])
        journal.note(
            "opened enquiry", commission.code, by=by, at=at,
            after={"client": client.code, "pieces": [spec.wanted for spec in items], "wished_by": wished_by},
        )  # fmt: skip
    return commission


def _checked_currency(code: str) -> str:
    try:
        digits(code)
    except UnknownCurrency as error:
        raise DeedRefused(str(error), field="currency") from error
    return code


def _check_wished(wished_by: date | None, asked_on: date) -> None:
    if wished_by is not None and wished_by < asked_on:
        raise DeedRefused("It cannot be wished for a day before it was asked.", field="wished_by")


def _put(item: CommissionItem, spec: ItemSpec) -> CommissionItem:
    spec.onto(item).full_clean(exclude=["commission"])
    item.save()
    return item


def add_item(commission: Commission, spec: ItemSpec, *, by: Hand | None, at: datetime) -> CommissionItem:
    """One more piece for a standing commission; what it costs is said by the next version of the quote."""
    with write_tx():
        commission = standing_commission(commission)
        last = commission.items.order_by("-number").first()
        number = last.number + 1 if last is not None else 1
        if number > MOST_PIECES:
            raise DeedRefused(f"At most {MOST_PIECES} pieces in one commission; open a second one.")
        item = _put(CommissionItem(commission=commission, number=number), spec)
        journal.note(
            "added piece", commission.code, by=by, at=at, after={"piece": number, "wanted": spec.wanted}
        )
    return item


def change_item(
    item: CommissionItem, spec: ItemSpec, *, why: str = "", by: Hand | None, at: datetime
) -> CommissionItem:
    """Change what is wanted of a piece. Once the client accepted a quote, only with a reason."""
    with write_tx():
        item = open_item(item)
        old, new = asdict(ItemSpec.of(item)), asdict(spec)
        changed = [name for name in new if new[name] != old[name]]
        if not changed:
            return item
        if item.commission.accepted_at is not None and not why.strip():
            raise DeedRefused("The client accepted a quote for this piece: say why it changes.", field="why")
        _put(item, spec)
        for stone in progress.stones_of(item):
            tell_work(item, stone, by=by, at=at)
        journal.note(
            "changed piece", item.commission.code, by=by, at=at, reason=why,
            before={"piece": item.number, **{name: old[name] for name in changed}},
            after={"piece": item.number, **{name: new[name] for name in changed}},
        )  # fmt: skip
    return item


def change_commission(
    commission: Commission, changes: Mapping[str, Any], *, by: Hand | None, at: datetime
) -> Commission:
    """Change what is known of a commission (see ``CHANGEABLE``); the journal keeps what stood there before."""
    with write_tx():
        commission = standing_commission(commission)
        before = {
            name: getattr(commission, name)
            for name in CHANGEABLE
            if name in changes and getattr(commission, name) != changes[name]
        }
        if not before:
            return commission
        for name in before:
            setattr(commission, name, changes[name])
        _check_wished(commission.wished_by, commission.asked_on)
        if commission.due_on is not None and commission.due_on.weekday() != 0:
            raise DeedRefused("A week is promised by its Monday.", field="due_on")
        commission.full_clean(exclude=["opened_by"])
        commission.save(update_fields=list(before))
        journal.note(
            "changed commission", commission.code, by=by, at=at, before=before,
            after={name: changes[name] for name in before},
        )  # fmt: skip
    return commission


def close_enquiry(commission: Commission, *, reason: str, by: Hand | None, at: datetime) -> Commission:
    """Close what came to nothing before any quote was accepted. The client's goods have to be back first."""
    if not reason.strip():
        raise DeedRefused("Say why it comes to nothing.", field="reason")
    with write_tx():
        commission = standing_commission(commission)
        _check_closable(commission)
        today = Shop.the().day_of(at)
        commission.items.filter(outcome=Outcome.OPEN).update(outcome=Outcome.DROPPED, outcome_on=today)
        for item in commission.items.all():
            item.links.filter(until__isnull=True).update(until=at, why=reason[:200])
        commission.state, commission.closed_on, commission.closed_why = State.DECLINED, today, reason
        commission.full_clean(exclude=["opened_by"])
        commission.save(update_fields=["state", "closed_on", "closed_why"])
        journal.note("closed enquiry", commission.code, by=by, at=at, reason=reason)
    return commission


def _check_closable(commission: Commission) -> None:
    if commission.state not in {State.ENQUIRY, State.QUOTED}:
        raise DeedRefused(f"{commission.code} is {commission.state_word}: cancel it instead.")
    sent = commission.quotes.filter(state=QuoteState.SENT).first()
    if sent is not None:
        raise DeedRefused(
            f"Version {sent.version} is with the client: write down the answer, or withdraw it."
        )
    if commission.balance != 0:
        raise DeedRefused("The account is not settled yet.")
    if here := progress.goods_here(commission):
        raise DeedRefused(f"{', '.join(here)} of the client lies here still: give it back first.")
