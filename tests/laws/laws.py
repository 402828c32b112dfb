"""The laws, worked out from the bare rows and from nothing the deeds keep for convenience.

Each function looks at the whole shop and fails with the code of what breaks the law.
"""

import itertools
from collections import defaultdict
from datetime import timedelta
from decimal import Decimal

from django.db.models import Sum

from workshop.gems.models import FinishedGem
from workshop.rough.models import RoughLot, SortGroup
from workshop.sales.models import Hold, Memo, MemoLine, Sale, SaleInvoice, SaleLine
from workshop.stones.models import BenchTime, DayHours, Stone

ZERO = Decimal(0)
#: How the gem of a line left the books, by what the line asks money for.
GONE_AS = {"sold": "sold", "compensation": "lost", "repair": "recut"}


def check_weights():
    """Weight in = what is left + children as they now weigh + losses by cause + the unexplained gap."""
    stones = list(Stone.objects.prefetch_related("losses", "weighings"))
    children = defaultdict(list)
    for stone in stones:
        children[stone.parent_id].append(stone)
    for stone in stones:
        run = [w.weight_ct for w in sorted(stone.weighings.all(), key=lambda w: w.order) if w.counts]
        assert run == sorted(run, reverse=True), stone
        assert (run[0], run[-1]) == (stone.start_ct, stone.weight_ct), stone
        worked = sum((loss.weight_ct for loss in stone.losses.all() if loss.weighing_id), ZERO)
        assert stone.start_ct == stone.weight_ct + worked, stone
        if stone.ending == "split":
            sawn = sum((loss.weight_ct for loss in stone.losses.all() if not loss.weighing_id), ZERO)
            pieces = sum((child.start_ct for child in children[stone.pk]), ZERO)
            assert stone.weight_ct == pieces + sawn + stone.gap_ct, stone
            assert stone.gap_ct >= 0, stone
        else:
            assert not children[stone.pk], stone
    _check_lot_weights(stones, children)


def _check_lot_weights(stones, children):
    roots = {stone.draw_id: stone for stone in children[None]}
    for lot in RoughLot.objects.prefetch_related("draws", "losses", "groups"):
        drawn = list(lot.draws.all())
        assert all(roots[draw.pk].start_ct == draw.weight_ct for draw in drawn), lot
        now = sum((_all_of(roots[draw.pk], children) for draw in drawn), ZERO)
        lost = sum((loss.weight_ct for loss in lot.losses.all()), ZERO)
        groups = list(lot.groups.all())
        gap = ZERO
        if groups:
            direct = sum((row.weight_ct for row in [*drawn, *lot.losses.all()] if row.group_id is None), ZERO)
            gap = lot.weight_ct - direct - sum((group.weight_ct for group in groups), ZERO)
            assert lot.left_ct == sum((group.left_ct for group in groups), ZERO), lot
        assert lot.weight_ct == now + lost + lot.left_ct + gap, lot
        assert lot.left_ct >= 0, lot
        for group in groups:
            taken = sum((d.weight_ct for d in [*drawn, *lot.losses.all()] if d.group_id == group.pk), ZERO)
            assert group.weight_ct == group.left_ct + taken, group


def _all_of(stone, children):
    """What became of a piece: what its leaves weigh now, all losses on the way, all gaps."""
    losses = sum((loss.weight_ct for loss in stone.losses.all()), ZERO)
    if stone.ending != "split":
        return stone.weight_ct + losses
    return losses + stone.gap_ct + sum((_all_of(child, children) for child in children[stone.pk]), ZERO)


def check_money():
    """Landed cost = carried by stones + left in the lot + written off, to the last minor unit."""
    carried = defaultdict(Decimal)
    by_draw = defaultdict(Decimal)
    for stone in Stone.objects.exclude(ending="split"):
        carried[stone.lot_id] += stone.rough_cost + stone.cost_difference
        by_draw[stone.draw_id] += stone.rough_cost + stone.cost_difference
        assert stone.cost_fixed or stone.cost_difference == 0, stone
    for lot in RoughLot.objects.prefetch_related("draws", "costs"):
        booked = sum((cost.amount_home for cost in lot.costs.all() if cost.kind != "recoverable"), ZERO)
        assert lot.landed_cost == booked, lot
        assert lot.landed_cost == carried[lot.pk] + lot.cost_left + lot.cost_written_off, lot
        assert min(lot.landed_cost, lot.cost_left, lot.cost_written_off) >= 0, lot
        for draw in lot.draws.all():
            assert draw.cost == by_draw[draw.pk], draw
    assert not Stone.objects.filter(ending="split").exclude(rough_cost=0).exists()
    groups = SortGroup.objects.values("lot").annotate(total=Sum("cost_left")).values_list("lot", "total")
    for lot_id, total in groups:
        assert RoughLot.objects.get(pk=lot_id).cost_left == total


def check_times():
    """One clock a hand, no two times of a hand at once, shares and roll-ups that add up to the second."""
    by_hand = defaultdict(list)
    on_stone = defaultdict(lambda: [0, 0])
    total = 0
    for time in BenchTime.objects.filter(counts=True).prefetch_related("shares"):
        by_hand[time.hand_id].append(time)
        shares = list(time.shares.all())
        if time.ended_at is None:
            continue
        length = int((time.ended_at - time.started_at) / timedelta(seconds=1))
        total += length
        assert not shares or sum(share.seconds for share in shares) == length, time
        for share in shares:
            on_stone[share.stone_id][0 if time.on_bench else 1] += share.seconds
    for times in by_hand.values():
        assert sum(time.ended_at is None for time in times) <= 1
        times.sort(key=lambda time: time.started_at)
        for one, two in itertools.pairwise(times):
            assert one.ended_at is not None and one.ended_at <= two.started_at, (one, two)
    for stone in Stone.objects.all():
        assert [stone.bench_seconds, stone.off_bench_seconds] == on_stone[stone.pk], stone
    assert total == (DayHours.objects.aggregate(total=Sum("seconds"))["total"] or 0)


def check_ownership():
    """Goods of others cost nothing, are in nobody's stock, and leave only to their owner."""
    for lot in RoughLot.objects.exclude(ownership="shop"):
        assert lot.owner_id and lot.landed_cost == 0, lot
    assert not FinishedGem.objects.in_stock().exclude(ownership="shop").exists()
    assert (
        not FinishedGem.objects.exclude(ownership="shop")
        .filter(gone_as__in=["sold", "given", "kept"])
        .exists()
    )
    assert not SaleLine.objects.exclude(gem__ownership="shop").exists()
    for stone in Stone.objects.exclude(ownership="shop").select_related("lot"):
        assert stone.owner_id == stone.lot.owner_id, stone


def check_sales():
    """Net + tax = gross on every line and sale; fees and payments add up; no gem is sold twice."""
    for sale in Sale.objects.prefetch_related("lines__gem", "payments"):
        lines = list(sale.lines.all())
        assert (sale.net, sale.tax) == (sum(x.net for x in lines), sum(x.tax for x in lines)), sale
        assert sale.gross == sale.net + sale.tax, sale
        assert sum(x.fees for x in lines) == sale.fees, sale
        assert sale.paid == sum((p.amount for p in sale.payments.all()), ZERO), sale
        assert sale.paid >= 0 and (sale.cancelled_on or sale.paid <= sale.gross), sale
        for line in lines:
            assert line.stands == (sale.cancelled_on is None), line
            assert not line.stands or line.gem.gone_as == GONE_AS[line.kind], line


def check_memos():
    """What is lent is the shop's own, in stock, bound to one memo, with its receiver; a memo closes with its last line."""
    standing = {}
    for line in MemoLine.objects.select_related("memo", "gem"):
        if line.state in {"set_aside", "out", "extended"}:
            assert line.gem_id not in standing, line
            standing[line.gem_id] = line
            away = line.state != "set_aside"
            assert line.gem.bound_to == line.memo.code and line.gem.gone_on is None, line
            assert (line.gem.place == "memo") == away == (line.memo.sent_on is not None), line
            assert not away or line.gem.holder_id == line.memo.party_id, line
            assert line.memo.closed_on is None and line.sale_id is None, line
        else:
            assert line.outcome_on is not None, line
        if line.state in {"sold", "lost"}:
            assert line.sale_id and line.sale.lines.filter(gem=line.gem).exists(), line
    bound = FinishedGem.objects.exclude(bound_to="")
    assert set(bound.values_list("pk", flat=True)) == set(standing)
    assert bound.count() == FinishedGem.objects.in_stock().exclude(bound_to="").count()
    for memo in Memo.objects.all():
        is_open = memo.lines.filter(state__in=["set_aside", "out", "extended"]).exists()
        assert is_open == (memo.closed_on is None), memo
    for hold in Hold.objects.filter(lifted_on__isnull=True).select_related("gem"):
        assert hold.gem.gone_as != "sold", hold


def check_invoices():
    """Each invoice says what its lines come to; less its credit notes never less than the sale, line by line."""
    for invoice in SaleInvoice.objects.select_related("sale", "paper").prefetch_related("lines__line"):
        lines = list(invoice.lines.all())
        assert (invoice.net, invoice.tax) == (sum(x.net for x in lines), sum(x.tax for x in lines)), invoice
        assert invoice.gross == invoice.net + invoice.tax, invoice
        assert invoice.paper.voided_at is None, invoice
        if invoice.credits_id:
            assert invoice.credits.paper.number in invoice.paper.content, invoice
            continue
        notes = list(invoice.credit_notes.prefetch_related("lines"))
        assert invoice.credited == sum((note.gross for note in notes), ZERO), invoice
        assert invoice.stands == (invoice.credited < invoice.gross), invoice
        off = defaultdict(Decimal)
        for note in notes:
            for row in note.lines.all():
                off[row.line_id] += row.net + row.tax
        for row in lines:
            left = row.net + row.tax - off[row.line_id]
            now = row.line.net + row.line.tax if row.line.stands else ZERO
            assert left >= now or not invoice.stands, row
