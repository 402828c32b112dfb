"""German trade words fall under the rule of their English twins, and the disclosure composes in German grammar."""

import pytest
from django.utils import translation

from tests.materials.test_disclosure import answers, said, treated
from workshop.materials.disclosure import disclose
from workshop.materials.words import Facts, Profile
from workshop.materials.words_german import lint_german, with_points
from workshop.materials.words_here import lint_here

SHOWN = Facts(nature="mined", species="corundum", name="ruby", natural_shown=True)


@pytest.fixture(autouse=True)
def german():
    with translation.override("de"):
        yield


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("Halbedelstein", "decree 2002-65 art. 5"),
        ("lupenreiner Stein", "16 CFR 23.28(a)"),
        ("makellos", "16 CFR 23.28(a)"),
        ("perfekter Schliff", "16 CFR 23.28(b)-(c)"),
        ("unerhitzt", "LMHC"),
        ("unbehandelte Farbe", "LMHC"),
        ("Zuchtstein", "16 CFR 23.25(b) note 2"),
        ("grüner Amethyst", "16 CFR 23.26"),
    ],
)
def test_a_german_word_is_barred_by_the_rule_of_its_english_twin(text, rule):
    """The sources give no German text: each finding says that the words are our own translation."""
    found = [one for one in lint_german(text, SHOWN, Profile.STRICT) if one.blocks and rule in one.rule]
    assert found and all(one.rule.endswith("our own translation") for one in found)


def test_natural_and_genuine_are_barred_for_what_was_grown():
    """16 CFR 23.27."""
    grown = Facts(nature="grown", species="corundum", name="ruby")
    for words in ("natürlicher Stein", "echter Stein"):
        assert any(one.blocks and "23.27" in one.rule for one in lint_german(words, grown))


def test_zertifikat_warns():
    assert [one.blocks for one in lint_german("Zertifikat", SHOWN)] == [False]


def test_points_need_carats_in_german_too():
    """16 CFR 23.18(b)."""
    assert any("23.18(b)" in one.rule for one in lint_here("25 Punkte", SHOWN))
    assert lint_here("25 Punkte (0,25 Karat)", SHOWN) == []
    assert with_points("25 Punkte (0,25 Karat)") == "25 points (0,25 ct)"


@pytest.mark.parametrize(
    ("material", "name"),
    [
        ("corundum-ruby", "Laborgezüchteter Rubin (Korund)"),
        ("quartz-tigers-eye", "Laborgezüchtetes Tigerauge (Quarz)"),
        ("jadeite-jadeite-jade", "Laborgezüchtete Jadeit-Jade"),
    ],
)
def test_what_stands_before_a_name_takes_its_gender(material, name):
    """CIBJO accepts laboratory-grown beside synthetic; our own translation."""
    assert disclose(answers(material, nature=said("nature", 5, nature="grown"))).name_line == name


def test_the_french_profile_says_synthetic_in_german():
    """Decree 2002-65 art. 4: "synthétique" alone."""
    made = disclose(answers(nature=said("nature", 5, nature="grown")), profile=Profile.FRANCE)
    assert made.name_line == "Synthetischer Rubin (Korund)"


@pytest.mark.parametrize("evidence", [1, 2, 3, 4, 5])
def test_untreated_is_said_only_as_far_as_its_evidence(evidence):
    """CL-03 to CL-05 of the house's list; the engine's own German never breaks a German rule."""
    made = disclose(answers(treatment=said("treatment", evidence, treated="untreated")))
    text = made.treatments[0].text
    assert made.blocks == []
    assert ("unbehandelt" in text) == (evidence < 3)


def test_oil_is_told_in_plain_german():
    """16 CFR 23.24(a)-(c)."""
    made = disclose(answers("beryl-emerald", treatment=treated("oil", degree="minor")))
    assert (
        made.treatments[0].text.startswith("geölt: Risse mit farblosem Öl")
        and "(gering)" in made.treatments[0].text
    )
    assert "nicht dauerhaft" in made.treatments[0].text
