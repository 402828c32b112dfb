"""One stone's page."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest

from tests.makers import DAY, NOON, make_contact, make_lot, make_material, make_stone
from workshop.handbook.units import parse_weight
from workshop.stones import actions


@pytest.fixture
def worked(owner, stone):
    actions.move_on(stone, "preformed", by=owner, at=NOON)
    actions.record_weight(stone, parse_weight("7.5 ct"), by=owner, at=NOON, cause="trim")
    actions.add_time(
        by=owner, at=NOON, start=NOON - timedelta(minutes=85), end=NOON, activity="preform", stones=[stone]
    )
    actions.add_time(
        by=owner, at=NOON, start=NOON - timedelta(minutes=100), end=NOON - timedelta(minutes=85), activity="plan", stones=[stone]
    )  # fmt: skip
    actions.charge_stone(stone, kind="wear", amount=Decimal("6.50"), on=DAY, by=owner, at=NOON)
    actions.add_note(stone, "needle near the culet", by=owner, at=NOON)
    stone.refresh_from_db()
    return stone


def page_of(client, stone):
    return client.get(f"/stones/{stone.code}/").content.decode()


def test_it_works(as_owner, worked):
    page = page_of(as_owner, worked)
    for told in ("preformed", "7.500\u00a0ct", "needle near the culet", "Trimmed skin", "record-chart"):
        assert told in page


def test_every_chart_has_its_figures_beneath(as_owner, worked):
    figures = re.findall(r'<figure class="figure">.*?</figure>', page_of(as_owner, worked), re.S)
    assert len(figures) == 2
    assert all("<svg" in figure and "<table" in figure for figure in figures)


def test_the_cost_lines_add_up_to_the_cost_to_date(as_owner, worked):
    answer = as_owner.get(f"/stones/{worked.code}/")
    lines = answer.context["cost_lines"]
    # A tenth of 777.77; 1 h 25 and 0 h 15 at 45.00; wear.
    assert [line.amount for line in lines] == [
        Decimal("77.78"), Decimal("63.75"), Decimal("11.25"), Decimal("6.50"), Decimal(0),
    ]  # fmt: skip
    assert sum(line.amount for line in lines) == worked.cost_to_date == Decimal("159.28")
    assert "159.28" in answer.content.decode()


def test_weight_law_on_the_page(as_owner, worked):
    context = as_owner.get(f"/stones/{worked.code}/").context
    assert worked.weight_ct + context["gone_ct"] == worked.start_ct


def test_statements_of_itself_its_parent_and_its_lot_with_the_best_marked(as_owner, owner, shop):
    said = {"said_by": "Imaginary Stones", "said_on": DAY}
    lot = make_lot(
        "100 ct",
        by=owner,
        statements=[{"question": "treatment", "treated": "untreated", "evidence": 2, **said}],
    )
    parent = make_stone("20 ct", lot=lot)
    actions.state_about_stone(
        parent,
        {"question": "origin", "words": "valley of the river", "evidence": 1, **said},
        by=owner,
        at=NOON,
    )
    child, _ = actions.split_stone(parent, [parse_weight("10 ct"), parse_weight("9.8 ct")], by=owner, at=NOON)
    actions.state_about_stone(
        child,
        {"question": "treatment", "treated": "treated", "treatments": ["heat"], "evidence": 5, **said},
        by=owner,
        at=NOON,
    )
    rows = as_owner.get(f"/stones/{child.code}/").context["statements"]
    assert [(row.statement.question, row.about, row.holds) for row in rows] == [
        ("origin", parent.code, True), ("treatment", "", True), ("treatment", lot.code, False),
    ]  # fmt: skip


def test_a_client_and_where_it_is_are_told(as_owner, shop):
    client = make_contact("Ada Invented", is_client=True)
    stone = make_stone("3 ct", lot=make_lot("3 ct", ownership="client", owner=client, came="left"))
    page = page_of(as_owner, stone)
    assert "a client&#x27;s" in page
    assert "Ada Invented" in page


def test_what_people_type_is_never_markup(as_owner, owner, stone):
    nasty = '<script>alert("x")</script> \U0001f48e \u202egnidael'
    actions.add_note(stone, nasty, kind="stop", by=owner, at=NOON)
    actions.describe_stone(stone, {"plan": nasty}, by=owner, at=NOON)
    page = page_of(as_owner, stone)
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_the_species_on_better_evidence_is_not_unseated(owner, stone):
    spinel = make_material("spinel-test", species="spinel")
    ruby = make_material("ruby-test", species="corundum")
    said = {"question": "species", "said_on": DAY}
    actions.state_about_stone(
        stone, {**said, "material": spinel, "evidence": 5, "said_by": "a laboratory"}, by=owner, at=NOON
    )
    actions.state_about_stone(
        stone, {**said, "material": ruby, "evidence": 1, "said_by": "the seller"}, by=owner, at=NOON
    )
    stone.refresh_from_db()
    assert stone.material == spinel


def test_a_finished_stone_has_no_bench_deeds(as_owner, stone):
    stone.stage = "finished"
    stone.save()
    page = page_of(as_owner, stone)
    assert f"/stones/{stone.code}/weigh/" not in page


def test_no_such_stone(as_owner, shop):
    for code in ("S-9999", "nonsense", "%00"):
        assert as_owner.get(f"/stones/{code}/").status_code == 404


def test_its_queries_do_not_grow_with_its_history(as_owner, owner, stone, django_assert_max_num_queries):
    page_of(as_owner, stone)
    counts = []
    for first, more in ((0, 3), (3, 30)):
        for number in range(first, first + more):
            moment = NOON + timedelta(minutes=number)
            actions.record_weight(stone, parse_weight(f"{9.9 - number / 100:.2f} ct"), by=owner, at=moment)
            actions.add_note(stone, "again", by=owner, at=moment)
            actions.add_time(
                by=owner, at=moment + timedelta(minutes=1), start=moment, end=moment + timedelta(seconds=50), activity="preform", stones=[stone]
            )  # fmt: skip
        with django_assert_max_num_queries(35) as asked:
            page_of(as_owner, stone)
        counts.append(len(asked))
    assert counts[0] == counts[1]
