"""Tariffs: written as a price sheet, read out in plain words, tried, changed, ended, taken away; and by whom."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.makers import DAY, NOON, make_commission, make_hand, make_owner, make_reader, make_shop
from workshop.commissions.actions import tariffs as actions
from workshop.commissions.actions.tariffs import TariffFacts
from workshop.commissions.models import Extra, Quote, Tariff, TariffLine
from workshop.commissions.tariffs import rates_of, said_lines
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.handbook.tariffs import Rate, RateKind, Weighed, WorkToPrice, price_work

D = Decimal
pytestmark = pytest.mark.django_db
NEW = "/commissions/tariffs/new/"
EXTRAS = list(Extra)


@pytest.fixture
def owner(client):
    make_shop()
    made = make_owner()
    client.force_login(made)
    return made


def extra(key, column="amount"):
    return f"extra-{EXTRAS.index(Extra(key))}-{column}"


def typed(**said):
    """A sheet with the price list of a trade show (see tests/handbook/test_tariffs.py for its source)."""
    return {
        "name": "Price list 2026", "from_on": "2026-01-01", "currency": "EUR", "tax_percent": "19",
        "tax_included": "on", "deposit_percent": "50", "valid_days": "14",
        "base-0-amount": "350", "base-0-to_ct": "3", "base-0-step_amount": "50,00",
        "rough-0-amount": "30", "rough-0-label": "to trim", extra("sourcing"): "200",
        **{key.replace("__", "-"): value for key, value in said.items()},
    }  # fmt: skip


def facts(**said):
    return TariffFacts(**{"name": "List", "from_on": DAY, "currency": "EUR", **said})


def make_tariff(*rates, by=None, **said):
    rates = rates or (Rate(RateKind.PIECE, amount=D(80)),)
    return actions.add_tariff(facts(**said), rates, by=by, at=NOON)


def quoted_by(tariff, state="sent"):
    return Quote.objects.create(
        commission=make_commission(), version=1, state=state, tariff=tariff, currency="EUR", made_at=NOON,
        sent_at=NOON, valid_until=DAY, price_low=D(80), price=D(80), price_high=D(80),
    )  # fmt: skip


# --- Writing ------------------------------------------------------------------------------------------------------


def test_a_sheet_becomes_a_tariff(client, owner):
    answer = client.post(NEW, typed())
    tariff = Tariff.objects.get()
    assert answer.url == tariff.get_absolute_url() == "/commissions/tariffs/T-0001/"
    assert [(line.kind, line.amount, line.step_amount, line.to_ct) for line in tariff.lines.all()] == [
        ("base", D(350), D(50), D(3)), ("rough", D(30), None, None), ("extra", D(200), None, None),
    ]  # fmt: skip
    # The published sums come out of the rows that were kept, not only of the handbook.
    rates = rates_of(tariff)
    for carats, sum_ in (("5.5", 475), ("0.8", 350)):
        assert price_work(rates, WorkToPrice(finished_ct=D(carats), rough_pieces=0), "EUR").amount == sum_
    assert (tariff.tax_percent, tariff.tax_included, tariff.valid_days) == (D(19), True, 14)
    assert JournalEntry.objects.get(about="T-0001").by == owner


def test_every_kind_of_line_survives_the_way_through_the_sheet(client, owner):
    sheet = {
        "base-0-amount": "100", "base-0-to_ct": "1", "base-0-step_amount": "40", "base-0-started": "on",
        "base-0-weighed": "rough", "carat-0-amount": "10", "carat-0-to_ct": "5", "carat-1-amount": "8",
        "carat-1-from_ct": "1 g", "piece-0-amount": "5", "hour-0-amount": "45", "minimum-0-amount": "120",
        "facets-0-to_facets": "60", "facets-0-factor": "1", "facets-1-from_facets": "61",
        "facets-1-factor": "1,5", "species-0-species": "Opal", "species-1-species": "Ruby",
        "species-1-factor": "2", extra("rush", "percent"): "50", extra("other"): "7",
        extra("other", "label"): "gift box", "percent-0-percent": "10", "percent-0-label": "overhead",
    }  # fmt: skip
    client.post(NEW, {**typed(), **sheet})
    tariff = Tariff.objects.get()
    before = rates_of(tariff)
    assert len(before) == 15
    assert Rate(RateKind.CARAT, amount=D(8), from_ct=D(5)) in before
    assert Rate(RateKind.SPECIES, species="Opal") in before
    assert Rate(RateKind.EXTRA, "gift box", amount=D(7), extra="other") in before
    # Shown and sent back unchanged, it is the same tariff.
    form = client.get(reverse("commissions:edit_tariff", args=[tariff.code])).context["form"]
    again = {name: form[name].value() for name in form.fields if name not in {"once", "sure"}}
    sent = {
        name: (value.isoformat() if isinstance(value, date) else value)
        for name, value in again.items()
        if value not in (None, "", False)
    }
    answer = client.post(reverse("commissions:edit_tariff", args=[tariff.code]), sent)
    assert answer.status_code == 302
    assert set(rates_of(tariff_again := Tariff.objects.get())) == set(before)
    assert tariff_again.lines.count() == 15


def test_a_fresh_sheet_begins_with_the_hourly_rate_and_no_other_price(client, owner):
    form = client.get(NEW).context["form"]
    prices = {
        name: form[name].value() for name in form.fields if name.endswith(("amount", "factor", "-percent"))
    }
    assert {name: value for name, value in prices.items() if value} == {"hour-0-amount": "45.00"}


def test_a_shop_without_a_rate_begins_with_nothing(client, owner):
    make_shop(hourly_rate=D(0))
    form = client.get(NEW).context["form"]
    assert form["hour-0-amount"].value() is None


def test_a_new_one_from_an_earlier_one(client, owner):
    make_tariff(Rate(RateKind.BASE, amount=D(350), to_ct=D(3), step_amount=D(50)), until_on=DAY)
    form = client.get(f"{NEW}?from=T-0001").context["form"]
    assert (form["base-0-amount"].value(), form["base-0-to_ct"].value()) == ("350.00", "3")
    assert form["until_on"].value() is None
    assert client.get(f"{NEW}?from=T-0099").status_code == 404


def test_more_rows_keep_what_was_typed_and_judge_nothing(client, owner):
    answer = client.post(NEW, typed(grow="carat", name="", base__0__amount="a lot"))
    assert answer.status_code == 200
    form = answer.context["form"]
    assert "carat-3-amount" in form.fields and "carat-4-amount" not in form.fields
    assert form["base-0-amount"].value() == "a lot"
    assert not form.errors and not Tariff.objects.exists()


# --- Refusals -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"until_on": "2025-12-31"}, "until_on", "cannot end before"),
        ({"name": ""}, "name", "required"),
        ({"currency": "XXX"}, "currency", "valid choice"),
        ({"tax_percent": "-1"}, "tax_percent", "at least 0"),
        ({"tax_percent": "101"}, "tax_percent", "at most 100"),
        ({"deposit_percent": "101"}, "deposit_percent", "at most 100"),
        ({"valid_days": "0"}, "valid_days", "greater than or equal to 1"),
        ({"base__0__amount": "a lot"}, "base-0-amount", "not a number"),
        ({"base__0__amount": "-5"}, "base-0-amount", "zero or more"),
        ({"base__0__amount": "350.005"}, "base-0-amount", "decimals"),
        ({"base__0__amount": ""}, "base-0-amount", "needs its price"),
        ({"base__0__to_ct": "0"}, "base-0-to_ct", "above zero"),
        ({"base__0__to_ct": ""}, "base-0-amount", "weight it begins at"),
        ({"base__1__amount": "300"}, "base-1-amount", "Two bases"),
        ({"carat__0__amount": "9", "carat__1__amount": "8"}, "carat-1-amount", "same weight"),
        ({"carat__0__amount": "9", "carat__0__to_ct": "2", "carat__1__amount": "8", "carat__1__from_ct": "3"}, "carat-1-amount", "Nothing is said"),
        ({"facets__0__to_facets": "40", "facets__0__factor": "1", "facets__1__from_facets": "40", "facets__1__factor": "2"}, "facets-1-factor", "same number"),
        ({"facets__0__to_facets": "-3"}, "facets-0-to_facets", "greater than or equal"),
        ({"species__0__species": "ruby", "species__0__factor": "2", "species__1__species": "Ruby", "species__1__factor": "3"}, "species-1-factor", "two factors"),
        ({"species__0__factor": "2"}, "species-0-factor", "which species"),
        ({"species__0__species": "ruby", "species__0__factor": "0"}, "species-0-factor", "above zero"),
        ({"percent__0__percent": "1e900000"}, "percent-0-percent", ""),
        ({extra("rush"): "10", extra("rush", "percent"): "5"}, extra("rush"), "not both"),
    ],
)  # fmt: skip
def test_what_the_sheet_refuses_beside_its_box(client, owner, said, field, words):
    answer = client.post(NEW, typed(**said))
    assert answer.status_code == 422
    form = answer.context["form"]
    assert words in " ".join(form.errors[field])
    assert not Tariff.objects.exists()
    # Typing survives.
    assert f'value="{typed(**said)["rough-0-label"]}"' in answer.content.decode()


def test_a_tariff_without_any_line(client, owner):
    empty = {name: value for name, value in typed().items() if "-" not in name}
    answer = client.post(NEW, empty)
    assert answer.status_code == 422
    assert "at least one line" in answer.content.decode()
    assert not Tariff.objects.exists()


def test_a_tariff_of_factors_alone_charges_nothing(client, owner):
    empty = {name: value for name, value in typed().items() if "-" not in name}
    answer = client.post(NEW, {**empty, "percent-0-percent": "10"})
    assert answer.status_code == 422
    assert "charges anything" in answer.content.decode()


def test_decimals_follow_the_currency(client, owner):
    answer = client.post(NEW, typed(currency="JPY"))
    assert "JPY has 0 decimals" in " ".join(answer.context["form"].errors["base-0-step_amount"])
    assert client.post(NEW, typed(currency="KWD", base__0__step_amount="50.125")).status_code == 302
    assert Tariff.objects.get().lines.first().step_amount == D("50.125")


@pytest.mark.parametrize(
    ("rates", "said", "field"),
    [
        ((), {}, "lines"),
        ((Rate(RateKind.BASE, amount=D(1)), Rate(RateKind.BASE, amount=D(2))), {}, "lines"),
        ((Rate(RateKind.PIECE, amount=D(1)),), {"until_on": date(2026, 1, 1)}, "until_on"),
    ],
)
def test_the_deed_refuses_it_too(owner, rates, said, field):
    with pytest.raises(DeedRefused) as refused:
        actions.add_tariff(facts(**said), rates, by=owner, at=NOON)
    assert refused.value.field == field
    assert not Tariff.objects.exists()


def test_a_sheet_sent_twice_makes_one_tariff(client, owner):
    once = client.get(NEW).context["form"]["once"].value()
    answers = [client.post(NEW, typed(once=once)) for _ in range(2)]
    assert answers[0].url == answers[1].url
    assert Tariff.objects.count() == 1


def test_a_sheet_with_absurdly_many_rows_is_cut(client, owner):
    answer = client.post(NEW, typed(carat__999__amount="1"))
    assert answer.status_code in {302, 422}
    assert TariffLine.objects.filter(kind="carat").count() == 0


# --- Changing, ending, taking away --------------------------------------------------------------------------------


def test_a_change_leaves_a_sent_quote_as_it_was(client, owner):
    tariff = make_tariff(by=owner)
    quote = quoted_by(tariff)
    client.post(reverse("commissions:edit_tariff", args=[tariff.code]), typed())
    assert tariff.lines.get(kind="base").amount == 350
    assert not tariff.lines.filter(kind="piece").exists()
    quote.refresh_from_db()
    assert (quote.price, quote.tariff) == (D(80), tariff)
    told = JournalEntry.objects.get(verb="changed a tariff")
    assert told.before["lines"] == [{"kind": "piece", "amount": "80.000", "weighed": "finished"}]


def test_a_refused_change_changes_nothing(client, owner):
    tariff = make_tariff(by=owner)
    answer = client.post(
        reverse("commissions:edit_tariff", args=[tariff.code]), typed(base__1__amount="9", name="Other")
    )
    assert answer.status_code == 422
    tariff.refresh_from_db()
    assert (tariff.name, tariff.lines.get().kind) == ("List", "piece")


@pytest.mark.parametrize("state", ["sent", "accepted", "superseded", "withdrawn", "draft"])
def test_a_tariff_quoted_by_is_not_taken_away(client, owner, state):
    tariff = make_tariff(by=owner)
    quote = quoted_by(tariff, "sent")
    Quote.objects.filter(pk=quote.pk).update(state=state, answered_at=NOON)
    answer = client.post(reverse("commissions:delete_tariff", args=[tariff.code]))
    assert answer.status_code == 422
    assert "was quoted by this tariff" in answer.content.decode()
    assert Tariff.objects.filter(pk=tariff.pk).exists()


def test_a_tariff_nobody_was_quoted_by_is_taken_away(client, owner):
    tariff = make_tariff(by=owner)
    answer = client.post(reverse("commissions:delete_tariff", args=[tariff.code]))
    assert answer.url == reverse("commissions:tariffs")
    assert not Tariff.objects.exists() and not TariffLine.objects.exists()
    assert JournalEntry.objects.get(verb="took away a tariff").before["name"] == "List"


def test_ending_a_tariff(client, owner):
    tariff = make_tariff(by=owner)
    url = reverse("commissions:end_tariff", args=[tariff.code])
    assert client.post(url, {"until_on": "2026-03-01"}).status_code == 422
    assert client.post(url, {"until_on": "2026-06-30"}).status_code == 302
    tariff.refresh_from_db()
    assert tariff.is_valid_on(date(2026, 6, 30)) and not tariff.is_valid_on(date(2026, 7, 1))
    assert list(Tariff.objects.valid_on(date(2026, 7, 1))) == []


# --- Reading and trying -------------------------------------------------------------------------------------------

MANY = (
    Rate(RateKind.BASE, amount=D(350), to_ct=D(3), step_amount=D(50)),
    Rate(RateKind.CARAT, amount=D("6.5"), from_ct=D(5), to_ct=D(20), weighed=Weighed.ROUGH),
    Rate(RateKind.HOUR, amount=D(45)),
    Rate(RateKind.FACETS, to_facets=60, factor=D(1)),
    Rate(RateKind.FACETS, from_facets=61, factor=D("1.5")),
    Rate(RateKind.SPECIES, species="Opal"),
    Rate(RateKind.PERCENT, percent=D("12.5")),
    Rate(RateKind.EXTRA, amount=D(30), extra="trim"),
)


def test_the_lines_in_plain_words():
    told = [(line.what, line.price, line.more) for line in said_lines(MANY, "EUR")]
    assert [tuple(part.replace("\xa0", " ") for part in line) for line in told] == [
        ("A gem up to 3 ct", "350.00 EUR", "each further carat 50.00 EUR"),
        ("Each carat above 5 ct up to 20 ct", "6.50 EUR", "by the weight of the rough"),
        ("Each hour", "45.00 EUR", ""),
        ("Up to 60 facets", "× 1", ""),
        ("61 or more facets", "× 1.5", ""),
        ("Opal", "by request", ""),
        ("Trim", "30.00 EUR", "only where it applies"),
        ("On top", "12.500 %", ""),
    ]


def try_url(tariff, query):
    return f"{tariff.get_absolute_url()}?{query}"


def test_trying_a_tariff_shows_price_steps_and_tax(client, owner):
    tariff = make_tariff(
        Rate(RateKind.BASE, amount=D(350), to_ct=D(3), step_amount=D(50)),
        Rate(RateKind.EXTRA, amount=D(30), extra="trim"),
        tax_percent=D(19),
        tax_included=False,
    )
    answer = client.get(try_url(tariff, "finished=1.1+g&extras=trim"))
    assert answer.context["priced"].amount == D(505)
    # 505.00 at 19 % is 95.95.
    assert answer.context["tax"] == {"net": D(505), "tax": D("95.95"), "gross": D("600.95")}
    page = answer.content.decode()
    assert "2.5 ct above 3 ct at 50.00 EUR per carat" in page and "trimming the rough" in page


@pytest.mark.parametrize(
    ("query", "field", "words"),
    [
        ("facets=40", "finished", "by the finished weight"),
        ("finished=3", "hours", "by the hour"),
        ("finished=3&hours=2", "facets", "by the number of facets"),
        ("finished=abc", "finished", "not a number"),
        ("finished=3&hours=2&facets=5&gems=0", "gems", "greater than or equal"),
        ("finished=3&hours=2&facets=5&extras=rush", "extras", "not one of"),
        ("finished=3&hours=-1&facets=5", "hours", "at least 0"),
        ("finished=3&hours=2&facets=5&species=OPAL", None, "by request"),
    ],
)
def test_trying_with_what_the_tariff_cannot_price(client, owner, query, field, words):
    rates = [rate for rate in MANY if rate.kind is not RateKind.CARAT]
    answer = client.get(try_url(make_tariff(*rates), query))
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field or "__all__"])
    assert answer.context["priced"] is None


def test_the_list_says_which_tariffs_hold(client, owner):
    make_tariff(name="Old", from_on=date(2020, 1, 1), until_on=date(2020, 12, 31))
    make_tariff(name="Now", from_on=date(2021, 1, 1))
    make_tariff(name="Coming", from_on=date(2190, 1, 1))
    answer = client.get(reverse("commissions:tariffs"))
    assert [(row.name, state[0]) for row, state in answer.context["tariffs"]] == [
        ("Coming", "from later"), ("Now", "holds"), ("Old", "ended"),
    ]  # fmt: skip


def test_the_list_costs_the_same_for_few_and_many(client, owner):
    def cost():
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("commissions:tariffs"))
        return len(asked)

    make_tariff()
    cost()  # the session is touched once a day
    few = cost()
    for _ in range(8):
        make_tariff(*MANY[:3])
    assert cost() == few


# --- Who may ------------------------------------------------------------------------------------------------------

DEEDS = ["add_tariff", "edit_tariff", "end_tariff", "delete_tariff"]


def address(name, tariff):
    return reverse(f"commissions:{name}", args=[] if name in {"tariffs", "add_tariff"} else [tariff.code])


@pytest.mark.parametrize("name", DEEDS)
@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_only_the_owner_writes_tariffs(client, owner, name, maker):
    tariff = make_tariff()
    client.force_login(maker())
    assert client.get(address(name, tariff)).status_code == 403
    assert client.post(address(name, tariff), typed()).status_code == 403
    assert Tariff.objects.get().name == "List"


@pytest.mark.parametrize("name", ["tariffs", "tariff"])
def test_a_hand_sees_no_prices_and_a_reader_does(client, owner, name):
    tariff = make_tariff()
    client.force_login(make_hand())
    assert client.get(address(name, tariff)).status_code == 403
    client.force_login(make_reader())
    page = client.get(address(name, tariff)).content.decode()
    assert "T-0001" in page and "/new/" not in page and "/edit/" not in page


@pytest.mark.parametrize("name", ["tariffs", "tariff", *DEEDS])
def test_a_stranger_is_sent_to_sign_in(client, name):
    make_shop()
    answer = client.get(address(name, make_tariff()))
    assert answer.status_code == 302 and answer.url.startswith("/sign-in/")


def test_an_unknown_tariff(client, owner):
    for code in ("T-9999", "t'--"):
        assert client.get(f"/commissions/tariffs/{code}/").status_code == 404
