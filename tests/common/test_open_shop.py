"""A new shop: the one-time link makes the owner, the first steps open the shop, and then the link is worth nothing."""

import time

import pytest
from django.core import signing
from django.core.management import call_command
from django.urls import reverse

from workshop.common.actions import owner_token
from workshop.common.models import Hand, JournalEntry, Shop

pytestmark = pytest.mark.django_db
GOOD = {"username": "oona", "password": "north light and slow water", "again": "north light and slow water"}
STEPS = {
    "name": "Lantern Lane Cutters", "cutter": "Oona Vey", "currency": "EUR", "zone": "Europe/Lisbon",
    "hourly_rate": "45,50", "rough_unit": "g", "weight_unit": "ct", "scale_step": "0.001 g", "tax_percent": "",
}  # fmt: skip


def link():
    return reverse("common:open_shop", args=[owner_token()])


def test_it_works(client):
    answer = client.post(link(), GOOD)
    assert answer.status_code == 302
    assert answer.url == reverse("common:first_steps")
    owner = Hand.objects.get()
    assert owner.role == "owner" and owner.runs_the_shop and owner.is_superuser
    assert client.get("/").url == reverse("common:first_steps")

    assert client.post(reverse("common:first_steps"), STEPS).status_code == 302
    shop = Shop.the()
    assert (shop.name, str(shop.hourly_rate), str(shop.scale_step_ct)) == (
        "Lantern Lane Cutters",
        "45.500",
        "0.005",
    )
    assert client.get("/").status_code == 200
    assert set(JournalEntry.objects.values_list("verb", flat=True)) == {"let in", "described shop"}


def test_the_link_works_once(client):
    first, second = link(), link()
    client.post(first, GOOD)
    client.logout()
    for used in (first, second):
        assert client.post(used, {**GOOD, "username": "other"}).status_code == 302
    assert Hand.objects.count() == 1


def test_the_command_prints_the_link_only_for_a_shop_without_owner(client, capsys):
    call_command("owner_link")
    path = capsys.readouterr().out.strip()
    assert client.get(path).status_code == 200
    client.post(path, GOOD)
    call_command("owner_link")
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    "token",
    ["guessed", signing.TimestampSigner(salt="another").sign("x")],
    ids=["guessed", "signed elsewhere"],
)
def test_a_made_up_link_makes_nobody(client, token):
    answer = client.post(reverse("common:open_shop", args=[token]), GOOD)
    assert answer.status_code == 422
    assert not Hand.objects.exists()


def test_an_old_link_makes_nobody(client, monkeypatch):
    now = time.time
    monkeypatch.setattr(time, "time", lambda: now() - 90_000)
    path = link()
    monkeypatch.undo()
    assert client.post(path, GOOD).status_code == 422
    assert not Hand.objects.exists()


@pytest.mark.parametrize(
    ("password", "again"),
    [("short", "short"), ("password1234", "password1234"), ("a long enough one", "another one entirely")],
)  # fmt: skip
def test_a_weak_or_mistyped_password_is_told_beside_the_field(client, password, again):
    answer = client.post(link(), {"username": "oona", "password": password, "again": again})
    assert answer.status_code == 422
    assert not Hand.objects.exists()


@pytest.mark.parametrize(
    ("field", "typed"),
    [("name", ""), ("currency", "XXQ"), ("zone", "Atlantis/Deep"), ("hourly_rate", "-3"), ("hourly_rate", "1.234"),
     ("scale_step", "0"), ("tax_percent", "150"), ("base_url", "not an address")],
)  # fmt: skip
def test_first_steps_tell_what_is_wrong_and_keep_what_was_typed(client, field, typed):
    client.post(link(), GOOD)
    answer = client.post(reverse("common:first_steps"), {**STEPS, field: typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {field}
    assert "Lantern Lane Cutters" in answer.content.decode() or field == "name"
    assert Shop.the().set_up_at is None


def test_the_currency_is_fixed_once_the_shop_is_open(client):
    client.post(link(), GOOD)
    client.post(reverse("common:first_steps"), STEPS)
    client.post(reverse("common:shop"), {**STEPS, "currency": "USD", "name": "Renamed"})
    assert (Shop.the().currency, Shop.the().name) == ("EUR", "Renamed")
