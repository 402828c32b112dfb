"""Index wheels against published tables; the source stands beside each check."""

import pytest

from workshop.handbook import wheels

GEARS = "https://gemologyproject.com/wiki/index.php?title=Faceting_Equipment"
SCALLOPS = "https://www.pricescope.com/journal/scallops"


@pytest.mark.parametrize(
    ("row", "teeth", "degrees"),
    [("I02", 60, 6), ("I04", 72, 5), ("I05", 77, 4.68), ("I07", 84, 4.29), ("I08", 88, 4.09)],
)
def test_degrees_per_tooth_as_printed(row, teeth, degrees):
    """The Gemology Project, index gears (GEARS); printed to two places."""
    assert wheels.degrees_per_tooth(teeth) == pytest.approx(degrees, abs=0.0051)


FITS = [
    (32, 11.25, "2 4 8 16", "2 4 8 16", True),
    (48, 7.5, "2 3 4 6 8 12 16", "2 3 4 6 8 12", False),
    (64, 5.625, "2 4 8 16", "2 4 8 16", True),
    (72, 5, "2 3 4 6 8 9 12", "2 3 4 6 9 12", False),
    (77, 4.675, "7 11", "", False),
    (80, 4.5, "2 4 5 8 10 16", "2 4 5 8 10", False),
    (84, 4.286, "2 3 4 6 7 12 14", "2 3 6 7 14", False),
    (88, 4.091, "2 4 8 11", "2 4 11", False),
    (96, 3.75, "2 3 4 6 8 12 16", "2 3 4 6 8 12 16", True),
    (99, 3.636, "3 9 11", "", False),
    (104, 3.462, "2 4 8 13", "2 4 13", False),
    (108, 3.333, "2 3 4 6 9 12", "2 3 6 9", False),
    (112, 3.214, "2 4 7 8 14 16", "2 4 7 8 14", False),
    (120, 3, "2 3 4 5 6 8 10 12 15", "2 3 4 5 6 10 12 15", False),
]


@pytest.mark.parametrize(("teeth", "degrees", "folds", "midway", "breaks"), FITS)
def test_what_each_wheel_divides(teeth, degrees, folds, midway, breaks):
    """Symmetries and degrees from GEARS (99, 104, 112: whole-number arithmetic, no source read); breaks from SCALLOPS."""
    row = wheels.report(teeth)
    assert row.degrees_per_tooth == pytest.approx(degrees, abs=0.0005)
    assert " ".join(map(str, row.folds)) == folds
    assert " ".join(map(str, row.midway_folds)) == midway
    assert row.round_breaks is breaks


@pytest.mark.parametrize(
    ("fold", "errors"),
    [
        (5, {64: 2.25, 72: 2.00, 80: 0, 96: 1.50, 112: 1.29, 120: 0}),
        (7, {64: 2.41, 72: 2.14, 80: 1.93, 96: 1.61, 112: 0, 120: 1.29}),
        (9, {64: 2.50, 72: 0, 80: 2.00, 96: 1.25, 112: 1.43, 120: 1.00}),
        (11, {64: 2.56, 72: 2.27, 80: 2.05, 96: 1.70, 112: 1.46, 120: 1.36}),
        (13, {64: 2.60, 72: 2.31, 80: 2.08, 96: 1.73, 112: 1.48, 120: 1.38}),
    ],
)
def test_nearest_tooth_error_where_the_wheel_does_not_divide(fold, errors):
    """Closed form, no external source needed (each entry is half the fraction of a tooth left over)."""
    for teeth, greatest in errors.items():
        assert wheels.nearest_settings(teeth, fold).greatest_error_deg == pytest.approx(greatest, abs=0.0051)


def test_row_i21_five_fold_on_96():
    """I21: closed form."""
    assert wheels.nearest_settings(96, 5).greatest_error_deg == pytest.approx(1.5, abs=1e-9)


def test_row_i22_seven_fold_on_77():
    """I22: GEARS lists 77 for 7-fold."""
    assert wheels.nearest_settings(77, 7).greatest_error_deg == pytest.approx(0, abs=1e-12)


def test_row_i23_eight_mains_on_64():
    """I23: settings 4, 12, 20 ... 60, step 8: https://skyjems.ca/pages/encyclopedia-64-index."""
    division = wheels.nearest_settings(64, 8, start=4)
    assert division.settings == (4, 12, 20, 28, 36, 44, 52, 60)


def test_row_i24_settings_moved_from_64_to_96():
    """I24: GEARS: multiply by 1.5; odd settings fall half-way between two teeth."""
    ten, odd = wheels.move_settings([10, 11], 64, 96)
    assert (ten.nearest, ten.error_deg, ten.exact) == (15, 0, True)
    assert not odd.exact
    assert abs(odd.error_deg) == pytest.approx(3.75 / 2)


def test_row_i25_share_of_designs_on_96():
    """I25: GEARS: 2,812 of 4,307 published designs."""
    (wheel,) = [w for w in wheels.COMMON_WHEELS if w.teeth == 96]
    assert wheel.designs_percent == pytest.approx(2812 / 4307 * 100, abs=0.05)


@pytest.mark.parametrize(
    ("row", "teeth", "fits"), [("I26", 96, True), ("I27", 80, False), ("I28", 120, False)]
)
def test_breaks_of_a_standard_round(row, teeth, fits):
    """SCALLOPS: the wheel must divide by 32."""
    assert wheels.divides_breaks(teeth) is fits


def test_seven_fold_on_96_worked_through():
    """Derived by hand: nearest teeth, fine offset in teeth, the two steps, and how much the sides then differ."""
    division = wheels.nearest_settings(96, 7)
    assert division.settings == (0, 14, 27, 41, 55, 69, 82)
    offsets = [round(float(error), 3) for error in division.errors_teeth]
    assert offsets == [0, -0.286, 0.429, 0.143, -0.143, -0.429, 0.286]
    assert division.greatest_error_deg == pytest.approx(1.607, abs=0.0005)
    assert set(division.steps_deg) == {52.5, 48.75}
    sides = division.side_lengths
    assert (max(sides) - min(sides)) / (sum(sides) / 7) * 100 == pytest.approx(4.2, abs=0.06)
