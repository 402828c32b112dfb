"""Whatever is typed into an address, a filter or a form: no fault of ours, a 4xx that says why, nothing half kept.

OWASP ASVS 5.0.0, 2.2.1 (input is checked where it is trusted), 2.3.3 (all or nothing), 15.3.7 (the same name twice).
By default each field meets a few of the strange values in turn; ``--deep`` lets every field meet every one.
"""

from itertools import cycle, islice
from urllib.parse import quote_from_bytes, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import resolve, reverse

from tests.guards.forms_of_pages import encoded, forms_of
from tests.guards.house import fingerprint, names_of_parts, pages, rows_touched, undone
from workshop.materials.models import Question
from workshop.planning.views.calculators import CALCULATORS

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("guards")]

STRANGE = {
    "nothing": "",
    "blanks": "   ",
    "a nul": "a\x00b",
    "half a surrogate": b"\xed\xa0\x80",
    "no utf-8": b"\xff\xfe\x80",
    "a huge whole": "9" * 40,
    "a huge power": "1e999999",
    "not a number": "NaN",
    "endless": "-Infinity",
    "below nothing": "-1",
    "nought": "0",
    "many places": "0." + "0" * 60 + "1",
    "a comma": "1,5 g",
    "other digits": "٣٫٥",
    "a square": "²",
    "right to left": "\u202eلؤلؤ\u202c",
    "a face": "💎\u200d🔥",
    "markup": "<img src=x onerror=alert(1)>{{ 7 }}{% now 'Y' %}",
    "quotes": "'\"`; DROP TABLE stones_stone; --",
    "new lines": "a\r\nSet-Cookie: x=1\r\n\r\n",
    "a way out": "../../../../etc/passwd",
    "a formula": '=HYPERLINK("https://evil.example")',
    "three hundred": "ё" * 300,
    "twenty thousand": "w" * 20_000,
    "no such day": "2026-02-30",
    "the last day": "9999-12-31T23:59",
    "the first day": "0001-01-01T00:00",
    "a list": "[1, {}]",
}
#: Buttons that look or add a row, and keep nothing.
LOOKS = {"preview", "one_more", "show", "quietly", "grow", "more"}
#: Forms that are answered on the spot: whether a paper stands.
ANSWERED = {"papers:check", "papers:check_any"}
#: What our pages read from an address beside the fields of their filters.
ASKED = [
    "sort", "after", "before", "q", "from", "kind", "as", "question", "day", "hand", "start", "end", "activity", "lot",
    "stone", "about", "part", "next", "page",
]  # fmt: skip
ONE_BY_ONE = 2


@pytest.fixture(scope="module")
def deep(request):
    return request.config.getoption("--deep")


@pytest.fixture(scope="module")
def strange(deep):
    """Takes the next few strange values: every value comes up somewhere, and each run asks the same."""
    turning = cycle(STRANGE.items())

    def some(count):
        return list(STRANGE.items()) if deep else list(islice(turning, count))

    return some


def as_text(value):
    return value if isinstance(value, bytes) else value.encode()


@pytest.fixture(scope="module")
def shown(house, django_db_blocker):
    """Every page the owner can look at, with its forms: {name: (address, forms)}."""
    found = {}
    with django_db_blocker.unblock():
        for name, address in addresses(house):
            answer = house.client("stranger" if name == "common:sign_in" else "owner").get(address)
            if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
                found[name] = (address, forms_of(answer.content.decode(), address))
    return found


def addresses(house):
    """Each page once; a calculator is a page of its own, and each question about a stone asks other things."""
    for name in pages():
        if name in {"common:sign_out", "planning:calculator"} or name.endswith((":pdf", ":label")):
            continue
        yield name, house.address(name)
        if name in {"rough:statement", "stones:statement"}:
            for question in Question.values:
                yield f"{name} {question}", f"{house.address(name)}?question={question}"
    for calculator in CALCULATORS:
        yield f"planning:calculator {calculator}", reverse("planning:calculator", args=[calculator])


def filters_of(shown):
    """{name of a page: (its address, the names of its filter's fields)}"""
    found = {}
    for name, (address, forms) in shown.items():
        own = [one for form in forms if form.method == "get" for one in form.names]
        found[name] = (address, list(dict.fromkeys([*own, *ASKED])))
    return found


def joined(address):
    return "&" if "?" in address else "?"


def forms_to_send(shown):
    """Each form once, however many pages show it."""
    known, found = set(), []
    for _, forms in shown.values():
        for form in forms:
            door = resolve(urlsplit(form.action).path).view_name
            mark = (door, tuple(form.names), tuple(form.buttons))
            # A stranger's sign-in locks the door after five; it has tests of its own.
            if (
                form.method == "post"
                and mark not in known
                and door not in {"common:sign_in", "common:sign_out"}
            ):
                known.add(mark)
                found.append((door, form))
    return found


def test_there_is_enough_to_try(shown):
    assert len(shown) > 60
    assert len(forms_to_send(shown)) > 50
    assert sum(len(form.names) for _, form in forms_to_send(shown)) > 250


def test_strange_words_in_a_filter(house, shown, strange, deep):
    before, faults, asked = fingerprint(), [], 0
    for name, (address, fields) in filters_of(shown).items():
        groups = [[one] for one in fields] if deep else [fields, *([one] for one in fields[: -len(ASKED)])]
        for group in groups:
            for what, value in strange(ONE_BY_ONE):
                query = "&".join(f"{one}={quote_from_bytes(as_text(value), safe='')}" for one in group)
                answer = house.client("owner").get(f"{address}{joined(address)}{query}")
                asked += 1
                if answer.status_code not in {200, 302, 404, 422}:
                    faults.append(f"{answer.status_code}: {name} with {what} in {', '.join(group)}")
    assert not faults, "\n".join(faults)
    assert asked > 200
    assert fingerprint() == before


def test_the_same_word_twice_and_positions_nobody_gave(house, shown):
    keys = [
        "WzEsMV0",
        "bnVsbA",
        "W251bGwsMV0",
        "W1t7fV0sMV0",
        "WyIiLDk5OTk5OTk5OTk5OTk5OTk5OTk5OV0",
        "=",
        "Wzk5OTk5OTk5OTksMV0",
    ]
    faults = []
    for name, (address, fields) in filters_of(shown).items():
        doubled = "&".join(f"{one}=1&{one}=-weight" for one in fields)
        queries = [doubled]
        if any(
            word in address for word in ("rough", "stones", "gems", "sales", "people", "papers", "journal")
        ):
            queries += [f"after={key}&sort={sort}" for key in keys for sort in ("code", "weight")][::3]
        for query in queries:
            answer = house.client("owner").get(f"{address}{joined(address)}{query}")
            if answer.status_code not in {200, 302, 404, 422}:
                faults.append(f"{answer.status_code}: {name} asked {query}")
    assert not faults, "\n".join(faults)


def test_strange_words_in_an_address(house, strange):
    """A part of an address that nothing answers to is a page that is not there, never a fault."""
    before, faults = fingerprint(), []
    for name, parts in names_of_parts().items():
        if name.startswith("admin:") or not parts:
            continue
        address = house.address(name)
        for piece in [one for one in address.split("/") if one and one not in name.replace("_", "-")]:
            for what, value in strange(2):
                odd = quote_from_bytes(as_text(value)[:300], safe="") or "-"
                for ask in (house.client("owner").get, house.client("owner").post):
                    with undone():
                        answer = ask(address.replace(f"/{piece}", f"/{odd}", 1))
                    if answer.status_code >= 500:
                        faults.append(f"{answer.status_code}: {name} with {what} for {piece}")
    assert not faults, "\n".join(faults)
    assert fingerprint() == before


class Sender:
    """Sends forms, and notes what was answered wrongly."""

    def __init__(self, house):
        self.client, self.before, self.faults, self.sent, self.done = (
            house.client("owner"),
            fingerprint(),
            [],
            0,
            0,
        )

    def send(self, door, form, pairs, what, button=None):
        pressed = [button] if button else []
        with undone():
            touched = rows_touched()
            answer = self.client.post(
                form.action, encoded([*pairs, *pressed]), content_type="application/x-www-form-urlencoded"
            )
            self.sent += 1
            self.done += answer.status_code == 302
            looked = door in ANSWERED or any(name in LOOKS for name, _ in pressed)
            allowed = {302, 400, 403, 404, 405, 409, 413, 422} | ({200} if looked else set())
            if answer.status_code not in allowed:
                self.faults.append(f"{answer.status_code}: {door} with {what}")
            untouched = touched is not None and touched == rows_touched()
            if answer.status_code != 302 and not untouched and fingerprint() != self.before:
                self.faults.append(f"half kept: {door} with {what} ({answer.status_code})")

    def every_button(self, door, form, pairs, what):
        named = form.buttons or [None]
        for button in [None, *named] if all(one and one[0] in LOOKS for one in named) else named:
            self.send(door, form, pairs, what, button)


@pytest.fixture
def sender(house):
    sender = Sender(house)
    yield sender
    assert not sender.faults, "\n".join(sender.faults)


def test_each_form_as_somebody_might_send_it(shown, sender):
    """The start of all that follows: with everything plausible, many a deed is truly done."""
    for door, form in forms_to_send(shown):
        sender.every_button(door, form, form.filled(), "plausible words")
    assert sender.done > 15


def test_each_field_with_a_strange_value_among_good_ones(shown, sender, strange):
    for door, form in forms_to_send(shown):
        for name in form.names:
            rest = [pair for pair in form.filled() if pair[0] != name]
            for what, value in strange(1):
                sender.send(
                    door, form, [*rest, (name, value)], f"{what} in {name}", next(iter(form.buttons), None)
                )
    assert sender.sent > 400


def test_every_field_with_the_same_strange_value(shown, sender, strange):
    for door, form in forms_to_send(shown):
        for what, value in strange(4):
            sender.every_button(door, form, [(name, value) for name in form.names], f"{what} everywhere")


def test_a_field_missing_or_sent_twice(shown, sender, deep):
    for door, form in forms_to_send(shown):
        filled = form.filled()
        for name in form.names if deep else form.names[:2]:
            sender.send(door, form, [pair for pair in filled if pair[0] != name], f"no {name}")
        sender.send(door, form, [*filled, *((name, "2") for name in form.names)], "everything twice")
        sender.send(
            door, form, [*filled, *((f"{name}[]", "2") for name in form.names)], "names of other shapes"
        )


def test_files_that_are_none(shown, house):
    before, faults, sent = fingerprint(), [], 0
    for door, form in forms_to_send(shown):
        # A lot's papers are kept as they are, unread, text among them, and only ever given out as a file to save.
        unread = door == "rough:document"
        boxes = [one.name for one in form.fields if one.kind == "file"]
        for box in boxes:
            for name, body in (
                ("../../settings.py", b"import os"), ("a" * 300 + ".jpg", b""), ("\u202egpj.exe", b"MZ\x00\x00"),
                ("a.svg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>"), ("a.jpg", b"\xff\xd8\xff\xe0cut"),
            ):  # fmt: skip
                data = {**dict(form.filled()), box: SimpleUploadedFile(name, body, "image/jpeg")}
                with undone():
                    answer = house.client("owner").post(form.action, data)
                    sent += 1
                    kept = unread and name in {"../../settings.py", "a.jpg"}
                    # What is handed in to be checked is answered on the page itself.
                    told = {422, 413} | ({200} if door in ANSWERED else set())
                    if answer.status_code not in ({302} if kept else told):
                        faults.append(f"{answer.status_code}: {door}, {name[:20]} as {box}")
                    if not kept and fingerprint() != before:
                        faults.append(f"half kept: {door}, {name[:20]} as {box}")
    assert not faults, "\n".join(faults)
    assert sent >= 25


def test_bodies_that_are_no_form(house, shown, sender):
    for door, form in forms_to_send(shown):
        for kind, body in (
            ("application/json", b'{"weight": 3}'), ("multipart/form-data; boundary=x", b"--x\r\nnonsense"),
            ("multipart/form-data", b""), ("text/plain", b"\xff\x00"),
        ):  # fmt: skip
            with undone():
                answer = house.client("owner").post(form.action, body, content_type=kind)
                if answer.status_code >= 500:
                    sender.faults.append(f"{answer.status_code}: {door} sent {kind}")


def test_the_guard_sees_a_fault_and_what_is_half_kept(shown, house, monkeypatch):
    """Planted: a deed that fails like a program, and one that keeps something and then refuses the rest."""
    from workshop.common.errors import DeedRefused
    from workshop.people import actions
    from workshop.people.models import Contact

    door, form = next(one for one in forms_to_send(shown) if one[0] == "people:add")

    def broken(**said):
        raise RuntimeError("planted")

    monkeypatch.setattr(actions, "add_contact", broken)
    sender = Sender(house)
    sender.send(door, form, form.filled(), "plain words")
    assert sender.faults == ["500: people:add with plain words"]

    def keeps_and_refuses(request, form, deed):
        Contact.objects.create(code="P-9999", name="half")
        form.add_error(None, str(DeedRefused("planted")))

    monkeypatch.setattr("workshop.people.views.try_deed", keeps_and_refuses)
    sender = Sender(house)
    sender.send(door, form, form.filled(), "plain words")
    assert sender.faults == ["half kept: people:add with plain words (422)"]
