"""Pieces of rough: their volumes, flats, losses and skins, and how the scale has the last word."""

import math

import numpy as np
import pytest

from tests.handbook.test_recovery import QUARTZ, box_cut
from workshop.handbook import recovery
from workshop.handbook.errors import DoesNotAddUp
from workshop.handbook.recovery import Side


@pytest.mark.parametrize(
    ("shape", "volume"),
    [
        (recovery.block(12, 9, 7), 12 * 9 * 7),
        (recovery.pebble(12, 9, 7), math.pi / 6 * 12 * 9 * 7),
        # regular octahedron of edge 5: .4714045 a^3 (row G52), flat to flat across the middle 5, point to point 5 sqrt 2
        (recovery.bipyramid(5 * math.sqrt(2), 5, sides=4), 0.4714045208 * 125),
        # hexagon of inradius 4: 2 sqrt 3 r^2
        (recovery.prism(15, 8, sides=6), 2 * math.sqrt(3) * 16 * 15),
        # triangle of height 9: h^2 / sqrt 3
        (recovery.prism(10, 9, sides=3), 81 / math.sqrt(3) * 10),
        # three calipers along the axes are a block
        (recovery.calipers([((1, 0, 0), 9), ((0, 1, 0), 12), ((0, 0, 1), 7)]), 12 * 9 * 7),
    ],
)
def test_volumes_of_pieces(shape, volume):
    rough = recovery.measured(shape, QUARTZ)
    assert rough.volume_mm3 == pytest.approx(volume, rel=1e-6)
    assert rough.weight_ct == pytest.approx(volume * QUARTZ / 200, rel=1e-6)


def test_more_calipers_make_a_smaller_piece():
    """A cube of 10 read across its corners as 12 (a true cube would give 17.3) has lost eight corners."""
    three = [((1, 0, 0), 10), ((0, 1, 0), 10), ((0, 0, 1), 10)]
    more = [*three, *(((1, y, z), 12) for y in (1, -1) for z in (1, -1))]
    assert recovery.measured(recovery.calipers(more), QUARTZ).volume_mm3 < 1000


@pytest.mark.parametrize("distance", [0.5, 1.5, 2.9])
def test_a_flat_on_a_pebble_takes_off_a_cap(distance):
    """Ball of radius 3, cap of height h = 3 - distance: pi h^2 (9 - h)/3 (any table of volumes)."""
    rough = recovery.measured(recovery.pebble(6, 6, 6), QUARTZ, flats=[Side((1, 1, 1), distance, "flat")])
    h = 3 - distance
    left = 4 / 3 * math.pi * 27 - math.pi * h * h * (9 - h) / 3
    assert rough.volume_mm3 == pytest.approx(left, rel=2e-4)


def test_the_shape_is_drawn_in_until_it_meets_the_scale():
    """A pebble whose ellipsoid holds 6.00 ct weighs 4.50: each measure shrinks by the cube root of .75."""
    shape = recovery.pebble(10, 8, 6)
    full = recovery.measured(shape, QUARTZ)
    rough = recovery.measured(shape, QUARTZ, weight_ct=full.weight_ct * 0.75)
    assert rough.drawn_in == pytest.approx(0.75 ** (1 / 3))
    assert rough.weight_ct == pytest.approx(full.weight_ct * 0.75)
    assert rough.semi_axes_mm == pytest.approx(tuple(a * 0.75 ** (1 / 3) for a in (4, 5, 3)))
    assert rough.warnings == ()


@pytest.mark.parametrize("make", [recovery.block, recovery.pebble])
def test_a_flat_stays_where_it_was_read_when_the_rest_is_drawn_in(make):
    shape, flat = make(10, 8, 6), Side((0, 0, 1), 1.5, "flat")
    full = recovery.measured(shape, QUARTZ, flats=[flat])
    rough = recovery.measured(shape, QUARTZ, flats=[flat], weight_ct=full.weight_ct * 0.8)
    assert rough.offsets[rough.labels.index("flat")] == 1.5
    shrunk = recovery.measured(make(*(m * rough.drawn_in for m in (10, 8, 6))), QUARTZ, flats=[flat])
    assert shrunk.weight_ct == pytest.approx(full.weight_ct * 0.8, rel=1e-4)


def test_a_weight_no_such_block_can_have_says_by_what_factor():
    """A block of 10 x 8 x 6 at SG 2.65 holds 6.36 ct; 12.72 ct is 2.00 times that."""
    with pytest.raises(DoesNotAddUp, match=r"2\.00 times") as caught:
        recovery.measured(recovery.block(10, 8, 6), QUARTZ, weight_ct=12.72)
    assert caught.value.said["factor"] == pytest.approx(2)


def test_a_weight_a_tenth_of_the_shape_is_a_slip():
    with pytest.raises(DoesNotAddUp, match="slip") as caught:
        recovery.measured(recovery.block(10, 8, 6), QUARTZ, weight_ct=0.5)
    assert caught.value.said["factor"] == pytest.approx(0.5 / 6.36)


def test_a_piece_fuller_or_hollower_than_its_shape_is_warned_of():
    """A pebble's box holds 6/pi times the pebble: up to there the piece is only fuller, past it impossible."""
    shape = recovery.pebble(10, 8, 6)
    weight = recovery.measured(shape, QUARTZ).weight_ct
    fuller = recovery.measured(shape, QUARTZ, weight_ct=weight * 1.5)
    assert "fuller" in fuller.warnings[0]
    assert fuller.drawn_in == 1
    hollow = recovery.measured(shape, QUARTZ, weight_ct=weight * 0.4)
    assert "hollower" in hollow.warnings[0]
    with pytest.raises(DoesNotAddUp):
        recovery.measured(shape, QUARTZ, weight_ct=weight * 2)


def test_a_skin_is_taken_off_all_round():
    rough = recovery.measured(recovery.block(12, 9, 7), QUARTZ, skin_mm=0.5)
    fit = recovery.best_fit(rough, box_cut(8, 11, 6))
    assert fit.scale == pytest.approx(1)
    assert rough.volume_mm3 == pytest.approx(12 * 9 * 7)
    pebble = recovery.measured(recovery.pebble(12, 9, 7), QUARTZ, skin_mm=0.5)
    assert pebble.semi_axes_mm == (4, 5.5, 3)


def test_the_piece_can_be_drawn():
    """A block by its eight corners, cut by a loss; a pebble by points on or just outside it, none past its loss."""
    assert len(recovery.measured(recovery.block(12, 9, 7), QUARTZ).corners()) == 8
    loss = Side((0, 0, 1), 1, "fracture")
    corners = recovery.measured(recovery.pebble(12, 9, 7), QUARTZ, losses=[loss]).corners()
    assert corners[:, 2].max() == pytest.approx(1)
    reach = np.linalg.norm(corners / [4.5, 6, 3.5], axis=1)
    assert reach.max() < 1.02
    assert (reach[corners[:, 2] < 0.999] > 1 - 1e-9).all()


@pytest.mark.parametrize(("long", "short"), [(2, 1), (3, 1)])
def test_what_the_skin_of_a_pebble_takes_between_its_axes(long, short):
    """Along every direction n the piece lost h(n) - h'(n), h the support sqrt(sum a^2 n^2); for a thin skin at least
    2 sqrt(ab)/(a + b) of it (derived; least at cos^2 = b/(a + b))."""
    skin = 1e-4
    angle = np.linspace(0, np.pi / 2, 2001)
    n = np.column_stack([np.cos(angle), np.sin(angle)])
    before, after = (np.sqrt((n * n) @ (np.array([long, short]) - off) ** 2) for off in (0, skin))
    assert ((before - after) / skin).min() == pytest.approx(
        2 * math.sqrt(long * short) / (long + short), abs=1e-3
    )
    rough = recovery.measured(recovery.pebble(2 * long, 2 * short, 2 * short), QUARTZ, skin_mm=0.1)
    assert rough.semi_axes_mm == pytest.approx((short - 0.1, long - 0.1, short - 0.1))


def test_a_loss_costs_room_but_no_weight_on_the_scale():
    """A fracture 1 mm past the middle leaves a slab 3 mm high of a block 8 high: the loss may pass the middle."""
    fracture = Side((0, 0, 1), -1, "fracture")
    rough = recovery.measured(recovery.block(10, 10, 8), QUARTZ, losses=[fracture])
    fit = recovery.best_fit(rough, box_cut(1, 1, 1))
    assert fit.scale == pytest.approx(3)
    assert set(fit.touches) == {"bottom", "fracture"}
    assert rough.volume_mm3 == pytest.approx(800)
