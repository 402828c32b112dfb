"""The list of gems: filters, order, sums under the columns, paging by key, and what each role sees of it."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_contact,
    make_gem,
    make_hand,
    make_lot,
    make_reader,
    make_stone,
)
from workshop.common import photos
from workshop.gems import actions, card_actions
from workshop.gems.models import FinishedGem
from workshop.materials.models import Material
from workshop.stones import actions as stones

from .test_finish import picture

D = Decimal
LIST = "/gems/"


def make_many(count, owner):
    """Plain rows, quicker than deeds."""
    first = FinishedGem.objects.order_by("pk").first() or make_gem(by=owner)
    lot, draw = first.stone.lot, first.stone.draw
    kind = type(first.stone)
    already = FinishedGem.objects.count()
    rows = kind.objects.bulk_create(
        kind(code=f"S-9{n:03}", lot=lot, draw=draw, stage="finished", drawn_at=NOON, touched_at=NOON,
             start_ct=D(10), weight_ct=D(2), rough_cost=D(7))
        for n in range(already, count)
    )  # fmt: skip
    FinishedGem.objects.bulk_create(
        FinishedGem(code=f"G-9{n:03}", stone=stone, weight_ct=D(1) + D(n % 5) / 4, length_mm=D(7), width_mm=D(6),
                    depth_mm=D(4), shape="oval", colour=f"hue {n % 3}", finished_on=DAY + timedelta(days=n % 9),
                    whole_ct=D(10), price=D(n % 7) if n % 2 else None)
        for n, stone in enumerate(rows, already)
    )  # fmt: skip


def codes(client, **asked):
    return [gem.code for gem in client.get(LIST, asked).context["page"].rows]


@pytest.fixture
def shelf(owner):
    """Five gems, each different in what one may ask of it."""
    elbaite, quartz = (
        Material.objects.get(key="tourmaline-elbaite"),
        Material.objects.filter(species="quartz").first(),
    )

    def gem(weight, material, **said):
        lot = make_lot("30 ct", by=owner, price_basis="lot", unit_price=D("30.00"))
        stone = make_stone("10 ct", lot=lot, by=owner)
        stones.describe_stone(stone, {"material": material}, by=owner, at=NOON)
        stone.refresh_from_db()
        return make_gem(weight=weight, stone=stone, by=owner, **said)

    gem("1.000 ct", elbaite, colour="bluish green, medium", shape="oval")
    second = gem("2.000 ct", quartz, colour="violet, deep", shape="round", length_mm=D(8), width_mm=D(8))
    actions.set_price(second, D(200), by=owner, at=NOON)
    third = gem("3.000 ct", elbaite, colour="green, light", shape="pear", cut="barion")
    actions.set_price(third, D(300), by=owner, at=NOON)
    actions.move_gem(third, place="memo", holder=make_contact("Sorrel"), since=DAY, by=owner, at=NOON)
    lost = gem("4.000 ct", quartz, colour="violet, pale", shape="heart")
    actions.let_go(lost, gone_as="lost", on=DAY, note="in the post", by=owner, at=NOON)
    lot = make_lot(by=owner, ownership="client", owner=make_contact("Clara Client"))
    make_gem(weight="5.000 ct", stone=make_stone(lot=lot, by=owner), by=owner, colour="red")


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, [5, 4, 3, 2, 1]),
        ({"words": "g-0002"}, [2]),
        ({"words": "barion green"}, [3]),
        ({"words": "tourmaline"}, [3, 1]),
        ({"words": "nothing like it"}, []),
        ({"material": "tourmaline-elbaite"}, [3, 1]),
        ({"shape": "heart"}, [4]),
        ({"colour": "green bluish"}, [1]),
        ({"colour": "VIOLET"}, [4, 2]),
        ({"heavier": "2 ct", "lighter": "0.6 g"}, [3, 2]),
        ({"heavier": "2,001"}, [5, 4, 3]),
        ({"state": "stock"}, [3, 2, 1]),
        ({"state": "here"}, [5, 3, 2, 1]),
        ({"state": "away"}, [3]),
        ({"state": "gone"}, [4]),
        ({"state": "lost"}, [4]),
        ({"whose": "client"}, [5]),
        ({"dearer": "200.01"}, [3]),
        ({"cheaper": "200"}, [2]),
        ({"no_photo": "on", "state": "stock"}, [3, 2, 1]),
        ({"no_card": "on", "state": "stock"}, [3, 2, 1]),
    ],
)
def test_the_list_answers(client, shelf, asked, found):
    assert codes(client, **asked) == [f"G-{number:04}" for number in found]


@pytest.mark.parametrize(
    ("sort", "first"),
    [("weight", 1), ("-weight", 5), ("code", 1), ("price", 2), ("colour", 1), ("shape", 4), ("nonsense", 5)],
)
def test_it_is_sorted(client, shelf, sort, first):
    assert codes(client, sort=sort)[0] == f"G-{first:04}"


def test_without_a_card_or_a_photograph(client, owner):
    gem = make_answered_gem(by=owner)
    assert codes(client, no_card="on") == codes(client, no_photo="on") == ["G-0001"]
    kept = photos.keep(photos.prepare(picture()), by=owner, at=NOON)
    shown = stones.add_stone_photo(gem.stone, kept, by=owner, at=NOON)
    actions.describe_gem(gem, {"public_photo": shown}, by=owner, at=NOON)
    card_actions.issue_card(gem, by=owner, at=NOON, base_url="https://cards.example")
    assert codes(client, no_card="on") == codes(client, no_photo="on") == []
    assert f"/photos/{kept.sha256}/thumb" in client.get(LIST).content.decode()


def test_sums_stand_under_the_columns(client, shelf):
    """Weights 1 + 2 + 3 + 4 + 5 ct; of what is here 200 + 300 asked, and 3 × 10.00 of rough (a third of 30.00 each)."""
    totals = client.get(LIST).context["totals"]
    assert (totals["count"], totals["here"], totals["weight"]) == (5, 4, D("15.000"))
    assert (totals["price"], totals["cost"]) == (D("500.00"), D("30.00"))
    assert client.get(LIST, {"colour": "violet"}).context["totals"]["weight"] == D("6.000")


def test_a_gem_back_for_work_is_weighed_among_the_stones(client, owner):
    gem = make_gem(weight="2 ct", by=owner)
    actions.send_back(gem, to="second_cut", reason="a scratch", by=owner, at=NOON)
    later = make_gem(weight="1.9 ct", stone=gem.stone, by=owner, at=NOON + timedelta(hours=1))
    totals = client.get(LIST).context["totals"]
    assert (totals["count"], totals["weight"], totals["here"]) == (2, D("1.900"), 1)
    assert codes(client, state="recut") == [gem.code]
    assert codes(client, state="gone") == []
    assert codes(client, state="here") == [later.code]


@pytest.mark.parametrize(
    "asked",
    [
        {"heavier": "heavy"}, {"heavier": "-1"}, {"dearer": "1.23456"}, {"dearer": "-1"}, {"cheaper": "9" * 30},
        {"shape": "pentagram"}, {"state": "moon"}, {"material": "none-such"}, {"words": "a\x00b"}, {"words": "w" * 81},
    ],
)  # fmt: skip
def test_a_question_nobody_can_ask_is_told(client, shelf, asked):
    answer = client.get(LIST, asked)
    assert answer.status_code == 422
    assert next(iter(asked)) in answer.context["filter"].form.errors


@pytest.mark.parametrize("place", ["x", "e30", "bnVsbA", "eyJhIjoxfQ=="])
def test_a_place_in_the_list_nobody_gave_is_ignored(client, shelf, place):
    assert len(codes(client, after=place)) == len(codes(client, before=place)) == 5


@pytest.mark.parametrize("sort", ["code", "-price", "price", "weight", "-finished", "colour"])
def test_paging_leads_through_all_rows_once_and_back(client, owner, sort):
    make_many(120, owner)
    seen, url, pages = [], f"{LIST}?sort={sort}", 0
    while url:
        page = client.get(url).context["page"]
        seen += [gem.code for gem in page.rows]
        url, pages = page.next_url and LIST + page.next_url, pages + 1
    assert (len(seen), len(set(seen)), pages) == (120, 120, 3)
    back = client.get(LIST + page.previous_url).context["page"]
    assert [gem.code for gem in back.rows] == seen[50:100]


def test_the_list_costs_the_same_for_3_and_300_rows(client, owner):
    def queries():
        with CaptureQueriesContext(connection) as found:
            client.get(LIST)
        return len(found)

    make_many(3, owner)
    queries()
    few = queries()
    make_many(300, owner)
    assert queries() == few


def test_a_hand_sees_no_price_and_cannot_find_one_out(client, shelf):
    client.force_login(make_hand())
    page = client.get(LIST).content.decode()
    for hidden in ("200.00", "300.00", "Asked", "Cost", "Price from", "sort=price"):
        assert hidden not in page
    # Neither by asking for a price nor by the order.
    assert codes(client, dearer="250") == codes(client)
    assert codes(client, sort="price") == codes(client)
    assert "price" not in client.get(LIST).context["totals"]


def test_a_reader_sees_prices(client, shelf):
    client.force_login(make_reader())
    page = client.get(LIST).content.decode()
    assert "300.00" in page and "500.00" in page


def test_strangers_are_sent_to_the_door(client, db):
    assert reverse("common:sign_in") in client.get(LIST).url


def test_an_empty_shelf_says_how_to_begin(client, owner):
    page = client.get(LIST).content.decode()
    assert "No gem yet" in page and reverse("stones:stones") in page
    assert "No gem yet" not in client.get(LIST, {"words": "x"}).content.decode()
