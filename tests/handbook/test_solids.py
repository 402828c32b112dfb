"""Solids against two other libraries and brute force, the laws they obey, and what they refuse."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
import trimesh
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from workshop.handbook import outlines
from workshop.handbook.errors import EmptySolid, OpenSolid, OutOfRange
from workshop.handbook.solids import (
    STYLES,
    CrownMeetsPavilion,
    ImpossibleAngle,
    Plane,
    Proportions,
    Solid,
    UnknownStyle,
    make_cut,
    plane_arrays,
    plane_from,
    solid_from_planes,
    usual_style,
)


def random_planes(rng, count):
    """Planes around a shifted, flattened ball: directions at random, so the solid closes when there are enough."""
    normals = rng.normal(size=(count, 3)) * rng.uniform(0.4, 1.6, size=3)
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    middle = rng.normal(size=3) * rng.uniform(0, 3)
    distances = rng.uniform(0.6, 1.6, size=count) * rng.uniform(0.1, 20) + normals @ middle
    return [plane_from(n, float(d), f"f{i}") for i, (n, d) in enumerate(zip(normals, distances, strict=True))]


def random_solids(seed, count):
    """That many closed solids of 5 to 60 planes; the few draws that do not close are drawn again."""
    rng = np.random.default_rng(seed)
    made = 0
    while made < count:
        try:
            solid = solid_from_planes(random_planes(rng, int(rng.integers(5, 60))))
        except OpenSolid:
            continue
        made += 1
        yield solid


def meshed(solid):
    """Our faces as triangles, so that another library judges their order and completeness."""
    triangles = [
        (loop[0], loop[i], loop[i + 1])
        for loop in (solid.loop_of(f) for f in range(len(solid.planes)))
        for i in range(1, len(loop) - 1)
    ]
    return trimesh.Trimesh(vertices=solid.vertices, faces=triangles, process=False)


@pytest.mark.parametrize("seed", range(10))
def test_random_solids_against_scipy_and_trimesh(seed):
    """Fifty at a time, five hundred in all: volume, surface and centre of gravity, judged by SciPy and by trimesh."""
    for solid in random_solids(seed, 50):
        hull = ConvexHull(solid.vertices)
        assert solid.volume == pytest.approx(hull.volume, rel=1e-8)
        assert solid.surface == pytest.approx(hull.area, rel=1e-8)
        mesh = meshed(solid)
        assert mesh.is_watertight
        assert mesh.volume == pytest.approx(solid.volume, rel=1e-8)
        assert mesh.area == pytest.approx(solid.surface, rel=1e-8)
        assert mesh.center_mass == pytest.approx(
            solid.centroid, abs=1e-7 * float(np.abs(solid.vertices).max())
        )
        assert [solid.width, solid.length, solid.depth] == pytest.approx(mesh.extents)


@pytest.mark.parametrize("seed", range(20))
def test_corners_against_every_crossing_of_three_planes(seed):
    """Brute force: the corners are those crossings of three planes that no other plane cuts off."""
    rng = np.random.default_rng(1000 + seed)
    planes = random_planes(rng, 12)
    try:
        solid = solid_from_planes(planes)
    except OpenSolid:
        pytest.skip("these twelve planes do not close; others of the twenty do")
    normals, offsets = plane_arrays(planes)
    size = np.abs(offsets).max()
    expected = []
    for triple in combinations(range(12), 3):
        rows = list(triple)
        if abs(np.linalg.det(normals[rows])) < 1e-9:
            continue
        point = np.linalg.solve(normals[rows], offsets[rows])
        if (normals @ point - offsets).max() < 1e-9 * size:
            expected.append(point)
    assert len(expected) == len(solid.vertices)
    apart = np.linalg.norm(np.array(expected)[:, None] - solid.vertices[None], axis=2)
    assert apart.min(axis=1).max() < 1e-8 * size


def test_every_face_lies_in_its_plane_and_runs_counter_clockwise():
    for solid in random_solids(77, 20):
        for face in solid.faces:
            n, d = np.array(face.plane.normal), face.plane.distance
            assert np.abs(face.corners @ n - d).max() < 1e-8 * np.abs(solid.vertices).max()
            turned = np.cross(face.corners[1] - face.corners[0], face.corners[2] - face.corners[1]) @ n
            assert turned > 0
        # Euler: corners - edges + faces = 2
        assert len(solid.vertices) - len(solid.loop) // 2 + len(solid.faces) == 2


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("key", outlines.KEYS)
def test_every_cut_closes_and_keeps_its_size(key, style):
    cut = make_cut(key, style, width=7.5)
    ratio = outlines.usual_length_to_width(key)
    assert (cut.width, cut.length) == pytest.approx((7.5, 7.5 * ratio))
    assert cut.volume == pytest.approx(ConvexHull(cut.vertices).volume, rel=1e-9)
    assert meshed(cut).is_watertight
    least, most = cut.girdle_thickness
    assert 0 < least <= most
    assert most == pytest.approx(0.03 * 7.5, rel=0.02)
    assert cut.depth == pytest.approx(cut.crown_height + most + cut.pavilion_depth, rel=0.01)
    assert cut.angles("crown step" if style == "step" else "crown main")[1] == pytest.approx(
        39 if style == "step" else 34
    )
    if style == "brilliant":
        assert cut.angles("pavilion main")[1] == pytest.approx(42)
    else:
        assert cut.angles("pavilion step") == pytest.approx((42, 52))


@pytest.mark.parametrize("key", outlines.KEYS)
def test_no_facet_of_a_brilliant_is_lost(key):
    """Every plane of the style comes out as a facet: the meets it was built from hold on every outline."""
    cut = make_cut(key, "brilliant")
    assert len(cut.faces) == len(cut.planes)


@pytest.mark.parametrize("key", ["oval", "pear", "marquise", "cushion", "triangle"])
def test_a_keel_keeps_one_angle_and_adds_weight(key):
    point, keel = make_cut(key, "brilliant"), make_cut(key, "brilliant", keel=True)
    curved = [f.plane.angle_deg for f in keel.faces if f.label == "pavilion main"]
    assert max(curved) == pytest.approx(42)
    assert sorted(curved)[len(curved) // 2] == pytest.approx(42)
    assert keel.volume > point.volume


def test_a_step_cut_rectangle_ends_in_a_keel_as_long_as_the_difference():
    """Equal angles on all sides are a hip roof: its ridge is length - width long. Closed form."""
    cut = make_cut("rectangle", "step", width=6, length_to_width=1.5)
    low = cut.vertices[cut.vertices[:, 2] < cut.vertices[:, 2].min() + 1e-9]
    assert np.ptp(low[:, 1]) == pytest.approx(3)
    assert np.ptp(low[:, 0]) == pytest.approx(0, abs=1e-9)


def test_a_hip_roof_has_its_closed_volume():
    """One tier each side: girdle slab + frustum-like crown + hip roof. Closed forms: wedge b h (2a + c) / 6."""
    width, length, table, girdle, crown, pavilion = 6.0, 9.0, 0.5, 0.04, 35.0, 43.0
    cut = make_cut(
        "rectangle", "step", width=width, length_to_width=length / width, tiers=1, table_percent=100 * table,
        girdle_percent=100 * girdle, crown_angle=crown, pavilion_angle=pavilion,
    )  # fmt: skip
    inset = (1 - table) * width / 2
    rise = inset * math.tan(math.radians(crown))
    deep = width / 2 * math.tan(math.radians(pavilion))
    a, b = length * width, (length - 2 * inset) * (width - 2 * inset)
    middle = (length - inset) * (width - inset)
    expected = (
        girdle * width * a
        + rise * (a + 4 * middle + b) / 6
        + width * deep * (2 * length + length - width) / 6
    )
    assert cut.volume == pytest.approx(expected, rel=1e-12)


def test_a_flat_culet_takes_off_a_small_pyramid():
    sharp, flat = make_cut("square", "step", tiers=1), make_cut("square", "step", tiers=1, culet_percent=10)
    height = sharp.pavilion_depth * 0.1
    assert sharp.volume - flat.volume == pytest.approx(0.1**2 * height / 3, rel=1e-9)
    assert flat.faces[-1].plane.side == "girdle"
    culet = next(face for face in flat.faces if face.label == "culet")
    assert np.ptp(culet.corners[:, 0]) == pytest.approx(0.1)


@given(st.sampled_from(outlines.KEYS), st.sampled_from(STYLES), st.floats(0.3, 60))
@settings(max_examples=40, deadline=None)
def test_volume_goes_with_the_cube_of_the_size(key, style, size):
    small = make_cut(key, style)
    large = make_cut(key, style, width=size)
    assert large.volume == pytest.approx(small.volume * size**3, rel=1e-9)
    assert large.surface == pytest.approx(small.surface * size**2, rel=1e-9)
    assert small.scaled(size).volume == pytest.approx(large.volume, rel=1e-9)


@given(st.floats(0.3, 3), st.floats(0.3, 3), st.floats(0.3, 3), st.sampled_from(["round", "pear", "square"]))
@settings(max_examples=30, deadline=None)
def test_a_stretched_solid_is_the_solid_of_its_stretched_planes(x, y, z, key):
    cut = make_cut(key)
    stretched = cut.stretched(x, y, z)
    again = solid_from_planes(stretched.planes)
    assert stretched.volume == pytest.approx(cut.volume * x * y * z, rel=1e-9)
    assert again.volume == pytest.approx(stretched.volume, rel=1e-8)
    assert again.areas == pytest.approx(stretched.areas, rel=1e-6, abs=1e-9)
    assert again.centroid == pytest.approx(stretched.centroid, abs=1e-8)
    assert stretched.fraction == pytest.approx(cut.fraction)


@given(st.floats(0, 360), st.integers(0, 3))
@settings(max_examples=20, deadline=None)
def test_turning_and_moving_a_solid_changes_nothing_but_its_place(turn, seed):
    solid = next(random_solids(seed, 1))
    normals, offsets = plane_arrays(solid.planes)
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    spin = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    shift = np.array([3.0, -2.0, 5.0])
    turned = normals @ spin.T
    moved = solid_from_planes(
        [plane_from(n, float(d + n @ shift), "f") for n, d in zip(turned, offsets, strict=True)]
    )
    assert moved.volume == pytest.approx(solid.volume, rel=1e-7)
    assert moved.centroid == pytest.approx(
        spin @ solid.centroid + shift, abs=1e-6 * (1 + np.abs(solid.vertices).max())
    )


@given(
    st.sampled_from(["round", "oval", "pear", "square", "cut_corner_rectangle", "triangle"]),
    st.floats(20, 45), st.floats(36, 50), st.floats(40, 70), st.floats(2.5, 8),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_a_thicker_girdle_and_a_smaller_table_never_lose_weight(key, crown, pavilion, table, girdle):
    said = {"crown_angle": crown, "pavilion_angle": pavilion, "table_percent": table}
    try:
        plain = make_cut(key, girdle_percent=girdle, **said)
    except (CrownMeetsPavilion, ImpossibleAngle):
        assume(False)
    assert make_cut(key, girdle_percent=girdle + 1, **said).volume > plain.volume
    assert make_cut(key, girdle_percent=girdle, **{**said, "table_percent": table - 3}).volume > plain.volume


# --- what is refused -----------------------------------------------------------------------------------------------


def box(*, without=()):
    sides = {
        "up": Plane(0, 0, 1, "crown", "up"),
        "down": Plane(0, 0, 1, "pavilion", "down"),
        **{f"{a}": Plane(90, a, 1, "girdle", str(a)) for a in (0, 90, 180, 270)},
    }
    return [plane for name, plane in sides.items() if name not in without]


def test_a_box_is_a_box():
    cube = solid_from_planes(box())
    assert (cube.volume, cube.surface) == pytest.approx((8, 24))
    assert cube.centroid == pytest.approx([0, 0, 0], abs=1e-12)
    assert len(cube.plan) == len(cube.side_outline) == len(cube.end_outline) == 4
    assert cube.weight_ct(4.0) == pytest.approx(8 * 4 / 200)


@pytest.mark.parametrize(
    ("missing", "direction"),
    [
        ("up", "above"),
        ("down", "below"),
        ("0", "azimuth 0"),
        ("90", "azimuth 90"),
        ("180", "azimuth 180"),
        ("270", "azimuth 270"),
    ],
)
def test_an_open_solid_says_which_side_is_open(missing, direction):
    with pytest.raises(OpenSolid, match=direction) as caught:
        solid_from_planes(box(without=(missing,)))
    assert len(caught.value.said["directions"]) == 1
    assert direction in caught.value.said["directions"][0]


def test_a_pavilion_without_a_crown_is_open_above():
    planes = [Plane(41, 45 * k, 3, "pavilion", f"main {k}") for k in range(8)]
    with pytest.raises(OpenSolid, match="above"):
        solid_from_planes(planes)
    with pytest.raises(OpenSolid, match="at least four"):
        solid_from_planes(planes[:3])


def test_walls_alone_are_open_at_both_ends():
    with pytest.raises(OpenSolid) as caught:
        solid_from_planes(box(without=("up", "down")))
    assert len(caught.value.said["directions"]) == 2


def test_a_plane_that_removes_everything_is_refused():
    with pytest.raises(EmptySolid, match="nothing"):
        solid_from_planes([*box(), Plane(30, 10, -5, "crown", "too deep")])
    with pytest.raises(EmptySolid):
        solid_from_planes([*box(), Plane(0, 0, -1, "crown", "just touching the bottom")])


def test_a_solid_that_does_not_hold_the_origin_is_found_all_the_same():
    planes = [*box(), Plane(0, 0, -0.5, "crown", "low table")]
    assert solid_from_planes(planes).volume == pytest.approx(2)


def test_planes_that_only_touch_have_no_face_and_change_nothing():
    corner = plane_from(np.array([1.0, 1.0, 1.0]), 3.0, "through a corner")
    edge = plane_from(np.array([1.0, 0.0, 1.0]), 2.0, "along an edge")
    far = plane_from(np.array([1.0, 0.0, 1.0]), 20.0, "far away")
    solid = solid_from_planes([*box(), corner, edge, far])
    assert solid.volume == pytest.approx(8)
    assert len(solid.faces) == 6
    assert len(solid.vertices) == 8


@pytest.mark.parametrize("angle", [-1, 90.5, 180, math.nan, math.inf])
def test_a_facet_at_an_impossible_angle_is_refused(angle):
    with pytest.raises(ImpossibleAngle):
        Plane(angle, 0, 1, "crown")
    with pytest.raises(ImpossibleAngle):
        make_cut("round", crown_angle=angle)
    with pytest.raises(ImpossibleAngle):
        make_cut("round", pavilion_angle=angle)


def test_a_girdle_wall_stands_upright():
    with pytest.raises(ImpossibleAngle, match="90"):
        Plane(80, 0, 1, "girdle")


def test_planes_with_nonsense_in_them_are_refused():
    with pytest.raises(OutOfRange, match="side"):
        Plane(10, 0, 1, "side")
    with pytest.raises(OutOfRange, match="distance"):
        Plane(10, 0, math.nan, "crown")
    with pytest.raises(OutOfRange, match="direction"):
        plane_from(np.zeros(3), 1.0, "none")


def test_a_crown_that_cuts_through_the_pavilion_is_refused():
    with pytest.raises(CrownMeetsPavilion, match="girdle"):
        make_cut("round", "brilliant", girdle_percent=0.5)  # the scallops alone are 1.7 %
    with pytest.raises(CrownMeetsPavilion):
        make_cut("oval", "brilliant", crown_angle=60, pavilion_angle=70, girdle_percent=3)


@pytest.mark.parametrize(
    "changes",
    [
        {"table_percent": 0},
        {"table_percent": 100},
        {"table_percent": math.nan},
        {"girdle_percent": -1},
        {"girdle_percent": 0},
        {"culet_percent": 60},
        {"star_percent": 0},
        {"break_percent": 120},
        {"tiers": 0},
        {"girdle_facets": 0},
    ],
)
def test_proportions_that_cannot_be_are_refused(changes):
    with pytest.raises(OutOfRange, match=next(iter(changes)).split("_")[0]):
        make_cut("round", **changes)


def test_too_steep_a_run_of_tiers_is_refused():
    with pytest.raises(ImpossibleAngle, match="tiers"):
        make_cut("rectangle", "step", pavilion_angle=70, tiers=4, tier_spread=10)
    with pytest.raises(ImpossibleAngle):
        make_cut("rectangle", "step", crown_angle=8, tiers=5, tier_spread=5)


def test_names_that_do_not_fit_are_refused():
    with pytest.raises(UnknownStyle, match="brilliant"):
        make_cut("round", "wild")
    with pytest.raises(outlines.UnknownOutline):
        make_cut("blob")
    with pytest.raises(OutOfRange):
        make_cut("oval", width=0)
    with pytest.raises(OutOfRange):
        make_cut("oval", length_to_width=20)
    with pytest.raises(OutOfRange, match="keel"):
        make_cut("square", "brilliant", keel=True)
    with pytest.raises(OutOfRange):
        make_cut("round").weight_ct(0)
    with pytest.raises(OutOfRange):
        make_cut("round").stretched(1, 0, 1)


@given(
    st.sampled_from(outlines.KEYS),
    st.sampled_from(STYLES),
    st.floats(5, 85), st.floats(5, 85), st.floats(5, 95), st.floats(0.1, 50), st.floats(0.2, 6),
)  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_any_proportions_give_a_sound_stone_or_a_named_refusal(
    key, style, crown, pavilion, table, girdle, ratio
):
    ratio = 1.0 if key in ("round", "square") else ratio
    try:
        cut = make_cut(
            key, style, length_to_width=ratio, crown_angle=crown, pavilion_angle=pavilion, table_percent=table,
            girdle_percent=girdle,
        )  # fmt: skip
    except (CrownMeetsPavilion, ImpossibleAngle, OutOfRange):
        return
    assert isinstance(cut, Solid)
    assert (cut.width, cut.length) == pytest.approx((1.0, ratio), rel=1e-6)
    assert 0 < cut.fraction < 1
    assert cut.volume == pytest.approx(ConvexHull(cut.vertices).volume, rel=1e-7)
    assert cut.girdle_thickness[0] > 0


def test_the_usual_style_is_one_of_the_styles():
    assert {usual_style(key) for key in outlines.KEYS} <= set(STYLES)
    assert Proportions().pavilion_angle == 42
