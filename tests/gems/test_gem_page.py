"""One gem's page: how it looks, what is said of it, where it is, and what it cost, for those who see prices."""

from datetime import UTC, datetime, timedelta
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
from workshop.common.say import GAP
from workshop.gems import actions, card_actions
from workshop.stones import actions as stones

D = Decimal
SECRETS = ("765.60", "535.89", "164.89", "229.71", "445.89", "73.36", "800.00")


@pytest.fixture
def dear(owner):
    """A gem with the hours and sums of the worked example, so that no figure of money stands there by chance."""
    lot = make_lot("21.30 ct", by=owner, price_basis="lot", unit_price=D("164.89"))
    stone = make_stone("21.30 ct", lot=lot, by=owner)
    start = datetime(2026, 3, 2, 5, 0, tzinfo=UTC)
    bench, off = start + timedelta(hours=6, minutes=6), start + timedelta(hours=8, minutes=6)
    stones.add_time(by=owner, at=bench, start=start, end=bench, activity="preform", stones=[stone])
    stones.add_time(by=owner, at=off, start=bench, end=off, activity="photograph", stones=[stone])
    stones.charge_stone(stone, kind="wear", amount=D("6.50"), on=DAY, by=owner, at=off)
    gem = make_gem(weight="6.38 ct", stone=stone, by=owner, at=off)
    actions.set_price(gem, D("765.60"), by=owner, at=off)
    actions.move_gem(
        gem, place="laboratory", holder=make_contact("Imagined Laboratory"), since=DAY, declared_value=D(800),
        by=owner, at=off,
    )  # fmt: skip
    gem.refresh_from_db()
    return gem


def page_of(client, gem):
    return client.get(gem.get_absolute_url()).content.decode()


def test_the_account_is_split_and_weighed_against_the_asking_price(client, owner, dear):
    """Sums by hand: 6.10 h and 2.00 h at 45.00 = 274.50 and 90.00; with 164.89 and 6.50 that is 535.89, 84.00/ct;
    765.60 leaves 229.71 = 30.0 %; (765.60 - 171.39) / 8.10 h = 73.36; bench only 445.89, 319.71 = 41.8 %, 97.41."""
    told = client.get(dear.get_absolute_url()).context["account"]
    assert [line.amount for line in told.lines] == [D("164.89"), D("274.50"), D("90.00"), D("6.50"), D(0)]
    figures = told.figures
    assert (figures.cost, figures.per_carat) == (D("535.89"), D("84.00"))
    assert (figures.margin, figures.margin_percent, figures.earned_per_hour) == (
        D("229.71"),
        D("30.0"),
        D("73.36"),
    )
    assert (figures.cost_bench_only, figures.margin_bench_only) == (D("445.89"), D("319.71"))
    assert (figures.margin_percent_bench_only, figures.earned_per_hour_bench_only) == (D("41.8"), D("97.41"))
    page = page_of(client, dear)
    for figure in SECRETS:
        assert figure in page, figure


def test_a_hand_sees_the_gem_and_no_money_at_all(client, dear):
    client.force_login(make_hand())
    page = page_of(client, dear)
    assert f"6.380{GAP}ct" in page and "Imagined Laboratory" in page and "bluish green" in page
    for figure in (*SECRETS, "Asked", "Its account", "margin", "Margin", "Priced"):
        assert figure not in page, figure
    assert reverse("gems:photo", args=[dear.code]) in page
    for deed in ("price", "move", "describe", "rework", "let_go"):
        assert reverse(f"gems:{deed}", args=[dear.code]) not in page
    assert reverse("sales:sell", args=[dear.code]) not in page


def test_a_reader_sees_all_and_is_offered_nothing_to_change(client, dear):
    client.force_login(make_reader())
    page = page_of(client, dear)
    for figure in SECRETS:
        assert figure in page
    for deed in ("price", "move", "describe", "rework", "let_go", "photo"):
        assert reverse(f"gems:{deed}", args=[dear.code]) not in page
    assert reverse("sales:sell", args=[dear.code]) not in page


def test_open_questions_are_named_and_lead_to_a_statement(client, owner):
    gem = make_gem(by=owner)
    shown = client.get(gem.get_absolute_url())
    assert set(shown.context["questions"]) == {"nature", "species", "treatment"}
    page = shown.content.decode()
    for question in shown.context["questions"]:
        assert f"{reverse('stones:statement', args=[gem.stone.code])}?question={question}" in page
    assert reverse("gems:issue_card", args=[gem.code]) not in page


def test_statements_stand_with_their_evidence_and_cards_with_their_state(client, owner):
    gem = make_answered_gem(by=owner)
    page = page_of(client, gem)
    assert "tested here, with readings" in page and "RI 1.624–1.644" in page and "heated" in page
    assert reverse("gems:issue_card", args=[gem.code]) in page
    card = card_actions.issue_card(gem, by=owner, at=NOON, base_url="https://cards.example")
    page = page_of(client, gem)
    assert card.number in page and "stands" in page
    assert reverse("gems:revise_card", args=[card.number]) in page
    assert reverse("gems:issue_card", args=[gem.code]) not in page


def test_a_clients_gem_names_its_owner_and_is_not_offered_for_sale(client, owner):
    contact = make_contact("Clara Client")
    lot = make_lot(by=owner, ownership="client", owner=contact)
    gem = make_gem(stone=make_stone(lot=lot, by=owner), by=owner)
    page = page_of(client, gem)
    assert "Clara Client" in page and "never counts as stock" in page
    assert reverse("sales:sell", args=[gem.code]) not in page
    assert reverse("gems:price", args=[gem.code]) not in page


def test_words_that_look_like_markup_are_shown_as_words(client, owner):
    gem = make_gem(by=owner, colour='<b>"green" & blue</b> 💎 אבן')
    page = page_of(client, gem)
    assert "<b>" not in page and "💎 אבן" in page


def test_codes_are_read_in_any_case(client, owner, dear):
    assert client.get("/gems/g-0001/").status_code == 200


def test_the_page_costs_the_same_for_few_and_many_rows(client, owner, dear):
    def queries():
        with CaptureQueriesContext(connection) as found:
            client.get(dear.get_absolute_url())
        return len(found)

    queries()
    few = queries()
    for number in range(25):
        actions.set_price(dear, D(number), by=owner, at=NOON + timedelta(days=1))
    assert queries() == few
