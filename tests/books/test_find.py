"""One box for any code or word."""

import pytest
from django.urls import reverse

from tests.makers import (
    make_contact,
    make_gem,
    make_hand,
    make_lot,
    make_material,
    make_owner,
    make_shop,
    make_stone,
)

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
