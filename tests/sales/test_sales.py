"""The list of sales: filters, order, sums under the columns, paging by key, and who sees it."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.makers import DAY, NOON, make_contact, make_gem, make_hand, make_reader
from workshop.sales import actions
from workshop.sales.models import Sale, SaleLine

D = Decimal
LIST = "/sales/"
WEEK = NOON + timedelta(days=7)


def make_many(count, owner):
    """Plain rows, quicker than deeds; each with the one gem, which only one standing line may name."""
    if not Sale.objects.exists():
        actions.sell(
            [actions.Asked(make_gem(by=owner), D(1))], buyer=make_contact(), sold_on=DAY, by=owner, at=NOON
        )
    first = Sale.objects.order_by("pk").first()
    gem = first.lines.get().gem
    rows = Sale.objects.bulk_create(
        Sale(code=f"SA-9{n:03}", buyer=first.buyer, sold_on=DAY + timedelta(days=n % 9), currency="EUR",
             net=D(n % 7), tax=D(1), gross=D(n % 7) + 1)
        for n in range(Sale.objects.count(), count)
    )  # fmt: skip
    SaleLine.objects.bulk_create(
        SaleLine(sale=row, gem=gem, price=1, net=1, tax=0, stands=False) for row in rows
    )


def codes(client, **asked):
    return [sale.code for sale in client.get(LIST, asked).context["page"].rows]


@pytest.fixture
def ledger(owner):
    """Three sales: paid, half paid, and one taken back."""
    ana, berta = make_contact("Ana Fictiva", firm="Green Hill"), make_contact("Berta")
    first, second = make_gem(by=owner), make_gem(by=owner)
    actions.sell(
        [actions.Asked(first, D("119.00")), actions.Asked(second, D("238.00"))], buyer=ana, sold_on=DAY, by=owner,
        at=WEEK, tax_percent=D(19), fees=D("7.00"), paid_in_full=True, channel="fair",
    )  # fmt: skip
    actions.sell(
        [actions.Asked(make_gem(by=owner), D("100.00"))], buyer=berta, sold_on=date(2026, 3, 5), by=owner, at=WEEK,
        paid=D(40), channel="online", notes="blue box",
    )  # fmt: skip
    gone = actions.sell(
        [actions.Asked(make_gem(by=owner), D("500.00"))], buyer=berta, sold_on=date(2026, 3, 6), by=owner, at=WEEK,
        paid_in_full=True,
    )  # fmt: skip
    actions.cancel_sale(gone, reason="window", on=date(2026, 3, 7), refund=D(500), by=owner, at=WEEK)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, [3, 2, 1]),
        ({"words": "sa-0002"}, [2]),
        ({"words": "berta"}, [3, 2]),
        ({"words": "green ana"}, [1]),
        ({"words": "blue"}, [2]),
        ({"words": "G-0002"}, [1]),
        ({"words": "G-9999"}, []),
        ({"channel": "fair"}, [1]),
        ({"state": "unpaid"}, [2]),
        ({"state": "standing"}, [2, 1]),
        ({"state": "taken_back"}, [3]),
        ({"since": "2026-03-05"}, [3, 2]),
        ({"until": "2026-03-05"}, [2, 1]),
        ({"buyer": "P-0001"}, [1]),
    ],
)
def test_the_list_answers(client, ledger, asked, found):
    assert codes(client, **asked) == [f"SA-{number:04}" for number in found]


@pytest.mark.parametrize(
    ("sort", "first"), [("code", 1), ("gross", 2), ("-gross", 3), ("buyer", 1), ("x", 3)]
)
def test_it_is_sorted(client, ledger, sort, first):
    assert codes(client, sort=sort)[0] == f"SA-{first:04}"


def test_sums_leave_out_what_was_taken_back(client, ledger):
    """119 + 238 at 19 % held: 300.00 net and 57.00 tax; with 100.00: net 400.00, gross 457.00, paid 397.00."""
    totals = client.get(LIST).context["totals"]
    assert (totals["count"], totals["standing"]) == (3, 2)
    assert (totals["net"], totals["tax"], totals["gross"]) == (D(400), D(57), D(457))
    assert (totals["paid"], totals["owed"]) == (D(397), D(60))
    # Nothing was paid for the rough, so only the fees of 7.00 stand against the net.
    assert totals["margin"] == D(393)


def test_a_sale_of_two_gems_is_one_row_with_one_sum(client, ledger):
    totals = client.get(LIST, {"words": "ana"}).context["totals"]
    assert (totals["count"], totals["gross"]) == (1, D(357))


@pytest.mark.parametrize(
    "asked",
    [{"channel": "moon"}, {"state": "lost"}, {"since": "soon"}, {"buyer": "P-9999"}, {"words": "a\x00"}],
)
def test_a_question_nobody_can_ask_is_told(client, ledger, asked):
    answer = client.get(LIST, asked)
    assert answer.status_code == 422
    assert next(iter(asked)) in answer.context["filter"].form.errors


@pytest.mark.parametrize("sort", ["-sold", "code", "net", "-paid"])
def test_paging_leads_through_all_rows_once(client, owner, sort):
    make_many(120, owner)
    seen, url = [], f"{LIST}?sort={sort}"
    while url:
        page = client.get(url).context["page"]
        seen += [sale.code for sale in page.rows]
        url = page.next_url and LIST + page.next_url
    assert len(seen) == len(set(seen)) == 120


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


def test_the_page_of_a_sale_costs_the_same_for_1_and_8_gems(client, owner):
    def queries(sale):
        with CaptureQueriesContext(connection) as found:
            client.get(sale.get_absolute_url())
        return len(found)

    def sold(count):
        asked = [actions.Asked(make_gem(by=owner), D(5)) for _ in range(count)]
        return actions.sell(asked, buyer=make_contact(f"of {count}"), sold_on=DAY, by=owner, at=NOON)

    one, eight = sold(1), sold(8)
    queries(one)
    assert queries(one) == queries(eight)


def test_a_reader_sees_the_sales_and_a_hand_does_not(client, ledger):
    client.force_login(make_reader())
    page = client.get(LIST).content.decode()
    assert "457.00" in page and "Sell a gem" not in page
    client.force_login(make_hand())
    assert client.get(LIST).status_code == 403


def test_strangers_are_sent_to_the_door(client, db):
    assert reverse("common:sign_in") in client.get(LIST).url


def test_an_empty_ledger_says_how_to_begin(client, owner):
    page = client.get(LIST).content.decode()
    assert "Nothing sold yet" in page and reverse("gems:gems") in page
