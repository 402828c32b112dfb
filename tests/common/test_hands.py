"""Who may sign in: the owner lets people in, changes their part, gives passwords; a shop keeps at least one owner."""

import pytest
from django.urls import reverse

from tests.makers import make_hand, make_owner, make_reader, make_shop
from workshop.common.models import Hand

pytestmark = pytest.mark.django_db
PHRASE = "slate roofs after the rain"


@pytest.fixture
def owner(client):
    make_shop()
    owner = make_owner()
    client.force_login(owner)
    return owner


def new_hand(**said):
    return {
        "username": "hal", "full_name": "Hal Odry", "role": "hand", "hourly_rate": "", "password": PHRASE, "again": PHRASE,
        **said,
    }  # fmt: skip


def test_it_works(client, owner):
    assert client.post(reverse("common:add_hand"), new_hand()).status_code == 302
    hand = Hand.objects.get(username="hal")
    assert (hand.get_full_name(), hand.role, hand.is_staff) == ("Hal Odry", "hand", False)
    assert hand.check_password(PHRASE)


def test_the_same_name_twice_is_refused_beside_the_field(client, owner):
    client.post(reverse("common:add_hand"), new_hand())
    answer = client.post(reverse("common:add_hand"), new_hand())
    assert answer.status_code == 422
    assert "username" in answer.context["form"].errors
    assert Hand.objects.filter(username="hal").count() == 1


def test_a_part_and_a_rate_are_changed(client, owner):
    hand = make_hand()
    page = reverse("common:change_hand", args=[hand.pk])
    assert client.post(page, {"role": "reader", "hourly_rate": "38.00", "is_active": "on"}).status_code == 302
    hand.refresh_from_db()
    assert (hand.role, str(hand.hourly_rate)) == ("reader", "38.000")


@pytest.mark.parametrize("change", [{"role": "hand", "is_active": "on"}, {"role": "owner"}])
def test_the_last_owner_stays_owner_and_may_sign_in(client, owner, change):
    answer = client.post(reverse("common:change_hand", args=[owner.pk]), {"hourly_rate": "", **change})
    assert answer.status_code == 422
    owner.refresh_from_db()
    assert owner.role == "owner" and owner.is_active


def test_who_may_not_sign_in_any_more_is_out_at_once(client, owner):
    hand = make_hand()
    other = client.__class__()
    other.force_login(hand)
    assert other.get("/").status_code == 200
    client.post(reverse("common:change_hand", args=[hand.pk]), {"role": "hand", "hourly_rate": ""})
    assert other.get("/").status_code == 302


def test_a_new_password_ends_the_others_sessions(client, owner):
    hand = make_hand()
    other = client.__class__()
    other.force_login(hand)
    answer = client.post(reverse("common:password", args=[hand.pk]), {"password": PHRASE, "again": PHRASE})
    assert answer.status_code == 302
    assert other.get("/").status_code == 302
    hand.refresh_from_db()
    assert hand.check_password(PHRASE)


@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_others_change_only_their_own_password(client, owner, maker):
    person = maker()
    client.force_login(person)
    assert client.get(reverse("common:hands")).status_code == 403
    assert client.get(reverse("common:password", args=[owner.pk])).status_code == 404
    answer = client.post(reverse("common:password", args=[person.pk]), {"password": PHRASE, "again": PHRASE})
    assert answer.status_code == 302
    assert client.get("/").status_code == 200


def test_a_name_longer_than_the_journal_can_keep_is_refused_beside_its_field(client, owner):
    answer = client.post(reverse("common:add_hand"), new_hand(username="h" * 41))
    assert answer.status_code == 422
    assert "username" in answer.context["form"].errors
    assert not Hand.objects.filter(username__startswith="hh").exists()
