"""The pages of a delivery: what they offer, what they refuse beside its field, and who may open them."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.commissions.deliveries import (
    bring_spinel,
    charge_and_pay,
    finish_spinel,
    make_spinel_commission,
    own_gem_for,
    own_item,
    spinel_item,
)
from tests.makers import make_commission, make_hand, make_owner, make_reader, make_shop
from workshop.commissions.models import Delivery
from workshop.gems.models import FinishedGem
from workshop.papers.models import Paper

D = Decimal


@pytest.fixture
def owner(client, db):
    make_shop(base_url="https://cards.example")
    person = make_owner()
    client.force_login(person)
    return person


@pytest.fixture
def spinel(owner):
    return make_spinel_commission(owner)


def url(name, commission, *more):
    return reverse(f"commissions:{name}", args=[commission.code, *more])


def typed(item, **said):
    return {"items": [item.pk], "on": "2026-03-12", "how": "registered post", **said}


def hand_over(client, commission, item, **said):
    return client.post(url("deliver", commission), typed(item, **said))


def test_a_piece_is_handed_over_and_noted_as_arrived(client, owner, spinel):
    commission, item, gem = spinel
    page = client.get(url("deliver", commission)).content.decode()
    # Scenario 6: 0.75 ct of 3.46 ct is 21.7 %.
    assert "0.750" in page and "21.7" in page and gem.code in page and "inside the" in page
    assert "Box in a box" in page and "American Gem Society" in page
    answer = hand_over(
        client, commission, item, declared_value="840,10", insured_by="her policy", tracking="RR 12"
    )
    made = Delivery.objects.get()
    assert answer.url == made.get_absolute_url() == "/commissions/C-0001/delivery/DL-0001/"
    assert (made.declared_value, made.insured_by, made.how) == (D("840.10"), "her policy", "registered post")
    page = client.get(answer.url).content.decode()
    assert made.note.number in page and "840.10" in page and "RR 12" in page and "on its way" in page
    arrived = url("arrived", commission, made.code)
    assert client.post(arrived, {"on": "2026-03-14", "received_by": "Mara"}).url == made.get_absolute_url()
    assert "arrived" in client.get(made.get_absolute_url()).content.decode()
    assert client.post(arrived, {"on": "2026-03-14"}).status_code == 422


def test_what_is_owed_is_asked_about_on_the_page(client, owner):
    commission, item, _gem = make_spinel_commission(owner, charged=False)
    charge_and_pay(commission, item, owner, paid="100.00")
    answer = hand_over(client, commission, item, condition="one feather")
    page = answer.content.decode()
    assert answer.status_code == 422 and "120.00" in page and "one feather" in page and 'name="sure"' in page
    assert not Delivery.objects.exists()
    assert hand_over(client, commission, item, sure="on").status_code == 302


def test_an_own_gem_leads_to_its_sale(client, owner):
    commission = make_commission(items=[own_item()], by=owner, state="in_work")
    gem = own_gem_for(commission.items.get(), owner)
    page = client.get(url("deliver", commission)).content.decode()
    assert reverse("sales:sell", args=[gem.code]) + f"?commission={commission.code}" in page
    answer = hand_over(client, commission, commission.items.get())
    assert answer.status_code == 422 and "sell it on C-0001 first" in answer.content.decode()


def test_a_value_told_by_the_client_is_offered(client, owner):
    commission = make_commission(items=[spinel_item()], by=owner, state="in_work")
    item = commission.items.get()
    stone = bring_spinel(
        commission,
        item,
        owner,
        declared_value=D(800),
        declared_currency="EUR",
        declared_words="800 euros, Mara says",
    )
    finish_spinel(stone, owner)
    form = client.get(url("deliver", commission)).context["form"]
    assert form["declared_value"].initial == D("800.00")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"items": []}, "items"),
        ({"items": ["999999"]}, "items"),
        ({"items": ["x"]}, "items"),
        ({"on": "2999-01-01"}, "on"),
        ({"on": "2026-03-01"}, "on"),
        ({"on": ""}, "on"),
        ({"how": ""}, "how"),
        ({"how": "x" * 121}, "how"),
        ({"declared_value": "-1"}, "declared_value"),
        ({"declared_value": "dear"}, "declared_value"),
        ({"declared_value": "1.005"}, "declared_value"),
    ],
)
def test_bad_input_stays_beside_its_field(client, owner, spinel, wrong, field):
    commission, item, _gem = spinel
    answer = hand_over(client, commission, item, **{"condition": "keep me", **wrong})
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    assert "keep me" in answer.content.decode()
    assert not Delivery.objects.exists() and FinishedGem.objects.get().is_here


def test_another_commissions_piece_is_refused(client, owner, spinel):
    commission, _item, _gem = spinel
    other = make_commission(commission.client, items=[spinel_item()], by=owner, state="in_work")
    assert hand_over(client, commission, other.items.get()).status_code == 422
    assert not Delivery.objects.exists()


def test_a_form_sent_twice_hands_over_once(client, owner, spinel):
    commission, item, _gem = spinel
    first = hand_over(client, commission, item, once="one")
    assert first.url == hand_over(client, commission, item, once="one").url
    assert (Delivery.objects.count(), Paper.objects.filter(kind="handing_over").count()) == (1, 1)


def test_closing(client, owner):
    commission, item, _gem = make_spinel_commission(owner, charged=False)
    charge_and_pay(commission, item, owner, paid="200.00")
    closing = url("close_account", commission)
    answer = client.post(closing, {"on": "2026-03-12"})
    assert answer.status_code == 422 and "has not ended yet" in answer.content.decode()
    hand_over(client, commission, item, sure="on")
    answer = client.post(closing, {"on": "2026-03-12"})
    assert answer.status_code == 422 and answer.context["form"].errors["reason"]
    assert (
        client.post(closing, {"on": "2026-03-12", "reason": "written off"}).url
        == commission.get_absolute_url()
    )
    commission.refresh_from_db()
    assert (commission.state, commission.closed_why) == ("delivered", "written off")
    assert client.post(closing, {"on": "2026-03-12"}).status_code == 422


def test_a_delivery_of_another_commission_is_not_there(client, owner, spinel):
    commission, item, _gem = spinel
    hand_over(client, commission, item)
    other = make_commission(commission.client, by=owner)
    for name in ("delivery", "arrived"):
        assert client.get(url(name, other, "DL-0001")).status_code == 404
        assert client.get(url(name, commission, "DL-9999")).status_code == 404
    assert client.get(reverse("commissions:deliver", args=["C-9999"])).status_code == 404


def test_who_may(client, owner, spinel):
    commission, item, _gem = spinel
    hand_over(client, commission, item)
    deeds = [
        url("deliver", commission),
        url("arrived", commission, "DL-0001"),
        url("close_account", commission),
    ]
    looks = [url("delivery", commission, "DL-0001")]
    for maker, may_look in ((make_hand, 403), (make_reader, 200)):
        client.force_login(maker())
        assert {client.get(one).status_code for one in deeds} == {403}
        assert {client.post(one, typed(item)).status_code for one in deeds} == {403}
        assert {client.get(one).status_code for one in looks} == {may_look}
    client.logout()
    assert all(reverse("common:sign_in") in client.get(one).url for one in deeds + looks)
    assert Delivery.objects.count() == 1 and Delivery.objects.get().arrived_on is None
