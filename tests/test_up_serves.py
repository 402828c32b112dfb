"""`manage.py up` as a person starts it: a real server, on a data folder of its own, until Ctrl-C."""

import http.client
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

BASE_DIR = Path(__file__).resolve().parent.parent
PATIENCE_S = 60


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as door:
        return door.getsockname()[1]


def surroundings(data: Path, **more: str) -> dict[str, str]:
    """The environment of a person's terminal: without what this test run has set for itself."""
    ours = ("WORKSHOP_", "DJANGO_", "PYTEST_", "DATABASE_URL")
    clean = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    return {**clean, "WORKSHOP_DATA": str(data), **more}


def refused(data: Path, *words: str, **environment: str) -> str:
    """What a start says that is to fail at once."""
    done = subprocess.run(
        [sys.executable, str(BASE_DIR / "manage.py"), "up", "--no-browser", *words],
        env=surroundings(data, **environment),
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )
    assert done.returncode == 2, done.stdout
    assert "Traceback" not in done.stderr
    return done.stderr.strip()


class Shop:
    """A running shop and what it has said so far."""

    def __init__(self, folder: Path, *words: str, **environment: str) -> None:
        self.port = free_port()
        self.log = folder / f"said-{self.port}.txt"
        # A session of its own, so that Ctrl-C reaches the server and its workers, as in a terminal, and nobody else.
        self.process = subprocess.Popen(
            [
                sys.executable,
                str(BASE_DIR / "manage.py"),
                "up",
                "--no-browser",
                "--port",
                str(self.port),
                *words,
            ],
            cwd=folder,
            env=surroundings(folder / "data", **environment),
            stdout=(said := self.log.open("w")),
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        said.close()
        self._wait_until_open()

    def _wait_until_open(self) -> None:
        until = time.monotonic() + PATIENCE_S
        while "Ctrl-C stops it." not in self.said:
            assert self.process.poll() is None, self.said
            assert time.monotonic() < until, self.said
            time.sleep(0.05)

    @property
    def said(self) -> str:
        return self.log.read_text()

    def get(self, path: str, method: str = "GET", **headers: str) -> tuple[http.client.HTTPResponse, bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        connection.request(method, path, headers=headers)
        answer = connection.getresponse()
        body = answer.read()
        connection.close()
        return answer, body

    def interrupt(self) -> int:
        os.killpg(self.process.pid, signal.SIGINT)
        return self.process.wait(PATIENCE_S)

    def end(self) -> None:
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("shop")


@pytest.fixture(scope="module")
def shop(folder):
    running = Shop(folder)
    yield running
    running.end()


def test_it_tells_the_address_and_the_owners_one_time_link(shop):
    assert f"The shop is open at http://127.0.0.1:{shop.port}/" in shop.said
    link = re.search(rf"http://127\.0\.0\.1:{shop.port}(/\S{{20,}})", shop.said)
    assert link, shop.said
    answer, body = shop.get(link[1])
    assert answer.status == 200
    assert b"password" in body.lower()


def test_a_stranger_is_sent_to_sign_in(shop):
    answer, _ = shop.get("/")
    assert answer.status == 302
    assert "next=" in answer.headers["Location"]


def test_the_data_is_its_owners_alone(shop, folder):
    assert (folder / "data" / "secret_key").stat().st_mode & 0o077 == 0
    assert (folder / "data").stat().st_mode & 0o077 == 0


def test_a_style_sheet_comes_from_this_server_and_may_be_kept_for_good(shop):
    page, body = shop.get("/no-such-page")
    assert page.status in (302, 404)
    _, body = shop.get(page.headers["Location"]) if page.status == 302 else (page, body)
    href = re.search(rb'<link[^>]*href="(/static/[^"]+\.css)"', body)[1].decode()
    answer, _ = shop.get(href, **{"Accept-Encoding": "gzip"})
    assert answer.status == 200
    assert answer.headers["Content-Encoding"] == "gzip"
    assert "immutable" in answer.headers["Cache-Control"]
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    "path", ["/.git/config", "/media/", "/static/", "/.data/secret_key", "/static/../manage.py"]
)
def test_nothing_but_pages_and_static_files_is_served(shop, path):
    answer, body = shop.get(path)
    assert answer.status in (302, 404)
    assert b"Index of" not in body


def test_a_foreign_host_name_is_refused(shop):
    answer, _ = shop.get("/", Host="evil.example")
    assert answer.status == 400


def test_a_second_shop_on_the_same_port_is_told_so(shop, folder):
    assert f"Port {shop.port} is busy" in refused(folder / "other", "--port", str(shop.port))


def test_ctrl_c_stops_it_cleanly_and_the_next_start_finds_the_same_shop(folder):
    first = Shop(folder)
    try:
        key = (folder / "data" / "secret_key").read_text()
        assert first.interrupt() == 0, first.said
        assert first.said.count("Stopped.") == 1
        assert "Traceback" not in first.said
    finally:
        first.end()
    began = time.monotonic()
    second = Shop(folder)
    try:
        assert time.monotonic() - began < 15, "the second start takes seconds"
        assert second.get("/")[0].status == 302
        assert (folder / "data" / "secret_key").read_text() == key
        assert "Installing" not in second.said
    finally:
        second.end()


def test_without_pango_the_shop_opens_and_says_what_to_install(tmp_path):
    # A loader that finds no Pango, as on a machine without it; WeasyPrint itself is imported unchanged.
    (tmp_path / "sitecustomize.py").write_text(
        "import cffi\n"
        "plain = cffi.FFI.dlopen\n"
        "def dlopen(self, name, flags=0):\n"
        "    if name and 'pango' in name:\n"
        "        raise OSError(f'cannot load library {name!r}')\n"
        "    return plain(self, name, flags)\n"
        "cffi.FFI.dlopen = dlopen\n"
    )
    shop = Shop(tmp_path, PYTHONPATH=str(tmp_path))
    try:
        assert "Papers cannot be made as PDF" in shop.said
        assert "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0" in shop.said
        assert "All else works." in shop.said
        assert shop.get("/")[0].status == 302
    finally:
        shop.end()


def test_an_upgrade_keeps_the_database_as_it_was(tmp_path):
    data = tmp_path / "data"
    Shop(tmp_path).end()
    database = sqlite3.connect(data / "shop.sqlite3")
    with database:
        # As if the last migration of the sessions came with this version.
        database.execute("DROP TABLE django_session")
        database.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
    database.close()
    shop = Shop(tmp_path)
    try:
        copies = list((data / "before-upgrade").iterdir())
        assert len(copies) == 1
        assert str(copies[0]) in shop.said
        kept = sqlite3.connect(copies[0])
        assert not kept.execute("SELECT 1 FROM django_migrations WHERE app = 'sessions'").fetchall()
        assert kept.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        kept.close()
    finally:
        shop.end()


def test_data_of_a_newer_version_is_left_alone(tmp_path):
    Shop(tmp_path).end()
    database = sqlite3.connect(tmp_path / "data" / "shop.sqlite3")
    with database:
        database.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('common', '9999_of_next_year', '2027-01-01')"
        )
    database.close()
    assert refused(tmp_path / "data", "--port", str(free_port())) == (
        "This shop's data was last used by a newer version; start that version, or restore a backup."
    )


def test_a_postgresql_that_does_not_answer_is_told_in_a_sentence(tmp_path):
    nowhere = "postgresql://ada@127.0.0.1:9/shop"
    sentence = refused(tmp_path, "--port", str(free_port()), DATABASE_URL=nowhere)
    assert "The database that DATABASE_URL names cannot be used" in sentence


def test_behind_a_proxy_that_speaks_https_plain_requests_are_sent_there(tmp_path):
    shop = Shop(tmp_path, WORKSHOP_HTTPS="1", WORKSHOP_HOSTS="shop.example")
    try:
        plain, _ = shop.get("/", Host="shop.example")
        assert plain.status == 301
        assert plain.headers["Location"] == "https://shop.example/"
        # What a proxy on this machine says of the scheme is believed (gunicorn, forwarded_allow_ips).
        secure, _ = shop.get("/", **{"Host": "shop.example", "X-Forwarded-Proto": "https"})
        assert secure.status == 302
        assert secure.headers["Strict-Transport-Security"].startswith("max-age=31536000")
        page, _ = shop.get(
            secure.headers["Location"], **{"Host": "shop.example", "X-Forwarded-Proto": "https"}
        )
        cookie = page.headers["Set-Cookie"]
        assert cookie.startswith("__Host-csrf=")
        assert all(word in cookie for word in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"))
    finally:
        shop.end()
