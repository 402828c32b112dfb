"""A stone of one's own from the clock to its cost: 8.10 hours, 6.10 of them at the bench.

Worked example of our own: a piece that cost 164.89, wear 6.50, 45.00 an hour; 8.10 h = 364.50, so 535.89 in all;
with the bench hours alone, which flatters, 164.89 + 274.50 + 6.50 = 445.89.
"""

from datetime import timedelta
from decimal import Decimal

from tests.makers import DAY, NOON, make_lot, make_stone
from workshop.stones import actions

HOURS = {
    "sort": "0.20", "plan": "0.50", "preform": "0.70", "cut_pavilion": "1.60", "polish_pavilion": "1.10",
    "transfer": "0.30", "cut_crown": "1.40", "polish_crown": "1.00", "clean": "0.30", "photograph": "0.80",
    "papers": "0.20",
}  # fmt: skip


def test_hours_and_cost_to_the_cent(as_owner, owner, shop):
    lot = make_lot("21.30 ct", unit_price=Decimal("164.89"), price_basis="lot", currency="EUR", by=owner)
    stone = make_stone("21.30 ct", lot=lot, by=owner)
    moment = NOON
    for activity, hours in HOURS.items():
        actions.start_clock(by=owner, at=moment, stones=[stone], activity=activity)
        moment += timedelta(seconds=int(Decimal(hours) * 3600))
        actions.stop_clock(by=owner, at=moment)
    actions.charge_stone(stone, kind="wear", amount=Decimal("6.50"), on=DAY, by=owner, at=moment)
    stone.refresh_from_db()
    assert stone.bench_seconds == 6.10 * 3600
    assert stone.bench_seconds + stone.off_bench_seconds == 8.10 * 3600
    assert stone.cost_to_date == Decimal("535.89")
    assert stone.rough_cost + stone.bench_labour + stone.wear_cost == Decimal("445.89")
    page = as_owner.get(f"/stones/{stone.code}/").content.decode()
    assert "535.89" in page
    assert "8\u00a0h\u00a006" in page
