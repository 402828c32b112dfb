"""The laws of the house (DEVELOPERS.md), worked out again from the bare rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.db.models import F, Q, Sum

from workshop.commissions.models import Commission, Intake, Tariff
from workshop.common.models import Series
from workshop.gems.models import FinishedGem
from workshop.papers.kinds import SERIES
from workshop.papers.models import Paper
from workshop.people.models import Contact, Ownership
from workshop.planning.models import CutPlan
from workshop.rough.models import CostKind, RoughLot
from workshop.sales.models import Sale, SaleLine
from workshop.stones.models import BenchTime, DayHours, Ending, Stone, TimeShare

Told = tuple[str, str, bool]
ZERO = Decimal(0)
REPORT = "Keep a copy of the data folder as it is, and report this with the journal of that code."
CODED: dict[str, Any] = {
    "L": RoughLot, "S": Stone, "G": FinishedGem, "P": Contact, "PL": CutPlan, "C": Commission, "SA": Sale,
    "T": Tariff, "TI": Intake,
}  # fmt: skip
#: Tariffs nobody was quoted by may be deleted; every other number stays for good.
MAY_BE_DELETED = {"T"}


def numbers() -> Iterator[Told]:
    """Every code from 1 to the last given out is there once, in every series."""
    last = dict(Series.objects.values_list("prefix", "last"))
    series = {prefix: model.objects.values_list("code", flat=True) for prefix, model in CODED.items()}
    series |= {
        prefix: Paper.objects.filter(kind=kind).values_list("number", flat=True)
        for kind, prefix in SERIES.items()
    }
    for prefix, codes in series.items():
        there = {int(code.rsplit("-", 1)[1]) for code in codes}
        missing = set(range(1, last.get(prefix, 0) + 1)) - there
        beyond = {number for number in there if number > last.get(prefix, 0)}
        if missing and prefix not in MAY_BE_DELETED:
            yield f"{prefix}-{min(missing):04d} is missing ({len(missing)} in all).", REPORT, True
        if beyond:
            yield f"{prefix}-{max(beyond):04d} was never given out.", REPORT, True


def weights() -> Iterator[Told]:
    """A stone began with what it weighs and what it lost; a lot holds what left it and what is left."""
    children: dict[int | None, Decimal] = defaultdict(Decimal)
    for parent, start in Stone.objects.exclude(parent=None).values_list("parent", "start_ct"):
        children[parent] += start
    for stone in Stone.objects.prefetch_related("losses", "weighings").iterator(chunk_size=500):
        lost = sum((one.weight_ct for one in stone.losses.all() if one.weighing_id), ZERO)
        if stone.start_ct != stone.weight_ct + lost:
            yield (
                f"{stone.code}: {stone.start_ct} ct began, {stone.weight_ct + lost} ct are accounted for.",
                REPORT,
                True,
            )
        if stone.ending == Ending.SPLIT:
            sawn = sum((one.weight_ct for one in stone.losses.all() if not one.weighing_id), ZERO)
            if stone.weight_ct != children[stone.pk] + sawn + stone.gap_ct:
                yield f"{stone.code}: its pieces, kerf and gap are not what it weighed.", REPORT, True
    yield from _lot_weights()


def _lot_weights() -> Iterator[Told]:
    for lot in RoughLot.objects.prefetch_related("draws", "losses", "groups").iterator(chunk_size=500):
        gone = sum((one.weight_ct for one in lot.draws.all()), ZERO)
        gone += sum((one.weight_ct for one in lot.losses.all()), ZERO)
        groups = list(lot.groups.all())
        left = sum((group.left_ct for group in groups), ZERO) if groups else lot.left_ct
        # A sorted lot has its unexplained gap; an unsorted one has none.
        adds_up = lot.left_ct + gone <= lot.weight_ct if groups else lot.left_ct + gone == lot.weight_ct
        if lot.left_ct != left or not adds_up:
            yield f"{lot.code}: what is left and what left it are not what came in.", REPORT, True


def money() -> Iterator[Told]:
    """Landed cost = bills = carried by stones + left in the lot + written off."""
    carried: dict[int, Decimal] = defaultdict(Decimal)
    rows = Stone.objects.exclude(ending=Ending.SPLIT).values_list("lot", "rough_cost", "cost_difference")
    for lot, cost, difference in rows.iterator():
        carried[lot] += cost + difference
    for one in RoughLot.objects.prefetch_related("costs").iterator(chunk_size=500):
        billed = sum(
            (cost.amount_home for cost in one.costs.all() if cost.kind != CostKind.RECOVERABLE), ZERO
        )
        if one.landed_cost != billed:
            yield f"{one.code}: its bills come to {billed}, it stands at {one.landed_cost}.", REPORT, True
        if one.landed_cost != carried[one.pk] + one.cost_left + one.cost_written_off:
            yield f"{one.code}: landed cost and where it went differ.", REPORT, True


def hours() -> Iterator[Told]:
    """No two times of a hand at once, shares that add up, and sums kept on stones and days that are theirs."""
    before: dict[int, BenchTime] = {}
    total = 0
    for time in (
        BenchTime.objects.filter(counts=True).order_by("hand", "started_at", "pk").iterator(chunk_size=2000)
    ):
        last = before.get(time.hand_id)
        if last is not None and (last.ended_at is None or last.ended_at > time.started_at):
            yield (
                f"Two times of one hand meet at {time.started_at:%d %b %Y, %H:%M} UTC.",
                "Correct one of them.",
                True,
            )
        before[time.hand_id] = time
        if time.ended_at is not None:
            total += int((time.ended_at - time.started_at) / timedelta(seconds=1))
    kept = DayHours.objects.aggregate(total=Sum("seconds"))["total"] or 0
    if kept != total:
        yield f"The days hold {kept} s, the times {total} s.", REPORT, True
    shares: dict[int, int] = defaultdict(int)
    counted = TimeShare.objects.filter(time__counts=True, time__ended_at__isnull=False)
    for stone, seconds in counted.values_list("stone", "seconds").iterator():
        shares[stone] += seconds
    for pk, code, bench, off in Stone.objects.values_list(
        "pk", "code", "bench_seconds", "off_bench_seconds"
    ).iterator():
        if bench + off != shares[pk]:
            yield f"{code}: it stands at {bench + off} s, its times are {shares[pk]} s.", REPORT, True


def ownership() -> Iterator[Told]:
    """Goods of others cost the shop nothing and are never sold by it."""
    others = RoughLot.objects.exclude(ownership=Ownership.SHOP)
    for lot in others.filter(~Q(landed_cost=0) | Q(owner=None)):
        yield f"{lot.code} is somebody else's, and has a cost or no owner.", REPORT, True
    for line in (
        SaleLine.objects.filter(stands=True)
        .exclude(gem__ownership=Ownership.SHOP)
        .select_related("sale", "gem")
    ):
        yield (
            f"{line.gem.code} is somebody else's and stands in {line.sale.code}.",
            "Take the sale back.",
            True,
        )


def sales() -> Iterator[Told]:
    """Lines, tax and payments add up to what the sale says."""
    for sale in Sale.objects.prefetch_related("lines", "payments").iterator(chunk_size=500):
        lines, payments = list(sale.lines.all()), list(sale.payments.all())
        net, tax = sum((one.net for one in lines), ZERO), sum((one.tax for one in lines), ZERO)
        if (sale.net, sale.tax, sale.gross) != (net, tax, net + tax):
            yield f"{sale.code}: its lines come to {net + tax}, it says {sale.gross}.", REPORT, True
        if sale.paid != sum((one.amount for one in payments), ZERO):
            yield f"{sale.code}: its payments are not what it says was paid.", REPORT, True


def commissions() -> Iterator[Told]:
    """Charged − paid + refunded = balance, from the rows."""
    rows = Commission.objects.prefetch_related("charges", "payments").iterator(chunk_size=500)
    for one in rows:
        charged = sum((row.gross for row in one.charges.all()), ZERO)
        came = sum((row.amount for row in one.payments.all() if row.amount > 0), ZERO)
        back = -sum((row.amount for row in one.payments.all() if row.amount < 0), ZERO)
        if (one.charged, one.paid, one.refunded) != (charged, came, back):
            yield f"{one.code}: its account does not add up.", REPORT, True
    wrong = Commission.objects.exclude(balance=F("charged") - F("paid") + F("refunded"))
    for code in wrong.values_list("code", flat=True):
        yield f"{code}: its balance is not its account's.", REPORT, True
