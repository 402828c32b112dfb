"""The pages of recalls: the list, one recall, the letter, every form; who sees what; bad input; the file."""

import csv
import io
from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.makers import make_hand, make_reader
from tests.sales.recalled import LEARNED, D, Parcel, heated, state_stone
from workshop.commissions.models import Message, Quote
from workshop.people.models import Contact
from workshop.sales.actions import recalls
from workshop.sales.models import Recall, RecallEntry, Sale

DAY = "2026-03-20"


@pytest.fixture
def parcel(owner):
    return Parcel(owner)


@pytest.fixture
def recall(parcel):
    return recalls.open_recall(heated(parcel.stone, parcel.owner), by=parcel.owner, at=LEARNED)


def of(recall, kind, code=None):
    return recall.entries.get(kind=kind, **({"code": code} if code else {}))


def url(name, entry):
    return reverse(f"sales:recall_{name}", args=[entry.recall.code, entry.pk])


def text(answer):
    return answer.content.decode().replace("\u00a0", " ")


def as_(person):
    browser = Client()
    browser.force_login(person)
    return browser


def test_from_the_statement_to_an_open_recall(client, owner, parcel):
    said = heated(parcel.stone, owner)
    address = reverse("sales:open_recall", args=["stone", said.pk])
    for page in (parcel.stone.get_absolute_url(), parcel.gem.get_absolute_url(), "/"):
        assert address in text(client.get(page)), page
    assert "Nobody told yet" in text(client.get("/"))
    looked = client.get(address)
    assert "Ana Buyer" in text(looked) and "same lot as" in text(looked) and not Recall.objects.exists()
    answer = client.post(address, {})
    recall = Recall.objects.get()
    assert answer.url == recall.get_absolute_url()
    # Once opened, the statement leads to its recall, and a second one is refused.
    assert client.get(address).url == recall.get_absolute_url()
    assert client.post(address, {}).status_code == 422
    today = text(client.get("/"))
    assert "Recalls open: 1" in today and "2 to tell" in today and "Nobody told yet" not in today


def test_a_lots_statement_leads_there_too(client, owner, parcel):
    said = parcel.lot.statements.get(question="treatment")
    assert reverse("sales:open_recall", args=["lot", said.pk]) in text(
        client.get(parcel.lot.get_absolute_url())
    )


def test_the_same_form_sent_twice_opens_one(client, owner, parcel):
    said = heated(parcel.stone, owner)
    address = reverse("sales:open_recall", args=["stone", said.pk])
    once = client.get(address).context["form"]["once"].value()
    first, second = (client.post(address, {"once": once}) for _ in range(2))
    assert first.url == second.url and Recall.objects.count() == 1


def test_weaker_evidence_shows_why_and_opens_nothing(client, owner, parcel):
    state_stone(parcel.stone, "treatment", 5, treated="untreated")
    weaker = heated(parcel.stone, owner, evidence=1)
    address = reverse("sales:open_recall", args=["stone", weaker.pk])
    assert "It overthrows nothing" in text(client.get(address))
    assert client.post(address, {}).status_code == 422 and not Recall.objects.exists()


def test_one_recall_shows_each_entry_with_its_next_deed(client, recall, parcel):
    page = text(client.get(recall.get_absolute_url()))
    for heading in ("Sold", "With us", "With others", "Papers", "Open quotes"):
        assert f"<h2>{heading}</h2>" in page
    for name, entry in (
        ("tell", of(recall, "buyer")), ("tell", of(recall, "client")), ("withdraw", of(recall, "quote")),
        ("settle", of(recall, "stone")), ("settle", of(recall, "gem", parcel.other.code)),
    ):  # fmt: skip
        assert url(name, entry) in page
    assert f"/gems/cards/{parcel.card.number}" in page or "reason=Treatment" in page
    listed = text(client.get(reverse("sales:recalls")))
    assert recall.code in listed and "heated" in listed
    assert recall.code not in text(client.get(reverse("sales:recalls") + "?state=closed"))


def test_every_entry_has_its_page(client, recall):
    for entry in recall.entries.all():
        assert client.get(entry.get_absolute_url()).status_code == 200, entry


def test_the_card_is_revised_and_withdrawn_by_the_old_deeds_with_the_reason_filled_in(client, recall, parcel):
    card = of(recall, "paper")
    page = client.get(card.get_absolute_url())
    for address in (page.context["deeds"]["revise"], page.context["deeds"]["void"]):
        form = client.get(address).context["form"]
        assert form["reason"].value() == f"Treatment learned later: heated ({recall.code})"
    client.post(page.context["deeds"]["void"], {"reason": form["reason"].value()})
    card.refresh_from_db()
    assert (card.paper.void_reason, card.is_to_do) == (
        f"Treatment learned later: heated ({recall.code})",
        False,
    )
    assert "void" in text(client.get(recall.get_absolute_url()))


def test_the_letter_names_the_sums_and_is_kept_as_sent(client, recall):
    buyer = of(recall, "buyer")
    assert "766.70" not in text(client.get(url("tell", buyer)))
    page = client.get(url("tell", buyer) + "?per_carat=410")
    body = page.context["form"]["letter"].value()
    assert all(sum_ in body.replace("\u00a0", " ") for sum_ in ("766.70 EUR", "430.10 EUR", "1,196.80 EUR"))
    answer = client.post(
        url("tell", buyer),
        {"subject": "News", "letter": body + "\nP.S. Sorry.", "how": "by letter", "on": DAY},
    )
    assert answer.url == buyer.get_absolute_url()
    buyer.refresh_from_db()
    assert (buyer.state, buyer.told_on, buyer.told_how) == ("told", date(2026, 3, 20), "by letter")
    assert "P.S. Sorry." in buyer.letter and "P.S. Sorry." in text(client.get(buyer.get_absolute_url()))
    assert url("choice", buyer) in text(client.get(recall.get_absolute_url()))


@pytest.mark.parametrize("worth", ["-5", "0", "much", "1e3", "9" * 50])
def test_a_price_that_is_none_spoils_no_letter(client, recall, worth):
    page = client.get(url("tell", of(recall, "buyer")), {"per_carat": worth})
    assert page.status_code == 200 and page.context["offer"] is None


def test_a_clients_letter_becomes_a_message(client, recall, parcel):
    entry = of(recall, "client")
    words = client.get(url("tell", entry)).context["form"]
    said = {
        "subject": words["subject"].value(),
        "letter": words["letter"].value(),
        "how": "by letter",
        "on": DAY,
    }
    client.post(url("tell", entry), {**said, "message": "1"})
    message = Message.objects.get()
    entry.refresh_from_db()
    assert (entry.message, entry.state, message.to) == (message, "to_do", "ilse@example.org")
    assert message.get_absolute_url() in text(client.get(entry.get_absolute_url()))


def test_the_buyer_keeps_it_to_the_cent(client, recall):
    buyer = of(recall, "buyer")
    form = client.get(url("lower", buyer) + "?per_carat=410").context["form"]
    assert (form["price"].value(), form["refund"].value()) == (D("766.70"), D("430.10"))
    said = {
        "price": "766.70",
        "refund": "430.10",
        "way": "transfer",
        "on": DAY,
        "reason": "heated",
        "words": "keeps it",
    }
    # A lower price without what has to go back is refused beside its field; what was typed stays.
    wrong = client.post(url("lower", buyer), {**said, "refund": "430.00"})
    assert wrong.status_code == 422 and wrong.context["form"].errors["refund"] and "keeps it" in text(wrong)
    assert client.post(url("lower", buyer), said).url == buyer.get_absolute_url()
    buyer.refresh_from_db()
    sale = Sale.objects.get()
    assert (sale.gross, sale.paid, buyer.choice, buyer.words) == (
        D("766.70"),
        D("766.70"),
        "lower",
        "keeps it",
    )


def test_or_sends_it_back(client, recall, parcel):
    buyer = of(recall, "buyer")
    said = {"refund": "1196.80", "way": "transfer", "on": DAY, "reason": "heated", "words": "posted it"}
    client.post(url("take_back", buyer), said)
    buyer.refresh_from_db()
    assert (Sale.objects.get().paid, buyer.choice, buyer.state) == (D(0), "returned", "answered")


def test_the_quote_is_withdrawn(client, recall, parcel):
    quote = of(recall, "quote")
    form = client.get(url("withdraw", quote)).context["form"]
    client.post(url("withdraw", quote), {"reason": form["reason"].value()})
    assert Quote.objects.get(pk=parcel.quote.pk).state == "withdrawn"
    # A second time it is no longer open.
    assert client.post(url("withdraw", quote), {"reason": "again"}).status_code == 422


def test_another_price_and_what_was_done(client, recall, parcel):
    gem = of(recall, "gem", parcel.other.code)
    client.post(url("reprice", gem), {"amount": "861.00", "reason": "may be heated"})
    stone = of(recall, "stone")
    client.post(url("settle", stone), {"words": "set aside"})
    gem.refresh_from_db(), stone.refresh_from_db(), parcel.other.refresh_from_db()
    assert (gem.state, stone.state, parcel.other.price) == ("done", "done", D("861.00"))


def test_closing_wants_a_reason_while_something_is_to_do(client, recall):
    address = reverse("sales:close_recall", args=[recall.code])
    refused = client.post(address, {"on": DAY})
    assert refused.status_code == 422 and "still to do" in str(refused.context["form"].errors["why"])
    client.post(address, {"on": DAY, "why": "opened by a slip"})
    recall.refresh_from_db()
    assert recall.closed_why == "opened by a slip"
    buyer = of(recall, "buyer")
    late = client.post(url("tell", buyer), {"subject": "a", "letter": "b", "how": "by letter", "on": DAY})
    assert late.status_code == 422 and url("tell", buyer) not in text(client.get(recall.get_absolute_url()))


@pytest.mark.parametrize(
    ("name", "kind", "said", "field"),
    [
        ("tell", "buyer", {"subject": "", "letter": "b", "how": "by letter", "on": DAY}, "subject"),
        ("tell", "buyer", {"subject": "a", "letter": "", "how": "by letter", "on": DAY}, "letter"),
        ("tell", "buyer", {"subject": "a", "letter": "b" * 6001, "how": "by letter", "on": DAY}, "letter"),
        ("tell", "buyer", {"subject": "a", "letter": "b", "how": "by pigeon", "on": DAY}, "how"),
        ("tell", "buyer", {"subject": "a", "letter": "b", "how": "by letter", "on": "2999-01-01"}, "on"),
        ("tell", "buyer", {"subject": "a", "letter": "b", "how": "by letter", "on": "2026-03-01"}, "on"),
        ("tell", "buyer", {"subject": "a", "letter": "b", "how": "by letter", "on": "soon"}, "on"),
        ("choice", "buyer", {"choice": "", "on": DAY}, "choice"),
        ("choice", "buyer", {"choice": "shrugs", "on": DAY}, "choice"),
        ("choice", "buyer", {"choice": "other", "on": DAY}, "words"),
        ("settle", "stone", {"words": " "}, "words"),
        ("settle", "stone", {"words": "x\x00"}, "words"),
        ("withdraw", "quote", {"reason": ""}, "reason"),
        ("lower", "buyer", {"price": "1196.80", "on": DAY, "way": "transfer", "reason": "x"}, "price"),
        ("lower", "buyer", {"price": "-1", "on": DAY, "way": "transfer", "reason": "x"}, "price"),
        ("take_back", "buyer", {"refund": "2000", "on": DAY, "way": "transfer", "reason": "x"}, "refund"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(client, recall, name, kind, said, field):
    entry = of(recall, kind)
    before = RecallEntry.objects.filter(pk=entry.pk).values().get()
    answer = client.post(url(name, entry), said)
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    assert RecallEntry.objects.filter(pk=entry.pk).values().get() == before


def test_addresses_that_lead_nowhere(client, recall, parcel):
    buyer = of(recall, "buyer")
    for address in (
        reverse("sales:recall", args=["RC-9999"]),
        reverse("sales:recall_entry", args=[recall.code, 99999]),
        reverse("sales:recall_entry", args=["RC-9999", buyer.pk]),
        reverse("sales:open_recall", args=["lot", 99999]),
        reverse("sales:open_recall", args=["moon", 1]),
        url("withdraw", buyer), url("reprice", buyer), url("lower", of(recall, "client")),
    ):  # fmt: skip
        assert client.get(address).status_code == 404, address


def test_the_table_runs_nothing_in_a_spreadsheet(client, recall, parcel):
    Contact.objects.filter(pk=parcel.buyer.pk).update(name="=cmd|' /C calc'!A0", phone="+351 000")
    entry = of(recall, "stone")
    recalls.settle(entry, words="@SUM(A1)", by=parcel.owner, at=LEARNED)
    answer = client.get(reverse("sales:recall_table", args=[recall.code]))
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert answer["Content-Disposition"] == f'attachment; filename="recall-{recall.code}.csv"'
    assert len(rows) == 1 + recall.entries.count()
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@"))]
    assert "'=cmd|' /C calc'!A0" in answer.content.decode()


def test_a_hand_sees_what_to_set_aside_and_nobodys_name(recall, parcel):
    hand = as_(make_hand())
    for address in (recall.get_absolute_url(), reverse("sales:recalls")):
        page = text(hand.get(address))
        for hidden in ("Ana", "Ilse", "1,196.80", "766.70", "640.00", "a laboratory", "report 4711"):
            assert hidden not in page, (address, hidden)
    page = text(hand.get(recall.get_absolute_url()))
    assert all(one in page for one in (parcel.bench.code, parcel.other.code, "Set aside"))
    # Where the sold one is, and who was quoted what, is not a hand's to see.
    assert not [
        one for one in (parcel.sale, parcel.commission, parcel.card) if one.get_absolute_url() in page
    ]
    assert parcel.sale.code not in page and parcel.card.number not in page
    assert "Recalls open: 1" in text(hand.get("/"))


def test_who_may_do_what(recall, parcel):
    hand, reader, stranger = as_(make_hand()), as_(make_reader()), Client()
    entry = of(recall, "buyer")
    deeds = [url(name, entry) for name in ("tell", "choice", "settle", "lower", "take_back")]
    deeds += [url("withdraw", of(recall, "quote")), url("reprice", of(recall, "gem", parcel.other.code))]
    deeds += [
        reverse("sales:close_recall", args=[recall.code]),
        reverse("sales:open_recall", args=["stone", 1]),
    ]
    for address in deeds:
        for browser in (hand, reader):
            assert browser.get(address).status_code == browser.post(address, {}).status_code == 403, address
        assert stranger.get(address).status_code == 302
    for address in (entry.get_absolute_url(), reverse("sales:recall_table", args=[recall.code])):
        assert (hand.get(address).status_code, reader.get(address).status_code) == (403, 200)
    page = text(reader.get(recall.get_absolute_url()))
    assert "Ana Buyer" in page and "Write and tell" not in page


def test_one_recall_asks_the_same_however_many_entries(client, owner, recall, parcel):
    def asked(address):
        with CaptureQueriesContext(connection) as found:
            assert client.get(address).status_code == 200
        return len(found)

    pages = [recall.get_absolute_url(), reverse("sales:recalls"), "/"]
    # The first look writes the hour into the session.
    client.get("/")
    few = [asked(page) for page in pages]
    template = of(recall, "stone")
    RecallEntry.objects.bulk_create(
        RecallEntry(
            recall=recall,
            kind="stone",
            code=f"S-9{n:03d}",
            why=template.why,
            touched=False,
            stone=template.stone,
        )
        for n in range(40)
    )
    assert [asked(page) for page in pages] == few
