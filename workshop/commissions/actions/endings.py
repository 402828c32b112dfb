"""How a piece ends otherwise than finished: returned unworked, broken, lost, not done; and how a lost one is found."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
from workshop.gems.models import FinishedGem, Gone
from workshop.handbook.units import Weight
from workshop.people.models import Ownership
from workshop.stones import actions as stones
from workshop.stones.models import Ending, Stone, Wait

from .. import progress
from ..models import ChargeKind, Commission, CommissionItem, ItemStone, Outcome
from .account import charge, check_money
from .asks import withdraw_asks_of
from .goods import Goods, check_theirs, give_back, goods_of
from .standing import open_item

ZERO = Decimal(0)


def end_item(
    item: CommissionItem,
    outcome: str,
    *,
    on: date,
    note: str,
    by: Hand | None,
    at: datetime,
    given_back_ct: Decimal | None = None,
) -> CommissionItem:
    """Close a piece with its outcome; its open questions fall away. Call inside ``write_tx``."""
    item.outcome, item.outcome_on, item.outcome_note = outcome, on, note[:300]
    if given_back_ct is not None:
        item.given_back_ct = (item.given_back_ct or ZERO) + given_back_ct
    item.full_clean()
    item.save(update_fields=["outcome", "outcome_on", "outcome_note", "given_back_ct"])
    withdraw_asks_of([item], reason=f"the piece is {item.get_outcome_display()}", by=by, at=at)
    return item


def check_day(commission: Commission, on: date, at: datetime) -> None:
    """A day a piece may end on."""
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    if on < commission.asked_on:
        raise DeedRefused(f"It was asked for on {commission.asked_on}; that day is before it.", field="on")


def charge_fee(
    item: CommissionItem,
    fee: Decimal | None,
    *,
    kind: str,
    words: str,
    tax_percent: Decimal,
    tax_included: bool,
    on: date,
    by: Hand | None,
    at: datetime,
    field: str = "fee",
) -> None:
    """Put what a deed costs the client on the account, if it costs anything. Call inside ``write_tx``."""
    if not fee:
        return
    if check_money(fee, item.commission.currency, field=field) < 0:
        raise DeedRefused("Give a sum of zero or more.", field=field)
    gross, net = (fee, None) if tax_included else (None, fee)
    charge(
        item.commission,
        kind=kind,
        words=words[:200],
        tax_percent=tax_percent,
        on=on,
        item=item,
        by=by,
        at=at,
        gross=gross,
        net=net,
    )


def return_unworked(
    item: CommissionItem,
    *,
    given_back: Weight,
    fee: Decimal | None = None,
    tax_percent: Decimal = ZERO,
    tax_included: bool = True,
    note: str = "",
    on: date,
    by: Hand | None,
    at: datetime,
) -> CommissionItem:
    """Give a client's piece back as it came: the weight back is the weight in, within a step of the scale."""
    with write_tx():
        item = open_item(item)
        check_day(item.commission, on, at)
        goods = goods_of(item)
        _check_unworked(item, goods)
        step = Shop.the().scale_step_ct
        if abs(given_back.ct - goods.began_ct) > step:
            raise DeedRefused(
                f"It came in at {goods.began_ct} ct and would go back at {given_back.ct} ct: more than a step of the "
                f"scale ({step} ct) apart. Weigh it again; if it did lose weight, it is not unworked.",
                field="given_back",
            )
        reason = f"returned unworked: {note}" if note.strip() else "returned unworked"
        give_back(goods, given_back, reason=reason, on=on, by=by, at=at)
        charge_fee(
            item, fee, kind=ChargeKind.INSPECTION, words=f"inspection, piece {item.number} returned unworked",
            tax_percent=tax_percent, tax_included=tax_included, on=on, by=by, at=at,
        )  # fmt: skip
        end_item(item, Outcome.UNWORKED, on=on, note=note, by=by, at=at, given_back_ct=given_back.ct)
        journal.note(
            "returned unworked", item.commission.code, by=by, at=at, before={"weight_ct": goods.began_ct},
            after={"piece": item.number, "given_back_ct": given_back.ct, "fee": fee or ZERO, "codes": goods.codes},
            reason=note,
        )  # fmt: skip
    return item


def _check_unworked(item: CommissionItem, goods: Goods) -> None:
    if gem := next((gem for gem in progress.gems_of(item) if gem.is_here), None):
        raise DeedRefused(f"{gem.code} is finished; it is delivered, not returned unworked.")
    if not goods:
        raise DeedRefused(
            f"Nothing of the client's lies here for piece {item.number}. If it is not to be done, drop it."
        )
    for stone in goods.at_work:
        check_theirs(stone, item.commission.client)
        if stone.start_ct - stone.weight_ct > Shop.the().scale_step_ct or stone.parent_id is not None:
            raise DeedRefused(
                f"{stone.code} was worked on: it began at {stone.start_ct} ct and weighs {stone.weight_ct} ct. "
                "Drop the piece instead, and give it back as it is."
            )
    if broken := next((stone for stone in goods.ended if stone.ending == Ending.BROKEN), None):
        raise DeedRefused(f"{broken.code} broke in work; that is no piece returned unworked.")


def tell_broken(
    item: CommissionItem,
    *,
    stone: Stone,
    reason: str,
    fragments: Weight | None = None,
    handed_back: bool = False,
    price: Decimal | None = None,
    tax_percent: Decimal = ZERO,
    tax_included: bool = True,
    goes_on: bool = False,
    cost_on_survivors: bool = False,
    on: date,
    by: Hand | None,
    at: datetime,
) -> CommissionItem:
    """A stone of a piece broke in work: what is left is weighed and stays whose it was; its hours stay too.

    ``handed_back``: the fragments go to the client now. ``goes_on``: another stone takes its place, so the piece stays
    open. ``price``: what is charged for the work done on it, or nothing.
    """
    with write_tx():
        item = open_item(item)
        check_day(item.commission, on, at)
        stone = _stone_at_work(item, stone)
        if handed_back and fragments is None:
            raise DeedRefused("Weigh the fragments that go back.", field="fragments")
        broken = _break(stone, fragments, reason, cost_on_survivors, by=by, at=at)
        if handed_back:
            check_theirs(broken, item.commission.client)
            stones.hand_to_owner(broken, reason="fragments given back", by=by, at=at)
        charge_fee(
            item, price, kind=ChargeKind.WORK, words=f"work on piece {item.number}, which broke", field="price",
            tax_percent=tax_percent, tax_included=tax_included, on=on, by=by, at=at,
        )  # fmt: skip
        journal.note(
            "broken in work", item.commission.code, by=by, at=at, reason=reason,
            after={
                "piece": item.number, "stone": stone.code, "fragments_ct": fragments.ct if fragments else None,
                "handed_back": handed_back, "price": price or ZERO,
            },
        )  # fmt: skip
        back = fragments.ct if fragments is not None and handed_back else None
        if _others_stand(item, stone) or goes_on:
            _note_given_back(item, back)
            withdraw_asks_of([item], reason=f"{stone.code} broke", by=by, at=at)
            return item
        return end_item(item, Outcome.BROKEN, on=on, note=reason, by=by, at=at, given_back_ct=back)


def _break(
    stone: Stone,
    fragments: Weight | None,
    reason: str,
    cost_on_survivors: bool,
    *,
    by: Hand | None,
    at: datetime,
) -> Stone:
    """The stone ends as broken, unless a hand told so at the bench already: then its weight of that day holds."""
    if stone.ending != Ending.BROKEN:
        return stones.break_stone(
            stone, reason=reason, fragments=fragments, cost_on_survivors=cost_on_survivors, by=by, at=at
        )
    if fragments is not None and abs(fragments.ct - stone.weight_ct) > Shop.the().scale_step_ct:
        raise DeedRefused(
            f"The fragments of {stone.code} were weighed at {stone.weight_ct} ct when it broke.",
            field="fragments",
        )
    return stone


def _note_given_back(item: CommissionItem, ct: Decimal | None) -> None:
    if ct is not None:
        item.given_back_ct = (item.given_back_ct or ZERO) + ct
        item.save(update_fields=["given_back_ct"])


def _stone_at_work(item: CommissionItem, stone: Stone) -> Stone:
    found = next((one for one in progress.stones_of(item) if one.pk == stone.pk), None)
    if found is None:
        raise DeedRefused(f"{stone.code} does not stand for piece {item.number}.", field="stone")
    return found


def _others_stand(item: CommissionItem, stone: Stone) -> bool:
    """Whether the piece has another stone that is at work or finished."""
    gone = set(FinishedGem.objects.gone().values_list("stone", flat=True))
    return any(
        not one.ending and one.pk not in gone for one in progress.stones_of(item) if one.pk != stone.pk
    )


def tell_lost(
    item: CommissionItem,
    *,
    stone: Stone,
    last_seen: str,
    goes_on: bool = False,
    on: date,
    by: Hand | None,
    at: datetime,
) -> CommissionItem:
    """A stone of a piece is lost: where it was last seen is kept. Found again, it is reversed by ``tell_found``."""
    if not last_seen.strip():
        raise DeedRefused("Say where it was last seen, and when.", field="last_seen")
    with write_tx():
        item = open_item(item)
        check_day(item.commission, on, at)
        stone = _stone_at_work(item, stone)
        gem = stone.gems.here().first()  # type: ignore[attr-defined]
        gone = stone.ending == Ending.LOST or stone.gems.filter(gone_as=Gone.LOST).exists()  # type: ignore[attr-defined]
        if gem is not None:
            gems.let_go(gem, gone_as=Gone.LOST, on=on, note=last_seen[:200], by=by, at=at)
        elif not gone:
            # Where a hand told so at the bench already, only the piece ends here.
            stones.end_stone(stone, Ending.LOST, reason=last_seen, by=by, at=at)
        journal.note(
            "lost", item.commission.code, by=by, at=at, reason=last_seen,
            after={"piece": item.number, "stone": stone.code, "weight_ct": stone.weight_ct},
        )  # fmt: skip
        if _others_stand(item, stone) or goes_on:
            withdraw_asks_of([item], reason=f"{stone.code} is lost", by=by, at=at)
            return item
        return end_item(item, Outcome.LOST, on=on, note=last_seen, by=by, at=at)


def tell_found(
    item: CommissionItem, *, stone: Stone, where: str, by: Hand | None, at: datetime
) -> CommissionItem:
    """A lost stone is found: the ending is reversed, not deleted, and a piece that ended by it is open again."""
    if not where.strip():
        raise DeedRefused("Say where it was.", field="where")
    with write_tx():
        item = CommissionItem.objects.select_related("commission").get(pk=item.pk)
        stone = _stone_at_work(item, stone)
        gem = stone.gems.order_by("-pk").first()  # type: ignore[attr-defined]
        if gem is not None and gem.gone_as == Gone.LOST:
            gems.found_again(gem, reason=where, by=by, at=at)
        elif stone.ending == Ending.LOST:
            stones.take_up_again(stone, reason=where, by=by, at=at)
        else:
            raise DeedRefused(f"{stone.code} is not lost.", field="stone")
        if item.outcome == Outcome.LOST and not item.commission.is_closed:
            item.outcome, item.outcome_on = Outcome.OPEN, None
            item.outcome_note = f"found: {where.strip()}"[:300]
            item.full_clean()
            item.save(update_fields=["outcome", "outcome_on", "outcome_note"])
        journal.note(
            "found", item.commission.code, by=by, at=at, after={"piece": item.number, "stone": stone.code},
            reason=where,
        )  # fmt: skip
    return item


def drop_item(
    item: CommissionItem,
    *,
    reason: str,
    given_back: Weight | None = None,
    fee: Decimal | None = None,
    tax_percent: Decimal = ZERO,
    tax_included: bool = True,
    on: date,
    by: Hand | None,
    at: datetime,
    back_field: str = "given_back",
) -> CommissionItem:
    """A piece is not done after all. The client's goods go back as they are; the shop's own stones are free again."""
    if not reason.strip():
        raise DeedRefused("Say why it is not done.", field="reason")
    with write_tx():
        item = open_item(item)
        check_day(item.commission, on, at)
        if gem := next((gem for gem in progress.gems_of(item) if gem.is_here and not gem.is_own), None):
            raise DeedRefused(f"{gem.code} is finished and the client's: deliver it.")
        if sold := item.charges.filter(kind=ChargeKind.STONE, taken_back_by__isnull=True).first():
            raise DeedRefused(f"“{sold.words}” was sold on the account: take that sale back first.")
        goods = goods_of(item)
        back: Decimal | None = None
        if goods:
            why = f"given back as it is: {reason}"
            back = give_back(goods, given_back, reason=why, on=on, by=by, at=at, field=back_field)
        charge_fee(
            item, fee, kind=ChargeKind.CANCELLATION, words=f"work done on piece {item.number}",
            tax_percent=tax_percent, tax_included=tax_included, on=on, by=by, at=at,
        )  # fmt: skip
        free_own(item, why=reason, by=by, at=at)
        end_item(item, Outcome.DROPPED, on=on, note=reason, by=by, at=at, given_back_ct=back)
        journal.note(
            "dropped piece", item.commission.code, by=by, at=at, reason=reason,
            after={"piece": item.number, "given_back_ct": back, "fee": fee or ZERO, "codes": goods.codes},
        )  # fmt: skip
    return item


def free_own(item: CommissionItem, *, why: str, by: Hand | None, at: datetime) -> None:
    """The shop's own stones stand for a piece no longer, and wait for no client. Call inside ``write_tx``."""
    for stone in progress.stones_of(item):
        if stone.is_own and stone.is_open and stone.waiting_for == Wait.CLIENT:
            stones.resume(stone, by=by, at=at)
    for link in ItemStone.objects.filter(item=item, until__isnull=True, stone__ownership=Ownership.SHOP):
        link.until, link.why = max(at, link.since), why[:200]
        link.save(update_fields=["until", "why"])


def give_back_rest(
    item: CommissionItem, *, weighed: Weight, reason: str, on: date, by: Hand | None, at: datetime
) -> CommissionItem:
    """Fragments, off-cuts put by, or a stone found late go home after their piece has ended."""
    with write_tx():
        item = CommissionItem.objects.select_related("commission__client").get(pk=item.pk)
        if item.is_open:
            raise DeedRefused(f"Piece {item.number} is open: return it unworked, drop it, or deliver it.")
        check_day(item.commission, on, at)
        goods = goods_of(item)
        if not goods:
            raise DeedRefused(f"Nothing of the client's lies here for piece {item.number} any more.")
        back = give_back(goods, weighed, reason=reason or "given back", on=on, by=by, at=at, field="weighed")
        _note_given_back(item, back)
        journal.note(
            "gave back the rest", item.commission.code, by=by, at=at, reason=reason,
            after={"piece": item.number, "given_back_ct": back, "codes": goods.codes},
        )  # fmt: skip
    return item
