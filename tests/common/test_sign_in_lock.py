"""Five wrong passwords lock a name at an address for a quarter of an hour (OWASP ASVS 5.0.0, 2.4.1 and 6.3.1)."""

from datetime import timedelta

import pytest
from django.contrib.auth import get_user_model
from django.test import RequestFactory
from django.urls import reverse
from django.utils import timezone

from workshop.common.middleware import client_address

PASSWORD = "north light on the bench"


@pytest.fixture
def hand(db):
    return get_user_model().objects.create_user(username="ada", password=PASSWORD)


def sign_in(client, password: str, address: str = "192.0.2.1", name: str = "ada"):
    return client.post(
        reverse("common:sign_in"), {"username": name, "password": password}, REMOTE_ADDR=address
    )


def lock(client, **more) -> None:
    for _ in range(5):
        answer = sign_in(client, "wrong", **more)
    assert answer.status_code == 429


def test_the_right_password_lets_in(hand, client):
    assert sign_in(client, PASSWORD).status_code == 302


def test_after_five_failures_even_the_right_password_is_refused(hand, client):
    lock(client)
    answer = sign_in(client, PASSWORD)
    assert answer.status_code == 429
    assert "common/locked_out.html" in [template.name for template in answer.templates]


def test_four_failures_lock_nothing(hand, client):
    for _ in range(4):
        assert sign_in(client, "wrong").status_code == 200
    assert sign_in(client, PASSWORD).status_code == 302


def test_the_same_person_elsewhere_is_not_locked_out(hand, client):
    lock(client)
    assert sign_in(client, PASSWORD, address="192.0.2.2").status_code == 302


def test_a_quarter_of_an_hour_later_it_opens(hand, client, monkeypatch):
    lock(client)
    real = timezone.now
    monkeypatch.setattr(timezone, "now", lambda: real() + timedelta(minutes=16))
    monkeypatch.setattr("axes.handlers.proxy.now", timezone.now)
    assert sign_in(client, PASSWORD).status_code == 302


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, "203.0.113.9", "192.0.2.1"),
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "10.9.8.7, 203.0.113.9", "203.0.113.9"),
        (2, "203.0.113.9, 198.51.100.4", "203.0.113.9"),
        (2, "203.0.113.9", "192.0.2.1"),
        (1, "", "192.0.2.1"),
    ],
)
def test_only_our_own_proxies_are_believed(settings, proxies, forwarded, address):
    settings.TRUSTED_PROXIES = proxies
    request = RequestFactory().get("/", REMOTE_ADDR="192.0.2.1", HTTP_X_FORWARDED_FOR=forwarded)
    assert client_address(request) == address
