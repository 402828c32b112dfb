"""Cost shared among the things that carry it, after IAS 2 Inventories.

By-products, abnormal loss and the lower of cost and net realisable value follow IAS 2 paragraphs 6, 9, 14, 16
and 28 to 33. What a shop may or must use is for its own adviser and local law to say; these are the figures.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.handbook import money
from workshop.handbook.errors import DoesNotAddUp, OutOfRange

CENT = Decimal("0.01")


def split(total: Decimal, shares: Sequence[Decimal], *, step: Decimal = CENT) -> list[Decimal]:
    """``total`` in parts by ``shares``, summing to it exactly, by largest remainder: see ``money.split``.

    Raises NothingToShareBy, OutOfRange, DoesNotAddUp.

    >>> split(Decimal("1100.00"), [Decimal(1200), Decimal(600), Decimal(200)])
    [Decimal('660.00'), Decimal('330.00'), Decimal('110.00')]
    """
    return money.split(total, shares, step)


def split_seconds(total: int, shares: Sequence[int]) -> list[int]:
    """Whole seconds shared out so that none is lost; the rules of ``split``.

    >>> split_seconds(100, [1, 1, 1])
    [34, 33, 33]
    """
    return [
        int(part) for part in money.split(Decimal(total), [Decimal(share) for share in shares], Decimal(1))
    ]


def allocate_by_relative_value(
    landed: Decimal,
    expected_sales: Sequence[Decimal],
    *,
    still_to_come: Sequence[Decimal] | None = None,
    by_product_nrv: Decimal = Decimal(0),
    step: Decimal = CENT,
) -> list[Decimal]:
    """A joint cost laid on its products by what each is expected to sell for (IAS 2.14).

    ``still_to_come`` is the cost yet to be spent on each product; with it the value at the moment the
    products become separable is used, and a product not worth finishing carries nothing. The net realisable
    value of an immaterial by-product is taken off the joint cost first (same paragraph).

    Raises DoesNotAddUp when the lists differ in length or the by-product is worth more than the joint cost;
    otherwise as ``split``.

    >>> allocate_by_relative_value(
    ...     Decimal("1100.00"), [Decimal(1200), Decimal(600), Decimal(200)], by_product_nrv=Decimal("20.00")
    ... )
    [Decimal('648.00'), Decimal('324.00'), Decimal('108.00')]
    """
    to_come = [Decimal(0)] * len(expected_sales) if still_to_come is None else still_to_come
    if len(to_come) != len(expected_sales):
        raise DoesNotAddUp("Each product needs one expected price and one cost still to come.")
    if not 0 <= by_product_nrv <= landed:
        raise DoesNotAddUp(
            "A by-product is worth between nothing and the whole cost; otherwise it is a product."
        )
    values = [max(Decimal(0), price - cost) for price, cost in zip(expected_sales, to_come, strict=True)]
    return split(landed - by_product_nrv, values, step=step)


@dataclass(frozen=True)
class AbnormalLoss:
    """What an abnormal loss does: ``expense`` leaves stock, ``carried`` is what each product carries after
    it.
    """

    expense: Decimal
    carried: tuple[Decimal, ...]


def abnormal_loss(carried: Sequence[Decimal], lost: Collection[int]) -> AbnormalLoss:
    """Products at the places ``lost`` are gone beyond the loss that was planned for (IAS 2.16).

    Their cost is an expense; the survivors carry what they carried before. A planned loss is never given
    here: it lies within the survivors' cost from the start.

    Raises OutOfRange for a place that is not there.

    >>> abnormal_loss([Decimal("660.00"), Decimal("330.00"), Decimal("110.00")], {2})
    AbnormalLoss(expense=Decimal('110.00'), carried=(Decimal('660.00'), Decimal('330.00'), Decimal('0')))
    """
    if any(not 0 <= place < len(carried) for place in lost):
        raise OutOfRange("A lost product must be one of those that carry cost.", lost=tuple(lost))
    expense = sum((carried[place] for place in set(lost)), Decimal(0))
    left = tuple(Decimal(0) if place in lost else cost for place, cost in enumerate(carried))
    return AbnormalLoss(expense=expense, carried=left)


def net_realisable_value(
    price: Decimal, *, to_finish: Decimal = Decimal(0), to_sell: Decimal = Decimal(0)
) -> Decimal:
    """Expected price less the cost to finish and the cost to sell (IAS 2.6); may be below zero.

    >>> net_realisable_value(Decimal(700), to_finish=Decimal(30), to_sell=Decimal(70))
    Decimal('600')
    """
    return price - to_finish - to_sell


def write_down(cost: Decimal, nrv: Decimal) -> Decimal:
    """How far the carrying amount must fall: the lower of cost and net realisable value, never below nothing
    (IAS 2.9).

    >>> write_down(Decimal(660), Decimal(600)), write_down(Decimal(660), Decimal(720))
    (Decimal('60'), Decimal('0'))
    """
    return cost - carrying_amount(cost, nrv)


def carrying_amount(cost: Decimal, nrv: Decimal) -> Decimal:
    """The lower of cost and net realisable value, never below nothing (IAS 2.9, 2.28).

    >>> carrying_amount(Decimal(660), Decimal(600))
    Decimal('600')
    """
    return max(Decimal(0), min(cost, nrv))


def reversal(cost: Decimal, carried: Decimal, nrv: Decimal) -> Decimal:
    """How much of an earlier write-down comes back when values rise, at most up to ``cost`` again (IAS 2.33).

    Raises DoesNotAddUp when more is carried than the thing cost.

    >>> reversal(Decimal(660), Decimal(600), Decimal(720))
    Decimal('60')
    """
    if carried > cost:
        raise DoesNotAddUp("Nothing is carried above what it cost.", cost=cost, carried=carried)
    return max(Decimal(0), carrying_amount(cost, nrv) - carried)
