"""Which words are owed to a client just now: a moment has come, and no message of it has left the house since."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from workshop.stones.models import STAGES, Stage, Stone

from . import progress
from .models import Commission, CommissionItem, Message, MessageState, Moment, QuoteState, StopAsk

#: A message in one of these states has been, or will be, with the client.
COUNTS = (
    MessageState.READY,
    MessageState.SENDING,
    MessageState.SENT,
    MessageState.FAILED,
    MessageState.COPIED,
)
FIRST_SIDE_DONE = STAGES.index(Stage.FIRST_POLISHED)
ON_THE_SECOND = STAGES.index(Stage.OFF_DOP)


@dataclass(frozen=True)
class Owed:
    """A word that is owed, and what it is about."""

    moment: Moment
    item: CommissionItem | None = None
    ask: StopAsk | None = None

    @property
    def words(self) -> str:
        """What it is, on a button."""
        piece = f", piece {self.item.number}" if self.item else ""
        return f"{self.moment.label[:1].upper()}{self.moment.label[1:]}{piece}"

    @property
    def query(self) -> str:
        """What the page of a new message is asked for."""
        asked: dict[str, str | int] = {"moment": self.moment.value}
        if self.item is not None:
            asked["item"] = self.item.number
        if self.ask is not None:
            asked["ask"] = self.ask.pk
        return urlencode(asked)


def owed(commission: Commission) -> list[Owed]:
    """The words owed now, in the order of a commission's life."""
    messages = [one for one in commission.messages.all() if not one.from_client and one.state in COUNTS]
    return [*_begun(commission, messages), *_at_work(commission, messages), *_under_way(commission, messages)]


def _told(
    messages: list[Message], moment: Moment, item: CommissionItem | None = None, since: datetime | None = None
) -> bool:
    return any(
        one.moment == moment
        and (item is None or one.item_id in {None, item.pk})
        and (since is None or one.made_at >= since)
        for one in messages
    )


def _begun(commission: Commission, messages: list[Message]) -> Iterator[Owed]:
    intake = commission.intakes.order_by("-received_at").first()
    if intake is not None and not _told(messages, Moment.RECEIVED, since=intake.received_at):
        yield Owed(Moment.RECEIVED)
    sent = commission.quotes.filter(state=QuoteState.SENT).first()
    if sent is not None and not _told(messages, Moment.QUOTE, since=sent.sent_at):
        yield Owed(Moment.QUOTE)
    if commission.is_closed:
        return
    if commission.go_ahead_at is not None and not _told(messages, Moment.GO_AHEAD):
        yield Owed(Moment.GO_AHEAD)
    if commission.accepted_at is not None and commission.queue_place and not _told(messages, Moment.QUEUE):
        yield Owed(Moment.QUEUE)


def _at_work(commission: Commission, messages: list[Message]) -> Iterator[Owed]:
    for ask in progress.open_asks(commission):
        if not _told(messages, Moment.SURPRISE, ask.item, since=ask.asked_at):
            yield Owed(Moment.SURPRISE, ask.item, ask)
    items = list(commission.items.all())
    stones = progress.stones_by_item(items)
    for item in items:
        standing = [stone for stone in stones[item.pk] if not stone.ending]
        if any(map(_first_side_done, standing)) and not _told(messages, Moment.PAVILION, item):
            yield Owed(Moment.PAVILION, item)
        finished = any(stone.stage == Stage.FINISHED for stone in standing)
        if finished and not _told(messages, Moment.FINISHED, item):
            yield Owed(Moment.FINISHED, item)


def _first_side_done(stone: Stone) -> bool:
    return FIRST_SIDE_DONE <= STAGES.index(Stage(stone.stage)) < ON_THE_SECOND


def _under_way(commission: Commission, messages: list[Message]) -> Iterator[Owed]:
    deliveries = list(commission.deliveries.all())
    # Days and moments do not compare; one message for each parcel is what counts.
    posted = sum(1 for one in messages if one.moment == Moment.POSTED)
    arrived = sum(1 for one in messages if one.moment == Moment.ARRIVED)
    if len(deliveries) > posted:
        yield Owed(Moment.POSTED)
    if sum(1 for one in deliveries if one.arrived_on) > arrived:
        yield Owed(Moment.ARRIVED)
