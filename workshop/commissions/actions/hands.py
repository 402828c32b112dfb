"""Goods that change hands: a client's stone bought, an off-cut kept as payment; and a stone in another's place."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.say import money
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
from workshop.handbook.money import round_money
from workshop.people.models import Place
from workshop.stones import actions as stones
from workshop.stones.models import Ending, Stone, Wait

from .. import progress
from ..models import ChargeKind, CommissionItem, ItemStone, OffCuts, Outcome
from .account import charge, check_money
from .endings import check_day, end_item
from .goods import check_theirs, goods_of
from .pieces import link_stone
from .standing import open_item

ZERO = Decimal(0)


def buy_stone(
    item: CommissionItem,
    stone: Stone,
    *,
    price: Decimal,
    reason: str,
    tax_percent: Decimal = ZERO,
    own_cost: Decimal | None = None,
    on: date,
    by: Hand | None,
    at: datetime,
) -> CommissionItem:
    """The shop buys the client's stone: ownership changes, the price is the client's credit and the stone's cost.

    ``own_cost``: what the price comes to in the shop's currency, where the commission is in another one.
    """
    with write_tx():
        item = open_item(item)
        check_day(item.commission, on, at)
        stone = _of_this_piece(item, stone)
        _change_hands(item, stone, price, own_cost, reason=reason, by=by, at=at)
        # How it came to that stays in the journal: the client reads this row.
        _credit(
            item,
            price,
            ChargeKind.BOUGHT,
            f"stone of piece {item.number} bought from you",
            tax_percent,
            on=on,
            by=by,
            at=at,
        )
        _wait_no_more(stone, by=by, at=at)
        _unlink(item, stone, "bought by the shop", at)
        if all(one.ending for one in progress.stones_of(item)) and not goods_of(item):
            _close_links(item, "bought by the shop", at)
            end_item(item, Outcome.BOUGHT, on=on, note=reason, by=by, at=at)
        journal.note(
            "bought stone", item.commission.code, by=by, at=at, reason=reason,
            after={"piece": item.number, "stone": stone.code, "price": price, "on": on},
        )  # fmt: skip
    return item


def keep_off_cut(
    item: CommissionItem,
    stone: Stone,
    *,
    value: Decimal,
    reason: str = "",
    tax_percent: Decimal = ZERO,
    own_cost: Decimal | None = None,
    on: date,
    by: Hand | None,
    at: datetime,
) -> CommissionItem:
    """An off-cut becomes the shop's, at the value agreed for it: as part of the payment, or for nothing."""
    with write_tx():
        item = CommissionItem.objects.select_related("commission__client").get(pk=item.pk)
        if item.commission.is_closed:
            raise DeedRefused(
                f"{item.commission.code} is {item.commission.state_word}; nothing of it changes."
            )
        check_day(item.commission, on, at)
        if item.off_cuts == OffCuts.BACK:
            raise DeedRefused(
                f"Off-cuts of piece {item.number} go back to the client. If that was agreed anew, "
                "change it on the piece first."
            )
        if item.off_cuts == OffCuts.PAYMENT and value <= 0:
            raise DeedRefused("It is kept as part of the payment: say at what value.", field="value")
        stone = _of_this_piece(item, stone)
        if _is_the_piece(item, stone):
            raise DeedRefused(f"{stone.code} is the piece itself, not an off-cut; buy it.", field="stone")
        words = f"off-cut {stone.code} kept: {reason}" if reason.strip() else f"off-cut {stone.code} kept"
        _change_hands(item, stone, value, own_cost, reason=words, by=by, at=at, field="value")
        _credit(item, value, ChargeKind.OFF_CUT, words, tax_percent, on=on, by=by, at=at, field="value")
        _wait_no_more(stone, by=by, at=at)
        _unlink(item, stone, "off-cut kept by the shop", at)
        journal.note(
            "kept off-cut", item.commission.code, by=by, at=at, reason=reason,
            after={"piece": item.number, "stone": stone.code, "value": value, "on": on},
        )  # fmt: skip
    return item


def _of_this_piece(item: CommissionItem, stone: Stone) -> Stone:
    goods = goods_of(item)
    known = {one.pk: one for one in [*progress.stones_of(item), *goods.at_work, *goods.ended]}
    if stone.pk not in known:
        raise DeedRefused(f"{stone.code} was not made for piece {item.number}.", field="stone")
    stone = Stone.objects.select_related("owner").get(pk=stone.pk)
    check_theirs(stone, item.commission.client)
    if stone.ending in {Ending.LOST, Ending.UNWORKED, Ending.SPLIT} or stone.place == Place.CLIENT:
        raise DeedRefused(f"{stone.code} is {stone.state_word}; it cannot change hands.", field="stone")
    return stone


def _is_the_piece(item: CommissionItem, stone: Stone) -> bool:
    """Whether nothing heavier is left of the piece: an off-cut is what another stone was cut from."""
    others = [one for one in progress.stones_of(item) if not one.ending and one.pk != stone.pk]
    return item.is_open and not any(one.weight_ct >= stone.weight_ct for one in others)


def _change_hands(
    item: CommissionItem,
    stone: Stone,
    price: Decimal,
    own_cost: Decimal | None,
    *,
    reason: str,
    by: Hand | None,
    at: datetime,
    field: str = "price",
) -> None:
    currency = item.commission.currency
    if check_money(price, currency, field=field) < 0:
        raise DeedRefused("Give a price of zero or more.", field=field)
    own = Shop.the().currency
    if currency != own and price and own_cost is None:
        raise DeedRefused(
            f"{money(price, currency)} is not in {own}: say what it comes to in {own}.", field="own_cost"
        )
    paid = price if currency == own else round_money(own_cost or ZERO, own)
    gem = stone.gems.here().first()  # type: ignore[attr-defined]
    if gem is not None:
        gems.buy_from_owner(gem, paid=paid, reason=reason, by=by, at=at)
    else:
        stones.buy_from_owner(stone, paid=paid, reason=reason, by=by, at=at)


def _credit(
    item: CommissionItem,
    amount: Decimal,
    kind: str,
    words: str,
    tax_percent: Decimal,
    *,
    on: date,
    by: Hand | None,
    at: datetime,
    field: str = "price",
) -> None:
    if amount:
        charge(
            item.commission, kind=kind, words=words[:200], gross=-amount, tax_percent=tax_percent, on=on, item=item,
            by=by, at=at,
        )  # fmt: skip


def _wait_no_more(stone: Stone, *, by: Hand | None, at: datetime) -> None:
    """What is the shop's own waits for no client."""
    if stone.waiting_for == Wait.CLIENT and stone.is_open:
        stones.resume(stone, by=by, at=at)


def _unlink(item: CommissionItem, stone: Stone, why: str, at: datetime) -> None:
    _close_links(item, why, at, stone=stone)


def _close_links(item: CommissionItem, why: str, at: datetime, **which: Stone) -> None:
    for link in ItemStone.objects.filter(item=item, until__isnull=True, **which):
        link.until, link.why = max(at, link.since), why
        link.save(update_fields=["until", "why"])


def replace_stone(
    item: CommissionItem, lost: Stone, new: Stone, *, why: str, by: Hand | None, at: datetime
) -> ItemStone:
    """Another stone takes the place of one that broke or was lost; a piece that ended by it is open again."""
    if not why.strip():
        raise DeedRefused("Say why another stone takes its place.", field="why")
    with write_tx():
        item = CommissionItem.objects.select_related("commission").get(pk=item.pk)
        lost = Stone.objects.get(pk=lost.pk)
        link = ItemStone.objects.filter(item=item, stone=lost, until__isnull=True).first()
        if link is None:
            raise DeedRefused(f"{lost.code} does not stand for piece {item.number}.", field="lost")
        if not _came_to_nothing(lost):
            raise DeedRefused(
                f"{lost.code} is {lost.state_word}; nothing has to take its place.", field="lost"
            )
        if item.commission.is_closed:
            raise DeedRefused(
                f"{item.commission.code} is {item.commission.state_word}; nothing of it changes."
            )
        if item.outcome in {Outcome.BROKEN, Outcome.LOST}:
            item.outcome, item.outcome_on, item.outcome_note = Outcome.OPEN, None, ""
            item.save(update_fields=["outcome", "outcome_on", "outcome_note"])
        link.until, link.why = max(at, link.since), f"{new.code} took its place: {why}"[:200]
        link.save(update_fields=["until", "why"])
        return link_stone(item, new, why=f"in place of {lost.code}: {why}"[:200], by=by, at=at)


def _came_to_nothing(stone: Stone) -> bool:
    gone_as_lost = stone.gems.filter(gone_as="lost").exists()  # type: ignore[attr-defined]
    return stone.ending in {Ending.BROKEN, Ending.LOST, Ending.SCRAPPED} or gone_as_lost
