"""Figures as a page says them."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from workshop.common import say


def test_a_weight_stands_with_its_unit_after_a_space_that_does_not_break():
    # SI brochure, 9th ed. (BIPM 2019), 5.4.3: a space always separates the figure from the unit; that it may not
    # break there is common typesetting practice, no source.
    assert say.carats(Decimal("12.345")) == "12.345\u00a0ct"
    assert say.carats(Decimal("12.345"), 2) == "12.35\u00a0ct"


def test_grams_are_a_fifth_of_the_carats():
    # The metric carat is 200 mg: 4th General Conference on Weights and Measures (1907).
    assert say.grams(Decimal(1)) == "0.200\u00a0g"
    assert say.grams(Decimal("0.001"), 4) == "0.0002\u00a0g"
    assert say.carats_and_grams(Decimal("12.345")) == "12.345\u00a0ct (2.469\u00a0g)"


@pytest.mark.parametrize(
    ("amount", "currency", "shown"),
    [
        # Minor units by ISO 4217: none for JPY, two for EUR, three for KWD.
        (Decimal("1234.5"), "EUR", "1,234.50\u00a0EUR"),
        (Decimal("1234"), "JPY", "1,234\u00a0JPY"),
        (Decimal("1.5"), "KWD", "1.500\u00a0KWD"),
        (Decimal("-3"), "EUR", "\u22123.00\u00a0EUR"),
        (Decimal("-0.001"), "EUR", "0.00\u00a0EUR"),
        (0, "EUR", "0.00\u00a0EUR"),
        (None, "EUR", "\u2014"),
        (Decimal("2"), "???", "2.00\u00a0???"),
    ],
)
def test_money_has_the_places_of_its_currency(amount, currency, shown):
    assert say.money(amount, currency) == shown


def test_money_that_carries_its_currency_needs_no_telling():
    class Price:
        amount, currency = Decimal("7"), "JPY"

    assert say.money(Price(), "EUR") == "7\u00a0JPY"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0, "0\u00a0min"),
        (40, "40\u00a0s"),
        (25 * 60, "25\u00a0min"),
        (85 * 60, "1\u00a0h\u00a025"),
        (3600 + 5 * 60 + 29, "1\u00a0h\u00a005"),
        (3599, "1\u00a0h\u00a000"),
        (timedelta(days=50), "1,200\u00a0h\u00a000"),
        (-120, "\u22122\u00a0min"),
        (None, "\u2014"),
    ],
)
def test_time_is_said_as_the_bench_says_it(seconds, shown):
    assert say.hours(seconds) == shown


def test_a_moment_is_shown_in_the_zone_in_force():
    moment = datetime(2026, 1, 31, 23, 30, tzinfo=UTC)
    with timezone.override(ZoneInfo("Europe/Lisbon")):
        assert say.moment(moment) == "31 Jan 2026, 23:30"
    with timezone.override(ZoneInfo("Asia/Bangkok")):
        assert say.moment(moment) == "1 Feb 2026, 06:30"
        assert say.moment(moment, "date") == "1 Feb 2026"
        assert say.moment(moment, "time") == "06:30"
    assert say.moment(date(2026, 2, 3)) == "3 Feb 2026"


def test_nothing_is_a_dash_and_zero_is_a_figure():
    assert say.carats(None) == say.millimetres("") == say.percent(None) == say.moment(None) == "\u2014"
    assert say.percent(0) == "0.0\u00a0%"


def test_what_is_no_figure_is_shown_as_it_came():
    assert say.number("about four") == "about four"
    assert say.number(Decimal("NaN")) == "NaN"


def test_halves_are_rounded_away_from_zero_for_the_eye():
    assert say.millimetres(Decimal("6.525")) == "6.53\u00a0mm"
    assert say.number(Decimal("-0.5"), 0) == "\u22121"
