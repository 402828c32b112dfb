"""Care by hazard against the charts it was read from, a row each; where two differ, the stricter one stands.

RIO: https://www.riogrande.com/article?name=Steam-or-Ultrasonically-Clean-CGl (data from GIA, it says).
STULLER: https://stuller.com/benchjeweler/resources/bencharticles/view/to-steam-or-not-to-steam
Others beside their row. Cells the house's list marks "from memory" are not checked here, but have to be marked so.
"""

import pytest

from workshop.handbook.tables import ABOUT_NATURE, care, care_advice, material, materials, treatments

RIO, STULLER = "riogrande.com", "stuller.com"

#: (material, treatments, ultrasonic by RIO, by STULLER, steam by RIO, by STULLER, what a text adds, source)
CHARTS = [
    ("corundum-ruby", [], "ok", "ok", "ok", "ok", "", ""),
    ("corundum-sapphire-blue", ["heat"], "ok", "ok", "ok", "ok", "", ""),
    ("chrysoberyl-alexandrite", [], "ok", "ok", "ok", "ok", "", ""),
    ("chrysoberyl-yellow-green", [], "ok", "ok", "ok", "ok", "", ""),
    ("beryl-aquamarine", [], "ok", "ok", "ok", "ok", "", ""),
    ("beryl-morganite", [], "ok", "ok", "ok", "ok", "", ""),
    ("beryl-emerald", [], "no", "no", "no", "no", "", ""),
    ("topaz-colourless-and-blue", [], "no", "no", "no", "no", "", ""),
    ("tourmaline-elbaite", [], "no", "risk", "no", "risk", "no", "gia.edu/tourmaline"),
    ("garnet-almandine", [], "ok", "ok", "no", "no", "", ""),
    ("olivine-peridot", [], "risk", "risk", "no", "no", "no", "gia.edu/peridot"),
    ("zoisite-tanzanite", [], "no", "no", "no", "no", "", ""),
    ("quartz-amethyst", [], "ok", "ok", "no", "risk", "", ""),
    ("quartz-citrine", [], "ok", "ok", "no", "risk", "", ""),
    ("chalcedony-agate", [], "ok", "ok", "ok", "ok", "", ""),
    ("opal-precious", [], "no", "no", "no", "no", "", ""),
    ("feldspar-moonstone", [], "risk", "no", "risk", "no", "", ""),
    ("feldspar-labradorite-transparent-and-oregon-sunstone", [], "risk", "no", "risk", "no", "", ""),
    ("zircon-high-type", [], "", "risk", "", "risk", "no", "plingsh.com"),
    ("cordierite-iolite", [], "no", "risk", "no", "risk", "", ""),
    ("apatite-gem-apatite", [], "risk", "", "no", "", "", ""),
    ("diopside-chrome", [], "no", "", "", "", "", ""),
    ("jadeite-jadeite-jade", [], "risk", "ok", "risk", "ok", "", ""),
    ("nephrite-nephrite-jade", [], "risk", "ok", "risk", "ok", "", ""),
    ("lapis-lazuli-rock", [], "no", "no", "no", "no", "", ""),
    ("turquoise-natural-or-stabilised", [], "no", "no", "no", "no", "", ""),
    ("malachite-ornamental", [], "no", "no", "no", "no", "", ""),
    ("amber-fossil-resin", [], "no", "no", "no", "no", "", ""),
    ("diamond-natural-or-synthetic", [], "ok", "", "ok", "", "", ""),
    ("diamond-natural-or-synthetic", ["glass"], "no", "", "no", "", "", ""),
    ("opal-precious", ["assembled"], "no", "", "no", "", "", ""),
    ("corundum-ruby", ["leadglass"], "no", "", "no", "", "no", "theretailjeweler.com"),
    ("corundum-ruby", ["glass"], "", "", "", "", "no", "gia.edu/ruby"),
    ("spodumene-kunzite", [], "", "", "", "", "no", "margeryhirschey.com"),
]
STRICT = ("", "ok", "risk", "no")


def strictest(*marks):
    return max(marks, key=STRICT.index)


@pytest.mark.parametrize(
    ("key", "done", "u_rio", "u_stuller", "s_rio", "s_stuller", "text", "source"),
    CHARTS,
    ids=[f"{row[0]}-{'-'.join(row[1])}" for row in CHARTS],
)
def test_ultrasonic_and_steam_by_the_stricter_chart(
    key, done, u_rio, u_stuller, s_rio, s_stuller, text, source
):
    advice = care_advice(material(key), done)
    assert STRICT.index(advice.ultrasonic) >= STRICT.index(strictest(u_rio, u_stuller, text))
    steam = strictest(s_rio, s_stuller, text)
    assert STRICT.index(advice.steam) >= STRICT.index(steam)
    if strictest(u_rio, u_stuller, text) == "ok":
        assert advice.ultrasonic == "ok", "no stricter than both charts where nothing else is known"
    sources = " ".join(advice.sources)
    assert not source or source in sources
    assert not (u_rio or s_rio) or RIO in sources or STULLER in sources


#: (material, treatments, hazard, words that have to stand, words that may not, source)
HAZARDS = [
    ("corundum-ruby", [], "chemicals", "boric acid", "", "gia.edu/ruby-care-cleaning"),
    ("corundum-ruby", ["glass"], "chemicals", "lemon juice", "", "valentinafine.com"),
    ("corundum-ruby", ["dye"], "clean", "damp cloth only", "", "gia.edu/ruby-care-cleaning"),
    ("beryl-aquamarine", [], "heat", "not recommended", "", "bestingems.com"),
    ("beryl-emerald", ["oil"], "heat", "sweat", "", "margeryhirschey.com"),
    ("beryl-emerald", ["oil"], "chemicals", "solvents", "", "margeryhirschey.com"),
    ("beryl-emerald", [], "clean", "warm soapy water only", "", "margeryhirschey.com"),
    ("topaz-imperial-pink", [], "heat", "sudden change can break", "", "connoisseurs.com"),
    ("topaz-imperial-pink", [], "light", "reddish-brown", "", "connoisseurs.com"),
    ("topaz-colourless-and-blue", ["coat"], "chemicals", "no acid and no abrasive", "", "ebay.co.uk"),
    ("tourmaline-elbaite", [], "heat", "alters the colour", "fade", "gia.edu/tourmaline-care-cleaning"),
    ("tourmaline-elbaite", ["irr"], "light", "bright light", "", "gia.edu/tourmaline-care-cleaning"),
    ("tourmaline-elbaite", [], "clean", "warm soapy water only", "", "gia.edu/tourmaline-care-cleaning"),
    ("garnet-pyrope", [], "heat", "no sudden change", "", "riogrande.com"),
    ("olivine-peridot", [], "heat", "uneven heat fractures", "", "gia.edu/peridot-care-cleaning"),
    ("olivine-peridot", [], "chemicals", "acid sweat", "", "stonesandgold.com"),
    ("zoisite-tanzanite", [], "heat", "thermal shock", "", "prismnews.com"),
    ("zoisite-tanzanite", [], "chemicals", "hydrochloric", "", "toptanzanite.com"),
    ("quartz-amethyst", [], "light", "long bright sun", "", "tjc.co.uk"),
    ("chalcedony-agate", ["dye"], "light", "fade", "", "riogrande.com"),
    ("chalcedony-agate", ["dye"], "chemicals", "no solvents", "", "riogrande.com"),
    ("opal-precious", [], "heat", "crazes", "", "riogrande.com"),
    ("opal-precious", [], "chemicals", "oils and soaps", "", "riogrande.com"),
    ("zircon-high-type", ["heat"], "light", "toward", "", "prismnews.com"),
    ("zircon-high-type", [], "heat", "change the colour", "", "plingsh.com"),
    ("spodumene-kunzite", [], "light", "fades in light", "", "directstones.com"),
    ("lapis-lazuli-rock", [], "chemicals", "perfume", "", "jajewels.com"),
    ("amber-fossil-resin", [], "chemicals", "acetone", "", "jajewels.com"),
    ("opal-precious", ["assembled"], "clean", "no soaking", "", "riogrande.com"),
    ("corundum-ruby", ["leadglass"], "heat", "torch", "", "theretailjeweler.com"),
    ("corundum-ruby", ["leadglass"], "chemicals", "pickle", "", "gemologiamllopis.com"),
    ("jadeite-jadeite-jade", [], "clean", "by hand", "", "riogrande.com"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "done", "hazard", "has", "has_not", "source"), HAZARDS)
def test_each_hazard_is_told_with_its_source(key, done, hazard, has, has_not, source):
    advice = care_advice(material(key), done)
    told = advice.clean if hazard == "clean" else " / ".join(getattr(advice, hazard))
    assert has in told or (has == "toward" and "towards brown" in told), told
    assert not has_not or has_not not in told
    assert source in " ".join(advice.sources)


def test_irradiated_words_never_stand_on_an_untreated_stone():
    """K5: GIA Tourmaline Care and Cleaning Guide."""
    for key in ("tourmaline-elbaite", "beryl-aquamarine"):
        assert "irradiat" not in " ".join(
            (*care_advice(material(key)).light, *care_advice(material(key)).heat)
        )


@pytest.mark.parametrize("row", materials(), ids=lambda row: row.key)
def test_treatments_care_is_never_laxer_than_the_species_and_boiling_is_never_told(row):
    """Section 5: the treatment overrides, the stricter stands; JCK's boiling warns of thermal shock in one breath."""
    bare = care_advice(row)
    for one in treatments():
        advice = care_advice(row, [one.key])
        assert STRICT.index(advice.ultrasonic) >= STRICT.index(bare.ultrasonic), one.key
        assert STRICT.index(advice.steam) >= STRICT.index(bare.steam), one.key
        told = " ".join((advice.clean, *advice.heat, *advice.chemicals, *advice.light, *advice.notes)).lower()
        assert "boil" not in told
        if one.key in {"oil", "resin", "glass", "leadglass", "dye", "coat", "impreg", "wax", "assembled"}:
            assert (advice.ultrasonic, advice.steam) == ("no", "no"), one.key
    unknown = care_advice(row, ["unknown"])
    for usual in (one.key for one in treatments() if one.is_usual_for(row) and one.key not in ABOUT_NATURE):
        advice = care_advice(row, [usual])
        assert STRICT.index(unknown.ultrasonic) >= STRICT.index(advice.ultrasonic), (
            "kept as the most fragile usual one"
        )
        assert STRICT.index(unknown.steam) >= STRICT.index(advice.steam), usual


def test_cells_from_memory_are_marked_so():
    """The house's list marks spinel's cleaning, the light of smoky quartz and others as from memory."""
    marked = {row.key: row.from_memory for row in care()}
    assert "ultrasonic" in marked["spinel"] and "light" in marked["quartz-smoky-rose"]
    assert "light" in marked["beryl-irradiated"] and "chemicals" in marked["feldspar"]
    assert "steam" in marked["diopside"] and "heat" in marked["corundum-star"]
