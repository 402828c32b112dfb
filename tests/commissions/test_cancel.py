"""A commission cancelled at every stage: hours shown, the fee due, the deposit with a name, the goods at home."""

from datetime import timedelta
from decimal import Decimal

import pytest

from tests.commissions.agreed import LATER, LATER_DAY, make_agreed, with_goods, with_own_stone, with_stone
from tests.makers import DAY, NOON, make_commission, make_gem, make_item_spec, make_owner, make_shop
from workshop.commissions import progress
from workshop.commissions.actions import account, changes
from workshop.commissions.actions.intake import PieceSpec, take_in
from workshop.commissions.models import Charge, Quote, StopAsk
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import JournalEntry
from workshop.handbook.units import parse_weight
from workshop.rough.models import LotLoss
from workshop.stones import actions as stones

D = Decimal
pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    make_shop()
    return make_owner()


def cancel(commission, owner, **said):
    said = {"reason": "moves abroad", "on": LATER_DAY, "by": owner, "at": LATER, **said}
    return changes.cancel_commission(commission, **said)


def fresh(row):
    return type(row).objects.get(pk=row.pk)


def pay_deposit(commission, owner, amount="110"):
    account.pay(commission, amount=D(amount), paid_as="deposit", on=DAY, by=owner, at=NOON)


def test_an_enquiry_is_cancelled_without_money(owner):
    commission = make_commission(by=owner)
    cancel(commission, owner)
    commission = fresh(commission)
    assert (commission.state, commission.closed_on, commission.closed_why) == (
        "cancelled",
        LATER_DAY,
        "moves abroad",
    )
    assert commission.items.get().outcome == "dropped"


@pytest.mark.parametrize("stage", ["selected", "preformed", "first_cut", "second_polished", "off_dop"])
def test_at_every_stage_the_stone_goes_home_as_it_is(owner, stage):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    stones.add_time(
        activity="preform", stones=[stone], start=NOON, end=NOON + timedelta(hours=2), by=owner, at=LATER
    )
    if stage != "selected":
        stones.move_on(stone, stage, by=owner, at=NOON)
    (told,) = changes.reached(commission)
    assert told.seconds == 7200 and stone.code in told.stage and told.goods.codes == [stone.code]
    cancel(commission, owner, fee=D("90"), given_back={1: parse_weight("3.20 ct")})
    stone, item = fresh(stone), fresh(item)
    assert (stone.ending, stone.place, stone.holder, stone.weight_ct) == (
        "unworked", "client", commission.client, D("3.2"),
    )  # fmt: skip
    assert (item.outcome, item.given_back_ct, fresh(commission).balance) == ("dropped", D("3.2"), 90)
    assert progress.goods_here(commission) == []
    line = JournalEntry.objects.get(verb="cancelled")
    assert line.after["reached"] == [f"piece 1: {told.stage}"] and line.after["balance"] == "90.000"


def test_goods_not_drawn_yet_go_home_from_their_lot(owner):
    commission = make_agreed(by=owner)
    item, lot = with_goods(commission, by=owner)
    cancel(commission, owner, given_back={1: parse_weight("3.46 ct")})
    assert (fresh(lot).left_ct, LotLoss.objects.get().cause, fresh(item).given_back_ct) == (
        0,
        "owner",
        D("3.46"),
    )


def test_goods_of_no_piece_go_home_too(owner):
    commission = make_agreed(by=owner)
    spec = PieceSpec(stated_to_be="?", seen_as="a pebble", weight=parse_weight("8 ct"), length_mm=D(9))
    take_in(commission, pieces=[spec], handed_by="Mara Quill", received_at=NOON, by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="Weigh what goes back") as refused:
        cancel(commission, owner)
    assert refused.value.field == "back_0"
    cancel(commission, owner, given_back={0: parse_weight("8 ct")})
    assert progress.goods_here(commission) == []


def test_no_money_is_left_without_a_name(owner):
    commission = make_agreed(by=owner, deposit="110")
    pay_deposit(commission, owner)
    for said in ({}, {"fee": D("60")}, {"fee": D("60"), "refunded": D("40")}):
        with pytest.raises(DeedRefused, match="neither charged nor given back") as refused:
            cancel(commission, owner, **said)
        assert refused.value.field == "refund"
    assert fresh(commission).state == "in_work" and not Charge.objects.exists()


@pytest.mark.parametrize(
    ("fee", "back", "sums"),
    [
        ("110", None, (110, 110, 0, 0)),
        (None, "110", (0, 110, 110, 0)),
        ("60", "50", (60, 110, 50, 0)),
        ("150", None, (150, 110, 0, 40)),
    ],
)
def test_the_deposit_is_kept_given_back_or_both(owner, fee, back, sums):
    commission = make_agreed(by=owner, deposit="110")
    pay_deposit(commission, owner)
    cancel(commission, owner, fee=fee and D(fee), refunded=back and D(back))
    commission = fresh(commission)
    assert (commission.charged, commission.paid, commission.refunded, commission.balance) == sums


@pytest.mark.parametrize(
    ("said", "field", "why"),
    [
        ({"refunded": D("120")}, "refund", r"Only 110\.00"),
        ({"fee": D("-1")}, "fee", "zero or more"),
        ({"fee": D("1.001")}, "fee", "cannot be paid"),
        ({"refunded": D("-1")}, "refund", "zero or more"),
        ({"reason": "  "}, "reason", "Say why"),
        ({"fee": D("110"), "given_back": {1: parse_weight("34.6 ct")}}, "back_1", "cannot weigh"),
        ({"fee": D("110"), "given_back": {}}, "back_1", "Weigh what goes back"),
        ({"on": LATER_DAY + timedelta(days=1)}, "on", "future"),
        ({"on": DAY - timedelta(days=1)}, "on", "before it"),
    ],
)
def test_bad_input_leaves_everything_as_it_was(owner, said, field, why):
    commission = make_agreed(by=owner, deposit="110")
    item, stone = with_stone(commission, by=owner)
    pay_deposit(commission, owner)
    with pytest.raises(DeedRefused, match=why) as refused:
        cancel(commission, owner, **{"given_back": {1: parse_weight("3.46 ct")}, **said})
    assert refused.value.field == field
    assert (fresh(commission).state, fresh(commission).balance) == ("in_work", -110)
    assert fresh(item).is_open and not fresh(stone).ending and not Charge.objects.exists()


def test_open_questions_and_the_open_version_fall_away(owner):
    commission = make_agreed(by=owner)
    item, _ = with_stone(commission, by=owner)
    changes.ask_client(item, why="chip", words="It chipped.", by=owner, at=NOON)
    second = Quote.objects.create(
        commission=commission, version=2, currency="EUR", made_at=NOON, price=D("300"), price_high=D("300")
    )
    Quote.objects.filter(pk=second.pk).update(state="sent", sent_at=NOON, valid_until=LATER_DAY)
    cancel(commission, owner, given_back={1: parse_weight("3.46 ct")})
    assert fresh(second).state == "withdrawn" and not StopAsk.objects.standing().exists()
    assert fresh(commission.quotes.get(version=1)).state == "accepted"


def test_the_shops_own_stone_stays_the_shops(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    _, stone = with_own_stone(commission, by=owner)
    changes.ask_client(commission.items.get(), why="colour", words="Dark.", by=owner, at=NOON)
    cancel(commission, owner, fee=D("40"))
    stone = fresh(stone)
    assert (stone.ownership, stone.ending, stone.waiting_for, stone.place) == ("shop", "", "", "bench")
    assert stone.commission_links.get().until == LATER


def test_what_is_finished_of_the_clients_is_delivered_first(owner):
    commission = make_agreed(by=owner)
    _, stone = with_stone(commission, by=owner)
    make_gem(stone=stone, weight="2.71 ct", by=owner)
    with pytest.raises(DeedRefused, match="deliver it"):
        cancel(commission, owner)
    assert fresh(commission).state == "in_work"


def test_several_stones_of_a_piece_are_weighed_together_to_a_step(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, weight="10 ct", by=owner)
    stones.split_stone(
        stone, [parse_weight("6 ct"), parse_weight("3.5 ct")], kerf_ct=D("0.5"), by=owner, at=NOON
    )
    with pytest.raises(DeedRefused, match="Weigh each stone by itself"):
        cancel(commission, owner, given_back={1: parse_weight("9 ct")})
    cancel(commission, owner, given_back={1: parse_weight("9.5 ct")})
    assert fresh(item).given_back_ct == D("9.5") and progress.goods_here(commission) == []


def test_it_is_cancelled_once_and_nothing_follows(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    cancel(commission, owner, given_back={1: parse_weight("3.46 ct")})
    for deed in (
        lambda: cancel(commission, owner),
        lambda: changes.give_go_ahead(commission, on=DAY, by=owner, at=LATER),
        lambda: changes.ask_client(item, why="chip", words="?", by=owner, at=LATER),
        lambda: changes.put_on_hold(commission, reason="x", by=owner, at=LATER),
        lambda: account.charge(commission, kind="extra", words="x", gross=D(1), on=DAY, by=owner, at=LATER),
        lambda: changes.buy_stone(item, stone, price=D(1), reason="x", on=DAY, by=owner, at=LATER),
    ):
        with pytest.raises(DeedRefused, match="is cancelled"):
            deed()


def test_a_refund_beside_a_fee_that_leaves_a_debt_is_asked_about_once(owner):
    commission = make_agreed(by=owner, deposit="110")
    pay_deposit(commission, owner)
    said = {"fee": D("100"), "refunded": D("50")}
    with pytest.raises(PleaseConfirm, match=r"would then owe 40\.00") as asked:
        cancel(commission, owner, **said)
    assert asked.value.field == "refund" and fresh(commission).state == "in_work"
    cancel(commission, owner, sure=True, **said)
    assert (fresh(commission).state, fresh(commission).balance) == ("cancelled", 40)


def test_why_it_was_cancelled_is_not_told_on_the_clients_account(owner):
    commission = make_agreed(by=owner)
    cancel(commission, owner, fee=D("30"), reason="quarrelled about every facet")
    assert commission.charges.get().words == "work done until it was cancelled"
    assert JournalEntry.objects.get(verb="cancelled").reason == "quarrelled about every facet"
