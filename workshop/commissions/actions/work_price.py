"""What the work on a finished piece costs: by the accepted version of the quote and the weight it came to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from workshop.common import say
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.gems.models import FinishedGem
from workshop.handbook.units import to_thousandth

from .. import progress
from ..models import Charge, ChargeKind, CommissionItem, Outcome, QuoteLine, QuoteState
from ..quoting import goes_by, price_for
from .account import charge, check_money, has_work_charge
from .endings import check_day

#: Where the work on a piece may be charged: it is finished, here or with the client already.
CHARGEABLE = (Outcome.OPEN, Outcome.DELIVERED)


@dataclass(frozen=True)
class WorkPrice:
    """What a piece comes to, and in words why; looked at before it is booked."""

    line: QuoteLine
    amount: Decimal
    finished_ct: Decimal | None
    why: str
    #: The finished weight lies outside the range that was promised.
    outside: bool
    #: Finished gems, where the version promised another number of them.
    other_count: int | None = None
    #: It goes by hours, and nobody clocked any.
    unclocked: bool = False


def price_of_work(item: CommissionItem) -> WorkPrice:
    """Re-price a finished piece within the range promised. A firm price stays; so does one typed over the tariff."""
    line = (
        QuoteLine.objects.filter(quote__state=QuoteState.ACCEPTED, item=item)
        .select_related("quote__commission", "item__material", "plan")
        .first()
    )
    if line is None:
        raise DeedRefused(
            f"No accepted version of the quote names piece {item.number}; book the sum by hand."
        )
    finished = [gem for gem in progress.gems_of(item) if gem.is_here or gem.gone_as == "delivered"]
    if not finished:
        raise DeedRefused(f"Piece {item.number} is not finished; what it costs is worked out then.")
    if own := next((gem for gem in finished if gem.ownership == "shop"), None):
        raise DeedRefused(f"{own.code} is the shop's own: its sale puts the sum on the account.")
    each = to_thousandth(sum((gem.weight_ct for gem in finished), Decimal(0)) / len(finished))
    seconds = _seconds(item)
    return WorkPrice(
        line, price_for(line, each, seconds), each, _why(line, each, finished, seconds), _is_outside(line, each),
        other_count=len(finished) if len(finished) != line.gems else None,
        unclocked="hours" in goes_by(line) and not seconds,
    )  # fmt: skip


def _seconds(item: CommissionItem) -> int:
    return sum(stone.bench_seconds + stone.off_bench_seconds for stone in progress.stones_of(item))


def _is_outside(line: QuoteLine, each: Decimal) -> bool:
    if line.weight_low_ct is None or line.weight_high_ct is None:
        return False
    return not line.weight_low_ct <= each <= line.weight_high_ct


def _why(line: QuoteLine, each: Decimal, finished: list[FinishedGem], seconds: int) -> str:
    currency = line.quote.currency
    if line.quote.firm or line.price_low == line.price_high:
        return f"fixed in version {line.quote.version}"
    span = f"{say.money(line.price_low, currency)} to {say.money(line.price_high, currency)}"
    many = f"{len(finished)} gems of on average " if len(finished) > 1 else ""
    by = goes_by(line)
    weight = f"{many}{say.carats(each)}" if "weight" in by else ""
    followed = " and ".join(filter(None, [weight, say.hours(seconds) if "hours" in by else ""]))
    return f"{followed + ', ' if followed else ''}within the {span} of version {line.quote.version}"


def charge_work(
    item: CommissionItem,
    *,
    amount: Decimal | None = None,
    reason: str = "",
    on: date,
    by: Hand | None,
    at: datetime,
) -> Charge:
    """Put the work on a finished piece on the account, as the accepted version says; another sum only with a reason."""
    with write_tx():
        item = CommissionItem.objects.select_related("commission").get(pk=item.pk)
        check_day(item.commission, on, at)
        if item.outcome not in CHARGEABLE:
            raise DeedRefused(f"Piece {item.number} is {item.get_outcome_display()}.")
        if has_work_charge(item):
            raise DeedRefused(f"The work on piece {item.number} is on the account already.")
        told = price_of_work(item)
        quote = told.line.quote
        words = f"{told.line.what}, {told.why}" if not quote.firm else told.line.what
        if amount is not None and amount != told.amount:
            if not reason.strip():
                raise DeedRefused(
                    f"It comes to {say.money(told.amount, quote.currency)}; say why another sum is charged.",
                    field="reason",
                )
            words = f"{told.line.what}: {reason.strip()}"
        due = check_money(told.amount if amount is None else amount, quote.currency)
        gross, net = (due, None) if quote.tax_included else (None, due)
        return charge(
            item.commission, kind=ChargeKind.WORK, words=words[:200], tax_percent=quote.tax_percent, on=on, item=item,
            by=by, at=at, gross=gross, net=net,
        )  # fmt: skip
