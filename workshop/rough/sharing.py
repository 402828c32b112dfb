"""How a lot's landed cost and weight stand on its groups, pieces and losses: worked out afresh from the rows.

Only the deeds of the stones floor call ``reshare`` on a lot that has stones, because they carry the shares on to
the stones in the same transaction.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from workshop.common.errors import DeedRefused
from workshop.common.models import Shop
from workshop.handbook.costing import GroupToShare, Party, ShareRule, share_lot
from workshop.handbook.money import convert_together, digits, round_money
from workshop.handbook.units import from_carats

from .models import CostKind, Draw, LotCost, LotLoss, PriceBasis, RoughLot, SortGroup

ZERO = Decimal(0)


@dataclass(frozen=True)
class CostLine:
    """One sum on a bill, in the bill's currency, with the rate at which the bank took it."""

    kind: str
    amount: Decimal
    currency: str
    rate: Decimal = Decimal(1)
    note: str = ""


def goods_price(
    basis: str, unit_price: Decimal, *, weight_ct: Decimal, pieces: int | None, currency: str
) -> Decimal:
    """What the goods cost in the seller's currency at a price per lot, piece, gram, carat or kilogram."""
    if basis == PriceBasis.PIECE and not pieces:
        raise DeedRefused("A price per piece needs the number of pieces.", field="pieces")
    counted = {
        PriceBasis.LOT: Decimal(1),
        PriceBasis.PIECE: Decimal(pieces or 0),
        PriceBasis.GRAM: from_carats(weight_ct, "g"),
        PriceBasis.CARAT: weight_ct,
        PriceBasis.KILO: from_carats(weight_ct, "kg"),
    }[PriceBasis(basis)]
    return round_money(unit_price * counted, currency)


def book_bill(lot: RoughLot, lines: Sequence[CostLine], *, paid_on: date, late: bool) -> list[LotCost]:
    """Write the sums of one bill. Sums at one rate are converted together, as the bank took them; tax stays apart."""
    home = Shop.the().currency
    runs: dict[tuple[str, Decimal, bool], list[CostLine]] = {}
    for line in lines:
        apart = line.kind == CostKind.RECOVERABLE
        runs.setdefault((line.currency, line.rate, apart), []).append(line)
    made = []
    for (currency, rate, _), run in runs.items():
        converted = convert_together([line.amount for line in run], rate, home)
        made += [
            LotCost(
                lot=lot,
                kind=line.kind,
                amount=line.amount,
                currency=currency,
                rate=rate,
                amount_home=amount_home,
                paid_on=paid_on,
                late=late,
                note=line.note,
            )
            for line, amount_home in zip(run, converted, strict=True)
        ]
    for cost in made:
        cost.full_clean(exclude=["lot"])
        cost.save()
    _sum_costs(lot)
    return made


def _sum_costs(lot: RoughLot) -> None:
    costs = list(lot.costs.all())
    lot.landed_cost = sum((cost.amount_home for cost in costs if cost.kind != CostKind.RECOVERABLE), ZERO)
    lot.recoverable_tax = sum((cost.amount_home for cost in costs if cost.kind == CostKind.RECOVERABLE), ZERO)
    if lot.landed_cost < 0:
        raise DeedRefused("A credit cannot be more than the lot has cost.", field="amount")
    lot.save(update_fields=["landed_cost", "recoverable_tax"])


def reshare(lot: RoughLot) -> None:
    """Work out afresh what is left of the lot and its groups, and share the landed cost over everything."""
    groups = list(lot.groups.all())
    draws = list(lot.draws.all())
    losses = list(lot.losses.all())
    _reweigh(lot, groups, draws, losses)
    shares = share_lot(
        lot.landed_cost,
        weight_ct=lot.weight_ct,
        direct=_parties(draws, losses, None),
        groups=[
            GroupToShare(
                key=group.pk,
                weight_ct=group.weight_ct,
                pieces=group.pieces or 0,
                factor=group.factor,
                value=group.value,
                is_cull=group.is_cull,
                parties=_parties(draws, losses, group.pk),
            )
            for group in groups
        ],
        rule=ShareRule(lot.share_rule),
        step=Decimal(1).scaleb(-digits(Shop.the().currency)),
    )
    for draw in draws:
        draw.cost = shares.parties.get(("draw", draw.pk), ZERO)
    for loss in losses:
        loss.cost = shares.parties.get(("loss", loss.pk), ZERO)
    for group in groups:
        group.cost_left = shares.left.get(group.pk, ZERO)
    Draw.objects.bulk_update(draws, ["cost"])
    LotLoss.objects.bulk_update(losses, ["cost"])
    SortGroup.objects.bulk_update(groups, ["left_ct", "cost_left"])
    lot.cost_left = shares.left_unsorted + sum(shares.left.values(), ZERO)
    lot.cost_written_off = shares.unplaced + sum((loss.cost for loss in losses), ZERO)
    lot.save(update_fields=["left_ct", "cost_left", "cost_written_off"])


def _reweigh(
    lot: RoughLot, groups: Sequence[SortGroup], draws: Iterable[Draw], losses: Iterable[LotLoss]
) -> None:
    taken: dict[int | None, Decimal] = {}
    gone: list[Draw | LotLoss] = [*draws, *losses]
    for row in gone:
        taken[row.group_id] = taken.get(row.group_id, ZERO) + row.weight_ct
    for group in groups:
        group.left_ct = group.weight_ct - taken.get(group.pk, ZERO)
        if group.left_ct < 0:
            raise DeedRefused(
                f"Group {group.name} holds {group.weight_ct} ct, but {taken[group.pk]} ct were taken from it."
            )
    lot.left_ct = (
        sum((group.left_ct for group in groups), ZERO) if groups else lot.weight_ct - taken.get(None, ZERO)
    )
    if lot.left_ct < 0:
        raise DeedRefused(f"The lot holds {lot.weight_ct} ct, but {taken[None]} ct were taken from it.")


def _parties(draws: Iterable[Draw], losses: Iterable[LotLoss], group_id: int | None) -> tuple[Party, ...]:
    drawn = [
        Party(key=("draw", draw.pk), weight_ct=draw.weight_ct, bears=draw.bears_cost)
        for draw in draws
        if draw.group_id == group_id
    ]
    lost = [
        Party(key=("loss", loss.pk), weight_ct=loss.weight_ct, pieces=loss.pieces, bears=loss.written_off)
        for loss in losses
        if loss.group_id == group_id
    ]
    return (*drawn, *lost)


def gap_ct(lot: RoughLot) -> Decimal:
    """The weight nobody can explain: what the scale said of the lot, less its groups and what was taken before."""
    groups = list(lot.groups.all())
    if not groups:
        return ZERO
    gone: list[Draw | LotLoss] = [*lot.draws.all(), *lot.losses.all()]
    direct = [row.weight_ct for row in gone if row.group_id is None]
    return lot.weight_ct - sum((group.weight_ct for group in groups), ZERO) - sum(direct, ZERO)
