"""The arithmetic of a tariff: published price lists reproduced, its laws over any list, and what it refuses."""

from dataclasses import replace
from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook.errors import DoesNotAddUp, OutOfRange, UnknownCurrency
from workshop.handbook.money import round_money, step
from workshop.handbook.tariffs import (
    PriceStep,
    Rate,
    RateKind,
    Weighed,
    WorkToPrice,
    check_rates,
    needed,
    price_work,
)

BASE, CARAT, PIECE, ROUGH, HOUR = (
    RateKind.BASE, RateKind.CARAT, RateKind.PIECE, RateKind.ROUGH, RateKind.HOUR,
)  # fmt: skip
FACETS, SPECIES, MINIMUM, PERCENT, EXTRA = (
    RateKind.FACETS, RateKind.SPECIES, RateKind.MINIMUM, RateKind.PERCENT, RateKind.EXTRA,
)  # fmt: skip


def price(rates, currency="USD", **known):
    return price_work(rates, WorkToPrice(**known), currency).amount


# --- Published price lists ----------------------------------------------------------------------------------------

# A cutter's price list of a trade show in February 2018: 350 up to 3 ct, then 50 for each further carat, the same for
# rough and recut; 30 more for each piece of rough to trim; every gem from one piece billed alone; 200 for finding
# rough. Source: sutragems.com/pricing-tucson2018.
SHOW_2018 = [
    Rate(BASE, amount=D(350), to_ct=D(3), step_amount=D(50)),
    Rate(ROUGH, "to trim", amount=D(30)),
    Rate(EXTRA, amount=D(200), extra="sourcing"),
]


@pytest.mark.parametrize(("carats", "sum_"), [("5.5", "475"), ("0.8", "350"), ("3", "350"), ("4", "400")])
def test_a_base_up_to_three_carats_then_by_the_carat(carats, sum_):
    assert price(SHOW_2018, finished_ct=D(carats), rough_pieces=0) == D(sum_)


def test_each_piece_of_rough_to_trim_is_thirty_more():
    assert price(SHOW_2018, finished_ct=D("5.5"), rough_pieces=1) == D(505)


def test_every_gem_from_one_piece_is_billed_alone():
    assert price(SHOW_2018, finished_ct=D("5.5"), gems=2, rough_pieces=1) == 2 * D(475) + 30


def test_finding_the_rough_is_charged_only_where_it_is_asked():
    assert price(SHOW_2018, finished_ct=D(2), rough_pieces=0, extras=("sourcing",)) == D(550)


# Heat treatment of sapphire: from 34 up to 5 ct, 6.50 a carat up to 20 ct, larger lots by the list; by the piece where
# stones average under a carat. Source: gemmountainmt.com/heat-treating-faceting/heat-treating (read 2026-11-25).
HEATING = [
    Rate(BASE, amount=D(34), to_ct=D(5), weighed=Weighed.ROUGH),
    Rate(CARAT, amount=D("6.50"), from_ct=D(5), to_ct=D(20), weighed=Weighed.ROUGH),
]


@pytest.mark.parametrize(
    ("carats", "sum_"), [("0.9", "34"), ("5", "34"), ("10", "65"), ("12.34", "80.21"), ("20", "130")]
)
def test_heating_by_weight(carats, sum_):
    assert price(HEATING, rough_ct=D(carats)) == D(sum_)


def test_heating_above_twenty_carats_is_not_stated():
    with pytest.raises(OutOfRange, match=r"20\.48 ct"):
        price(HEATING, rough_ct=D("20.48"))


# The same page says the price "starts at" 34; read as a least it gives the same sums but just above 5 ct.
def test_heating_with_thirty_four_as_the_least():
    rates = [Rate(MINIMUM, amount=D(34)), Rate(CARAT, amount=D("6.50"), to_ct=D(20), weighed=Weighed.ROUGH)]
    assert [price(rates, rough_ct=D(ct)) for ct in ("1", "5", "10")] == [D(34), D(34), D(65)]


# A guild member's sheet: hours × rate × complexity, 1 below 32 facets without the girdle, 2 for 32 to 96, 3 for 97 to
# 160, 4 above 160; the example rate is 10 an hour. Source: usfacetersguild.org/forums/reply/7894/.
SHEET = [
    Rate(HOUR, amount=D(10)),
    Rate(FACETS, to_facets=31, factor=D(1)),
    Rate(FACETS, from_facets=32, to_facets=96, factor=D(2)),
    Rate(FACETS, from_facets=97, to_facets=160, factor=D(3)),
    Rate(FACETS, from_facets=161, factor=D(4)),
]


@pytest.mark.parametrize(
    ("facets", "complexity"), [(1, 1), (31, 1), (32, 2), (96, 2), (97, 3), (160, 3), (161, 4), (400, 4)]
)
def test_hours_times_rate_times_complexity(facets, complexity):
    hours = D("6.5")
    assert price(SHEET, seconds=int(hours * 3600), facets=facets) == hours * 10 * complexity


# An Australian jeweller: 100 to 400 Australian dollars for a carat, by species, size and cut; the rate per carat falls
# above about 10 ct. Source: springfieldjewellers.com.au, "Understanding the cost of gemstone cutting in Australia". The
# page gives no table: the two rates here are the ends of its range, so only the shape is reproduced.
def test_a_rate_per_carat_that_falls_above_ten_carats():
    rates = [Rate(CARAT, amount=D(400), to_ct=D(10)), Rate(CARAT, amount=D(100), from_ct=D(10))]
    assert price(rates, "AUD", finished_ct=D(1)) == D(400)
    assert price(rates, "AUD", finished_ct=D(10)) == D(4000)
    assert price(rates, "AUD", finished_ct=D("10.5")) == D(1050)


# A larger shop has a standard price only for some species; sapphire, ruby, emerald, diopside and opal by request.
# Source: columbiagemhouse.com/cutting/ (no figures stated).
@pytest.mark.parametrize("species", ["Sapphire", "ruby", "EMERALD", "Diopside", "opal"])
def test_some_species_by_request_only(species):
    rates = [
        Rate(PIECE, amount=D(90)),
        *(Rate(SPECIES, species=name) for name in ("sapphire", "ruby", "emerald", "diopside", "opal")),
    ]
    assert price(rates, species="Garnet") == D(90)
    with pytest.raises(OutOfRange, match="by request"):
        price(rates, species=species)


# Trade repair at the jeweller's own shop rate, of the order of 75 to 150 an hour.
# Source: gemsociety.org/article/repair-work-gemstones/.
def test_repair_by_the_hour():
    assert price([Rate(HOUR, amount=D(75))], seconds=5400) == D("112.50")


# --- The order of the steps ---------------------------------------------------------------------------------------

EVERYTHING = [
    Rate(BASE, amount=D(100), to_ct=D(1), step_amount=D(40)),
    Rate(CARAT, "polish", amount=D(10)),
    Rate(PIECE, amount=D(5)),
    Rate(ROUGH, amount=D(30)),
    Rate(HOUR, amount=D(20)),
    Rate(FACETS, to_facets=60, factor=D(1)),
    Rate(FACETS, from_facets=61, factor=D("1.5")),
    Rate(SPECIES, species="Sapphire", factor=D(2)),
    Rate(SPECIES, species="Corundum", factor=D(3)),
    Rate(MINIMUM, amount=D(120)),
    Rate(EXTRA, amount=D(25), extra="trim"),
    Rate(EXTRA, percent=D(50), extra="rush"),
    Rate(PERCENT, "overhead", percent=D(10)),
]


def test_every_kind_in_its_order():
    # By hand: 100 + 1.5 × 40 + 2.5 × 10 + 5 + 2 × 30 + 2 × 20 = 290; × 1.5 = 435; × 2 = 870; over the least;
    # + 25 + half of 870 = 1330; + 10 % = 1463.
    priced = price_work(
        EVERYTHING,
        WorkToPrice(
            finished_ct=D("2.5"), seconds=7200, facets=73, species="Corundum", variety="sapphire",
            rough_pieces=2, extras=("trim", "rush"),
        ),
        "EUR",
    )  # fmt: skip
    assert priced.amount == D("1463.00")
    assert [(one.words, one.amount) for one in priced.steps] == [
        ("a gem up to 1 ct at 100.00 EUR", D(100)),
        ("1.5 ct above 1 ct at 40.00 EUR per carat", D(60)),
        ("polish: 2.5 ct at 10.00 EUR per carat", D(25)),
        ("1 gem at 5.00 EUR", D(5)),
        ("2 pieces of rough at 30.00 EUR", D(60)),
        ("2 h 00 min at 20.00 EUR an hour", D(40)),
        ("73 facets (61 and more): × 1.5", D(145)),
        ("Sapphire: × 2", D(435)),
        ("trim", D(25)),
        ("rush: 50 %", D(435)),
        ("overhead: 10 % on top", D(133)),
    ]


def test_the_least_holds_for_each_gem_and_before_the_extras():
    rates = [Rate(PIECE, amount=D(20)), Rate(MINIMUM, amount=D(60)), Rate(EXTRA, amount=D(15), extra="post")]
    priced = price_work(rates, WorkToPrice(gems=3, extras=("post",)), "EUR")
    assert priced.amount == D(195)
    assert priced.steps[1] == PriceStep(MINIMUM, "raised to the least for each gem, 60.00 EUR", D(120))


def test_the_words_of_a_base():
    def words(rate, **known):
        return [one.words for one in price_work([rate], WorkToPrice(**known), "EUR").steps]

    base = Rate(BASE, amount=D(9), to_ct=D(3), step_amount=D(2))
    assert words(base, finished_ct=D(4), gems=2) == [
        "2 gems, each up to 3 ct at 9.00 EUR",
        "2 gems, each 1 ct above 3 ct at 2.00 EUR per carat",
    ]
    assert words(Rate(BASE, amount=D(9))) == ["a gem at 9.00 EUR"]
    assert words(Rate(BASE, amount=D(9)), gems=2) == ["2 gems, each at 9.00 EUR"]
    assert words(replace(base, weighed=Weighed.ROUGH), rough_ct=D(2)) == ["rough up to 3 ct at 9.00 EUR"]


def test_a_started_carat_counts_whole():
    rates = [Rate(BASE, amount=D(350), to_ct=D(3), step_amount=D(50), started=True)]
    assert price(rates, finished_ct=D("5.5")) == D(500)
    assert price(rates, finished_ct=D(5)) == D(450)
    assert price([Rate(CARAT, amount=D(8), started=True)], finished_ct=D("0.3")) == D(8)


def test_an_extra_named_twice_is_charged_twice():
    assert price([Rate(EXTRA, amount=D(40), extra="laboratory")], extras=("laboratory",) * 2) == D(80)


def test_a_factor_below_one_takes_something_off():
    priced = price_work(
        [Rate(PIECE, amount=D(80)), Rate(SPECIES, species="Quartz", factor=D("0.75"))],
        WorkToPrice(species="quartz"),
        "EUR",
    )
    assert priced.amount == D(60)
    assert priced.steps[-1].amount == D(-20)


def test_each_step_is_rounded_once_and_half_up():
    # 0.333 ct × 1.50 = 0.4995; 50 s at 45 an hour = 0.625.
    priced = price_work(
        [Rate(CARAT, amount=D("1.50")), Rate(HOUR, amount=D(45))],
        WorkToPrice(finished_ct=D("0.333"), seconds=50),
        "EUR",
    )
    assert [one.amount for one in priced.steps] == [D("0.50"), D("0.63")]


def test_what_the_lines_need():
    assert needed(SHOW_2018) == {"finished_ct"}
    assert needed(HEATING) == {"rough_ct"}
    assert needed(SHEET) == {"seconds", "facets"}
    assert needed([Rate(BASE, amount=D(90))]) == frozenset()


# --- Refusals -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rates", "words", "lines"),
    [
        ([], "at least one line", ()),
        ([Rate(PERCENT, percent=D(10))], "charges anything", ()),
        ([Rate(BASE, amount=D(90)), Rate(BASE, amount=D(80))], "Two bases for the same weight", (0, 1)),
        (
            [Rate(BASE, amount=D(9), to_ct=D(3), step_amount=D(5)), Rate(BASE, amount=D(8), from_ct=D(3))],
            "Two bases for the same weight",
            (0, 1),
        ),
        ([Rate(BASE, amount=D(9)), Rate(BASE, amount=D(8), weighed=Weighed.ROUGH)], "Two bases, one by", (0, 1)),
        ([Rate(CARAT, amount=D(9), to_ct=D(5)), Rate(CARAT, amount=D(8), from_ct=D(4))], "same weight", (0, 1)),
        ([Rate(CARAT, amount=D(9), to_ct=D(5)), Rate(CARAT, amount=D(8), from_ct=D(6))], "above 5 ct up to 6", (1,)),
        ([Rate(BASE, amount=D(9), to_ct=D(3)), Rate(CARAT, amount=D(8), from_ct=D(5))], "above 3 ct up to 5", (1,)),
        ([Rate(CARAT, amount=D(9), from_ct=D(5), to_ct=D(5))], "upper weight", (0,)),
        ([Rate(BASE, amount=D(9), step_amount=D(1))], "weight it begins at", (0,)),
        ([Rate(PIECE, amount=D(9)), Rate(FACETS, to_facets=40, factor=D(1)), Rate(FACETS, from_facets=40, factor=D(2))], "Two classes", (1, 2)),
        ([Rate(PIECE, amount=D(9)), Rate(FACETS, to_facets=40, factor=D(1)), Rate(FACETS, from_facets=42, factor=D(2))], "No class holds 41", (2,)),
        ([Rate(PIECE, amount=D(9)), Rate(FACETS, from_facets=50, to_facets=40, factor=D(1))], "must not lie below", (1,)),
        ([Rate(PIECE, amount=D(9)), Rate(SPECIES, species="opal", factor=D(2)), Rate(SPECIES, species=" OPAL", factor=D(3))], "two factors", (1, 2)),
        ([Rate(PIECE, amount=D(9)), Rate(SPECIES, factor=D(3))], "which species", (1,)),
        ([Rate(HOUR, amount=D(9)), Rate(HOUR, amount=D(8))], "two prices per hour", (0, 1)),
        ([Rate(MINIMUM, amount=D(9)), Rate(MINIMUM, amount=D(8))], "two leasts", (0, 1)),
        ([Rate(PIECE, amount=D(9)), Rate(PIECE, amount=D(8))], "name them", (0, 1)),
        ([Rate(EXTRA, amount=D(9), extra="rush"), Rate(EXTRA, percent=D(8), extra="rush")], "two prices", (0, 1)),
        ([Rate(EXTRA, extra="rush")], "needs its price", (0,)),
        ([Rate(EXTRA, amount=D(9))], "which extra", (0,)),
        ([Rate(PIECE)], "needs its price", (0,)),
        ([Rate(PIECE, amount=D(9)), Rate(PERCENT)], "needs its percentage", (1,)),
        ([Rate(PIECE, amount=D("9.005"))], "more decimals than USD", (0,)),
    ],
)  # fmt: skip
def test_lines_that_make_no_tariff(rates, words, lines):
    with pytest.raises(DoesNotAddUp, match=words) as refused:
        check_rates(rates, "USD")
    assert refused.value.said["lines"] == lines
    with pytest.raises(DoesNotAddUp, match=words):
        price(rates, finished_ct=D(1), rough_ct=D(1), facets=10, seconds=10)


@pytest.mark.parametrize(
    "rate",
    [
        Rate(PIECE, amount=D(-1)),
        Rate(PIECE, amount=D("NaN")),
        Rate(PIECE, amount=D(10) ** 13),
        Rate(BASE, amount=D(1), to_ct=D(1), step_amount=D(-1)),
        Rate(PERCENT, percent=D(-5)),
        Rate(SPECIES, species="opal", factor=D(0)),
        Rate(SPECIES, species="opal", factor=D(1001)),
    ],
)
def test_figures_out_of_range_in_a_line(rate):
    with pytest.raises(OutOfRange):
        check_rates([Rate(ROUGH, amount=D(1)), rate], "USD")


def test_two_names_per_gem_add_up():
    assert price([Rate(PIECE, "cut", amount=D(9)), Rate(PIECE, "polish", amount=D(8))]) == D(17)


@pytest.mark.parametrize(
    ("rates", "known", "needs"),
    [
        (SHOW_2018, {}, "finished_ct"),
        (HEATING, {"finished_ct": D(2)}, "rough_ct"),
        (SHEET, {"facets": 40}, "seconds"),
        (SHEET, {"seconds": 3600}, "facets"),
    ],
)
def test_what_a_line_needs_must_be_known(rates, known, needs):
    with pytest.raises(OutOfRange, match="not known") as refused:
        price(rates, **known)
    assert refused.value.said["needs"] == needs


def test_an_extra_without_a_price_here():
    with pytest.raises(OutOfRange, match="no price for the extra “rush”"):
        price(SHOW_2018, finished_ct=D(2), extras=("rush",))


@pytest.mark.parametrize(
    ("rates", "known"),
    [
        ([Rate(CARAT, amount=D(9), from_ct=D(1), to_ct=D(5))], {"finished_ct": D(1)}),
        ([Rate(CARAT, amount=D(9), from_ct=D(1), to_ct=D(5))], {"finished_ct": D("5.001")}),
        # A base without an end does not make up for bands that stop.
        ([Rate(BASE, amount=D(9)), Rate(CARAT, amount=D(9), to_ct=D(5))], {"finished_ct": D(6)}),
        ([Rate(BASE, amount=D(9), to_ct=D(5))], {"finished_ct": D(6)}),
        ([Rate(PIECE, amount=D(9)), Rate(FACETS, from_facets=20, to_facets=40, factor=D(2))], {"facets": 41}),
    ],
)
def test_what_no_line_covers(rates, known):
    with pytest.raises(OutOfRange, match=r"No (line|class)"):
        price(rates, **known)


@pytest.mark.parametrize(
    "known",
    [
        {"finished_ct": D(0)}, {"finished_ct": D(-1)}, {"finished_ct": D("NaN")}, {"rough_ct": D(0)},
        {"seconds": -1}, {"facets": 0}, {"gems": 0}, {"rough_pieces": -1}, {"gems": 10**7},
        {"finished_ct": D("1e900")},
    ],
)  # fmt: skip
def test_work_out_of_range(known):
    with pytest.raises(OutOfRange):
        price([Rate(PIECE, amount=D(9))], **known)


def test_a_price_beyond_reason():
    with pytest.raises(OutOfRange, match="cannot be right"):
        price([Rate(PIECE, amount=D(10) ** 12)], gems=2)


def test_a_currency_that_is_none():
    with pytest.raises(UnknownCurrency):
        price([Rate(PIECE, amount=D(9))], "XYZ")


# --- Laws ---------------------------------------------------------------------------------------------------------

CURRENCIES = st.sampled_from(["JPY", "EUR", "KWD"])  # 0, 2 and 3 decimals (ISO 4217)
CARATS = st.decimals("0.001", "60", places=3)


def sums(currency, most=2000):
    return st.integers(0, most * 100).map(lambda n: round_money(D(n) / 100, currency))


@st.composite
def tariffs(draw):
    """Any list that does not fall with the weight."""
    currency = draw(CURRENCIES)
    money = sums(currency)
    low = draw(st.decimals("0.5", "10", places=2))
    rising = sorted(draw(st.lists(money, min_size=2, max_size=2)))
    optional = [
        Rate(BASE, amount=draw(money), to_ct=low, step_amount=draw(money), started=draw(st.booleans())),
        Rate(CARAT, "low", amount=rising[0], to_ct=low, started=draw(st.booleans())),
        Rate(PIECE, amount=draw(money)),
        Rate(ROUGH, amount=draw(money)),
        Rate(HOUR, amount=draw(money)),
        Rate(SPECIES, species="Opal", factor=draw(st.decimals("0.1", "5", places=4))),
        Rate(PERCENT, percent=draw(st.decimals("0.001", "100", places=3))),
        Rate(EXTRA, amount=draw(money), extra="post"),
        Rate(EXTRA, percent=draw(st.decimals("0.5", "80", places=2)), extra="rush"),
    ]
    rates = [rate for rate in optional if draw(st.booleans())]
    if any(rate.kind is CARAT for rate in rates):
        rates.append(Rate(CARAT, "high", amount=rising[1], from_ct=low, started=draw(st.booleans())))
    rates.append(Rate(MINIMUM, amount=draw(money)))
    asked = tuple(rate.extra for rate in rates if rate.kind is EXTRA and draw(st.booleans()))
    work = WorkToPrice(
        finished_ct=draw(CARATS),
        seconds=draw(st.integers(0, 10**6)),
        species=draw(st.sampled_from(["", "opal", "Beryl"])),
        rough_pieces=draw(st.integers(0, 5)),
        gems=draw(st.integers(1, 5)),
        extras=asked,
    )
    return draw(st.permutations(rates)), work, currency


@given(tariffs())
def test_the_steps_sum_to_the_price_in_whole_smallest_units(case):
    rates, work, currency = case
    priced = price_work(rates, work, currency)
    assert sum((one.amount for one in priced.steps), D(0)) == priced.amount
    assert all(one.amount % step(currency) == 0 for one in priced.steps)


@given(tariffs())
def test_never_below_the_least(case):
    rates, work, currency = case
    (least,) = [rate.amount for rate in rates if rate.kind is MINIMUM]
    assert price_work(rates, work, currency).amount >= least * work.gems


@given(tariffs(), CARATS)
def test_a_heavier_gem_never_costs_less(case, more):
    rates, work, currency = case
    heavier = replace(work, finished_ct=work.finished_ct + more)
    if any(rate.started for rate in rates if rate.kind is CARAT):
        # A started carat of the lower band may reach past its edge; within whole carats the law holds all the same.
        work = replace(work, finished_ct=work.finished_ct.to_integral_value(rounding="ROUND_CEILING"))
        heavier = replace(
            heavier, finished_ct=heavier.finished_ct.to_integral_value(rounding="ROUND_CEILING")
        )
    assert price_work(rates, heavier, currency).amount >= price_work(rates, work, currency).amount


@given(tariffs(), st.randoms())
def test_the_order_of_the_lines_does_not_matter(case, chance):
    rates, work, currency = case
    shuffled = list(rates)
    chance.shuffle(shuffled)
    assert price_work(shuffled, work, currency).amount == price_work(rates, work, currency).amount


@given(tariffs())
def test_an_extra_costs_only_where_it_is_asked(case):
    rates, work, currency = case
    asked = price_work(rates, work, currency)
    plain = price_work([rate for rate in rates if rate.kind is not EXTRA], replace(work, extras=()), currency)
    assert (asked.amount == plain.amount) or work.extras
    assert {one.kind for one in plain.steps}.isdisjoint({EXTRA})
