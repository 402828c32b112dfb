"""The shop's own gem sold on a commission: the sum stands on the commission's account and nowhere else, to the cent."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.commissions.deliveries import (
    GOES,
    LATER,
    accept,
    make_spinel_commission,
    own_gem_for,
    own_item,
)
from tests.makers import DAY, NOON, make_commission, make_contact, make_gem, make_hand, make_reader
from workshop.books import questions
from workshop.commissions.actions import account, delivery
from workshop.commissions.models import Charge, Commission
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.gems.models import FinishedGem
from workshop.sales import actions
from workshop.sales.models import Payment, Sale

D = Decimal


@pytest.fixture
def commission(owner):
    return make_commission(items=[own_item(), own_item()], by=owner, state="in_work")


@pytest.fixture
def gem(owner, commission):
    return own_gem_for(commission.items.get(number=1), owner)


def sell(commission, owner, *asked, **said):
    said = {"buyer": commission.client, "sold_on": DAY, **said}
    lines = [actions.Asked(gem, D(price)) for gem, price in asked]
    return actions.sell(lines, commission=commission, by=owner, at=LATER, **said)


def fresh(commission):
    return Commission.objects.get(pk=commission.pk)


def url(gem, commission):
    return reverse("sales:sell", args=[gem.code]) + f"?commission={commission.code}"


def typed(**said):
    return {
        "price": "765.60", "sold_on": "2026-03-03", "channel": "workshop", "tax_percent": "19", "tax": "included", **said,
    }  # fmt: skip


def test_the_debt_stands_on_the_commission_alone(owner, commission, gem):
    sale = sell(commission, owner, (gem, "765.60"), tax_percent=D(19))
    charge = Charge.objects.get()
    # 765.60 × 19/119 = 122.238, half up 122.24; net 643.36.
    assert (charge.net, charge.tax, charge.gross) == (D("643.36"), D("122.24"), D("765.60"))
    assert (charge.net, charge.tax, charge.gross) == (sale.net, sale.tax, sale.gross)
    assert (charge.kind, charge.item.number, sale.lines.get().charge) == ("stone", 1, charge)
    assert (sale.owed, sale.state_word) == (D(0), "on a commission")
    assert [(one.way, one.amount) for one in Payment.objects.all()] == [("commission", D("765.60"))]
    assert fresh(commission).balance == D("765.60")


def test_tax_on_top_agrees_gem_by_gem(owner, commission, gem):
    second = own_gem_for(commission.items.get(number=2), owner)
    sale = sell(commission, owner, (gem, "0.05"), (second, "0.05"), tax_percent=D(10), tax_included=False)
    # 0.005 half up is 0.01 on each: 0.12 in all, where 10 % of 0.10 together would have been 0.11.
    assert (sale.net, sale.tax, sale.gross) == (D("0.10"), D("0.02"), D("0.12"))
    assert fresh(commission).balance == D("0.12")
    assert [(one.net, one.tax) for one in Charge.objects.all()] == [(D("0.05"), D("0.01"))] * 2


def test_the_margin_of_the_sale_is_still_its_own(owner, commission, gem):
    sale = sell(commission, owner, (gem, "119.00"), tax_percent=D(19), fees=D("3.10"))
    assert (sale.net, sale.fees, sale.margin) == (D(100), D("3.10"), D("96.90") - sale.cost)


def test_open_sums_do_not_count_it_twice(owner, commission, gem):
    sell(commission, owner, (gem, "765.60"))
    told = questions.what_needs_an_answer(owner, LATER, "EUR")
    assert told.unpaid == [] and told.unpaid_count == 0
    assert [one.code for one in told.owed_commissions] == [commission.code]
    assert told.owed_in_all == D("765.60")
    actions.sell(
        [actions.Asked(make_gem(by=owner), D(100))], buyer=make_contact(), sold_on=DAY, by=owner, at=LATER
    )
    told = questions.what_needs_an_answer(owner, LATER, "EUR")
    assert (len(told.unpaid), told.owed_in_all) == (1, D("865.60"))


def test_taking_the_sale_back_takes_the_charge_back(owner, commission, gem):
    sale = sell(commission, owner, (gem, "765.60"), tax_percent=D(19))
    account.pay(commission, amount=D(500), on=DAY, by=owner, at=LATER)
    sale = actions.cancel_sale(sale, reason="she changed her mind", on=GOES, by=owner, at=LATER)
    assert (sale.paid, sale.owed) == (D(0), D(0))
    # What she paid stays on the account: the shop owes it.
    assert (fresh(commission).charged, fresh(commission).balance) == (D(0), D(-500))
    gem.refresh_from_db()
    assert gem.is_here and gem.place == "safe"
    account.refund(commission, amount=D(500), on=GOES, by=owner, at=LATER)
    assert fresh(commission).balance == 0
    # And it may be sold anew, on the same piece.
    assert sell(commission, owner, (gem, "700.00")).code == "SA-0002"
    assert fresh(commission).balance == D(700)


def test_a_delivered_piece_is_open_again_when_its_sale_is_taken_back(owner, commission, gem):
    item = commission.items.get(number=1)
    sale = sell(commission, owner, (gem, "700.00"))
    delivery.deliver(
        commission,
        items=[item],
        on=GOES,
        how="by hand",
        sure=True,
        base_url="https://x.example",
        by=owner,
        at=LATER,
    )
    actions.cancel_sale(sale, reason="windows", on=GOES, by=owner, at=LATER)
    item.refresh_from_db()
    assert (item.outcome, item.given_back_ct) == ("open", None)
    assert "came back: SA-0001: windows" in item.outcome_note


def test_a_sale_is_taken_back_after_the_commission_closed(owner, commission, gem):
    commission.items.filter(number=2).update(outcome="dropped", outcome_on=DAY)
    item = commission.items.get(number=1)
    sale = sell(commission, owner, (gem, "700.00"))
    account.pay(commission, amount=D(700), on=DAY, by=owner, at=LATER)
    delivery.deliver(
        commission, items=[item], on=GOES, how="by hand", base_url="https://x.example", by=owner, at=LATER
    )
    delivery.close_commission(commission, on=GOES, by=owner, at=LATER)
    with pytest.raises(DeedRefused, match="give the difference as a credit"):
        actions.lower_price(sale.lines.get(), D(600), reason="chip", on=GOES, by=owner, at=LATER)
    actions.cancel_sale(sale, reason="sent back in time", on=GOES, by=owner, at=LATER)
    item.refresh_from_db()
    assert item.outcome == "delivered" and fresh(commission).balance == D(-700)


def test_a_lower_price_follows_on_the_account_to_the_cent(owner, commission, gem):
    """Scenario 8: 1,196.80 lowered to 766.70 is 430.10 less."""
    sale = sell(commission, owner, (gem, "1196.80"), tax_percent=D(19))
    account.pay(commission, amount=D("1196.80"), on=DAY, by=owner, at=LATER)
    sale = actions.lower_price(
        sale.lines.get(), D("766.70"), reason="her laboratory found it heated", on=GOES, by=owner, at=LATER
    )
    assert (sale.gross, sale.paid, sale.owed) == (D("766.70"), D("766.70"), D(0))
    assert (fresh(commission).charged, fresh(commission).balance) == (D("766.70"), D("-430.10"))
    standing = sale.lines.get().charge
    # 766.70 × 19/119 = 122.414, half up 122.41.
    assert (standing.net, standing.tax) == (D("644.29"), D("122.41")) == (sale.net, sale.tax)
    actions.lower_price(sale.lines.get(), D(0), reason="a present", on=GOES, by=owner, at=LATER)
    assert fresh(commission).charged == 0 and sale.lines.get().charge is None


def test_its_charge_is_not_taken_back_by_hand(owner, commission, gem):
    sell(commission, owner, (gem, "700.00"))
    with pytest.raises(DeedRefused, match="take its sale back"):
        account.take_back_charge(Charge.objects.get(), reason="wrong", by=owner, at=LATER)
    assert fresh(commission).balance == D(700)


@pytest.mark.parametrize("said", [{"paid": D(5)}, {"paid_in_full": True}])
def test_money_is_booked_on_the_account_only(owner, commission, gem, said):
    with pytest.raises(DeedRefused, match="goes on the account of C-0001"):
        sell(commission, owner, (gem, "700.00"), **said)
    sale = sell(commission, owner, (gem, "700.00"))
    for amount in (D(-5), D(5)):
        with pytest.raises(DeedRefused, match="stands on the account of C-0001"):
            actions.pay(sale, amount=amount, on=DAY, by=owner, at=LATER)
    for deed in (
        actions.cancel_sale,
        lambda sale, **said: actions.lower_price(sale.lines.get(), D(1), **said),
    ):
        with pytest.raises(DeedRefused, match="what goes back is booked there"):
            deed(sale, reason="x", on=GOES, refund=D(5), by=owner, at=LATER)
    assert Payment.objects.count() == 1


def test_another_sale_is_never_settled_by_an_account(owner, gem):
    plain = actions.sell(
        [actions.Asked(make_gem(by=owner), D(100))], buyer=make_contact(), sold_on=DAY, by=owner, at=LATER
    )
    with pytest.raises(DeedRefused, match="Only a sale on a commission"):
        actions.pay(plain, amount=D(100), way="commission", on=DAY, by=owner, at=LATER)


def test_who_and_what_may_be_sold_on_it(owner, commission, gem):
    with pytest.raises(DeedRefused, match="nobody else buys on it"):
        sell(commission, owner, (gem, "5"), buyer=make_contact("Berta"))
    with pytest.raises(DeedRefused, match="fulfils no piece"):
        sell(commission, owner, (make_gem(by=owner), "5"))
    with pytest.raises(DeedRefused, match="was asked for on"):
        sell(commission, owner, (gem, "5"), sold_on=DAY.replace(day=1))
    Commission.objects.filter(pk=commission.pk).update(currency="USD")
    with pytest.raises(DeedRefused, match="kept in USD"):
        sell(commission, owner, (gem, "5"))
    Commission.objects.filter(pk=commission.pk).update(currency="EUR", state="cancelled", closed_on=DAY)
    with pytest.raises(DeedRefused, match="cancelled"):
        sell(commission, owner, (gem, "5"))
    gem.refresh_from_db()
    assert gem.is_here and not Sale.objects.exists() and not Charge.objects.exists()


def test_a_clients_stone_is_never_sold_on_its_own_commission(owner):
    theirs, _item, spinel = make_spinel_commission(owner)
    with pytest.raises(DeedRefused, match="the shop cannot sell it"):
        sell(theirs, owner, (spinel, "5"))


def test_work_charged_already_is_asked_about(owner, commission, gem):
    account.charge(
        commission, kind="work", words="cutting", gross=D(300), item=commission.items.get(number=1), on=DAY,
        by=owner, at=NOON,
    )  # fmt: skip
    with pytest.raises(PleaseConfirm, match=r"300\.00.EUR for work on piece 1"):
        sell(commission, owner, (gem, "640.00"))
    sell(commission, owner, (gem, "640.00"), sure=True)
    assert fresh(commission).charged == D(940)


def test_the_page_begins_with_buyer_and_agreed_price(client, owner, commission, gem):
    item = commission.items.get(number=1)
    firm = {"price_low": D(650), "price": D(650), "price_high": D(650)}
    accept(commission, {item: firm}, firm=True, tax_percent=D(19), tax_included=False)
    page = client.get(url(gem, commission))
    said, form = page.content.decode(), page.context["form"]
    assert commission.client.name in said and "650.00" in said and "version 1" in said
    assert (form["price"].initial, form["tax"].initial, form["tax_percent"].initial) == (
        D("650.00"),
        "on_top",
        "19",
    )
    assert "new_buyer" not in form.fields and "paid" not in form.fields
    answer = client.post(url(gem, commission), typed())
    sale = Sale.objects.get()
    assert answer.url == sale.get_absolute_url()
    assert (sale.commission, sale.buyer) == (commission, commission.client)
    shown = client.get(answer.url).content.decode()
    assert "On the account of" in shown and commission.get_absolute_url() in shown
    assert reverse("sales:pay", args=[sale.code]) not in shown
    assert "It lies here until it is handed over" in client.get(gem.get_absolute_url()).content.decode()
    listed = client.get(reverse("sales:sales")).content.decode()
    assert "on a commission" in listed


def test_working_it_out_keeps_nothing(client, owner, commission, gem):
    answer = client.post(url(gem, commission), typed(preview="1"))
    assert answer.status_code == 200 and "765.60" in answer.content.decode()
    assert not Sale.objects.exists() and not Charge.objects.exists() and fresh(commission).balance == 0


@pytest.mark.parametrize(
    ("wrong", "field"),
    [({"price": "-1"}, "price"), ({"sold_on": "2999-01-01"}, "sold_on"), ({"tax": "x"}, "tax")],
)
def test_bad_input_stays_beside_its_field(client, owner, commission, gem, wrong, field):
    answer = client.post(url(gem, commission), typed(notes="keep me", **wrong))
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    assert "keep me" in answer.content.decode() and not Sale.objects.exists()


def test_the_pages_of_its_deeds_pay_nothing_out(client, owner, commission, gem):
    sale = sell(commission, owner, (gem, "700.00"))
    for name in ("lower", "cancel"):
        form = client.get(reverse(f"sales:{name}", args=[sale.code])).context["form"]
        assert "refund" not in form.fields and "way" not in form.fields
    answer = client.post(reverse("sales:pay", args=[sale.code]),
                         {"direction": "came", "amount": "5", "on": "2026-03-03", "way": "cash"})  # fmt: skip
    assert answer.status_code == 422
    client.post(reverse("sales:cancel", args=[sale.code]), {"reason": "changed her mind", "on": "2026-03-03"})
    assert fresh(commission).charged == 0 and FinishedGem.objects.get(pk=gem.pk).is_here


def test_no_form_offers_the_account_as_a_way_to_pay(client, owner, commission, gem):
    plain = reverse("sales:sell", args=[gem.code])
    answer = client.post(plain, typed(new_buyer="Ana Fictiva", paid_way="commission", paid="5"))
    assert answer.status_code == 422 and answer.context["form"].errors["paid_way"]


def test_an_unknown_commission_is_not_there_and_only_the_owner_sells(client, owner, commission, gem):
    page = reverse("sales:sell", args=[gem.code])
    assert client.get(page + "?commission=C-9999").status_code == 404
    assert client.get(page + "?commission=%00").status_code == 404
    for maker in (make_hand, make_reader):
        client.force_login(maker())
        assert client.get(url(gem, commission)).status_code == 403
        assert client.post(url(gem, commission), typed()).status_code == 403
    assert not Sale.objects.exists()
