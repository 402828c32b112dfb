"""A shop's life that lends on memo, holds gems, invoices what it sold and credits what was invoiced, too."""

from datetime import timedelta
from decimal import Decimal

from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule

from tests import makers
from tests.laws import laws
from tests.laws.shop_life import ShopLife, carats, cents, picks, some_cents
from workshop.common.models import Shop
from workshop.gems.models import FinishedGem
from workshop.papers.invoicing import Terms
from workshop.papers.models import Paper
from workshop.sales import actions as sales
from workshop.sales.actions import holds, memo_ends, memos
from workshop.sales.models import Hold, Memo, MemoLine, Sale, SaleLine

D = Decimal
TREATED = st.sampled_from(["treated", "not_tested"])


class LendingLife(ShopLife):
    """What comes after the gems are finished. Few deeds of the bench, so that a life gets as far as that."""

    sort = late_bill = lose_rough = weigh = correct_weight = wait_or_resume = saw = breaks = ends = (
        is_found
    ) = None
    wear = start = stop = write_time_down = mend_time = receive = draw = says = None

    @initialize(currency=st.sampled_from(["EUR", "JPY", "KWD"]))
    def open(self, currency):
        ShopLife.open(self, currency)
        shop = Shop.the()
        shop.address, shop.base_url = "5 Slate Lane", "https://cards.example"
        shop.save()
        self.jeweller = makers.make_contact("Invented Jeweller", address="1 High Street")
        lot = makers.make_lot("60 ct", by=self.hands[0], at=self.now)
        for weight in ("2.040 ct", "1.620 ct", "3.310 ct", "5.070 ct"):
            stone = makers.make_stone("10 ct", lot=lot, by=self.hands[0], at=self.now)
            gem = makers.make_gem(weight, stone=stone, by=self.hands[0], at=self.now)
            self.answer(gem, "treated", 3)

    def today(self):
        return Shop.the().day_of(self.now)

    def keep_new_papers(self):
        """Papers a deed issued on its way: each is held to stay as it was from here on."""
        for paper in Paper.objects.exclude(pk__in=self.issued):
            self.keep(paper)

    @precondition(lambda self: FinishedGem.objects.in_stock().exists())
    @rule(picked=st.lists(picks, min_size=1, max_size=3), price=some_cents, days=st.integers(-1, 40), treated=TREATED,
          answered=st.integers(2, 9), sent=st.integers(0, 5))  # fmt: skip
    def lend(self, picked, price, days, treated, answered, sent):
        found = {
            gem.pk: gem for gem in (self.one_of(FinishedGem.objects.in_stock(), pick) for pick in picked)
        }
        for gem in found.values():
            self.answer(gem, treated, min(answered, 3))
        asked = [memos.Lent(gem, self.money(price + 1)) for gem in found.values()]
        memo = self.deed(lambda: memos.prepare_memo(
            asked, party=self.jeweller, return_by=self.today() + timedelta(days=days), loss_words="The receiver bears it.",
            by=self.hands[0], at=self.now,
        ))  # fmt: skip
        self.keep_new_papers()
        if memo is not None and sent:
            self.deed(
                lambda: memos.send_memo(
                    memo, signed_by="I. J.", on=self.today(), by=self.hands[0], at=self.now
                )
            )

    @precondition(lambda self: Memo.objects.exists())
    @rule(pick=picks, how=st.sampled_from(["send", "drop", "extend", "close"]))
    def go_on(self, pick, how):
        memo, by, at = self.one_of(Memo.objects, pick), self.hands[0], self.now
        self.deed({
            "send": lambda: memos.send_memo(memo, signed_by="I. J.", on=self.today(), by=by, at=at),
            "drop": lambda: memos.drop_memo(memo, reason="not signed", by=by, at=at),
            "extend": lambda: memos.extend(memo, memo.return_by + timedelta(days=9), reason="asked for", by=by, at=at),
            "close": lambda: memo_ends.close_memo(memo, on=self.today(), by=by, at=at),
        }[how])  # fmt: skip

    @precondition(lambda self: MemoLine.objects.exists())
    @rule(
        pick=picks,
        share=st.integers(960, 1000),
        damage=st.sampled_from(["", "", "a chip"]),
        bench=st.booleans(),
    )
    def comes_back(self, pick, share, damage, bench):
        line = self.one_of(MemoLine.objects, pick)
        weighed = carats(line.weight_ct * (share if damage else 1000) / 1000)
        told = {"back_to": "off_dop"} if bench else {"clarity": "a chip at the girdle"}
        self.deed(lambda: memos.return_line(
            line, weighed=weighed, on=self.today(), damage=damage, by=self.hands[0], at=self.now,
            **(told if damage else {}),
        ))  # fmt: skip

    @precondition(lambda self: Memo.objects.exists())
    @rule(pick=picks, ways=st.lists(st.sampled_from(["sold", "lost", "out"]), min_size=3, max_size=3), amount=some_cents,
          tax=st.sampled_from([D(0), D("19")]))  # fmt: skip
    def settle(self, pick, ways, amount, tax):
        memo = self.one_of(Memo.objects, pick)
        lines = list(memo.lines.select_related("memo"))
        by_way = {
            way: [line for line, its in zip(lines, ways, strict=False) if its == way]
            for way in ("sold", "lost")
        }
        hurt = [line for line in lines if line.state == "damaged"]
        sale = self.deed(lambda: memo_ends.settle(
            memo, sold=[memo_ends.Sold(line) for line in by_way["sold"]],
            lost=[memo_ends.Lost(line, "stolen", self.money(amount)) for line in by_way["lost"]],
            repairs=[memo_ends.Repair(line, self.money(amount + 1)) for line in hurt if amount > 2000],
            on=self.today(), tax_percent=tax, by=self.hands[0], at=self.now,
        ))  # fmt: skip
        if sale is not None:
            for row in SaleLine.objects.filter(sale=sale).exclude(kind="repair").select_related("gem__stone"):
                self.sold_at[row.gem.stone_id] = row.gem.stone.rough_cost

    @precondition(lambda self: FinishedGem.objects.exists())
    @rule(pick=picks, days=st.integers(-1, 5), to_buyer=st.booleans(), lift=st.booleans(), sure=st.booleans())
    def holds(self, pick, days, to_buyer, lift, sure):
        if lift and Hold.objects.exists():
            hold = self.one_of(Hold.objects, pick)
            self.deed(
                lambda: holds.lift_hold(hold, reason="let go", sure=sure, by=self.hands[0], at=self.now)
            )
            return
        gem, who = self.one_of(FinishedGem.objects, pick), self.buyer if to_buyer else self.jeweller
        until = self.today() + timedelta(days=days)
        self.deed(lambda: holds.hold_gem(gem, who, until=until, by=self.hands[0], at=self.now))

    @precondition(lambda self: Sale.objects.exists())
    @rule(pick=picks, treated=TREATED, simplified=st.booleans())
    def invoice(self, pick, treated, simplified):
        sale = self.one_of(Sale.objects, pick)
        for line in sale.lines.select_related("gem__stone"):
            self.answer(line.gem, treated, 3)
        self.deed(lambda: sales.issue_invoice(
            sale, terms=Terms(simplified=simplified, sure=True, tax_words="as agreed"), by=self.hands[0], at=self.now
        ))  # fmt: skip
        self.keep_new_papers()

    @precondition(lambda self: Sale.objects.exists())
    @rule(pick=picks, share=cents, whole=st.booleans(), at_once=st.booleans())
    def credit_or_lower(self, pick, share, whole, at_once):
        sale = self.one_of(Sale.objects, pick)
        if at_once and not whole:
            line = sale.lines.first()
            lower = self.money(line.price * share / 500_000 * 100)
            self.deed(lambda: sales.lower_price(
                line, lower, reason="a chip", on=self.today(), refund=sale.paid, credit_note=bool(pick % 2),
                by=self.hands[0], at=self.now,
            ))  # fmt: skip
        give = sales.credit_whole if whole else sales.credit_difference
        self.deed(lambda: give(sale, reason="a slip", by=self.hands[0], at=self.now))
        self.keep_new_papers()

    @invariant()
    def what_is_lent_stays_ours(self):
        laws.check_memos()

    @invariant()
    def invoices_say_what_was_sold(self):
        laws.check_invoices()
