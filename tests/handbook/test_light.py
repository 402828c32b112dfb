"""The ray trace against closed forms, against a second tracer written another way, and against its own accounts."""

import math

import numpy as np
import pytest

from tests.handbook.planes import cube, mains_only, round_brilliant
from workshop.handbook import light, optics, outlines, solids
from workshop.handbook.errors import EmptySolid, HandbookError, OpenSolid, OutOfRange

HARDING = "B. Harding, Faceting Limits, G&G 1975, http://www.cutstudy.com/cut/english/faceting/f8.htm"


def random_stone(rng, facets=20):
    """Facets touching a random ellipsoid from outside: always closed, never regular."""
    normals = rng.normal(size=(facets, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    normals = np.vstack([normals, np.eye(3), -np.eye(3)])
    axes = rng.uniform(1, 3, size=3)
    return normals, np.linalg.norm(normals * axes, axis=1)


@pytest.mark.parametrize(
    ("index", "pavilion"),
    [
        (1.544, 41),
        (1.544, 42),
        (1.544, 43),
        (1.544, 45.5),  # the second facet leaks first, as in the next two
        (1.544, 46),
        (1.762, 46.5),
        (1.577, 42),
        (1.62, 42),
        (1.718, 41),
        (1.762, 40),
        (1.93, 41),
        (2.16, 41),
        (2.417, 40.75),
    ],
)
def test_first_window_equals_the_closed_form(index, pavilion):
    """To 0.01 degree, toward a main, on a stone of mains only; closed form from HARDING's two window limits."""
    tilt = light.first_window_tilt_deg(*mains_only(pavilion), index)
    assert tilt == pytest.approx(optics.window_tilt_deg(index, pavilion), abs=0.01)


@pytest.mark.parametrize(
    ("row", "index", "mains", "tilt"), [("O61", 1.544, 43, 4.0688), ("-", 1.762, 42, 13.1552)]
)
def test_row_o61_first_window_of_a_57_facet_round(row, index, mains, tilt):
    """O61: tilted toward a main, with breaks, stars, crown and girdle in the way."""
    assert light.first_window_tilt_deg(*round_brilliant(mains), index) == pytest.approx(tilt, abs=0.002)


def test_first_window_tilt_knows_face_up_and_never():
    assert light.first_window_tilt_deg(*mains_only(39), 1.544) == 0
    assert optics.window_tilt_deg(2.65, 45) is None
    assert light.first_window_tilt_deg(*mains_only(45), 2.65) is None


@pytest.mark.parametrize(("tilt", "percent"), [(10, 45), (20, 67)])
def test_the_window_of_a_quartz_round_grows_with_tilt(tilt, percent):
    """Derived by an earlier, separate code (numpy, Snell and reflection only): quartz, mains at 43, share of the table.

    How the breaks of that stone stood is not stated, so 5 points are allowed; its figures nearer the onset (8 % at 4.5
    degrees, 25 % at 6) hang on the length of the breaks and are not checked.
    """
    normals, offsets = round_brilliant(43)
    result = light.trace(normals, offsets, 1.544, tilt_deg=tilt, grid=160)
    on_table = points_on_table(normals, offsets, tilt, 160, result.width_mm)
    seen_through = (result.window_map[on_table] > 0.05).mean() * 100
    assert seen_through == pytest.approx(percent, abs=5)


def points_on_table(normals, offsets, tilt, grid, width):
    """Which picture points see the table: project the table's octagon as a plane patch, seen at the same tilt."""
    t = math.radians(tilt)
    top = int(normals[:, 2].argmax())
    height = offsets[top]
    to_eye, right, up = (0, math.sin(t), math.cos(t)), (1, 0, 0), (0, math.cos(t), -math.sin(t))
    stone = light._stone(normals, offsets, 1.5)
    starts, _ = light._picture_points(stone, *map(np.array, (to_eye, right, up)), grid)
    landed = starts - ((starts[:, 2] - height) / to_eye[2])[:, None] * np.array(to_eye)
    others = np.delete(np.arange(len(offsets)), top)
    return (landed @ normals[others].T < offsets[others]).all(axis=1).reshape(grid, grid)


def test_a_cube_face_up_is_a_glass_plate():
    """Two parallel faces, light straight down: R back at the surface, (1-R)/(1+R) through, the rest back to the eye
    (summed reflections of a plate, any textbook of optics)."""
    result = light.trace(*cube(), 1.544, grid=20, max_bounces=60)
    r = optics.normal_reflectance(1.544)
    assert result.glare == pytest.approx(r, abs=1e-12)
    assert result.window == pytest.approx((1 - r) ** 2, abs=1e-12)
    assert result.leaked == pytest.approx((1 - r) / (1 + r), abs=light.FAINTEST_SHARE)
    assert result.dark == pytest.approx((1 - r) * r / (1 + r), abs=light.FAINTEST_SHARE)
    assert result.returned == 0
    assert result.inside.all()


def test_an_absorbing_plate_follows_beer_and_lambert():
    """One pass of 1 mm takes 1 - exp(-a); what leaves at the far face is (1-R)^2 exp(-a)."""
    result = light.trace(*cube(1.0), 1.544, grid=10, absorption_per_mm=0.7)
    r = optics.normal_reflectance(1.544)
    assert result.window == pytest.approx((1 - r) ** 2 * math.exp(-0.7), abs=1e-12)
    assert result.absorbed > (1 - r) * (1 - math.exp(-0.7))
    assert result.total == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_no_energy_is_lost_or_made(seed):
    rng = np.random.default_rng(seed)
    normals, offsets = random_stone(rng)
    result = light.trace(
        normals,
        offsets,
        rng.uniform(1.3, 3.5),
        grid=40,
        tilt_deg=rng.uniform(0, 60),
        tilt_azimuth_deg=rng.uniform(0, 360),
        head_half_angle_deg=rng.uniform(0, 30),
        max_bounces=int(rng.integers(1, 40)),
        absorption_per_mm=rng.choice([0, 0.2]),
    )
    assert result.total == pytest.approx(1, abs=1e-9)
    parts = [getattr(result, k) for k in ("returned", "leaked", "dark", "glare", "absorbed", "unresolved")]
    assert min(parts) >= 0
    assert 0 <= result.window <= result.leaked


def one_ray(normals, offsets, n, start, to_eye, bounces, head_cosine):
    """A second tracer: one ray, plain loops, distances by division, Fresnel in the angle form (sine and tangent law)."""
    d = [-c for c in to_eye]
    dot = lambda a, b: sum(x * y for x, y in zip(a, b, strict=True))  # noqa: E731
    entering, leaving, face = -math.inf, math.inf, None
    for k, (m, o) in enumerate(zip(normals, offsets, strict=True)):
        speed = dot(m, d)
        if speed < 0:
            t = (o - dot(m, start)) / speed
            if t > entering:
                entering, face = t, k
        elif speed > 0:
            leaving = min(leaving, (o - dot(m, start)) / speed)
    if entering >= leaving:
        return None
    booked = {"returned": 0.0, "leaked": 0.0, "dark": 0.0}
    p = [a + entering * b for a, b in zip(start, d, strict=True)]
    kept, d, _ = split_at(d, [-c for c in normals[face]], 1.0, n)
    weight = 1 - kept
    for _ in range(bounces):
        best, face = math.inf, None
        for k, (m, o) in enumerate(zip(normals, offsets, strict=True)):
            speed = dot(m, d)
            if speed > 1e-12 and (t := (o - dot(m, p)) / speed) < best:
                best, face = t, k
        p = [a + best * b for a, b in zip(p, d, strict=True)]
        m = normals[face]
        kept, out, mirrored = split_at(d, m, n, 1.0)
        if out is not None:
            up = m[2] > 1e-9 and out[2] > 0
            where = ("dark" if dot(out, to_eye) >= head_cosine else "returned") if up else "leaked"
            booked[where] += weight * (1 - kept)
        weight, d = weight * kept, mirrored
        if weight < 1e-4:
            break
    return booked


def split_at(d, m, near, far):
    """Share reflected, direction let through (None if none), direction mirrored; ``m`` points the way the ray goes."""
    cos = sum(x * y for x, y in zip(d, m, strict=True))
    mirrored = [x - 2 * cos * y for x, y in zip(d, m, strict=True)]
    i = math.acos(min(1.0, cos))
    sine = near / far * math.sin(i)
    if sine >= 1:
        return 1.0, None, mirrored
    t = math.asin(sine)
    if i < 1e-9:
        share = ((near - far) / (near + far)) ** 2
        return share, list(d), mirrored
    share = ((math.sin(i - t) / math.sin(i + t)) ** 2 + (math.tan(i - t) / math.tan(i + t)) ** 2) / 2
    along = [(x - cos * y) / math.sin(i) for x, y in zip(d, m, strict=True)]
    return share, [math.sin(t) * a + math.cos(t) * b for a, b in zip(along, m, strict=True)], mirrored


@pytest.mark.parametrize(
    ("seed", "index", "tilt"), [(1, 1.544, 0), (2, 1.762, 12), (3, 2.417, 25), (4, 1.45, 5)]
)
def test_every_point_agrees_with_a_tracer_written_another_way(seed, index, tilt):
    rng = np.random.default_rng(seed)
    normals, offsets = round_brilliant(41.5) if seed < 3 else random_stone(rng)
    azimuth, grid = rng.uniform(0, 360), 12
    result = light.trace(
        normals, offsets, index, grid=grid, tilt_deg=tilt, tilt_azimuth_deg=azimuth, max_bounces=30
    )
    stone = light._stone(normals, offsets, index)
    to_eye, right, up = light._view(tilt, azimuth)
    starts, _ = light._picture_points(stone, to_eye, right, up, grid)
    compared = 0
    for point, start in enumerate(starts):
        told = one_ray(
            normals.tolist(),
            offsets.tolist(),
            index,
            start.tolist(),
            to_eye.tolist(),
            30,
            math.cos(math.radians(10)),
        )
        row, column = divmod(point, grid)
        assert result.inside[row, column] == (told is not None)
        if told is not None:
            compared += 1
            assert result.returned_map[row, column] == pytest.approx(told["returned"], abs=1e-6)
            assert result.leaked_map[row, column] == pytest.approx(told["leaked"], abs=1e-6)
            assert result.dark_map[row, column] == pytest.approx(told["dark"], abs=1e-6)
    assert compared > 60


def test_turning_the_stone_turns_the_picture():
    """A quarter turn from x to y turns the picture a quarter against the clock; the shares stay."""
    normals, offsets = random_stone(np.random.default_rng(5))
    turned = normals @ np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    before = light.trace(normals, offsets, 1.62, grid=60)
    after = light.trace(turned, offsets, 1.62, grid=60)
    assert np.allclose(np.rot90(before.returned_map), after.returned_map, atol=1e-9)
    assert after.returned == pytest.approx(before.returned)


def test_leaning_over_shows_the_near_side():
    """A cube of side 1 seen from 30 degrees toward azimuth 0 (+y) is cos 30 + sin 30 high; toward 90 (+x) as wide."""
    tall, wide = (light.trace(*cube(), 1.544, grid=200, tilt_deg=30, tilt_azimuth_deg=a) for a in (0, 90))
    seen = math.cos(math.pi / 6) + math.sin(math.pi / 6)
    assert tall.width_mm == wide.width_mm == pytest.approx(seen)
    assert tall.inside.any(axis=1).all()
    assert tall.inside.any(axis=0).mean() == pytest.approx(1 / seen, abs=0.01)
    assert wide.inside.any(axis=0).all()
    assert wide.inside.any(axis=1).mean() == pytest.approx(1 / seen, abs=0.01)


def test_scale_changes_nothing():
    normals, offsets = round_brilliant(42)
    small, large = (light.trace(normals, offsets * k, 1.62, grid=50) for k in (0.01, 300))
    assert large.returned == pytest.approx(small.returned)
    assert large.width_mm == pytest.approx(small.width_mm * 30000)


def test_a_shallow_pavilion_is_a_window_and_a_good_one_is_not():
    """Quartz, critical angle 40.37: mains at 38 leak nearly the whole table at the first facet, mains at 42 nothing."""
    shallow, good = (light.trace(*round_brilliant(p), 1.544, grid=80) for p in (38, 42))
    assert shallow.window > 0.15
    assert good.window < 0.005
    assert good.leaked < shallow.leaked
    assert good.returned + good.dark > shallow.returned + shallow.dark


def test_the_head_takes_what_it_covers():
    normals, offsets = round_brilliant(41)
    none, some, all_ = (
        light.trace(normals, offsets, 1.762, grid=60, head_half_angle_deg=angle) for angle in (0, 10, 90)
    )
    assert none.dark == pytest.approx(0, abs=0.01)
    assert none.dark < some.dark < all_.dark
    assert all_.returned == pytest.approx(0, abs=1e-9)
    assert none.returned + none.dark == pytest.approx(some.returned + some.dark)


def test_the_picture_is_grey_levels_of_what_returns():
    result = light.trace(*round_brilliant(41), 1.762, grid=64)
    picture = result.face_up
    assert picture.shape == (64, 64)
    assert picture.dtype == np.uint8
    assert (picture[~result.inside] == 0).all()
    assert picture[result.inside].mean() == pytest.approx(result.returned * 255, abs=0.5)
    assert result.inside.mean() == pytest.approx(math.pi / 4, abs=0.02)


def test_zones_name_what_each_point_mostly_does():
    """Quartz with mains at 38 under a 56 % table: the window is the table, an octagon of circumradius .28 in a circle of
    radius .5: 2 sqrt 2 x .28^2 / (pi/4) = .2823 of the face; the corner of the picture is off the stone."""
    result = light.trace(*round_brilliant(38), 1.544, grid=80)
    zones = result.zones
    assert light.ZONES[zones[40, 40]] == "window"
    assert light.ZONES[zones[0, 0]] == "outside"
    assert ((zones > 0) == result.inside).all()
    share = (zones[result.inside] == light.ZONES.index("window")).mean()
    assert share == pytest.approx(0.2823, abs=0.005)


@pytest.mark.parametrize("key", outlines.KEYS[:12])
def test_every_outline_of_the_handbook_can_be_traced(key):
    stone = solids.make_cut(key)
    result = light.trace(stone.normals, stone.offsets, 1.62, grid=40)
    assert result.total == pytest.approx(1, abs=1e-9)
    assert result.width_mm == pytest.approx(max(stone.length, stone.width))
    assert result.unresolved < 0.02


@pytest.mark.parametrize(("index", "pavilion"), [(1.544, 43), (1.62, 42), (1.762, 42), (2.417, 40.75)])
def test_first_window_of_the_handbook_s_own_round(index, pavilion):
    """The same closed form on the solid that ``solids`` builds from proportions, girdle of many flats and all."""
    stone = solids.make_cut("round", pavilion_angle=pavilion)
    tilt = light.first_window_tilt_deg(stone.normals, stone.offsets, index)
    assert tilt == pytest.approx(optics.window_tilt_deg(index, pavilion), abs=0.01)


def test_more_bounces_leave_less_unresolved():
    few, many = (light.trace(*round_brilliant(41), 2.417, grid=50, max_bounces=k) for k in (3, 40))
    assert few.unresolved > many.unresolved
    assert many.unresolved < 0.01


@pytest.mark.parametrize(
    "said",
    [
        {"grid": 1},
        {"grid": 5000},
        {"tilt_deg": -1},
        {"tilt_deg": 90},
        {"head_half_angle_deg": 91},
        {"max_bounces": 0},
        {"absorption_per_mm": -1},
        {"absorption_per_mm": math.nan},
        {"refractive_index": 1.2},
        {"refractive_index": 3.6},
        {"offsets": [1, 2]},
        {"offsets": [math.nan] * 6},
        {"normals": np.zeros((6, 3))},
    ],
)
def test_what_cannot_be_traced_is_refused(said):
    normals, offsets = cube()
    given = {"normals": normals, "offsets": offsets, "refractive_index": 1.5} | said
    with pytest.raises(OutOfRange):
        light.trace(**given)


def test_planes_that_make_no_stone_are_refused():
    normals, offsets = cube()
    with pytest.raises(OpenSolid):
        light.trace(normals[:5], offsets[:5], 1.5)
    with pytest.raises(OpenSolid):
        light.trace(normals[[0, 1, 3, 4]], offsets[:4], 1.5)
    with pytest.raises(EmptySolid):
        light.trace(normals, -offsets, 1.5)


def test_a_stone_without_a_table_has_no_window_tilt():
    normals, offsets = cube()
    turned = normals @ np.linalg.qr(np.random.default_rng(0).normal(size=(3, 3)))[0]
    with pytest.raises(HandbookError, match="no table"):
        light.first_window_tilt_deg(turned, offsets, 1.5)
    pointed = np.vstack([normals[[0, 1, 3, 4, 5]], [[1, 0, 1], [-1, 0, 1]], [[0, 0, 1]]])
    with pytest.raises(HandbookError, match="no table"):
        light.first_window_tilt_deg(pointed, [1, 1, 1, 1, 1, 1, 1, 1.5], 1.5)
