"""Weights and lengths as people type them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook.errors import HandbookError, NotANumber, OutOfRange, UnknownUnit
from workshop.handbook.units import (
    CARATS_IN,
    from_carats,
    looks_tenfold,
    parse_length,
    parse_number,
    parse_weight,
    to_carats,
    to_thousandth,
)

D = Decimal
amounts = st.decimals(min_value="0.01", max_value="199999", places=3)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("3.25", "3.25"),
        ("3,25", "3.25"),
        (" 1,5 ", "1.5"),
        (".5", "0.5"),
        (",5", "0.5"),
        ("5.", "5"),
        ("1 234,5", "1234.5"),
        ("1\u2009234.5", "1234.5"),
        ("1\u00a0234,5", "1234.5"),
        ("1\u202f234,5", "1234.5"),
        ("1'234.5", "1234.5"),
        ("1’234.5", "1234.5"),
        ("1,234.5", "1234.5"),
        ("1.234,5", "1234.5"),
        ("1.234.567,8", "1234567.8"),
        ("1 234 567", "1234567"),
        ("-2,50", "-2.50"),
        ("−2.5", "-2.5"),
        ("+7", "7"),
        ("007", "7"),
        ("１，５", "1.5"),
        ("٤٫٢", "4.2"),
        ("١٬٢٣٤٫٥", "1234.5"),
        ("४.२", "4.2"),
        ("\u200f٤٫٢\u200e", "4.2"),
    ],
)
def test_a_number_is_read_as_people_write_it(typed, meant):
    assert parse_number(typed) == D(meant)


def test_one_mark_alone_is_the_decimal_mark():
    assert parse_number("1,234") == D("1.234")
    assert parse_number("1.234") == D("1.234")


@pytest.mark.parametrize(
    "typed",
    [
        "", "   ", "nan", "NaN", "inf", "-inf", "Infinity", "sNaN", "1e3", "1E5", "1_000", "0x10", "1/2", "½", "5²",
        "1.2.3", "1,2,3", "1,234,567", "1 2", "1 23,4", "12 34", "1'23.4", "1,23.4", "1.23,4", "1,2 345.6",
        "--1", "+-1", "-", "+", ".", ",", ".,", "3 ct", "abc", "３．５kg", "1 '234", "²", "1;5", "1\x005", "9" * 21, " " * 50_000 + "!",
    ],
)  # fmt: skip
def test_what_is_not_one_plain_number_is_refused_with_advice(typed):
    with pytest.raises(NotANumber) as refused:
        parse_number(typed)
    assert str(refused.value).endswith(".")
    assert refused.value.said["text"] == typed


@given(st.text(max_size=30))
def test_any_text_is_a_plain_number_or_refused(text):
    try:
        number = parse_number(text)
    except NotANumber:
        return
    assert number.is_finite()
    assert len(number.as_tuple().digits) <= 20


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=4))
def test_every_way_of_writing_a_number_reads_back(number):
    english, german = f"{number:,.4f}", f"{number:,.4f}".replace(",", " ").replace(".", ",")
    assert parse_number(f"{number:f}") == parse_number(english) == parse_number(german) == number


@pytest.mark.parametrize(
    ("typed", "ct", "entered", "unit"),
    [
        ("4.2 g", "21", "4.2", "g"),
        ("21 ct", "21", "21", "ct"),
        ("1,5g", "7.5", "1.5", "g"),
        ("1.5g", "7.5", "1.5", "g"),
        ("0.42 kg", "2100", "0.42", "kg"),
        ("640 MG", "3.2", "640", "mg"),
        ("12 carats", "12", "12", "ct"),
        ("3 cts.", "3", "3", "ct"),
        ("2 Grams", "10", "2", "g"),
        ("1 momme", "18.75", "1", "momme"),
        ("100 grains", "32.399", "100", "grain"),
        ("1 ozt", "155.517", "1", "ozt"),
        ("1\u202f250,5 ct", "1250.5", "1250.5", "ct"),
    ],
)
def test_a_weight_is_kept_in_carats_and_as_it_was_typed(typed, ct, entered, unit):
    weight = parse_weight(typed)
    assert (weight.ct, weight.entered, weight.unit) == (D(ct), D(entered), unit)
    assert weight.ct.as_tuple().exponent == -3


def test_a_bare_number_takes_the_unit_of_the_field_and_a_typed_unit_beats_it():
    assert parse_weight("4.2", unit="g").ct == D("21")
    assert parse_weight("4.2 ct", unit="g").ct == D("4.2")


def test_a_bare_number_without_a_unit_teaches():
    with pytest.raises(UnknownUnit, match=r"such as 3\.25 ct or 0\.65 g"):
        parse_weight("4.2")


@pytest.mark.parametrize("typed", ["4.2 gr", "4.2 oz", "4.2 lb", "4.2 q", "3 mm", "1e", "4 карат"])
def test_an_unknown_unit_is_refused_and_the_known_ones_are_named(typed):
    with pytest.raises(UnknownUnit) as refused:
        parse_weight(typed)
    assert refused.value.said["known"] == tuple(CARATS_IN)


def test_gr_is_refused_because_it_is_read_in_two_ways():
    with pytest.raises(UnknownUnit, match="gram, some as grain"):
        parse_weight("3 gr")


@pytest.mark.parametrize("typed", ["0 ct", "-1 ct", "0.0004 ct", "0.05 mg", "1000001 ct", "200.1 kg", "-0 g"])
def test_a_weight_of_nothing_or_beyond_reason_is_out_of_range(typed):
    with pytest.raises(OutOfRange):
        parse_weight(typed)


@pytest.mark.parametrize(
    "typed",
    [
        "ct",
        "g 4.2",
        "4.2 g 3",
        "nan ct",
        "inf g",
        "1e3 g",
        "",
        "4,2,1 g",
        "4" + " " * 50_000 + "g",
        "<b>4</b> g",
    ],
)
def test_a_weight_that_is_no_number_is_refused(typed):
    with pytest.raises(HandbookError):
        parse_weight(typed)


def test_the_limits_themselves_are_read():
    assert parse_weight("0.0005 ct").ct == D("0.001")
    assert parse_weight("1000000 ct").ct == D(1_000_000)
    assert parse_weight("200 kg").ct == D(1_000_000)


@given(amounts, st.sampled_from(["ct", "g", "mg", "kg"]))
def test_metric_units_convert_exactly_both_ways(value, unit):
    assert from_carats(to_carats(value, unit), unit) == value


@given(amounts, st.sampled_from(list(CARATS_IN)))
def test_every_unit_converts_back_to_far_below_the_scale(value, unit):
    assert abs(from_carats(to_carats(value, unit), unit) - value) <= D("1e-15") * value


@given(st.decimals(min_value=0, max_value=10**6, places=6))
def test_a_kept_weight_is_half_up_and_within_half_a_thousandth(ct):
    kept = to_thousandth(ct)
    assert abs(kept - ct) <= D("0.0005")
    assert to_thousandth(kept) == kept
    if (ct * 10000) % 10 == 5:
        assert kept > ct


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("6.5", "6.50"),
        ("6,50 mm", "6.50"),
        ("1.2 cm", "12.00"),
        ("0.25 in", "6.35"),
        ("3.555", "3.56"),
        ("1000", "1000.00"),
    ],
)
def test_a_length_is_kept_in_millimetres(typed, mm):
    assert parse_length(typed) == D(mm)
    assert parse_length(typed).as_tuple().exponent == -2


def test_a_length_takes_another_unit_from_its_field():
    assert parse_length("1", unit="in") == D("25.40")


@pytest.mark.parametrize("typed", ["0", "-3", "0.004", "1000.01", "101 cm"])
def test_a_length_of_nothing_or_beyond_reason_is_out_of_range(typed):
    with pytest.raises(OutOfRange):
        parse_length(typed)


def test_a_weight_unit_is_no_length():
    with pytest.raises(UnknownUnit):
        parse_length("3 ct")


@pytest.mark.parametrize(
    ("new", "last", "meant"),
    [
        ("62.4", "6.50", "6.24"),
        ("0.624", "6.50", "6.24"),
        ("0.65", "6.50", "6.50"),
        ("65.0", "6.50", "6.50"),
        ("5.10", "6.50", None),
        ("6.50", "6.50", None),
        ("6.60", "6.50", None),  # a little heavier is some other mistake: wax, water, a neighbour's stone
        ("0.98", "6.50", None),  # a seventh may be left of a stone that broke
        ("9.00", "6.50", None),  # 0.90 would be too little for one step
        ("650", "6.50", None),  # two places, not one
        ("0", "6.50", None),
        ("1", "0", None),
    ],
)  # fmt: skip
def test_a_slipped_point_is_asked_about(new, last, meant):
    assert looks_tenfold(D(new), D(last)) == (None if meant is None else D(meant))


@given(amounts, st.decimals(min_value="0.15", max_value=1, places=2))
def test_a_point_slipped_either_way_is_found(last, kept):
    true = last * kept
    assert looks_tenfold(true * 10, last) in (true, None)
    if true * 10 > last:
        assert looks_tenfold(true * 10, last) == true
    assert looks_tenfold(true / 10, last) == true


@given(amounts, st.decimals(min_value="0.11", max_value=1, places=2))
def test_an_ordinary_weighing_is_not_asked_about(last, kept):
    assert looks_tenfold(last * kept, last) is None
