"""Sawing a stone into several."""

from datetime import timedelta
from decimal import Decimal

import pytest

from tests.makers import NOON
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.handbook.units import parse_weight
from workshop.stones import actions
from workshop.stones.models import Stone


def url(stone):
    return f"/stones/{stone.code}/split/"


def test_it_works(as_hand, stone):
    sent = {
        "rows": "2",
        "piece_1": "6",
        "piece_2": "3,2",
        "kerf": "0.5",
        "chips": "0.2",
        "reason": "sawn as planned",
    }
    assert as_hand.post(url(stone), sent).status_code == 302
    stone.refresh_from_db()
    assert (stone.ending, stone.gap_ct) == ("split", Decimal("0.1"))
    assert [child.start_ct for child in stone.children.order_by("pk")] == [Decimal("6"), Decimal("3.2")]
    assert dict(stone.losses.values_list("cause", "weight_ct")) == {
        "kerf": Decimal("0.5"), "chips": Decimal("0.2"),
    }  # fmt: skip


def test_the_gap_is_shown_on_the_page_and_the_family_drawn(as_hand, stone):
    actions.split_stone(stone, [parse_weight("6 ct"), parse_weight("3.9 ct")], by=None, at=NOON)
    page = as_hand.get(f"/stones/{stone.code}/").content.decode()
    assert "Unexplained when it was made into several: 0.100\u00a0ct" in page
    assert 'class="pedigree-tree"' in page
    assert "/stones/S-0002/" in page


def test_one_more_row_keeps_what_was_typed_and_does_nothing(as_hand, stone):
    answer = as_hand.post(
        url(stone), {"rows": "2", "piece_1": "6", "piece_2": "3.2", "kerf": "0.5", "show": "row"}
    )
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="piece_3"' in page
    assert 'value="3.2"' in page
    assert Stone.objects.count() == 1
    again = as_hand.post(url(stone), {"rows": "3", "piece_1": "5", "piece_2": "3", "piece_3": "1.7"})
    assert again.status_code == 302
    assert stone.children.count() == 3


def test_the_gap_can_be_looked_at_first(as_hand, stone):
    answer = as_hand.post(
        url(stone), {"rows": "2", "piece_1": "6", "piece_2": "3", "kerf": "0.4", "show": "gap"}
    )
    assert "Unexplained as typed: 0.600\u00a0ct" in answer.content.decode()
    assert Stone.objects.count() == 1


def test_a_large_gap_is_asked_about(as_hand, stone):
    sent = {"rows": "2", "piece_1": "6", "piece_2": "0.32"}
    answer = as_hand.post(url(stone), sent)
    assert answer.status_code == 422
    assert "would stay unexplained" in answer.content.decode()
    assert Stone.objects.count() == 1
    assert as_hand.post(url(stone), {**sent, "sure": "on"}).status_code == 302


def test_a_gap_of_a_twentieth_goes_through_and_a_thousandth_more_is_asked_about(stone):
    with pytest.raises(PleaseConfirm):
        actions.split_stone(stone, [parse_weight("6 ct"), parse_weight("3.499 ct")], by=None, at=NOON)
    actions.split_stone(stone, [parse_weight("6 ct"), parse_weight("3.5 ct")], by=None, at=NOON)
    stone.refresh_from_db()
    assert stone.gap_ct == Decimal("0.5")


@pytest.mark.parametrize(
    "sent",
    [
        {"piece_1": "6", "piece_2": "4.1"},
        {"piece_1": "6", "piece_2": "3.9", "kerf": "0.2"},
        {"piece_1": "10"},
        {},
        {"piece_1": "6", "piece_2": "-1"},
        {"piece_1": "6", "piece_2": "x"},
        {"piece_1": "6", "piece_2": "0"},
        {"piece_1": "6", "piece_2": "3", "kerf": "-0.5"},
    ],
)
def test_what_does_not_add_up_is_refused_whole(as_hand, stone, sent):
    answer = as_hand.post(url(stone), {"rows": "2", **sent})
    assert answer.status_code == 422
    stone.refresh_from_db()
    assert stone.ending == ""
    assert Stone.objects.count() == 1
    assert not stone.losses.exists()


@pytest.mark.parametrize("rows", ["", "-4", "1e9", "99999", "٣", "x"])
def test_the_number_of_rows_is_kept_within_reason(as_hand, stone, rows):
    answer = as_hand.post(url(stone), {"rows": rows, "piece_1": "6", "show": "row"})
    assert answer.status_code in {200, 422}
    assert answer.content.decode().count('name="piece_') <= 40


def test_on_the_dop_it_is_refused(as_hand, stone):
    actions.move_on(stone, "first_cut", by=None, at=NOON)
    assert as_hand.post(url(stone), {"rows": "2", "piece_1": "6", "piece_2": "3.9"}).status_code == 422


def test_sent_twice_it_is_sawn_once(as_hand, stone):
    sent = {"rows": "2", "piece_1": "6", "piece_2": "3.9", "once": "saw"}
    for _ in range(2):
        assert as_hand.post(url(stone), sent).status_code == 302
    assert Stone.objects.count() == 3


def test_a_parent_is_not_cut_again(as_hand, stone):
    actions.split_stone(stone, [parse_weight("6 ct"), parse_weight("3.9 ct")], by=None, at=NOON)
    answer = as_hand.post(url(stone), {"rows": "2", "piece_1": "5", "piece_2": "4.9"})
    assert answer.status_code == 422
    assert "made into several" in answer.content.decode()


class TestWhatWasSpentBefore:
    """The hour at the saw is paid for by what was sawn."""

    @pytest.fixture
    def pieces(self, owner, stone):
        actions.add_time(
            by=owner, at=NOON, start=NOON - timedelta(hours=2), end=NOON - timedelta(hours=1), activity="saw", stones=[stone]
        )  # fmt: skip
        actions.charge_stone(stone, kind="wear", amount=Decimal("1.01"), on=NOON.date(), by=owner, at=NOON)
        return actions.split_stone(
            stone, [parse_weight("6 ct"), parse_weight("3 ct")], by=owner, at=NOON, kerf_ct=Decimal("1")
        )

    def carried(self, *stones):
        for stone in stones:
            stone.refresh_from_db()
        return [stone.other_cost for stone in stones]

    def test_it_goes_on_by_weight_to_the_cent(self, pieces):
        # 45.00 for the hour and 1.01 of wear, two to one.
        assert self.carried(*pieces) == [Decimal("30.67"), Decimal("15.34")]

    def test_a_later_correction_of_the_hour_goes_on_too(self, owner, stone, pieces):
        time = stone.time_shares.get().time
        actions.strike_time(time, by=owner, at=NOON, reason="never sawn")
        assert self.carried(*pieces) == [Decimal("0.67"), Decimal("0.34")]

    def test_down_to_the_pieces_of_pieces(self, owner, pieces):
        below = actions.split_stone(
            pieces[0],
            [parse_weight("3 ct"), parse_weight("2.9 ct")],
            by=owner,
            at=NOON,
            kerf_ct=Decimal("0.1"),
        )
        assert sum(self.carried(*below)) == Decimal("30.67")

    def test_what_is_paid_for_a_piece_alone_comes_on_top(self, owner, pieces):
        actions.charge_stone(
            pieces[1], kind="laboratory", amount=Decimal("20"), on=NOON.date(), by=owner, at=NOON
        )
        assert self.carried(pieces[1]) == [Decimal("35.34")]

    def test_and_no_more_is_taken_back_than_was_booked_on_it(self, owner, pieces):
        with pytest.raises(DeedRefused, match="more than was booked"):
            actions.charge_stone(
                pieces[1], kind="other", amount=Decimal("-5"), on=NOON.date(), by=owner, at=NOON
            )

    def test_a_sold_piece_keeps_what_it_was_sold_with(self, owner, stone, pieces):
        pieces[0].cost_fixed = True
        pieces[0].save()
        with pytest.raises(DeedRefused, match="made into several"):
            actions.charge_stone(stone, kind="wear", amount=Decimal("9"), on=NOON.date(), by=owner, at=NOON)
        actions.strike_time(stone.time_shares.get().time, by=owner, at=NOON, reason="never sawn")
        assert self.carried(*pieces) == [Decimal("30.67"), Decimal("0.34")]

    def test_a_corrected_weight_of_a_piece_shares_it_afresh(self, owner, pieces):
        actions.correct_weight(
            pieces[1].weighings.get(), parse_weight("2 ct"), reason="slip", by=owner, at=NOON
        )
        assert self.carried(*pieces) == [Decimal("34.51"), Decimal("11.50")]

    def test_the_page_says_so_and_adds_up(self, as_owner, stone, pieces):
        page = as_owner.get(f"/stones/{pieces[0].code}/").content.decode()
        assert f"Its part of what {stone.code} took and cost" in page
        assert "30.67" in page
        self.carried(pieces[0])
        lines = as_owner.get(f"/stones/{pieces[0].code}/").context["cost_lines"]
        assert sum(line.amount for line in lines) == pieces[0].cost_to_date

    def test_nothing_is_counted_twice_in_the_list(self, as_owner, stone, pieces):
        totals = as_owner.get("/stones/").context["totals"]
        # A tenth of 777.77, the hour and the wear: each once.
        assert totals["cost"] == Decimal("77.78") + Decimal("46.01")
        assert stone.__class__.objects.get(pk=stone.pk).place == "gone"
