"""What a lot cost, what each stone out of it carries, and what a finished stone earned.

A lot's cost goes down in up to three stages: between the pieces drawn straight from the unsorted lot and the
rest (by weight), from the rest to the sorted groups (by the shop's rule), and inside a group to the pieces
drawn from it and what is left there. IAS 2.14 asks for a rational and consistent basis; the rule is the
shop's choice.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from workshop.handbook.allocation import CENT, split
from workshop.handbook.errors import DoesNotAddUp, OutOfRange
from workshop.handbook.money import convert_together, round_money
from workshop.handbook.units import to_carats

NONE = Decimal(0)
SECONDS_IN_AN_HOUR = 3600


class ShareRule(StrEnum):
    """How a sorted lot's cost is shared among its groups."""

    WEIGHT = "weight"
    GRADE = "grade"
    VALUE = "value"
    PIECE = "piece"


@dataclass(frozen=True)
class Party:
    """A piece that carries cost; ``bears=False`` when its cost was laid on the survivors instead."""

    key: Hashable
    weight_ct: Decimal
    pieces: int = 1
    bears: bool = True


@dataclass(frozen=True)
class GroupToShare:
    """A sorted group as it was weighed in, with the pieces since drawn from it.

    ``factor`` is the grade's factor (3 against 1 means a carat carries three times as much), ``value`` the
    expected value of the whole group.
    """

    key: Hashable
    weight_ct: Decimal
    pieces: int
    factor: Decimal
    value: Decimal
    is_cull: bool
    parties: tuple[Party, ...] = ()


@dataclass(frozen=True)
class LotShares:
    """A landed cost laid out: pieces by key, groups by key (pieces and remainder together), remainders by
    group key.

    ``parties + left + left_unsorted + unplaced`` is the landed cost, to the last step.
    """

    parties: dict[Hashable, Decimal]
    groups: dict[Hashable, Decimal]
    left: dict[Hashable, Decimal]
    left_unsorted: Decimal
    unplaced: Decimal


def share_lot(
    landed: Decimal,
    *,
    weight_ct: Decimal,
    direct: Sequence[Party],
    groups: Sequence[GroupToShare],
    rule: ShareRule,
    step: Decimal = CENT,
) -> LotShares:
    """Lay a lot's landed cost on its pieces, its groups and what is left; every figure a whole number of
    ``step``.

    1. Between the pieces in ``direct`` and the rest of ``weight_ct``, by weight. Without groups the rest is a
       party of its own, ``left_unsorted``.
    2. The rest goes to the groups: factor x weight, weight, value or pieces. Culls carry nothing unless all
       are culls. The gap between the lot's weight and its groups carries nothing.
    3. Inside a group, to its pieces and to what is left of it, by weight; by pieces under
       ``ShareRule.PIECE``.

    A piece that does not bear gets zero and weighs nothing, and does not count as left. A group in which
    nothing can bear gets nothing; the others carry it. What nobody can carry is ``unplaced``.

    Raises DoesNotAddUp when more was drawn than there was, when two keys are the same, or when ``landed`` is
    not a whole number of steps; OutOfRange for negative weights, counts, factors and values.
    """
    _check(weight_ct, direct, groups)
    rest_ct = weight_ct - _weight(direct)
    bearing = [group for group in groups if _can_bear(group, rule, groups)]
    rest_bears = rest_ct if bearing or not groups else NONE

    amounts, unplaced = _share(landed, [*map(_bears_ct, direct), rest_bears], step)
    parties = {party.key: amount for party, amount in zip(direct, amounts, strict=False)}
    if not groups:
        return LotShares(parties, {}, {}, amounts[-1], unplaced)

    by_group, nowhere = _share(amounts[-1], _group_shares(groups, bearing, rule), step)
    left = {}
    for group, amount in zip(groups, by_group, strict=True):
        inside, _ = _share(amount, [*_party_shares(group.parties, rule), _left_share(group, rule)], step)
        parties |= {party.key: part for party, part in zip(group.parties, inside, strict=False)}
        left[group.key] = inside[-1]
    of_groups = {group.key: amount for group, amount in zip(groups, by_group, strict=True)}
    return LotShares(parties, of_groups, left, NONE, unplaced + nowhere)


def _share(amount: Decimal, shares: Sequence[Decimal], step: Decimal) -> tuple[list[Decimal], Decimal]:
    """The parts, and what could not be placed because every share is zero."""
    if any(shares):
        return split(amount, shares, step=step), NONE
    return [NONE] * len(shares), amount


def _group_shares(
    groups: Sequence[GroupToShare], bearing: Sequence[GroupToShare], rule: ShareRule
) -> list[Decimal]:
    shares = [_measure(group, rule) if group in bearing else NONE for group in groups]
    if any(shares) or not all(group.is_cull for group in groups):
        return shares
    # A lot of nothing but culls: a grade of zero or a value of nothing must not make its cost vanish.
    return [group.weight_ct if group in bearing else NONE for group in groups]


def _measure(group: GroupToShare, rule: ShareRule) -> Decimal:
    match rule:
        case ShareRule.WEIGHT:
            return group.weight_ct
        case ShareRule.GRADE:
            return group.factor * group.weight_ct
        case ShareRule.VALUE:
            return group.value
        case ShareRule.PIECE:
            return Decimal(group.pieces)


def _can_bear(group: GroupToShare, rule: ShareRule, groups: Sequence[GroupToShare]) -> bool:
    if group.is_cull and not all(other.is_cull for other in groups):
        return False
    return any([*_party_shares(group.parties, rule), _left_share(group, rule)])


def _party_shares(parties: Sequence[Party], rule: ShareRule) -> list[Decimal]:
    if rule is ShareRule.PIECE:
        return [Decimal(party.pieces) if party.bears else NONE for party in parties]
    return [_bears_ct(party) for party in parties]


def _left_share(group: GroupToShare, rule: ShareRule) -> Decimal:
    if rule is ShareRule.PIECE:
        return Decimal(max(0, group.pieces - sum(party.pieces for party in group.parties)))
    return group.weight_ct - _weight(group.parties)


def _bears_ct(party: Party) -> Decimal:
    return party.weight_ct if party.bears else NONE


def _weight(parties: Sequence[Party]) -> Decimal:
    return sum((party.weight_ct for party in parties), NONE)


def _check(weight_ct: Decimal, direct: Sequence[Party], groups: Sequence[GroupToShare]) -> None:
    everyone = [*direct, *(party for group in groups for party in group.parties)]
    figures = [
        weight_ct,
        *(party.weight_ct for party in everyone),
        *(Decimal(party.pieces) for party in everyone),
    ]
    for group in groups:
        figures += [group.weight_ct, Decimal(group.pieces), group.factor, group.value]
    if any(figure < 0 for figure in figures):
        raise OutOfRange("Weights, counts, factors and values cannot be negative.")
    for keys in ([party.key for party in everyone], [group.key for group in groups]):
        if len(set(keys)) != len(keys):
            raise DoesNotAddUp("The same piece or group is listed twice.", keys=tuple(keys))
    _check_drawn(weight_ct, direct, "the lot")
    for group in groups:
        _check_drawn(group.weight_ct, group.parties, f"the group {group.key}")


def _check_drawn(weight_ct: Decimal, parties: Sequence[Party], where: str) -> None:
    if _weight(parties) > weight_ct:
        raise DoesNotAddUp(
            f"{_weight(parties)} ct were drawn from {where}, which held {weight_ct} ct; "
            "correct one of the weights.",
            drawn=_weight(parties),
            held=weight_ct,
        )


@dataclass(frozen=True)
class CostLine:
    """One bill of a lot: ``amount`` in ``currency``, and the rate at which the bank took it (1 for one's
    own).
    """

    amount: Decimal
    currency: str
    rate: Decimal = Decimal(1)


@dataclass(frozen=True)
class Landed:
    """A lot's landed cost in the shop's currency: the whole, each bill in order, and per carat and gram (4
    places).
    """

    total: Decimal
    lines: tuple[Decimal, ...]
    per_ct: Decimal
    per_gram: Decimal


def landed_cost(lines: Sequence[CostLine], *, weight_ct: Decimal, currency: str) -> Landed:
    """Goods and extras converted together per currency and rate, added up, and laid on the weight.

    Give what belongs to the cost (goods, freight, insurance, fees, duty, tax that cannot be recovered: IAS
    2.10-11) and leave recoverable tax out. ``weight_ct`` above zero.

    Raises OutOfRange for a weight or rate <= 0; DoesNotAddUp for a rate other than 1 on the shop's own
    currency.
    """
    if weight_ct <= 0:
        raise OutOfRange("A lot's weight must be above zero to give a cost per carat.", weight_ct=weight_ct)
    if any(line.currency == currency and line.rate != 1 for line in lines):
        raise DoesNotAddUp(f"{currency} is the shop's own currency, so its rate is 1.")
    in_own = _converted(lines, currency)
    total = sum(in_own, NONE)
    return Landed(
        total=total,
        lines=tuple(in_own),
        per_ct=unit_price(total, weight_ct),
        per_gram=unit_price(total * to_carats(Decimal(1), "g"), weight_ct),
    )


def _converted(lines: Sequence[CostLine], currency: str) -> list[Decimal]:
    taken_together: dict[tuple[str, Decimal], list[int]] = {}
    for place, line in enumerate(lines):
        taken_together.setdefault((line.currency, line.rate), []).append(place)
    converted: dict[int, Decimal] = {}
    for (_, rate), places in taken_together.items():
        parts = convert_together([lines[place].amount for place in places], rate, currency)
        converted.update(zip(places, parts, strict=True))
    return [converted[place] for place in range(len(lines))]


def unit_price(amount: Decimal, quantity: Decimal) -> Decimal:
    """An amount per unit to four places, half up. ``quantity`` above zero, else OutOfRange.

    >>> unit_price(Decimal("1251.53"), Decimal("84.60"))
    Decimal('14.7935')
    """
    if quantity <= 0:
        raise OutOfRange("A price per unit needs a quantity above zero.", quantity=quantity)
    return (amount / quantity).quantize(Decimal("0.0001"), ROUND_HALF_UP)


def labour_cost(pairs: Iterable[tuple[int, Decimal]], currency: str) -> Decimal:
    """Seconds at a rate per hour, added up and rounded once.

    >>> labour_cost([(21960, Decimal("45.00")), (7200, Decimal("45.00"))], "EUR")
    Decimal('364.50')
    """
    return round_money(sum((seconds * rate for seconds, rate in pairs), NONE) / SECONDS_IN_AN_HOUR, currency)


@dataclass(frozen=True)
class StoneAccount:
    """What one stone cost and earned; None where there is no price, no weight or no hour to divide by.

    ``..._bench_only`` leaves off-bench labour and hours out: the flattering view, shown beside the true one.
    Margins are after fees, in money and in per cent (0.1) of the net price.
    """

    cost: Decimal
    cost_bench_only: Decimal
    per_carat: Decimal | None
    margin: Decimal | None
    margin_percent: Decimal | None
    margin_bench_only: Decimal | None
    margin_percent_bench_only: Decimal | None
    earned_per_hour: Decimal | None
    earned_per_hour_bench_only: Decimal | None

    @property
    def below_cost(self) -> bool:
        """Sold, or priced, for less than it cost."""
        return self.margin is not None and self.margin < 0


def account(
    material: Decimal,
    seconds_bench: int,
    seconds_off: int,
    labour_bench: Decimal,
    labour_off: Decimal,
    wear: Decimal,
    other: Decimal,
    price_net: Decimal | None,
    fees: Decimal,
    finished_ct: Decimal | None,
    currency: str,
) -> StoneAccount:
    """The account of one stone. Amounts are already rounded money; only quotients are rounded here.

    The hour earns ``price_net - fees - material - wear - other``: what is left for the work, over all the
    hours (or over the hours at the bench alone).

    Raises OutOfRange for negative seconds.
    """
    if seconds_bench < 0 or seconds_off < 0:
        raise OutOfRange("Hours cannot be negative.", seconds_bench=seconds_bench, seconds_off=seconds_off)
    things = material + wear + other
    cost, bench_only = things + labour_bench + labour_off, things + labour_bench
    left_for_work = None if price_net is None else price_net - fees - things
    margin = None if price_net is None else price_net - fees - cost
    margin_bench = None if price_net is None else price_net - fees - bench_only
    return StoneAccount(
        cost=cost,
        cost_bench_only=bench_only,
        per_carat=round_money(cost / finished_ct, currency) if finished_ct else None,
        margin=margin,
        margin_percent=percent_of(margin, price_net),
        margin_bench_only=margin_bench,
        margin_percent_bench_only=percent_of(margin_bench, price_net),
        earned_per_hour=_per_hour(left_for_work, seconds_bench + seconds_off, currency),
        earned_per_hour_bench_only=_per_hour(left_for_work, seconds_bench, currency),
    )


def percent_of(part: Decimal | None, whole: Decimal | None) -> Decimal | None:
    """``part`` in per cent of ``whole`` to 0.1, half up; None when there is nothing to compare.

    >>> percent_of(Decimal("229.71"), Decimal("765.60"))
    Decimal('30.0')
    """
    if part is None or not whole:
        return None
    return (100 * part / whole).quantize(Decimal("0.1"), ROUND_HALF_UP)


def _per_hour(amount: Decimal | None, seconds: int, currency: str) -> Decimal | None:
    if amount is None or not seconds:
        return None
    return round_money(amount * SECONDS_IN_AN_HOUR / seconds, currency)


def break_even_per_carat(cost: Decimal, finished_ct: Decimal, currency: str) -> Decimal:
    """The price per finished carat that just covers ``cost``. Raises OutOfRange for a weight <= 0.

    >>> break_even_per_carat(Decimal("842.80"), Decimal("2.71"), "EUR")
    Decimal('311.00')
    """
    if finished_ct <= 0:
        raise OutOfRange("A price per carat needs a finished weight above zero.", finished_ct=finished_ct)
    return round_money(cost / finished_ct, currency)


@dataclass(frozen=True)
class RecutFigures:
    """Whether a recut pays: before, after, and the price per carat at which it breaks even."""

    value_before: Decimal
    break_even_per_carat: Decimal
    loss_ct: Decimal
    loss_percent: Decimal
    value_after: Decimal | None
    gain: Decimal | None
    gain_after_fee: Decimal | None


def recut_figures(
    *,
    before_ct: Decimal,
    after_ct: Decimal,
    per_carat_before: Decimal,
    per_carat_after: Decimal | None,
    fee: Decimal,
    currency: str,
) -> RecutFigures:
    """A recut weighed against leaving the stone as it is.

    The recut stone must bring the value of the stone as it is and the fee: that sum over the new weight is
    the break-even price per carat. ``per_carat_after`` may be unknown.

    Raises OutOfRange unless 0 < ``after_ct`` <= ``before_ct``.
    """
    if not 0 < after_ct <= before_ct:
        raise OutOfRange(
            "A recut stone weighs something, and no more than before.", before=before_ct, after=after_ct
        )
    value_before = round_money(before_ct * per_carat_before, currency)
    value_after = None if per_carat_after is None else round_money(after_ct * per_carat_after, currency)
    gain = None if value_after is None else value_after - value_before
    return RecutFigures(
        value_before=value_before,
        break_even_per_carat=break_even_per_carat(value_before + fee, after_ct, currency),
        loss_ct=before_ct - after_ct,
        loss_percent=(100 * (before_ct - after_ct) / before_ct).quantize(Decimal("0.1"), ROUND_HALF_UP),
        value_after=value_after,
        gain=gain,
        gain_after_fee=None if gain is None else gain - fee,
    )
