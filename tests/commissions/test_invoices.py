"""Invoices of a commission's charges, of its deposits, and credit notes. Directive 2006/112/EC, Art. 226 and 219."""

import json
import threading
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from tests.commissions.deliveries import make_spinel_commission
from tests.makers import (
    DAY,
    NOON,
    make_commission,
    make_contact,
    make_hand,
    make_owner,
    make_reader,
    make_shop,
)
from workshop.commissions.actions import account, invoices
from workshop.commissions.models import CommissionInvoice, InvoicedCharge
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Series
from workshop.papers.invoicing import Terms
from workshop.papers.models import Paper

D = Decimal
LATER = NOON + timedelta(days=3)


@pytest.fixture
def owner(db):
    make_shop(address="5 Slate Lane", tax_number="GB 999", base_url="https://cards.example")
    return make_owner()


def make_client():
    return make_contact("Mara Quill", is_client=True, address="8 Ferry Road\nOban")


@pytest.fixture
def commission(owner):
    return make_commission(make_client(), by=owner)


def charge(commission, owner, net, kind="work", percent=20, **said):
    said = {"words": "recut", "net": D(net), "tax_percent": D(percent), "on": DAY, **said}
    return account.charge(commission, kind=kind, by=owner, at=NOON, **said)


def issue(commission, owner, charges=None, **said):
    terms = {name: said.pop(name) for name in list(said) if name in Terms.__dataclass_fields__}
    return invoices.issue_invoice(
        commission, invoices.to_invoice(commission) if charges is None else charges, terms=Terms(**terms), by=owner,
        at=LATER, **said,
    )  # fmt: skip


def deposit(commission, owner, amount, percent=20):
    paid = account.pay(commission, amount=D(amount), paid_as="deposit", on=DAY, by=owner, at=NOON, sure=True)
    return invoices.issue_deposit_invoice(paid, tax_percent=D(percent), terms=Terms(), by=owner, at=LATER)


def said_in(invoice):
    return json.loads(invoice.paper.content.replace("\\u00a0", " ").replace("\u00a0", " "))


def rows(invoice, heading):
    return next(one for one in said_in(invoice)["blocks"] if one["heading"] == heading)["rows"]


def account_of(invoice):
    return {row["label"]: row["text"] for row in rows(invoice, "Account")}


# --- Charges ------------------------------------------------------------------------------------------------------


def test_one_invoice_holds_several_charges_each_at_its_own_rate(commission, owner):
    charge(commission, owner, "220.00")
    charge(commission, owner, "9.99", kind="post", words="post and insurance", percent=5)
    charge(commission, owner, "-20.00", kind="credit", words="for the delay")
    invoice = issue(commission, owner)
    # 20 % of 220.00 − 20.00 = 40.00; 5 % of 9.99 = 0.4995 → 0.50.
    assert (invoice.net, invoice.tax, invoice.gross) == (D("209.99"), D("40.50"), D("250.49"))
    assert rows(invoice, "Tax and total") == [
        ["20 %", "200.00 EUR", "40.00 EUR", "240.00 EUR"],
        ["5 %", "9.99 EUR", "0.50 EUR", "10.49 EUR"],
    ]
    commission.refresh_from_db()
    assert invoice.gross == commission.charged == commission.balance
    assert account_of(invoice)["Still due"] == "250.49 EUR"
    assert said_in(invoice)["parties"][0]["lines"] == ["Mara Quill", "8 Ferry Road", "Oban"]


def test_a_charge_is_invoiced_once_and_what_cancels_out_never(commission, owner):
    first = charge(commission, owner, "100.00")
    wrong = charge(commission, owner, "55.00", words="mistyped")
    account.take_back_charge(wrong, reason="mistyped", by=owner, at=NOON)
    assert invoices.to_invoice(commission) == [first]
    invoice = issue(commission, owner)
    assert invoice.gross == D("120.00") and invoices.to_invoice(commission) == []
    for again in ([first], [wrong], []):
        with pytest.raises(DeedRefused) as refused:
            issue(commission, owner, again)
        assert refused.value.field == "charges"
    with pytest.raises(IntegrityError), transaction.atomic():
        InvoicedCharge.objects.create(invoice=invoice, charge=first, words="x", net=1, tax=0)


def test_what_was_bought_from_the_client_is_set_off_and_no_reduction(commission, owner):
    charge(commission, owner, "100.00")
    charge(commission, owner, "-30.00", kind="bought", words="their off-cut", percent=0)
    invoice = issue(commission, owner)
    assert (invoice.net, invoice.gross) == (D(100), D(120))
    told = account_of(invoice)
    assert (told["Paid or set off on the account"], told["Still due"]) == ("30.00 EUR", "90.00 EUR")


def test_the_stones_of_a_piece_are_said_as_they_stand(owner):
    commission, item, gem = make_spinel_commission(owner, make_client())
    invoice = issue(commission, owner, [charge(commission, owner, "183.33", item=item)])
    line = rows(invoice, "What was supplied")[0]
    assert line[1] == "1 stone, 2.71 ct" and line[2] == "183.33 EUR"
    assert any(one["heading"].startswith(gem.code) for one in said_in(invoice)["blocks"])
    assert "not tested" in invoice.paper.content


# --- Deposits -----------------------------------------------------------------------------------------------------


def test_a_deposit_is_a_payment_on_account_with_its_own_day_and_is_taken_off_later(commission, owner):
    """Art. 226(7). 300.00 at 20 %: 250.00 and 50.00; the work 600.00 and 120.00; left to pay 420.00."""
    charge(commission, owner, "600.00")
    first = deposit(commission, owner, "300.00")
    assert (first.net, first.tax, first.gross) == (D(250), D(50), D(300))
    assert {"label": "Payment came on", "text": "2 Mar 2026"} in said_in(first)["facts"]
    assert account_of(first)["Still due"] == "0.00 EUR"
    final = issue(commission, owner, deduct=[first])
    assert (final.net, final.tax, final.gross) == (D(350), D(70), D(420))
    assert account_of(final)["Still due"] == "420.00 EUR"
    told = rows(final, "What was supplied")
    assert told[1][0] == "Less payment on account, invoice IN-0001 of 5 Mar 2026"
    assert told[1][-1] == "−300.00 EUR"
    first.refresh_from_db()
    assert first.deducted_in == final and invoices.deposits_to_deduct(commission) == []
    charge(commission, owner, "400.00")
    with pytest.raises(DeedRefused) as refused:
        issue(commission, owner, deduct=[first])
    assert refused.value.field == "deduct"


def test_a_deposit_is_invoiced_once_and_taken_off_at_its_own_rate(commission, owner):
    charge(commission, owner, "600.00", percent=10)
    first = deposit(commission, owner, "300.00")
    with pytest.raises(DeedRefused, match="invoice already"):
        invoices.issue_deposit_invoice(first.payment, tax_percent=D(20), terms=Terms(), by=owner, at=LATER)
    with pytest.raises(DeedRefused, match="another tax rate"):
        issue(commission, owner, deduct=[first])
    small = charge(commission, owner, "10.00")
    with pytest.raises(DeedRefused, match="less than nothing"):
        issue(commission, owner, [small], deduct=[first])
    assert issue(commission, owner).gross == D("672.00")


def test_what_goes_back_of_a_deposit_is_credited_to_the_cent(commission, owner):
    first = deposit(commission, owner, "100.00", percent=19)
    assert (first.net, first.tax) == (D("84.03"), D("15.97"))
    part = invoices.credit_deposit(first, D("33.33"), reason="smaller stone", by=owner, at=LATER)
    # 33.33 × 19 ÷ 119 = 5.3217… → 5.32; what is left of the tax goes with the rest: 10.65.
    assert (part.net, part.tax) == (D("28.01"), D("5.32"))
    rest = invoices.credit_whole(first, reason="cancelled", by=owner, at=LATER)
    assert (rest.net, rest.tax, rest.gross) == (D("56.02"), D("10.65"), D("66.67"))
    first.refresh_from_db()
    assert (first.left, first.stands) == (0, False)
    with pytest.raises(DeedRefused, match="All of"):
        invoices.credit_deposit(first, D(1), reason="more", by=owner, at=LATER)


@pytest.mark.parametrize("amount", ["0", "-1", "100.01", "0.001", "NaN"])
def test_no_more_of_a_deposit_goes_back_than_was_invoiced(commission, owner, amount):
    first = deposit(commission, owner, "100.00")
    with pytest.raises(DeedRefused) as refused:
        invoices.credit_deposit(first, D(amount), reason="x", by=owner, at=LATER)
    assert refused.value.field == "amount" and not first.credit_notes.exists()


# --- Corrections --------------------------------------------------------------------------------------------------


def test_a_charge_taken_back_is_a_credit_note_that_names_the_invoice(commission, owner):
    """P8: it refers to the original by number and date (Art. 219); the original stays as it was."""
    charge(commission, owner, "220.00")
    post = charge(commission, owner, "10.00", kind="post", words="post")
    invoice = issue(commission, owner)
    before = invoice.paper.content
    assert invoices.to_credit(invoice) == []
    account.take_back_charge(post, reason="sent by hand", by=owner, at=LATER)
    [(row, _)] = invoices.to_credit(invoice)
    assert row.charge == post
    note = invoices.credit_taken_back(invoice, reason="sent by hand", by=owner, at=LATER)
    assert (note.paper.number, note.net, note.tax, note.gross) == ("CN-0001", D(10), D(2), D(12))
    assert "amends invoice IN-0001 of 5 Mar 2026" in note.paper.content
    assert {"label": "Left of that invoice", "text": "264.00 EUR"} in said_in(note)["facts"]
    assert Paper.objects.get(number="IN-0001").content == before
    assert invoices.to_credit(invoice) == []
    with pytest.raises(DeedRefused, match="No charge"):
        invoices.credit_taken_back(invoice, reason="again", by=owner, at=LATER)


def test_a_later_credit_is_taken_off_an_invoice(commission, owner):
    charge(commission, owner, "220.00")
    invoice = issue(commission, owner)
    credit = charge(commission, owner, "-22.00", kind="credit", words="for the late delivery")
    note = invoices.credit_by(invoice, credit, by=owner, at=LATER)
    assert (note.gross, note.reason) == (D("26.40"), "for the late delivery")
    commission.refresh_from_db()
    invoice.refresh_from_db()
    assert invoice.left == commission.charged == D("237.60")
    assert invoices.to_invoice(commission) == []
    with pytest.raises(DeedRefused) as refused:
        invoices.credit_by(invoice, credit, by=owner, at=LATER)
    assert refused.value.field == "credit"


def test_a_wrong_invoice_is_credited_whole_and_its_charges_and_deposits_are_free_again(commission, owner):
    charge(commission, owner, "600.00")
    first = deposit(commission, owner, "300.00")
    wrong = issue(commission, owner, deduct=[first])
    note = invoices.credit_whole(wrong, reason="wrong address", by=owner, at=LATER)
    assert note.gross == wrong.gross == D(420)
    right = issue(commission, owner, deduct=invoices.deposits_to_deduct(commission))
    assert (right.gross, right.paper.number) == (D(420), "IN-0003")
    with pytest.raises(DeedRefused, match="All of"):
        invoices.credit_whole(wrong, reason="again", by=owner, at=LATER)
    with pytest.raises(DeedRefused, match="credit note itself"):
        invoices.credit_whole(note, reason="again", by=owner, at=LATER)
    with pytest.raises(DeedRefused, match="taken off in"):
        invoices.credit_whole(first, reason="again", by=owner, at=LATER)


def test_all_papers_together_are_what_was_charged(commission, owner):
    """Invoices less credit notes = what stands on the account, however it came about."""
    rows_ = [charge(commission, owner, net) for net in ("100.00", "33.33", "0.07")]
    issue(commission, owner, rows_[:2])
    issue(commission, owner)
    account.take_back_charge(rows_[1], reason="let off", by=owner, at=LATER)
    for invoice in commission.invoices.filter(credits__isnull=True):
        if invoices.to_credit(invoice):
            invoices.credit_taken_back(invoice, reason="let off", by=owner, at=LATER)
    commission.refresh_from_db()
    told = sum(one.gross if one.is_invoice else -one.gross for one in commission.invoices.all())
    assert told == commission.charged == D("120.08")


def test_a_client_without_an_address_gets_no_full_invoice(owner):
    bare = make_commission(make_contact("No Address", is_client=True), by=owner)
    charge(bare, owner, "10.00")
    with pytest.raises(DeedRefused, match="226"):
        issue(bare, owner)
    assert issue(bare, owner, simplified=True).gross == D(12)


def test_no_tax_without_a_word_is_asked_about(commission, owner):
    charge(commission, owner, "10.00", percent=0)
    with pytest.raises(PleaseConfirm):
        issue(commission, owner)
    assert issue(commission, owner, tax_words="Small enterprise, no tax is charged.").tax == 0


@pytest.mark.django_db(transaction=True)
def test_numbers_run_without_a_gap_while_many_invoice_at_once():
    """Eight at once on one charge each and all on one more: one wins that, no number is lost (Art. 226(2))."""
    make_shop(address="5 Slate Lane", tax_number="GB 999", base_url="https://cards.example")
    owner = make_owner()
    commission = make_commission(make_client(), by=owner)
    own = [charge(commission, owner, "10.00", words=f"one {n}") for n in range(8)]
    shared = charge(commission, owner, "5.00", words="shared")
    together, done, refused, broken = threading.Barrier(8), [], [], []

    def run(n):
        try:
            together.wait()
            for wanted in ([own[n]], [shared]):
                try:
                    done.append(issue(commission, owner, wanted).paper.number)
                except DeedRefused as refusal:
                    refused.append(refusal)
        except Exception as error:
            broken.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not broken, broken
    assert sorted(done) == [f"IN-{n:04d}" for n in range(1, 10)] and len(refused) == 7
    assert Series.objects.get(prefix="IN").last == 9 == CommissionInvoice.objects.count()


# --- Pages --------------------------------------------------------------------------------------------------------


def test_charges_deposit_and_credit_by_the_pages(client, commission, owner):
    client.force_login(owner)
    charge(commission, owner, "600.00")
    paid = account.pay(commission, amount=D("300"), paid_as="deposit", on=DAY, by=owner, at=NOON, sure=True)
    home = reverse("commissions:account", args=[commission.code])
    first = reverse("commissions:invoice_deposit", args=[paid.pk])
    invoice = reverse("commissions:invoice", args=[commission.code])
    page = client.get(home).content.decode()
    assert first in page and invoice in page
    sent = {"tax_percent": "20", "tax_words": "", "note": ""}
    assert client.post(first, {**sent, "tax_percent": "101"}).status_code == 422
    assert client.post(first, sent).status_code == 302
    form = client.get(invoice).context["form"]
    ticked = {name: form[name].value() for name in ("charges", "deduct")}
    assert [len(one) for one in ticked.values()] == [1, 1]
    wanted = {**ticked, "due_on": "2027-01-01", "tax_words": "", "note": ""}
    looked = client.post(invoice, {**wanted, "preview": "1"})
    assert "420.00" in looked.content.decode() and commission.invoices.count() == 1
    for wrong, field in (
        ({"charges": []}, "charges"),
        ({"charges": ["99999"]}, "charges"),
        ({"deduct": ["x"]}, "deduct"),
    ):
        answer = client.post(invoice, {**wanted, **wrong})
        assert answer.status_code == 422 and answer.context["form"].errors[field]
    assert client.post(invoice, wanted).status_code == 302
    last = commission.invoices.last()
    assert (last.gross, last.paper.number) == (D(420), "IN-0002")
    credit = reverse("commissions:credit_note", args=[last.pk])
    for wrong, field in (({"what": "whole"}, "reason"), ({"what": "all of it", "reason": "x"}, "what")):
        answer = client.post(credit, wrong)
        assert answer.status_code == 422 and answer.context["form"].errors[field]
    assert client.post(credit, {"what": "whole", "reason": "wrong name"}).status_code == 302
    assert "CN-0001" in client.get(home).content.decode()
    part = reverse("commissions:credit_note", args=[commission.invoices.first().pk])
    assert client.post(part, {"what": "part", "amount": "", "reason": "x"}).status_code == 422
    assert client.post(part, {"what": "part", "amount": "100", "reason": "smaller"}).status_code == 302
    assert commission.invoices.last().gross == D(100)


def test_hands_and_readers_issue_nothing(client, commission, owner):
    charge(commission, owner, "600.00")
    made = issue(commission, owner)
    addresses = [
        reverse("commissions:invoice", args=[commission.code]), reverse("commissions:credit_note", args=[made.pk])
    ]  # fmt: skip
    for person in (make_hand(), make_reader()):
        client.force_login(person)
        for address in addresses:
            assert (client.get(address).status_code, client.post(address, {}).status_code) == (403, 403)
    page = client.get(reverse("commissions:account", args=[commission.code])).content.decode()
    assert "IN-0001" in page and addresses[0] not in page and addresses[1] not in page
