"""The list of stones."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.makers import NOON, make_contact, make_hand, make_lot, make_material, make_stone
from workshop.handbook.units import parse_weight
from workshop.stones import actions


def codes(answer):
    return [stone.code for stone in answer.context["page"].rows]


@pytest.fixture
def three(lot):
    return [make_stone(weight, lot=lot) for weight in ("10 ct", "30 ct", "20 ct")]


def test_it_works(as_owner, three):
    answer = as_owner.get("/stones/")
    assert answer.status_code == 200
    assert codes(answer) == ["S-0003", "S-0002", "S-0001"]


def test_nothing_yet_teaches(as_owner, shop):
    assert "No stone yet" in as_owner.get("/stones/").content.decode()


def test_totals_add_up_and_leave_the_parent_of_pieces_out(as_owner, owner, three):
    actions.split_stone(three[1], [parse_weight("16 ct"), parse_weight("13 ct")], by=None, at=NOON)
    actions.add_time(
        by=owner, at=NOON, start=NOON - timedelta(hours=1), end=NOON, activity="preform", stones=[three[0]]
    )
    actions.charge_stone(three[0], kind="wear", amount=Decimal("6.50"), on=NOON.date(), by=None, at=NOON)
    totals = as_owner.get("/stones/").context["totals"]
    assert totals["weight"] == Decimal("59")
    assert totals["bench"] == 3600
    # 60 of 100 ct were drawn; each of the three takes its share of 777.77 rounded to the cent.
    assert totals["rough"] == Decimal("77.78") + Decimal("233.33") + Decimal("155.55")
    assert totals["cost"] == totals["rough"] + Decimal("45") + Decimal("6.50")


@pytest.mark.parametrize(
    ("sort", "expected"),
    [
        ("weight", ["S-0001", "S-0003", "S-0002"]),
        ("-weight", ["S-0002", "S-0003", "S-0001"]),
        ("code", ["S-0001", "S-0002", "S-0003"]),
        ("rough", ["S-0001", "S-0003", "S-0002"]),
        ("nonsense", ["S-0003", "S-0002", "S-0001"]),
    ],
)
def test_it_sorts(as_owner, three, sort, expected):
    assert codes(as_owner.get("/stones/", {"sort": sort})) == expected


def test_a_hand_cannot_order_by_cost(as_hand, three):
    """An order by cost would tell costs."""
    actions.end_stone(three[2], "put_by", reason="", by=None, at=NOON + timedelta(hours=1))
    assert codes(as_hand.get("/stones/?sort=rough")) == codes(as_hand.get("/stones/"))


class TestFilters:
    @pytest.fixture(autouse=True)
    def bench(self, three, hand):
        self.first, self.second, self.third = three
        client = make_contact("Ada Invented", is_client=True)
        material = make_material()
        self.clients = make_stone(
            "3 ct",
            lot=make_lot("3 ct", ownership="client", owner=client, came="left"),
            plan="close the window",
            material=material,
        )
        actions.move_on(self.first, "preformed", by=hand, at=NOON)
        actions.wait_for(self.second, "glue", by=None, at=NOON)
        actions.end_stone(self.third, "lost", reason="pinged", by=None, at=NOON + timedelta(days=3))

    @pytest.mark.parametrize(
        ("asked", "expected"),
        [
            ({"q": "s-0002"}, {"S-0002"}),
            ({"q": "window"}, {"S-0004"}),
            ({"q": "tourmaline"}, {"S-0004"}),
            ({"q": "' OR 1=1 --"}, set()),
            ({"material": "tourmaline-test"}, {"S-0004"}),
            ({"lot": "l-0001"}, {"S-0001", "S-0002", "S-0003"}),
            ({"state": "open"}, {"S-0001", "S-0002", "S-0004"}),
            ({"state": "lost"}, {"S-0003"}),
            ({"state": "finished"}, set()),
            ({"stage": "preformed"}, {"S-0001"}),
            ({"waiting": "any"}, {"S-0002"}),
            ({"waiting": "client"}, set()),
            ({"whose": "client"}, {"S-0004"}),
            ({"hand": "hal"}, {"S-0001"}),
            ({"since": "2026-03-03"}, {"S-0003"}),
            ({"until": "2026-03-02"}, {"S-0001", "S-0002", "S-0004"}),
            ({"state": "open", "whose": "shop"}, {"S-0001", "S-0002"}),
        ],
    )
    def test_each_question(self, as_owner, asked, expected):
        assert set(codes(as_owner.get("/stones/", asked))) == expected

    @pytest.mark.parametrize(
        "asked",
        [{"material": "moonbeam"}, {"state": "gone"}, {"since": "yesterday"}, {"hand": "nobody"}, {"q": "\x00"}, {"until": "9999-12-31"},
         {"after": "rubbish"}, {"q": "x" * 500}],
    )  # fmt: skip
    def test_questions_that_mean_nothing_break_nothing(self, as_owner, asked):
        assert as_owner.get("/stones/", asked).status_code == 200

    def test_time_on_a_stone_counts_as_hands(self, as_owner, hand):
        other = make_hand("hugo")
        actions.add_time(
            by=other,
            at=NOON,
            start=NOON - timedelta(hours=1),
            end=NOON,
            activity="preform",
            stones=[self.second],
        )
        assert codes(as_owner.get("/stones/?hand=hugo")) == ["S-0002"]


def test_pages_follow_by_key_and_miss_nothing(as_owner, stone, many):
    many(stone, 54)
    first = as_owner.get("/stones/?sort=code")
    second = as_owner.get("/stones/" + first.context["page"].next_url)
    assert [*codes(first), *codes(second)] == [f"S-{number:04d}" for number in range(1, 56)]


def test_its_queries_do_not_grow(as_owner, many, shop, django_assert_max_num_queries):
    """Session, person, shop, totals, rows, materials and hands of the filter, running clock."""
    stone = make_stone("1 ct", lot=make_lot("400 ct", material=make_material()))
    as_owner.get("/stones/")  # the first page of a visit also writes the session
    counts = []
    for more in (2, 297):
        many(stone, more)
        with django_assert_max_num_queries(15) as asked:
            as_owner.get("/stones/")
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert timezone.now() > NOON
