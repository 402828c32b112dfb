"""Invoices and credit notes of sales. Fields after Directive 2006/112/EC, Art. 226, 226b and 219 (P6, P7, P8)."""

import io
import json
from datetime import date, timedelta
from decimal import Decimal

import pdfplumber
import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_contact,
    make_gem,
    make_hand,
    make_reader,
    make_shop,
)
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import JournalEntry, Series
from workshop.gems.card_actions import QuestionOpen, WordsRefused
from workshop.papers import actions as papers
from workshop.papers.invoicing import Terms
from workshop.papers.models import Paper
from workshop.sales import actions
from workshop.sales.models import SaleInvoice

D = Decimal
LATER = NOON + timedelta(days=3)
BASE = "https://cards.example"


@pytest.fixture(autouse=True)
def seller(db):
    return make_shop(address="5 Slate Lane\nPort Ellen", tax_number="GB 999 9973 00", base_url=BASE)


def make_buyer(**said):
    return make_contact("Ana Penned", **{"address": "3 Quay Street\nOban", "tax_number": "DE 999", **said})


def make_sale(owner, *prices, buyer=None, **said):
    asked = [actions.Asked(make_answered_gem(by=owner), D(price)) for price in prices or ("119.00",)]
    said = {"tax_percent": D(19), **said}
    return actions.sell(asked, buyer=buyer or make_buyer(), sold_on=DAY, by=owner, at=NOON, **said)


def issue(sale, owner, **terms):
    return actions.issue_invoice(sale, terms=Terms(**terms), by=owner, at=LATER)


def record(invoice):
    return json.loads(invoice.paper.content)


def text_of(content):
    return json.dumps(content, ensure_ascii=False).replace("\u00a0", " ")


def block(content, heading):
    return next(one for one in content["blocks"] if one["heading"] == heading)


# --- What it says -------------------------------------------------------------------------------------------------


def test_it_has_every_field_of_article_226(owner):
    sale = make_sale(owner, "119.00", "59.50", paid=D("100.00"))
    invoice = issue(sale, owner, due_on=date(2026, 3, 19))
    said = record(invoice)
    told = text_of(said)
    # (1) date of issue, (2) a number of its own series, (3) and (5) both parties, (4) the customer's number.
    assert (said["number"], said["issued_on"], invoice.issued_on) == (
        "IN-0001",
        "2026-03-05",
        date(2026, 3, 5),
    )
    assert said["shop"]["tax_number"] == "GB 999 9973 00" and said["shop"]["address"][0] == "5 Slate Lane"
    assert said["parties"] == [
        {"label": "For", "lines": ["Ana Penned", "3 Quay Street", "Oban", "Tax number DE 999"]}
    ]
    # (6) quantity and nature, (7) date of supply, (8) taxable amount and unit price without tax, (9) rate, (10) tax.
    lines = block(said, "What was supplied")["rows"]
    gem = sale.lines.first().gem
    assert lines[0][0].startswith(f"{gem.code}: ") and "tourmaline" in lines[0][0].lower()
    assert [cell.replace("\u00a0", " ") for cell in lines[0][1:]] == [
        "1 stone, 2.34 ct", "100.00 EUR", "19 %", "19.00 EUR", "119.00 EUR",
    ]  # fmt: skip
    assert "2 Mar 2026" in told and "19 Mar 2026" in told
    rates = block(said, "Tax and total")
    assert [cell.replace("\u00a0", " ") for cell in rates["rows"][0]] == [
        "19 %", "150.00 EUR", "28.50 EUR", "178.50 EUR",
    ]  # fmt: skip
    # Paid and due.
    account = {row["label"]: row["text"].replace("\u00a0", " ") for row in block(said, "Account")["rows"]}
    assert account == {
        "Total": "178.50 EUR", "Paid 2 Mar 2026, bank transfer": "100.00 EUR", "Still due": "78.50 EUR",
    }  # fmt: skip
    assert (invoice.net, invoice.tax, invoice.gross) == (D(150), D("28.50"), D("178.50"))


def test_it_repeats_what_every_stone_is(owner):
    """CIBJO: at the close of the sale and in its papers; 7.1 of the house's sheet: R in the column "invoice"."""
    sale = make_sale(owner, "10.00", "20.00")
    said = record(issue(sale, owner))
    for line in sale.lines.all():
        part = next(one for one in said["blocks"] if one["heading"].startswith(line.gem.code))
        told = text_of(part)
        assert "heat" in told.lower() and "2.34 ct" in told and "9.12 × 7.04 × 5.20 mm" in told
        assert "Care" in told
    assert "not a laboratory report" in said["role"]


@pytest.mark.parametrize("included", [True, False])
def test_tax_by_rate_is_that_of_the_lines_to_the_cent(owner, included):
    """Three lines of 33.33 at 7.7 %: rounded each by itself, as the sale did, never again over the sum."""
    sale = make_sale(owner, "33.33", "33.33", "33.33", tax_percent=D("7.7"), tax_included=included)
    invoice = issue(sale, owner)
    # 33.33 × 7.7 ÷ 107.7 = 2.3829… → 2.38; 33.33 × 0.077 = 2.5664… → 2.57 (99.99 × 0.077 would be 7.70, not 7.71).
    each = D("2.38") if included else D("2.57")
    assert invoice.tax == 3 * each == sale.tax
    assert (invoice.net, invoice.gross) == (sale.net, sale.gross)


def test_a_reverse_charge_is_said_and_needs_both_numbers(owner):
    sale = make_sale(owner, "100.00", tax_percent=D(0))
    told = text_of(
        record(issue(sale, owner, reverse_charge=True, tax_words="Art. 138, goods sent to another state"))
    )
    assert "Reverse charge" in told and "Art. 138" in told
    other = make_sale(owner, "100.00", tax_percent=D(0), buyer=make_buyer(tax_number=""))
    with pytest.raises(DeedRefused, match="customer's tax number"):
        issue(other, owner, reverse_charge=True)
    taxed = make_sale(owner, "119.00")
    with pytest.raises(DeedRefused, match="no line bears tax"):
        issue(taxed, owner, reverse_charge=True)


# --- What it may not leave without --------------------------------------------------------------------------------


def test_a_full_invoice_names_the_customers_address_and_a_simplified_one_need_not(owner):
    """P7: Art. 226(5); the fields of Art. 226b have no customer."""
    sale = make_sale(owner, "23.80", buyer=make_buyer(address=""))
    with pytest.raises(DeedRefused, match="226\\(5\\)"):
        issue(sale, owner)
    assert not SaleInvoice.objects.exists() and not Paper.objects.exists()
    said = record(issue(sale, owner, simplified=True))
    assert said["title"] == "Simplified invoice" and said["number"] == "IN-0001"
    assert "3.80 EUR" in text_of(said)


@pytest.mark.parametrize("words", ["Margin scheme: second-hand goods", "sold under the margin-scheme"])
def test_no_margin_scheme_for_loose_stones(owner, words):
    """P6: Art. 311(1)(1) leaves precious stones out of second-hand goods; C-154/17; gov.uk: not eligible."""
    with pytest.raises(DeedRefused, match="311"):
        issue(make_sale(owner), owner, tax_words=words)


def test_the_seller_has_an_address_and_with_tax_a_number(owner):
    sale = make_sale(owner)
    make_shop(address="5 Slate Lane", tax_number="", base_url=BASE)
    with pytest.raises(DeedRefused, match="226\\(3\\)"):
        issue(sale, owner)
    make_shop(address="", tax_number="GB 1", base_url=BASE)
    with pytest.raises(DeedRefused, match="shop's"):
        issue(sale, owner)


def test_a_line_without_tax_asks_for_the_exemption(owner):
    sale = make_sale(owner, "100.00", tax_percent=D(0))
    with pytest.raises(PleaseConfirm, match="226\\(11\\)"):
        issue(sale, owner)
    assert issue(sale, owner, sure=True).tax == 0


def test_no_invoice_while_a_question_is_open_or_its_words_break_a_rule(owner):
    """T7; “flawless” without a laboratory's grading (16 CFR 23.24 ff. and the house's list); CB-04."""
    open_one = make_gem(by=owner)
    sale = actions.sell([actions.Asked(open_one, D(50))], buyer=make_buyer(), sold_on=DAY, by=owner, at=NOON)
    with pytest.raises(QuestionOpen):
        issue(sale, owner, sure=True)
    fine = make_sale(owner)
    with pytest.raises(WordsRefused):
        issue(fine, owner, note="A flawless stone.")
    named = actions.sell(
        [actions.Asked(make_answered_gem(by=owner, clarity="flawless"), D(50))], buyer=make_buyer(), sold_on=DAY,
        by=owner, at=NOON,
    )  # fmt: skip
    with pytest.raises(WordsRefused):
        issue(named, owner, sure=True)
    assert not Paper.objects.exists()


def test_it_is_due_no_sooner_than_it_is_issued(owner):
    with pytest.raises(DeedRefused) as refused:
        issue(make_sale(owner), owner, due_on=DAY)
    assert refused.value.field == "due_on"


# --- Once, and never changed --------------------------------------------------------------------------------------


def test_a_sale_is_invoiced_once(owner):
    sale = make_sale(owner)
    first = issue(sale, owner)
    with pytest.raises(DeedRefused, match="IN-0001 stands"):
        issue(sale, owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        SaleInvoice.objects.create(sale=sale, paper=first.paper, issued_on=DAY, net=1, tax=0, gross=1)
    assert Series.objects.get(prefix="IN").last == 1


def test_an_invoice_is_never_withdrawn_or_revised(owner):
    paper = issue(make_sale(owner), owner).paper
    with pytest.raises(DeedRefused, match="credit note"):
        papers.void(paper, reason="oops", by=owner, at=LATER)
    with pytest.raises(DeedRefused, match="credit note"):
        papers.revise(paper, {}, reason="oops", by=owner, at=LATER)


def test_a_lowered_price_is_a_credit_note_that_names_the_invoice(owner):
    """P8, Art. 219: it refers to the original by number and date; the original stays as it was. Scenario 8's sums."""
    sale = make_sale(owner, "1196.80", tax_percent=D(0), paid_in_full=True)
    invoice = issue(sale, owner, sure=True)
    before = invoice.paper.content
    actions.lower_price(
        sale.lines.get(), D("766.70"), reason="found heated", refund=D("430.10"), on=LATER.date(), by=owner,
        at=LATER, credit_note=True,
    )  # fmt: skip
    note = SaleInvoice.objects.get(credits=invoice)
    assert (note.paper.number, note.gross, note.reason) == ("CN-0001", D("430.10"), "found heated")
    told = text_of(record(note))
    assert "amends invoice IN-0001 of 5 Mar 2026" in told and "430.10 EUR" in told and "found heated" in told
    invoice.refresh_from_db()
    assert (invoice.left, invoice.stands) == (D("766.70"), True)
    assert Paper.objects.get(number="IN-0001").content == before
    with pytest.raises(DeedRefused, match="nothing to credit"):
        actions.credit_difference(sale, reason="again", by=owner, at=LATER)


def test_a_sale_taken_back_credits_all_that_is_left(owner):
    sale = make_sale(owner, "119.00", "59.50")
    issue(sale, owner)
    line = sale.lines.first()
    actions.lower_price(
        line, D("95.20"), reason="a chip", on=LATER.date(), by=owner, at=LATER, credit_note=True
    )
    actions.cancel_sale(sale, reason="returned", on=LATER.date(), by=owner, at=LATER, credit_note=True)
    first, second = SaleInvoice.objects.filter(credits__isnull=False)
    # 119.00 − 95.20: 20.00 and 3.80 tax. What is left: 95.20 + 59.50 = 154.70, of it tax 15.20 + 9.50.
    assert (first.net, first.tax, first.gross) == (D(20), D("3.80"), D("23.80"))
    assert (second.net, second.tax, second.gross) == (D(130), D("24.70"), D("154.70"))
    invoice = SaleInvoice.objects.get(credits__isnull=True)
    assert (invoice.left, invoice.stands, invoice.lines.filter(stands=True).count()) == (0, False, 0)


def test_an_invoice_with_a_wrong_name_is_credited_whole_and_issued_anew(owner):
    sale = make_sale(owner)
    old = issue(sale, owner)
    actions.credit_whole(sale, reason="wrong address", by=owner, at=LATER)
    new = issue(sale, owner)
    assert (new.paper.number, new.gross) == ("IN-0002", old.gross)
    old.refresh_from_db()
    assert (old.stands, old.left) == (False, 0)
    with pytest.raises(DeedRefused, match="Say why"):
        actions.credit_whole(sale, reason=" ", by=owner, at=LATER)


def test_more_than_was_invoiced_is_never_credited(owner):
    invoice = issue(make_sale(owner), owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        SaleInvoice.objects.filter(pk=invoice.pk).update(credited=D("119.01"))


def test_each_deed_leaves_a_line(owner):
    sale = make_sale(owner)
    issue(sale, owner)
    actions.credit_whole(sale, reason="wrong address", by=owner, at=LATER)
    verbs = list(JournalEntry.objects.filter(about=sale.code).order_by("pk").values_list("verb", flat=True))
    assert verbs == ["sold", "issue invoice", "invoiced", "issue credit note", "credited"]


# --- Pages --------------------------------------------------------------------------------------------------------


def url(deed, sale):
    return reverse(f"sales:{deed}", args=[sale.code])


def terms(**said):
    return {"due_on": "2027-03-01", "tax_words": "", "note": "", **said}


def test_it_is_looked_at_first_and_then_issued_from_the_sales_page(client, owner):
    sale = make_sale(owner)
    page = client.get(sale.get_absolute_url()).content.decode()
    assert url("invoice", sale) in page
    looked = client.post(url("invoice", sale), terms(preview="1", note="Thank you."))
    told = looked.content.decode().replace("\u00a0", " ")
    assert (
        looked.status_code == 200
        and "What was supplied" in told
        and "119.00 EUR" in told
        and "Thank you." in told
    )
    assert not SaleInvoice.objects.exists() and not Series.objects.filter(prefix="IN").exists()
    sent = client.post(url("invoice", sale), terms(note="Thank you."))
    invoice = SaleInvoice.objects.get()
    assert sent.url == invoice.paper.get_absolute_url()
    page = client.get(sale.get_absolute_url()).content.decode()
    assert "IN-0001" in page and url("invoice", sale) not in page and url("credit", sale) in page
    assert "Withdraw" not in client.get(sent.url).content.decode()
    listed = client.get("/papers/?kind=invoice").content.decode()
    assert "IN-0001" in listed and sale.code in listed


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"due_on": "2026-01-01"}, "due_on"),
        ({"due_on": "soon"}, "due_on"),
        ({"tax_words": "margin scheme"}, "tax_words"),
        ({"tax_words": "x" * 301}, "tax_words"),
        ({"reverse_charge": "on"}, "reverse_charge"),
        ({"note": "\x00"}, "note"),
    ],
)
def test_wrong_terms_are_told_beside_their_field_and_nothing_is_kept(client, owner, wrong, field):
    sale = make_sale(owner)
    answer = client.post(url("invoice", sale), terms(**wrong))
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    assert not Paper.objects.exists() and not SaleInvoice.objects.exists()


def test_lowering_offers_the_credit_note_and_it_may_be_left_for_later(client, owner):
    sale = make_sale(owner)
    sent = {
        "line": sale.lines.get().pk,
        "price": "95.20",
        "reason": "a chip",
        "on": "2026-03-09",
        "way": "cash",
    }
    assert "credit_note" not in client.get(url("lower", sale)).context["form"].fields
    issue(sale, owner)
    assert client.get(url("lower", sale)).context["form"]["credit_note"].value() is True
    client.post(url("lower", sale), sent)
    assert "says more than the sale" in client.get(sale.get_absolute_url()).content.decode()
    client.post(url("credit", sale), {"reason": "a chip"})
    assert SaleInvoice.objects.get(credits__isnull=False).gross == D("23.80")
    assert "says more than the sale" not in client.get(sale.get_absolute_url()).content.decode()
    client.post(
        url("cancel", sale), {"reason": "returned", "on": "2026-03-10", "way": "cash", "credit_note": "on"}
    )
    assert SaleInvoice.objects.filter(credits__isnull=False).last().gross == D("95.20")


def test_hands_see_nothing_and_readers_change_nothing(client, owner):
    sale = make_sale(owner)
    paper = issue(sale, owner).paper
    client.force_login(make_hand())
    for address in (url("invoice", sale), url("credit", sale), paper.get_absolute_url()):
        assert client.get(address).status_code == 403, address
    client.force_login(make_reader())
    assert client.get(paper.get_absolute_url()).status_code == 200
    page = client.get(sale.get_absolute_url()).content.decode()
    assert "IN-0001" in page and url("credit", sale) not in page
    for address in (url("invoice", sale), url("credit", sale)):
        assert (client.get(address).status_code, client.post(address, terms()).status_code) == (403, 403)
    client.logout()
    told = client.get(f"/papers/check/{paper.check_code}/").content.decode()
    assert "IN-0001" in told and "119.00" not in told and "Ana" not in told


@pytest.mark.pdf
def test_the_printed_invoice_and_credit_note_read_back(owner, tmp_path):
    """Long names and a right-to-left one; read by pdfplumber, which our renderer has nothing to do with."""
    buyer = make_buyer(
        firm="Very Long Invented Jewellery Trading Company of the Outer Isles and Elsewhere Limited & Daughters",
        address="שלום\n3 Quay Street",
    )
    sale = make_sale(owner, "119.00", "1190.00", buyer=buyer, paid=D(100))
    invoice = issue(sale, owner, due_on=date(2026, 3, 19), tax_words="Tax as agreed.", note="Thank you.")
    actions.lower_price(
        sale.lines.first(), D("95.20"), reason="a chip", on=LATER.date(), by=owner, at=LATER, credit_note=True
    )
    note = SaleInvoice.objects.get(credits=invoice)
    for one, wanted in ((invoice, ["IN-0001", "1,309.00 EUR", "209.00 EUR", "Still due", "19 Mar 2026", "Care"]),
                        (note, ["CN-0001", "amends invoice IN-0001", "23.80 EUR", "a chip"])):  # fmt: skip
        data = bytes(papers.bytes_of(one.paper, "a4", at=LATER).pdf)
        with pdfplumber.open(io.BytesIO(data)) as pdf:
            text = " ".join(page.extract_text() for page in pdf.pages).replace("\u00a0", " ")
        for words in wanted:
            assert words in " ".join(text.split()), words
