"""Every address of the house tried as everybody: the matrix of OWASP ASVS 5.0.0, 8.2.1, 8.3.1 and 3.5.3.

The addresses come from the address book itself, so a page nobody wrote into ``DOORS`` fails.
"""

import pytest
from django.urls import reverse

from tests.guards.house import fingerprint, pages, undone

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("guards")]

ROLES = ("stranger", "hand", "reader", "owner")
TO_SIGN_IN = "to sign-in"
REFUSED, NOT_THIS_WAY = {403}, {405}
SHOWN, DONE_OR_TOLD = {200}, {302, 422}

#: What each kind of page answers: {role: (to a look, to an empty form sent)}. A stranger is sent to sign in.
KINDS = {
    # Everybody of the shop looks.
    "look": dict.fromkeys(("hand", "reader", "owner"), (SHOWN, NOT_THIS_WAY)),
    # From one thing to another that belongs to it.
    "leads on": dict.fromkeys(("hand", "reader", "owner"), ({302}, NOT_THIS_WAY)),
    # The same to a page that tells prices or costs.
    "leads on to money": {
        "hand": (REFUSED, REFUSED), "reader": ({302}, NOT_THIS_WAY), "owner": ({302}, NOT_THIS_WAY),
    },
    # It tells prices or costs.
    "look at money": {
        "hand": (REFUSED, REFUSED), "reader": (SHOWN, NOT_THIS_WAY), "owner": (SHOWN, NOT_THIS_WAY),
    },
    # The shop's own affairs, to look at.
    "look at the shop": {
        "hand": (REFUSED, REFUSED), "reader": (REFUSED, REFUSED), "owner": (SHOWN, NOT_THIS_WAY),
    },
    # A form of the owner's.
    "owner's deed": {
        "hand": (REFUSED, REFUSED), "reader": (REFUSED, REFUSED), "owner": (SHOWN, DONE_OR_TOLD),
    },
    # A form of whoever works at the bench.
    "bench deed": {
        "hand": (SHOWN, DONE_OR_TOLD), "reader": (REFUSED, REFUSED), "owner": (SHOWN, DONE_OR_TOLD),
    },
    # A button of theirs, without a page of its own.
    "bench tap": {
        "hand": (NOT_THIS_WAY, DONE_OR_TOLD), "reader": (REFUSED | NOT_THIS_WAY, REFUSED),
        "owner": (NOT_THIS_WAY, DONE_OR_TOLD),
    },
    # A button of the owner's, without a page of its own.
    "owner's tap": {
        "hand": (REFUSED, REFUSED), "reader": (REFUSED, REFUSED), "owner": (NOT_THIS_WAY, DONE_OR_TOLD),
    },
    # What the holder of a card may see, without signing in.
    "open to all": dict.fromkeys(ROLES, (SHOWN, NOT_THIS_WAY)),
    # A button on a page that its holder has, without a page of its own: a look leads to that page.
    "open tap": dict.fromkeys(ROLES, ({302}, DONE_OR_TOLD)),
    # The same, with a file or a number to be sent.
    "open form": dict.fromkeys(ROLES, (SHOWN, DONE_OR_TOLD)),
}  # fmt: skip

DOORS = {
    "common:sign_in": "sign-in",
    "common:sign_out": "sign-out",
    "common:open_shop": "owner link",
    "common:password": "own password",
    "common:first_steps": "owner's deed",
    "common:shop": "owner's deed",
    "common:hands": "look at the shop",
    "common:add_hand": "owner's deed",
    "common:change_hand": "owner's deed",
    "common:journal": "look at the shop",
    "common:photo": "look",
    "people:contacts": "look",
    "people:contact": "look",
    "people:add": "owner's deed",
    "people:edit": "owner's deed",
    "materials:materials": "look",
    "materials:material": "look",
    "materials:rules": "look",
    "materials:add": "owner's deed",
    "materials:edit": "owner's deed",
    "papers:papers": "look",
    "papers:paper": "look",
    "papers:pdf": "look",
    "papers:void": "owner's deed",
    "papers:key": "owner's deed",
    "papers:check": "open form",
    "papers:check_any": "open form",
    "papers:check_picture": "open to all",
    "rough:lots": "look",
    "rough:lot": "look",
    "rough:label": "look",
    "rough:receive": "owner's deed",
    "rough:edit": "owner's deed",
    "rough:statement": "owner's deed",
    "rough:document": "owner's deed",
    "rough:document_file": "look at money",
    "rough:photo": "bench deed",
    "rough:move": "bench deed",
    "stones:stones": "look",
    "stones:stone": "look",
    "stones:bench": "look",
    "stones:wheel": "look",
    "stones:times": "look",
    "stones:label": "look",
    "stones:sort": "owner's deed",
    "stones:charge": "owner's deed",
    "stones:correct_lot": "owner's deed",
    "stones:statement": "owner's deed",
    "stones:extra": "owner's deed",
    "stones:buy": "owner's deed",
    "stones:lose": "bench deed",
    "stones:draw": "bench deed",
    "stones:add_time": "bench deed",
    "stones:time_correct": "bench deed",
    "stones:time_strike": "bench deed",
    "stones:correct_weight": "bench deed",
    "stones:weigh": "bench deed",
    "stones:move": "bench deed",
    "stones:back": "bench deed",
    "stones:wait": "bench deed",
    "stones:split": "bench deed",
    "stones:break": "bench deed",
    "stones:end": "bench deed",
    "stones:again": "bench deed",
    "stones:note": "bench deed",
    "stones:plan": "bench deed",
    "stones:photo": "bench deed",
    "stones:start_clock": "bench tap",
    "stones:stop_clock": "bench tap",
    "stones:time_keep": "bench tap",
    "stones:take_back": "bench tap",
    "stones:resume": "bench tap",
    "stones:stop_note_done": "bench tap",
    "gems:gems": "look",
    "gems:gem": "look",
    "gems:label": "look",
    "gems:listing": "look",
    "gems:sheet": "look",
    "stones:sheet": "look",
    "papers:sheet": "look",
    "gems:suites": "look",
    "gems:suite": "look",
    "gems:issue_certificate": "owner's deed",
    "gems:revise_certificate": "owner's deed",
    "gems:make_suite": "owner's deed",
    "gems:change_suite": "owner's deed",
    "gems:replace_member": "owner's deed",
    "gems:break_up_suite": "owner's deed",
    "gems:issue_suite_paper": "owner's deed",
    "gems:revise_suite_paper": "owner's deed",
    "gems:finish": "owner's deed",
    "gems:issue_card": "owner's deed",
    "gems:revise_card": "owner's deed",
    "gems:price": "owner's deed",
    "gems:move": "owner's deed",
    "gems:describe": "owner's deed",
    "gems:rework": "owner's deed",
    "gems:let_go": "owner's deed",
    "gems:again": "owner's deed",
    "gems:buy": "owner's deed",
    "gems:photo": "bench deed",
    "planning:plans": "look",
    "planning:plan": "look",
    "planning:options": "look",
    "planning:lot_options": "look",
    "planning:depth": "look",
    "planning:recut": "look",
    "planning:calculators": "look",
    "planning:calculator": "look",
    "planning:choose": "bench tap",
    "planning:choose_in_lot": "bench tap",
    "commissions:commissions": "look",
    "commissions:board": "look",
    "commissions:commission": "look",
    "commissions:of_stone": "leads on",
    "commissions:intake_by_code": "leads on",
    "commissions:goods_of_others": "look at money",
    "commissions:take_in": "owner's deed",
    "commissions:intake": "look",
    "commissions:intake_piece": "owner's deed",
    "commissions:intake_photo": "bench deed",
    "commissions:intake_correct": "owner's deed",
    "commissions:intake_mark": "owner's deed",
    "commissions:intake_unmark": "owner's tap",
    "commissions:intake_receipt": "owner's deed",
    "commissions:intake_pdf": "leads on to money",
    "commissions:intake_report": "owner's deed",
    "commissions:intake_after": "owner's deed",
    "commissions:intake_sign": "owner's deed",
    "commissions:enquire": "owner's deed",
    "commissions:edit": "owner's deed",
    "commissions:close": "owner's deed",
    "commissions:add_item": "owner's deed",
    "commissions:item": "owner's deed",
    "commissions:link": "owner's deed",
    "commissions:draw": "owner's deed",
    "commissions:unlink": "owner's deed",
    "commissions:share": "owner's tap",
    "commissions:photo": "bench deed",
    "commissions:account": "look at money",
    "commissions:at_the_wheel": "look",
    "commissions:ask": "bench deed",
    "commissions:go_ahead": "owner's deed",
    "commissions:charge": "owner's deed",
    "commissions:charge_back": "owner's deed",
    "commissions:invoice": "owner's deed",
    "commissions:invoice_deposit": "owner's deed",
    "commissions:credit_note": "owner's deed",
    "commissions:pay": "owner's deed",
    "commissions:refund": "owner's deed",
    "commissions:cancel": "owner's deed",
    "commissions:hold": "owner's deed",
    "commissions:off_hold": "owner's deed",
    "commissions:ask_answer": "owner's deed",
    "commissions:ask_withdraw": "owner's deed",
    "commissions:ask_version": "owner's deed",
    "commissions:differs": "owner's deed",
    "commissions:charge_work": "owner's deed",
    "commissions:unworked": "owner's deed",
    "commissions:broken": "owner's deed",
    "commissions:lost": "owner's deed",
    "commissions:found": "owner's deed",
    "commissions:drop": "owner's deed",
    "commissions:give_back": "owner's deed",
    "commissions:buy": "owner's deed",
    "commissions:off_cut": "owner's deed",
    "commissions:replace": "owner's deed",
    "commissions:design": "owner's deed",
    "commissions:deliver": "owner's deed",
    "commissions:delivery": "look at money",
    "commissions:arrived": "owner's deed",
    "commissions:close_account": "owner's deed",
    "commissions:learned": "look at money",
    "commissions:kinds": "look at money",
    "commissions:kinds_csv": "look at money",
    "commissions:tariffs": "look at money",
    "commissions:tariff": "look at money",
    "commissions:add_tariff": "owner's deed",
    "commissions:edit_tariff": "owner's deed",
    "commissions:end_tariff": "owner's deed",
    "commissions:delete_tariff": "owner's deed",
    "commissions:week": "look",
    "commissions:hours": "owner's deed",
    "commissions:strike_hours": "owner's tap",
    "commissions:calendar": "owner's deed",
    "commissions:calendar_feed": "open to all",
    "commissions:quote_draft": "owner's deed",
    "commissions:quote": "look at money",
    "commissions:quote_line": "owner's deed",
    "commissions:quote_line_out": "owner's tap",
    "commissions:quote_terms": "owner's deed",
    "commissions:quote_send": "owner's deed",
    "commissions:quote_drop": "owner's deed",
    "commissions:quote_withdraw": "owner's deed",
    "commissions:quote_answer": "owner's deed",
    "commissions:quote_pdf": "look at money",
    "commissions:messages": "look at money",
    "commissions:message": "look at money",
    "commissions:write_message": "owner's deed",
    "commissions:note_told": "owner's deed",
    "commissions:link_make": "owner's deed",
    "commissions:link_withdraw": "owner's tap",
    "commissions:message_send": "owner's tap",
    "commissions:message_mark_sent": "owner's tap",
    "commissions:message_copied": "owner's tap",
    "commissions:message_drop": "owner's tap",
    "client:page": "open to all",
    "client:accept": "open tap",
    "client:decline": "open tap",
    "client:answer": "open tap",
    "client:photo": "open to all",
    "client:paper": "open to all",
    "sales:sales": "look at money",
    "sales:sale": "look at money",
    "sales:sell": "owner's deed",
    "sales:pay": "owner's deed",
    "sales:lower": "owner's deed",
    "sales:cancel": "owner's deed",
    "sales:memos": "look at money",
    "sales:memo": "look at money",
    "sales:lend": "owner's deed",
    "sales:take": "owner's deed",
    "sales:memo_send": "owner's deed",
    "sales:memo_drop": "owner's deed",
    "sales:memo_extend": "owner's deed",
    "sales:memo_settle": "owner's deed",
    "sales:memo_back": "owner's deed",
    "sales:hold": "owner's deed",
    "sales:lift": "owner's deed",
    "sales:invoice": "owner's deed",
    "sales:credit": "owner's deed",
    "sales:recalls": "look",
    "sales:recall": "look",
    "sales:recall_entry": "look at money",
    "sales:recall_table": "look at money",
    "sales:open_recall": "owner's deed",
    "sales:close_recall": "owner's deed",
    "sales:recall_tell": "owner's deed",
    "sales:recall_choice": "owner's deed",
    "sales:recall_settle": "owner's deed",
    "sales:recall_withdraw": "owner's deed",
    "sales:recall_lower": "owner's deed",
    "sales:recall_take_back": "owner's deed",
    "sales:recall_reprice": "owner's deed",
    "books:today": "look",
    "books:find": "look",
    "books:stock": "look at money",
    "books:account": "look at money",
}
#: Doors with a rule of their own, each tried by a test of its own below.
APART = {"sign-in", "sign-out", "owner link", "own password"}
#: What strangers may open. Static files are whitenoise's and stand in no address book (see test_headers).
OPEN = {
    "common:sign_in",
    "common:open_shop",
    "papers:check",
    "papers:check_any",
    "papers:check_picture",
    "commissions:calendar_feed",
    "client:page",
    "client:accept",
    "client:decline",
    "client:answer",
    "client:photo",
    "client:paper",
}
#: A paper's PDF is drawn at the first look, and kept so that every later one is the same to the byte.
DRAWN = {"papers:pdf", "client:paper", "commissions:quote_pdf"}

MATRIX = [(name, role) for name, kind in DOORS.items() if kind not in APART for role in ROLES]


def answered(answer, address):
    """What somebody was answered: a status, or that they were sent to sign in first."""
    sent_on = answer.status_code == 302 and answer["Location"].startswith(f"/sign-in/?next={address}")
    return TO_SIGN_IN if sent_on else answer.status_code


def test_every_address_has_its_row_and_every_row_its_address():
    assert set(DOORS) == set(pages())


def test_each_row_is_one_of_the_kinds():
    assert set(DOORS.values()) <= set(KINDS) | APART


@pytest.mark.parametrize("name", [name for name, kind in DOORS.items() if kind not in APART])
def test_a_look(house, name):
    """Each role gets what it should, and looking changes nothing, whoever looks."""
    address, before = house.address(name), fingerprint()
    wanted = KINDS[DOORS[name]]
    for role in ROLES:
        got = answered(house.client(role).get(address), address)
        allowed = wanted[role][0] if role in wanted else {TO_SIGN_IN}
        assert got in allowed, f"{role} looks at {address}: {got} instead of {allowed}"
    assert name in DRAWN or fingerprint() == before, f"looking at {address} changed the records"


@pytest.mark.parametrize("name", [name for name, kind in DOORS.items() if kind not in APART])
def test_an_empty_form(house, name):
    """Each role gets what it should, and who may not do the deed changes nothing by trying."""
    address, before = house.address(name), fingerprint()
    wanted = KINDS[DOORS[name]]
    for role in ROLES:
        client = house.client(role)
        allowed = wanted[role][1] if role in wanted else {TO_SIGN_IN}
        with undone():
            got = answered(client.post(address), address)
            assert got in allowed, f"{role} posts to {address}: {got} instead of {allowed}"
            assert got == 302 or fingerprint() == before, f"{role} changed the records at {address}"


@pytest.mark.parametrize(("method", "role"), [("put", "owner"), ("delete", "reader"), ("trace", "stranger")])
def test_other_ways_of_asking_change_nothing(house, method, role):
    before = fingerprint()
    for name in DOORS:
        if name not in DRAWN:
            answer = getattr(house.client(role), method)(house.address(name))
            assert answer.status_code < 500, name
    assert fingerprint() == before


def test_only_the_open_pages_open_to_a_stranger(house):
    opened = set()
    for name in DOORS:
        address = house.address(name)
        if answered(house.client("stranger").get(address), address) != TO_SIGN_IN:
            opened.add(name)
    assert opened == OPEN


def test_signing_in(house):
    address, before = house.address("common:sign_in"), fingerprint()
    assert house.client("stranger").get(address).status_code == 200
    wrong = house.client("stranger").post(address, {"username": "oona", "password": "not this one"})
    assert wrong.status_code == 200
    for role in ("hand", "reader", "owner"):
        assert house.client(role).get(address).status_code == 302
    assert fingerprint() == before
    stranger = house.client("stranger")
    right = {"username": "oona", "password": "a long enough pass phrase"}
    with undone():
        for elsewhere in (
            "https://evil.example/",
            "//evil.example/",
            "javascript:alert(1)",
            "/\\evil.example",
        ):
            answer = house.client("stranger").post(
                f"{address}?next={elsewhere}", {**right, "next": elsewhere}
            )
            assert (answer.status_code, answer["Location"]) == (302, "/"), elsewhere
        assert stranger.post(f"{address}?next=/rough/", {**right, "next": "/rough/"})["Location"] == "/rough/"


def test_signing_out_needs_a_form(house):
    address, before = house.address("common:sign_out"), fingerprint()
    for role in ("hand", "reader", "owner"):
        assert house.client(role).get(address).status_code == 405
        assert house.client(role).get("/").status_code == 200
        with undone():
            client = type(house.client(role))()
            client.force_login(getattr(house, role), backend="django.contrib.auth.backends.ModelBackend")
            assert client.post(address)["Location"] == "/sign-in/"
            assert client.get("/").status_code == 302
    assert fingerprint() == before


def test_the_owner_link_opens_a_shop_once(house):
    """The link is good, but the shop has its owner: nobody is made one, and nobody learns anything."""
    address, before = house.address("common:open_shop"), fingerprint()
    words = "another long pass phrase"
    form = {"username": "mallory", "password": words, "again": words}
    for role in ROLES:
        for answer in (house.client(role).get(address), house.client(role).post(address, form)):
            assert (answer.status_code, answer["Location"]) == (302, "/sign-in/"), role
    assert fingerprint() == before


def test_one_changes_ones_own_password_and_the_owner_everybodys(house):
    before = fingerprint()
    words = {"password": "a quite different phrase", "again": "a quite different phrase"}
    for role in ("hand", "reader", "owner"):
        for other in ("hand", "reader", "owner"):
            address = reverse("common:password", args=[getattr(house, other).pk])
            allowed = role in (other, "owner")
            assert house.client(role).get(address).status_code == (200 if allowed else 404), (role, other)
            if not allowed:
                assert house.client(role).post(address, words).status_code == 404, (role, other)
                assert answered(house.client("stranger").post(address, words), address) == TO_SIGN_IN
    assert fingerprint() == before


def test_nobody_corrects_anothers_time_but_the_owner(house):
    theirs = house.owner.times.first()
    for deed in ("time_correct", "time_strike"):
        assert house.client("hand").get(reverse(f"stones:{deed}", args=[theirs.pk])).status_code == 403
    assert house.client("hand").post(reverse("stones:time_keep", args=[theirs.pk])).status_code == 403


def admin_addresses():
    """Django's own pages: each model's list, a form to add, and one row's four pages."""
    from django.contrib import admin

    for model in admin.site._registry:
        if model._meta.app_label == "axes":
            # The list of failed sign-ins is the one thing an owner clears there: it lets somebody in again at once.
            continue
        room = f"admin:{model._meta.app_label}_{model._meta.model_name}"
        yield from (reverse(f"{room}_{page}") for page in ("changelist", "add"))
        row = model._default_manager.first()
        if row is not None:
            yield from (reverse(f"{room}_{page}", args=[row.pk]) for page in ("change", "delete", "history"))


def test_djangos_admin_is_the_owners_and_only_to_look_at(house):
    before, tried = fingerprint(), 0
    for address in [reverse("admin:index"), *admin_addresses()]:
        for role in ("stranger", "hand", "reader"):
            for answer in (house.client(role).get(address), house.client(role).post(address)):
                assert answer.status_code == 302, (role, address)
        looked = house.client("owner").get(address)
        assert looked.status_code in {200, 403}, address
        if address != reverse("admin:index"):
            kept = house.client("owner").post(address, {"action": "delete_selected", "_save": "1"})
            assert kept.status_code in {200, 302, 403, 405}, address
        tried += 1
    assert tried > 40
    assert fingerprint() == before


def test_the_guard_sees_an_address_without_a_row(monkeypatch):
    monkeypatch.delitem(DOORS, "rough:lots")
    with pytest.raises(AssertionError):
        test_every_address_has_its_row_and_every_row_its_address()
