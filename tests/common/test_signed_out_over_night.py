"""A tap on a page left open over night leads through the door back to that page, and tells that nothing was kept."""

import pytest

from tests.makers import make_owner, make_shop

pytestmark = pytest.mark.django_db
DEED, PAGE = "/stones/clock/start/", "http://testserver/stones/bench/?sort=code"


@pytest.fixture(autouse=True)
def owner():
    make_shop()
    return make_owner()


def test_it_leads_back_to_the_page_it_was_sent_from(client, owner):
    answer = client.post(DEED, {"stone": "S-0001"}, headers={"Referer": PAGE})
    assert answer["Location"] == "/sign-in/?next=/stones/bench/%3Fsort%3Dcode"
    client.force_login(owner)
    assert "nothing was kept" in client.get(PAGE).content.decode()


@pytest.mark.parametrize(
    "elsewhere", ["", "https://elsewhere.example/stones/", "javascript:alert(1)", "//elsewhere"]
)
def test_no_page_of_another_place_is_led_to(client, elsewhere):
    answer = client.post(DEED, headers={"Referer": elsewhere})
    assert answer["Location"] == f"/sign-in/?next={DEED}"


def test_a_look_leads_on_to_what_was_looked_for(client):
    answer = client.get("/gems/", headers={"Referer": PAGE})
    assert answer["Location"] == "/sign-in/?next=/gems/"
