"""The mail server is named by the environment; what makes no sense stops the start with a sentence.

Ports: 587 submission with STARTTLS (RFC 6409, RFC 3207), 465 implicit TLS (RFC 8314, 3.3), 25 plain (RFC 5321, 4.5.4.2).
"""

import os
import subprocess
import sys

import pytest

from workshop import env
from workshop.env import EnvironmentFault

GOOD = {"WORKSHOP_MAIL_HOST": "mail.example", "WORKSHOP_MAIL_FROM": "bench@shop.example"}
NAMES = ("HOST", "FROM", "TLS", "PORT", "USER", "PASSWORD")


@pytest.fixture
def said(monkeypatch):
    for name in NAMES:
        monkeypatch.delenv(f"WORKSHOP_MAIL_{name}", raising=False)

    def say(**more):
        for name, value in more.items():
            monkeypatch.setenv(name, value)
        return env.mail()

    return say


def test_nothing_said_prints_mail_and_never_waits_for_ever(said):
    read = said()
    assert read["EMAIL_BACKEND"] == "django.core.mail.backends.console.EmailBackend"
    assert 0 < read["EMAIL_TIMEOUT"] <= 60


@pytest.mark.parametrize(
    ("mode", "port", "starttls", "tls"),
    [
        ("", 587, True, False),
        ("starttls", 587, True, False),
        ("tls", 465, False, True),
        ("none", 25, False, False),
    ],
)
def test_each_way_of_safety_has_its_port(said, mode, port, starttls, tls):
    read = said(**GOOD, WORKSHOP_MAIL_TLS=mode)
    assert read["EMAIL_BACKEND"] == "django.core.mail.backends.smtp.EmailBackend"
    assert (read["EMAIL_PORT"], read["EMAIL_USE_TLS"], read["EMAIL_USE_SSL"]) == (port, starttls, tls)
    assert (read["EMAIL_HOST"], read["DEFAULT_FROM_EMAIL"]) == ("mail.example", "bench@shop.example")


def test_all_its_parts(said):
    read = said(
        **GOOD, WORKSHOP_MAIL_PORT="2525", WORKSHOP_MAIL_USER="bench", WORKSHOP_MAIL_PASSWORD=" with spaces "
    )
    assert (read["EMAIL_PORT"], read["EMAIL_HOST_USER"], read["EMAIL_HOST_PASSWORD"]) == (
        2525,
        "bench",
        " with spaces ",
    )


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"WORKSHOP_MAIL_HOST": "mail.example"}, "needs WORKSHOP_MAIL_FROM"),
        ({**GOOD, "WORKSHOP_MAIL_FROM": "bench"}, "bare address"),
        ({**GOOD, "WORKSHOP_MAIL_FROM": "Bench <bench@shop.example>"}, "bare address"),
        ({**GOOD, "WORKSHOP_MAIL_FROM": "a@shop.example\nBcc: b@x.example"}, "bare address"),
        ({**GOOD, "WORKSHOP_MAIL_FROM": "a@b@shop.example"}, "bare address"),
        ({**GOOD, "WORKSHOP_MAIL_HOST": "smtp://mail.example"}, "bare name of the server"),
        ({**GOOD, "WORKSHOP_MAIL_HOST": "mail example"}, "bare name of the server"),
        ({**GOOD, "WORKSHOP_MAIL_TLS": "ssl"}, "give one of: starttls, tls, none"),
        ({**GOOD, "WORKSHOP_MAIL_PORT": "0"}, "whole number from 1 to 65535"),
        ({**GOOD, "WORKSHOP_MAIL_PORT": "smtp"}, "whole number from 1 to 65535"),
        ({**GOOD, "WORKSHOP_MAIL_USER": "bench"}, "together, or neither"),
        ({**GOOD, "WORKSHOP_MAIL_PASSWORD": "secret"}, "together, or neither"),
        ({"WORKSHOP_MAIL_USER": "bench", "WORKSHOP_MAIL_PASSWORD": "s"}, "without WORKSHOP_MAIL_HOST"),
    ],
)
def test_what_makes_no_sense_is_refused(said, more, why):
    with pytest.raises(EnvironmentFault, match=why) as refusal:
        said(**more)
    assert "secret" not in str(refusal.value)


def test_the_settings_take_it_up(tmp_path):
    code = (
        "from django.conf import settings as s\n"
        "print(s.EMAIL_BACKEND, s.EMAIL_HOST, s.EMAIL_PORT, s.EMAIL_USE_SSL, s.EMAIL_TIMEOUT, s.DEFAULT_FROM_EMAIL)"
    )
    told = {**os.environ, **GOOD, "WORKSHOP_MAIL_TLS": "tls", "WORKSHOP_DATA": str(tmp_path),
            "DJANGO_SETTINGS_MODULE": "workshop.settings"}  # fmt: skip
    told.pop("WORKSHOP_DEMO", None)
    answer = subprocess.run(
        [sys.executable, "-c", code], env=told, capture_output=True, text=True, timeout=60
    )
    assert answer.stdout.split() == [
        "django.core.mail.backends.smtp.EmailBackend", "mail.example", "465", "True", "20", "bench@shop.example",
    ], answer.stderr  # fmt: skip
