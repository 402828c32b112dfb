"""What stands about a gem in public besides its card: listing text, trade letters, oil left at the bench, and its figures."""

import json
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from tests import makers
from tests.makers import DAY, NOON, make_answered_gem, make_gem, make_shop, say
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Shop
from workshop.gems import actions, card_actions
from workshop.gems.card_actions import QuestionOpen, TradeCode, WordsRefused
from workshop.gems.listing import listing_of
from workshop.gems.measures import doubts_about, how_measured, in_order
from workshop.gems.models import FinishedGem, Shape
from workshop.gems.papers import open_questions, what_may_be_said
from workshop.handbook.units import parse_weight
from workshop.handbook.weights import state_total, state_weight
from workshop.materials.models import Material
from workshop.materials.words import Profile
from workshop.stones import actions as stones
from workshop.stones.models import Stone

pytestmark = pytest.mark.django_db
D = Decimal
EVERY = list(Profile)


@pytest.fixture
def shop():
    return make_shop(base_url="https://cards.example", cutter="Oona Alder", scale_step_ct=D("0.001"))


@pytest.fixture
def owner(client, shop):
    person = makers.somebody()
    client.force_login(person)
    return person


def answered(key="beryl-emerald", *, nature="mined", treatments=("oil",), evidence=3, **about):
    gem = make_gem(**about)
    say(gem.stone, "nature", 5, nature=nature, how="no. 4")
    say(gem.stone, "species", 3, material=Material.objects.get(key=key), how="RI and SG")
    if treatments:
        say(
            gem.stone,
            "treatment",
            evidence,
            treated="treated",
            treatments=list(treatments),
            degree="minor",
            how="lens 10x",
        )
    return FinishedGem.objects.get(pk=gem.pk)


def issue(gem, **said):
    return card_actions.issue_card(gem, by=makers.somebody(), at=NOON, **said)


# --- Listing text -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("profile", EVERY)
def test_an_unseen_sale_carries_the_whole_disclosure(shop, profile):
    """16 CFR 23.24 note (US-14): bought unseen, it stands in the description; 23.1 note 3: pictures; WT-04, WT-13."""
    gem = answered(weight="1.768 ct", length_mm=D("8"), width_mm=D("6"), depth_mm=D("4.2"))
    text = listing_of(gem, profile, shop).text
    assert text.startswith("Emerald (beryl).\n")
    for told in (
        "fissures filled with colourless oil, wax or unhardened resin (minor)", "not permanent", "needs special care",
        "affects value", "identified by the cutter by: lens 10x", "Origin: not stated", "1.76\u00a0ct, by scale",
        "8.00 × 6.00 × 4.20\u00a0mm", "Pictures are not to scale: the stone measures", "No ultrasonic, no steam",
        "not a laboratory report", gem.code,
    ):  # fmt: skip
        assert told in text, told


@pytest.mark.parametrize(
    ("nature", "first"),
    [("grown", "Laboratory-grown emerald (beryl)."), ("imitation", "Imitation emerald: glass.")],
)
def test_what_was_made_is_called_so_wherever_the_listing_names_it(shop, nature, first):
    """16 CFR 23.25(b): immediately before the name, every time; the species line too."""
    gem = answered(treatments=())
    say(
        gem.stone,
        "nature",
        5,
        nature=nature,
        words="glass" if nature == "imitation" else "",
        said_on=DAY,
        how="no. 9",
    )
    say(gem.stone, "treatment", 3, treated="untreated", how="lens")
    found = listing_of(FinishedGem.objects.get(pk=gem.pk), Profile.STRICT, shop)
    assert found.blocks == [] and found.text.startswith(first)
    for line in found.text.lower().splitlines():
        if "emerald" in line:
            assert "laboratory-grown emerald" in line or "imitation emerald" in line, line


def test_no_listing_while_a_question_is_open_or_a_word_breaks_a_rule(shop):
    gem = make_gem()
    assert (
        listing_of(gem, Profile.STRICT, shop).text == "" and listing_of(gem, Profile.STRICT, shop).questions
    )
    bad = answered(clarity="flawless")
    found = listing_of(bad, Profile.US, shop)
    assert found.text == "" and found.blocks[0].rule.startswith("16 CFR 23.28")


def test_the_page_of_the_listing_gives_it_to_copy_and_says_why(client, owner):
    gem = answered()
    page = client.get(reverse("gems:listing", args=[gem.code]), {"profile": "france"}).content.decode()
    assert "<textarea" in page and "readonly" in page and "France (decree 2002-65)" in page
    assert page.count("Why is this here?") >= 4
    assert "16 CFR 23.24" in page and "E3, tested here, with readings" in page and "lens 10x" in page
    german = client.get(reverse("gems:listing", args=[gem.code]), {"language": "de"})
    assert german.status_code == 200
    assert client.get(reverse("gems:listing", args=[gem.code]), {"profile": "mars"}).status_code == 422
    assert client.get(reverse("gems:listing", args=["G-9999"])).status_code == 404


def test_each_line_of_a_paper_opens_to_its_rule_and_statement(client, owner):
    """Issue 5, item 2: every sentence can be asked why it is here."""
    paper = issue(answered())
    page = client.get(paper.get_absolute_url()).content.decode()
    lines = json.loads(paper.content)["lines"]
    assert page.count("Why is this here?") == len(lines)
    assert "Said by <bdi>" in page and "No statement answers it" in page, "the origin nobody stated"


# --- Trade letters (T10 to T13) ----------------------------------------------------------------------------------------


def test_letters_stand_beside_plain_words_with_their_edition(shop):
    """T12, T13: gemsociety.org on codes; the AGTA list in several editions."""
    paper = issue(answered(), trade_code=TradeCode("O", "2014"))
    (line,) = [fact["text"] for fact in json.loads(paper.content)["facts"] if fact["label"] == "Trade code"]
    assert line.startswith("O: fissures filled") and "edition 2014" in line


@pytest.mark.parametrize(
    ("letters", "edition"),
    [("O", ""), ("V", "2014"), ("H", "2014"), ("N", "2014"), ("O N", "2014"), ("SYN", "2014")],
)
def test_letters_without_edition_of_no_list_or_untrue_stop_the_card(shop, letters, edition):
    """T10, T11; CL-05; 16 CFR 23.1: no untrue word, a letter neither."""
    with pytest.raises(WordsRefused):
        issue(answered(), trade_code=TradeCode(letters, edition))


def test_the_form_asks_for_the_edition(client, owner):
    gem = answered()
    url = reverse("gems:issue_card", args=[gem.code])
    sent = {
        "picture": "outline",
        "sizes": ["a6"],
        "profile": "strict",
        "language": "en",
        "code": "o",
        "once": "k1",
    }
    answer = client.post(url, sent)
    assert answer.status_code == 422 and "Name the edition" in answer.content.decode()


# --- Oil at the bench ---------------------------------------------------------------------------------------------------


def test_oil_left_by_the_cutter_is_stated_in_the_cutters_name(shop):
    """A cutter who oils has treated: cdgemtestinglab.com; the washed-out emerald: trade practice, gemsociety.org."""
    gem = answered(treatments=())
    say(gem.stone, "treatment", 5, treated="untreated", said_by="LAB", how="no. 7")
    assert "no indication" in what_may_be_said(FinishedGem.objects.get(pk=gem.pk)).treatments[0].text
    stones.say_filled(
        gem.stone, "cedar oil, two fissures at the girdle", said_by="Oona Alder", by=None, at=NOON
    )
    said = what_may_be_said(FinishedGem.objects.get(pk=gem.pk))
    assert said.treatments[0].text.startswith("fissures filled") and "cedar oil" in said.treatments[0].basis
    assert not any("no indication" in line.text for line in said.treatments)
    assert said.facts.untreated_evidence == -1


def test_a_laboratorys_treatment_stays_beside_later_oil(shop):
    """LM-06: a report speaks of its day; what was found then is still true, what was done since is told too."""
    gem = answered("corundum-ruby", treatments=())
    say(gem.stone, "treatment", 5, treated="treated", treatments=["heat"], said_by="LAB", how="no. 7")
    stones.say_filled(
        gem.stone, "paraffin, minor", said_by="Oona Alder", by=None, at=NOON + timedelta(days=1)
    )
    texts = " / ".join(line.text for line in what_may_be_said(FinishedGem.objects.get(pk=gem.pk)).treatments)
    assert "heated" in texts and "fissures filled" in texts


def test_oil_without_saying_which_is_refused(shop):
    with pytest.raises(DeedRefused):
        stones.say_filled(make_gem().stone, "  ", said_by="", by=None, at=NOON)


def test_a_recut_reopens_the_question_even_after_a_report(shop):
    """T17: LM-06 (SSEF); the course text on shallow diffusion."""
    gem = answered()
    back = actions.send_back(gem, to="off_dop", reason="a scratch", by=None, at=NOON + timedelta(days=1))
    assert back.treatment_asked_at
    again = actions.finish_gem(
        back, measured_as(gem, "1.70 ct"), by=None, at=NOON + timedelta(days=2), sure=True
    )
    assert open_questions(again) == ["treatment"]
    with pytest.raises(QuestionOpen):
        issue(again)


def measured_as(gem, weight):
    names = ("length_mm", "width_mm", "depth_mm", "shape", "colour", "cut", "clarity")
    return actions.Measured(weight=parse_weight(weight), **{name: getattr(gem, name) for name in names})


# --- Truth in numbers -----------------------------------------------------------------------------------------------------


def test_a_gem_weighed_again_after_a_recut_says_the_new_weight_and_keeps_the_old(shop):
    """Issue 5, item 4: the last off-the-dop weighing; older values stay in the record."""
    gem = answered(weight="1.999 ct")
    first = issue(gem)
    back = actions.send_back(gem, to="off_dop", reason="a scratch", by=None, at=NOON + timedelta(days=1))
    again = actions.finish_gem(
        back, measured_as(gem, "1.768 ct"), by=None, at=NOON + timedelta(days=2), sure=True
    )
    stone = Stone.objects.get(pk=gem.stone_id)
    assert (
        again.weight_ct
        == stone.weight_ct
        == stone.weighings.filter(counts=True).order_by("-order")[0].weight_ct
    )
    first.refresh_from_db()
    assert not first.stands and json.loads(first.content)["weight_ct"] == "2.00"
    assert FinishedGem.objects.get(pk=gem.pk).weight_ct == D("1.999")


def test_a_reading_on_the_dop_never_becomes_a_weight(shop):
    """Common practice, no source: dop and wax weigh too."""
    gem = answered(weight="1.768 ct")
    back = actions.send_back(
        gem, to="second_polished", reason="a scratch", by=None, at=NOON + timedelta(days=1)
    )
    with pytest.raises(DeedRefused, match="dop"):
        stones.record_weight(back, parse_weight("1.70 ct"), by=None, at=NOON + timedelta(days=2))
    stones.note_dop_reading(back, "9.31 ct with dop", by=None, at=NOON + timedelta(days=2))
    assert Stone.objects.get(pk=back.pk).weight_ct == D("1.768")


def test_a_finished_gems_weighing_is_not_corrected_behind_its_papers(shop):
    """A paper stands on it: the gem goes back to the scale, its papers void."""
    gem = answered(weight="1.768 ct")
    with pytest.raises(DeedRefused, match="finished"):
        stones.correct_weight(
            gem.stone.weighings.filter(counts=True).order_by("-order")[0], parse_weight("1.70 ct"), reason="slip",
            by=None, at=NOON,
        )  # fmt: skip


def test_a_total_adds_what_was_weighed_and_is_stated_once():
    """Section 2 of the house's list, WT-04: three of 0.478 ct are 1.434 ct, stated 1.43; added stated ones say 1.41."""
    parts = [D("0.478")] * 3
    assert state_total(parts) == D("1.43") != sum(state_weight(part) for part in parts)
    assert state_total([D("0.009")] * 10) == D("0.09")


@pytest.mark.parametrize(
    ("shape", "typed", "kept"),
    [
        ("oval", ("6", "8"), ("8", "6")),  # longest dimension first
        ("marquise", ("4", "8"), ("8", "4")),
        ("round", ("8.20", "8.31"), ("8.31", "8.20")),
        ("heart", ("5.8", "6.4"), ("5.8", "6.4")),  # point to lobes may be shorter than across them
        ("triangle", ("6.02", "6.96"), ("6.02", "6.96")),  # altitude and side
        ("pear", ("6", "6.2"), ("6", "6.2")),  # along its axis
    ],
)
def test_length_and_width_follow_the_outline(shape, typed, kept):
    """WT-14a: AGL Thai, measurement, http://aglthai.com/measurement.php."""
    assert in_order(shape, *map(D, typed)) == tuple(map(D, kept))
    assert how_measured(shape)


def test_a_heart_and_a_triangle_say_how_they_are_measured():
    """WT-14a."""
    assert "across the lobes" in how_measured(Shape.HEART) and "far point" in how_measured(Shape.TRIANGLE)


def test_a_triangles_card_prints_altitude_then_side(shop):
    gem = answered(shape="triangle", length_mm=D("6.02"), width_mm=D("6.96"), depth_mm=D("4.04"))
    facts = {fact["label"]: fact["text"] for fact in json.loads(issue(gem).content)["facts"]}
    assert facts["Size"] == "6.02 × 6.96 × 4.04\u00a0mm"


@pytest.mark.parametrize(
    ("key", "weight", "warns"),
    [
        (
            "corundum-sapphire-blue",
            "1.55",
            False,
        ),  # 8 × 6 × 4.0 mm oval: 8*6*4*.0020*4.00 = 1.54 ct (IGS constant)
        ("opal-precious", "1.55", True),  # opal of that size: some 0.8 ct
        ("corundum-sapphire-blue", "15.5", True),  # a point ten times off
        ("corundum-sapphire-blue", "0.155", True),
    ],
)
def test_a_wrong_species_or_a_slipped_point_does_not_bear_out_the_size(shop, key, weight, warns):
    """Volume times SG: https://www.gemsociety.org/article/estimating-gem-weight/."""
    sides = (D("8"), D("6"), D("4"))
    doubts = list(
        doubts_about(
            "oval", sides, weight_ct=D(weight), last_ct=D(weight), material=Material.objects.get(key=key)
        )
    )
    assert any(field == "depth_mm" for field, _ in doubts) is warns


def test_the_doubt_is_asked_at_the_scale_and_stands_on_the_preview(shop):
    gem = answered("opal-precious", treatments=("impreg",), weight="3.10 ct")
    assert any(found.rule == "published weight constants" for found in what_may_be_said(gem).findings)
    back = actions.send_back(gem, to="off_dop", reason="a scratch", by=None, at=NOON + timedelta(days=1))
    wrong = replace(measured_as(gem, "0.30 ct"))
    with pytest.raises(PleaseConfirm):
        actions.finish_gem(back, wrong, by=None, at=NOON + timedelta(days=2))


def test_a_coarse_scale_states_no_finer(shop):
    shop.scale_step_ct = D("0.1")
    shop.save()
    assert "1.7\u00a0ct, by scale" in listing_of(answered(weight="1.768 ct"), Profile.STRICT, Shop.the()).text


def test_an_answered_gem_lists_in_every_profile(shop):
    gem = make_answered_gem()
    for profile in EVERY:
        assert listing_of(gem, profile, shop).text, profile
