"""What of each piece is ready to leave the house: its gems, its off-cuts, what it lost, and what stands in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from workshop.common import say
from workshop.gems.models import FinishedGem, Gone
from workshop.gems.papers import open_questions
from workshop.handbook.weights import loss_percent
from workshop.people.models import Ownership, Place
from workshop.stones.models import Ending, Stone

from .actions.goods import Goods, goods_of
from .lines import stones_by_item
from .models import (
    Commission,
    CommissionItem,
    IntakePiece,
    ItemStone,
    OffCuts,
    QuoteLine,
    QuoteState,
    StopAsk,
)

ZERO = Decimal(0)


@dataclass(frozen=True)
class Part:
    """Something that goes back, or stays, besides the finished stone: an off-cut, fragments, rough never worked."""

    code: str
    weight_ct: Decimal
    words: str


@dataclass(frozen=True)
class Hindrance:
    """Why a piece cannot leave yet, and the gem or stone it is about."""

    words: str
    gem: FinishedGem | None = None
    stone: Stone | None = None

    @property
    def is_unsold(self) -> bool:
        """Whether selling the gem on the commission is what is missing."""
        return self.gem is not None


@dataclass(frozen=True)
class Agreed:
    """What the client accepted of the finished weight: the range, the loss consented to, a later answer."""

    low_ct: Decimal | None
    high_ct: Decimal | None
    version: int | None
    consent_percent: Decimal | None
    answered_low_ct: Decimal | None = None
    answered_high_ct: Decimal | None = None
    answered_at: datetime | None = None


@dataclass(frozen=True)
class Going:
    """One piece as it leaves."""

    item: CommissionItem
    gems: Sequence[FinishedGem]
    goods: Goods
    in_ct: Decimal | None
    agreed: Agreed
    hindrances: Sequence[Hindrance]
    #: What the client said it is, when it was taken in.
    stated: Sequence[str] = ()

    @property
    def is_ready(self) -> bool:
        """Whether it can be handed over."""
        return bool(self.gems) and not self.hindrances

    @property
    def out_ct(self) -> Decimal:
        """The finished stones together, by scale."""
        return sum((gem.weight_ct for gem in self.gems), ZERO)

    @property
    def parts(self) -> list[Part]:
        """Off-cuts, fragments and rough never worked that lie here with it."""
        words = {Ending.BROKEN: _("fragments"), Ending.PUT_BY: _("off-cut")}
        ended = [Part(one.code, one.weight_ct, words[Ending(one.ending)]) for one in self.goods.ended]
        return ended + [Part(one.code, one.left_ct, _("rough not worked")) for one in self.goods.lots]

    @property
    def parts_ct(self) -> Decimal:
        """What those weigh together."""
        return sum((part.weight_ct for part in self.parts), ZERO)

    @property
    def parts_go_back(self) -> bool:
        """Whether they leave with it."""
        return bool(self.parts) and self.item.off_cuts == OffCuts.BACK

    @property
    def open_questions(self) -> list[tuple[FinishedGem, list[str]]]:
        """What nobody has answered about its gems; the note says so, and claims nothing by silence."""
        found = [(gem, open_questions(gem)) for gem in self.gems]
        return [(gem, questions) for gem, questions in found if questions]

    @property
    def loss_ct(self) -> Decimal | None:
        """What the work took: weight in less the finished stones, off-cuts and fragments."""
        return None if self.in_ct is None else self.in_ct - self.out_ct - self.parts_ct

    @property
    def loss_percent(self) -> Decimal | None:
        """The same in per cent of the weight in, to 0.1."""
        if self.in_ct is None or not self.out_ct:
            return None
        return loss_percent(self.out_ct + self.parts_ct, self.in_ct)

    @property
    def range_words(self) -> str:
        """Whether the finished weight lies where it was agreed to lie, in words; nothing where none was agreed."""
        told = filter(None, [_weight_words(self.gems, self.agreed), self._consent_words()])
        return "; ".join(told)

    def _consent_words(self) -> str:
        consent, lost = self.agreed.consent_percent, self.loss_percent
        if consent is None or lost is None:
            return ""
        told = {"agreed": say.percent(consent), "over": say.percent(max(lost - consent, ZERO))}
        if lost <= consent:
            return _("within the loss of %(agreed)s agreed to") % told
        return _("%(over)s over the loss of %(agreed)s agreed to") % told


def _weight_words(gems: Sequence[FinishedGem], agreed: Agreed) -> str:
    low, high = agreed.low_ct, agreed.high_ct
    if low is None or high is None or not gems:
        return ""
    told = {"low": say.carats(low), "high": say.carats(high), "version": agreed.version}
    under = max((low - gem.weight_ct for gem in gems), default=ZERO)
    over = max((gem.weight_ct - high for gem in gems), default=ZERO)
    if under <= 0 and over <= 0:
        return _("inside the %(low)s to %(high)s of version %(version)s") % told
    told |= {"by": say.carats(max(under, over))}
    if under > over:
        words = _("%(by)s under the %(low)s to %(high)s of version %(version)s") % told
    else:
        words = _("%(by)s over the %(low)s to %(high)s of version %(version)s") % told
    if agreed.answered_at is not None and _within_answer(gems, agreed):
        day = say.moment(agreed.answered_at, "date")
        return _("%(words)s, as agreed on %(day)s") % {"words": words, "day": day}
    return words


def _within_answer(gems: Sequence[FinishedGem], agreed: Agreed) -> bool:
    low, high = agreed.answered_low_ct, agreed.answered_high_ct
    return all(
        (low is None or gem.weight_ct >= low) and (high is None or gem.weight_ct <= high) for gem in gems
    )


def going(commission: Commission, items: Sequence[CommissionItem] | None = None) -> list[Going]:
    """Each open piece of a commission, or each of these, as it would leave."""
    if items is None:
        items = [item for item in commission.items.select_related("material") if item.is_open]
    stones = stones_by_item(items)
    gems = _gems_by_stone([stone for line in stones.values() for stone in line])
    return [_going(commission, item, stones[item.pk], gems) for item in items]


def _gems_by_stone(stones: Sequence[Stone]) -> dict[int, FinishedGem]:
    found = FinishedGem.objects.filter(stone__in=stones).exclude(gone_as=Gone.RECUT)
    found = found.select_related(
        "stone__material", "stone__lot", "stone__owner", "owner", "public_photo__photo"
    )
    return {gem.stone_id: gem for gem in found}


def _going(
    commission: Commission, item: CommissionItem, stones: Sequence[Stone], gems: dict[int, FinishedGem]
) -> Going:
    goods = goods_of(item)
    of_item = [gems[stone.pk] for stone in stones if stone.pk in gems]
    leaving = [gem for gem in of_item if _may_leave(commission, gem)]
    return Going(
        item=item,
        gems=leaving,
        goods=goods,
        in_ct=_weight_in(item, stones, of_item),
        agreed=agreed_for(item),
        hindrances=list(_hindrances(commission, item, stones, of_item, goods)),
        stated=list(dict.fromkeys(item.intake_pieces.values_list("stated_to_be", flat=True))),
    )


def _may_leave(commission: Commission, gem: FinishedGem) -> bool:
    if gem.gone_on is None:
        return not gem.is_own and gem.owner_id == commission.client_id
    if gem.gone_as != Gone.SOLD:
        return False
    # A gem sold on the commission's account lies here until it is handed over; one sold apart went to its buyer.
    return gem.place != Place.BUYER or gem.holder_id == commission.client_id


def _hindrances(
    commission: Commission,
    item: CommissionItem,
    stones: Sequence[Stone],
    gems: Sequence[FinishedGem],
    goods: Goods,
) -> list[Hindrance]:
    found = [
        Hindrance(
            f"{stone.code} is not finished: {stone.state_word}. Finish it, or put it by as an off-cut.",
            stone=stone,
        )
        for stone in _unfinished(stones, goods, bool(gems))
    ]
    for gem in gems:
        if gem.gone_on is None and gem.is_own:
            found.append(
                Hindrance(f"{gem.code} is the shop’s own: sell it on {commission.code} first.", gem=gem)
            )
        elif gem.gone_on is not None and not _may_leave(commission, gem):
            found.append(
                Hindrance(f"{gem.code} is {gem.get_gone_as_display()} since {say.moment(gem.gone_on)}.")
            )
    if not gems and not found:
        found.append(Hindrance("No stone of it is finished yet."))
    if goods.ended or goods.lots:
        found += _about_off_cuts(item, goods)
    return found


def _unfinished(stones: Sequence[Stone], goods: Goods, any_gem: bool) -> list[Stone]:
    """Stones still at work. Once a gem is there, what the shop sawed off its own rough is its own affair."""
    linked = set(
        ItemStone.objects.filter(stone__in=stones, until__isnull=True).values_list("stone", flat=True)
    )
    at_work = [one for one in stones if one.is_open and (not one.is_own or one.pk in linked or not any_gem)]
    known = {one.pk for one in at_work}
    return at_work + [one for one in goods.at_work if one.pk not in known]


def _about_off_cuts(item: CommissionItem, goods: Goods) -> list[Hindrance]:
    """Agreed to be payment, its value has to stand on the account before the piece leaves."""
    if item.off_cuts != OffCuts.PAYMENT:
        return []
    codes = ", ".join([*(one.code for one in goods.ended), *(one.code for one in goods.lots)])
    return [Hindrance(f"{codes}: agreed as part of the payment. Book its value first, or agree otherwise.")]


def _weight_in(item: CommissionItem, stones: Sequence[Stone], gems: Sequence[FinishedGem]) -> Decimal | None:
    """What came in of a client's for this piece alone; of goods that several pieces share, the stones it began with."""
    own = [gem for gem in gems if gem.is_own]
    if own or not stones:
        return None
    pieces = list(IntakePiece.objects.filter(item=item).select_related("lot"))
    taken = {piece.lot_id for piece in pieces}
    shared = ItemStone.objects.filter(stone__lot__in=taken).exclude(item=item).exists() or any(
        stone.lot_id not in taken for stone in stones
    )
    if pieces and not shared:
        return sum((piece.weight_ct for piece in pieces), ZERO)
    known = {stone.pk for stone in stones}
    roots = [stone for stone in stones if stone.parent_id not in known]
    return sum((stone.start_ct for stone in roots if stone.ownership != Ownership.SHOP), ZERO) or None


def agreed_for(item: CommissionItem) -> Agreed:
    """The finished weight that was agreed: by the accepted version, by consent at the taking in, by a later answer."""
    line = accepted_line(item)
    told = IntakePiece.objects.filter(item=item).values_list("loss_consent_percent", flat=True)
    consent = min((one for one in told if one is not None), default=None)
    answered = (
        StopAsk.objects.filter(item=item, answered_at__isnull=False, weight_low_ct__isnull=False)
        .order_by("-answered_at", "-pk")
        .first()
    )
    return Agreed(
        low_ct=line.weight_low_ct if line else None,
        high_ct=line.weight_high_ct if line else None,
        version=line.quote.version if line else None,
        consent_percent=consent,
        answered_low_ct=answered.weight_low_ct if answered else None,
        answered_high_ct=answered.weight_high_ct if answered else None,
        answered_at=answered.answered_at if answered else None,
    )


def accepted_line(item: CommissionItem) -> QuoteLine | None:
    """What the accepted version says of a piece."""
    return (
        QuoteLine.objects.filter(item=item, quote__state=QuoteState.ACCEPTED).select_related("quote").first()
    )
