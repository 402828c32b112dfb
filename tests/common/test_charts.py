"""Charts of records: true to their figures, lawful for a strict page, and readable at 360 pixels."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.common import charts
from workshop.common.charts import Node
from workshop.handbook.errors import OutOfRange

D = Decimal
SVG = "{http://www.w3.org/2000/svg}"


def read(svg):
    tree = ET.fromstring(svg)
    for node in tree.iter():
        assert node.tag.removeprefix(SVG) in {
            "svg",
            "title",
            "desc",
            "g",
            "rect",
            "path",
            "circle",
            "text",
            "tspan",
        }
        assert "style" not in node.attrib
        assert not any(name.startswith("on") for name in node.attrib)
        assert {node.get("fill", "none"), node.get("stroke", "none")} <= {"none", "currentColor"}
    assert tree.get("role") == "img"
    assert tree.get("viewBox").split()[2] == "360"
    assert tree[0].text and tree[1].text
    return tree


def words(tree):
    return ["".join(node.itertext()) for node in tree.iter(SVG + "text")]


def bars(tree):
    return [float(node.get("width")) for node in tree.iter(SVG + "rect") if node.get("class") == "bar"]


FALL = [("Bought", Decimal("20")), ("Sawn", Decimal("15.5")), ("Finished", Decimal("5.125"))]


def test_weights_fall_in_the_right_measure():
    tree = read(charts.weight_fall_chart(FALL))
    long, middle, short = bars(tree)
    assert middle / long == pytest.approx(0.775, abs=0.001)
    assert short / long == pytest.approx(0.25625, abs=0.001)
    said = words(tree)
    assert said[1] == "20.00 ct, 100 %"
    assert said[3] == "15.50 ct, 78 %"
    assert said[5] == "5.125 ct, 26 %"
    assert "Sawn: 15.50 ct" in tree[1].text


def test_hours_add_up_beneath():
    tree = read(charts.hours_chart([("Preform", Decimal("1.25")), ("Crown", Decimal("2.5"))]))
    assert words(tree) == ["Preform", "1 h 15", "Crown", "2 h 30", "In all 3 h 45"]
    assert bars(tree)[0] / bars(tree)[1] == pytest.approx(0.5, abs=0.001)


def test_nothing_recorded_is_said():
    for svg in (charts.weight_fall_chart([]), charts.hours_chart([]), charts.pedigree_tree([])):
        assert words(read(svg)) == ["Nothing recorded yet"]


def test_all_zero_draws_without_dividing():
    assert bars(read(charts.weight_fall_chart([("Lost", Decimal(0))]))) == [0.0]
    assert bars(read(charts.hours_chart([("Waiting", Decimal(0))]))) == [0.0]


@pytest.mark.parametrize("amount", ["-1", "NaN", "Infinity"])
def test_amounts_that_cannot_be_are_refused(amount):
    with pytest.raises(OutOfRange, match="Slip"):
        charts.weight_fall_chart([("Slip", Decimal(amount))])
    with pytest.raises(OutOfRange, match="Slip"):
        charts.hours_chart([("Slip", Decimal(amount))])


TREE = [
    Node("L-0007", "parcel", Decimal("120.5"), None, "opened"),
    Node("S-0002", "left", Decimal("9.1"), 2, "on the bench"),
    Node("S-0001", "clean end", Decimal("21.35"), 0, "split", alive=False),
    Node("S-0003", "pale", None, 0, "broken", alive=False),
]


def test_children_stand_below_and_right_of_the_piece_they_came_from():
    tree = read(charts.pedigree_tree(TREE))
    marks = [(float(c.get("cx")), float(c.get("cy"))) for c in tree.iter(SVG + "circle")]
    codes = [said.split()[0].split("parcel")[0] for said in words(tree) if said.startswith(("L-", "S-"))]
    assert [code[:6] for code in codes] == ["L-0007", "S-0001", "S-0002", "S-0003"]
    xs, ys = zip(*marks, strict=True)
    assert list(ys) == sorted(ys)
    assert xs[0] < xs[1] < xs[2]
    assert xs[3] == xs[1]
    assert [c.get("fill") for c in tree.iter(SVG + "circle")] == [
        "currentColor",
        "none",
        "currentColor",
        "none",
    ]
    assert "S-0002 left from S-0001, 9.10 ct, on the bench" in tree[1].text


def test_state_is_told_in_words_and_not_only_by_the_mark():
    said = words(read(charts.pedigree_tree(TREE)))
    assert {"opened", "split", "on the bench", "broken"} <= set(said)


@pytest.mark.parametrize("parents", [[0], [5], [-1], [1, 0], [None, 2, 1]])
def test_a_parent_that_cannot_be_is_refused(parents):
    nodes = [Node(f"S-{i:04d}", "x", Decimal(1), parent) for i, parent in enumerate(parents)]
    with pytest.raises(OutOfRange, match="S-000"):
        charts.pedigree_tree(nodes)


def test_a_deep_pedigree_stays_on_the_page():
    nodes = [
        Node(f"S-{i:04d}", "a piece of the piece before", Decimal(50 - i), i - 1 if i else None)
        for i in range(30)
    ]
    tree = read(charts.pedigree_tree(nodes))
    for node in tree.iter(SVG + "text"):
        if node.get("text-anchor") != "end":
            assert float(node.get("x")) + 0.5 * 13 * len("".join(node.itertext())) < 360


@given(st.lists(st.tuples(st.text(max_size=40), st.decimals(0, 5000, places=3)), max_size=8))
def test_any_words_and_weights_make_a_lawful_chart(rows):
    rows = [("".join(c for c in label if c.isprintable()), weight) for label, weight in rows]
    tree = read(charts.weight_fall_chart(rows))
    assert all(0 <= width <= 344 for width in bars(tree))
    read(charts.hours_chart(rows))


def test_words_from_outside_are_escaped():
    svg = charts.pedigree_tree([Node("<b>", "</text><script>", Decimal(1), None, "&")])
    assert "<script" not in svg
    read(svg)


def test_a_mark_lies_inside_its_frame_only_when_it_kept_to_what_was_said():
    """On one scale from zero: 2 to 4 of at most 6 run from a third to two thirds of 344 px, after 8 px of margin."""
    rows = [
        charts.Held("in", D(2), D(4), D(3)),
        charts.Held("over", D(2), D(4), D(6)),
        charts.Held("bare", None, None, D(1)),
    ]
    tree = read(charts.ranges_chart(rows, title="Hours"))
    frames = [(float(one.get("x")), float(one.get("width"))) for one in tree.iter(SVG + "rect")]
    marks = [float(one.get("cx")) for one in tree.iter(SVG + "circle")]
    third = 344 / 3
    assert [left for left, _ in frames] == pytest.approx([8 + third] * 2, abs=0.1)
    assert [width for _, width in frames] == pytest.approx([third] * 2, abs=0.1)
    assert marks == pytest.approx([8 + 1.5 * third, 8 + 3 * third, 8 + third / 2], abs=0.1)
    told = tree.find(SVG + "desc").text
    assert "in: 3 h 00, said 2 h 00 to 4 h 00" in told and told.endswith("bare: 1 h 00")


@pytest.mark.parametrize(
    "row", [(D(-1), D(2), D(1)), (D(1), D(2), D(-1)), (D(3), D(2), D(1)), (D(1), D(2), D("NaN"))]
)
def test_a_range_that_cannot_be_is_refused(row):
    with pytest.raises(OutOfRange, match="odd"):
        charts.ranges_chart([charts.Held("odd", *row)], title="Hours")


def test_empty_charts_say_so():
    for svg in (charts.ranges_chart([], title="Hours"), charts.earned_chart([], say=str)):
        assert "Nothing recorded yet" in svg
        read(svg)


def test_an_hour_that_earned_less_than_nothing_keeps_its_figure_without_a_bar():
    tree = read(charts.earned_chart([("cut", D(60)), ("lost", D("-6.36"))], say=lambda sum_: f"{sum_} EUR"))
    assert bars(tree) == [344.0, 0.0]
    assert "lost: -6.36 EUR" in tree.find(SVG + "desc").text
