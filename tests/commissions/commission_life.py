"""A commission as hypothesis lives it: any deed in any order, and the laws looked at after each from the bare rows.

A refusal must leave nothing behind: every row of the commission, its stones, gems, lots and the journal stays as it was.
"""

from collections import Counter
from datetime import timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from tests import makers
from tests.commissions.agreed import with_goods
from tests.commissions.quoted import an_ask, make_tariff
from tests.laws import laws
from workshop.commissions.actions import account, answers, changes, delivery, pieces, quotes
from workshop.commissions.actions.goods import goods_of
from workshop.commissions.models import (
    Charge,
    Commission,
    CommissionItem,
    CommissionPayment,
    ItemStone,
    Quote,
    StopAsk,
)
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry, Shop
from workshop.gems import actions as gems
from workshop.gems.models import FinishedGem
from workshop.handbook.errors import HandbookError
from workshop.handbook.units import Weight, parse_weight
from workshop.papers.models import Paper
from workshop.people.models import Ownership, Place
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import Stone, Wait

D = Decimal
REFUSED = (DeedRefused, ValidationError, HandbookError)
KEPT = (
    Commission, CommissionItem, Charge, CommissionPayment, ItemStone, Quote, StopAsk, Stone, RoughLot, FinishedGem,
    Paper, JournalEntry,
)  # fmt: skip

#: How often each deed went through in all lives of a run; the test holds it to be no idle life.
DONE: Counter[str] = Counter()

picks = st.integers(0, 1000)
cents = st.integers(-300, 30_000).map(lambda n: D(n) / 100)
#: Mostly the weight itself, now and then a step or far away from it.
nearly = st.sampled_from([D(0), D(0), D(0), D("0.01"), D("-0.01"), D("0.05"), D("-0.5"), D(3)])
KINDS = ["work", "extra", "post", "inspection", "credit", "credit", "bought", "taken_back", "stone"]


def carats(ct):
    return Weight(ct=ct, entered=ct, unit="ct")


class CommissionLife(RuleBasedStateMachine):
    """One commission of three pieces. Each life runs inside a savepoint that is rolled back at its end."""

    def __init__(self):
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        self.now = makers.NOON
        self.held = False
        self.done, self.refused = [], 0

    def teardown(self):
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    @property
    def commission(self):
        return Commission.objects.get()

    @property
    def today(self):
        return Shop.the().day_of(self.now)

    def told(self):
        return {"by": self.owner, "at": self.now, "on": self.today}

    def item(self, pick):
        rows = list(self.commission.items.all())
        return rows[pick % len(rows)]

    def stone(self, item, pick, **which):
        linked = ItemStone.objects.filter(item=item).values("stone")
        rows = list(Stone.objects.filter(pk__in=linked) | Stone.objects.filter(parent__in=linked))
        return sorted(rows, key=lambda one: one.pk)[pick % len(rows)] if rows else None

    def aimed(self, pick, aim, **which):
        """A stone of the commission: one the deed may well fit, or any at all. With its piece."""
        linked = ItemStone.objects.values("stone")
        rows = Stone.objects.filter(pk__in=linked) | Stone.objects.filter(parent__in=linked)
        fitting = rows.filter(**which) if aim else rows
        found = list((fitting if fitting.exists() else rows).order_by("pk"))
        stone = found[pick % len(found)]
        link = ItemStone.objects.filter(stone__in=[stone.pk, stone.parent_id]).order_by("pk").last()
        return link.item, stone

    def snapshot(self):
        return [list(model.objects.order_by("pk").values_list()) for model in KEPT]

    def deed(self, name, act):
        """Do it; a refusal has a sentence and leaves no trace, a deed leaves a line in the journal."""
        before, lines = self.snapshot(), JournalEntry.objects.count()
        try:
            with transaction.atomic():
                act()
        except REFUSED as refusal:
            self.refused += 1
            refused = str(refusal)
        else:
            self.done.append(name)
            DONE[name] += 1
            assert JournalEntry.objects.count() > lines, name
            return
        assert refused.strip(), name
        assert self.snapshot() == before, name

    @initialize(
        agreed=st.sampled_from([True, True, True, False]),
        refundable=st.booleans(),
        firm=st.booleans(),
        off_cuts=st.sampled_from(["back", "shop", "payment"]),
    )
    def open(self, agreed, refundable, firm, off_cuts):
        makers.make_shop(zone="Europe/Lisbon")
        self.owner = makers.make_owner(f"oona{id(self)}")
        specs = [
            makers.make_item_spec(off_cuts=off_cuts, floor_ct=D("2")),
            makers.make_item_spec(work="recut", wanted="recut the spinel"),
            makers.make_item_spec(work="cut_own", wanted="a garnet"),
        ]
        commission = makers.make_commission(by=self.owner, items=specs)
        first, _, third = commission.items.all()
        pieces.link_stone(
            first,
            makers.make_clients_stone(commission.client, weight="10 ct", by=self.owner),
            by=self.owner,
            at=self.now,
        )
        with_goods(commission, number=2, by=self.owner)
        self.lot = makers.make_lot(weight="80 ct", by=self.owner)
        own = stones.draw_stone(self.lot, parse_weight("9 ct"), by=self.owner, at=self.now)
        pieces.link_stone(third, own, by=self.owner, at=self.now)
        self.tariff = make_tariff(deposit_refundable=refundable)
        self.draft(commission, firm=firm)
        if agreed:
            self.send()
            self.answer_a_version(0, 1)
            self.go_ahead(None, "an old client", False)

    def draft(self, commission, **said):
        quote = quotes.draft_quote(commission, tariff=self.tariff, by=self.owner, at=self.now, **said)
        for item in commission.items.filter(outcome="open"):
            quotes.set_line(quote, item, an_ask(), by=self.owner, at=self.now)

    @rule(hours=st.integers(1, 40))
    def time_passes(self, hours):
        self.now += timedelta(hours=hours)

    # The quote

    @rule(firm=st.booleans())
    def write_a_version(self, firm):
        self.deed("draft", lambda: self.draft(self.commission, firm=firm))

    @precondition(lambda self: Quote.objects.filter(state="draft").exists())
    @rule()
    def send(self):
        quote = Quote.objects.get(state="draft")
        self.deed("send", lambda: answers.send_quote(
            quote, by=self.owner, at=self.now, base_url="https://cards.example",
        ))  # fmt: skip

    @rule(pick=picks, yes=st.integers(0, 4))
    def answer_a_version(self, pick, yes):
        rows = list(Quote.objects.all())
        quote = rows[pick % len(rows)]
        said = {"name": "Mara Quill", "answered_from": "client's page", "by": None, "at": self.now}
        if yes:
            self.deed("accept", lambda: answers.accept_quote(quote, wording="I accept.", **said))
        else:
            self.deed("decline", lambda: answers.decline_quote(quote, **said))

    @rule(
        deposit=st.one_of(st.none(), cents), reason=st.sampled_from(["", "an old client"]), sure=st.booleans()
    )
    def go_ahead(self, deposit, reason, sure):
        self.deed("go ahead", lambda: changes.give_go_ahead(
            self.commission, deposit=deposit, reason=reason, sure=sure, **self.told(),
        ))  # fmt: skip

    # Money

    @rule(
        kind=st.sampled_from(KINDS),
        amount=cents,
        tax=st.sampled_from([0, 7, 19]),
        on_top=st.booleans(),
        pick=picks,
    )
    def charge(self, kind, amount, tax, on_top, pick):
        side = "net" if on_top else "gross"
        amount = -amount if kind in {"credit", "bought"} else amount
        self.deed("charge", lambda: account.charge(
            self.commission, kind=kind, words="something", tax_percent=D(tax), item=self.item(pick),
            **{side: amount}, **self.told(),
        ))  # fmt: skip

    @precondition(lambda self: Charge.objects.exists())
    @rule(pick=picks)
    def take_back(self, pick):
        rows = list(Charge.objects.order_by("pk"))
        self.deed("take back", lambda: account.take_back_charge(
            rows[pick % len(rows)], reason="wrong", by=self.owner, at=self.now
        ))  # fmt: skip

    @rule(amount=cents, sure=st.booleans(), days=st.integers(-3, 1))
    def pay(self, amount, sure, days):
        told = {**self.told(), "on": self.today + timedelta(days=days)}
        self.deed("pay", lambda: account.pay(self.commission, amount=amount, sure=sure, **told))

    @rule(amount=cents, sure=st.booleans())
    def refund(self, amount, sure):
        self.deed("refund", lambda: account.refund(self.commission, amount=amount, sure=sure, **self.told()))

    @rule(pick=picks)
    def charge_work(self, pick):
        self.deed("charge work", lambda: changes.charge_work(self.item(pick), **self.told()))

    # Stop and ask

    @rule(
        pick=picks,
        why=st.sampled_from(["floor", "chip", "second", "cost"]),
        low=st.sampled_from([None, D(2), D("1.5"), D(10)]),
    )
    def ask(self, pick, why, low):
        self.deed("ask", lambda: changes.ask_client(
            self.item(pick), why=why, words="Go on?", weight_low_ct=low, weight_high_ct=D(9), by=self.owner, at=self.now,
        ))  # fmt: skip

    @precondition(lambda self: StopAsk.objects.exists())
    @rule(pick=picks, which=st.integers(0, 4), withdraw=st.booleans())
    def answer(self, pick, which, withdraw):
        rows = list(StopAsk.objects.order_by("pk"))
        ask = rows[pick % len(rows)]
        if withdraw:
            self.deed(
                "withdraw ask",
                lambda: changes.withdraw_ask(ask, reason="not needed", by=self.owner, at=self.now),
            )
            return
        choice = ask.options[which] if which < len(ask.options) else "as you like"
        self.deed("answer", lambda: changes.answer_ask(
            ask, answer=choice, name="Mara Quill", answered_from="client's page", by=None, at=self.now
        ))  # fmt: skip

    @rule(hold=st.booleans())
    def silence(self, hold):
        if hold:
            self.held = True
            self.deed(
                "hold",
                lambda: changes.put_on_hold(self.commission, reason="silent", by=self.owner, at=self.now),
            )
        else:
            self.deed(
                "heard",
                lambda: changes.take_off_hold(self.commission, word="go on", by=self.owner, at=self.now),
            )

    # At the bench

    @rule(pick=picks, which=picks, stage=st.sampled_from(["preformed", "first_cut", "off_dop"]))
    def move_on(self, pick, which, stage):
        if (stone := self.stone(self.item(pick), which)) is not None:
            self.deed("move on", lambda: stones.move_on(stone, stage, by=self.owner, at=self.now))

    @rule(pick=picks, which=picks, part=st.integers(50, 100))
    def weigh(self, pick, which, part):
        if (stone := self.stone(self.item(pick), which)) is not None:
            ct = (stone.weight_ct * part / 100).quantize(D("0.001"))
            self.deed(
                "weigh",
                lambda: stones.record_weight(stone, carats(ct), by=self.owner, at=self.now, sure=True),
            )

    @rule(pick=picks, which=picks)
    def split(self, pick, which):
        stone = self.stone(self.item(pick), which)
        if stone is not None and not stone.waiting_for and stone.weight_ct > 1:
            two = [carats((stone.weight_ct * part).quantize(D("0.001"))) for part in (D("0.6"), D("0.3"))]
            self.deed("split", lambda: stones.split_stone(stone, two, by=self.owner, at=self.now, sure=True))

    @rule(pick=picks)
    def finish(self, pick):
        _, stone = self.aimed(pick, True, ending="")
        if stone.is_open and stone.stage != "off_dop":
            self.deed("off the dop", lambda: stones.move_on(stone, "off_dop", by=self.owner, at=self.now))
        stone.refresh_from_db()
        if stone.stage == "off_dop" and not stone.ending:
            measured = gems.Measured(
                weight=carats(stone.weight_ct), length_mm=D("8.6"), width_mm=D("7.15"), depth_mm=D("5.02"),
                shape="oval", colour="pink",
            )  # fmt: skip
            self.deed(
                "finish", lambda: gems.finish_gem(stone, measured, by=self.owner, at=self.now, sure=True)
            )

    @rule(pick=picks)
    def draw(self, pick):
        lot = RoughLot.objects.filter(ownership="client", left_ct__gt=0).order_by("pk").first()
        if lot is not None:
            item = self.commission.items.get(number=2)
            self.deed(
                "draw",
                lambda: pieces.draw_for_item(item, lot, carats(lot.left_ct), by=self.owner, at=self.now),
            )

    # Pieces that end

    @rule(pick=picks, off=nearly, fee=st.one_of(st.none(), cents))
    def unworked(self, pick, off, fee):
        item = self.item(pick)
        back = max(goods_of(item).began_ct + off, D("0.001"))
        self.deed(
            "unworked", lambda: changes.return_unworked(item, given_back=carats(back), fee=fee, **self.told())
        )

    @rule(pick=picks, aim=st.booleans(), part=st.one_of(st.none(), st.integers(10, 110)), back=st.booleans(), goes_on=st.booleans(), price=st.one_of(st.none(), cents))  # fmt: skip
    def breaks(self, pick, aim, part, back, goes_on, price):
        item, stone = self.aimed(pick, aim, ending="")
        left = None if part is None else carats((stone.weight_ct * part / 100).quantize(D("0.001")))
        self.deed("broken", lambda: changes.tell_broken(
            item, stone=stone, reason="cleaved", fragments=left, handed_back=back, goes_on=goes_on, price=price,
            **self.told(),
        ))  # fmt: skip

    @rule(pick=picks, aim=st.booleans(), goes_on=st.booleans())
    def lose(self, pick, aim, goes_on):
        item, stone = self.aimed(pick, aim, ending="")
        self.deed("lost", lambda: changes.tell_lost(
            item, stone=stone, last_seen="the drain", goes_on=goes_on, **self.told()
        ))  # fmt: skip

    @precondition(lambda self: "lost" in self.done)
    @rule(pick=picks, aim=st.booleans())
    def find(self, pick, aim):
        item, stone = self.aimed(pick, aim, ending="lost")
        self.deed(
            "found", lambda: changes.tell_found(item, stone=stone, where="here", by=self.owner, at=self.now)
        )

    @rule(pick=picks, off=nearly, fee=st.one_of(st.none(), cents))
    def drop(self, pick, off, fee):
        item = self.item(pick)
        goods = goods_of(item)
        back = carats(max(goods.now_ct + off, D("0.001"))) if goods else None
        self.deed(
            "drop",
            lambda: changes.drop_item(item, reason="not wanted", given_back=back, fee=fee, **self.told()),
        )

    @precondition(lambda self: "broken" in self.done)
    @rule(pick=picks, aim=st.booleans(), off=nearly)
    def give_back_rest(self, pick, aim, off):
        item, _ = self.aimed(pick, aim, ending="broken", ownership="client")
        back = carats(max(goods_of(item).now_ct + off, D("0.001")))
        self.deed(
            "give back", lambda: changes.give_back_rest(item, weighed=back, reason="by post", **self.told())
        )

    @rule(pick=picks, aim=st.booleans(), price=cents, keep=st.booleans())
    def change_hands(self, pick, aim, price, keep):
        item, stone = self.aimed(pick, aim, ownership="client", parent__isnull=not keep)
        if keep:
            self.deed("off-cut", lambda: changes.keep_off_cut(item, stone, value=price, **self.told()))
        else:
            self.deed(
                "buy", lambda: changes.buy_stone(item, stone, price=price, reason="agreed", **self.told())
            )

    @rule(pick=picks, aim=st.booleans(), lost=st.booleans())
    def replace(self, pick, aim, lost):
        item, stone = self.aimed(pick, aim, ending="lost" if lost else "broken")
        if self.lot.stones.count() < 6:
            new = stones.draw_stone(self.lot, parse_weight("9 ct"), by=self.owner, at=self.now)
            self.deed(
                "replace",
                lambda: changes.replace_stone(item, stone, new, why="alike", by=self.owner, at=self.now),
            )

    @rule(pick=picks)
    def deliver(self, pick):
        self.deed("deliver", lambda: delivery.deliver(
            self.commission, items=[self.item(pick)], how="in person", sure=True, base_url="https://cards.example",
            **self.told(),
        ))  # fmt: skip

    @rule(reason=st.sampled_from(["", "written off"]))
    def close(self, reason):
        self.deed("close", lambda: delivery.close_commission(self.commission, reason=reason, **self.told()))

    @precondition(lambda self: len(self.done) > 12)
    @rule(fee=st.one_of(st.none(), cents), settle=st.booleans(), off=nearly)
    def cancel(self, fee, settle, off):
        commission = self.commission
        back = {
            item.number: carats(goods.now_ct + off)
            for item in commission.items.all()
            if (goods := goods_of(item)) and goods.now_ct + off > 0
        }
        due = fee if fee and fee > 0 else D(0)
        left = -(commission.balance + due)
        self.deed("cancel", lambda: changes.cancel_commission(
            commission, reason="moves abroad", fee=fee, refunded=left if settle and left > 0 else None,
            given_back=back, **self.told(),
        ))  # fmt: skip

    # The laws

    @invariant()
    def the_account_adds_up_from_the_rows(self):
        commission = Commission.objects.first()
        if commission is None:
            return
        charged = sum((row.gross for row in Charge.objects.all()), D(0))
        amounts = [row.amount for row in CommissionPayment.objects.all()]
        paid = sum((amount for amount in amounts if amount > 0), D(0))
        refunded = -sum((amount for amount in amounts if amount < 0), D(0))
        assert (commission.charged, commission.paid, commission.refunded) == (charged, paid, refunded)
        assert commission.balance == charged - paid + refunded
        assert refunded <= paid
        for row in Charge.objects.filter(takes_back__isnull=False).select_related("takes_back"):
            assert (row.net, row.tax, row.gross) == (
                -row.takes_back.net,
                -row.takes_back.tax,
                -row.takes_back.gross,
            )

    @invariant()
    def a_clients_goods_stay_the_clients(self):
        commission = Commission.objects.first()
        if commission is None:
            return
        theirs = RoughLot.objects.filter(ownership=Ownership.CLIENT)
        changed = {
            line.about for line in JournalEntry.objects.filter(verb="changed hands")
        }  # fmt: skip
        for stone in Stone.objects.filter(lot__in=theirs):
            gem = stone.gems.order_by("-pk").first()
            bought = stone.code in changed or (gem is not None and gem.code in changed)
            above = stone.parent
            bought = bought or (above is not None and above.ownership == Ownership.SHOP)
            assert (stone.ownership == Ownership.SHOP) == bought, stone
            if not bought:
                assert stone.owner_id == commission.client_id, stone
                assert stone.place in {Place.BENCH, Place.SAFE, Place.CLIENT, Place.GONE}, stone
                assert gem is None or gem.ownership == Ownership.CLIENT, stone
                assert gem is None or gem.gone_as in {"", "delivered", "lost"}, stone
            if stone.place == Place.CLIENT:
                assert stone.holder_id == commission.client_id, stone
        for stone in Stone.objects.exclude(lot__in=theirs):
            assert stone.ownership == Ownership.SHOP and stone.place != Place.CLIENT, stone

    @invariant()
    def weights_add_up(self):
        if Commission.objects.exists():
            laws.check_weights()

    @invariant()
    def stones_wait_only_for_an_open_question(self):
        if self.held:
            return
        asked = StopAsk.objects.standing().values("item")
        for stone in Stone.objects.filter(waiting_for=Wait.CLIENT, ending=""):
            links = ItemStone.objects.filter(until__isnull=True, item__in=asked)
            assert links.filter(stone=stone).exists() or links.filter(stone=stone.parent).exists(), stone

    @invariant()
    def what_ended_is_at_rest(self):
        for item in CommissionItem.objects.select_related("commission"):
            standing = item.questions.standing().count()
            assert standing <= 1
            assert item.is_open or not standing, item
        commission = Commission.objects.first()
        if commission is None or not commission.is_closed:
            return
        assert not StopAsk.objects.standing().exists()
        assert not any(item.is_open for item in commission.items.all())
        if commission.state == "cancelled":
            assert not Quote.objects.filter(state="sent").exists()
