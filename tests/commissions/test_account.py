"""A commission's account: charges, credits, payments and refunds; rows that never change; one law.

Tax as on an invoice: rounded once per line, half up, common practice, no source.
"""

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction

from tests.commissions.agreed import make_agreed
from tests.makers import DAY, NOON, make_contact, make_owner, make_shop
from workshop.commissions.actions import account
from workshop.commissions.models import Charge, Commission, CommissionItem, CommissionPayment
from workshop.common import numbers
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import JournalEntry
from workshop.common.tx import write_tx

D = Decimal
pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    make_shop()
    return make_owner()


@pytest.fixture
def commission(owner):
    return make_asked()


def make_asked(currency="EUR", **said):
    """A commission with one piece, as bare as can be."""
    with write_tx():
        made = Commission.objects.create(
            code=numbers.take("C"),
            client=make_contact("Ana Fictiva"),
            currency=currency,
            asked_on=DAY,
            **said,
        )
    CommissionItem.objects.create(commission=made, number=1, work="recut", wanted="recut the spinel")
    return made


def charge(commission, owner, amount="100", kind="work", **said):
    said = {"words": "recut", "gross": D(amount), "on": DAY, **said}
    return account.charge(commission, kind=kind, by=owner, at=NOON, **said)


def pay(commission, owner, amount, **said):
    return account.pay(commission, amount=D(amount), by=owner, at=NOON, **{"on": DAY, **said})


def refund(commission, owner, amount, **said):
    return account.refund(commission, amount=D(amount), by=owner, at=NOON, **{"on": DAY, **said})


def sums(commission):
    commission.refresh_from_db()
    return commission.charged, commission.paid, commission.refunded, commission.balance


def test_a_charge_that_holds_its_tax_and_one_that_does_not(commission, owner):
    # 119.00 at 19 % holds 19.00; 765.60 at 19 % is 145.464, half up 145.46.
    within = charge(commission, owner, "119", tax_percent=D(19))
    assert (within.net, within.tax, within.gross) == (D("100.00"), D("19.00"), D("119.00"))
    on_top = charge(commission, owner, gross=None, net=D("765.60"), tax_percent=D(19))
    assert (on_top.net, on_top.tax, on_top.gross) == (D("765.60"), D("145.46"), D("911.06"))
    assert sums(commission) == (D("1030.06"), 0, 0, D("1030.06"))


def test_a_credit_is_the_mirror_of_a_charge(commission, owner):
    charge(commission, owner, "911.06", tax_percent=D(19))
    credit = charge(commission, owner, "-911.06", kind="credit", tax_percent=D(19))
    assert (credit.net, credit.tax) == (D("-765.60"), D("-145.46"))
    assert sums(commission) == (0, 0, 0, 0)


def test_deposit_balance_and_refund_add_up(commission, owner):
    charge(commission, owner, "220")
    pay(commission, owner, "110", paid_as="deposit")
    pay(commission, owner, "110")
    assert sums(commission) == (220, 220, 0, 0)
    charge(commission, owner, "-20", kind="credit", words="came a week late")
    refund(commission, owner, "20")
    assert sums(commission) == (200, 220, 20, 0)
    told = JournalEntry.objects.filter(about=commission.code).order_by("pk").values_list("verb", flat=True)
    assert list(told) == ["charged", "paid", "paid", "credited", "refunded"]
    last = JournalEntry.objects.order_by("-pk").first()
    assert (last.before, last.after["balance"]) == ({"balance": "-20.000"}, "0.000")


def test_a_wrong_charge_is_taken_back_once_with_a_reason(commission, owner):
    row = charge(commission, owner, "119", tax_percent=D(19))
    with pytest.raises(DeedRefused, match="Say why"):
        account.take_back_charge(row, reason="  ", by=owner, at=NOON)
    mirror = account.take_back_charge(row, reason="typed twice", by=owner, at=NOON)
    assert (mirror.net, mirror.tax, mirror.gross, mirror.kind) == (-100, -19, -119, "taken_back")
    assert mirror.words == "recut: typed twice"
    assert sums(commission) == (0, 0, 0, 0)
    with pytest.raises(DeedRefused, match="taken back already"):
        account.take_back_charge(row, reason="again", by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="charge the sum anew"):
        account.take_back_charge(mirror, reason="after all", by=owner, at=NOON)


def test_what_a_stone_changed_hands_for_is_not_taken_back(commission, owner):
    row = charge(commission, owner, "-80", kind="bought")
    with pytest.raises(DeedRefused, match="changed hands"):
        account.take_back_charge(row, reason="no", by=owner, at=NOON)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"gross": None}, "either without tax or with it"),
        ({"net": D(1)}, "either without tax or with it"),
        ({"words": " "}, "Say what it is for"),
        ({"kind": "gift"}, "what sort"),
        ({"kind": "taken_back"}, "what sort"),
        ({"gross": D(0)}, "Give an amount"),
        ({"gross": D(-5)}, "above zero"),
        ({"kind": "credit"}, "below zero"),
        ({"kind": "bought"}, "below zero"),
        ({"tax_percent": D(-1)}, "zero or more"),
        ({"gross": D("0.001")}, "cannot be paid in EUR"),
        ({"gross": D("NaN")}, "cannot be paid|above zero|amount"),
        ({"on": date(2026, 3, 3)}, "future"),
        ({"on": date(2026, 3, 1)}, "before it"),
    ],
)
def test_charges_that_are_refused(commission, owner, said, why):
    with pytest.raises(DeedRefused, match=why):
        charge(commission, owner, **said)
    assert not Charge.objects.exists()
    assert sums(commission) == (0, 0, 0, 0)


def test_a_charge_for_a_piece_of_another_commission(commission, owner):
    other = make_asked().items.get()
    with pytest.raises(DeedRefused, match="another commission"):
        charge(commission, owner, item=other)


def test_an_amount_no_column_holds(commission, owner):
    with pytest.raises(ValidationError):
        charge(commission, owner, "9" * 14)
    assert not Charge.objects.exists()


def test_nothing_more_is_charged_for_a_closed_commission_but_credits_and_money_pass(commission, owner):
    charge(commission, owner, "50")
    pay(commission, owner, "50")
    Commission.objects.filter(pk=commission.pk).update(state="delivered", closed_on=DAY)
    with pytest.raises(DeedRefused, match="nothing more is charged"):
        charge(commission, owner, "10")
    charge(commission, owner, "-5", kind="credit")
    refund(commission, owner, "5")
    assert sums(commission) == (45, 50, 5, 0)


def test_more_than_is_owed_is_asked_about(commission, owner):
    charge(commission, owner, "100")
    with pytest.raises(PleaseConfirm, match=r"Only 100\.00"):
        pay(commission, owner, "1000")
    pay(commission, owner, "150", sure=True)
    assert sums(commission) == (100, 150, 0, -50)
    with pytest.raises(PleaseConfirm, match=r"Only 0\.00"):
        pay(commission, owner, "1")


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"amount": D(0)}, "above zero"),
        ({"amount": D(-1)}, "above zero"),
        ({"amount": D("1.005")}, "cannot be paid"),
        ({"paid_as": "refund"}, "deposit or the balance"),
        ({"on": date(2026, 3, 3)}, "future"),
        ({"on": date(2026, 3, 1)}, "before it"),
    ],
)
def test_payments_that_are_refused(commission, owner, said, why):
    charge(commission, owner, "100")
    with pytest.raises(DeedRefused, match=why):
        account.pay(commission, by=owner, at=NOON, **{"amount": D(10), "on": DAY, **said})
    assert not CommissionPayment.objects.exists()


def test_never_more_goes_back_than_came(commission, owner):
    charge(commission, owner, "100")
    with pytest.raises(DeedRefused, match=r"Only 0\.00"):
        refund(commission, owner, "1")
    pay(commission, owner, "60")
    with pytest.raises(DeedRefused, match=r"Only 60\.00"):
        refund(commission, owner, "60.01", sure=True)
    with pytest.raises(PleaseConfirm, match=r"would then owe 50\.00"):
        refund(commission, owner, "10")
    refund(commission, owner, "10", sure=True)
    with pytest.raises(DeedRefused, match=r"Only 50\.00"):
        refund(commission, owner, "51", sure=True)
    assert sums(commission) == (100, 60, 10, 50)


def test_a_currency_without_cents(owner):
    commission = make_asked(currency="JPY")
    row = charge(commission, owner, "1100", tax_percent=D(10))
    assert (row.net, row.tax) == (1000, 100)
    with pytest.raises(DeedRefused, match="cannot be paid in JPY"):
        charge(commission, owner, "10.5")


def test_rows_are_written_once_even_for_the_database(commission, owner):
    row = charge(commission, owner, "100")
    payment = pay(commission, owner, "10")
    for table, pk in (("commissions_charge", row.pk), ("commissions_commissionpayment", payment.pk)):
        model = Charge if table == "commissions_charge" else CommissionPayment
        with pytest.raises(ValidationError):
            model.objects.get(pk=pk).save()
        with pytest.raises(DatabaseError), transaction.atomic():
            model.objects.filter(pk=pk).update(on=DAY)
        with pytest.raises(DatabaseError), transaction.atomic():
            model.objects.filter(pk=pk)._raw_delete("default")
    assert sums(commission) == (100, 10, 0, 90)


def test_the_database_refuses_a_balance_that_does_not_add_up(commission):
    with pytest.raises(DatabaseError), transaction.atomic():
        Commission.objects.filter(pk=commission.pk).update(balance=D(1))


@pytest.mark.parametrize("amount", ["110", "30"])
def test_a_deposit_that_came_already_is_asked_about(owner, amount):
    """Within what was agreed in all, so only its name shows the slip; as balance it goes through."""
    commission = make_agreed(by=owner, deposit="110")
    pay(commission, owner, "110", paid_as="deposit")
    with pytest.raises(
        PleaseConfirm, match=r"Of the deposit of 110\.00.EUR only 0\.00.EUR has not come"
    ) as asked:
        pay(commission, owner, amount, paid_as="deposit")
    assert asked.value.field == "amount" and sums(commission)[1] == D(110)
    pay(commission, owner, amount, paid_as="deposit", sure=True)
    pay(commission, owner, "10")
    assert sums(commission)[1] == D(120) + D(amount)


def test_a_deposit_in_two_parts_is_no_slip(owner):
    commission = make_agreed(by=owner, deposit="110")
    for part in ("60", "50"):
        pay(commission, owner, part, paid_as="deposit")
    assert sums(commission)[1] == D(110)
