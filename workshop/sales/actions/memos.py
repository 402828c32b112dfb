"""Lending stones on memo: set aside, signed, sent, put off, and had back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
from workshop.gems import lending
from workshop.gems.models import FinishedGem
from workshop.gems.trade_words import line_words, refuse_words, said_in_trade
from workshop.handbook.units import Weight
from workshop.papers import actions as papers
from workshop.papers.models import Paper, PaperKind
from workshop.people.models import Contact

from ..models import LENT, LineState, Memo, MemoLine
from ..papers_memo import memo_content
from .holds import refuse_held
from .memo_steps import check_day, checked_price, close_if_done, end, fresh, lent_line, lines_of, open_memo


@dataclass(frozen=True)
class Lent:
    """One gem and the net price it is lent at."""

    gem: FinishedGem
    price: Decimal


def prepare_memo(
    asked: Sequence[Lent],
    *,
    party: Contact,
    return_by: date | None,
    loss_words: str,
    terms: str = "",
    insured_by: str = "",
    insured_value: Decimal | None = None,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
) -> Memo:
    """Set gems aside for one receiver and issue the memo note to be signed. Nothing has left the house yet."""
    with write_tx():
        shop = Shop.the()
        today = shop.day_of(at)
        _check_terms(asked, return_by, today, loss_words)
        assert return_by is not None
        refuse_words([terms, loss_words])
        memo = Memo(
            code=numbers.take("ME"), party=party, made_on=today, return_by=return_by, currency=shop.currency,
            terms=terms.strip(), loss_words=loss_words.strip(), insured_by=insured_by.strip(),
            insured_value=insured_value, made_by=by,
        )  # fmt: skip
        memo.full_clean(exclude=["made_by"])
        memo.save()
        said = {one.gem.pk: said_in_trade(_gem(one.gem)) for one in asked}
        for one in asked:
            refuse_held(one.gem, party, on=today)
            gem = lending.bind(one.gem, memo.code, by=by, at=at)
            _add_line(memo, gem, line_words(gem, said[gem.pk]), checked_price(one.price, shop.currency))
        lines = list(memo.lines.select_related("gem__stone__material"))
        content = memo_content(memo, lines, said, shop)
        memo.note = papers.issue(PaperKind.MEMO_NOTE, memo.code, content, by=by, at=at, base_url=base_url)
        memo.save(update_fields=["note"])
        journal.note(
            "prepared memo", memo.code, by=by, at=at,
            after={"gems": [line.gem.code for line in lines if line.gem], "party": party, "return_by": return_by},
        )  # fmt: skip
    return memo


def _check_terms(asked: Sequence[Lent], return_by: date | None, today: date, loss_words: str) -> None:
    if not asked:
        raise DeedRefused("A memo needs at least one gem.", field="gem")
    if len({one.gem.pk for one in asked}) < len(asked):
        raise DeedRefused("The same gem stands in this memo twice.", field="gem")
    if return_by is None:
        raise DeedRefused("Say by which day they come back: no memo without one.", field="return_by")
    if return_by < today:
        raise DeedRefused("That day is over.", field="return_by")
    if not loss_words.strip():
        raise DeedRefused("Say who bears loss, theft, damage and the post.", field="loss_words")


def _gem(gem: FinishedGem) -> FinishedGem:
    return FinishedGem.objects.select_related(
        "stone__lot", "stone__material", "owner", "public_photo__photo"
    ).get(pk=gem.pk)


def _add_line(memo: Memo, gem: FinishedGem, words: str, price: Decimal) -> None:
    line = MemoLine(memo=memo, gem=gem, words=words[:300], weight_ct=gem.weight_ct, price=price)
    line.full_clean()
    line.save()


def send_memo(memo: Memo, *, signed_by: str, on: date, by: Hand | None, at: datetime) -> Memo:
    """The receiver signed; the gems leave, and stay the shop's own."""
    if not signed_by.strip():
        raise DeedRefused("Say who signed for the receiver: no stone leaves unsigned.", field="signed_by")
    with write_tx():
        memo = fresh(memo)
        if memo.sent_on is not None or memo.closed_on is not None:
            raise DeedRefused(f"{memo.code} was {'sent' if memo.sent_on else 'closed'} already.")
        check_day(on, memo.made_on, at)
        if on > memo.return_by:
            raise DeedRefused("They would be due back before they left; make a new memo.", field="on")
        for line in lines_of(memo, LineState.SET_ASIDE):
            assert line.gem is not None
            lending.lend(line.gem, holder=memo.party, value=line.price, on=on, by=by, at=at)
            line.state = LineState.OUT
            line.save(update_fields=["state"])
        memo.signed_by, memo.sent_on = signed_by.strip(), on
        memo.full_clean(exclude=["made_by", "note"])
        memo.save(update_fields=["signed_by", "sent_on"])
        journal.note("sent memo", memo.code, by=by, at=at, after={"on": on, "signed_by": memo.signed_by})
    return memo


def drop_memo(memo: Memo, *, reason: str, by: Hand | None, at: datetime) -> Memo:
    """A memo that never left: its gems are free again, its note is void."""
    if not reason.strip():
        raise DeedRefused("Say why.", field="reason")
    with write_tx():
        memo = fresh(memo)
        if memo.sent_on is not None or memo.closed_on is not None:
            raise DeedRefused(f"{memo.code} was sent; have its stones back instead.")
        today = Shop.the().day_of(at)
        for line in lines_of(memo, LineState.SET_ASIDE):
            assert line.gem is not None
            lending.unbind(line.gem, on=today, by=by, at=at)
            end(line, LineState.DROPPED, on=today, note=reason)
        if memo.note is not None:
            papers.void(memo.note, reason=reason, by=by, at=at)
        close_if_done(memo, on=today, by=by, at=at)
    return memo


def extend(memo: Memo, until: date, *, reason: str, by: Hand | None, at: datetime) -> Memo:
    """Put the day off by which what is still out comes back."""
    if not reason.strip():
        raise DeedRefused("Say why it is put off.", field="reason")
    with write_tx():
        memo = open_memo(memo)
        if until <= memo.return_by:
            raise DeedRefused(f"Give a day after {memo.return_by}.", field="until")
        before = {"return_by": memo.return_by}
        memo.return_by = until
        memo.save(update_fields=["return_by"])
        memo.lines.filter(state__in=LENT).update(state=LineState.EXTENDED)
        journal.note(
            "extended memo", memo.code, by=by, at=at, before=before, after={"return_by": until}, reason=reason
        )
    return memo


def return_line(
    line: MemoLine,
    *,
    weighed: Weight | None,
    on: date,
    damage: str = "",
    back_to: str = "",
    clarity: str = "",
    by: Hand | None,
    at: datetime,
    sure: bool = False,
) -> MemoLine:
    """A stone is back: weighed again, looked at. ``damage``: what happened to it, and either the stage it goes back
    to (``back_to``) or what is seen of it now (``clarity``); its cards are void in both cases."""
    with write_tx():
        line = lent_line(line)
        check_day(on, line.memo.sent_on, at)
        gem = line.gem
        if gem is None:
            raise DeedRefused("That was lent to the shop; give it back.")
        _check_weight(gem, weighed, damage, sure=sure)
        if damage.strip() and not back_to and not clarity.strip():
            raise DeedRefused("Say which stage it goes back to, or what is seen of it now.", field="back_to")
        gem = lending.unbind(gem, on=on, by=by, at=at)
        line.back_ct = weighed.ct if weighed is not None else None
        end(line, LineState.DAMAGED if damage.strip() else LineState.RETURNED, on=on, note=damage)
        if damage.strip():
            _after_damage(gem, f"{line.memo.code}: {damage.strip()}", back_to, clarity, by=by, at=at)
        journal.note(
            "back from memo", line.memo.code, by=by, at=at, reason=damage,
            after={"gem": gem.code, "weight_ct": line.back_ct, "on": on},
        )  # fmt: skip
        close_if_done(line.memo, on=on, by=by, at=at)
    return line


def _check_weight(gem: FinishedGem, weighed: Weight | None, damage: str, *, sure: bool) -> None:
    if weighed is None:
        raise DeedRefused(f"Weigh {gem.code} once more: it left at {gem.weight_ct} ct.", field="weighed")
    off = weighed.ct - gem.weight_ct
    if abs(off) <= Shop.the().scale_step_ct:
        return
    if off > 0 and not sure:
        raise PleaseConfirm(
            f"{gem.code} left at {gem.weight_ct} ct; {weighed.ct} ct is more. Is it the same stone?",
            field="weighed",
        )
    if off < 0 and not damage.strip():
        raise DeedRefused(
            f"{gem.code} left at {gem.weight_ct} ct and lost {-off} ct: say what happened to it.",
            field="damage",
        )


def _after_damage(
    gem: FinishedGem, why: str, back_to: str, clarity: str, *, by: Hand | None, at: datetime
) -> None:
    if back_to:
        gems.send_back(gem, to=back_to, reason=why[:300], by=by, at=at)
        return
    gems.describe_gem(gem, {"clarity": clarity.strip()}, by=by, at=at)
    for paper in Paper.objects.standing().about(gem.code):
        papers.void(paper, reason=why, by=by, at=at)
