"""Every text of every kind of document, made to harm: it stays words, and nothing is opened, called or let out.

The kinds are drawn through the deeds where the words come from the rows, and through the builder for every field it has.
"""

import io
import json
import os

import pikepdf
import pypdf
import pytest

from tests import makers
from tests.makers import NOON, make_shop
from tests.papers import sheets
from tests.papers.documents import a_photo, issued, printed_texts
from tests.papers.specimens import DEEDS
from tests.papers.watch import watched
from workshop.common.models import Shop
from workshop.papers import actions, labels, pdf, rendering, sealing
from workshop.papers.document import (
    Column,
    Document,
    Drawing,
    Facts,
    Mark,
    Party,
    Photos,
    Picture,
    Points,
    Signatures,
    Table,
    Text,
)
from workshop.papers.kinds import SHEETS
from workshop.papers.models import PRIVATE, PaperKind

pytestmark = [pytest.mark.pdf, pytest.mark.django_db]

SECRET = "a-secret-of-the-surroundings-7f3a"
PAYLOADS = [
    '"><img src="file:///etc/hostname">',
    "<img src=http://127.0.0.1:9/a.png onerror=x>",
    "<link rel=attachment href='file:///etc/hostname'>",
    "<style>@import url(file:///etc/hostname);*{background:url(http://127.0.0.1:9/b)}</style>",
    "</title></style></head><script>x</script>",
    "<svg><image href='file:///etc/hostname' width='9' height='9'/><use href='http://127.0.0.1:9/u#a'/></svg>",
    "<!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/hostname'>]>&e;",
    "{% load static %}{{ settings.SECRET_KEY }}{% include 'papers/key.html' %}",
    "{{ paper.shop.address }}${WORKSHOP_PROBE}$WORKSHOP_PROBE%(WORKSHOP_PROBE)s",
    "'; url('file:///etc/hostname'); content: attr(x)",
    "]]><?xml-stylesheet href='file:///etc/hostname'?>",
    "javascript:alert(1) data:text/html,<b>x</b> ../../etc/hostname",
    "\u202e\u2066\x00\x1b[31m\ufeff evil",
]
ALLOWED = ("sRGB2014.icc", ".html", ".css", ".ttf", ".otf", ".woff2", "weasyprint-")


@pytest.fixture(autouse=True)
def shop(db, monkeypatch):
    monkeypatch.setenv("WORKSHOP_PROBE", SECRET)
    return make_shop(
        name=PAYLOADS[0], address="\n".join(PAYLOADS[1:4]), email="x@y.example", tax_number=PAYLOADS[4][:60],
        website="https://wren-alder.example", base_url="https://cards.example",
    )  # fmt: skip


class Bait:
    """The payloads in turn, one for each field that asks."""

    def __init__(self):
        self.given = 0

    def __call__(self):
        self.given += 1
        return f"{PAYLOADS[self.given % len(PAYLOADS)]} {self.given}"


def baited(shop, photo):
    """A document with something hostile in each field that the builder has."""
    bait = Bait()
    document = Document(
        title=bait(), shop=shop, reference=bait(), role=bait(),
        parties=[Party(bait(), [bait(), bait()]) for _ in range(2)],
        facts=[(bait(), bait()) for _ in range(4)],
        blocks=[
            Text([bait(), bait()], heading=bait()),
            Text([bait()], heading=bait(), strong=True),
            Facts([(bait(), bait())], heading=bait()),
            Table([Column(bait()), Column(bait(), numeric=True)], [[bait(), bait()]], foot=[[bait(), bait()]],
                  heading=bait(), note=bait()),
            Points([bait(), bait()], heading=bait(), numbered=True),
            Photos([Picture(photo, bait(), [Mark(makers.Decimal(9), makers.Decimal(9), bait())])], heading=bait()),
            Drawing("oval", makers.Decimal("8.1"), makers.Decimal("7"), makers.Decimal("5"), words=bait(), heading=bait()),
            Signatures([bait(), bait()], heading=bait(), words=bait()),
        ],
    )  # fmt: skip
    assert bait.given > 2 * len(PAYLOADS)
    return document


def check_calm(data, seen, media):
    strange = [
        (event, what)
        for event, what in seen
        if event != "open" or not any(part in what for part in (*ALLOWED, media))
    ]
    assert strange == []
    with open("/etc/hostname") as handle:
        outside = handle.read().strip()
    with pikepdf.open(io.BytesIO(data)) as read:
        assert set(read.attachments) == {"record.json", "record.jsonld", "signature.json"}
        streams = b"".join(
            one.read_bytes()
            for one in read.objects
            if isinstance(one, pikepdf.Stream)
            and one.get("/Subtype") not in ("/Image", "/application#2fjson")
        )
        assert "/JavaScript" not in str(read.Root.keys())
        for one in read.objects:
            if isinstance(one, pikepdf.Dictionary) and one.get("/S") in ("/URI", "/Launch", "/JavaScript"):
                assert str(one.get("/URI", "")).startswith(
                    ("https://cards.example/", "https://wren", "mailto:x@y")
                )
    words = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)
    assert SECRET not in words and SECRET.encode() not in streams and SECRET.encode() not in data
    assert len(outside) < 4 or f"{outside}\n" not in words.replace("/etc/hostname", "")
    return sheets.bare(words)


@pytest.mark.parametrize("kind", sorted(PRIVATE))
def test_every_field_of_a_document_stays_words(settings, shop, kind):
    """Sheets of all these kinds are one; each is drawn, for a template of its own that one of them may get."""
    document = baited(shop, a_photo(400, 300))
    paper = issued(document, PaperKind(kind))
    size = "letter" if kind == PaperKind.CONDITION else "a4"
    with watched() as seen:
        data = rendering.draw(paper, size)
    # A colour profile, fonts and templates aside, only the picture store is read, and the keys that sign.
    found = check_calm(data, seen, str(settings.WORKSHOP_DATA))
    record = json.loads(paper.content)
    missing = [text for text in printed_texts(record) if sheets.bare(text) not in found]
    assert missing == []
    assert "\u202e" not in paper.content and "\x00" not in paper.content
    assert sealing.read(data).faults == ()


FIELDS = {
    PaperKind.INFO_CARD: {"cut": PAYLOADS[0], "clarity": PAYLOADS[7], "colour": PAYLOADS[5][:80]},
    PaperKind.CERTIFICATE: {"cut": PAYLOADS[1], "clarity": PAYLOADS[3], "colour": PAYLOADS[6][:80]},
}


def hostile_rows(kind, monkeypatch):
    """Hostile words in the rows that the deeds take them from: gems, clients, goods, letters of quotes."""
    plain_gem, plain_contact = makers.make_answered_gem, makers.make_contact
    hostile = FIELDS.get(kind, FIELDS[PaperKind.INFO_CARD])

    def gem(*args, **said):
        said = {name: text for name, text in said.items() if name not in hostile}
        made = plain_gem(*args, **said)
        type(made).objects.filter(pk=made.pk).update(**hostile)
        made.refresh_from_db()
        return made

    def contact(name="x", **said):
        return plain_contact(PAYLOADS[2][:80], **said | {"address": "\n".join(PAYLOADS[3:6])})

    monkeypatch.setattr(makers, "make_answered_gem", gem)
    monkeypatch.setattr(makers, "make_contact", contact)
    for room in ("commissions.intakes", "commissions.deliveries"):
        monkeypatch.setattr(f"tests.{room}.make_contact", contact, raising=False)


@pytest.mark.parametrize(
    "kind", [kind for kind in DEEDS if kind not in {PaperKind.CREDIT_NOTE, PaperKind.MEMO_NOTE}]
)
def test_hostile_rows_reach_a_paper_as_words_only(settings, monkeypatch, kind):
    """Through the deeds: what a client, a seller or a hand may have typed, on each kind in its largest size."""
    hostile_rows(kind, monkeypatch)
    paper = DEEDS[kind]()
    with watched() as seen:
        data = rendering.draw(paper, list(SHEETS[kind])[-1])
    check_calm(data, seen, str(settings.WORKSHOP_DATA))
    assert sealing.read(data).faults == ()


def test_a_hostile_label_is_words_only(settings):
    label = labels.Label(
        code="L-0001",
        what='"><img src="file:///etc/x">',
        weight="<b>2 ct</b>",
        url="https://cards.example/rough/L-0001/",
    )
    labels.draw_label(label)
    with watched() as seen:
        data = labels.draw_label(label)
    assert [one for one in seen if one[0] != "open" or not any(part in one[1] for part in ALLOWED)] == []
    with pikepdf.open(io.BytesIO(data)) as read:
        assert len(read.attachments) == 0


def test_no_picture_from_outside_the_store_is_ever_read(shop, tmp_path):
    """A record that names a picture by a way out of the store: refused, and nothing opened on the way."""
    content = Document(
        title="x", shop=Shop.the(), blocks=[Photos([Picture(a_photo(400, 300), "Front")])]
    ).content()
    for way in ("../../../etc/hostname", "/etc/hostname", "..\\..\\x", "a" * 64):
        content["blocks"][0]["pictures"][0]["sha256"] = way
        paper = actions.issue(PaperKind.CONDITION, "C-1", content, by=None, at=NOON)
        with watched() as seen, pytest.raises(Exception) as refusal:
            rendering.draw(paper, "a4")
        assert (
            isinstance(refusal.value, rendering.PaperDamaged | pdf.CannotRender)
            or "Suspicious" in type(refusal.value).__name__
        )
        assert not [what for event, what in seen if "hostname" in what]


def test_the_probe_is_there_to_be_found():
    """The secret does lie in the surroundings, so its absence above says something."""
    assert os.environ["WORKSHOP_PROBE"] == SECRET
