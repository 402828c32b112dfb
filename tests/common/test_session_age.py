"""A session ends after 12 idle hours and after 14 days in any case (OWASP ASVS 5.0.0, 7.3.1 and 7.3.2)."""

from datetime import timedelta

import pytest
from django.contrib.auth import get_user_model
from django.contrib.sessions.models import Session
from django.utils import timezone

from workshop.common import middleware

START = timezone.now().replace(microsecond=0)


@pytest.fixture
def at(monkeypatch):
    """`at(hours)` sets the clock, as the sessions and the middleware see it."""

    def set_clock(hours: float) -> None:
        monkeypatch.setattr(timezone, "now", lambda: START + timedelta(hours=hours))

    assert middleware.timezone is timezone
    set_clock(0)
    return set_clock


@pytest.fixture
def hand(db, client):
    hand = get_user_model().objects.create(username="ada")
    client.force_login(hand)
    return hand


def signed_in(client) -> bool:
    return client.get("/no-such-page").wsgi_request.user.is_authenticated


def test_twelve_idle_hours_end_it(at, hand, client):
    assert signed_in(client)
    at(11.9)
    assert signed_in(client)
    at(11.9 + 12.1)
    assert not signed_in(client)


def test_work_keeps_it_alive_but_not_beyond_fourteen_days(at, hand, client):
    for hours in range(0, 14 * 24 + 1, 8):
        at(hours)
        assert signed_in(client), f"after {hours} h"
    at(14 * 24 + 1)
    assert not signed_in(client)


def test_pages_that_only_read_write_no_session(at, hand, client, django_assert_num_queries):
    assert signed_in(client)
    kept = Session.objects.get().session_data
    at(0.2)
    assert signed_in(client)
    assert Session.objects.get().session_data == kept
    at(0.3)
    assert signed_in(client)
    assert Session.objects.get().session_data != kept
