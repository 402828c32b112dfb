"""Deeds on a lot that reach its stones, as pages: sort, late bill, weight that left, drawing."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.makers import (
    DAY,
    NOON,
    make_contact,
    make_hand,
    make_lot,
    make_owner,
    make_reader,
    make_shop,
    make_stone,
)
from tests.rough import pages
from tests.rough.pictures import bomb, jpeg, not_a_picture
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry, Photo
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material
from workshop.rough.models import LotCost, LotLoss, RoughLot
from workshop.stones import actions
from workshop.stones.models import Stone

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def owner(client):
    make_shop()
    person = make_owner()
    client.force_login(person)
    return person


@pytest.fixture
def lot(owner):
    return make_lot("100 ct", sold_as="mixed sapphire", price_basis="lot", unit_price=D("600"))


@pytest.fixture
def sorted_lot(lot):
    specs = [actions.GroupSpec("A", D("60")), actions.GroupSpec("B", D("39"))]
    return actions.sort_lot(lot, specs, rule="weight", by=None, at=NOON)


def url(name, lot):
    return reverse(f"stones:{name}", args=[lot.code])


text = pages.said


def fresh(lot):
    return RoughLot.objects.get(pk=lot.pk)


# Sorting


def table(*rows, rule="weight", **more):
    """Rows of (name, kind, weight, pieces, grade) as the table sends them."""
    sent = {"rule": rule, "g-TOTAL_FORMS": str(len(rows)), "g-INITIAL_FORMS": "0", **more}
    for number, row in enumerate(rows):
        for name, value in zip(
            ("name", "kind", "weight", "pieces", "factor", "pk", "out"), row, strict=False
        ):
            if value != "":
                sent[f"g-{number}-{name}"] = value
    return sent


A, B, BLANK = ("A", "facet", "60 ct"), ("B", "facet", "39 ct"), ("", "facet", "", "", "1")


def test_a_lot_is_sorted_and_empty_rows_do_not_count(client, lot):
    assert client.post(url("sort", lot), table(A, BLANK, B, BLANK)).url == lot.get_absolute_url()
    assert [(group.name, group.weight_ct) for group in lot.groups.all()] == [("A", D("60")), ("B", D("39"))]
    assert fresh(lot).cost_left == D("600.00")


def test_one_more_row_keeps_what_was_typed_and_judges_nothing(client, lot):
    half = ("Ä <b>", "cab", "nonsense", "many", "2")
    answer = client.post(url("sort", lot), table(half, BLANK, one_more="1", rule="value"))
    assert answer.status_code == 200
    page = text(answer)
    assert page.count('-weight"') >= 3
    assert 'value="nonsense"' in page
    assert 'value="Ä &lt;b&gt;"' in page
    assert "field-errors" not in page
    assert answer.context["form"]["rule"].value() == "value"
    assert not lot.groups.exists()


def test_work_it_out_shows_gap_and_shares_and_keeps_nothing(client, lot):
    answer = client.post(url("sort", lot), table(A, B, preview="1"))
    assert answer.status_code == 200
    page = text(answer)
    # 600 over 99 ct: 363.64 and 236.36; the gap is 1 ct = 0.20 g.
    for figure in ("363.64", "236.36", "1.00 ct (0.20 g)"):
        assert figure in page
    assert not lot.groups.exists()
    assert not JournalEntry.objects.filter(verb="sorted lot").exists()
    assert fresh(lot).sorted_on is None


def test_a_sold_stone_keeps_its_share_and_the_difference_is_shown_before(client, sorted_lot):
    a, b = sorted_lot.groups.all()
    stone = make_stone("6 ct", lot=sorted_lot, group=a)
    Stone.objects.filter(pk=stone.pk).update(cost_fixed=True)
    again = table(
        ("A", "facet", "60 ct", "", "3", str(a.pk)), ("B", "facet", "39 ct", "", "1", str(b.pk)), rule="grade"
    )
    # 363.64 x 6 / 60 = 36.36. By grade A bears 600 x 180 / 219 = 493.15, of which 49.32 on the stone (rounded).
    page = text(client.post(url("sort", sorted_lot), {**again, "preview": "1"}))
    assert "S-0001 12.96" in page.replace('<span class="money">', "")
    stone.refresh_from_db()
    assert (stone.rough_cost, stone.cost_difference) == (D("36.36"), D("0"))
    assert client.post(url("sort", sorted_lot), again).status_code == 302
    stone.refresh_from_db()
    assert (stone.rough_cost, stone.cost_difference) == (D("36.36"), D("12.96"))


def test_the_form_opens_with_the_groups_in_the_shops_unit(client, sorted_lot):
    rows = client.get(url("sort", sorted_lot)).context["rows"]
    assert [row["weight"].value() for row in rows] == ["12 g", "7.8 g"]


def test_a_group_is_left_out_unless_something_was_taken_from_it(client, sorted_lot):
    a, b = sorted_lot.groups.all()
    rows = [("A", "facet", "60 ct", "", "1", str(a.pk)), ("B", "facet", "39 ct", "", "1", str(b.pk), "on")]
    asked = client.post(url("sort", sorted_lot), table(*rows))
    assert "would stay unexplained" in text(asked)
    assert sorted_lot.groups.count() == 2
    assert client.post(url("sort", sorted_lot), table(*rows, sure="on")).status_code == 302
    assert [group.name for group in sorted_lot.groups.all()] == ["A"]
    make_stone("5 ct", lot=fresh(sorted_lot), group=a)
    gone = client.post(
        url("sort", sorted_lot),
        table(("A", "facet", "60 ct", "", "1", str(a.pk), "on"), ("C", "facet", "90 ct")),
    )
    assert gone.status_code == 422
    assert "has to stay" in text(gone)
    assert [group.name for group in sorted_lot.groups.all()] == ["A"]


def test_two_groups_may_change_names(client, sorted_lot):
    a, b = sorted_lot.groups.all()
    rows = [("B", "facet", "60 ct", "", "1", str(a.pk)), ("A", "facet", "39 ct", "", "1", str(b.pk))]
    assert client.post(url("sort", sorted_lot), table(*rows)).status_code == 302
    a.refresh_from_db()
    b.refresh_from_db()
    assert (a.name, b.name) == ("B", "A")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([], "at least one group"),
        ([BLANK], "at least one group"),
        ([("", "facet", "5 ct")], "name"),
        ([("A", "facet", "")], "Weigh the group"),
        ([("A", "facet", "-5 ct")], "above zero"),
        ([("A", "facet", "0")], "above zero"),
        ([("A", "facet", "some")], "not a number"),
        ([("A", "facet", "5 pounds")], "not a unit"),
        ([("A", "gravel", "5 ct")], "valid choice"),
        ([("A", "facet", "5 ct", "-1")], "greater than or equal to 0"),
        ([("A", "facet", "5 ct", "x")], "whole number"),
        ([("A", "facet", "5 ct", "", "-2")], "at least 0"),
        ([A, ("a", "facet", "5 ct")], "same name"),
        ([("A", "facet", "600 ct")], "more than the lot"),
        ([("A", "facet", "101 ct")], "more than the lot did"),
        ([("A", "facet", "5 ct", "", "1", "999999")], "not one of this lot"),
        ([("x" * 61, "facet", "5 ct")], "60"),
    ],
)
def test_a_sort_that_cannot_be_is_told_and_nothing_is_kept(client, lot, rows, words):
    answer = client.post(url("sort", lot), table(*rows))
    assert answer.status_code == 422
    assert words in text(answer)
    assert not lot.groups.exists()
    assert fresh(lot).sorted_on is None


def test_a_sum_a_little_above_the_lot_goes_through_once_it_is_meant(client, lot):
    rows = [("A", "facet", "101 ct")]
    assert client.post(url("sort", lot), table(*rows)).status_code == 422
    assert client.post(url("sort", lot), table(*rows, sure="on")).status_code == 302
    assert lot.groups.get().weight_ct == D("101")


def test_groups_of_no_value_cannot_bear_a_cost_by_value(client, lot):
    answer = client.post(url("sort", lot), table(A, B, rule="value"))
    assert answer.status_code == 422
    assert "No group can bear the cost by estimated value" in text(answer)


def test_a_table_with_a_broken_count_is_refused(client, lot):
    for count in ("", "x", "-1", "100000"):
        answer = client.post(url("sort", lot), table(A, B) | {"g-TOTAL_FORMS": count})
        assert answer.status_code == 422
        assert client.post(url("sort", lot), {"one_more": "1", "g-TOTAL_FORMS": count}).status_code == 200
    assert not lot.groups.exists()


# Late bills and credits


def bill(**said):
    return {"paid_on": DAY.isoformat(), "currency": "EUR", **said}


def test_a_late_bill_and_a_credit_are_shared(client, lot):
    stone = make_stone("40 ct", lot=lot)
    assert (
        client.post(url("charge", lot), bill(duty="50", clearance="10,50", note="bill 9")).status_code == 302
    )
    stone.refresh_from_db()
    assert stone.rough_cost == D("264.20")  # 660.50 x 40 / 100
    assert client.post(url("charge", lot), bill(credit="160.50")).status_code == 302
    stone.refresh_from_db()
    assert stone.rough_cost == D("200.00")
    page = text(client.get(lot.get_absolute_url()))
    assert "late" in page
    assert "bill 9" in page
    assert "−160.50" in page


def test_a_bill_in_another_currency_at_the_banks_rate(client, lot):
    assert client.post(url("charge", lot), bill(currency="USD", rate="0,9315", fee="35")).status_code == 302
    assert fresh(lot).landed_cost == D("632.60")  # 35 x 0.9315 = 32.6025


def test_looking_at_a_bill_keeps_nothing(client, lot):
    answer = client.post(url("charge", lot), bill(freight="25", preview="1"))
    assert "625.00" in text(answer)
    assert fresh(lot).landed_cost == D("600.00")
    assert not LotCost.objects.filter(late=True).exists()


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({}, "__all__", "at least one"),
        ({"duty": "-5"}, "duty", "zero or more"),
        ({"duty": "much"}, "duty", "not a number"),
        ({"duty": "1.234"}, "duty", "decimals"),
        ({"duty": "9" * 18}, "__all__", ""),
        ({"credit": "600.01"}, "__all__", "more than the lot has cost"),
        ({"duty": "1", "currency": "USD"}, "rate", "bank took"),
        ({"duty": "1", "rate": "2"}, "rate", "rate is 1"),
        ({"duty": "1", "paid_on": ""}, "paid_on", "required"),
        ({"duty": "1", "paid_on": "2999-01-01"}, "paid_on", "future"),
        ({"duty": "1", "currency": "???"}, "currency", "valid choice"),
    ],
)
def test_a_bill_that_cannot_be_is_told_and_nothing_is_booked(client, lot, wrong, field, words):
    answer = client.post(url("charge", lot), bill(**wrong))
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors)
    assert fresh(lot).landed_cost == D("600.00")
    assert LotCost.objects.count() == 1


def test_others_goods_have_no_bills(client, owner):
    lot = make_lot(ownership="client", owner=make_contact(), came="left")
    answer = client.post(url("charge", lot), bill(duty="5"))
    assert answer.status_code == 422
    assert not LotCost.objects.exists()


def test_a_bill_sent_twice_is_booked_once(client, lot):
    for _ in range(2):
        assert client.post(url("charge", lot), bill(duty="5", once="k")).status_code == 302
    assert fresh(lot).landed_cost == D("605.00")


# Weight that left the lot


def loss(**said):
    return {"weight": "10 ct", "pieces": "2", "cause": "culled", "on": DAY.isoformat(), **said}


def test_what_is_culled_leaves_its_cost_to_the_rest(client, lot):
    assert client.post(url("lose", lot), loss()).status_code == 302
    after = fresh(lot)
    assert (after.left_ct, after.cost_left, after.cost_written_off) == (D("90"), D("600.00"), D("0"))


def test_what_is_lost_may_be_written_off(client, lot):
    assert (
        client.post(url("lose", lot), loss(cause="lost", written_off="on", reason="swept up")).status_code
        == 302
    )
    after = fresh(lot)
    assert (after.left_ct, after.cost_left, after.cost_written_off) == (D("90"), D("540.00"), D("60.00"))


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"weight": "100.001 ct"}, "weight", "Only 100"),
        ({"weight": "1000 ct"}, "weight", "Did you mean 100"),
        ({"weight": "-1"}, "weight", "above zero"),
        ({"weight": "0 ct"}, "weight", "above zero"),
        ({"weight": "a bit"}, "weight", "number"),
        ({"weight": "3 lumps"}, "weight", "not a unit"),
        ({"cause": ""}, "cause", "required"),
        ({"cause": "eaten"}, "cause", "valid choice"),
        ({"cause": "owner"}, "cause", "valid choice"),
        ({"cause": "lost"}, "reason", "last seen"),
        ({"pieces": "-1"}, "pieces", "greater than or equal to 0"),
        ({"on": "2999-01-01"}, "on", "future"),
        ({"on": (DAY - timedelta(days=1)).isoformat()}, "on", "not come in"),
    ],
)
def test_a_loss_that_cannot_be_is_told_and_nothing_leaves(client, lot, wrong, field, words):
    answer = client.post(url("lose", lot), loss(**wrong))
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors[field])
    assert not LotLoss.objects.exists()
    assert fresh(lot).left_ct == D("100")


def test_from_a_sorted_lot_it_leaves_a_group(client, sorted_lot):
    a, _ = sorted_lot.groups.all()
    assert "required" in str(client.post(url("lose", sorted_lot), loss()).context["form"].errors["group"])
    assert client.post(url("lose", sorted_lot), loss(group=str(a.pk))).status_code == 302
    a.refresh_from_db()
    assert a.left_ct == D("50")


def test_a_clients_goods_go_back_and_are_never_sold(client, owner):
    lot = make_lot(ownership="client", owner=make_contact(), came="left")
    for cause in ("sold", "returned"):
        answer = client.post(url("lose", lot), loss(cause=cause))
        assert "valid choice" in str(answer.context["form"].errors["cause"])
        with pytest.raises(DeedRefused):
            actions.lose_from_lot(lot, parse_weight("1 ct"), cause=cause, on=DAY, by=None, at=NOON)
    assert client.post(url("lose", lot), loss(cause="owner")).status_code == 302
    assert fresh(lot).left_ct == D("90")


def test_a_hand_records_a_loss_but_does_not_write_cost_off(client, lot):
    client.force_login(make_hand())
    page = text(client.get(url("lose", lot)))
    assert "Write its cost off" not in page
    assert client.post(url("lose", lot), loss(written_off="on")).status_code == 302
    assert not LotLoss.objects.get().written_off


# Drawing a stone


def piece(**said):
    return {"weight": "4.26 g", "first_side": "pavilion", "drawn_on": DAY.isoformat(), **said}


def test_a_stone_is_drawn_with_all_that_is_known_of_it(client, lot):
    ruby = Material.objects.get(key="corundum-ruby")
    answer = client.post(
        url("draw", lot),
        piece(
            plan="cushion, 9 mm", shape="cushion", material=str(ruby.pk), length_mm="9,52", width_mm="9.1 mm",
            depth_mm="0.7 cm", first_side="crown", pictures=[jpeg()],
        ),
    )  # fmt: skip
    stone = Stone.objects.get()
    assert answer.url == stone.get_absolute_url()
    assert (stone.start_ct, stone.rough_cost) == (D("21.300"), D("127.80"))
    assert (stone.length_mm, stone.width_mm, stone.depth_mm) == (D("9.52"), D("9.10"), D("7.00"))
    assert (stone.material, stone.plan, stone.shape, stone.first_side) == (
        ruby,
        "cushion, 9 mm",
        "cushion",
        "crown",
    )
    assert stone.photos.count() == 1
    assert stone.draw.drawn_on == DAY
    assert fresh(lot).left_ct == D("78.700")


def test_a_piece_drawn_today_is_drawn_now(client, lot):
    today = timezone.localdate()
    client.post(url("draw", lot), piece(drawn_on=today.isoformat()))
    assert abs(timezone.now() - Stone.objects.get().drawn_at) < timedelta(minutes=1)


def test_from_a_sorted_lot_it_comes_from_a_group(client, sorted_lot):
    _, b = sorted_lot.groups.all()
    assert "required" in str(client.post(url("draw", sorted_lot), piece()).context["form"].errors["group"])
    assert client.post(url("draw", sorted_lot), piece(group=str(b.pk))).status_code == 302
    b.refresh_from_db()
    assert b.left_ct == D("17.7")
    too_much = client.post(url("draw", sorted_lot), piece(group=str(b.pk)))
    assert "Only 17.700 ct are left in group B" in str(too_much.context["form"].errors["weight"])


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"weight": ""}, "weight", "required"),
        ({"weight": "-4 g"}, "weight", "above zero"),
        ({"weight": "0"}, "weight", "above zero"),
        ({"weight": "big"}, "weight", "number"),
        ({"weight": "4 oz"}, "weight", "not a unit"),
        ({"weight": "100.001 ct"}, "weight", "Only 100.000 ct are left"),
        ({"weight": "426 ct"}, "weight", "Did you mean 42.6"),
        ({"length_mm": "-9"}, "length_mm", "above zero"),
        ({"length_mm": "wide"}, "length_mm", "number"),
        ({"length_mm": "2000"}, "length_mm", "cannot be right"),
        ({"shape": "banana"}, "shape", "valid choice"),
        ({"first_side": "girdle"}, "first_side", "valid choice"),
        ({"material": "0"}, "material", "valid choice"),
        ({"drawn_on": "2999-01-01"}, "drawn_on", "future"),
        ({"drawn_on": (DAY - timedelta(days=1)).isoformat()}, "drawn_on", "not come in"),
        ({"plan": "x" * 201}, "plan", "200"),
    ],
)
def test_a_piece_that_cannot_be_is_told_and_not_drawn(client, lot, wrong, field, words):
    answer = client.post(url("draw", lot), piece(**{"plan": "typed with care", **wrong}))
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors[field])
    assert "plan" in wrong or "typed with care" in text(answer)
    assert not Stone.objects.exists()
    assert fresh(lot).left_ct == D("100")


@pytest.mark.parametrize("upload", [not_a_picture, bomb])
def test_a_bad_picture_draws_no_stone(client, lot, upload):
    answer = client.post(url("draw", lot), piece(pictures=[upload()]))
    assert answer.status_code == 422
    assert answer.context["form"].errors["pictures"]
    assert not Stone.objects.exists()
    assert not Photo.objects.exists()


def test_a_stone_drawn_twice_by_one_press_is_one_stone(client, lot):
    first, second = (client.post(url("draw", lot), piece(once="k")).url for _ in range(2))
    assert first == second
    assert Stone.objects.count() == 1
    assert fresh(lot).left_ct == D("78.7")


def test_odd_words_are_shown_as_text(client, lot):
    for plan in ("<img src=x onerror=alert(1)>", 'אבן 💎 "quoted" \'n'):
        page = text(client.get(client.post(url("draw", lot), piece(weight="1 ct", plan=plan)).url))
        assert "<img src=x" not in page


# Who may


RIGHTS = [("sort", "owner"), ("charge", "owner"), ("lose", "hand"), ("draw", "hand")]


@pytest.mark.parametrize(("name", "who"), RIGHTS)
def test_who_may_do_what(client, lot, name, who):
    client.force_login(make_hand())
    assert client.get(url(name, lot)).status_code == (200 if who == "hand" else 403)
    assert client.post(url(name, lot), {}).status_code == (422 if who == "hand" else 403)
    client.force_login(make_reader())
    assert client.get(url(name, lot)).status_code == 403
    assert client.post(url(name, lot), {}).status_code == 403
    client.logout()
    assert reverse("common:sign_in") in client.get(url(name, lot)).url
    assert not Stone.objects.exists()


@pytest.mark.parametrize("name", ["lose", "draw"])
def test_a_hand_sees_no_money_on_these_pages(client, sorted_lot, name):
    client.force_login(make_hand())
    page = text(client.get(url(name, sorted_lot)))
    for hidden in ("EUR", "600", "363.64", "cost"):
        assert hidden not in page


def test_a_lot_nobody_has_is_a_404(client, owner):
    for name, _ in RIGHTS:
        assert client.get(reverse(f"stones:{name}", args=["L-9999"])).status_code == 404


@pytest.mark.parametrize("name", ["sort", "draw", "lose", "charge"])
def test_the_pages_cost_the_same_for_2_and_40_groups(client, lot, name):
    def queries():
        with CaptureQueriesContext(connection) as found:
            assert client.get(url(name, lot)).status_code == 200
        return len(found)

    def groups(count):
        specs = [actions.GroupSpec(f"g{number}", D("2")) for number in range(count)]
        actions.sort_lot(lot, specs, rule="weight", by=None, at=NOON, sure=True)

    groups(2)
    queries()
    few = queries()
    groups(40)
    assert queries() == few
