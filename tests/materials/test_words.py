"""The linter against what people really type: names, claims, costumes, and the four profiles.

Sources: 16 CFR Part 23 in the numbering of 2018 (https://www.ecfr.gov/current/title-16/chapter-I/subchapter-B/part-23),
the French decree 2002-65, CIBJO's classes; US-, FR-, CL- and WT- are the ids of the house's own list of these rules.
Cases without a published text say "house rule".
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook import tables
from workshop.materials.names import GROWN_WORDS, gem_names
from workshop.materials.plain import plain
from workshop.materials.rulebook import word_rules
from workshop.materials.sources import SOURCES, cited
from workshop.materials.words import Facts, Profile, all_rules, code_findings, lint

MINED = Facts(nature="mined", species="corundum", name="ruby", natural_shown=True)
GROWN = Facts(nature="grown", species="corundum", name="ruby")
IMITATION = Facts(nature="imitation", species="glass", name="crown glass")
LEAD = replace(MINED, treatments=frozenset({"leadglass"}))
EVERY = list(Profile)


def blocked(text, facts=MINED, profile=Profile.STRICT):
    return [found for found in lint(text, facts, profile) if found.blocks]


def warned(text, facts=MINED, profile=Profile.STRICT):
    return [found for found in lint(text, facts, profile) if not found.blocks]


# --- Bare names (US-16, US-17, US-20; FR-01, FR-04) ---------------------------------------------------------------


@pytest.mark.parametrize("profile", EVERY)
@pytest.mark.parametrize(
    "name", ["ruby", "Sapphires", "EMERALD", "tsavorite", "opals", "Rubies", "topaz", "star ruby"]
)
def test_no_bare_name_for_what_was_grown_or_imitated(name, profile):
    """16 CFR 23.25(a), (b); decree 2002-65 art. 4."""
    for facts in (replace(GROWN, species="", name=""), IMITATION):
        assert blocked(f"A fine {name}, 8 mm", facts, profile)


@pytest.mark.parametrize(
    "text", ["laboratory-grown ruby", "Lab-created rubies", "Oona-created ruby", "synthetic ruby"]
)
def test_a_grown_stone_passes_with_its_words_directly_before_the_name(text):
    """16 CFR 23.25(b), CB-05; "synthetic" is of like meaning (83 FR 40665)."""
    for profile in (Profile.US, Profile.CIBJO, Profile.STRICT):
        assert not blocked(text, GROWN, profile)


def test_the_decree_knows_one_word_for_a_grown_stone():
    """Decree 2002-65 art. 4: "synthétique"."""
    assert blocked("laboratory-grown ruby", GROWN, Profile.FRANCE)
    assert not blocked("synthetic ruby", GROWN, Profile.FRANCE)


@pytest.mark.parametrize(
    "text", ["ruby, laboratory-grown", "laboratory-grown and pretty ruby", "ruby (lab-grown)", "hand-created ruby",
             "Laboratory-grown ruby. This ruby is red."]
)  # fmt: skip
def test_words_behind_or_apart_from_the_name_do_not_do(text):
    """16 CFR 23.25(b): immediately preceded, each time."""
    assert blocked(text, GROWN, Profile.US)


def test_an_imitation_is_called_one_directly_before_the_name():
    """16 CFR 23.25(b)."""
    assert not blocked("imitation ruby", IMITATION) and not blocked("simulated ruby", IMITATION, Profile.US)
    assert blocked("ruby imitation", IMITATION) and blocked("ruby-coloured glass", IMITATION)


@pytest.mark.parametrize("text", ["birthstone of July", "red gemstone"])
def test_gemstone_and_birthstone_count_as_names(text):
    """US-17: "stone", "birthstone", "gem", "gemstone" stand in 23.25(b) too; the bare "stone" only warns here."""
    assert blocked(text, GROWN) and not blocked(text, MINED)
    assert not blocked(f"laboratory-grown {text}", GROWN)
    assert warned("a red stone", GROWN) and not warned("a red stone", MINED)


def test_the_name_of_a_cut_is_no_name_of_the_stone():
    """Common practice, no source: "emerald cut" is an outline."""
    assert not blocked("emerald cut, princess crown", GROWN) and not blocked(
        "8 x 6 mm emerald-cut", IMITATION
    )
    assert blocked("emerald colour", IMITATION)


def test_the_species_in_brackets_belongs_to_the_name_before_it():
    facts = Facts(nature="grown", species="quartz", name="amethyst")
    assert not blocked("Laboratory-grown amethyst (quartz)", facts)
    assert blocked("quartz", facts)


@pytest.mark.parametrize("profile", EVERY)
@pytest.mark.parametrize(
    "text",
    ["ruby", "treated ruby", "composite ruby", "laboratory-grown ruby composite", "synthetic ruby", "hybrid ruby",
     "glass-filled ruby", "Rubies with lead glass"],
)  # fmt: skip
def test_a_lead_glass_product_bears_no_gem_name(text, profile):
    """T1 to T3, US-20 to US-22: 16 CFR 23.25(d)(1)-(4); (3) and half of (4) are from memory."""
    assert blocked(text, LEAD, profile)


def test_not_even_both_disclosures_make_it_grown_or_treated():
    """16 CFR 23.25(d)(2), (3)."""
    both = "not the same characteristics as ruby; needs special care"
    assert not blocked(f"composite ruby: {both}", LEAD)
    assert blocked(f"treated ruby: {both}", LEAD) and blocked(f"laboratory-grown ruby: {both}", LEAD)


@pytest.mark.parametrize("profile", EVERY)
def test_a_glass_filled_stone_is_never_named_without_its_glass(profile):
    """Section 0.2 of the house's list after 16 CFR 23.24-23.25: silence about filling is blocked."""
    filled = replace(MINED, treatments=frozenset({"glass"}))
    assert blocked("ruby of 2.30 ct", filled, profile)
    assert not blocked("glass-filled ruby of 2.30 ct", filled, profile)


@pytest.mark.parametrize(
    ("key", "word"), [("dye", "dyed"), ("irr", "irradiated"), ("coat", "coated"), ("diff_deep", "diffusion-treated"),
                      ("laser", "laser-drilled"), ("impreg", "stabilised"), ("heat_residue", "treated")]
)  # fmt: skip
def test_the_french_rules_want_the_treatment_with_the_name(key, word):
    """FR-01: decree 2002-65 art. 1 and 2: "traité" or the treatment's name; strict is the union (section 8)."""
    stone = replace(MINED, treatments=frozenset({key}))
    for profile in (Profile.FRANCE, Profile.STRICT):
        assert blocked("ruby", stone, profile) and not blocked(f"{word} ruby", stone, profile)
        assert blocked("untreated ruby", stone, profile)
    assert not blocked("ruby", stone, Profile.US), "16 CFR 23.24: told before the sale, not in each mention"


@pytest.mark.parametrize("key", ["heat", "oil", "wax", "bleach"])
def test_the_traditional_practices_need_no_mention_in_the_french_name(key):
    """FR-02: decree 2002-65 art. 3."""
    assert not blocked("ruby", replace(MINED, treatments=frozenset({key})), Profile.FRANCE)


def test_parts_of_an_assembled_stone_are_named_behind_the_word_for_it():
    """Decree 2002-65 art. 4 "composite"; AGTA ASBL. "Opal doublet" passes in the US only (from memory)."""
    doublet = Facts(nature="assembled", species="opal", name="precious opal")
    assert blocked("opal", doublet) and not blocked("assembled stone: opal on ironstone", doublet)
    assert blocked("opal doublet", doublet, Profile.FRANCE) and not blocked(
        "opal doublet", doublet, Profile.US
    )


def test_a_reconstructed_stone_says_so_before_the_name():
    """FR-04 "reconstituée"; 16 CFR 23.25(d)(4) wants both disclosures beside it."""
    amber = Facts(nature="reconstructed", species="amber", name="amber")
    told = "It does not have the same characteristics as the stone it resembles and needs special care."
    assert not blocked("reconstructed amber", amber, Profile.FRANCE)
    assert blocked("reconstructed amber", amber) and not blocked(f"Reconstructed amber. {told}", amber)
    assert blocked("amber", amber, Profile.CIBJO)


def test_another_gems_name_is_asked_about():
    """16 CFR 23.26: no wrong variety name; house rule: warn, since it may be a colour."""
    (found,) = warned("citrine of topaz colour", Facts(species="quartz", name="citrine", natural_shown=True))
    assert found.words == "topaz"
    assert not lint("citrine", Facts(species="quartz", name="citrine", natural_shown=True))


@pytest.mark.parametrize(
    "words",
    [
        "green amethysts",
        "Green-Amethyst",
        "yellow emeralds",
        "smoky topaz",
        "Balas rubies",
        "Herkimer diamond",
    ],
)
def test_wrong_variety_names_and_their_plurals(words):
    """N4: 16 CFR 23.26 names the first two; the others are misnomers of gemmology texts, from memory."""
    assert blocked(words, replace(MINED, species="", name=""))


# --- Words of worth (US-18, US-24 to US-26; FR-03, FR-04) -----------------------------------------------------------


@pytest.mark.parametrize(
    "word", ["genuine", "real", "natural", "precious", "semi-precious", "semi precious", "semiprecious", "véritable",
             "vrai", "précieuses", "naturelle", "pierres fines"]
)  # fmt: skip
@pytest.mark.parametrize(
    "facts", [GROWN, IMITATION, LEAD, Facts(nature="assembled"), Facts(nature="reconstructed")]
)
@pytest.mark.parametrize("profile", EVERY)
def test_words_for_what_the_earth_made_never_stand_on_what_people_made(word, facts, profile):
    """N5: 16 CFR 23.27; decree 2002-65 art. 4."""
    assert blocked(word, facts, profile)


@pytest.mark.parametrize("word", ["semi-précieuses", "semi-précieux", "semi-fine", "semi-precious"])
def test_semi_precious_by_profile(word):
    """N6, section 8: 16 CFR 23.27; decree art. 5; CIBJO discourages it, from memory."""
    assert not lint(word, MINED, Profile.US)
    assert blocked(word, MINED, Profile.FRANCE) and blocked(word, MINED, Profile.STRICT)
    assert warned(word, MINED, Profile.CIBJO) and not blocked(word, MINED, Profile.CIBJO)


@pytest.mark.parametrize("word", ["cultured", "cultivée", "de culture", "élevé"])
@pytest.mark.parametrize("profile", EVERY)
def test_cultured_is_for_pearls(word, profile):
    """N7: 16 CFR 23.25(b) note 2; decree art. 4."""
    assert blocked(f"{word} ruby", GROWN, profile)
    assert not blocked(f"{word} pearl", Facts(species="pearl", name="pearl", natural_shown=True), profile)


def test_perfect_claims_more_than_flawless():
    """N9, US-25: 16 CFR 23.28(a)-(c)."""
    tested = replace(MINED, clarity_tested=True)
    assert blocked("perfect") and blocked("flawless") and blocked("Internally Flawless")
    assert not lint("flawless", tested) and warned("perfect", tested) and not blocked("perfect", tested)
    for facts in (GROWN, IMITATION, LEAD):
        assert blocked("perfect", replace(facts, clarity_tested=True))


def test_clean_says_how_one_looked():
    """CL-10: house rule after 16 CFR 23.28."""
    assert warned("eye clean") and not lint("eye-clean at 30 cm", MINED)
    assert warned("loupe clean") and not lint("loupe-clean", replace(MINED, clarity_tested=True))


@pytest.mark.parametrize(
    "word", ["handmade", "hand-cut", "hand cut", "handcrafted", "precision-cut", "hand-polished"]
)
def test_by_hand_asks_how(word):
    """C6, US-08, US-09: 16 CFR 23.2; warned, never blocked."""
    assert warned(word) and not blocked(word)
    assert not lint(f"{word} by hand control on a faceting machine", MINED)


# --- What needs evidence (3.2) ---------------------------------------------------------------------------------------

CLAIMS = ["untreated", "un-treated", "unheated", "not heated", "never heated", "no heat", "no heating", "no oil", "unoiled",
          "oil-free", "free of treatment", "without any treatment", "natural colour", "natural color", "not enhanced",
          "non-heated", "non chauffé", "undyed"]  # fmt: skip


@pytest.mark.parametrize("claim", CLAIMS)
@pytest.mark.parametrize("profile", EVERY)
@pytest.mark.parametrize("evidence", [-1, 0, 1, 2, 3, 4])
def test_no_claim_of_nothing_below_its_evidence(claim, profile, evidence):
    """T7, T8, CL-03, CL-04: a laboratory's report or nothing (house rule; LMHC 2022)."""
    assert blocked(f"A {claim} ruby", replace(MINED, untreated_evidence=evidence), profile)


@pytest.mark.parametrize("claim", CLAIMS)
def test_on_a_report_it_may_be_said_and_on_paper_it_may_be_reported(claim):
    """CL-03; T8."""
    assert not blocked(f"A {claim} ruby", replace(MINED, untreated_evidence=5))
    written = replace(MINED, untreated_evidence=2)
    assert not blocked(f"reported {claim} by supplier X", written)
    assert not blocked(f"according to supplier X {claim}", written)
    assert blocked(f"reported {claim} by supplier X", replace(MINED, untreated_evidence=1))
    assert blocked(f"{claim}. Reported origin Mahenge", replace(written, origin="Mahenge", origin_evidence=2))


@pytest.mark.parametrize(
    "text", ["no treatment found", "no heat found", "heated", "oil, minor", "treated with oil"]
)
def test_what_was_looked_for_and_what_was_done_may_be_said(text):
    assert not blocked(text)


def test_the_code_n_is_the_sellers_guarantee():
    """CL-05: http://gemoptions.com/gemstone_grades/pageone.htm."""
    for evidence in (-1, 2, 3, 4):
        facts = replace(MINED, untreated_evidence=evidence)
        assert code_findings("N", edition="2014", words="not treated", facts=facts)
    assert (
        code_findings("N", edition="2014", words="not treated", facts=replace(MINED, untreated_evidence=5))
        == []
    )
    heated = replace(MINED, untreated_evidence=5, treatments=frozenset({"heat"}))
    assert code_findings("N", edition="2014", words="heated", facts=heated)


@pytest.mark.parametrize("text", ["AGTA code H", "Treatment codes: E", "enhancement code is N"])
def test_letters_do_not_stand_in_running_text(text):
    """T12: a code alone is no disclosure (gemsociety.org on codes)."""
    assert blocked(text)


@pytest.mark.parametrize("letter", ["V", "A", "FH", "TE3", "X"])
def test_letters_of_no_list_are_refused(letter):
    """T11: V, A and FH are in no copy of the manual; FH is one laboratory's own."""
    assert any(
        "No such letter" in found.advice for found in code_findings(letter, edition="2014", words="treated")
    )


@pytest.mark.parametrize(
    "text", ["AAA", "AA-quality", "AAAA+", "Grade A", "grade 1", "A+ grade", "triple A", "gem grade", "top-grade", "VVS1",
             "VS2", "SI2", "3A"]
)  # fmt: skip
def test_a_grade_names_its_system(text):
    """CL-11, US-05: 16 CFR 23.1 note 1."""
    assert blocked(text) and not blocked(f"{text} in the system of this shop, see its sheet")


@pytest.mark.parametrize(
    "text",
    ["Burma ruby", "Burmese colour", "Ceylon-type", "KASHMIR", "Kashmir-blue", "Mogok", "Swiss blue", "Thai"],
)
def test_a_place_needs_a_written_origin(text):
    """C5, CL-06: 16 CFR 23.1."""
    assert blocked(text, replace(MINED, origin_evidence=1))


def test_in_a_letter_a_place_may_be_where_the_parcel_goes():
    """House rule: off a card a place is an origin only before a stone, a colour or a type, or behind "origin"."""
    letter = replace(MINED, on_card=False)
    assert not blocked("It leaves for Australia on Monday, by way of Thailand.", letter)
    for text in ("your Ceylon sapphire", "Burmese red", "Kashmir-type", "origin: Brazil", "mined in Zambia"):
        assert blocked(text, letter), text


def test_another_place_than_the_stated_one_is_blocked():
    """16 CFR 23.1: origin is never misstated."""
    zambia = replace(MINED, origin="Zambia, Kafubu", origin_evidence=5)
    assert blocked("Colombian ruby", zambia) and not blocked("Zambian ruby", zambia)
    burma = replace(MINED, origin="Mogok, Myanmar", origin_evidence=2)
    assert not blocked("reported origin Burma", burma) and blocked("Burma ruby", burma)


def test_a_name_the_shop_gave_is_no_way_round():
    """C5: a material of the shop's own called "Kashmir sapphire"."""
    assert blocked("Kashmir sapphire", replace(MINED, name="Kashmir sapphire"))
    assert not blocked("Mali garnet", Facts(species="garnet", name="Mali garnet", natural_shown=True))


@pytest.mark.parametrize(
    "treatment", ["diff_deep", "diff_shallow", "glass", "irr", "irr_heat", "dye", "coat", "leadglass"]
)
def test_padparadscha_is_spoiled_by(treatment):
    """C4, LM-04: LMHC information sheet 4 as JCK tells it."""
    spoiled = Facts(species="corundum", species_evidence=5, treatments=frozenset({treatment}))
    assert blocked("padparadscha", spoiled)
    assert blocked("Padparadschas", Facts(nature="grown", species_evidence=5))


@pytest.mark.parametrize("text", ["certificate", "Certificates", "certified", "certification"])
def test_certificate_warns(text):
    """C7, 3.3: GIA has asked sellers to say "report"."""
    assert warned(text) and not blocked(text)


@pytest.mark.parametrize("text", ["investment", "investments", "rare", "rarest", "conflict-free", "ethically sourced",
                                  "sustainable"])  # fmt: skip
def test_claims_of_worth_and_virtue_warn(text):
    """CL-13, CL-15: 16 CFR 23.1; Green Guides, 16 CFR 260."""
    assert warned(text) and not blocked(text)


@pytest.mark.parametrize("text", ["healing stone", "opens the chakra", "protects from harm", "cures"])
def test_claims_of_health_block(text):
    """CL-14: general law of unfair practice, from memory."""
    (found, *_) = blocked(text)
    assert found.from_memory


# --- Weights in texts (US law, 23.18) --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["25 pt", "25pts", "25-pointer", "25\u200bpt", "２５ pt", "twenty-five: 25 points"]
)
def test_points_alone_are_blocked_in_any_costume(text):
    """W10, WT-09: 16 CFR 23.18(b)."""
    assert blocked(text)


@pytest.mark.parametrize("text", ["1/2 ct", "½ct", "half-carat", "three-quarter carats", "1 / 2 carat"])
def test_fractions_alone_are_blocked(text):
    """W11, WT-11: 16 CFR 23.18(d)."""
    assert blocked(text) and not blocked(f"{text}, weight not exact, 0.47 to 0.54 ct")


# --- Costumes ----------------------------------------------------------------------------------------------------------

COSTUMES = [
    ("flаwless", "Cyrillic a"), ("f\u200blawless", "zero-width space"), ("FLAWLESS", "capitals"),
    ("ｆｌａｗｌｅｓｓ", "full width"), ("flàwlèss", "accents"), ("f l a w l e s s", "set apart"), ("fla\u00adwless", "soft hyphen"),
    ("_flawless_", "underscores"), ("**flawless**", "stars"), ("fl\u2060awless", "word joiner"), ("flawleѕѕ", "Cyrillic s"),
    ("𝐟𝐥𝐚𝐰𝐥𝐞𝐬𝐬", "mathematical"), ("🅵lawless", "encircled"), ("nearly-flawless", "hyphen"), ("ﬂawless", "ligature"),
    ("f\u034flawless", "joiner"), ("flawl\u0435ss\ufe0f", "variation selector"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "how"), COSTUMES)
def test_no_costume_hides_a_word(text, how):
    """Unicode Technical Standard 39, confusables; house rule."""
    (found,) = blocked(text)
    assert found.rule.startswith("16 CFR 23.28"), how


def test_a_finding_quotes_what_was_typed():
    (found,) = blocked("It is Fl\u200bаwless!")
    assert found.words == "Fl\u200bаwless"


def test_marks_that_turn_reading_round_are_refused():
    """House rule: "detaertnu" behind U+202E is read as "untreated"."""
    assert blocked("\u202edetaertnu\u202c")
    assert not blocked("סְפִּיר \u200f")


NAMES = sorted({row.name for row in tables.materials() if not row.is_man_made and "corundum" not in row.name})
#: The four profiles' own word for a grown stone that all of them take.
QUALIFIER = "synthetic"


@given(
    name=st.sampled_from(NAMES), profile=st.sampled_from(EVERY),
    facts=st.sampled_from([GROWN, IMITATION, LEAD, Facts(nature="reconstructed"), Facts(nature="assembled")]),
    case=st.sampled_from([str.upper, str.title, str.lower]), before=st.sampled_from(["", "a ", "fine ", "real-looking "]),
    after=st.sampled_from(["", "s", ", 2 ct", " of good colour", "-like"]), hidden=st.sampled_from(["", "\u200b", "\u00ad"]),
)  # fmt: skip
def test_no_name_of_the_table_stands_bare_on_what_was_made(name, profile, facts, case, before, after, hidden):
    """16 CFR 23.25; decree art. 4: every name, nature, profile and costume."""
    text = f"{before}{case(name)[:2]}{hidden}{case(name)[2:]}{after}"
    found = blocked(text, replace(facts, species="", name=""), profile)
    assert found, text
    if facts is GROWN and not before and not after:
        assert not [
            one for one in blocked(f"{QUALIFIER} {name}", replace(facts, species="x", name="x"), profile)
            if "23.25(a)" in one.rule
        ]  # fmt: skip


@given(st.text(max_size=80), st.sampled_from(EVERY), st.sampled_from([MINED, GROWN, IMITATION, LEAD]))
def test_any_text_is_read_without_a_fault(text, profile, facts):
    for found in lint(text, facts, profile):
        assert found.advice and found.rule
    seen = plain(text)
    assert len(seen.text) == len(seen.places)


# --- The rule table ------------------------------------------------------------------------------------------------------


def test_every_rule_says_what_it_does_and_where_it_was_read():
    for rule in all_rules():
        assert rule.about and rule.outcome and rule.rule and rule.advice
        assert set(rule.sources) <= SOURCES.keys()
        assert rule.sources or rule.from_memory or "house rule" in rule.rule, rule.about
    assert any(row.from_memory for row in word_rules()) and len(word_rules()) > 30


def test_citations_lead_to_their_source():
    assert [one.url for one in cited("16 CFR 23.24; CIBJO: general; France: no")] == [
        SOURCES[key].url for key in ("cfr24", "fr2", "cibjo")
    ]
    assert cited("house rule") == []


def test_the_patterns_hold_the_names_of_the_table():
    assert "tanzanites" in gem_names() or "tanzanite" in gem_names()
    assert "laboratory" in GROWN_WORDS
