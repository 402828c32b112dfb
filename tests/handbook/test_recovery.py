"""The largest stone against brute force, another solver and closed forms; what cannot be is refused."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from workshop.handbook import outlines, recovery, solids
from workshop.handbook.errors import EmptySolid, OpenSolid, OutOfRange
from workshop.handbook.recovery import Side

QUARTZ = 2.65


def box_cut(width, length, depth):
    corners = np.array([[x, y, z] for x in (0, width) for y in (0, length) for z in (0, depth)], dtype=float)
    return recovery.Cut("box", corners, width * length * depth)


def random_cut(rng, points=14):
    corners = rng.normal(size=(points, 3)) * rng.uniform(0.5, 1.5, 3) + rng.normal(size=3)
    hull = ConvexHull(corners)
    return recovery.Cut("lump", corners[hull.vertices], hull.volume)


def random_rough(rng, planes=9, **said):
    sides = [Side(tuple(rng.normal(size=3)), rng.uniform(3, 8), f"p{k}") for k in range(planes)]
    block = recovery.block(*rng.uniform(8, 16, 3))
    return recovery.measured(block, QUARTZ, flats=sides, **said)


def by_linprog(rough, cut, turn):
    """The same question to another solver (HiGHS dual simplex), one program at a time."""
    corners = (cut.corners - cut.corners.mean(axis=0)) @ turn.T
    support = (corners @ rough.normals.T).max(axis=0)
    found = linprog(
        [-1, 0, 0, 0],
        A_ub=np.column_stack([support, rough.normals]),
        b_ub=rough.offsets,
        bounds=[(0, None)] + [(None, None)] * 3,
        method="highs-ds",
    )
    return found.x[0]


def scale_at(rough, corners, position):
    """Greatest scale of a cut whose middle stands at ``position`` (n, 3): plane by plane, corner by corner."""
    scales = np.full(len(position), np.inf)
    for normal, offset in zip(rough.normals, rough.offsets, strict=True):
        scales = np.minimum(scales, (offset - position @ normal) / (corners @ normal).max())
    if rough.semi_axes_mm is not None:
        ways, at = corners / rough.semi_axes_mm, position / rough.semi_axes_mm
        for way in ways:
            a, b, c = way @ way, at @ way, (at * at).sum(axis=1) - 1
            scales = np.minimum(scales, np.where(c < 0, (np.sqrt(np.maximum(b * b - a * c, 0)) - b) / a, 0))
    return scales


def by_brute_force(rough, cut, turn, rng):
    """Throw the stone at random places, then closer and closer round the best one."""
    corners = (cut.corners - cut.corners.mean(axis=0)) @ turn.T
    best, reach = np.zeros(3), rough.size_mm
    for _ in range(60):
        places = best + rng.normal(size=(1500, 3)) * reach
        places = np.vstack([places, best])
        scales = scale_at(rough, corners, places)
        best, reach = places[scales.argmax()], reach * 0.8
    return scales.max()


@pytest.mark.parametrize("seed", range(25))
def test_fixed_orientation_equals_another_solver(seed):
    rng = np.random.default_rng(seed)
    rough, cut = random_rough(rng), random_cut(rng)
    turn = Rotation.random(random_state=seed).as_matrix()
    fit = recovery.best_fit(rough, cut, turns=turn[None])
    assert fit.scale == pytest.approx(by_linprog(rough, cut, turn), rel=1e-8)
    assert fit.could_gain < 1e-8


@pytest.mark.parametrize("seed", range(8))
def test_never_larger_than_brute_force_and_within_a_thousandth(seed):
    """Random pieces, half of them pebbles with a flat and a fracture."""
    rng = np.random.default_rng(seed)
    cut = random_cut(rng)
    if seed % 2:
        rough = recovery.measured(
            recovery.pebble(*rng.uniform(6, 14, 3)),
            QUARTZ,
            flats=[Side(tuple(rng.normal(size=3)), 2.0, "flat")],
            losses=[Side(tuple(rng.normal(size=3)), rng.uniform(-0.5, 2), "fracture")],
        )
    else:
        rough = random_rough(rng)
    turn = Rotation.random(random_state=seed).as_matrix()
    fit = recovery.best_fit(rough, cut, turns=turn[None])
    brute = by_brute_force(rough, cut, turn, rng)
    assert brute <= fit.scale * (1 + fit.could_gain + 1e-9)
    assert fit.scale == pytest.approx(brute, rel=1e-3)


@pytest.mark.parametrize("seed", range(12))
def test_what_is_returned_lies_inside(seed):
    rng = np.random.default_rng(seed)
    rough = (
        random_rough(rng) if seed % 2 else recovery.measured(recovery.pebble(*rng.uniform(6, 14, 3)), QUARTZ)
    )
    cut = random_cut(rng)
    fit = recovery.best_fit(rough, cut, longer=(1, 1.5), refine=seed % 4 == 1)
    corners = fit.place(cut.corners)
    if len(rough.offsets):
        assert (corners @ rough.normals.T <= rough.offsets + 1e-9).all()
    if rough.semi_axes_mm:
        assert (np.linalg.norm(corners / rough.semi_axes_mm, axis=1) <= 1 + 1e-9).all()
    assert fit.volume_mm3 == pytest.approx(ConvexHull(corners).volume)
    assert 0 < fit.recovery < 1
    assert fit.touches


@pytest.mark.parametrize("seed", range(5))
def test_of_24_orientations_the_best_is_taken(seed):
    rng = np.random.default_rng(seed)
    rough, cut = random_rough(rng), random_cut(rng)
    best = max(by_linprog(rough, cut, turn) for turn in recovery.box_turns())
    assert recovery.best_fit(rough, cut).scale == pytest.approx(best, rel=1e-8)


@pytest.mark.parametrize("seed", range(3))
def test_refining_beats_hundreds_of_random_orientations(seed):
    """A search, not a proof: it must at least not lose to 400 random orientations solved by HiGHS."""
    rng = np.random.default_rng(seed)
    rough, cut = random_rough(rng), random_cut(rng)
    fit = recovery.best_fit(rough, cut, refine=True)
    oracle = max(by_linprog(rough, cut, turn) for turn in Rotation.random(400, random_state=seed).as_matrix())
    assert fit.scale >= oracle * 0.999
    assert fit.scale >= recovery.best_fit(rough, cut).scale


def test_refining_finds_a_box_in_a_box_turned_by_ten_degrees():
    turn = Rotation.from_rotvec(np.radians([6, -7, 4])).as_matrix()
    sides = [
        Side(tuple(turn @ np.array(way)), half, name)
        for (name, way), half in zip(recovery.SIDES.items(), (3, 3, 5, 5, 2, 2), strict=True)
    ]
    rough = recovery.measured(recovery.block(30, 30, 30), QUARTZ, flats=sides)
    cut = box_cut(6, 10, 4)
    assert recovery.best_fit(rough, cut).scale < 0.95
    assert 0.997 < recovery.best_fit(rough, cut, refine=True).scale <= 1 + 1e-9


def test_a_box_in_a_block_touches_the_sides_that_stop_it():
    """Cut 2 x 3 x 1 in a block 12 long, 9 wide, 7 high: the best way is scale 4, stopped by length (12/3) and width
    would allow 4.5, height 7."""
    fit = recovery.best_fit(recovery.measured(recovery.block(12, 9, 7), QUARTZ), box_cut(2, 3, 1))
    assert fit.scale == pytest.approx(4)
    assert set(fit.touches) == {"far end", "near end"}
    assert (fit.width_mm, fit.length_mm, fit.depth_mm) == pytest.approx((8, 12, 4))
    assert fit.recovery == pytest.approx(8 * 12 * 4 / (12 * 9 * 7))
    assert fit.weight_ct == pytest.approx(8 * 12 * 4 * QUARTZ / 200)


def test_a_cube_in_a_ball():
    """Largest cube in a ball of diameter d: side d / sqrt 3 (any handbook); it touches nothing but the surface."""
    fit = recovery.best_fit(recovery.measured(recovery.pebble(10, 10, 10), QUARTZ), box_cut(1, 1, 1))
    assert fit.width_mm == pytest.approx(10 / math.sqrt(3), rel=2e-6)
    assert fit.touches == ("pebble surface",)


def test_a_box_in_an_ellipsoid():
    """Corners of a centred box s (w, l, d)/2 lie on the ellipsoid: s^2 sum (side / caliper)^2 = 1."""
    fit = recovery.best_fit(
        recovery.measured(recovery.pebble(14, 10, 6), QUARTZ), box_cut(3, 5, 2), turns=np.eye(3)[None]
    )
    assert fit.scale == pytest.approx(1 / math.sqrt((3 / 10) ** 2 + (5 / 14) ** 2 + (2 / 6) ** 2), rel=2e-6)


@pytest.mark.parametrize("seed", range(4))
def test_free_length_to_width_finds_the_peak(seed):
    """Against 400 stretches tried one by one."""
    rng = np.random.default_rng(seed)
    rough, cut = random_rough(rng), random_cut(rng)
    turn = recovery.box_turns()[:1]
    free = recovery.best_fit(rough, cut, turns=turn, longer=(0.7, 2.5))
    tried = [
        recovery.best_fit(rough, cut, turns=turn, longer=(k, k)).weight_ct
        for k in np.geomspace(0.7, 2.5, 400)
    ]
    assert max(tried) * (1 - 1e-6) <= free.weight_ct <= max(tried) * (1 + 2e-3)
    assert free.weight_ct >= recovery.best_fit(rough, cut, turns=turn).weight_ct


def test_a_cube_may_grow_as_long_as_the_block():
    fit = recovery.best_fit(
        recovery.measured(recovery.block(12, 5, 5), QUARTZ), box_cut(1, 1, 1), longer=(1, 3)
    )
    assert fit.recovery == pytest.approx(1, rel=1e-4)
    assert fit.stretch == pytest.approx(2.4, rel=1e-3)


def test_turns_are_rotations_and_the_table_goes_where_it_is_told():
    for turns in (recovery.box_turns(), recovery.table_turns((1, 2, -3))):
        assert np.allclose(turns @ turns.transpose(0, 2, 1), np.eye(3))
        assert np.allclose(np.linalg.det(turns), 1)
        assert len(np.unique(turns.round(9), axis=0)) == 24
    up = recovery.table_turns((1, 2, -3)) @ np.array([0, 0, 1])
    assert np.allclose(up, np.array([1, 2, -3]) / math.sqrt(14))
    assert len(recovery.usual_turns([Side((0, 1, 1), 2, "flat")])) == 72


def test_the_table_may_be_told_to_face_one_way():
    """Colour wants the table across the length of the crystal: only turns about that axis are tried."""
    rough = recovery.measured(recovery.prism(20, 6, sides=6), 3.06)
    cut = recovery.cut_of("round", solids.make_cut("round"))
    along = recovery.best_fit(rough, cut, turns=recovery.table_turns((0, 1, 0)))
    assert np.allclose(along.rotation @ [0, 0, 1], [0, 1, 0])
    assert along.width_mm == pytest.approx(6, rel=0.01)


def test_a_larger_piece_never_gives_less():
    cut = recovery.cut_of("oval", solids.make_cut("oval"))
    weights = [
        recovery.best_fit(recovery.measured(recovery.pebble(10 + k, 8, 6), QUARTZ), cut).weight_ct
        for k in range(5)
    ]
    assert all(b >= a * (1 - 1e-6) for a, b in pairwise(weights))


def test_options_come_heaviest_first_and_hold_every_outline():
    cuts = [recovery.cut_of(key, solids.make_cut(key)) for key in outlines.KEYS[:12]]
    fits = recovery.options(recovery.measured(recovery.block(12, 9, 7), QUARTZ), cuts)
    weights = [fit.weight_ct for fit in fits]
    assert weights == sorted(weights, reverse=True)
    assert {fit.name for fit in fits} == set(outlines.KEYS[:12])
    for fit, made in ((f, solids.make_cut(f.name, width=f.width_mm)) for f in fits):
        assert fit.weight_ct == pytest.approx(made.weight_ct(QUARTZ), rel=1e-6)


@pytest.mark.parametrize(
    ("make", "error", "says"),
    [
        (lambda: recovery.block(0, 1, 1), OutOfRange, "measures"),
        (lambda: recovery.block(math.nan, 1, 1), OutOfRange, "measures"),
        (lambda: recovery.prism(10, 5, sides=2), OutOfRange, "sides"),
        (lambda: recovery.calipers([((1, 0, 0), 5), ((0, 1, 0), 5)]), OpenSolid, "open"),
        (lambda: recovery.measured(recovery.block(9, 9, 9), 0.1), OutOfRange, "SG"),
        (lambda: recovery.measured(recovery.block(9, 9, 9), 2.65, skin_mm=-1), OutOfRange, "skin"),
        (lambda: recovery.measured(recovery.block(9, 9, 9), 2.65, weight_ct=0), OutOfRange, "weigh"),
        (
            lambda: recovery.measured(recovery.block(9, 9, 9), 2.65, flats=[Side((0, 0, 1), -1, "flat")]),
            OutOfRange,
            "loss",
        ),
        (
            lambda: recovery.measured(recovery.block(9, 9, 9), 2.65, losses=[Side((0, 0, 1), -6, "crack")]),
            EmptySolid,
            "leave nothing",
        ),
        (lambda: recovery.measured(recovery.pebble(9, 9, 9), 2.65, skin_mm=5), EmptySolid, "skin"),
        (lambda: Side((0, 0, 0), 1, "nowhere"), OutOfRange, "nowhere"),
        (
            lambda: recovery.best_fit(
                recovery.measured(recovery.block(9, 9, 9), 2.65), box_cut(1, 1, 1), longer=(2, 1)
            ),
            OutOfRange,
            "stretched",
        ),
        (
            lambda: recovery.best_fit(
                recovery.measured(recovery.block(9, 9, 9), 2.65), recovery.Cut("flat", np.zeros((3, 3)), 0)
            ),
            OutOfRange,
            "no volume",
        ),
    ],
)
def test_what_cannot_be_is_refused(make, error, says):
    with pytest.raises(error, match=says):
        make()


def test_a_pebble_lost_altogether_is_said_to_be():
    rough = recovery.measured(recovery.pebble(9, 9, 9), 2.65, losses=[Side((0, 0, 1), -5, "crack")])
    with pytest.raises(EmptySolid):
        recovery.best_fit(rough, box_cut(1, 1, 1))
