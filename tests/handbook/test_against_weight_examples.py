"""Carats from millimetres against published worked examples, and against stones that were weighed.

Rows W01-W21 of the project's worked examples; flagged ones (a marquise that mixes two stones, a misprinted girdle
factor) are left out. An example that prints its own factor checks the formula with that factor.
"""

from decimal import Decimal

import pytest

from workshop.handbook.units import from_carats, to_carats
from workshop.handbook.weights import (
    carats_from_volume,
    diamond_estimates_from_size,
    estimates_from_size,
    girdle_multiplier,
)

D = Decimal
TRADE_TEXT = "https://gemgate.com/diamond-info/advanced-diamond-information/estimating-mounted-diamond-weight/diamond-weight-"
TRIANGLES = "https://gemgate.com/blogs/education/triangular-brilliant-trillion-trilliant-estimation-11-21"
HEARTS = "https://www.jewelrynotes.com/determine-carat-weight-of-heart-shaped-diamonds-by-measurements/"
SPHERES = "https://www.pearl-guide.com/threads/comparative-pearl-sizes-how-much-difference-does-1mm-larger-really-make.8118/"
PEARLS = "http://beads.how/details-Pearl-Weight--Pearl-Weight-Conversions-in-Wholesale-1517.html"
DISPLACED = "https://htfbw.com/science-nature/Rocks---Minerals/57486.shtml"


def by_constant(outline, length, width, depth, constant):
    found = diamond_estimates_from_size(outline, D(length), D(width), D(depth))
    return next(estimate.ct for estimate in found if estimate.constant == D(constant))


@pytest.mark.parametrize(
    ("row", "outline", "length", "width", "depth", "constant", "factor", "published", "tolerance", "source"),
    [
        ("W01", "round", "6.05", "6.11", "3.63", ".0061", "1", "0.8185", "0.0001", TRADE_TEXT + "estimate-round-brillinat-cut/"),
        ("W02", "round", "7.10", "7.10", "4.47", ".0061", "1", "1.374", "0.001", TRADE_TEXT + "estimate-round-brillinat-cut/"),
        ("W03", "round", "6.05", "6.11", "3.63", ".0061", "1.02", "0.8349", "0.0001", TRADE_TEXT + "estimate-round-brillinat-cut/"),
        ("W05", "oval", "4.82", "3.02", "1.92", ".0062", "1.015", "0.1856", "0.0001", TRADE_TEXT + "estimate-oval-shape/"),
        ("W06", "marquise", "10.24", "6.11", "4.75", ".00570", "1.035", "1.753", "0.0005", TRADE_TEXT + "estimate-marquise-cut/"),
        ("W07", "triangle", "6.32", "6.02", "2.52", ".0057", "1.03", "0.5629", "0.0001", TRIANGLES),
        ("W08", "triangle", "7.89", "6.96", "4.04", ".0057", "1.045", "1.322", "0.001", TRIANGLES),
        ("W09", "heart", "5", "5", "3", ".006", "1", "0.45", "0.0001", HEARTS),
        ("oval of the same text", "oval", "6.98", "6.98", "3.98", ".0062", "1.1021", "1.325", "0.0005", TRADE_TEXT + "estimate-oval-shape/"),
    ],
)  # fmt: skip
def test_diamonds_worked_in_print(
    row, outline, length, width, depth, constant, factor, published, tolerance, source
):
    ours = by_constant(outline, length, width, depth, constant) * D(factor)
    assert abs(ours - D(published)) <= D(tolerance), (row, source)


def test_the_girdle_factors_used_in_print_are_those_of_the_table():
    """W03 (6.08 mm, slightly thick, 1.02), W07 (6.02 mm, 1.03) and W06 (1.035, read at the length of 10.24 mm)."""
    assert girdle_multiplier("medium to thick", D("6.08")) == D("1.02")
    assert girdle_multiplier("extremely thin to very thick", D("6.02")) == D("1.03")
    assert girdle_multiplier("thin to extremely thick", D("10.24")) == D("1.035")


def test_the_marquise_by_a_straight_line_is_within_half_a_per_cent_of_the_printed_one():
    """W06 prints the nearest factor, .0057; its 10.24 x 6.11 mm lie between 1.50 and 1.75."""
    found = diamond_estimates_from_size("marquise", D("10.24"), D("6.11"), D("4.75"))
    assert all(abs(estimate.ct * D("1.035") / D("1.753") - 1) < D("0.005") for estimate in found)


def test_weighed_princess_diamond():
    """W13: 5.78 x 5.78 x 4.60 mm weighed 1.257 ct (https://pricescope.com/journal/numbers_and_perception_case_square_diamondcuts);
    the factor .0083 is from memory and is marked so."""
    (estimate,) = diamond_estimates_from_size("square", D("5.78"), D("5.78"), D("4.60"))
    assert abs(estimate.ct - D("1.257")) <= D("0.03")
    assert estimate.from_memory


def test_weighed_round_diamond():
    """8.02-8.08 x 5.11 mm, thick girdle, weighed 2.08 ct by its laboratory
    (https://briangavindiamonds.com/news/how-wide-should-a-girdle-be-on-a-round-brilliant-diamond): plain 2.02,
    with the printed girdle factor within 2.5 %."""
    plain = by_constant("round", "8.02", "8.08", "5.11", ".0061")
    assert abs(plain - D("2.02")) < D("0.005")
    thick = [
        e.ct
        for e in diamond_estimates_from_size(
            "round", D("8.02"), D("8.08"), D("5.11"), girdle="medium to thick"
        )
    ]
    assert any(abs(ct / D("2.08") - 1) < D("0.025") for ct in thick)


def test_weighed_citrine_with_cut_corners():
    """10.68 x 8.6 x 7.12 mm weighed 4.36 ct on a balance (published example; its address was not
    kept): .0025 gives 4.33, .0026 gives 4.51."""
    light, heavy = estimates_from_size("cut_corner_rectangle", D("10.68"), D("8.6"), D("7.12"), D("2.65"))
    assert (round(light.ct, 2), round(heavy.ct, 2)) == (D("4.33"), D("4.51"))
    assert abs(light.ct / D("4.36") - 1) < D("0.01")


@pytest.mark.parametrize(("row", "mm", "published"), [("W14", 16, 2144), ("W15", 10, 523)])
def test_volumes_of_spheres(row, mm, published):
    (bead,) = estimates_from_size("bead", D(mm), D(mm), D(mm), D(1))
    assert abs(bead.ct * 200 - published) <= 1, (row, SPHERES)


def test_pearls():
    (pearl,) = estimates_from_size("bead", D("7.5"), D("7.5"), D("7.5"), D("2.7"))
    assert abs(pearl.ct - 3) <= D("0.05"), ("W16", PEARLS)
    (pearl,) = estimates_from_size("bead", D(8), D(8), D(8), D("2.8"))
    assert abs(from_carats(pearl.ct, "g") - D("0.75")) <= D("0.005"), ("W17", PEARLS)
    assert to_carats(D(1), "momme") == D("18.75"), ("W21", PEARLS)


def test_mass_from_displaced_volume():
    carats = carats_from_volume(D(250), D("3.51"))
    assert abs(from_carats(carats, "g") - D("0.88")) <= D("0.005"), ("W19", DISPLACED)
    assert to_carats(D("0.88"), "g") == D("4.40"), ("W20", DISPLACED)


def test_finished_carats_from_rough():
    """Y03: one carat a gram at 20 % (https://www.gemsociety.org/article/figuring-rough-cost/); Y04: a crystal of
    .9 x .9 x 4 cm at SG 4 and 20 % gives 12.96 ct (https://si.frajer.net/readmsg.aspx?msgid=21657923)."""
    assert to_carats(D(1), "g") * D("0.20") == 1
    assert carats_from_volume(D(9) * D(9) * D(40), D(4)) * D("0.20") == D("12.96")


def test_the_round_diamond_constant_and_the_coloured_one_differ_by_about_four_per_cent():
    """.0061/3.52 is 3.7 % below .0018; the step cut's .0092/3.52 agrees with .0026 (own comparison of both lists)."""
    diamond = by_constant("round", "6.5", "6.5", "3.9", ".0061")
    (coloured,) = estimates_from_size("round", D("6.5"), D("6.5"), D("3.9"), D("3.52"))
    assert D("0.034") < 1 - diamond / coloured.ct < D("0.040")
