"""One box for any code or word."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.makers import (
    DAY,
    NOON,
    make_contact,
    make_gem,
    make_hand,
    make_lot,
    make_material,
    make_owner,
    make_shop,
    make_stone,
)
from workshop.sales import actions as sales

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    make_shop()
    owner = make_owner()
    client.force_login(owner)
    return owner


def find(client, words):
    return client.get(reverse("books:find"), {"q": words})


def test_a_code_in_any_case_leads_to_its_page(client, owner):
    gem = make_gem(by=owner)
    for row in (gem, gem.stone, gem.stone.lot, make_contact("Somebody")):
        answer = find(client, f" {row.code.lower()} ")
        assert (answer.status_code, answer.url) == (302, row.get_absolute_url())


def test_a_word_finds_rows_in_every_room(client, owner):
    material = make_material("glimmerite", species="glimmerite", variety="blue")
    lot = make_lot(by=owner, sold_as="rough glimmerite from the ridge", material=material)
    make_stone(lot=lot, by=owner, plan="a glimmerite oval")
    make_contact("Glimmerite Jones")
    found = find(client, "glimmerite").context["found"]
    assert [len(rows) for rows in (found.lots, found.stones, found.people, found.materials)] == [1, 1, 1, 1]
    assert not found.gems and not found.nothing


@pytest.mark.parametrize(
    "words", ["", "   ", "nothing like it", "%", "_", "'; --", "\u202e\U0001f48e", "<script>", "x" * 500]
)
def test_strange_words_find_nothing_and_break_nothing(client, owner, words):
    answer = find(client, words)
    assert answer.status_code == 200
    assert "<script>x" not in answer.content.decode()


def test_a_hand_finds_stones_but_no_sales(client, owner):
    make_stone(by=owner, plan="oval, for a ring")
    client.force_login(make_hand())
    page = find(client, "ring").content.decode()
    assert "Sales" not in page.split("<main")[1]
    assert "S-0001" in page


def test_words_of_a_sale_are_not_found_by_who_sees_no_prices(client, owner):
    """A hand must not even learn, from how an empty page is worded, that a sale answers to the words."""
    asked = [sales.Asked(make_gem(by=owner), Decimal(90))]
    sales.sell(asked, buyer=make_contact("Ana"), sold_on=DAY, by=owner, at=NOON, notes="wedding present")
    assert find(client, "wedding").context["found"].sales
    client.force_login(make_hand())
    assert find(client, "wedding").context["found"].nothing
