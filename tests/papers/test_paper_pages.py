"""The pages of the papers room, and the check page that anyone who holds a card may open."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests import makers
from tests.makers import NOON, make_answered_gem, make_shop
from workshop.gems import card_actions
from workshop.papers import actions
from workshop.papers.models import Paper

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop(db):
    return make_shop(name="Wren & Alder", base_url="https://cards.example")


@pytest.fixture
def owner(client):
    person = makers.somebody()
    client.force_login(person)
    return person


@pytest.fixture
def paper():
    gem = make_answered_gem(colour="green <script>alert(1)</script>")
    return card_actions.issue_card(gem, by=makers.somebody(), at=NOON)


def page(client, name, *args, status=200):
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == status
    return answer.content.decode()


# --- The check page ---------------------------------------------------------------------------------------------------


def test_a_stranger_reads_what_was_issued_and_that_it_stands(client, paper):
    text = page(client, "papers:check", paper.check_code)
    assert "IC-0001 stands as it was issued on" in text and "Tourmaline" in text
    assert "heated; permanent in normal wear" in text and "not a laboratory report" in text
    assert paper.content_sha256 in text and "Wren &amp; Alder" in text


def test_it_runs_no_script_and_wants_no_account(client, paper):
    answer = client.get(reverse("papers:check", args=[paper.check_code]))
    text = answer.content.decode()
    assert "<script" not in text and "&lt;script&gt;" in text
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert answer.headers["X-Robots-Tag"] == "noindex"


def test_a_void_paper_says_so_with_day_and_reason(client, paper):
    actions.void(paper, reason="the species was another", by=makers.somebody(), at=NOON)
    text = page(client, "papers:check", paper.check_code)
    assert "Void since" in text and "the species was another" in text and "stands as" not in text


def test_a_superseded_paper_leads_to_the_one_that_took_its_place(client, paper):
    new = card_actions.revise_card(paper, reason="weighed again", by=makers.somebody(), at=NOON)
    text = page(client, "papers:check", paper.check_code)
    assert "Superseded by" in text and new.number in text and "weighed again" in text
    assert reverse("papers:check", args=[new.check_code]) in text


@pytest.mark.parametrize("code", ["A" * 22, "x", "IC-0001", "a" * 500])
def test_an_unknown_code_gets_a_kind_answer(client, paper, code):
    text = page(client, "papers:check", code, status=404)
    assert "No paper has this check code" in text


def test_the_number_alone_opens_nothing(client, paper):
    """Only the 128 random bits do; a stranger on the numbered page is sent to sign in."""
    answer = client.get(paper.get_absolute_url())
    assert answer.status_code == 302 and "sign-in" in answer.url


def test_a_damaged_record_is_told_and_not_shown(client, paper):
    with connection.cursor() as cursor:
        on = " ON papers_paper" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER papers_paper_frozen{on}")
        cursor.execute("UPDATE papers_paper SET content = REPLACE(content, 'heated', 'haeted')")
    text = page(client, "papers:check", paper.check_code)
    assert "is not the one that was issued" in text and "haeted" not in text


# --- Inside -----------------------------------------------------------------------------------------------------------


def test_the_paper_page_says_state_rules_and_where_to_print(client, owner, paper):
    text = page(client, "papers:paper", paper.number)
    assert "stands" in text and "16 CFR 23.24" in text
    assert reverse("papers:pdf", args=[paper.number, "id1"]) in text
    assert reverse("papers:check", args=[paper.check_code]) in text
    assert reverse("papers:void", args=[paper.number]) in text


@pytest.mark.pdf
def test_the_pdf_comes_inline_under_its_number(client, owner, paper):
    answer = client.get(reverse("papers:pdf", args=[paper.number, "id1"]))
    assert answer.status_code == 200 and answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == 'inline; filename="IC-0001-id1.pdf"'
    assert answer.content == client.get(reverse("papers:pdf", args=[paper.number, "id1"])).content
    assert page(client, "papers:pdf", paper.number, "a0", status=404)


def test_without_pango_the_pdf_page_says_what_to_install(client, owner, paper, settings):
    settings.PDF_AVAILABLE = False
    assert "apt-get install" in page(client, "papers:pdf", paper.number, "id1", status=503)
    assert "apt-get install" in page(client, "papers:paper", paper.number)


def test_a_picture_that_is_gone_is_told_instead_of_printed(client, owner, paper, monkeypatch):
    from workshop.papers import rendering, views

    def gone(*args, **kwargs):
        raise rendering.PaperDamaged("The photograph of this paper is not in the picture store any more.")

    monkeypatch.setattr(views.actions, "bytes_of", gone)
    assert "not in the picture store" in page(client, "papers:pdf", paper.number, "id1", status=409)


def test_withdrawing_wants_a_reason_and_shows_it(client, owner, paper):
    url = reverse("papers:void", args=[paper.number])
    assert client.post(url, {"reason": ""}).status_code == 422
    assert client.post(url, {"reason": "x" * 301}).status_code == 422
    assert Paper.objects.get().stands
    answer = client.post(url, {"reason": "stone came back to be recut"})
    assert answer.status_code == 302
    assert "stone came back to be recut" in page(client, "papers:paper", paper.number)
    assert client.post(url, {"reason": "twice"}).status_code == 422


def test_hands_and_readers_read_and_withdraw_nothing(client, paper):
    for person in (makers.make_hand(), makers.make_reader()):
        client.force_login(person)
        text = page(client, "papers:paper", paper.number)
        assert "Withdraw" not in text and "Revise" not in text
        assert client.post(reverse("papers:void", args=[paper.number]), {"reason": "x"}).status_code == 403
    assert Paper.objects.get().stands


@pytest.mark.parametrize("name", ["papers:papers", "papers:paper", "papers:pdf", "papers:void"])
def test_strangers_are_sent_to_sign_in(client, paper, name):
    args = {"papers:papers": [], "papers:pdf": [paper.number, "id1"]}.get(name, [paper.number])
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 302 and "sign-in" in answer.url


def test_an_unknown_number_is_a_404(client, owner):
    for name in ("papers:paper", "papers:void"):
        page(client, name, "IC-9999", status=404)
    page(client, "papers:pdf", "IC-9999", "id1", status=404)


# --- The list ---------------------------------------------------------------------------------------------------------


def some_papers(count):
    from workshop.papers.models import PaperKind

    return [
        actions.issue(PaperKind.INFO_CARD, f"G-{n:04d}", {"name_line": "x"}, by=makers.somebody(), at=NOON)
        for n in range(1, count + 1)
    ]


def test_the_list_filters_by_word_and_state(client, owner):
    first, second, third = some_papers(3)
    actions.void(second, reason="gone", by=owner, at=NOON)
    text = client.get(reverse("papers:papers"), {"state": "void"}).content.decode()
    assert second.number in text and first.number not in text
    text = client.get(reverse("papers:papers"), {"words": "g-0003"}).content.decode()
    assert third.number in text and first.number not in text
    assert client.get(reverse("papers:papers"), {"state": "burnt"}).status_code == 422


def test_the_list_costs_the_same_for_few_and_many(client, owner):
    url = reverse("papers:papers")
    some_papers(3)
    client.get(url)
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(url)
    some_papers(40)
    with CaptureQueriesContext(connection) as many:
        client.get(url)
    assert len(many) == len(few)
