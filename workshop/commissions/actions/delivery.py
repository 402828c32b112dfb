"""Handing over and posting what a commission was for, hearing that it arrived, and closing the account."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from django.utils.translation import override

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Hand, Shop
from workshop.common.say import moment, money
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
from workshop.gems.models import FinishedGem
from workshop.papers import actions as papers
from workshop.papers.languages import language_for
from workshop.papers.models import PaperKind
from workshop.people.models import Place
from workshop.stones import actions as stones

from .. import handing_over, progress
from ..handing_over import Going
from ..models import ChargeKind, Commission, CommissionItem, Delivery, OffCuts, Outcome, State, StopAsk
from ..papers_delivery import note_content
from .account import check_money
from .goods import empty_to_owner
from .standing import standing_commission

#: A deed of nobody's (an import, the demo) is allowed; a blank author is no error of the person at the form.
BY_NOBODY = ("by",)


def deliver(
    commission: Commission,
    *,
    items: Sequence[CommissionItem],
    on: date,
    how: str,
    tracking: str = "",
    declared_value: Decimal | None = None,
    insured_by: str = "",
    condition: str = "",
    by: Hand | None,
    at: datetime,
    base_url: str = "",
    language: str = "",
    sure: bool = False,
) -> Delivery:
    """Hand over or post finished pieces, with a note of what goes back. Before full payment it asks first."""
    with write_tx():
        commission = standing_commission(commission)
        pieces = _ready(commission, items)
        _check_said(commission, on, how, declared_value, at)
        if not sure:
            _ask_about_money(commission, pieces)
        delivery = Delivery(
            code=numbers.take("DL"), commission=commission, on=on, how=how.strip(), tracking=tracking.strip(),
            declared_value=declared_value, insured_by=insured_by.strip(), by=by,
        )  # fmt: skip
        delivery.full_clean(exclude=[*BY_NOBODY, "note"])
        delivery.save()
        delivery.items.set(piece.item for piece in pieces)
        with override(language_for(language)):
            content = note_content(delivery, commission, pieces, condition=condition, shop=Shop.the())
        delivery.note = papers.issue(
            PaperKind.HANDING_OVER, commission.code, content, by=by, at=at, base_url=base_url
        )
        delivery.save(update_fields=["note"])
        for piece in pieces:
            _let_go(commission, delivery, piece, by=by, at=at)
        journal.note(
            "delivered", commission.code, by=by, at=at,
            after={
                "delivery": delivery.code, "on": on, "how": how,
                "pieces": {str(piece.item.number): [gem.code for gem in piece.gems] for piece in pieces},
                "declared_value": declared_value,
            },
        )  # fmt: skip
    return delivery


def _ready(commission: Commission, items: Sequence[CommissionItem]) -> list[Going]:
    if not items:
        raise DeedRefused("Say which pieces are handed over.", field="items")
    if commission.state != State.IN_WORK:
        raise DeedRefused(f"{commission.code} is {commission.state_word}: there was no go-ahead yet.")
    keys = [item.pk for item in items]
    known = commission.items.filter(pk__in=keys).select_related("material").order_by("number")
    fresh = list(known)
    if len(fresh) < len(set(keys)):
        raise DeedRefused("That piece is of another commission.", field="items")
    for item in fresh:
        if not item.is_open:
            raise DeedRefused(
                f"Piece {item.number} is {item.get_outcome_display()} since {moment(item.outcome_on)}.",
                field="items",
            )
    pieces = handing_over.going(commission, fresh)
    hindered = [f"Piece {piece.item.number}: {one.words}" for piece in pieces for one in piece.hindrances]
    if hindered:
        raise DeedRefused(" ".join(hindered), field="items")
    return pieces


def _check_said(
    commission: Commission, on: date, how: str, declared_value: Decimal | None, at: datetime
) -> None:
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    if on < commission.asked_on:
        raise DeedRefused(
            f"It was asked for on {moment(commission.asked_on)}; that day is before it.", field="on"
        )
    if not how.strip():
        raise DeedRefused("Say how it goes: in person, by courier, registered post.", field="how")
    if declared_value is not None:
        if declared_value < 0:
            raise DeedRefused("A declared value is zero or more.", field="declared_value")
        check_money(declared_value, commission.currency, field="declared_value")


def _ask_about_money(commission: Commission, pieces: Sequence[Going]) -> None:
    """By the shop's own terms the balance comes before the goods; the cutter may decide otherwise."""
    doubts = []
    if commission.balance > 0:
        doubts.append(f"{money(commission.balance, commission.currency)} are still owed.")
    bare = [str(piece.item.number) for piece in pieces if not _is_charged(piece.item)]
    if bare:
        doubts.append(f"Nothing is charged yet for piece {', '.join(bare)}.")
    if doubts:
        raise PleaseConfirm(" ".join([*doubts, "Hand it over all the same?"]), field="items")


def _is_charged(item: CommissionItem) -> bool:
    kinds = [ChargeKind.WORK, ChargeKind.STONE]
    return item.charges.filter(kind__in=kinds, taken_back_by__isnull=True).exists()


def _let_go(
    commission: Commission, delivery: Delivery, piece: Going, *, by: Hand | None, at: datetime
) -> None:
    for gem in piece.gems:
        _let_gem_go(commission, delivery, gem, by=by, at=at)
    _settle_parts(piece, delivery, by=by, at=at)
    item = piece.item
    item.outcome, item.outcome_on, item.given_back_ct = Outcome.DELIVERED, delivery.on, piece.out_ct
    item.outcome_note = ""
    item.save(update_fields=["outcome", "outcome_on", "given_back_ct", "outcome_note"])


def _let_gem_go(
    commission: Commission, delivery: Delivery, gem: FinishedGem, *, by: Hand | None, at: datetime
) -> None:
    if not gem.is_own:
        gems.let_go(gem, gone_as="delivered", on=delivery.on, by=by, at=at, note=delivery.code)
    elif gem.place != Place.BUYER:
        gems.hand_over(gem, on=delivery.on, holder=commission.client, by=by, at=at)


def _settle_parts(piece: Going, delivery: Delivery, *, by: Hand | None, at: datetime) -> None:
    """Off-cuts go with the stone to their owner, or become the shop's where that was agreed."""
    for stone in piece.goods.ended:
        if piece.item.off_cuts == OffCuts.SHOP:
            stones.buy_from_owner(
                stone,
                paid=Decimal(0),
                reason=f"{delivery.code}: off-cut stays with the shop, as agreed",
                by=by,
                at=at,
            )
        else:
            stones.hand_to_owner(stone, reason=delivery.code, by=by, at=at)
    for lot in piece.goods.lots:
        # Rough that was never worked is no off-cut: it is the client's, whatever was agreed of those.
        empty_to_owner(lot, reason=delivery.code, on=delivery.on, by=by, at=at)


def note_arrival(
    delivery: Delivery, *, on: date, received_by: str = "", by: Hand | None, at: datetime
) -> Delivery:
    """It arrived: on which day, and who took it."""
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    with write_tx():
        delivery = Delivery.objects.select_related("commission").get(pk=delivery.pk)
        if delivery.arrived_on is not None:
            raise DeedRefused(f"{delivery.code} arrived on {moment(delivery.arrived_on)} already.")
        if on < delivery.on:
            raise DeedRefused(f"It left on {moment(delivery.on)}; it cannot have arrived before.", field="on")
        delivery.arrived_on, delivery.received_by = on, received_by.strip()
        delivery.full_clean(exclude=[*BY_NOBODY, "note"])
        delivery.save(update_fields=["arrived_on", "received_by"])
        journal.note(
            "arrived", delivery.commission.code, by=by, at=at,
            after={"delivery": delivery.code, "on": on, "received_by": delivery.received_by},
        )  # fmt: skip
    return delivery


def close_commission(
    commission: Commission, *, on: date, reason: str = "", by: Hand | None, at: datetime
) -> Commission:
    """Close it: every piece has ended and nothing is owed either way, or it is said why it closes all the same."""
    with write_tx():
        commission = standing_commission(commission)
        _check_closable(commission)
        if on > Shop.the().day_of(at):
            raise DeedRefused("The day lies in the future.", field="on")
        last = max((item.outcome_on for item in commission.items.all() if item.outcome_on), default=on)
        if on < last:
            raise DeedRefused(f"A piece of it ended on {moment(last)}; it cannot close before.", field="on")
        if commission.balance != 0 and not reason.strip():
            raise DeedRefused(_unsettled(commission), field="reason")
        before = {"state": commission.state, "balance": commission.balance}
        commission.state, commission.closed_on = State.DELIVERED, on
        commission.closed_why = reason.strip()[:300]
        commission.save(update_fields=["state", "closed_on", "closed_why"])
        journal.note(
            "closed", commission.code, by=by, at=at, before=before, reason=reason.strip(),
            after={"state": commission.state, "on": on, "balance": commission.balance},
        )  # fmt: skip
    return commission


def _check_closable(commission: Commission) -> None:
    if commission.state not in {State.ACCEPTED, State.IN_WORK}:
        raise DeedRefused(f"{commission.code} is {commission.state_word}: close the enquiry instead.")
    open_ones = [str(item.number) for item in commission.items.all() if item.is_open]
    if open_ones:
        raise DeedRefused(f"Piece {', '.join(open_ones)} of {commission.code} has not ended yet.")
    if StopAsk.objects.standing().filter(item__commission=commission).exists():
        raise DeedRefused(
            "The client was asked something and has not answered: write it down, or withdraw it."
        )
    if here := progress.goods_here(commission):
        raise DeedRefused(f"{', '.join(here)} of the client lies here still: give it back first.")


def _unsettled(commission: Commission) -> str:
    sum_ = money(abs(commission.balance), commission.currency)
    if commission.balance > 0:
        return f"{sum_} are still owed: say whether they are written off or how they are still to come."
    return f"The shop owes the client {sum_}: refund it, or say why it stays."


def came_back(item: CommissionItem, *, reason: str, by: Hand | None, at: datetime) -> CommissionItem:
    """A delivered piece came back: while its commission stands it is open again, otherwise the reason is noted."""
    with write_tx():
        item = CommissionItem.objects.select_related("commission").get(pk=item.pk)
        if item.outcome != Outcome.DELIVERED:
            return item
        before = {"piece": item.number, "outcome": item.outcome, "on": item.outcome_on}
        item.outcome_note = f"came back: {reason}"[:300]
        if not item.commission.is_closed:
            item.outcome, item.outcome_on, item.given_back_ct = Outcome.OPEN, None, None
        item.save(update_fields=["outcome", "outcome_on", "outcome_note", "given_back_ct"])
        journal.note(
            "piece came back", item.commission.code, by=by, at=at, before=before,
            after={"outcome": item.outcome}, reason=reason,
        )  # fmt: skip
    return item
