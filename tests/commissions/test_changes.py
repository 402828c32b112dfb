"""After the yes: go-ahead, design changed, pieces that end otherwise, goods that change hands, the price of the work.

Weights are compared to the last place of the books (0.001 ct), the scale's step is the shop's own (0.01 ct).
"""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from tests.commissions.agreed import (
    LATER,
    LATER_DAY,
    make_agreed,
    somebody_else,
    with_goods,
    with_own_stone,
    with_stone,
)
from tests.makers import DAY, NOON, make_clients_stone, make_gem, make_item_spec, make_owner, make_shop
from workshop.commissions import progress
from workshop.commissions.actions import account, changes, pieces
from workshop.commissions.asks import rates_to_facts
from workshop.commissions.models import Charge, Commission, Quote, QuoteLine, StopAsk
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import JournalEntry
from workshop.handbook.tariffs import Rate, RateKind
from workshop.handbook.units import parse_weight
from workshop.people.models import Ownership
from workshop.rough.models import LotLoss
from workshop.stones import actions as stones
from workshop.stones.models import Stone

D = Decimal
pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    make_shop()
    return make_owner()


def told(owner, at=NOON, on=DAY, **said):
    return {"by": owner, "at": at, "on": on, **said}


def fresh(row):
    return type(row).objects.get(pk=row.pk)


# --- Go-ahead ------------------------------------------------------------------------------------------------------


def test_the_go_ahead_books_the_deposit(owner):
    commission = make_agreed(by=owner, state="accepted", deposit="110")
    changes.give_go_ahead(commission, deposit=D("110"), **told(owner, LATER, LATER_DAY))
    commission = fresh(commission)
    assert (commission.state, commission.go_ahead_at, commission.paid) == ("in_work", LATER, 110)
    assert (commission.balance, commission.payments.get().paid_as) == (-110, "deposit")
    with pytest.raises(DeedRefused, match="has its go-ahead since 3 Mar 2026"):
        changes.give_go_ahead(commission, **told(owner, LATER, LATER_DAY))


@pytest.mark.parametrize("deposit", [None, D("50")])
def test_without_the_deposit_a_reason_is_asked_for(owner, deposit):
    commission = make_agreed(by=owner, state="accepted", deposit="110")
    with pytest.raises(DeedRefused, match="of the deposit agreed has not come") as refused:
        changes.give_go_ahead(commission, deposit=deposit, **told(owner))
    assert refused.value.field == "reason"
    assert (fresh(commission).state, fresh(commission).paid) == ("accepted", 0)
    changes.give_go_ahead(commission, deposit=deposit, reason="an old client", **told(owner))
    assert (fresh(commission).state, fresh(commission).paid) == ("in_work", deposit or 0)


def test_a_deposit_paid_before_counts(owner):
    commission = make_agreed(by=owner, state="accepted", deposit="110")
    account.pay(commission, amount=D("110"), paid_as="deposit", **told(owner))
    changes.give_go_ahead(commission, **told(owner))
    assert fresh(commission).state == "in_work"


def test_a_deposit_above_the_price_is_asked_about(owner):
    commission = make_agreed(by=owner, state="accepted", deposit="110")
    with pytest.raises(PleaseConfirm, match=r"Only 260\.00"):
        changes.give_go_ahead(commission, deposit=D("1100"), **told(owner))
    assert fresh(commission).state == "accepted"


@pytest.mark.parametrize(
    ("state", "why"),
    [("enquiry", "accepted no quote"), ("quoted", "accepted no quote"), ("in_work", "go-ahead since")],
)
def test_no_go_ahead_out_of_order(owner, state, why):
    with pytest.raises(DeedRefused, match=why):
        changes.give_go_ahead(make_agreed(by=owner, state=state), **told(owner))


# --- Design --------------------------------------------------------------------------------------------------------


def test_a_design_changed_mid_cut_keeps_old_and_new_and_the_hours(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    stones.add_time(
        activity="cut_pavilion", stones=[stone], start=NOON, end=NOON + timedelta(hours=1), by=owner, at=LATER
    )
    changes.change_design(
        item, wanted="an old-mine cushion", shape="cushion", why="she saw her grandmother's ring", from_client=True,
        by=owner, at=LATER,
    )  # fmt: skip
    item, stone = fresh(item), fresh(stone)
    assert (item.wanted, item.shape) == ("an old-mine cushion", "cushion")
    assert (stone.plan, stone.shape, stone.bench_seconds) == (
        f"{commission.code}, piece 1: an old-mine cushion", "cushion", 3600,
    )  # fmt: skip
    assert fresh(commission).heard_at == LATER
    line = JournalEntry.objects.get(about=commission.code, verb="changed piece")
    assert (line.before["wanted"], line.after["wanted"]) == ("recut the spinel", "an old-mine cushion")
    assert JournalEntry.objects.filter(about=stone.code, verb="changed plan").exists()


def test_a_design_change_needs_a_reason_and_a_change(owner):
    item = make_agreed(by=owner).items.get()
    with pytest.raises(DeedRefused, match="Say why the design"):
        changes.change_design(item, wanted="other", why=" ", by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="Nothing of the design"):
        changes.change_design(item, wanted="recut the spinel", why="?", by=owner, at=NOON)


# --- Returned unworked ---------------------------------------------------------------------------------------------


def test_a_piece_goes_back_unworked_from_its_lot(owner):
    commission = make_agreed(by=owner)
    item, lot = with_goods(commission, by=owner)
    changes.return_unworked(
        item, given_back=parse_weight("3.46 ct"), fee=D("25"), note="a fissure under the table", **told(owner)
    )
    item, lot, commission = fresh(item), fresh(lot), fresh(commission)
    assert (item.outcome, item.outcome_on, item.given_back_ct) == ("unworked", DAY, D("3.46"))
    loss = LotLoss.objects.get()
    assert (loss.cause, loss.weight_ct, lot.left_ct) == ("owner", D("3.46"), 0)
    assert (commission.charged, Charge.objects.get().kind) == (25, "inspection")
    assert progress.goods_here(commission) == []


def test_a_piece_goes_back_unworked_from_the_bench_without_a_fee(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    # One step of the scale less than it came in with: the scale's own doubt.
    changes.return_unworked(item, given_back=parse_weight("3.45 ct"), **told(owner))
    stone = fresh(stone)
    assert (stone.ending, stone.place, stone.holder) == ("unworked", "client", commission.client)
    assert (stone.weight_ct, fresh(item).given_back_ct, fresh(commission).charged) == (
        D("3.45"),
        D("3.45"),
        0,
    )


@pytest.mark.parametrize("weight", ["3.44 ct", "3.48 ct", "34.6 ct", "0.692 g"])
def test_weight_back_is_weight_in(owner, weight):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    if weight == "0.692 g":
        changes.return_unworked(item, given_back=parse_weight(weight), **told(owner))
        assert fresh(item).given_back_ct == D("3.46")
        return
    with pytest.raises(DeedRefused, match="more than a step of the scale") as refused:
        changes.return_unworked(item, given_back=parse_weight(weight), fee=D("25"), **told(owner))
    assert refused.value.field == "given_back"
    assert fresh(item).is_open and not fresh(stone).ending and not Charge.objects.exists()


def test_what_was_worked_on_is_not_returned_unworked(owner):
    item, stone = with_stone(make_agreed(by=owner), by=owner)
    stones.record_weight(stone, parse_weight("3.10 ct"), by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="was worked on"):
        changes.return_unworked(item, given_back=parse_weight("3.46 ct"), **told(owner))


def test_nothing_to_return(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    with pytest.raises(DeedRefused, match="Nothing of the client's lies here"):
        changes.return_unworked(commission.items.get(), given_back=parse_weight("1 ct"), **told(owner))
    item, stone = with_stone(make_agreed(by=owner), by=owner)
    make_gem(stone=stone, weight="2.71 ct", by=owner)
    with pytest.raises(DeedRefused, match="is finished; it is delivered"):
        changes.return_unworked(item, given_back=parse_weight("3.46 ct"), **told(owner))


@pytest.mark.parametrize(("on", "why"), [(date(2026, 3, 3), "future"), (date(2026, 3, 1), "before it")])
def test_days_out_of_order(owner, on, why):
    item, stone = with_stone(make_agreed(by=owner), by=owner)
    back = parse_weight("3.46 ct")
    deeds = [
        lambda: changes.return_unworked(item, given_back=back, by=owner, at=NOON, on=on),
        lambda: changes.tell_broken(item, stone=stone, reason="x", by=owner, at=NOON, on=on),
        lambda: changes.tell_lost(item, stone=stone, last_seen="x", by=owner, at=NOON, on=on),
        lambda: changes.drop_item(item, reason="x", given_back=back, by=owner, at=NOON, on=on),
        lambda: changes.buy_stone(item, stone, price=D(1), reason="x", by=owner, at=NOON, on=on),
        lambda: changes.cancel_commission(item.commission, reason="x", by=owner, at=NOON, on=on),
    ]
    for deed in deeds:
        with pytest.raises(DeedRefused, match=why):
            deed()
    assert fresh(item).is_open and not fresh(stone).ending and fresh(stone).ownership == Ownership.CLIENT


# --- Broken, lost, found, replaced ---------------------------------------------------------------------------------


def test_a_stone_breaks_and_its_fragments_go_home(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    changes.tell_broken(
        item, stone=stone, reason="cleaved at the girdle", fragments=parse_weight("2.9 ct"), handed_back=True,
        price=D("60"), **told(owner),
    )  # fmt: skip
    item, stone = fresh(item), fresh(stone)
    assert (stone.ending, stone.weight_ct, stone.place, stone.ownership) == (
        "broken",
        D("2.9"),
        "client",
        "client",
    )
    assert (item.outcome, item.given_back_ct) == ("broken", D("2.9"))
    assert stone.losses.get().weight_ct == D("0.56")
    assert fresh(commission).balance == 60


def test_fragments_may_stay_here_and_go_home_later(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    changes.tell_broken(item, stone=stone, reason="cleaved", fragments=parse_weight("2.9 ct"), **told(owner))
    assert (fresh(stone).place, fresh(stone).ownership, fresh(item).given_back_ct) == ("safe", "client", None)
    with pytest.raises(DeedRefused, match=r"By the last weighings it is 2\.900 ct"):
        changes.give_back_rest(item, weighed=parse_weight("2 ct"), reason="", **told(owner))
    changes.give_back_rest(item, weighed=parse_weight("2.9 ct"), reason="collected", **told(owner))
    assert (fresh(stone).place, fresh(item).given_back_ct) == ("client", D("2.9"))
    with pytest.raises(DeedRefused, match="lies here for piece 1 any more"):
        changes.give_back_rest(item, weighed=parse_weight("2.9 ct"), reason="", **told(owner))


def test_what_breaks_is_weighed_and_stands_for_the_piece(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    other = make_clients_stone(commission.client, by=owner)
    with pytest.raises(DeedRefused, match="Weigh the fragments"):
        changes.tell_broken(item, stone=stone, reason="x", handed_back=True, **told(owner))
    with pytest.raises(DeedRefused, match="cannot weigh more"):
        changes.tell_broken(item, stone=stone, reason="x", fragments=parse_weight("4 ct"), **told(owner))
    with pytest.raises(DeedRefused, match="does not stand for piece 1"):
        changes.tell_broken(item, stone=other, reason="x", **told(owner))
    with pytest.raises(DeedRefused, match="Say what happened"):
        changes.tell_broken(item, stone=stone, reason=" ", **told(owner))
    with pytest.raises(DeedRefused, match="zero or more"):
        changes.tell_broken(item, stone=stone, reason="x", price=D(-1), **told(owner))
    assert fresh(item).is_open and not fresh(stone).ending


def test_a_stone_of_the_shops_own_breaks_at_the_shops_cost(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    item, stone = with_own_stone(commission, by=owner)
    with pytest.raises(DeedRefused, match="not a client's"):
        changes.tell_broken(
            item, stone=stone, reason="x", fragments=parse_weight("2 ct"), handed_back=True, **told(owner)
        )
    changes.tell_broken(item, stone=stone, reason="burnt", goes_on=True, **told(owner))
    assert fresh(item).is_open and fresh(stone).ending == "broken" and fresh(commission).balance == 0


def test_what_was_told_at_the_bench_ends_its_piece_afterwards(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    stones.break_stone(stone, reason="cleaved", fragments=parse_weight("2.9 ct"), by=owner, at=NOON)
    with pytest.raises(DeedRefused, match=r"weighed at 2\.900 ct when it broke"):
        changes.tell_broken(
            item, stone=stone, reason="cleaved", fragments=parse_weight("2 ct"), **told(owner)
        )
    changes.tell_broken(
        item, stone=stone, reason="cleaved", fragments=parse_weight("2.9 ct"), handed_back=True, price=D("60"),
        **told(owner),
    )  # fmt: skip
    assert (fresh(item).outcome, fresh(item).given_back_ct, fresh(stone).place) == (
        "broken",
        D("2.9"),
        "client",
    )
    other, lost = with_stone(make_agreed(by=owner), by=owner)
    stones.end_stone(lost, "lost", reason="the drain", by=owner, at=NOON)
    changes.tell_lost(other, stone=lost, last_seen="the drain", **told(owner))
    assert fresh(other).outcome == "lost" and fresh(lost).losses.count() == 0


def test_lost_and_found_again(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    with pytest.raises(DeedRefused, match="last seen"):
        changes.tell_lost(item, stone=stone, last_seen=" ", **told(owner))
    changes.tell_lost(item, stone=stone, last_seen="pinged off the lap", **told(owner))
    assert (fresh(item).outcome, fresh(stone).ending, fresh(stone).place) == ("lost", "lost", "gone")
    with pytest.raises(DeedRefused, match="Say where it was"):
        changes.tell_found(item, stone=stone, where="", by=owner, at=LATER)
    changes.tell_found(item, stone=stone, where="under the splash pan", by=owner, at=LATER)
    assert (fresh(item).outcome, fresh(item).outcome_on, fresh(stone).ending) == ("open", None, "")
    told_of = JournalEntry.objects.filter(about=commission.code).values_list("verb", flat=True)
    assert {"lost", "found"} <= set(told_of)
    with pytest.raises(DeedRefused, match="is not lost"):
        changes.tell_found(item, stone=stone, where="here", by=owner, at=LATER)


def test_a_finished_stone_is_lost_and_found(owner):
    item, stone = with_stone(make_agreed(by=owner), by=owner)
    gem = make_gem(stone=stone, weight="2.71 ct", by=owner)
    changes.tell_lost(item, stone=stone, last_seen="in the post", **told(owner))
    assert (fresh(gem).gone_as, fresh(item).outcome) == ("lost", "lost")
    changes.tell_found(item, stone=stone, where="at the depot", by=owner, at=LATER)
    assert (fresh(gem).gone_as, fresh(item).outcome) == ("", "open")


def test_another_stone_takes_the_place_of_a_lost_one_of_a_pair(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="match", wanted="a pair of garnets")])
    item, first = with_own_stone(commission, by=owner)
    second = stones.draw_stone(first.lot, parse_weight("9 ct"), by=owner, at=NOON)
    pieces.link_stone(item, second, by=owner, at=NOON)
    changes.tell_lost(item, stone=second, last_seen="the drain", **told(owner))
    # Its fellow still stands, so the piece is open.
    assert fresh(item).is_open
    third = stones.draw_stone(first.lot, parse_weight("9.5 ct"), by=owner, at=LATER)
    with pytest.raises(DeedRefused, match="nothing has to take its place"):
        changes.replace_stone(item, first, third, why="better colour", by=owner, at=LATER)
    link = changes.replace_stone(item, second, third, why="cut to the old record", by=owner, at=LATER)
    assert link.why == f"in place of {second.code}: cut to the old record"
    assert [stone.code for stone in progress.stones_of(item)] == [first.code, third.code]
    with pytest.raises(DeedRefused, match="does not stand for"):
        changes.replace_stone(item, second, third, why="again", by=owner, at=LATER)


def test_a_piece_that_broke_is_open_again_with_its_replacement(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    item, stone = with_own_stone(commission, by=owner)
    changes.tell_broken(item, stone=stone, reason="cleaved", **told(owner))
    new = stones.draw_stone(stone.lot, parse_weight("8 ct"), by=owner, at=LATER)
    changes.replace_stone(item, stone, new, why="same lot", by=owner, at=LATER)
    assert fresh(item).is_open and fresh(item).outcome_on is None


# --- Not done ------------------------------------------------------------------------------------------------------


def test_a_dropped_piece_frees_the_shops_own_stone(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    item, stone = with_own_stone(commission, by=owner)
    changes.ask_client(item, why="colour", words="Darker than thought. Go on?", by=owner, at=NOON)
    changes.drop_item(item, reason="she likes another", **told(owner))
    assert (fresh(item).outcome, fresh(stone).waiting_for, fresh(stone).ending) == ("dropped", "", "")
    assert progress.stones_of(item) == [] and not StopAsk.objects.standing().exists()
    other = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    pieces.link_stone(other.items.get(), stone, by=owner, at=LATER)


def test_a_half_worked_piece_goes_back_as_it_is(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    stones.move_on(stone, "first_cut", by=owner, at=NOON)
    with pytest.raises(DeedRefused, match=f"Weigh what goes back: {stone.code}"):
        changes.drop_item(item, reason="too slow", **told(owner))
    with pytest.raises(DeedRefused, match="cannot weigh"):
        changes.drop_item(item, reason="too slow", given_back=parse_weight("3.9 ct"), **told(owner))
    changes.drop_item(item, reason="too slow", given_back=parse_weight("3.02 ct"), fee=D("80"), **told(owner))
    stone = fresh(stone)
    assert (stone.ending, stone.weight_ct, stone.place) == ("unworked", D("3.02"), "client")
    assert (fresh(item).outcome, fresh(item).given_back_ct, fresh(commission).balance) == (
        "dropped",
        D("3.02"),
        80,
    )


def test_what_is_finished_is_delivered(owner):
    item, stone = with_stone(make_agreed(by=owner), by=owner)
    make_gem(stone=stone, weight="2.71 ct", by=owner)
    with pytest.raises(DeedRefused, match="deliver it"):
        changes.drop_item(item, reason="x", given_back=parse_weight("2.71 ct"), **told(owner))


def test_an_ended_piece_is_left_alone(owner):
    item, stone = with_stone(make_agreed(by=owner), by=owner)
    changes.tell_broken(item, stone=stone, reason="cleaved", **told(owner))
    back = parse_weight("3.46 ct")
    for deed in (
        lambda: changes.return_unworked(item, given_back=back, **told(owner)),
        lambda: changes.drop_item(item, reason="x", given_back=back, **told(owner)),
        lambda: changes.tell_lost(item, stone=stone, last_seen="x", **told(owner)),
        lambda: changes.ask_client(item, why="chip", words="?", by=owner, at=NOON),
        lambda: changes.buy_stone(item, stone, price=D(1), reason="x", **told(owner)),
        lambda: changes.change_design(item, wanted="other", why="x", by=owner, at=NOON),
    ):
        with pytest.raises(DeedRefused, match="broken in work"):
            deed()


# --- Goods that change hands ---------------------------------------------------------------------------------------


def test_the_shop_buys_the_clients_stone(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    changes.buy_stone(
        item, stone, price=D("150"), reason="she wants the money", **told(owner, LATER, LATER_DAY)
    )
    stone, item, commission = fresh(stone), fresh(item), fresh(commission)
    assert (stone.ownership, stone.owner, stone.other_cost) == ("shop", None, 150)
    assert (item.outcome, item.outcome_on) == ("bought", LATER_DAY)
    assert (commission.charged, commission.balance) == (-150, -150)
    assert commission.charges.get().on == LATER_DAY
    # The client reads the account; how it came to the sale is the cutter's own note.
    assert commission.charges.get().words == "stone of piece 1 bought from you"
    with pytest.raises(DeedRefused, match="bought by the shop"):
        changes.buy_stone(item, stone, price=D("150"), reason="again", **told(owner))


def test_a_finished_gem_is_bought_with_its_stone(owner):
    item, stone = with_stone(make_agreed(by=owner), by=owner)
    gem = make_gem(stone=stone, weight="2.71 ct", by=owner)
    changes.buy_stone(item, stone, price=D("500"), reason="she wants the money", **told(owner))
    assert (fresh(gem).ownership, fresh(stone).ownership, fresh(item).outcome) == ("shop", "shop", "bought")


def test_only_the_clients_own_is_bought(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    foreign = make_clients_stone(somebody_else(), by=owner)
    with pytest.raises(DeedRefused, match="was not made for piece 1"):
        changes.buy_stone(item, foreign, price=D(1), reason="x", **told(owner))
    with pytest.raises(DeedRefused, match="zero or more"):
        changes.buy_stone(item, stone, price=D(-1), reason="x", **told(owner))
    with pytest.raises(DeedRefused, match="cannot be paid"):
        changes.buy_stone(item, stone, price=D("1.001"), reason="x", **told(owner))
    with pytest.raises(DeedRefused, match="Say how it changed hands"):
        changes.buy_stone(item, stone, price=D(1), reason=" ", **told(owner))
    own_item, own = with_own_stone(
        make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")]), by=owner
    )
    with pytest.raises(DeedRefused, match="not a client's"):
        changes.buy_stone(own_item, own, price=D(1), reason="x", **told(owner))
    assert fresh(stone).ownership == "client" and not Charge.objects.exists()


def test_a_price_in_another_currency_needs_its_cost_here(owner):
    commission = make_agreed(by=owner, currency="USD")
    item, stone = with_stone(commission, by=owner)
    with pytest.raises(DeedRefused, match="say what it comes to in EUR") as refused:
        changes.buy_stone(item, stone, price=D("150"), reason="money", **told(owner))
    assert refused.value.field == "own_cost" and fresh(stone).ownership == "client"
    changes.buy_stone(item, stone, price=D("150"), own_cost=D("139.50"), reason="money", **told(owner))
    assert (fresh(stone).other_cost, fresh(commission).charged) == (D("139.50"), -150)


def off_cut(owner, off_cuts):
    commission = make_agreed(
        by=owner, items=[make_item_spec(work="cut_client", wanted="an oval", off_cuts=off_cuts)]
    )
    item, stone = with_stone(commission, weight="10 ct", by=owner)
    big, small = stones.split_stone(
        stone, [parse_weight("7 ct"), parse_weight("2.5 ct")], kerf_ct=D("0.5"), by=owner, at=NOON
    )
    return commission, item, big, small


def test_an_off_cut_is_kept_as_part_of_the_payment(owner):
    commission, item, big, small = off_cut(owner, "payment")
    with pytest.raises(DeedRefused, match="say at what value"):
        changes.keep_off_cut(item, small, value=D(0), **told(owner))
    with pytest.raises(DeedRefused, match="is the piece itself"):
        changes.keep_off_cut(item, big, value=D("40"), **told(owner))
    changes.keep_off_cut(item, small, value=D("40"), **told(owner))
    small, commission = fresh(small), fresh(commission)
    assert (small.ownership, small.other_cost, fresh(big).ownership) == ("shop", 40, "client")
    row = commission.charges.get()
    assert (row.kind, row.gross, commission.balance, fresh(item).outcome) == ("off_cut", -40, -40, "open")


def test_an_off_cut_stays_for_nothing_only_where_that_was_agreed(owner):
    commission, item, _, small = off_cut(owner, "shop")
    changes.keep_off_cut(item, small, value=D(0), **told(owner))
    assert fresh(small).ownership == "shop" and fresh(commission).charged == 0
    _, other, _, theirs = off_cut(owner, "back")
    with pytest.raises(DeedRefused, match="go back to the client"):
        changes.keep_off_cut(other, theirs, value=D("40"), **told(owner))
    assert fresh(theirs).ownership == "client"


# --- The price of the work -----------------------------------------------------------------------------------------


def finished(owner, weight="2.71 ct", **said):
    commission = make_agreed(by=owner, **said)
    item, stone = with_stone(commission, by=owner)
    make_gem(stone=stone, weight=weight, by=owner)
    return commission, item


def test_a_firm_price_is_charged_as_it_stands(owner):
    commission, item = finished(
        owner, prices=("220", "220", "220"), quoted={"firm": True, "tax_percent": D(19)}
    )
    row = changes.charge_work(item, **told(owner))
    # 220.00 hold 19 %: 220 × 19 / 119 = 35.126…, half up 35.13.
    assert (row.kind, row.gross, row.tax, row.item) == ("work", 220, D("35.13"), item)
    assert fresh(commission).balance == 220
    with pytest.raises(DeedRefused, match="on the account already"):
        changes.charge_work(item, **told(owner))
    account.take_back_charge(row, reason="wrong day", by=owner, at=NOON)
    changes.charge_work(item, **told(owner))
    assert fresh(commission).balance == 220


def test_tax_comes_on_top_where_the_quote_says_so(owner):
    quoted = {"firm": True, "tax_percent": D(19), "tax_included": False}
    row = changes.charge_work(finished(owner, prices=("220", "220", "220"), quoted=quoted)[1], **told(owner))
    assert (row.net, row.tax, row.gross) == (220, D("41.80"), D("261.80"))


def test_another_sum_needs_a_reason(owner):
    _, item = finished(owner, prices=("220", "220", "220"), quoted={"firm": True})
    with pytest.raises(DeedRefused, match=r"comes to 220\.00") as refused:
        changes.charge_work(item, amount=D("200"), **told(owner))
    assert refused.value.field == "reason"
    row = changes.charge_work(item, amount=D("200"), reason="a week late", **told(owner))
    assert (row.gross, row.words) == (200, "recut the spinel: a week late")


def test_the_work_is_not_charged_before_it_is_done(owner):
    item, _ = with_stone(make_agreed(by=owner), by=owner)
    with pytest.raises(DeedRefused, match="is not finished"):
        changes.charge_work(item, **told(owner))
    commission, done = finished(owner)
    commission.quotes.update(state="superseded")
    with pytest.raises(DeedRefused, match="No accepted version"):
        changes.charge_work(done, **told(owner))


def by_the_hour(commission, seconds=3600):
    """The accepted version as an hourly tariff priced it: 80.00 an hour, one to three hours."""
    rates = rates_to_facts([Rate(RateKind.HOUR, amount=D(80))])
    Quote.objects.filter(commission=commission).update(rates=rates)
    QuoteLine.objects.filter(quote__commission=commission).update(price_low=80, price=160, price_high=240)


def test_what_goes_by_the_hour_says_its_hours_and_misses_those_nobody_clocked(owner):
    commission, item = finished(owner)
    by_the_hour(commission)
    told_now = changes.price_of_work(item)
    assert (told_now.amount, told_now.unclocked) == (80, True)
    Stone.objects.filter(commission_links__item=item).update(bench_seconds=5400)
    told_now = changes.price_of_work(item)
    assert (told_now.amount, told_now.unclocked, told_now.other_count) == (120, False, None)
    row = changes.charge_work(item, **told(owner))
    assert row.words == (
        "recut the spinel, 1\u00a0h\u00a030, within the 80.00\u00a0EUR to 240.00\u00a0EUR of version 1"
    )


def test_a_second_gem_no_version_names_is_pointed_at(owner):
    commission, item = finished(owner)
    _, second = with_stone(commission, by=owner, weight="1 ct")
    make_gem(stone=second, weight="0.6 ct", by=owner)
    assert changes.price_of_work(item).other_count == 2
    QuoteLine.objects.filter(item=item).update(gems=2)
    assert changes.price_of_work(item).other_count is None


def test_the_shops_own_stone_is_charged_by_its_sale(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    item, stone = with_own_stone(commission, by=owner)
    make_gem(stone=stone, by=owner)
    with pytest.raises(DeedRefused, match="its sale puts the sum"):
        changes.charge_work(item, **told(owner))


# --- A silent client -----------------------------------------------------------------------------------------------


def test_a_silent_client_is_laid_aside_and_taken_up(owner):
    commission = make_agreed(by=owner)
    Commission.objects.filter(pk=commission.pk).update(queue_place=2)
    _, stone = with_stone(commission, by=owner)
    with pytest.raises(DeedRefused, match="how long you will keep it"):
        changes.put_on_hold(commission, reason="", by=owner, at=NOON)
    changes.put_on_hold(commission, reason="no word for five weeks; kept until June", by=owner, at=LATER)
    assert (fresh(stone).waiting_for, fresh(commission).queue_place) == ("client", None)
    with pytest.raises(DeedRefused, match="left to lay aside"):
        changes.put_on_hold(commission, reason="again", by=owner, at=LATER)
    changes.take_off_hold(commission, word="was in hospital; go on", by=owner, at=LATER)
    assert fresh(stone).waiting_for == "" and fresh(commission).heard_at == LATER
    with pytest.raises(DeedRefused, match="what the client said"):
        changes.take_off_hold(commission, word=" ", by=owner, at=LATER)


def test_an_open_question_keeps_its_stone_waiting(owner):
    commission = make_agreed(by=owner)
    item, stone = with_stone(commission, by=owner)
    changes.ask_client(item, why="chip", words="It chipped.", by=owner, at=NOON)
    changes.take_off_hold(commission, word="will look tonight", by=owner, at=LATER)
    assert fresh(stone).waiting_for == "client"


def test_days_of_silence_are_counted_from_the_question(owner):
    commission = make_agreed(by=owner)
    item, _ = with_stone(commission, by=owner)
    changes.ask_client(item, why="chip", words="It chipped.", by=owner, at=NOON)
    assert progress.days_silent(fresh(commission), date(2026, 4, 6)) == 35
