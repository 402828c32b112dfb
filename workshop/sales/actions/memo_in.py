"""Goods lent to the shop: each its own lot of the lender's, at nil, never stock, and its way home."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from workshop.commissions.actions.goods import empty_to_owner
from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight
from workshop.people.models import Contact, Ownership
from workshop.rough import actions as rough
from workshop.rough.models import Origin

from ..models import Direction, LineState, Memo, MemoLine
from .memo_steps import check_day, checked_price, close_if_done, end, lent_line


@dataclass(frozen=True)
class LentIn:
    """One thing somebody lends the shop: what they say it is, its weight, the price they want."""

    words: str
    weight: Weight
    price: Decimal


def take_memo(
    asked: Sequence[LentIn],
    *,
    party: Contact,
    on: date,
    return_by: date | None,
    loss_words: str,
    terms: str = "",
    by: Hand | None,
    at: datetime,
) -> Memo:
    """Goods are lent to the shop: each its own lot that belongs to the lender, at nil, never stock."""
    with write_tx():
        shop = Shop.the()
        if not asked:
            raise DeedRefused("Say what was lent.", field="words")
        if return_by is None or return_by < on:
            raise DeedRefused("Say by which day it goes back.", field="return_by")
        check_day(on, None, at)
        memo = Memo(
            code=numbers.take("ME"), direction=Direction.IN, party=party, made_on=on, sent_on=on,
            return_by=return_by, currency=shop.currency, terms=terms.strip(),
            loss_words=loss_words.strip(), made_by=by,
        )  # fmt: skip
        memo.full_clean(exclude=["made_by"])
        memo.save()
        for one in asked:
            lot = rough.receive_lot(
                sold_as=one.words[:160], weight=one.weight, received_on=on, came=Origin.LEFT,
                ownership=Ownership.LENT, owner=party, pieces=1, declared_value=checked_price(one.price, shop.currency),
                notes=f"memo {memo.code}", sure=True, by=by, at=at,
            )  # fmt: skip
            line = MemoLine(
                memo=memo, lot=lot, words=one.words[:300], weight_ct=lot.weight_ct, price=one.price,
                state=LineState.OUT,
            )  # fmt: skip
            line.full_clean()
            line.save()
        journal.note(
            "took in on memo", memo.code, by=by, at=at, after={"party": party, "return_by": return_by}
        )
    return memo


def give_back_line(
    line: MemoLine, *, weighed: Weight | None, on: date, by: Hand | None, at: datetime
) -> MemoLine:
    """What was lent to the shop goes home as it came, by the scale."""
    with write_tx():
        line = lent_line(line)
        check_day(on, line.memo.sent_on, at)
        if line.lot is None:
            raise DeedRefused("That is the shop's own; have it back instead.")
        if weighed is None or abs(weighed.ct - line.lot.left_ct) > Shop.the().scale_step_ct:
            raise DeedRefused(
                f"It came at {line.weight_ct} ct, of which {line.lot.left_ct} ct lie here: weigh it again.",
                field="weighed",
            )
        empty_to_owner(line.lot, reason=f"{line.memo.code} given back", on=on, by=by, at=at)
        line.back_ct = weighed.ct
        end(line, LineState.RETURNED, on=on, note="")
        journal.note(
            "gave back", line.memo.code, by=by, at=at, after={"lot": line.lot.code, "weight_ct": weighed.ct}
        )
        close_if_done(line.memo, on=on, by=by, at=at)
    return line
