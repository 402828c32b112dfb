"""The client's page: what it shows and takes, what it never shows, and that each answer is taken once."""

import io
import re
import threading
from decimal import Decimal
from html.parser import HTMLParser

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image

from tests.commissions.told import HIDDEN, add_paper, add_picture, make_ask, make_open, make_quote, two_pieces
from tests.guards.house import fingerprint
from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_clients_stone,
    make_commission,
    make_contact,
    make_owner,
    make_shop,
)
from workshop.commissions import links
from workshop.commissions.actions import account, pieces
from workshop.commissions.actions.asks import withdraw_ask
from workshop.commissions.actions.links import make_link
from workshop.commissions.models import CommissionPhoto, Message, QuoteState
from workshop.commissions.shown import agreed_wording
from workshop.common.models import DoneDeed
from workshop.gems.actions import buy_from_owner
from workshop.gems.card_actions import issue_card, revise_card
from workshop.papers.models import Paper
from workshop.papers.pdf import PdfUnavailable

pytestmark = pytest.mark.django_db

YES = {"yes-name": "Mara Quill", "yes-read": "on"}


@pytest.fixture
def owner():
    make_shop(name="Vale Cutting", email="bench@vale.example", cutter="Oona Vale")
    return make_owner()


@pytest.fixture
def stranger():
    return Client(raise_request_exception=False)


def text_of(answer):
    """The page with every run of spaces, breaking or not, as one."""
    return spaced(answer.content.decode())


def spaced(text):
    return re.sub(r"\s+", " ", text)


def test_what_was_paid_ahead_is_not_said_to_come_back_while_the_work_goes_on(owner, stranger):
    commission, path = make_open(by=owner, state="accepted")
    account.pay(commission, amount=Decimal(90), paid_as="deposit", on=DAY, by=owner, at=timezone.now())
    page = text_of(stranger.get(path))
    assert "paid ahead" in page and "to come back to you" not in page
    commission.items.update(outcome="dropped", outcome_on=DAY)
    assert "to come back to you" in text_of(stranger.get(path))


def test_only_some_of_the_pieces_is_an_answer_too(owner, stranger):
    _, path = make_open(by=owner)
    assert "Only some of the pieces" in text_of(stranger.get(path))


# --- What it shows ------------------------------------------------------------------------------------------------


def test_it_shows_the_quote_with_all_a_client_has_to_know(owner, stranger):
    commission, path = make_open(by=owner)
    page = text_of(stranger.get(path))
    last = timezone.localdate() + timezone.timedelta(days=14)
    for words in (
        commission.code, "Vale Cutting", "mailto:bench@vale.example", "for a ring", "180.00–260.00 EUR", "2.50–3.10 ct",
        "8.20–8.60 × 6.90–7.20 mm", "Below 2.40 ct I stop and ask you first.", "A hidden fissure may open.",
        "Work on included stones is at your risk.", "90.00 EUR before the work begins", "19 % tax",
        f"{last:%-d %b %Y}", "A lovely piece.", "Accept this quote", "Decline this quote", "Your rights under the law where you live",
    ):  # fmt: skip
        assert words in page, words


def test_it_needs_no_script_and_shows_none_of_the_shops_own_pages(owner, stranger):
    _, path = make_open(by=owner)
    page = stranger.get(path).content.decode()
    assert "<script" not in page
    addresses = set(re.findall(r'(?:href|action)="([^"]+)"', page))
    assert {one for one in addresses if not one.startswith(("/static/", "mailto:", path, "#"))} == set()


def test_an_expired_quote_says_so_and_takes_no_answer(owner, stranger):
    _, path = make_open(by=owner, days=-1)
    page = text_of(stranger.get(path))
    assert "The quote has run out" in page
    assert "a new one is quickly made" in page
    assert "Accept this quote" not in page
    answer = stranger.post(f"{path}accept/1/", YES)
    assert answer.status_code == 409
    assert "it has expired" in text_of(answer)


def test_a_draft_is_nobodys_but_the_cutters(owner, stranger):
    commission, path = make_open(by=owner, state="draft")
    page = text_of(stranger.get(path))
    assert "180.00" not in page
    assert "Your quote" not in page
    for deed in ("accept", "decline"):
        assert stranger.post(f"{path}{deed}/1/", YES).status_code == 404
    assert commission.quotes.get().state == QuoteState.DRAFT


def test_what_was_charged_and_paid_stands_there_and_no_note_of_ours(owner, stranger):
    commission, path = make_open(by=owner, state="accepted")
    account.charge(
        commission, kind="work", words="Recutting", net=Decimal("200"), tax_percent=Decimal("19"), on=DAY, by=owner, at=NOON
    )  # fmt: skip
    account.pay(
        commission, amount=Decimal("90"), paid_as="deposit", way="transfer", on=DAY, note="SENTINEL-PAYMENT-NOTE",
        by=owner, at=NOON,
    )  # fmt: skip
    page = text_of(stranger.get(path))
    for words in (
        "Recutting",
        "238.00 EUR",
        "deposit received",
        "90.00 EUR",
        "still to pay",
        "148.00 EUR",
    ):
        assert words in page, words
    assert "SENTINEL" not in page


def test_a_piece_is_told_by_its_stage_in_words(owner, stranger):
    commission, path = make_open(by=owner, state="accepted")
    assert "Not begun" in text_of(stranger.get(path))
    make_ask(commission, by=owner)
    page = text_of(stranger.get(path))
    assert "Waiting for your answer" in page
    stone = commission.items.get().links.get().stone
    assert stone.code not in page, "the shop's own codes of stones tell a client nothing"


# --- Yes and no ---------------------------------------------------------------------------------------------------


def test_accepting_keeps_name_time_and_the_exact_wording(owner, stranger):
    commission, path = make_open(by=owner)
    quote = commission.quotes.get()
    shown = text_of(stranger.get(path))
    answer = stranger.post(f"{path}accept/1/", {**YES, "yes-words": "In daylight, please."})
    assert (answer.status_code, answer["Location"]) == (302, f"{path}#now")
    quote.refresh_from_db()
    commission.refresh_from_db()
    assert (quote.state, quote.answered_name, quote.answered_words) == (
        "accepted",
        "Mara Quill",
        "In daylight, please.",
    )
    assert quote.answered_from == "client's page"
    assert abs(quote.answered_at - timezone.now()).total_seconds() < 60
    assert commission.state == "accepted"
    assert commission.heard_at == quote.answered_at
    assert quote.agreed_wording == agreed_wording(quote)
    for line in filter(None, quote.agreed_wording.splitlines()):
        assert spaced(re.sub(r"^– ", "", line).removesuffix(":")) in shown, (
            f"agreed to without seeing it: {line}"
        )
    page = text_of(stranger.get(path))
    assert "What you accepted" in page
    assert "by Mara Quill" in page
    assert "Accept this quote" not in page


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ({}, "Type your name."),
        ({"yes-name": "Mara Quill"}, "Tick the box once you have read it."),
        ({"yes-read": "on"}, "Type your name."),
        ({**YES, "yes-name": "   "}, "Type your name."),
        ({**YES, "yes-name": "..."}, "Type your name, as you would sign it."),
        ({**YES, "yes-name": "Mara\r\nBcc: all@example.org"}, "Keep this to one line."),
        ({**YES, "yes-name": "M" * 161}, "at most 160 characters"),
        ({**YES, "yes-name": "Mara\x00"}, "Null characters are not allowed."),
        ({**YES, "yes-words": "w" * 2001}, "at most 2000 characters"),
    ],
)
def test_a_yes_without_name_or_tick_keeps_what_was_typed_and_accepts_nothing(owner, stranger, typed, problem):
    commission, path = make_open(by=owner)
    answer = stranger.post(f"{path}accept/1/", {"yes-words": "a word of mine", **typed})
    assert answer.status_code == 422
    page = text_of(answer)
    assert problem in page
    assert "Nothing was sent yet." in page
    assert commission.quotes.get().state == QuoteState.SENT
    if "yes-words" not in typed:
        assert "a word of mine" in page


def test_the_same_form_sent_twice_is_one_yes_and_keeps_no_key(owner, stranger):
    commission, path = make_open(by=owner)
    once = {**YES, "yes-once": "one-time-key"}
    answers = [stranger.post(f"{path}accept/1/", once) for _ in range(2)]
    assert [one.status_code for one in answers] == [302, 302]
    assert commission.quotes.get().state == QuoteState.ACCEPTED
    kept = DoneDeed.objects.get(key="one-time-key")
    assert kept.led_to == commission.code, "the row of a one-time key must not open the page"


def test_accepting_twice_declining_after_and_a_version_superseded_meanwhile_are_plain_sentences(
    owner, stranger
):
    commission, path = make_open(by=owner)
    assert stranger.post(f"{path}accept/1/", YES).status_code == 302
    again = stranger.post(f"{path}accept/1/", YES)
    assert again.status_code == 409
    assert "Version 1 was accepted already, by Mara Quill" in text_of(again)
    assert "What you accepted" in text_of(again), "the page as it now is"
    no = stranger.post(f"{path}decline/1/", {"no-name": "Mara"})
    assert (no.status_code, "accepted already" in text_of(no)) == (409, True)
    newer = make_quote(commission, version=2, prices=("200", "240", "280"))
    assert "200.00–280.00" in text_of(stranger.get(path))
    make_quote_superseded(newer)
    make_quote(commission, version=3, prices=("300", "340", "380"))
    late = stranger.post(f"{path}accept/2/", {**YES, "yes-name": "Mara the Late"})
    assert late.status_code == 409
    page = text_of(late)
    assert "A newer version took the place of version 2" in page
    assert "300.00–380.00" in page
    # What was ticked and typed for the old version does not stand under the new one.
    assert "Mara the Late" not in page
    assert "checked" not in page
    assert commission.quotes.get(version=3).state == QuoteState.SENT


def make_quote_superseded(quote):
    type(quote).objects.filter(pk=quote.pk).update(state="superseded")


def test_declining_keeps_the_word(owner, stranger):
    commission, path = make_open(by=owner)
    assert stranger.post(f"{path}decline/1/", {"no-words": "x"}).status_code == 422
    assert (
        stranger.post(
            f"{path}decline/1/", {"no-name": "Mara Quill", "no-words": "Too dear, sorry."}
        ).status_code
        == 302
    )
    quote = commission.quotes.get()
    assert (quote.state, quote.answered_words, quote.answered_from) == (
        "declined",
        "Too dear, sorry.",
        "client's page",
    )
    page = text_of(stranger.get(path))
    assert "Too dear, sorry." in page
    assert "Accept this quote" not in page


@pytest.mark.parametrize("version", ["0", "2", "99999999999999999999999", "٣"])
def test_a_version_that_is_none_is_not_here(owner, stranger, version):
    commission, path = make_open(by=owner)
    assert stranger.post(f"{path}accept/{version}/", YES).status_code == 404
    assert commission.quotes.get().state == QuoteState.SENT


def test_a_forged_post_is_refused_and_the_pages_own_form_is_taken(owner):
    commission, path = make_open(by=owner)
    client = Client(enforce_csrf_checks=True)
    assert client.post(f"{path}accept/1/", YES).status_code == 403
    page = client.get(path).content.decode()
    token = re.search(r'csrfmiddlewaretoken" value="([^"]+)"', page)[1]
    once = re.search(r'name="yes-once" value="([^"]+)"', page)[1]
    form = {**YES, "csrfmiddlewaretoken": token, "yes-once": once}
    assert client.post(f"{path}accept/1/", form).status_code == 302
    assert commission.quotes.get().state == QuoteState.ACCEPTED


# --- Questions ----------------------------------------------------------------------------------------------------


def test_a_question_is_answered_once_by_one_of_the_answers_offered(owner, stranger):
    commission, path = make_open(by=owner, state="accepted")
    picture = add_picture(commission, (200, 20, 20), by=owner)
    ask = make_ask(commission, by=owner, picture=picture, options=["Cut it out", "Leave it in"])
    page = text_of(stranger.get(path))
    for words in (
        "A veil reaches the table.",
        "Cut it out",
        "Leave it in",
        "2.10–2.40 ct",
        "200.00 EUR",
        picture.sha256,
    ):
        assert words in page, words
    form = {f"ask{ask.pk}-name": "Mara Quill", f"ask{ask.pk}-words": "Go gently."}
    at = f"{path}answer/{ask.pk}/"
    for wrong in ({}, {f"ask{ask.pk}-answer": "Something else"}):
        answer = stranger.post(at, {**form, **wrong})
        assert answer.status_code == 422
        assert "Press one of the answers." in text_of(answer)
        assert "Go gently." in text_of(answer), "what was typed survives"
    assert stranger.post(at, {f"ask{ask.pk}-answer": "Cut it out"}).status_code == 422, "a name is needed"
    ask.refresh_from_db()
    assert ask.answered_at is None
    assert stranger.post(at, {**form, f"ask{ask.pk}-answer": "Cut it out"}).status_code == 302
    ask.refresh_from_db()
    assert (ask.answer, ask.answer_words, ask.answered_name, ask.answered_from) == (
        "Cut it out", "Go gently.", "Mara Quill", "client's page",
    )  # fmt: skip
    stone = commission.items.get().links.get().stone
    assert stone.waiting_for == ""
    again = stranger.post(at, {**form, f"ask{ask.pk}-answer": "Leave it in"})
    assert again.status_code == 409
    assert "answered on" in text_of(again)
    ask.refresh_from_db()
    assert ask.answer == "Cut it out"
    assert "You answered “Cut it out”" in text_of(stranger.get(path))


def test_a_withdrawn_question_and_one_of_another_commission_are_not_here(owner, stranger):
    commission, path = make_open(by=owner, state="accepted")
    other, _ = make_open("Odo Other", by=owner, state="accepted")
    ask, theirs = make_ask(commission, by=owner), make_ask(other, by=owner)
    withdraw_ask(ask, reason="settled", by=owner, at=timezone.now())
    for one in (ask, theirs):
        typed = {f"ask{one.pk}-name": "Mara", f"ask{one.pk}-answer": one.options[0]}
        assert stranger.post(f"{path}answer/{one.pk}/", typed).status_code == 404
        one.refresh_from_db()
        assert one.answered_at is None
    assert "A veil reaches the table." not in text_of(stranger.get(path))


# --- Photographs and papers ---------------------------------------------------------------------------------------


def test_only_shared_photographs_are_shown_and_nothing_the_camera_noted_with_them(owner, stranger):
    commission, path = make_open(by=owner)
    shared = add_picture(commission, (10, 120, 60), by=owner, caption="the table")
    hidden = add_picture(commission, (120, 10, 60), by=owner, shared=False)
    page = text_of(stranger.get(path))
    assert shared.sha256 in page
    assert hidden.sha256 not in page
    for size in ("large", "card", "thumb"):
        answer = stranger.get(f"{path}photo/{shared.sha256}/{size}.jpg")
        assert (answer.status_code, answer["Content-Type"]) == (200, "image/jpeg")
        picture = Image.open(io.BytesIO(answer.content))
        assert not picture.getexif()
        assert not {"exif", "xmp", "icc_profile"} & set(picture.info)
        assert b"SENTINEL" not in answer.content
        assert stranger.get(f"{path}photo/{hidden.sha256}/{size}.jpg").status_code == 404
    assert stranger.get(f"{path}photo/{shared.sha256}/original.jpg").status_code == 404
    pieces.hide_photo(CommissionPhoto.objects.get(photo=shared), by=owner, at=NOON)
    assert stranger.get(f"{path}photo/{shared.sha256}/card.jpg").status_code == 404
    assert shared.sha256 not in text_of(stranger.get(path))


@pytest.mark.pdf
def test_a_paper_of_theirs_is_a_pdf_and_no_others_opens(owner, stranger):
    commission, path = make_open(by=owner)
    other, _ = make_open("Odo Other", by=owner)
    mine = add_paper(commission, commission.quotes.get(), by=owner)
    theirs = add_paper(other, other.quotes.get(), by=owner)
    assert f"{path}paper/{mine.number}.pdf" in text_of(stranger.get(path))
    answer = stranger.get(f"{path}paper/{mine.number}.pdf")
    assert (answer.status_code, answer["Content-Type"], answer.content[:5]) == (
        200,
        "application/pdf",
        b"%PDF-",
    )
    assert answer["Cache-Control"] == "no-store"
    for number in (theirs.number, "QU-9999", mine.number.lower()):
        assert stranger.get(f"{path}paper/{number}.pdf").status_code == 404, number


def test_a_paper_that_cannot_be_drawn_leaves_the_page_standing(owner, stranger, monkeypatch):
    commission, path = make_open(by=owner)
    mine = add_paper(commission, commission.quotes.get(), by=owner)

    def broken(*args, **said):
        raise PdfUnavailable("no Pango here")

    monkeypatch.setattr("workshop.papers.actions.bytes_of", broken)
    answer = stranger.get(f"{path}paper/{mine.number}.pdf")
    assert answer.status_code == 503
    assert "cannot be drawn just now" in text_of(answer)
    assert commission.code in text_of(answer)


def test_the_card_of_their_stone_is_theirs_until_it_is_the_shops(owner, stranger):
    commission, path = make_open(by=owner, state="accepted")
    item = commission.items.get()
    stone = make_clients_stone(commission.client, weight="10 ct", by=owner)
    pieces.link_stone(item, stone, by=owner, at=NOON)
    gem = make_answered_gem(stone=stone, by=owner)
    card = issue_card(gem, by=owner, at=NOON, base_url="https://cut.example")
    elsewhere = issue_card(make_answered_gem(by=owner), by=owner, at=NOON, base_url="https://cut.example")
    page = text_of(stranger.get(path))
    assert card.number in page
    assert "Finished" in page
    assert elsewhere.number not in page
    assert stranger.get(f"{path}paper/{elsewhere.number}.pdf").status_code == 404
    revised = revise_card(card, reason="weighed anew", by=owner, at=NOON, base_url="https://cut.example")
    page = text_of(stranger.get(path))
    assert revised.number in page
    assert card.number not in page, "an old card only misleads"
    buy_from_owner(gem, paid=Decimal("500"), reason="as agreed", by=owner, at=timezone.now())
    assert revised.number not in text_of(stranger.get(path))
    assert stranger.get(f"{path}paper/{revised.number}.pdf").status_code == 404


# --- Nothing leaks ------------------------------------------------------------------------------------------------


class Addresses(HTMLParser):
    """Every address a page names."""

    def __init__(self):
        super().__init__()
        self.found = set()

    def handle_starttag(self, tag, attrs):
        self.found |= {value for name, value in attrs if name in {"href", "src", "action"} and value}


def crawl(client, start):
    """Everything reached from a page by following its addresses, forms asked for too: {address: answer}."""
    waiting, seen = [start], {}
    while waiting:
        address = waiting.pop().partition("#")[0]
        if address in seen or not address.startswith("/yours/"):
            continue
        seen[address] = answer = client.get(address)
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            addresses = Addresses()
            addresses.feed(answer.content.decode())
            waiting += sorted(addresses.found)
        if answer.status_code == 302:
            waiting.append(answer["Location"])
    return seen


def a_full_commission(name, colour, *, by, words):
    """One of everything a client may and may not see."""
    commission, path = make_open(name, by=by, state="accepted")
    shared = add_picture(commission, colour, by=by, caption=f"{words} caption")
    hidden = add_picture(commission, (*colour[:2], 77), by=by, shared=False, caption="SENTINEL-NOTE")
    settled = make_ask(commission, by=by, picture=shared)
    paper = add_paper(commission, commission.quotes.get(version=1), by=by, words=words)
    sent = make_quote(commission, version=2, note=f"{words} note")
    Message.objects.create(
        commission=commission, moment="other", body="SENTINEL-NOTE", message_id=f"<{words}@x>", made_at=NOON
    )  # fmt: skip
    return {
        "commission": commission,
        "path": path,
        "shared": shared,
        "hidden": hidden,
        "ask": settled,
        "paper": paper,
        "sent": sent,
    }


@pytest.mark.pdf
def test_a_crawl_as_the_client_of_one_commission_reaches_nothing_of_another_and_nothing_internal(
    owner, stranger
):
    mine = a_full_commission("Mara Quill", (10, 120, 60), by=owner, words="MINE")
    theirs = a_full_commission("Odo SENTINEL-OTHER", (60, 10, 120), by=owner, words="THEIRS")
    reached = crawl(stranger, mine["path"])
    assert len(reached) >= 7
    assert {answer.status_code for answer in reached.values()} == {200, 302}
    assert any(answer.get("Content-Type") == "application/pdf" for answer in reached.values())
    assert sum(answer.get("Content-Type") == "image/jpeg" for answer in reached.values()) >= 2
    # Every id of the other's, under one's own link, and then again all that one's own page became.
    for address in (
        f"photo/{theirs['shared'].sha256}/card.jpg", f"photo/{theirs['hidden'].sha256}/large.jpg",
        f"photo/{mine['hidden'].sha256}/large.jpg", f"paper/{theirs['paper'].number}.pdf",
    ):  # fmt: skip
        assert stranger.get(mine["path"] + address).status_code == 404, address
    for number in range(1, 40):
        answer = stranger.post(f"{mine['path']}answer/{number}/", {f"ask{number}-name": "Mara"})
        assert answer.status_code == (422 if number == mine["ask"].pk else 404)
        reached[f"answer {number}"] = answer
    reached["wrong yes"] = stranger.post(f"{mine['path']}accept/2/", {})
    reached["late yes"] = stranger.post(f"{mine['path']}accept/1/", YES)
    assert (reached["wrong yes"].status_code, reached["late yes"].status_code) == (422, 409)
    for paper in Paper.objects.exclude(pk=mine["paper"].pk):
        assert stranger.get(f"{mine['path']}paper/{paper.number}.pdf").status_code == 404
    forbidden = [
        *HIDDEN,
        "SENTINEL",
        "THEIRS",
        theirs["commission"].code,
        theirs["shared"].sha256,
        "wren",
        owner.username,
    ]
    for address, answer in reached.items():
        body = answer.content.decode("latin-1") + repr(answer.headers)
        leaked = [word for word in forbidden if word in body]
        assert not leaked, (address, leaked)
    assert theirs["commission"].quotes.get(version=2).state == QuoteState.SENT


def test_the_planted_words_are_found_where_the_cutter_looks(owner):
    """Proof that the crawl could find them: the cutter's own page of the same commission shows some."""
    mine = a_full_commission("Mara Quill", (10, 120, 60), by=owner, words="MINE")
    cutter = Client()
    cutter.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    page = cutter.get(f"/commissions/{mine['commission'].code}/").content.decode()
    assert "SENTINEL-NOTE" in page


def test_looking_changes_nothing_but_when_it_was_seen(owner, stranger):
    commission, path = make_open(by=owner)
    add_picture(commission, (1, 2, 3), by=owner)
    stranger.get(path)
    before = fingerprint()
    crawl(stranger, path)
    for deed in ("accept/1/", "decline/1/"):
        assert stranger.get(path + deed).status_code == 302
    assert fingerprint() == before


def test_a_page_asks_as_often_for_many_pieces_as_for_one(owner, stranger):
    counts = []
    for items in (1, 6):
        client = make_contact(f"Client {items}", is_client=True)
        commission = make_commission(client, by=owner, items=two_pieces()[:1] * items)
        make_quote(commission)
        path = links.address_of(make_link(commission, by=owner, at=timezone.now()))
        stranger.get(path)
        with CaptureQueriesContext(connection) as asked:
            stranger.get(path)
        counts.append(len(asked))
    assert counts[0] == counts[1], counts


# --- Two at once --------------------------------------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_of_two_answers_at_once_one_is_taken_and_the_other_hears_it(owner):
    """Yes from a telephone and no from a desk, in the same moment: one clear outcome, on either engine."""
    commission, path = make_open(by=owner)
    together, statuses = threading.Barrier(6), []

    def answer(number):
        client = Client(raise_request_exception=False)
        together.wait()
        try:
            if number % 2:
                got = client.post(f"{path}accept/1/", YES)
            else:
                got = client.post(f"{path}decline/1/", {"no-name": "Mara"})
            statuses.append(got.status_code)
        finally:
            connection.close()

    threads = [threading.Thread(target=answer, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses) == [302] + [409] * 5
    assert commission.quotes.get().state in {QuoteState.ACCEPTED, QuoteState.DECLINED}
