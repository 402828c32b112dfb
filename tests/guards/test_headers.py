"""Every answer of the house carries the same guard: page, refusal, error, PDF, picture, kept paper, style sheet.

OWASP ASVS 5.0.0, 3.2.1, 3.3.1 to 3.3.4, 3.4.1 to 3.4.6, 3.5.1, 13.4.5, 14.3.2, 16.5.1. The lock after five wrong passwords is
tried in `tests/common/test_sign_in_lock.py`, an answer to a fault of ours in `tests/common/test_headers.py`.
"""

import re
from http.cookies import SimpleCookie

import pytest
from django.test import Client

from tests.common.test_headers import WANTED
from tests.guards.house import pages, undone
from tests.guards.test_doors import OPEN

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("guards")]

ROLES = ("stranger", "hand", "reader", "owner")
#: Named by their content, so that a browser may keep them; they show what whoever is signed in has seen already.
KEPT = {"common:photo"}
STATIC = [
    "common/paper.css",
    "common/workshop.js",
    "common/icons.svg",
    "common/workshop.webmanifest",
    "no-such.css",
]


#: What may be stricter than the house's own: files and closed pages of a private link name no page at all.
STRICTER = {("Referrer-Policy", "no-referrer")}


def faults_of(answer, where):
    """What an answer's headers lack."""
    wrong = [
        f"{where}: {name} is {answer.headers.get(name)}"
        for name in WANTED
        if answer.headers.get(name) != WANTED[name] and (name, answer.headers.get(name)) not in STRICTER
    ]
    told = [name for name in ("Server", "X-Powered-By") if name in answer.headers]
    return wrong + [f"{where}: tells {name}" for name in told]


def everything(house):
    """Every page, looked at and sent to, by each role; and what is no page."""
    for name in pages():
        for role in ROLES:
            address = house.address(name)
            yield name, role, f"{role} at {address}", house.client(role).get(address)
            if role in {"stranger", "owner"} and name != "common:sign_out":
                with undone():
                    yield name, role, f"{role} posting to {address}", house.client(role).post(address)
    for role in ("stranger", "owner"):
        for address in (
            "/no-such-page",
            "/stones/S-9999/",
            "/stones",
            "/photos/",
            "/admin/",
            "/static/no-such.css",
            "/.git/config",
        ):
            yield "", role, f"{role} at {address}", house.client(role).get(address)


def test_every_answer_carries_the_headers_and_nobodys_page_is_kept(house):
    faults, seen = [], set()
    for name, role, where, answer in everything(house):
        seen.add((answer.status_code, answer.headers["Content-Type"].split(";")[0]))
        faults += faults_of(answer, where)
        kept = answer.headers.get("Cache-Control", "")
        private = role != "stranger" and "static" not in where
        if private and name not in KEPT and "no-store" not in kept:
            faults.append(f"{where}: may be kept ({kept})")
        if private and "public" in kept:
            faults.append(f"{where}: may be kept by others ({kept})")
    assert not faults, "\n".join(faults[:40])
    # Proof that all sorts of answers were looked at.
    kinds = {kind for _, kind in seen}
    assert {status for status, _ in seen} >= {200, 302, 403, 404, 405, 422}
    assert kinds >= {"text/html", "application/pdf", "image/jpeg", "text/plain"}


@pytest.mark.parametrize("file", STATIC)
def test_static_files_carry_them_too(house, file):
    answer = house.client("stranger").get(f"/static/{file}")
    # Only the file: closing the whole answer would close the test's own database connection too.
    for close in answer._resource_closers:
        close()
    assert answer.status_code in {200, 404}
    assert faults_of(answer, file) == []


def test_every_form_needs_its_token(house):
    """Without it, nothing that anybody sends is even looked at."""
    faults, tried = [], 0
    for role in ROLES:
        client = Client(enforce_csrf_checks=True, raise_request_exception=False)
        client.cookies = (
            SimpleCookie(house.client(role).cookies.output(header="", sep=";"))
            if role != "stranger"
            else SimpleCookie()
        )
        for name in pages():
            address = house.address(name)
            with undone():
                answer = client.post(address, {"weight": "1 ct"})
            tried += 1
            if answer.status_code != 403:
                faults.append(f"{answer.status_code}: {role} posting to {address} without a token")
    assert not faults, "\n".join(faults[:30])
    assert tried > 300


def test_every_form_has_its_token_and_stays_in_the_house(house):
    for name in pages():
        answer = house.client("owner").get(house.address(name))
        if not answer.headers["Content-Type"].startswith("text/html"):
            continue
        for form in re.findall(r"<form\b.*?</form>", answer.content.decode(), re.S):
            head = form[: form.index(">")]
            action = re.search(r'action="([^"]*)"', head)
            assert action is None or re.match(r"/(?!/)|$|#|\?", action[1]), (name, head)
            if re.search(r'method="post"', head, re.I):
                assert "csrfmiddlewaretoken" in form, (name, head)


@pytest.mark.parametrize("https", [False, True])
def test_cookies_are_for_the_server_alone(house, settings, https):
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = https
    client = Client()
    page = client.get("/sign-in/")
    token = re.search(r'csrfmiddlewaretoken" value="([^"]+)"', page.content.decode())[1]
    words = {"username": "oona", "password": "a long enough pass phrase", "csrfmiddlewaretoken": token}
    with undone():
        signed_in = client.post("/sign-in/", words)
    assert signed_in.status_code == 302
    for answer in (page, signed_in):
        for cookie in answer.cookies.values():
            assert cookie["httponly"], cookie.key
            assert cookie["samesite"] == "Lax", cookie.key
            assert cookie["path"] == "/", cookie.key
            assert not cookie["domain"], cookie.key
            assert bool(cookie["secure"]) == https, cookie.key
    assert {settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME} <= {*page.cookies, *signed_in.cookies}


def test_signing_in_gives_a_new_session(house):
    """A session somebody planted before is worth nothing after (OWASP ASVS 5.0.0, 7.2.4)."""
    client = Client()
    with undone():
        client.force_login(house.reader, backend="django.contrib.auth.backends.ModelBackend")
        before = client.session.session_key
        client.post("/sign-out/")
        assert client.get("/").status_code == 302
        client.post("/sign-in/", {"username": "oona", "password": "a long enough pass phrase"})
        assert client.session.session_key != before


def test_an_error_page_tells_nothing_of_the_house(house):
    for address in ("/no-such-page", "/stones/S-9999/", "/gems/G-9999/", "/papers/check/not-a-code/"):
        for role in ("stranger", "owner"):
            answer = house.client(role).get(address)
            text = answer.content.decode()
            assert not re.search(r"Traceback|workshop\.\w+\.\w+|/work/|site-packages|SELECT ", text), address


def test_the_open_pages_are_the_only_ones_without_a_door(house):
    from django.urls import resolve

    marked = {
        name for name in pages()
        if getattr(resolve(house.address(name)).func, "login_required", True) is False
    }  # fmt: skip
    assert marked == OPEN


def test_the_guard_sees_a_missing_header(house):
    answer = house.client("owner").get("/")
    del answer.headers["Content-Security-Policy"]
    assert len(faults_of(answer, "planted")) == 1
