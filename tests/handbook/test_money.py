"""Money: rounding, conversion, sharing, tax, and what people type."""

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from workshop.handbook.errors import (
    DoesNotAddUp,
    HandbookError,
    NotANumber,
    NothingToShareBy,
    OutOfRange,
    UnknownCurrency,
)
from workshop.handbook.money import (
    convert,
    convert_together,
    currencies,
    digits,
    parse_money,
    round_money,
    split,
    step,
    tax_in_gross,
    tax_on_net,
)

D = Decimal
CENT = D("0.01")
cents = st.integers(-(10**9), 10**9).map(lambda n: n * CENT)
shares = st.lists(st.decimals(min_value=0, max_value=10**4, places=3), min_size=1, max_size=40)


def test_digits_are_those_of_iso_4217():
    """ISO 4217 list one (SIX), minor units; the two short lists below as the standard has had them for years."""
    none = {
        "BIF",
        "CLP",
        "DJF",
        "GNF",
        "ISK",
        "JPY",
        "KMF",
        "KRW",
        "PYG",
        "RWF",
        "UGX",
        "VND",
        "VUV",
        "XAF",
        "XOF",
        "XPF",
    }
    three = {"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"}
    assert {code for code in currencies() if digits(code) == 0} == none
    assert {code for code in currencies() if digits(code) == 3} == three
    assert all(digits(code) == 2 for code in set(currencies()) - none - three)
    assert {"EUR", "USD", "GBP", "CHF", "AUD", "INR", "LKR", "THB", "TZS", "MGA"} <= set(currencies())


@pytest.mark.parametrize("code", ["", "eur", "EURO", "XAU", "XXX", "ABC", "€"])
def test_a_code_the_standard_does_not_pay_in_is_refused(code):
    with pytest.raises(UnknownCurrency, match="ISO 4217"):
        digits(code)


@pytest.mark.parametrize(
    ("amount", "currency", "rounded"),
    [
        ("2.005", "EUR", "2.01"),
        ("2.004999", "EUR", "2.00"),
        ("-2.005", "EUR", "-2.01"),
        ("2.5", "JPY", "3"),
        ("3.5", "JPY", "4"),  # both up: banker's rounding would give 2 and 4
        ("1.0005", "KWD", "1.001"),
    ],
)
def test_money_is_rounded_half_up(amount, currency, rounded):
    assert round_money(D(amount), currency) == D(rounded)
    assert round_money(D(amount), currency).as_tuple().exponent == -digits(currency)


def test_extras_are_converted_together_with_the_goods():
    """Acceptance scenario 1: USD 1,226.70 + 35.00 + 62.00 at 0.9315 is EUR 1,233.03, one debit at the bank."""
    parts = convert_together([D("1226.70"), D("35.00"), D("62.00")], D("0.9315"), "EUR")
    assert sum(parts) == D("1233.03")
    # one by one they would come to 1142.67 + 32.60 + 57.75 = 1233.02
    assert sum(convert(x, D("0.9315"), "EUR") for x in (D("1226.70"), D("35.00"), D("62.00"))) == D("1233.02")


@given(
    st.lists(cents, max_size=20),
    st.decimals(min_value="0.00000001", max_value=20000, places=8),
    st.sampled_from(["EUR", "JPY", "KWD"]),
)
def test_parts_converted_together_tie_with_their_sum(amounts, rate, currency):
    parts = convert_together(amounts, rate, currency)
    assert sum(parts, D(0)) == convert(sum(amounts, D(0)), rate, currency)
    for amount, part in zip(amounts, parts, strict=True):
        assert abs(Fraction(part) - Fraction(amount) * Fraction(rate)) < Fraction(step(currency))


@pytest.mark.parametrize("rate", ["0", "-1"])
def test_a_rate_that_is_none_is_refused(rate):
    with pytest.raises(OutOfRange):
        convert(D(1), D(rate), "EUR")
    with pytest.raises(OutOfRange):
        convert_together([], D(rate), "EUR")


@given(cents, shares)
def test_parts_sum_to_the_whole_and_each_is_within_a_cent(total, weights):
    assume(any(weights))
    parts = split(total, weights, CENT)
    whole = sum(map(Fraction, weights))
    assert sum(parts) == total
    for weight, part in zip(weights, parts, strict=True):
        assert part % CENT == 0
        assert abs(Fraction(part) - Fraction(total) * Fraction(weight) / whole) < Fraction(CENT)
        assert weight or part == 0


@given(cents, shares)
def test_more_weight_never_gets_less(total, weights):
    assume(any(weights) and total >= 0)
    by_weight = sorted(zip(weights, split(total, weights, CENT), strict=True))
    for (light, less), (heavy, more) in pairwise(by_weight):
        # the same weights may differ by the cent that was left over
        assert less <= more or (light == heavy and less - more == CENT)


@given(cents, shares, st.decimals(min_value="0.001", max_value=1000, places=3))
def test_the_scale_of_the_shares_does_not_matter(total, weights, factor):
    assume(any(weights))
    assert split(total, weights, CENT) == split(total, [weight * factor for weight in weights], CENT)


@given(cents, shares)
def test_a_negative_total_is_the_mirror(total, weights):
    assume(any(weights))
    assert split(-total, weights, CENT) == [-part for part in split(total, weights, CENT)]


def test_ties_go_to_the_earlier():
    assert split(D("0.02"), [D(1)] * 4, CENT) == [CENT, CENT, 0, 0]
    assert split(D("1000.00"), [D(1)] * 3, CENT) == [D("333.34"), D("333.33"), D("333.33")]


def test_nothing_to_share_by():
    assert split(D(0), [D(0), D(0)], CENT) == [0, 0]
    assert split(D(0), [], CENT) == []
    with pytest.raises(NothingToShareBy):
        split(D("1.00"), [D(0), D(0)], CENT)
    with pytest.raises(NothingToShareBy):
        split(D("1.00"), [], CENT)


def test_a_negative_share_and_a_broken_cent_are_refused():
    with pytest.raises(OutOfRange):
        split(D("1.00"), [D(2), D(-1)], CENT)
    with pytest.raises(DoesNotAddUp):
        split(D("1.005"), [D(1)], CENT)


@pytest.mark.parametrize(
    ("typed", "currency", "amount"),
    [
        ("1226.70", "USD", "1226.70"),
        ("1 226,70", "USD", "1226.70"),
        ("1,226.70", "USD", "1226.70"),
        ("12", "EUR", "12.00"),
        ("EUR 12,5", "EUR", "12.50"),
        ("12.50EUR", "EUR", "12.50"),
        ("12.50 EUR", "EUR", "12.50"),
        ("€ 12,50", "EUR", "12.50"),
        ("12.50 €", "EUR", "12.50"),
        ("$1,226.70", "USD", "1226.70"),
        ("eur 12", "EUR", "12.00"),
        ("-430.10", "EUR", "-430.10"),
        ("1500", "JPY", "1500"),
        ("1.500", "KWD", "1.500"),
    ],
)
def test_money_is_read_as_people_type_it(typed, currency, amount):
    assert parse_money(typed, currency) == D(amount)
    assert parse_money(typed, currency).as_tuple().exponent == -digits(currency)


@pytest.mark.parametrize(
    ("typed", "currency"),
    [
        ("1.500", "USD"),  # a thousand and five hundred, or one and a half? it is asked, not guessed
        ("12.345", "EUR"),
        ("12.5", "JPY"),
        ("12.50 USD", "EUR"),
        ("$12.50", "EUR"),
        ("€€5", "EUR"),
        ("EUR 5 EUR", "EUR"),
        ("", "EUR"),
        ("EUR", "EUR"),
        ("nan", "EUR"),
        ("1e3", "EUR"),
        ("1.2.3", "EUR"),
    ],
)
def test_money_that_cannot_be_read_one_way_is_refused(typed, currency):
    with pytest.raises(NotANumber):
        parse_money(typed, currency)


def test_money_beyond_reason_and_unknown_currencies_are_refused():
    with pytest.raises(OutOfRange):
        parse_money("1000000000000.01", "EUR")
    with pytest.raises(UnknownCurrency):
        parse_money("1", "EURO")


@given(st.text(max_size=30), st.sampled_from(["EUR", "JPY", "KWD"]))
def test_any_text_is_money_or_refused(text, currency):
    try:
        amount = parse_money(text, currency)
    except HandbookError:
        return
    assert amount == round_money(amount, currency)


def test_tax_on_top_and_inside():
    """Arithmetic of a VAT rate of 19 % (Germany): 100.00 net is 119.00 gross with 19.00 tax in it."""
    assert tax_on_net(D("100.00"), D(19), "EUR") == D("19.00")
    assert tax_in_gross(D("119.00"), D(19), "EUR") == D("19.00")
    assert tax_in_gross(D("765.60"), D(0), "EUR") == 0
    with pytest.raises(OutOfRange):
        tax_on_net(D(1), D(-1), "EUR")
    with pytest.raises(OutOfRange):
        tax_in_gross(D(1), D(-100), "EUR")


@given(st.integers(0, 10**9).map(lambda n: n * CENT), st.decimals(min_value=0, max_value=50, places=3))
def test_tax_found_again_in_the_gross_is_the_tax_put_on(net, percent):
    tax = tax_on_net(net, percent, "EUR")
    assert abs(tax_in_gross(net + tax, percent, "EUR") - tax) <= CENT
