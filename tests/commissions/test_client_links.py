"""The client's private link: nobody guesses it, every wrong one answers alike, and guessing is slowed.

OWASP ASVS 5.0.0, 7.2.3 (128 random bits), 11.2.4 (constant time), 2.4.1 (throttle); RFC 6585, 4 (429 and Retry-After).
"""

import base64
import hashlib
import hmac
import logging
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from tests.commissions.told import make_open
from tests.makers import make_commission, make_hand, make_owner, make_reader, make_shop
from workshop import logs
from workshop.commissions import links
from workshop.commissions.actions import links as actions
from workshop.commissions.models import ClientLink, WrongAddress
from workshop.common.errors import DeedRefused

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    make_shop(name="Vale Cutting", email="bench@vale.example")
    return make_owner()


@pytest.fixture
def stranger():
    return Client(raise_request_exception=False)


@pytest.fixture
def link(owner):
    commission, _ = make_open(by=owner)
    return commission.links.get()


def wrong_tokens(link, owner):
    """One of each kind that opens nothing."""
    right = links.token_of(link)
    key, _, signature = right.partition(".")
    other = links.new_key()
    withdrawn = actions.make_link(link.commission, by=owner, at=timezone.now())
    actions.withdraw_link(withdrawn, by=owner, at=timezone.now())
    late = actions.make_link(link.commission, by=owner, at=timezone.now() - timedelta(days=61), days=60)
    return {
        "malformed": "x",
        "no signature": key,
        "empty signature": f"{key}.",
        "forged": f"{key}.{'0' * 64}",
        "one letter off": right[:-1] + ("0" if right[-1] != "0" else "1"),
        "in capitals": f"{key}.{signature.upper()}",
        "of another key": f"{other}.{signature}",
        "unknown": links.token_of(ClientLink(key=other)),
        "withdrawn": links.token_of(withdrawn),
        "run out": links.token_of(late),
        "not ASCII": f"{key}.{'٣' * 64}",
        "a NUL": f"{key}%00.{signature}",
        "long": "a" * 4000,
    }


PLACES = ["", "accept/1/", "decline/1/", "answer/1/", f"photo/{'a' * 64}/card.jpg", "paper/QU-0001.pdf"]


def told(answer):
    return answer.status_code, answer.content, sorted(answer.headers.items()), dict(answer.cookies)


def test_a_key_has_128_random_bits_and_none_comes_twice():
    keys = {links.new_key() for _ in range(2000)}
    assert len(keys) == 2000
    assert {len(base64.urlsafe_b64decode(key + "==")) for key in keys} == {16}


def test_the_signature_is_an_hmac_of_the_key_by_the_shops_secret(link, settings):
    """Worked again with the standard library: HMAC-SHA256 (FIPS 198-1) under SHA-256(salt + secret)."""
    derived = hashlib.sha256(b"workshop.commissions.links.client" + settings.SECRET_KEY.encode()).digest()
    expected = hmac.new(derived, link.key.encode(), hashlib.sha256).hexdigest()
    assert links.token_of(link) == f"{link.key}.{expected}"


def test_the_database_alone_opens_nothing(link, stranger, settings):
    path = links.address_of(link)
    assert stranger.get(path).status_code == 200
    stored = {str(value) for value in ClientLink.objects.filter(pk=link.pk).values_list().get()}
    assert all(stranger.get(f"/yours/{value}/").status_code == 404 for value in stored if "/" not in value)
    settings.SECRET_KEY = "another key of the shop's that is long enough to be one, indeed"
    assert stranger.get(path).status_code == 404


def test_every_wrong_address_answers_the_same_to_the_byte(link, owner, stranger):
    answers = {}
    for kind, token in wrong_tokens(link, owner).items():
        for place in PLACES:
            for method in ("get", "post", "put"):
                WrongAddress.objects.all().delete()
                answers[kind, place, method] = told(getattr(stranger, method)(f"/yours/{token}/{place}"))
    assert len(answers) == 13 * 6 * 3
    assert len(set(map(repr, answers.values()))) == 1, {repr(one)[:300] for one in answers.values()}
    status, content, _, cookies = next(iter(answers.values()))
    assert (status, cookies) == (404, {})
    assert b"Nothing opens here" in content
    assert b"Vale Cutting" in content


def test_a_right_link_asked_for_what_it_does_not_hold_says_no_more(link, stranger):
    """The page for a wrong photograph or paper is that for a wrong link; only a wrong link is counted."""
    wrong = stranger.get("/yours/nothing/").content
    before = WrongAddress.objects.count()
    for place in PLACES[3:]:
        answer = stranger.get(links.address_of(link) + place)
        if place.startswith("answer"):
            assert stranger.post(links.address_of(link) + place).status_code == 404
            continue
        assert (answer.status_code, answer.content) == (404, wrong)
    assert WrongAddress.objects.count() == before


def test_the_signature_is_compared_in_constant_time_before_any_row_is_looked_for(
    link, owner, monkeypatch, django_assert_num_queries
):
    compared, real = [], links.constant_time_compare
    monkeypatch.setattr(links, "constant_time_compare", lambda a, b: compared.append((a, b)) or real(a, b))
    tokens = wrong_tokens(link, owner)
    forged = [tokens[kind] for kind in tokens if kind not in {"unknown", "withdrawn", "run out"}]
    with django_assert_num_queries(0):
        assert all(links.link_of(token, timezone.now()) is None for token in forged)
    assert len(compared) == len(forged)
    assert all(len(expected) == 64 for _, expected in compared)
    # Proof that what is compared is Django's own, which is the standard library's compare_digest.
    from django.utils import crypto

    assert real is crypto.constant_time_compare
    assert "compare_digest" in crypto.constant_time_compare.__code__.co_names


def test_the_twenty_first_wrong_address_is_told_to_wait(link, stranger):
    for _ in range(20):
        assert stranger.get("/yours/wrong/").status_code == 404
    answer = stranger.get("/yours/wrong/")
    assert answer.status_code == 429
    assert answer["Retry-After"] == "600"
    assert b"Try again later" in answer.content
    assert b"ten minutes" in answer.content
    # Whoever hammers on writes nothing more.
    assert WrongAddress.objects.count() == 20
    for token in ("wrong", links.token_of(ClientLink(key=links.new_key()))):
        assert stranger.post(f"/yours/{token}/accept/1/").status_code == 429
    assert WrongAddress.objects.count() == 20


def test_a_right_link_opens_from_a_busy_place_and_a_wrong_one_from_elsewhere_is_a_plain_no(link, stranger):
    for _ in range(25):
        stranger.get("/yours/wrong/")
    assert stranger.get(links.address_of(link)).status_code == 200
    assert stranger.get("/yours/wrong/", REMOTE_ADDR="203.0.113.9").status_code == 404


def test_after_ten_minutes_the_count_begins_again(link, stranger):
    for _ in range(21):
        stranger.get("/yours/wrong/")
    WrongAddress.objects.update(at=timezone.now() - timedelta(minutes=10, seconds=1))
    assert stranger.get("/yours/wrong/").status_code == 404
    WrongAddress.objects.update(at=timezone.now() - timedelta(days=2))
    stranger.get("/yours/wrong/")
    assert WrongAddress.objects.count() == 1, "what is of no use any more is forgotten"


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("::ffff:203.0.113.9", "203.0.113.9", True),
        ("203.0.113.9", "203.0.113.8", False),
        ("not an address", "another", False),
    ],
)
def test_a_place_is_an_address_or_the_64_bits_of_a_site(one, other, same):
    assert (links.place_of(one) == links.place_of(other)) is same


def test_no_address_is_kept_in_clear_and_none_may_be_claimed(link, stranger):
    for number in range(21):
        answer = stranger.get(
            "/yours/wrong/", REMOTE_ADDR="203.0.113.9", HTTP_X_FORWARDED_FOR=f"198.51.100.{number}"
        )
    assert answer.status_code == 429, "what a stranger says of their address is not believed"
    assert all("203.0.113" not in repr(row) for row in WrongAddress.objects.values_list())


def test_every_page_of_the_clients_stays_private(link, stranger):
    path = links.address_of(link)
    answers = [stranger.get(path), stranger.get("/yours/wrong/"), stranger.get(f"{path}paper/QU-0009.pdf")]
    answers += [stranger.post(f"{path}accept/1/"), stranger.get(f"{path}accept/1/"), stranger.put(path)]
    assert [one.status_code for one in answers] == [200, 404, 404, 422, 302, 405]
    for answer in answers:
        assert answer["Cache-Control"] == "no-store"
        assert "noindex" in answer["X-Robots-Tag"]
        # With a form a browser must be able to say where it comes from; to other hosts it says nothing either way.
        assert answer["Referrer-Policy"] == (
            "no-referrer" if answer.status_code in {404, 405} else "same-origin"
        )


@pytest.mark.parametrize("formatter", [logs.PlainFormatter(), logs.ReadableFormatter(), logs.JsonFormatter()])
def test_a_key_never_reaches_the_log(link, stranger, caplog, formatter):
    token = links.token_of(link)
    with caplog.at_level(logging.DEBUG):
        stranger.get(f"/yours/{token}x/")
        stranger.get(f"/yours/{token}/photo/none/card.jpg")
        Client(enforce_csrf_checks=True).post(f"/yours/{token}/accept/1/")
        logging.getLogger("django.server").warning('"GET /yours/%s/ HTTP/1.1" 200', token)
        try:
            raise ValueError(f"at http://shop.example/yours/{token}/accept/1/")
        except ValueError:
            logging.getLogger("django.request").exception("broke")
    lines = [formatter.format(record) for record in caplog.records]
    assert any("/yours/" in line for line in lines)
    assert not [line for line in lines if token[:10] in line or token[-10:] in line]


def test_the_servers_own_lines_are_masked_too():
    record = logging.LogRecord(
        "gunicorn.error", logging.ERROR, "", 1, "Error handling request %s", ("/yours/k.s/?a=1",), None
    )
    assert logs.WithoutKeys().filter(record)
    assert record.getMessage() == "Error handling request /yours/…/?a=1"
    calendar = logs.without_keys("GET /commissions/calendar/abc.def.ics HTTP/1.1")
    assert calendar == "GET /commissions/calendar/… HTTP/1.1"


def test_that_it_was_seen_is_noted_once_an_hour(link, stranger):
    path = links.address_of(link)
    stranger.get(path)
    link.refresh_from_db()
    first = link.last_seen_at
    assert first is not None
    stranger.get(path)
    link.refresh_from_db()
    assert link.last_seen_at == first
    ClientLink.objects.filter(pk=link.pk).update(last_seen_at=timezone.now() - timedelta(hours=2))
    stranger.get(path)
    link.refresh_from_db()
    assert link.last_seen_at > first


@pytest.mark.parametrize("days", [0, -1, 366, 10**9])
def test_a_link_opens_for_a_day_to_a_year(owner, days):
    with pytest.raises(DeedRefused):
        actions.make_link(make_commission(by=owner), days=days, by=owner, at=timezone.now())


def test_a_link_is_withdrawn_once(link, owner, stranger):
    actions.withdraw_link(link, by=owner, at=timezone.now())
    assert stranger.get(links.address_of(link)).status_code == 404
    with pytest.raises(DeedRefused):
        actions.withdraw_link(link, by=owner, at=timezone.now())


def test_the_owner_makes_copies_and_withdraws_it_and_nobody_else_sees_it(owner):
    commission = make_commission(by=owner)
    clients = {}
    for role, person in (("owner", owner), ("hand", make_hand()), ("reader", make_reader())):
        clients[role] = Client()
        clients[role].force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    make = f"/commissions/{commission.code}/link/"
    for role in ("hand", "reader"):
        assert clients[role].post(make, {"days": "30"}).status_code == 403
    assert clients["owner"].post(make, {"days": "0"}).status_code == 422
    assert clients["owner"].post(make, {"days": "thirty"}).status_code == 422
    assert clients["owner"].post(make, {"days": "30"}).status_code == 302
    link = commission.links.get()
    assert link.expires_at - link.made_at == timedelta(days=30)
    token = links.token_of(link)
    pages = {
        role: client.get(f"/commissions/{commission.code}/").content.decode()
        for role, client in clients.items()
    }
    assert f"http://testserver/yours/{token}/" in pages["owner"]
    assert token not in pages["reader"]
    assert token not in pages["hand"]
    withdraw = f"/commissions/{commission.code}/link/{link.pk}/withdraw/"
    assert clients["reader"].post(withdraw).status_code == 403
    assert clients["owner"].get(withdraw).status_code == 405
    other = make_commission(by=owner)
    assert clients["owner"].post(f"/commissions/{other.code}/link/{link.pk}/withdraw/").status_code == 404
    assert clients["owner"].post(withdraw).status_code == 302
    assert clients["owner"].post(withdraw).status_code == 302, "twice does no harm"
    assert token not in clients["owner"].get(f"/commissions/{commission.code}/").content.decode()
