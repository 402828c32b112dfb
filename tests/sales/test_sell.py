"""Selling: one gem or several, tax held in the price or on top, looked at first, and never the same gem twice."""

import threading
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection
from django.urls import reverse

from tests.makers import (
    DAY,
    NOON,
    make_contact,
    make_gem,
    make_hand,
    make_lot,
    make_owner,
    make_reader,
    make_shop,
    make_stone,
)
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.gems import actions as gems
from workshop.gems.models import FinishedGem
from workshop.people.models import Contact
from workshop.sales import actions
from workshop.sales.models import Payment, Sale, SaleLine

D = Decimal


def url(gem):
    return reverse("sales:sell", args=[gem.code])


def typed(**said):
    return {
        "price": "119.00", "new_buyer": "Ana Fictiva", "sold_on": "2026-03-03", "channel": "fair", "tax_percent": "19",
        "tax": "included", "paid_way": "cash", **said,
    }  # fmt: skip


@pytest.fixture
def gem(owner):
    return make_gem(by=owner)


def another(owner, price=None):
    made = make_gem(by=owner)
    if price is not None:
        gems.set_price(made, D(price), by=owner, at=NOON)
    return made


def test_a_price_that_holds_the_tax(client, owner, gem):
    answer = client.post(url(gem), typed(fees="3,10", paid="50", notes="blue box"))
    sale = Sale.objects.get()
    assert answer.url == sale.get_absolute_url() == "/sales/SA-0001/"
    # 119.00 at 19 %: 19.00 of tax and 100.00 net.
    assert (sale.net, sale.tax, sale.gross, sale.fees, sale.paid, sale.owed) == (
        D(100), D(19), D(119), D("3.10"), D(50), D(69),
    )  # fmt: skip
    assert (sale.buyer.name, sale.buyer.is_buyer, sale.channel, sale.made_by) == (
        "Ana Fictiva",
        True,
        "fair",
        owner,
    )
    assert Payment.objects.get().way == "cash"
    gem.refresh_from_db()
    assert (gem.gone_as, gem.holder, gem.gone_note) == ("sold", sale.buyer, "SA-0001")
    assert JournalEntry.objects.get(verb="sold").after["gems"] == [gem.code]


def test_tax_on_top_and_paid_in_full(client, owner, gem):
    client.post(url(gem), typed(price="765.60", tax="on_top", paid_in_full="on"))
    sale = Sale.objects.get()
    # 765.60 × 19 % = 145.464, half up 145.46.
    assert (sale.net, sale.tax, sale.gross, sale.owed) == (D("765.60"), D("145.46"), D("911.06"), D(0))
    assert sale.state_word == "paid"


def test_several_gems_share_fees_to_the_cent(client, owner, gem):
    second, third = another(owner, "300.00"), another(owner)
    sent = typed(
        price="100", tax_percent="0", fees="10.00",
        code_1=second.code.lower(), code_3=third.code, price_3="50",
    )  # fmt: skip
    assert client.post(url(gem), sent).status_code == 302
    sale = Sale.objects.get()
    # An empty price takes what is asked; fees by price: 10.00 × 100/450, 300/450, 50/450.
    assert [line.net for line in sale.lines.all()] == [D(100), D(300), D(50)]
    assert [line.fees for line in sale.lines.all()] == [D("2.22"), D("6.67"), D("1.11")]
    assert FinishedGem.objects.filter(gone_as="sold").count() == 3


def test_each_line_rounds_its_own_tax(owner, gem):
    lines = [actions.Asked(one, D("0.05")) for one in (gem, another(owner), another(owner))]
    sale = actions.sell(
        lines, buyer=make_contact(), sold_on=DAY, by=owner, at=NOON, tax_percent=D(10), tax_included=False
    )
    # 0.005 half up is 0.01 on each of three lines.
    assert (sale.net, sale.tax, sale.gross) == (D("0.15"), D("0.03"), D("0.18"))


def test_working_it_out_keeps_nothing(client, owner, gem):
    answer = client.post(url(gem), typed(preview="1", paid_in_full="on"))
    said = answer.content.decode()
    assert answer.status_code == 200
    assert "Nothing is sold yet" in said and "100.00" in said and "19.00" in said
    assert 'value="119.00"' in said and 'value="Ana Fictiva"' in said
    assert not Sale.objects.exists() and not Contact.objects.filter(name="Ana Fictiva").exists()
    assert FinishedGem.objects.get().is_here
    assert not JournalEntry.objects.filter(verb__in=["sold", "paid"]).exists()
    # And the number it would have had is still free.
    assert client.post(url(gem), typed()).url == "/sales/SA-0001/"


def test_working_it_out_says_what_would_be_refused(client, owner, gem):
    answer = client.post(url(gem), typed(preview="1", sold_on="2999-01-01"))
    assert answer.status_code == 422 and answer.context["form"].errors["sold_on"]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"price": ""}, "price"),
        ({"price": "-1"}, "price"),
        ({"price": "1.005"}, "price"),
        ({"price": "dear"}, "price"),
        ({"new_buyer": ""}, "buyer"),
        ({"new_buyer": "   "}, "buyer"),
        ({"buyer": "999999"}, "buyer"),
        ({"sold_on": "2999-01-01"}, "sold_on"),
        ({"sold_on": "2026-03-01"}, "sold_on"),
        ({"sold_on": ""}, "sold_on"),
        ({"channel": "moon"}, "channel"),
        ({"tax_percent": "-19"}, "tax_percent"),
        ({"tax_percent": "101"}, "tax_percent"),
        ({"tax": "perhaps"}, "tax"),
        ({"fees": "-1"}, "fees"),
        ({"paid": "119.01"}, "paid"),
        ({"paid": "-1"}, "paid"),
        ({"paid": "5", "paid_in_full": "on"}, "paid"),
        ({"paid_way": "shells"}, "paid_way"),
        ({"code_1": "G-9999", "price_1": "5"}, "code_1"),
        ({"code_1": "G-0001", "price_1": "5"}, "code_1"),
        ({"price_2": "5"}, "code_2"),
        ({"code_2": "G-0002"}, "price_2"),
    ],
)
def test_bad_input_is_told_beside_its_field_and_nothing_is_sold(client, owner, gem, wrong, field):
    another(owner)
    answer = client.post(url(gem), typed(notes="keep me", **wrong))
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert "keep me" in answer.content.decode()
    assert not Sale.objects.exists()
    assert FinishedGem.objects.in_stock().count() == 2


def test_a_buyer_who_may_be_known_is_asked_about(client, owner, gem):
    make_contact("Ana Fictiva")
    answer = client.post(url(gem), typed())
    assert answer.status_code == 422 and "Ana Fictiva already" in answer.content.decode()
    assert client.post(url(gem), typed(sure="on")).status_code == 302


def test_a_buyer_picked_from_the_list(client, owner, gem):
    known = make_contact("Berta")
    client.post(url(gem), typed(buyer=known.pk, new_buyer=""))
    assert Sale.objects.get().buyer == known
    answer = client.post(url(another(owner)), typed(buyer=known.pk))
    assert answer.context["form"].errors["new_buyer"]


def test_a_clients_gem_is_never_sold(client, owner, gem):
    lot = make_lot(by=owner, ownership="client", owner=make_contact("Clara Client"))
    theirs = make_gem(stone=make_stone(lot=lot, by=owner), by=owner)
    assert "the shop cannot sell it" in client.get(url(theirs)).content.decode()
    answer = client.post(url(theirs), typed())
    assert answer.status_code == 422 and "the shop cannot sell it" in answer.content.decode()
    # Nor hidden among others.
    answer = client.post(url(gem), typed(code_1=theirs.code, price_1="5"))
    assert answer.status_code == 422
    assert not Sale.objects.exists() and FinishedGem.objects.here().count() == 2
    # Nor past every deed: the database refuses it, too.
    with pytest.raises(IntegrityError):
        FinishedGem.objects.filter(pk=theirs.pk).update(gone_as="sold", gone_on=DAY)


def test_a_gem_is_sold_once(client, owner, gem):
    client.post(url(gem), typed())
    answer = client.post(url(gem), typed(new_buyer="Berta"))
    assert answer.status_code == 422 and "is sold already" in answer.content.decode()
    assert "is sold since" in client.get(url(gem)).content.decode()
    assert Sale.objects.count() == 1
    line = SaleLine.objects.get()
    with pytest.raises(IntegrityError):
        SaleLine.objects.create(sale=line.sale, gem=gem, price=1, net=1, tax=0)


def test_a_lost_gem_is_not_sold(client, owner, gem):
    gems.let_go(gem, gone_as="lost", on=DAY, note="in the post", by=owner, at=NOON)
    answer = client.post(url(gem), typed())
    assert answer.status_code == 422 and "is lost since" in answer.content.decode()


def test_the_same_gem_twice_in_one_sale_is_refused(owner, gem):
    with pytest.raises(DeedRefused, match="twice"):
        actions.sell([actions.Asked(gem, D(1))] * 2, buyer=make_contact(), sold_on=DAY, by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="at least one"):
        actions.sell([], buyer=make_contact(), sold_on=DAY, by=owner, at=NOON)


def test_a_form_sent_twice_sells_once(client, owner, gem):
    sent = typed(once="one", paid_in_full="on")
    assert client.post(url(gem), sent).url == client.post(url(gem), sent).url
    assert (Sale.objects.count(), Payment.objects.count()) == (1, 1)


def test_a_sale_of_nobodys_is_allowed(owner, gem):
    """The demo and an import have no hand; a blank author used to refuse the sale."""
    sale = actions.sell([actions.Asked(gem, D(1))], buyer=make_contact(), sold_on=DAY, by=None, at=NOON)
    assert sale.made_by is None


def test_what_was_given_away_for_nothing_still_is_a_sale(owner, gem):
    sale = actions.sell(
        [actions.Asked(gem, D(0)), actions.Asked(another(owner), D(0))],
        buyer=make_contact(), sold_on=DAY, by=owner, at=NOON, fees=D("0.03"), paid_in_full=True,
    )  # fmt: skip
    assert [line.fees for line in sale.lines.all()] == [D("0.02"), D("0.01")]
    assert (sale.gross, sale.owed) == (D(0), D(0))


@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_only_the_owner_sells(client, gem, maker):
    client.force_login(maker())
    assert client.get(url(gem)).status_code == 403
    assert client.post(url(gem), typed()).status_code == 403
    assert not Sale.objects.exists()


def test_an_unknown_gem_is_not_there_and_a_stranger_is_sent_to_the_door(client, owner, gem):
    assert client.get(reverse("sales:sell", args=["G-9999"])).status_code == 404
    client.logout()
    assert reverse("common:sign_in") in client.get(url(gem)).url


def test_the_page_defers_to_local_law(client, owner, gem):
    assert "your local law comes first" in client.get(url(gem)).content.decode()


@pytest.mark.django_db(transaction=True)
def test_two_hands_sell_one_gem_at_once_and_one_of_them_is_told(client):
    make_shop()
    owner = make_owner()
    gem = make_gem(by=owner)
    buyers = [make_contact(f"Buyer {number}") for number in range(2)]
    together, sold, refused, broken = threading.Barrier(2), [], [], []

    def run(buyer):
        try:
            together.wait()
            sold.append(
                actions.sell([actions.Asked(gem, D(100))], buyer=buyer, sold_on=DAY, by=owner, at=NOON)
            )
        except DeedRefused as refusal:
            refused.append(refusal)
        except Exception as error:
            broken.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(buyer,)) for buyer in buyers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not broken
    assert (len(sold), len(refused)) == (1, 1)
    assert "is sold already" in refused[0].message
    assert Sale.objects.get().code == "SA-0001"
    assert SaleLine.objects.count() == 1
