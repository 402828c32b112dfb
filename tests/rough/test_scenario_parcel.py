"""A parcel bought in dollars, sorted, shared by grade and again by weight: through the deeds and through the pages.

The figures are the worked parcel of the trade sheet behind this project (invented, worked out by hand):
84.60 g x 14.50 USD = 1,226.70; + 35.00 + 62.00 = 1,323.70 USD; x 0.9315 = 1,233.02655 -> 1,233.03 EUR; + 18.50
= 1,251.53 EUR; / 84.60 g = 14.79350...  Grade 3 : 1 by weight: 3 x 21.30 = 63.90 and 33.10 of 97.00 parts:
1,251.53 x 63.90 / 97.00 = 824.46 and 427.07. By weight over 54.40 g: 23.00606... a gram.
One gram is five carats exactly (metric carat, 4th CGPM 1907).
"""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.makers import DAY, NOON, make_lot, make_owner, make_shop
from workshop.handbook.units import parse_weight
from workshop.rough.figures import landed, money_account, of_groups, weight_account
from workshop.rough.models import CostKind, RoughLot
from workshop.rough.sharing import CostLine, gap_ct
from workshop.stones import actions as stones
from workshop.stones.models import Stone

pytestmark = pytest.mark.django_db

D = Decimal
USD_RATE = D("0.9315")


@pytest.fixture(autouse=True)
def shop():
    return make_shop(currency="EUR")


def bought():
    return make_lot(
        "84.60 g",
        sold_as="tourmaline, mine run",
        price_basis="g",
        unit_price=D("14.50"),
        currency="USD",
        rate=USD_RATE,
        extras=[
            CostLine(CostKind.FEE, D("35.00"), "USD", USD_RATE),
            CostLine(CostKind.FREIGHT, D("62.00"), "USD", USD_RATE),
            CostLine(CostKind.CLEARANCE, D("18.50"), "EUR"),
            CostLine(CostKind.RECOVERABLE, D("228.08"), "EUR"),
        ],
    )


def spec(name, grams, kind="facet", pieces=None, factor="1"):
    return stones.GroupSpec(
        name=name, kind=kind, weight_ct=parse_weight(f"{grams} g").ct, pieces=pieces, factor=D(factor)
    )


GROUPS = [
    spec("A", "21.30", pieces=9, factor="3"),
    spec("B", "33.10", pieces=22),
    spec("C", "24.00", kind="cull", factor="0"),
    spec("rejects", "6.05", kind="reject", factor="0"),
]


def figures_of(lot):
    lot = RoughLot.objects.get(pk=lot.pk)
    groups, draws, losses = list(lot.groups.all()), list(lot.draws.all()), list(lot.losses.all())
    shares = {one.group.name: (one.cost, one.per_gram) for one in of_groups(groups, draws, losses)}
    return lot, shares, weight_account(lot, groups, draws, losses), money_account(lot, draws)


def test_landed_cost_to_the_cent_and_tax_apart():
    lot = bought()
    cost = landed(lot, list(lot.costs.all()))
    assert lot.weight_ct == D("423.000")
    assert cost.lines[0].amount == D("1226.70")
    assert cost.total == D("1251.53")
    assert cost.per_gram == D("14.7935")
    # 1,251.53 / 423 = 2.95870...
    assert cost.per_carat == D("2.9587")
    assert cost.apart_total == D("228.08")
    assert sum(line.amount_home for line in cost.lines) == D("1251.53")


def test_shares_by_grade_then_by_weight_and_the_gap_shown():
    lot = bought()
    stones.sort_lot(lot, GROUPS, rule="grade", by=None, at=NOON)
    lot, shares, weight, money = figures_of(lot)
    assert gap_ct(lot) == D("0.750")  # 0.15 g
    assert shares["A"] == (D("824.46"), D("38.7070"))
    assert shares["B"] == (D("427.07"), D("12.9024"))
    assert shares["C"][0] == shares["rejects"][0] == 0
    assert weight.adds_up
    assert money.adds_up
    assert dict(weight.lines)["gap nobody can explain"] == D("0.750")

    known = {group.name: group.pk for group in lot.groups.all()}
    again = [stones.GroupSpec(**{**vars(one), "pk": known[one.name]}) for one in GROUPS]
    stones.sort_lot(lot, again, rule="weight", by=None, at=NOON)
    lot, shares, weight, money = figures_of(lot)
    # 1,251.53 x 21.30 / 54.40 = 490.0296 and x 33.10 / 54.40 = 761.5004; both at 23.0061 a gram, within a cent.
    assert shares["A"] == (D("490.03"), D("23.0061"))
    assert shares["B"][0] == D("761.50")
    assert abs(shares["B"][1] - D("23.0061")) < D("0.0005")
    assert weight.adds_up
    assert money.adds_up


def test_what_is_sold_does_not_change():
    lot = bought()
    stones.sort_lot(lot, GROUPS, rule="grade", by=None, at=NOON)
    group = lot.groups.get(name="A")
    stone = stones.draw_stone(lot, parse_weight("4.26 g"), group=group, by=None, at=NOON)
    # The trade sheet's own stone: 824.46 x 4.26 / 21.30 = 164.892.
    assert stone.rough_cost == D("164.89")
    Stone.objects.filter(pk=stone.pk).update(cost_fixed=True)
    known = {group.name: group.pk for group in lot.groups.all()}
    again = [stones.GroupSpec(**{**vars(one), "pk": known[one.name]}) for one in GROUPS]
    stones.sort_lot(lot, again, rule="weight", by=None, at=NOON)
    stone.refresh_from_db()
    assert stone.rough_cost == D("164.89")
    # By weight it would carry 490.03 x 4.26 / 21.30 = 98.006: 66.88 less.
    assert stone.cost_difference == D("-66.88")
    lot, _, weight, money = figures_of(lot)
    assert weight.adds_up
    assert money.adds_up


# The same parcel, as a cutter types it.


@pytest.fixture
def owner(client):
    person = make_owner()
    client.force_login(person)
    return person


def receipt(**said):
    return {
        "way_in": "bought",
        "new_seller": "Imaginary Gem Trading",
        "received_on": DAY.isoformat(),
        "weight": "84,60 g",
        "sold_as": "tourmaline, mine run, untreated",
        "material": "",
        "treated": "untreated",
        "evidence": "1",
        "unit_price": "14.50",
        "price_basis": "g",
        "currency": "USD",
        "rate": "0.9315",
        "fee": "35.00",
        "fee_in": "price",
        "freight": "62.00",
        "freight_in": "price",
        "clearance": "18.50",
        "clearance_in": "home",
        "duty": "0",
        "recoverable": "228.08",
        "recoverable_in": "home",
        **said,
    }


def sorting(lot, rule, **more):
    known = {group.name: str(group.pk) for group in lot.groups.all()}
    rows = [
        ("A", "facet", "21.30 g", "9", "3"),
        ("B", "facet", "33.10g", "22", "1"),
        ("C", "cull", "120 ct", "", "0"),
        ("rejects", "reject", "6,05 g", "", "0"),
    ]
    sent = {"rule": rule, "g-TOTAL_FORMS": "5", "g-INITIAL_FORMS": "0", **more}
    for number, row in enumerate([*rows, ("", "facet", "", "", "1")]):
        for name, value in zip(("name", "kind", "weight", "pieces", "factor"), row, strict=True):
            sent[f"g-{number}-{name}"] = value
        sent[f"g-{number}-pk"] = known.get(row[0], "")
    return sent


def page(client, url):
    return client.get(url).content.decode().replace("\xa0", " ")


def test_the_parcel_through_the_pages(client, owner):
    receive = reverse("rough:receive")
    looked = client.post(receive, receipt(preview="1"))
    assert looked.status_code == 200
    assert "1,251.53" in looked.content.decode()
    assert "14.7935" in looked.content.decode()
    assert not RoughLot.objects.exists()

    answer = client.post(receive, receipt())
    lot = RoughLot.objects.get()
    assert answer.url == reverse("rough:lot", args=["L-0001"])
    assert lot.landed_cost == D("1251.53")
    assert lot.recoverable_tax == D("228.08")
    assert str(lot.seller) == "Imaginary Gem Trading"
    said = page(client, answer.url)
    for figure in ("1,251.53", "14.7935", "2.9587", "228.08", "1,226.70"):
        assert figure in said

    sort = reverse("stones:sort", args=[lot.code])
    looked = client.post(sort, sorting(lot, "grade", preview="1"))
    assert looked.status_code == 200
    said = looked.content.decode().replace("\xa0", " ")
    for figure in ("824.46", "427.07", "38.7070", "12.9024", "0.75 ct (0.15 g)"):
        assert figure in said
    assert not lot.groups.exists()

    assert client.post(sort, sorting(lot, "grade")).status_code == 302
    said = page(client, answer.url)
    for figure in ("824.46", "427.07", "38.7070", "12.9024", "0.150 g"):
        assert figure in said
    assert "does not add up" not in said

    lot.refresh_from_db()
    assert client.post(sort, sorting(lot, "weight")).status_code == 302
    lot, shares, weight, money = figures_of(lot)
    assert shares["A"] == (D("490.03"), D("23.0061"))
    assert "23.0061" in page(client, answer.url)
    assert weight.adds_up
    assert money.adds_up


def test_a_late_customs_bill_through_the_pages(client, owner):
    client.post(reverse("rough:receive"), receipt())
    lot = RoughLot.objects.get()
    charge = reverse("stones:charge", args=[lot.code])
    bill = {
        "paid_on": DAY.isoformat(),
        "currency": "EUR",
        "duty": "48.47",
        "recoverable": "9.21",
        "note": "bill 7",
    }
    looked = client.post(charge, {**bill, "preview": "1"})
    assert "1,300.00" in looked.content.decode()
    lot.refresh_from_db()
    assert lot.landed_cost == D("1251.53")
    assert client.post(charge, bill).url == lot.get_absolute_url()
    lot.refresh_from_db()
    assert (lot.landed_cost, lot.recoverable_tax) == (D("1300.00"), D("237.29"))
    credit = {"paid_on": DAY.isoformat(), "currency": "USD", "rate": "0.5", "credit": "100"}
    assert client.post(charge, credit).status_code == 302
    lot.refresh_from_db()
    assert lot.landed_cost == D("1250.00")
