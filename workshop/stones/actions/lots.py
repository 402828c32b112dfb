"""Deeds on a lot that reach its stones: drawing one, sorting, late bills and credits, weight that left the lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.formfields import as_typed
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight, looks_tenfold
from workshop.materials.models import Material
from workshop.people.models import Ownership, Place
from workshop.rough.models import (
    CULLS,
    CostKind,
    Draw,
    GroupKind,
    LotLoss,
    LotLossCause,
    RoughLot,
    Rule,
    SortGroup,
)
from workshop.rough.sharing import CostLine, book_bill, gap_ct

from ..models import Stone, Weighing
from .sharing import share_on
from .splits import ASK_GAP

ZERO = Decimal(0)
#: Scales differ by a last digit; a sum of groups this much above the lot is asked about, more is refused.
ASK_ABOVE, REFUSE_ABOVE = Decimal("0.002"), Decimal("0.02")


def draw_stone(
    lot: RoughLot,
    weight: Weight,
    *,
    by: Hand | None,
    at: datetime,
    group: SortGroup | None = None,
    sure: bool = False,
    material: Material | None = None,
    plan: str = "",
    shape: str = "",
    length_mm: Decimal | None = None,
    width_mm: Decimal | None = None,
    depth_mm: Decimal | None = None,
    first_side: str = "pavilion",
) -> Stone:
    """Take a piece from a lot or one of its groups, to be followed on its own."""
    with write_tx():
        lot = RoughLot.objects.get(pk=lot.pk)
        group = SortGroup.objects.get(pk=group.pk, lot=lot) if group is not None else None
        day = Shop.the().day_of(at)
        if lot.is_sorted and group is None:
            raise DeedRefused("This lot is sorted: say from which group the piece comes.", field="group")
        if day < lot.received_on:
            raise DeedRefused("A piece cannot be drawn before the lot came in.", field="at")
        _check_drawn(weight, group.left_ct if group else lot.left_ct, group, sure=sure)
        drawn = Draw.objects.create(lot=lot, group=group, weight_ct=weight.ct, drawn_on=day)
        stone = Stone(
            code=numbers.take("S"),
            lot=lot,
            draw=drawn,
            material=material or lot.material,
            plan=plan,
            shape=shape,
            first_side=first_side,
            length_mm=length_mm,
            width_mm=width_mm,
            depth_mm=depth_mm,
            ownership=lot.ownership,
            owner=lot.owner,
            place=Place.BENCH,
            held_since=day,
            drawn_at=at,
            touched_at=at,
            start_ct=weight.ct,
            weight_ct=weight.ct,
        )
        stone.full_clean()
        stone.save()
        _first_weighing(stone, as_typed(weight), by=by, at=at)
        share_on(lot)
        stone.refresh_from_db()
        journal.note(
            "drew stone",
            stone.code,
            by=by,
            at=at,
            after={"lot": lot.code, "group": group.name if group else "", "weight_ct": weight.ct},
        )
    return stone


def _first_weighing(stone: Stone, entered: str, *, by: Hand | None, at: datetime) -> Weighing:
    return Weighing.objects.create(
        stone=stone, weight_ct=stone.start_ct, entered=entered, stage=stone.stage, at=at, by=by, order=0
    )


def _check_drawn(weight: Weight, left_ct: Decimal, group: SortGroup | None, *, sure: bool) -> None:
    where = f"group {group.name}" if group is not None else "the lot"
    if weight.ct <= 0:
        raise DeedRefused("That is less than a thousandth of a carat: too little to follow.", field="weight")
    if weight.ct > left_ct:
        meant = looks_tenfold(weight.ct, left_ct)
        hint = f" Did you mean {meant} ct?" if meant is not None else ""
        raise DeedRefused(f"Only {left_ct} ct are left in {where}.{hint}", field="weight")
    if weight.ct == left_ct and group is None and weight.ct > 500 and not sure:
        raise PleaseConfirm("This takes the whole lot as one piece. Is it one?", field="weight")


@dataclass(frozen=True)
class GroupSpec:
    """A group as it should stand after a sort; ``pk`` names one that exists already."""

    name: str
    weight_ct: Decimal
    kind: str = GroupKind.FACET
    pieces: int | None = None
    factor: Decimal = Decimal(1)
    value: Decimal = ZERO
    notes: str = ""
    pk: int | None = None


def sort_lot(
    lot: RoughLot,
    groups: Sequence[GroupSpec],
    *,
    rule: str,
    by: Hand | None,
    at: datetime,
    sure: bool = False,
) -> RoughLot:
    """Sort a lot into groups, or change one's mind about an earlier sort. Sold stones keep what they were sold with.

    A group that pieces were taken from may be renamed, re-graded and re-weighed, but not left out.
    """
    with write_tx():
        lot = RoughLot.objects.get(pk=lot.pk)
        _check_groups(lot, groups, rule)
        before = {group.name: group.weight_ct for group in lot.groups.all()}
        _put_groups(lot, groups)
        lot.share_rule, lot.sorted_on = rule, Shop.the().day_of(at)
        lot.save(update_fields=["share_rule", "sorted_on"])
        _check_gap(lot, sure=sure)
        share_on(lot)
        lot.refresh_from_db()
        journal.note(
            "sorted lot",
            lot.code,
            by=by,
            at=at,
            before=before,
            after={"rule": rule, "gap_ct": gap_ct(lot), **{spec.name: spec.weight_ct for spec in groups}},
        )
    return lot


def _check_groups(lot: RoughLot, groups: Sequence[GroupSpec], rule: str) -> None:
    if not groups:
        raise DeedRefused("A sort needs at least one group.")
    names = [spec.name.casefold() for spec in groups]
    if len(set(names)) != len(names):
        raise DeedRefused("Two groups have the same name.")
    bearing = {
        Rule.WEIGHT: lambda spec: spec.weight_ct,
        Rule.GRADE: lambda spec: spec.weight_ct * spec.factor,
        Rule.VALUE: lambda spec: spec.value,
        Rule.PIECE: lambda spec: spec.pieces or 0,
    }[Rule(rule)]
    keepers = [spec for spec in groups if spec.kind not in CULLS] or list(groups)
    if lot.landed_cost and not any(bearing(spec) for spec in keepers):
        raise DeedRefused(f"No group can bear the cost {Rule(rule).label}: fill in what that rule shares by.")


def _put_groups(lot: RoughLot, groups: Sequence[GroupSpec]) -> None:
    known = {group.pk: group for group in lot.groups.all()}
    kept = set()
    leaving = [pk for pk in known if pk not in {spec.pk for spec in groups}]
    for pk in leaving:
        if known[pk].draws.exists() or known[pk].losses.exists():
            raise DeedRefused(f"Pieces were taken from group {known[pk].name}, so it has to stay.")
        known[pk].delete()
    for spec in groups:
        if spec.pk in known and known[spec.pk].name != spec.name:
            # Two groups may swap their names, and neither may bear the other's for a moment.
            SortGroup.objects.filter(pk=spec.pk).update(name=f"~{spec.pk}")
    for spec in groups:
        if spec.pk is not None and spec.pk not in known:
            raise DeedRefused(f"Group {spec.name} is not one of this lot's.")
        group = known[spec.pk] if spec.pk is not None else SortGroup(lot=lot)
        for name in ("name", "kind", "weight_ct", "pieces", "factor", "value", "notes"):
            setattr(group, name, getattr(spec, name))
        group.left_ct = group.left_ct if group.pk else spec.weight_ct
        group.full_clean(exclude=["lot"], validate_unique=False)
        group.save()
        kept.add(group.pk)


def _check_gap(lot: RoughLot, *, sure: bool) -> None:
    gap = gap_ct(lot)
    if -gap > lot.weight_ct * REFUSE_ABOVE:
        raise DeedRefused(
            f"The groups weigh {-gap} ct more than the lot. Look at the units and the decimal points."
        )
    if -gap > lot.weight_ct * ASK_ABOVE and not sure:
        raise PleaseConfirm(f"The groups weigh {-gap} ct more than the lot did.")
    if gap > lot.weight_ct * ASK_GAP and not sure:
        raise PleaseConfirm(f"{gap} ct of the lot would stay unexplained. Look at units and decimal points.")


def correct_lot_weight(
    lot: RoughLot, weight: Weight, *, reason: str, by: Hand | None, at: datetime, sure: bool = False
) -> RoughLot:
    """Put a lot's mistyped weight right. The journal keeps the old one; what the lot cost stays as it was billed."""
    if not reason.strip():
        raise DeedRefused("Say why it is corrected.", field="reason")
    with write_tx():
        lot = RoughLot.objects.get(pk=lot.pk)
        before = {"weight_ct": lot.weight_ct, "entered": lot.entered_weight}
        lot.weight_ct, lot.entered_weight = weight.ct, as_typed(weight)
        lot.save(update_fields=["weight_ct", "entered_weight"])
        if lot.is_sorted:
            _check_gap(lot, sure=sure)
        # Refused there where more was taken from the lot than it would have held.
        share_on(lot)
        lot.refresh_from_db()
        after = {"weight_ct": lot.weight_ct, "entered": lot.entered_weight}
        journal.note(
            "corrected lot weight", lot.code, by=by, at=at, before=before, after=after, reason=reason
        )
    return lot


def charge_lot(
    lot: RoughLot, lines: Sequence[CostLine], *, paid_on: date, by: Hand | None, at: datetime
) -> RoughLot:
    """Book a late bill or a seller's credit and share it. What is sold keeps its share; the difference is shown."""
    if paid_on > Shop.the().day_of(at):
        raise DeedRefused("The day of the bill lies in the future.", field="paid_on")
    for line in lines:
        if (line.kind == CostKind.CREDIT) != (line.amount < 0) or line.amount == 0:
            raise DeedRefused("A bill is above zero and a credit below.", field="amount")
    with write_tx():
        lot = RoughLot.objects.get(pk=lot.pk)
        if lot.ownership != Ownership.SHOP:
            raise DeedRefused("Goods that are not the shop's own have no cost here.")
        before = lot.landed_cost
        book_bill(lot, lines, paid_on=paid_on, late=True)
        share_on(lot)
        lot.refresh_from_db()
        journal.note(
            "charged lot",
            lot.code,
            by=by,
            at=at,
            before={"landed_cost": before},
            after={
                "landed_cost": lot.landed_cost,
                "lines": [f"{x.kind} {x.amount} {x.currency}" for x in lines],
            },
        )
    return lot


def lose_from_lot(
    lot: RoughLot,
    weight: Weight,
    *,
    cause: str,
    on: date,
    by: Hand | None,
    at: datetime,
    group: SortGroup | None = None,
    pieces: int = 1,
    written_off: bool = False,
    reason: str = "",
) -> LotLoss:
    """Weight left the lot without becoming a stone: trimmed, culled, returned, sold as rough, lost."""
    with write_tx():
        lot = RoughLot.objects.get(pk=lot.pk)
        group = SortGroup.objects.get(pk=group.pk, lot=lot) if group is not None else None
        if lot.is_sorted and group is None:
            raise DeedRefused("This lot is sorted: say from which group it went.", field="group")
        if on > Shop.the().day_of(at):
            raise DeedRefused("The day lies in the future.", field="on")
        if on < lot.received_on:
            raise DeedRefused("Nothing can leave the lot before it came in.", field="on")
        if cause == LotLossCause.OWNER and lot.ownership == Ownership.SHOP:
            raise DeedRefused("The shop is its owner.", field="cause")
        if cause in {LotLossCause.SOLD, LotLossCause.RETURNED} and lot.ownership != Ownership.SHOP:
            raise DeedRefused("Goods of others go back to their owner and to nobody else.", field="cause")
        _check_drawn(weight, group.left_ct if group else lot.left_ct, group, sure=True)
        loss = LotLoss(
            lot=lot,
            group=group,
            weight_ct=weight.ct,
            pieces=pieces,
            cause=cause,
            written_off=written_off,
            on=on,
            reason=reason,
        )
        loss.full_clean()
        loss.save()
        share_on(lot)
        loss.refresh_from_db()
        journal.note(
            "weight left lot",
            lot.code,
            by=by,
            at=at,
            after={"weight_ct": weight.ct, "cause": cause, "written_off": written_off},
            reason=reason,
        )
    return loss
