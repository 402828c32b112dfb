"""The settings are safe as they stand, and with HTTPS Django's own deployment check finds nothing."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

BASE_DIR = Path(__file__).resolve().parent.parent


def manage(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    clean = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("WORKSHOP_", "DJANGO_", "DATA"))
    }
    return subprocess.run(
        [sys.executable, str(BASE_DIR / "manage.py"), *words],
        env={**clean, **environment},
        capture_output=True,
        text=True,
        timeout=120,
    )


def settings_with(tmp_path, **environment: str) -> dict:
    names = (
        "DEBUG ALLOWED_HOSTS SESSION_COOKIE_SECURE CSRF_COOKIE_SECURE SESSION_COOKIE_NAME SECURE_HSTS_SECONDS "
        "SESSION_COOKIE_AGE MEDIA_URL LANGUAGES TIME_ZONE"
    )
    words = "import json; from django.conf import settings; print(json.dumps({n: getattr(settings, n) for n in %r.split()}))"
    done = manage("shell", "-v", "0", "-c", words % names, WORKSHOP_DATA=str(tmp_path), **environment)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_deployment_check_finds_nothing_behind_https(tmp_path):
    done = manage(
        "check", "--deploy", "--fail-level", "WARNING", WORKSHOP_DATA=str(tmp_path), WORKSHOP_HTTPS="1"
    )
    assert done.returncode == 0, done.stderr
    assert "no issues (0 silenced)" in done.stdout


def test_as_it_stands_it_serves_this_machine_alone(tmp_path):
    found = settings_with(tmp_path)
    assert found["DEBUG"] is False
    assert found["ALLOWED_HOSTS"] == ["localhost", "127.0.0.1", "[::1]"]
    assert found["SESSION_COOKIE_AGE"] == 12 * 3600
    assert found["MEDIA_URL"] in ("", "/")
    assert found["TIME_ZONE"] == "UTC"


def test_with_https_the_cookies_are_bound_to_it(tmp_path):
    found = settings_with(tmp_path, WORKSHOP_HTTPS="1", WORKSHOP_HOSTS="shop.example")
    assert found["SESSION_COOKIE_SECURE"] is found["CSRF_COOKIE_SECURE"] is True
    assert found["SESSION_COOKIE_NAME"].startswith("__Host-")
    assert found["SECURE_HSTS_SECONDS"] == 31_536_000
    assert found["ALLOWED_HOSTS"][-1] == "shop.example"


@pytest.mark.parametrize(
    "environment",
    [
        {"WORKSHOP_HTTPS": "maybe"},
        {"WORKSHOP_PROXIES": "many"},
        {"WORKSHOP_LOG": "xml"},
        {"DATABASE_URL": "oracle://x/y"},
        {"WORKSHOP_DEMO": "1", "DATABASE_URL": "postgresql://ada@localhost/shop"},
        {"WORKSHOP_SECRET_KEY": "short"},
    ],
)
def test_a_variable_that_makes_no_sense_stops_any_command_with_a_sentence(tmp_path, environment):
    done = manage("check", WORKSHOP_DATA=str(tmp_path), **environment)
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert next(iter(environment)) in done.stderr or "secret key" in done.stderr


def test_each_variable_that_is_read_is_told_to_developers():
    read = set()
    for file in ("env.py", "settings.py", "serve.py", "up.py"):
        text = (BASE_DIR / "workshop" / file).read_text()
        read |= set(re.findall(r'"(WORKSHOP_[A-Z_]+|DATABASE_URL)"', text))
    told = (BASE_DIR / "DEVELOPERS.md").read_text()
    assert {name for name in read if f"`{name}`" not in told} == set()
