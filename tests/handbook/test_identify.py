"""Identification against every species of the table with simulated instruments, and against what it must not claim."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workshop.handbook import tables
from workshop.handbook.errors import OutOfRange
from workshop.handbook.identify import (
    REFRACTOMETER_LIMIT,
    Reading,
    Readings,
    identify,
)

RI_WITHIN = 0.003
"""A standard refractometer read to the nearest .001 and good to .003 (common practice, no source)."""


def stone_of(material, rng):
    """A made-up stone of a species: its two indices, SG and optic character, anywhere in the published ranges."""
    low, high = float(material.ri_low), float(material.ri_high)
    greatest = float(material.birefringence_max or 0)
    split = min(rng.uniform(0.5, 1) * greatest, high - low)
    lower = rng.uniform(low, high - split)
    return lower, lower + split, rng.uniform(float(material.sg_low), float(material.sg_high))


def read(true, within, rng):
    return Reading(true + rng.normal() * within / 2, within)


def readings_of(material, rng, *, sg_within=0.03):
    """What a bench with a refractometer, a polariscope and a balance says of such a stone."""
    lower, upper, sg = stone_of(material, rng)
    said = {"sg": read(sg, sg_within, rng), "optic_character": material.optic_character.removesuffix("/-")}
    if lower > REFRACTOMETER_LIMIT:
        said["over_limit"] = True
    elif upper > REFRACTOMETER_LIMIT:
        said |= {"ri_low": read(lower, RI_WITHIN, rng), "over_limit": True}
    elif material.optic_character in ("isotropic", "aggregate"):
        said["ri"] = read((lower + upper) / 2, RI_WITHIN, rng)
    else:
        said |= {"ri_low": read(lower, RI_WITHIN, rng), "ri_high": read(upper, RI_WITHIN, rng)}
        if said["ri_high"].value < said["ri_low"].value:
            said["ri_low"], said["ri_high"] = said["ri_high"], said["ri_low"]
    return Readings(**said)


@pytest.mark.parametrize("material", tables.materials(), ids=lambda m: m.key)
def test_every_species_is_found_from_simulated_readings(material):
    """30 simulated stones of each row: the true row must be among what agrees in all but the rare bad reading."""
    rng = np.random.default_rng(abs(hash_of(material.key)))
    found = 0
    for _ in range(30):
        result = identify(readings_of(material, rng))
        found += any(material.key == variety.key for c in result.candidates for variety in c.varieties)
    assert found >= 28


def hash_of(text):
    """A seed that does not change from run to run, as Python's own hash does."""
    return sum(ord(letter) * 31**place for place, letter in enumerate(text)) % 2**32


def test_readings_narrow_the_table_and_put_the_truth_near_the_top():
    """Over the whole table: on average few species are left, and the true one is first more often than not."""
    rng = np.random.default_rng(3)
    left, first, tried = 0, 0, 0
    for material in tables.materials():
        for _ in range(4):
            result = identify(readings_of(material, rng))
            left += len(result.candidates)
            first += bool(result.candidates) and result.candidates[0].species == material.species
            tried += 1
    assert left / tried < 4
    assert first / tried > 0.7


def names(result):
    return {candidate.species for candidate in result.candidates}


def test_a_ruby_and_its_laboratory_twin_are_not_told_apart():
    """RI 1.762-1.770, SG 4.00, uniaxial negative: corundum, and every variety of it with these figures."""
    result = identify(
        Readings(
            ri_low=Reading(1.762, 0.002),
            ri_high=Reading(1.770, 0.002),
            sg=Reading(4.00, 0.02),
            optic_character="uniaxial-",
        )
    )
    assert names(result) == {"corundum"}
    found = {variety.variety for variety in result.candidates[0].varieties}
    assert {"ruby", "sapphire, blue", "synthetic corundum"} <= found
    assert "no proof" in result.statement


def test_a_red_stone_of_one_index_can_be_spinel_or_garnet():
    """1.718 +- .003 alone: spinel and pyrope, among others; the SG then parts them."""
    bare = identify(Readings(ri=Reading(1.718, 0.003), optic_character="isotropic"))
    assert {"spinel", "garnet"} <= names(bare)
    weighed = identify(
        Readings(ri=Reading(1.718, 0.003), sg=Reading(3.60, 0.02), optic_character="isotropic")
    )
    assert weighed.candidates[0].species == "spinel"


def test_over_the_limit_leaves_only_high_indices():
    result = identify(Readings(over_limit=True, sg=Reading(3.52, 0.02), optic_character="isotropic"))
    assert result.candidates[0].species == "diamond"
    assert names(result) == {
        "diamond",
        "glass",
    }  # heavy glass spans SG 2.9-6.3 and an index to 1.93: it stays possible
    result = identify(Readings(over_limit=True, sg=Reading(5.80, 0.05)))
    assert "cubic zirconia" in names(result)
    assert "quartz" not in names(result)


def test_lower_edge_read_and_upper_over_the_limit():
    """Rhodochrosite, 1.597-1.817: the lower edge is on the scale, the upper may lie beyond."""
    result = identify(Readings(ri_low=Reading(1.600, 0.003), over_limit=True, sg=Reading(3.70, 0.03)))
    assert names(result) == {"rhodochrosite"}


def test_the_next_reading_is_the_one_that_parts_what_is_left():
    """Two made-up rows alike in everything but SG, 2.6-2.7 and 3.9-4.1; with the same SG nothing is left to read."""
    same = {
        "ri_low": 1.6,
        "ri_high": 1.61,
        "birefringence_max": 0.01,
        "optic_character": "uniaxial+",
        "variety": "",
    }
    light = SimpleNamespace(key="a", species="a", sg_low=2.6, sg_high=2.7, **same)
    heavy = SimpleNamespace(key="b", species="b", sg_low=3.9, sg_high=4.1, **same)
    twin = SimpleNamespace(key="c", species="c", sg_low=2.6, sg_high=2.7, **same)
    read_ = Readings(ri=Reading(1.605, 0.003))
    assert identify(read_, [light, heavy]).next_reading == "specific gravity"
    assert identify(read_, [light, twin]).next_reading is None


def test_a_strained_garnet_is_not_thrown_out_but_counts_for_less():
    plain = identify(Readings(ri=Reading(1.745, 0.003), sg=Reading(3.62, 0.02), optic_character="isotropic"))
    strained = identify(
        Readings(ri=Reading(1.745, 0.003), sg=Reading(3.62, 0.02), optic_character="anisotropic")
    )
    assert "garnet" in names(plain)
    (garnet,) = [c for c in strained.candidates if c.species == "garnet"]
    assert any("strain" in note for note in garnet.notes)


def test_none_is_an_answer_and_names_the_reading_in_the_way():
    """RI of quartz with the SG of corundum: nothing agrees; quartz but for its SG."""
    result = identify(
        Readings(ri_low=Reading(1.544, 0.002), ri_high=Reading(1.553, 0.002), sg=Reading(4.00, 0.02))
    )
    assert result.candidates == ()
    assert "No species" in result.statement
    assert {miss.reading for miss in result.near_misses if miss.species == "quartz"} == {"specific gravity"}
    assert all(miss.off is None or miss.off > 3 for miss in result.near_misses)


def test_nothing_near_is_said_plainly():
    result = identify(Readings(ri=Reading(1.32, 0.001), sg=Reading(20, 0.1)))
    assert result.candidates == ()
    assert result.near_misses == ()
    assert "not in the table" in result.statement


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"ri_low": Reading(1.77, 0.002), "ri_high": Reading(1.76, 0.002)}, "lies above the higher"),
        (
            {
                "ri_low": Reading(1.54, 0.002),
                "ri_high": Reading(1.55, 0.002),
                "birefringence": Reading(0.04, 0.002),
            },
            "apart",
        ),
        ({"ri": Reading(1.6, 0.002), "over_limit": True}, "at once"),
        ({"ri_high": Reading(1.6, 0.002), "over_limit": True}, "at once"),
        ({"optic_character": "isotropic", "birefringence": Reading(0.02, 0.002)}, "no birefringence"),
        (
            {"optic_character": "isotropic", "ri_low": Reading(1.62, 0.002), "ri_high": Reading(1.64, 0.002)},
            "no birefringence",
        ),
        (
            {"ri": Reading(1.70, 0.002), "ri_low": Reading(1.54, 0.002), "ri_high": Reading(1.55, 0.002)},
            "outside the two",
        ),
    ],
)
def test_readings_that_contradict_each_other_are_said_to(said, says):
    result = identify(Readings(**said))
    assert result.candidates == ()
    assert any(says in found for found in result.contradictions)
    assert "contradict" in result.statement


@given(
    st.sampled_from(tables.materials()),
    st.integers(0, 10_000),
    st.floats(1, 10),
)
@settings(max_examples=60, deadline=None)
def test_vaguer_readings_never_say_more(material, seed, factor):
    """Widening every uncertainty keeps all that agreed: certainty can only fall."""
    sharp = readings_of(material, np.random.default_rng(seed))
    widened = {
        name: Reading(value.value, value.within * factor) if isinstance(value, Reading) else value
        for name, value in vars(sharp).items()
    }
    before, after = identify(sharp), identify(Readings(**widened))
    keys = lambda result: {v.key for c in result.candidates for v in c.varieties}  # noqa: E731
    assert keys(before) <= keys(after)


@given(st.sampled_from(tables.materials()), st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_fewer_readings_never_say_more(material, seed):
    full = readings_of(material, np.random.default_rng(seed))
    keys = lambda result: {v.key for c in result.candidates for v in c.varieties}  # noqa: E731
    all_ = keys(identify(full))
    for name in ("sg", "optic_character"):
        left_out = Readings(**{**vars(full), name: None})
        assert all_ <= keys(identify(left_out))


def test_the_best_counts_one_and_the_rest_less():
    result = identify(Readings(sg=Reading(3.3, 0.05)))
    relatives = [candidate.relative for candidate in result.candidates]
    assert relatives[0] == 1
    assert relatives == sorted(relatives, reverse=True)
    assert len(relatives) > 5


def test_likelihood_by_hand():
    """SG 3.52 +- .02 (s = .01) on diamond, 3.50-3.53: (F(2) - F(-1))/.03 = (.97725 - .15866)/.03 = 27.286; on topaz
    colourless, 3.49-3.57: (F(3) - F(-5))/.08 = .99865/.08 = 12.483; ratio .4575."""
    chosen = [
        m
        for m in tables.materials()
        if m.key in ("diamond-natural-or-synthetic",) or m.species in ("diamond", "topaz")
    ]
    result = identify(Readings(sg=Reading(3.52, 0.02)), chosen)
    by_name = {c.species: c.relative for c in result.candidates}
    assert by_name["diamond"] == 1
    assert by_name["topaz"] == pytest.approx(0.4575, abs=0.0005)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Readings(),
        lambda: Readings(ri=Reading(1.1, 0.01)),
        lambda: Readings(ri_low=Reading(4, 0.01)),
        lambda: Readings(birefringence=Reading(-0.1, 0.01)),
        lambda: Readings(sg=Reading(40, 0.1)),
        lambda: Readings(optic_character="shiny"),
        lambda: Reading(1.5, 0),
        lambda: Reading(math.nan, 0.1),
    ],
)
def test_impossible_readings_are_refused(make):
    with pytest.raises(OutOfRange):
        make()
