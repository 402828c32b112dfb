"""The tables: every row has a source, every key is one, every cell says something that can be read."""

import re
from decimal import Decimal
from itertools import chain

import pytest

from workshop.handbook.errors import OutOfRange
from workshop.handbook.tables import (
    HERE,
    NOT_ADVICE,
    care,
    care_advice,
    care_for,
    cautions,
    cautions_for,
    material,
    materials,
    rows,
    treatment,
    treatments,
)

ADDRESS = re.compile(r"https?://[^\s>]+")
MEMORY = re.compile(r"from memory|common practice, no source|derived|own wording|ISO 4217")
TABLES = sorted(path.stem for path in HERE.glob("*.tsv"))
MINE = [
    "care", "cautions", "currencies", "diamond_girdles", "materials", "materials_checks", "treatments", "weight_constants",
]  # fmt: skip


@pytest.mark.parametrize("name", MINE)
def test_every_row_has_a_source_that_is_an_address_or_says_it_is_none(name):
    assert name in TABLES
    for row in rows(name):
        source = row["source"]
        cell_record = name == "materials_checks" and re.search(r"\(\d{4}\)|from memory", source)
        assert ADDRESS.search(source) or MEMORY.search(source) or cell_record, row


@pytest.mark.parametrize("name", TABLES)
def test_no_table_has_a_row_without_a_source(name):
    assert all(row["source"] for row in rows(name))


@pytest.mark.parametrize("name", TABLES)
def test_every_row_is_whole(name):
    header = set(rows(name)[0])
    assert None not in header
    for row in rows(name):
        assert set(row) == header
        assert all(cell is not None and cell == cell.strip() for cell in row.values()), row


@pytest.mark.parametrize("listed", [materials(), treatments(), care(), cautions()])
def test_keys_are_slugs_and_used_once(listed):
    keys = [one.key for one in listed]
    assert len(set(keys)) == len(keys)
    assert all(re.fullmatch(r"[a-z0-9_]+(-[a-z0-9_]+)*", key) for key in keys)


def test_names_are_used_once_and_say_when_a_stone_is_grown():
    names = [one.name for one in materials()]
    assert len(set(names)) == len(names)
    for one in materials():
        if one.variety.startswith("synthetic"):
            assert one.name.startswith("synthetic")


def test_what_is_made_by_people_is_told_apart():
    made = {one.key for one in materials() if one.is_man_made}
    assert {
        "corundum-synthetic-corundum",
        "cubic-zirconia-man-made",
        "glass-lead-or-heavy-flint",
        "rutile-synthetic",
    } < made
    assert not made & {
        "diamond-natural-or-synthetic",
        "natural-glass-obsidian",
        "spinel-natural",
        "turquoise-natural-or-stabilised",
    }
    assert len(made) == 12


def test_figures_of_materials_are_possible_and_in_order():
    for one in materials():
        assert Decimal("1.3") < one.ri_low <= one.ri_high < Decimal("3"), one.key
        assert 1 < one.sg_low <= one.sg_typical <= one.sg_high < 8, one.key
        assert 1 <= one.mohs_low <= one.mohs_high <= 10, one.key
        if one.birefringence_max is not None:
            assert one.birefringence_max <= one.ri_high - one.ri_low or one.optic_character == "isotropic", (
                one.key
            )
            assert (one.birefringence_max == 0) == (one.optic_character == "isotropic"), one.key
        assert one.optic_character in {
            "isotropic", "uniaxial+", "uniaxial-", "uniaxial+/-", "biaxial+", "biaxial-", "biaxial+/-", "aggregate",
        }  # fmt: skip


def test_isotropic_means_cubic_or_amorphous():
    """Crystal optics: only cubic crystals and glasses are singly refractive."""
    for one in materials():
        singly = one.crystal_system.split()[0] in {"cubic", "amorphous"}
        assert singly == (one.optic_character == "isotropic") or one.optic_character == "aggregate", one.key


def test_uniaxial_and_biaxial_follow_the_crystal_system():
    for one in materials():
        system = one.crystal_system.split()[0]
        if one.optic_character.startswith("uniaxial"):
            assert system in {"trigonal", "hexagonal", "tetragonal"}, one.key
        if one.optic_character.startswith("biaxial"):
            assert system in {"orthorhombic", "monoclinic", "triclinic"}, one.key


def test_words_of_care_in_the_material_table_start_with_a_mark():
    for one in materials():
        assert {one.hot_wax_dop_ok, one.ultrasonic_ok, one.steam_ok} <= {"yes", "caution", "no"}, one.key
        for cell in (one.heat_sensitive, one.acid_sensitive, one.light_sensitive):
            assert re.match(r"(yes|moderate|slight|no)\b", cell), (one.key, cell)


def test_what_is_from_memory_stays_marked():
    assert all("from memory" in one.from_memory for one in materials())
    assert "sg_low from memory" in material("beryl-morganite").from_memory
    assert treatment("heat").from_memory
    assert not treatment("irr").from_memory
    assert all("memory" not in one.source or one.from_memory for one in cautions())


def test_unknown_keys_are_refused():
    with pytest.raises(OutOfRange):
        material("corundum")
    with pytest.raises(OutOfRange):
        treatment("polished")
    with pytest.raises(OutOfRange):
        care_for(material("corundum-ruby"), ["polished"])


def test_every_name_in_care_and_cautions_is_a_material_or_a_treatment():
    known = set(chain.from_iterable((one.key, one.species, one.name) for one in materials()))
    for row in (*care(), *cautions()):
        assert set(row.materials) <= known, row.key
        assert {treatment(key).key for key in row.treatments} == set(row.treatments)


def test_usual_stones_of_a_treatment_are_in_the_table_or_no_cutters_stone():
    known = " / ".join(f"{one.name} / {one.species}" for one in materials())
    for one in treatments():
        for name in one.usual_for:
            assert re.search(rf"\b{name}\b", known) or name in {"pearl", "coral"}, (one.key, name)


def test_care_marks_and_words():
    for row in care():
        assert {row.ultrasonic, row.steam} <= {"ok", "risk", "no"}, row.key
        assert row.materials or row.treatments, row.key


def test_treatment_classes_and_letters():
    for one in treatments():
        assert one.stable in {"", "yes", "no", "partly", "depends"}, one.key
        assert all(re.fullmatch(r"[abc]\??|23\.25\([bd]\).*", letter) for letter in one.us), one.key
        assert one.words == one.words.strip()
    # letters never stand for a treatment alone: the words come from the key
    assert all(one.words and not re.fullmatch(r"[A-Z ]+", one.words) for one in treatments())


def test_codes_no_list_holds_are_not_offered():
    """V and A stand in no copy of the list read, FH is one laboratory's own (disclosure notes, section 1.4)."""
    offered = {code for one in treatments() for code in one.code.replace("or", " ").split()}
    assert not offered & {"V", "A", "FH"}
    assert offered <= {
        "N",
        "E",
        "H",
        "HP",
        "B",
        "C",
        "D",
        "F",
        "I",
        "O",
        "L",
        "R",
        "U",
        "W",
        "ASBL",
        "SYN",
        "IMIT",
    }


def test_silence_is_an_option_only_where_nothing_was_done():
    assert {one.key for one in treatments() if not one.always} == {"none_known"}


def test_every_species_with_crystalline_silica_carries_the_caution():
    for one in materials():
        if "crystalline silica" in one.bench_hazard:
            assert "silica" in {row.key for row in cautions_for(one)}, one.key
    assert "silica" not in {row.key for row in cautions_for(material("opal-fire-opal"))}


@pytest.mark.parametrize(
    ("key", "caution"),
    [
        ("quartz-amethyst", "silica"),
        ("chalcedony-agate", "silica"),
        ("quartz-tigers-eye", "asbestos"),
        ("nephrite-nephrite-jade", "asbestos"),
        ("malachite-ornamental", "copper"),
        ("zircon-low-type", "radioactive"),
        ("glass-lead-or-heavy-flint", "lead-glass"),
        ("beryl-emerald", "filled-stone"),
        ("fluorite-all-colours", "acid-gas"),
    ],
)
def test_the_usual_caution_for_a_hazardous_stone(key, caution):
    assert caution in {row.key for row in cautions_for(material(key))}


def test_cautions_by_moment_and_treatment():
    sapphire = material("corundum-sapphire-blue")
    assert not cautions_for(sapphire)
    assert [row.key for row in cautions_for(sapphire, ["diff_shallow"], moment="recutting")] == [
        "thin-colour"
    ]
    assert [row.key for row in cautions_for(sapphire, ["glass"], moment="cleaning")] == ["filled-stone"]
    assert not cautions_for(sapphire, ["glass"], moment="sawing")


def test_cautions_never_promise_and_defer():
    assert "local" in NOT_ADVICE
    for row in cautions():
        assert not re.search(r"\bsafe\b|harmless", row.caution), row.key
        assert row.moments
    assert any(row.is_of_the_bench for row in cautions())


def test_a_material_without_care_rows_is_kept_by_its_own_row():
    advice = care_advice(material("sphalerite-gem"))
    assert care_for(material("sphalerite-gem")) == ()
    assert (advice.ultrasonic, advice.steam) == ("no", "no")
    assert any("hydrogen sulphide" in words for words in advice.chemicals)


def test_the_stricter_mark_wins():
    """Two charts disagree about jade, steam: one safe, one not recommended; the table's own row says no."""
    assert care_advice(material("jadeite-jadeite-jade")).steam == "no"
    assert care_advice(material("corundum-ruby")).ultrasonic == "ok"
    assert care_advice(material("corundum-ruby"), ["oil"]).ultrasonic == "no"


def test_a_treatment_never_makes_care_easier():
    order = ("ok", "risk", "no")
    for one in materials():
        plain = care_advice(one)
        for key in ("unknown", "oil", "coat", "glass", "heat", "diff_deep"):
            advice = care_advice(one, [key])
            assert order.index(advice.ultrasonic) >= order.index(plain.ultrasonic)
            assert order.index(advice.steam) >= order.index(plain.steam)


def test_an_untested_emerald_is_kept_as_an_oiled_one():
    assert "oiled" in {row.key for row in care_for(material("beryl-emerald"), ["unknown"])}
    assert "oiled" not in {row.key for row in care_for(material("beryl-emerald"))}
