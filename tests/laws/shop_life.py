"""A shop's life as hypothesis lives it: any deed a person could do, in any order, and the laws looked at after each.

Refusals are part of a life: a deed that is refused must leave nothing behind, not even a line in the journal.
"""

from collections import defaultdict
from datetime import timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from tests import makers
from tests.laws import laws
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry, Shop
from workshop.gems import actions as gems
from workshop.gems.card_actions import issue_card, revise_card
from workshop.gems.models import FinishedGem
from workshop.gems.papers import open_questions
from workshop.handbook.errors import HandbookError
from workshop.handbook.units import Weight
from workshop.materials.models import Evidence
from workshop.papers import actions as papers
from workshop.papers.models import Paper, PaperKind
from workshop.rough import actions as rough
from workshop.rough.models import CostKind, RoughLot
from workshop.rough.sharing import CostLine
from workshop.sales import actions as sales
from workshop.sales.models import Sale, SaleLine
from workshop.stones import actions as stones
from workshop.stones.models import BenchTime, Stage, Stone, Weighing

D = Decimal
REFUSED = (DeedRefused, ValidationError, HandbookError)

thousandths = st.integers(1, 200_000).map(lambda n: D(n).scaleb(-3))
shares = st.integers(1, 999).map(lambda n: D(n) / 1000)
cents = st.integers(0, 500_000).map(lambda n: D(n).scaleb(-2))
some_cents = st.integers(1, 500_000).map(lambda n: D(n).scaleb(-2))
picks = st.integers(0, 10_000)
minutes = st.integers(1, 700)


def carats(ct):
    return Weight(ct=ct.quantize(D("0.001")), entered=ct, unit="ct")


class ShopLife(RuleBasedStateMachine):
    """One life. Each runs inside a savepoint that is rolled back at its end."""

    def __init__(self):
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        self.now = makers.NOON
        self.sold_at = {}
        self.issued = {}
        self.done = self.refused = 0

    def teardown(self):
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    def deed(self, act):
        """Do it; a refusal must leave no trace, a deed must leave a line."""
        before = JournalEntry.objects.count()
        try:
            with transaction.atomic():
                made = act()
        except REFUSED:
            self.refused += 1
            assert JournalEntry.objects.count() == before
            return None
        self.done += 1
        assert JournalEntry.objects.count() > before
        return made

    def one_of(self, rows, pick):
        rows = list(rows.order_by("pk"))
        return rows[pick % len(rows)] if rows else None

    @initialize(currency=st.sampled_from(["EUR", "JPY", "KWD"]))
    def open(self, currency):
        self.places = {"EUR": 2, "JPY": 0, "KWD": 3}[currency]
        makers.make_shop(currency=currency, hourly_rate=D("45"), zone="Europe/Lisbon")
        self.hands = [makers.make_owner(f"oona{id(self)}"), makers.make_owner(f"otto{id(self)}")]
        self.client_ = makers.make_contact("Invented Client", is_client=True)
        self.buyer = makers.make_contact("Invented Buyer")
        self.material = makers.make_material()

    def money(self, amount):
        return round(amount, self.places)

    @rule(passed=minutes)
    def time_passes(self, passed):
        self.now += timedelta(minutes=passed)

    # Rough

    @precondition(lambda self: RoughLot.objects.count() < 4)
    @rule(
        weight=thousandths,
        price=cents,
        rate=st.sampled_from([None, D("0.9315"), D("1.2")]),
        theirs=st.booleans(),
    )
    def receive(self, weight, price, rate, theirs):
        said = {"ownership": "client", "owner": self.client_, "came": "left"} if theirs else {
            "price_basis": "lot", "unit_price": price,
            "currency": "USD" if rate else "", "rate": rate,
            "extras": [CostLine("freight", D("12.34"), "USD", rate)] if rate else [],
        }  # fmt: skip
        self.deed(lambda: rough.receive_lot(
            by=self.hands[0], at=self.now, sold_as="rough", weight=carats(weight),
            received_on=Shop.the().day_of(self.now), material=self.material, **said,
        ))  # fmt: skip

    @precondition(lambda self: RoughLot.objects.exists())
    @rule(pick=picks, cuts=st.lists(shares, min_size=1, max_size=4), how=st.sampled_from(["weight", "grade", "value", "piece"]),
          kinds=st.lists(st.sampled_from(["facet", "cull", "cab"]), min_size=4, max_size=4), factor=shares, lose=shares)  # fmt: skip
    def sort(self, pick, cuts, how, kinds, factor, lose):
        lot = self.one_of(RoughLot.objects, pick)
        if lot.is_sorted and pick % 3:
            return
        known = list(lot.groups.order_by("pk"))
        whole = lot.left_ct if not known else sum(g.weight_ct for g in known)
        total = sum(cuts)
        specs = []
        for i, cut in enumerate(cuts):
            group = known[i] if i < len(known) else None
            weight = (whole * cut / total * (1 - lose / 20)).quantize(D("0.001"))
            specs.append(stones.GroupSpec(
                name=f"group {i}", weight_ct=weight, kind=kinds[i], pieces=i + 1, factor=factor.quantize(D("0.0001")),
                value=self.money(cut * 100), pk=group.pk if group else None,
            ))  # fmt: skip
        self.deed(lambda: stones.sort_lot(lot, specs, rule=how, by=self.hands[0], at=self.now))

    @precondition(lambda self: RoughLot.objects.exists())
    @rule(pick=picks, amount=some_cents, credit=st.booleans())
    def late_bill(self, pick, amount, credit):
        lot = self.one_of(RoughLot.objects, pick)
        amount = self.money(amount / 10)
        kind = CostKind.CREDIT if credit else CostKind.DUTY
        line = CostLine(kind, -amount if credit else amount, Shop.the().currency)
        self.deed(lambda: stones.charge_lot(
            lot, [line], paid_on=Shop.the().day_of(self.now), by=self.hands[0], at=self.now
        ))  # fmt: skip

    @precondition(lambda self: RoughLot.objects.filter(left_ct__gt=0).exists())
    @rule(
        pick=picks,
        share=shares,
        cause=st.sampled_from(["trimmed", "returned", "lost", "sold", "owner"]),
        off=st.booleans(),
    )
    def lose_rough(self, pick, share, cause, off):
        lot = self.one_of(RoughLot.objects.filter(left_ct__gt=0), pick)
        group = self.one_of(lot.groups, pick)
        left = group.left_ct if group else lot.left_ct
        self.deed(lambda: stones.lose_from_lot(
            lot, carats(left * share / 3), cause=cause, on=Shop.the().day_of(self.now), group=group,
            written_off=off, by=self.hands[0], at=self.now,
        ))  # fmt: skip

    @precondition(lambda self: RoughLot.objects.filter(left_ct__gt=0).exists())
    @rule(pick=picks, share=shares, all_of_it=st.booleans())
    def draw(self, pick, share, all_of_it):
        lot = self.one_of(RoughLot.objects.filter(left_ct__gt=0), pick)
        group = self.one_of(lot.groups.filter(left_ct__gt=0), pick)
        left = group.left_ct if group else lot.left_ct
        weight = left if all_of_it else left * share
        self.deed(
            lambda: stones.draw_stone(
                lot, carats(weight), group=group, by=self.hands[0], at=self.now, sure=True
            )
        )

    # The bench

    def a_stone(self, pick):
        """Mostly one that can be worked on: the refusals of the others are quickly seen."""
        return (pick % 5 and self.one_of(Stone.objects.on_the_bench(), pick)) or self.one_of(
            Stone.objects, pick
        )

    @precondition(lambda self: RoughLot.objects.filter(left_ct__gt=2).exists())
    @rule(pick=picks, share=shares, length=minutes, price=some_cents)
    def cut_one_through(self, pick, share, length, price):
        """A whole stone in one go, so that lives reach gems and sales often."""
        lot = self.one_of(RoughLot.objects.filter(left_ct__gt=2), pick)
        group = self.one_of(lot.groups.filter(left_ct__gt=1), pick)
        by, weight = self.hands[0], carats((group or lot).left_ct * share)
        stone = self.deed(lambda: stones.draw_stone(lot, weight, group=group, by=by, at=self.now, sure=True))
        if stone is None:
            return
        self.write_time(0, self.now, length, [stone])
        self.now += timedelta(minutes=length)
        self.deed(lambda: stones.move_on(stone, Stage.OFF_DOP, by=by, at=self.now))
        gem = self.deed(
            lambda: gems.finish_gem(stone, self.measured(stone, 400), by=by, at=self.now, sure=True)
        )
        if gem is not None:
            self.deed(lambda: gems.set_price(gem, self.money(price), by=by, at=self.now))

    def measured(self, stone, per_mille):
        return gems.Measured(
            weight=carats(stone.weight_ct * per_mille / 1000), length_mm=D("8.10"), width_mm=D("6.20"),
            depth_mm=D("4.30"), shape="oval", colour="green",
        )  # fmt: skip

    def write_time(self, hand, start, length, targets):
        end = start + timedelta(minutes=length)
        self.deed(lambda: stones.add_time(
            by=self.hands[hand], at=max(self.now, end), start=start, end=end, activity="preform", stones=targets
        ))  # fmt: skip

    @precondition(lambda self: Stone.objects.exists())
    @rule(
        pick=picks,
        share=st.integers(0, 1100),
        chips=shares,
        cause=st.sampled_from(["swarf", "trim", "kerf"]),
        sure=st.booleans(),
    )
    def weigh(self, pick, share, chips, cause, sure):
        stone = self.a_stone(pick)
        weight = carats(stone.weight_ct * share / 1000)
        lost = stone.weight_ct - weight.ct
        parts = [("chips", (lost * chips).quantize(D("0.001")))] if lost * chips >= D("0.001") else []
        self.deed(lambda: stones.record_weight(
            stone, weight, cause=cause, parts=parts, by=self.hands[0], at=self.now, sure=sure
        ))  # fmt: skip

    @precondition(lambda self: Weighing.objects.exists())
    @rule(pick=picks, share=st.integers(500, 1500))
    def correct_weight(self, pick, share):
        weighing = self.one_of(Weighing.objects, pick)
        self.deed(lambda: stones.correct_weight(
            weighing, carats(weighing.weight_ct * share / 1000), reason="read wrong", by=self.hands[0], at=self.now
        ))  # fmt: skip

    @precondition(lambda self: Stone.objects.exists())
    @rule(pick=picks, stage=st.sampled_from(list(Stage)), back=st.booleans())
    def change_stage(self, pick, stage, back):
        stone = self.a_stone(pick)
        if back:
            self.deed(lambda: stones.go_back(stone, stage, reason="a chip", by=self.hands[0], at=self.now))
        else:
            self.deed(lambda: stones.move_on(stone, stage, by=self.hands[0], at=self.now))

    @precondition(lambda self: Stone.objects.exists())
    @rule(pick=picks, what=st.sampled_from(["glue", "client", "lap", "other"]), go=st.booleans())
    def wait_or_resume(self, pick, what, go):
        stone = self.a_stone(pick)
        self.deed(lambda: stones.resume(stone, by=self.hands[0], at=self.now) if go
                  else stones.wait_for(stone, what, note="dop", by=self.hands[0], at=self.now))  # fmt: skip

    @precondition(lambda self: Stone.objects.exists())
    @rule(pick=picks, cuts=st.lists(shares, min_size=2, max_size=4), kept=st.integers(700, 1003), kerf=shares)
    def saw(self, pick, cuts, kept, kerf):
        stone = self.a_stone(pick)
        usable = stone.weight_ct * kept / 1000
        pieces = [carats(usable * cut / sum(cuts)) for cut in cuts]
        rest = max(stone.weight_ct - sum(p.ct for p in pieces), D(0))
        self.deed(lambda: stones.split_stone(
            stone, pieces, kerf_ct=(rest * kerf).quantize(D("0.001")), by=self.hands[0], at=self.now
        ))  # fmt: skip

    @precondition(lambda self: Stone.objects.exists())
    @rule(pick=picks, share=shares, survivors=st.booleans())
    def breaks(self, pick, share, survivors):
        stone = self.a_stone(pick)
        self.deed(lambda: stones.break_stone(
            stone, reason="cleaved", fragments=carats(stone.weight_ct * share), cost_on_survivors=survivors,
            by=self.hands[0], at=self.now,
        ))  # fmt: skip

    @precondition(lambda self: Stone.objects.exists())
    @rule(pick=picks, how=st.sampled_from(["lost", "scrapped", "put_by", "unworked", "split"]))
    def ends(self, pick, how):
        self.deed(
            lambda: stones.end_stone(self.a_stone(pick), how, reason="swept", by=self.hands[0], at=self.now)
        )

    @precondition(lambda self: Stone.objects.exclude(ending="").exists())
    @rule(pick=picks)
    def is_found(self, pick):
        stone = self.one_of(Stone.objects.exclude(ending=""), pick)
        self.deed(
            lambda: stones.take_up_again(stone, reason="under the bench", by=self.hands[0], at=self.now)
        )

    @precondition(lambda self: Stone.objects.exists())
    @rule(pick=picks, amount=some_cents)
    def wear(self, pick, amount):
        self.deed(lambda: stones.charge_stone(
            self.a_stone(pick), kind="wear", amount=self.money(amount / 100), on=Shop.the().day_of(self.now),
            by=self.hands[0], at=self.now,
        ))  # fmt: skip

    # Hours

    @rule(hand=st.integers(0, 1), pick=picks, several=st.booleans(), switch=st.booleans())
    def start(self, hand, pick, several, switch):
        targets = list(Stone.objects.order_by("pk"))[pick % 3 :][: 3 if several else 1]
        self.deed(lambda: stones.start_clock(by=self.hands[hand], at=self.now, stones=targets, switch=switch))

    @rule(hand=st.integers(0, 1), late=st.integers(-30, 90))
    def stop(self, hand, late):
        self.deed(lambda: stones.stop_clock(by=self.hands[hand], at=self.now + timedelta(minutes=late)))

    @rule(hand=st.integers(0, 1), pick=picks, ago=minutes, length=st.integers(-20, 400))
    def write_time_down(self, hand, pick, ago, length):
        targets = list(Stone.objects.order_by("pk"))[: pick % 3]
        self.write_time(hand, self.now - timedelta(minutes=ago), length, targets)

    @precondition(lambda self: BenchTime.objects.exists())
    @rule(pick=picks, shift=st.integers(-200, 200), length=st.integers(-5, 300), strike=st.booleans())
    def mend_time(self, pick, shift, length, strike):
        time = self.one_of(BenchTime.objects, pick)
        if strike:
            self.deed(lambda: stones.strike_time(time, by=self.hands[0], at=self.now, reason="never was"))
            return
        start = time.started_at + timedelta(minutes=shift)
        self.deed(lambda: stones.correct_time(
            time, by=self.hands[0], at=self.now, start=start, end=start + timedelta(minutes=length), reason="left running"
        ))  # fmt: skip

    # Gems and sales

    @precondition(lambda self: Stone.objects.filter(stage="off_dop", ending="").exists())
    @rule(pick=picks, share=st.integers(100, 1020))
    def finish(self, pick, share):
        stone = self.one_of(Stone.objects.filter(stage="off_dop", ending=""), pick)
        self.deed(
            lambda: gems.finish_gem(
                stone, self.measured(stone, share), by=self.hands[0], at=self.now, sure=True
            )
        )

    @precondition(lambda self: FinishedGem.objects.exists())
    @rule(pick=picks, price=some_cents)
    def price(self, pick, price):
        gem = self.one_of(FinishedGem.objects, pick)
        self.deed(lambda: gems.set_price(gem, self.money(price), by=self.hands[0], at=self.now))

    @precondition(lambda self: FinishedGem.objects.exists())
    @rule(pick=picks, to=st.sampled_from(["second_cut", "off_dop", "finished"]))
    def back_for_work(self, pick, to):
        gem = self.one_of(FinishedGem.objects, pick)
        self.deed(lambda: gems.send_back(gem, to=to, reason="a scratch", by=self.hands[0], at=self.now))

    @precondition(lambda self: FinishedGem.objects.exists())
    @rule(pick=picks, how=st.sampled_from(["delivered", "given", "lost", "sold", "kept"]))
    def leaves(self, pick, how):
        gem = self.one_of(FinishedGem.objects, pick)
        if how == "sold" or pick % 3:
            return
        self.deed(lambda: gems.let_go(
            gem, gone_as=how, on=Shop.the().day_of(self.now), note="so it went", by=self.hands[0], at=self.now
        ))  # fmt: skip

    @precondition(lambda self: FinishedGem.objects.exists())
    @rule(picked=st.lists(picks, min_size=1, max_size=3), price=cents, tax=st.sampled_from([D(0), D("19"), D("8.1")]),
          included=st.booleans(), fees=cents, paid=st.booleans())  # fmt: skip
    def sell(self, picked, price, tax, included, fees, paid):
        in_stock = FinishedGem.objects.in_stock()
        found = [
            (pick % 4 and self.one_of(in_stock, pick)) or self.one_of(FinishedGem.objects, pick)
            for pick in picked
        ]
        asked = [sales.Asked(gem, self.money(price + 1)) for gem in found]
        sale = self.deed(lambda: sales.sell(
            asked, buyer=self.buyer, sold_on=Shop.the().day_of(self.now), tax_percent=tax, tax_included=included,
            fees=self.money(fees / 50), paid=self.money(price) if paid else D(0), by=self.hands[0], at=self.now,
        ))  # fmt: skip
        if sale is not None:
            for line in SaleLine.objects.filter(sale=sale).select_related("gem__stone"):
                self.sold_at[line.gem.stone_id] = line.gem.stone.rough_cost

    @precondition(lambda self: Sale.objects.exists())
    @rule(pick=picks, amount=some_cents, back=st.booleans())
    def money_moves(self, pick, amount, back):
        sale = self.one_of(Sale.objects, pick)
        amount = self.money(amount / 3)
        self.deed(lambda: sales.pay(
            sale, amount=-amount if back else amount, on=Shop.the().day_of(self.now), by=self.hands[0], at=self.now
        ))  # fmt: skip

    @precondition(lambda self: Sale.objects.exists())
    @rule(pick=picks, refund=st.booleans())
    def take_back_sale(self, pick, refund):
        sale = self.one_of(Sale.objects, pick)
        done = self.deed(lambda: sales.cancel_sale(
            sale, reason="sent back", on=Shop.the().day_of(self.now), refund=sale.paid if refund else D(0),
            by=self.hands[0], at=self.now,
        ))  # fmt: skip
        if done is not None:
            for line in sale.lines.select_related("gem"):
                self.sold_at.pop(line.gem.stone_id, None)

    @precondition(lambda self: RoughLot.objects.exists())
    @rule(
        pick=picks,
        evidence=st.sampled_from(list(Evidence)),
        treated=st.sampled_from(["treated", "untreated", "not_tested", ""]),
    )
    def says(self, pick, evidence, treated):
        lot = self.one_of(RoughLot.objects, pick)
        said = {
            "question": "treatment", "treated": treated, "treatments": ["heat"] if treated == "treated" else [],
            "evidence": evidence, "said_by": "the seller", "said_on": Shop.the().day_of(self.now),
        }  # fmt: skip
        self.deed(lambda: rough.state_about_lot(lot, said, by=self.hands[0], at=self.now))

    # Papers

    @precondition(lambda self: FinishedGem.objects.exists())
    @rule(pick=picks, answered=st.booleans(), treated=st.sampled_from(["treated", "untreated", "not_tested"]))
    def card(self, pick, answered, treated):
        """A card, sometimes with every question answered before: it comes only where none is open."""
        gem = self.one_of(FinishedGem.objects, pick)
        self.answer(gem, treated, 3 if answered else pick % 3)
        is_open = bool(open_questions(FinishedGem.objects.get(pk=gem.pk)))
        paper = self.deed(lambda: issue_card(gem, by=self.hands[0], at=self.now, base_url="http://localhost"))
        if paper is not None:
            assert not is_open, paper
            self.keep(paper)

    def keep(self, paper):
        """What was issued, as it was issued."""
        self.issued[paper.pk] = (paper.number, paper.content, paper.content_sha256)

    def answer(self, gem, treated, many):
        """So many of the three questions about a gem answered."""
        today = Shop.the().day_of(self.now)
        said = [
            {"question": "nature", "nature": "mined"},
            {"question": "species", "material": self.material},
            {
                "question": "treatment",
                "treated": treated,
                "treatments": ["heat"] if treated == "treated" else [],
            },
        ]
        for one in said[:many]:
            full = {
                "evidence": Evidence.TESTED,
                "said_by": "the cutter",
                "said_on": today,
                "how": "readings",
                **one,
            }
            self.deed(
                lambda full=full: stones.state_about_stone(gem.stone, full, by=self.hands[0], at=self.now)
            )

    @precondition(lambda self: Paper.objects.exists())
    @rule(pick=picks, revise=st.booleans())
    def void_or_revise(self, pick, revise):
        paper = self.one_of(Paper.objects.filter(kind=PaperKind.INFO_CARD), pick)
        if paper is None:
            return
        by, at = self.hands[0], self.now
        if not revise:
            self.deed(lambda: papers.void(paper, reason="a slip", by=by, at=at))
            return
        if paper.kind != "info_card":
            return
        fresh = self.deed(
            lambda: revise_card(paper, reason="new words", by=by, at=at, base_url="http://localhost")
        )
        if fresh is not None:
            self.keep(fresh)

    # The laws

    @invariant()
    def papers_stay_as_issued(self):
        now = {p.pk: (p.number, p.content, p.content_sha256) for p in Paper.objects.all()}
        assert now == self.issued
        series = defaultdict(list)
        for number, _, _ in now.values():
            prefix, _, count = number.rpartition("-")
            series[prefix].append(int(count))
        for prefix, counts in series.items():
            assert sorted(counts) == list(range(1, len(counts) + 1)), prefix

    @invariant()
    def weights_add_up(self):
        laws.check_weights()

    @invariant()
    def money_adds_up(self):
        laws.check_money()

    @invariant()
    def what_is_sold_does_not_change(self):
        now = dict(Stone.objects.filter(pk__in=self.sold_at).values_list("pk", "rough_cost"))
        assert now == self.sold_at

    @invariant()
    def times_add_up(self):
        laws.check_times()

    @invariant()
    def goods_of_others_stay_theirs(self):
        laws.check_ownership()

    @invariant()
    def sales_add_up(self):
        laws.check_sales()
