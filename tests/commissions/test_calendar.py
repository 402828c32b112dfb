"""The calendar of promised weeks, read back by another library (vobject) and line by line after RFC 5545."""

import uuid
from datetime import date, timedelta

import pytest
import vobject
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.makers import (
    NOON,
    make_commission,
    make_contact,
    make_hand,
    make_item_spec,
    make_owner,
    make_reader,
    make_shop,
)
from workshop.commissions import ical
from workshop.commissions.actions import hours as actions
from workshop.commissions.models import CalendarLink, Commission
from workshop.common import journal
from workshop.common.errors import DeedRefused

pytestmark = pytest.mark.django_db
MONDAY = date(2026, 3, 9)
PAGE = "/commissions/calendar/"


@pytest.fixture
def owner(client):
    make_shop(name="Öhmd & Söhne; cutters, \\ stones")
    made = make_owner()
    client.force_login(made)
    return made


@pytest.fixture
def link(owner):
    return actions.make_calendar_link(owner, at=NOON)


def promise(due=MONDAY, pieces=1, state="accepted", client=None, **said):
    made = make_commission(client=client, items=[make_item_spec() for _ in range(pieces)], **said)
    closed = MONDAY if state in {"delivered", "declined", "cancelled"} else None
    Commission.objects.filter(pk=made.pk).update(state=state, due_on=due, closed_on=closed)
    made.refresh_from_db()
    return made


def fetch(link):
    """As a calendar program asks: no session, no cookie."""
    return Client().get(ical.address_of(link))


def events(link):
    read = vobject.readOne(fetch(link).content.decode())
    return {one.summary.value.partition(",")[0]: one for one in read.contents.get("vevent", [])}


# --- What another library reads -----------------------------------------------------------------------------------


def test_an_all_day_event_for_the_promised_week(link):
    made = promise(pieces=2)
    event = events(link)[made.code]
    assert event.summary.value == f"{made.code}, 2 pieces"
    # RFC 5545, 3.6.1: DTEND of an all-day event is the day after the last one.
    assert (event.dtstart.value, event.dtend.value) == (MONDAY, MONDAY + timedelta(days=7))
    assert event.dtstart.params["VALUE"] == ["DATE"]
    uuid.UUID(event.uid.value)
    assert event.transp.value == "TRANSPARENT"


def test_a_promise_within_a_week_is_that_week(link):
    made = promise(due=MONDAY + timedelta(days=4))
    assert events(link)[made.code].dtstart.value == MONDAY


@pytest.mark.parametrize(
    ("state", "there"),
    [
        ("enquiry", True), ("quoted", True), ("accepted", True), ("in_work", True),
        ("delivered", False), ("declined", False), ("cancelled", False),
    ],
)  # fmt: skip
def test_standing_commissions_only(link, state, there):
    made = promise(state=state)
    assert (made.code in events(link)) is there


def test_no_week_no_event_and_an_empty_calendar_is_still_one(link):
    promise(due=None)
    read = vobject.readOne(fetch(link).content.decode())
    assert read.name == "VCALENDAR" and "vevent" not in read.contents


def test_pieces_that_ended_do_not_count(link):
    made = promise(pieces=3)
    made.items.filter(number=1).update(outcome="dropped", outcome_on=MONDAY)
    assert events(link)[made.code].summary.value.endswith("2 pieces")


def test_the_same_event_for_ever_and_a_sequence_that_grows(link, owner):
    made = promise()
    before = events(link)[made.code]
    Commission.objects.filter(pk=made.pk).update(due_on=MONDAY + timedelta(days=7))
    journal.note("put off", made.code, by=owner, at=NOON)
    after = events(link)[made.code]
    assert after.uid.value == before.uid.value
    assert int(after.sequence.value) > int(before.sequence.value)
    assert after.last_modified.value >= before.last_modified.value
    # Without a METHOD, DTSTAMP is when it was last revised (RFC 5545, 3.8.7.2).
    assert after.dtstamp.value == after.last_modified.value
    assert after.dtstamp.value.utcoffset() == timedelta(0)
    # Unchanged records give the same bytes.
    assert fetch(link).content == fetch(link).content


def test_two_commissions_are_two_events(link):
    codes = {promise().code, promise().code}
    found = events(link)
    assert set(found) == codes
    assert len({one.uid.value for one in found.values()}) == 2


def test_a_hundred_years_of_promises_cost_two_queries_more_than_none(link):
    def cost():
        with CaptureQueriesContext(connection) as asked:
            fetch(link)
        return len(asked)

    promise()
    few = cost()
    for _ in range(5):
        promise(pieces=2)
    assert cost() == few


# --- Line by line -------------------------------------------------------------------------------------------------


def test_the_text_itself(link):
    promise()
    answer = fetch(link)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    text = answer.content
    # RFC 5545, 3.1: lines end with CRLF and have no more than 75 octets; a folded line goes on with a blank.
    lines = text.split(b"\r\n")
    assert lines[-1] == b"" and b"\n" not in b"".join(lines)
    assert all(len(line) <= 75 for line in lines)
    unfolded = text.replace(b"\r\n ", b"").decode().split("\r\n")
    # 3.3.11: backslash, semicolon and comma are escaped in TEXT.
    assert "NAME:Öhmd & Söhne\\; cutters\\, \\\\ stones: promised weeks" in unfolded
    assert unfolded[0] == "BEGIN:VCALENDAR" and "VERSION:2.0" in unfolded
    # 3.7.3, 3.7.4, 3.6.1: what must stand in a calendar and in an event, once.
    for name in ("PRODID", "VERSION", "UID", "DTSTAMP", "DTSTART", "SUMMARY", "SEQUENCE", "LAST-MODIFIED"):
        assert sum(line.partition(":")[0].partition(";")[0] == name for line in unfolded) == 1, name


def test_a_long_name_is_folded_and_read_whole(link):
    make_shop(name="é" * 120)
    answer = fetch(link).content
    assert all(len(line) <= 75 for line in answer.split(b"\r\n"))
    read = vobject.readOne(answer.decode())
    assert read.contents["name"][0].value == "é" * 120 + ": promised weeks"


def test_nothing_of_client_price_or_floor(link):
    client = make_contact("Very Private Person", email="private@example.org")
    made = make_commission(
        client=client,
        items=[make_item_spec(wanted="a secret sapphire", floor_ct="1.234")],
        wish="for a hidden ring", notes="pays late",
    )  # fmt: skip
    Commission.objects.filter(pk=made.pk).update(due_on=MONDAY, state="quoted")
    text = fetch(link).content.decode()
    assert made.code in text
    for secret in ("Private", "private@", "secret", "sapphire", "1.234", "hidden", "pays", "EUR"):
        assert secret not in text


# --- The address --------------------------------------------------------------------------------------------------


def test_no_session_is_needed_and_nothing_is_kept_or_found(link):
    answer = fetch(link)
    assert answer.status_code == 200 and not answer.cookies
    assert answer["Cache-Control"] == "private, no-store"
    assert answer["X-Robots-Tag"] == "noindex, nofollow"
    assert Client().post(ical.address_of(link)).status_code == 405


def test_a_wrong_a_forged_and_a_withdrawn_address_answer_alike(link, owner):
    token = ical.token_of(link)
    key, _, signature = token.partition(".")
    gone = actions.make_calendar_link(make_owner("otto"), at=NOON)
    actions.withdraw_calendar_link(gone, by=owner, at=NOON)
    tokens = [
        key,
        f"{key}.",
        f"{key}.{'0' * 64}",
        f"{key}.{signature[:-1]}{'0' if signature[-1] != '0' else '1'}",
        f"{key}.{signature.upper()}" if signature != signature.upper() else key,
        f"{'A' * 22}.{signature}",
        f"{'é' * 22}.{signature}",
        token + "x",
        "x" * 2000,
        ical.token_of(gone),
        # Well signed, but never given out.
        f"{'B' * 22}.{ical._signature('B' * 22)}",
    ]
    answers = [Client().get(f"/commissions/calendar/{one}.ics") for one in tokens]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    assert len({tuple(sorted(answer.headers.items())) for answer in answers}) == 1
    assert fetch(link).status_code == 200


def test_the_key_in_the_rows_alone_opens_nothing(link, settings):
    address = ical.address_of(link)
    settings.SECRET_KEY = "another key of another shop, long enough to be one"
    assert Client().get(address).status_code == 404


def test_a_key_is_long_and_new_each_time(owner):
    keys = {actions.make_calendar_link(owner, at=NOON).key for _ in range(5)}
    assert len(keys) == 5
    # RFC 4648: 22 letters of base64 hold 128 bits and more.
    assert {len(key) for key in keys} == {22}


def test_whoever_left_the_shop_takes_no_calendar_along(link, owner):
    owner.is_active = False
    owner.save()
    assert fetch(link).status_code == 404


# --- The page that makes it ---------------------------------------------------------------------------------------


def test_making_showing_and_withdrawing(client, owner):
    assert "No address yet" in client.get(PAGE).content.decode()
    assert client.post(PAGE, {"make": "1"}).status_code == 302
    link = CalendarLink.objects.get()
    answer = client.get(PAGE)
    assert f"http://testserver{ical.address_of(link)}" in answer.content.decode()
    assert answer["Cache-Control"] == "no-store"
    client.post(PAGE, {"withdraw": "1"})
    link.refresh_from_db()
    assert link.withdrawn_at is not None
    assert fetch(link).status_code == 404
    assert "No address yet" in client.get(PAGE).content.decode()
    # A second tap on an old page finds nothing to withdraw and makes nothing new.
    client.post(PAGE, {"withdraw": "1"})
    assert CalendarLink.objects.filter(withdrawn_at__isnull=True).count() == 0


def test_the_address_is_the_one_the_shop_is_reached_at_from_outside(client, link):
    make_shop(base_url="https://cards.example/")
    assert f"https://cards.example{ical.address_of(link)}" in client.get(PAGE).content.decode()


def test_a_new_address_closes_the_old_one(client, link):
    client.post(PAGE, {"make": "1"})
    assert fetch(link).status_code == 404
    assert CalendarLink.objects.filter(withdrawn_at__isnull=True).count() == 1


def test_withdrawing_twice_is_refused_by_name(link, owner):
    actions.withdraw_calendar_link(link, by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="withdrawn already"):
        actions.withdraw_calendar_link(link, by=owner, at=NOON)


@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_only_the_owner_makes_an_address(client, owner, maker):
    client.force_login(maker())
    assert client.get(PAGE).status_code == 403
    assert client.post(PAGE, {"make": "1"}).status_code == 403
    assert not CalendarLink.objects.exists()


def test_a_stranger_is_sent_to_sign_in(owner):
    assert Client().get(reverse("commissions:calendar")).url.startswith("/sign-in/")
