"""Papers between the shop and one client: who reads what they say, and what the open check page keeps to itself."""

import html
import json

import pytest
from django.db import connection
from django.urls import reverse

from tests import makers
from tests.makers import NOON
from tests.papers.documents import (
    a_condition_report,
    a_photo,
    a_quote,
    issued,
    make_document_shop,
    printed_texts,
    strings,
)
from workshop.common import photos
from workshop.papers import actions
from workshop.papers.models import PRIVATE, PaperFile, PaperKind
from workshop.papers.record import sha256_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop(db):
    return make_document_shop()


@pytest.fixture
def paper(shop):
    return issued(a_quote(shop))


def as_(client, person):
    client.force_login(person)
    return client


def page(client, name, *args, status=200):
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == status
    return html.unescape(answer.content.decode())


def told(paper, *more):
    """What the check page must not tell: every text of the record but who issued it, its number, day and hashes."""
    content = json.loads(paper.content)
    open_to_all = {
        content["shop"]["name"],
        content["number"],
        content["check_code"],
        content["check_url"],
        "en",
    }
    secret = {text for text in strings(content) if text not in open_to_all} - {
        content["kind"],
        *content["sizes"],
    }
    # Words of the record's machinery that any page may hold ("text", "table", "0"); prices and names are no such words.
    machinery = {block["kind"] for block in content["blocks"]} | {
        content["issued_at"],
        content["issued_on"],
        "oval",
    }
    return {text for text in secret - machinery if len(text) > 2} | set(more)


@pytest.mark.parametrize("kind", sorted(PRIVATE))
def test_a_stranger_learns_that_it_stands_and_nothing_of_what_it_says(client, shop, kind):
    paper = issued(a_condition_report(shop) if kind == PaperKind.CONDITION else a_quote(shop), kind)
    PaperFile.objects.create(paper=paper, size="a4", pdf=b"x", sha256=sha256_of(b"x"), rendered_at=NOON)
    text = page(client, "papers:check", paper.check_code)
    label = paper.get_kind_display()
    assert f"{label[0].upper()}{label[1:]} {paper.number}" in text and "Wren & Alder" in text
    assert f"{paper.number} stands as it was issued on" in text and "2 Mar 2026" in text
    assert paper.content_sha256 in text and sha256_of(b"x") in text
    secret = told(paper, paper.about)
    assert "Ada Lund" in secret and len(secret) > 8
    assert [said for said in secret if said in text and said.lower() != label] == []
    assert "<img" not in text and "<image" not in text


def test_a_void_paper_keeps_its_reason_from_strangers(client, paper):
    actions.void(paper, reason="Ada Lund sold the stone to Tom", by=makers.somebody(), at=NOON)
    text = page(client, "papers:check", paper.check_code)
    assert "Void since" in text and "2 Mar 2026" in text and "stands as" not in text
    assert [said for said in told(paper, "Tom", "sold the stone") if said in text] == []
    inside = page(as_(client, makers.somebody()), "papers:paper", paper.number)
    assert "Ada Lund sold the stone to Tom" in inside


def test_a_superseded_paper_names_its_successor_and_no_reason(client, shop, paper):
    new = actions.revise(
        paper, a_quote(shop, rows=4).content(), reason="Ada wants four", by=makers.somebody(), at=NOON
    )
    text = page(client, "papers:check", paper.check_code)
    assert (
        f'Superseded by <a href="{reverse("papers:check", args=[new.check_code])}">{new.number}</a>' in text
    )
    assert "Ada" not in text
    assert [said for said in told(new) - {paper.number} if said in text] == []


def test_a_damaged_private_record_is_told_and_not_shown(client, paper):
    with connection.cursor() as cursor:
        on = " ON papers_paper" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER papers_paper_frozen{on}")
        cursor.execute("UPDATE papers_paper SET content = REPLACE(content, 'Ada Lund', 'Eve Lund')")
    text = page(client, "papers:check", paper.check_code)
    assert "is not the one that was issued" in text and "Lund" not in text


@pytest.mark.parametrize("kind", sorted(PRIVATE))
def test_no_picture_of_a_private_paper_is_open(client, kind):
    photo = a_photo()
    said = {"kind": "photo", "sha256": photo.sha256, "bytes_sha256": sha256_of(photos.read(photo, "card"))}
    content = {"name_line": "x", "picture": said}
    card = actions.issue(PaperKind.INFO_CARD, "G-0001", content, by=makers.somebody(), at=NOON)
    private = actions.issue(kind, "C-0042", content, by=makers.somebody(), at=NOON)
    assert client.get(reverse("papers:check_picture", args=[card.check_code])).status_code == 200
    assert client.get(reverse("papers:check_picture", args=[private.check_code])).status_code == 404
    assert client.get(reverse("papers:check_picture", args=["not-issued"])).status_code == 404


# --- Inside -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("make", [a_quote, a_condition_report])
def test_the_owner_and_a_reader_read_every_text(client, shop, make):
    paper = issued(make(shop), PaperKind.CONDITION)
    for person in (makers.somebody(), makers.make_reader()):
        text = page(as_(client, person), "papers:paper", paper.number)
        content = json.loads(paper.content)
        own = {content["shop"][key] for key in ("email", "website", "tax_number")} | set(
            content["shop"]["address"]
        )
        for said in printed_texts(content):
            assert said in text or said in own | {content["check_url"]}, said


def test_marks_are_drawn_over_the_photograph_on_the_page(client, shop):
    photo = a_photo()
    paper = issued(a_condition_report(shop, photo), PaperKind.CONDITION)
    text = page(as_(client, makers.somebody()), "papers:paper", paper.number)
    assert (
        f'<image href="{reverse("common:photo", args=[photo.sha256, "large"])}" width="1600" height="1200"/>'
        in text
    )
    assert 'cx="400.00" cy="360.00"' in text and "Fissure that reaches the surface" in text


@pytest.mark.pdf
def test_who_may_read_what_it_says(client, paper):
    """Owner and reader; a hand neither page nor bytes, whether they were drawn already or not; a stranger nothing."""
    addresses = [reverse("papers:paper", args=[paper.number])]
    addresses += [reverse("papers:pdf", args=[paper.number, size]) for size in ("a4", "letter")]
    people = {makers.make_hand(): 403, makers.somebody(): 200, makers.make_reader(): 200}
    for _ in range(2):
        for person, status in people.items():
            assert [as_(client, person).get(one).status_code for one in addresses] == [status] * 3
    assert PaperFile.objects.count() == 2
    client.logout()
    for one in addresses:
        answer = client.get(one)
        assert answer.status_code == 302 and "sign-in" in answer.url


def test_a_hand_is_refused_without_being_told_anything(client, paper):
    text = page(as_(client, makers.make_hand()), "papers:paper", paper.number.lower(), status=403)
    assert "between the shop and a client" in text
    assert [said for said in told(paper, "C-0042") if said in text] == []


def test_a_card_stays_open_to_hands(client):
    card = actions.issue(PaperKind.INFO_CARD, "G-0001", {"name_line": "x"}, by=makers.somebody(), at=NOON)
    assert as_(client, makers.make_hand()).get(card.get_absolute_url()).status_code == 200


def test_a_document_is_not_revised_from_here_but_withdrawn_by_its_owner(client, paper):
    text = page(as_(client, makers.somebody()), "papers:paper", paper.number)
    assert "Withdraw" in text and "Revise" not in text
    url, reader = reverse("papers:void", args=[paper.number]), makers.make_reader()
    for person in (makers.make_hand(), reader):
        assert as_(client, person).post(url, {"reason": "x"}).status_code == 403
    assert "Withdraw" not in page(as_(client, reader), "papers:paper", paper.number)
    paper.refresh_from_db()
    assert paper.stands


def test_a_hand_sees_number_and_kind_in_the_list(client, paper):
    text = page(as_(client, makers.make_hand()), "papers:papers")
    row = text[text.index("<tbody>") : text.index("</tbody>")]
    assert paper.number in row and "quote" in row
    assert "C-0042" not in row and paper.get_absolute_url() not in row and "2026" not in row
    for person in (makers.somebody(), makers.make_reader()):
        row = page(as_(client, person), "papers:papers")
        assert "C-0042" in row and paper.get_absolute_url() in row


def test_the_list_filters_by_kind(client, shop, paper):
    report = issued(a_condition_report(shop), PaperKind.CONDITION)
    answer = as_(client, makers.somebody()).get(reverse("papers:papers"), {"kind": "condition"})
    text = answer.content.decode()
    assert report.number in text and paper.number not in text
    assert client.get(reverse("papers:papers"), {"kind": "ransom note"}).status_code == 422
