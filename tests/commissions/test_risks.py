"""The risks put before a client: each follows from a row of the handbook's tables, from what was seen, or from the job."""

from decimal import Decimal

import pytest

from tests.commissions.intakes import SITE, make_enquiry, make_intake, make_photo, mark, piece
from tests.makers import DAY, NOON, make_shop, somebody
from workshop.commissions.actions import commissions
from workshop.commissions.models import OffCuts
from workshop.commissions.risks import CHECK_LAW, Subject, risk_topics, risks_of, subject_of, subject_of_piece
from workshop.handbook import tables
from workshop.materials.models import Material
from workshop.rough import actions as rough


def of(key, **said):
    row = tables.material(key) if key else None
    material = Material(key=key, name=row.name, species=row.species, variety=row.variety) if row else None
    return risks_of(Subject(material=material, **said))


def words(risks, topic):
    return " ".join(risk.words for risk in risks if risk.topic == topic)


# --- Species ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "says"),
    [
        # Perfect basal cleavage of topaz, prismatic of spodumene, two of feldspar: any mineralogy table, e.g.
        # Important gemstones (table), Universalium <https://universalium.en-academic.com/295410/Important_gemstones>.
        ("topaz-colourless-and-blue", "splits easily along its cleavage (perfect, one direction, basal)"),
        ("zoisite-tanzanite", "splits easily along its cleavage (perfect, one direction)"),
        ("spodumene-kunzite", "splits easily along its cleavage (perfect, two directions"),
        ("feldspar-moonstone", "splits easily along its cleavage (perfect, two directions"),
        ("cordierite-iolite", "may split along its cleavage (distinct, one direction)"),
        ("corundum-ruby", "has no true cleavage but may part"),
    ],
)
def test_cleavage_is_told_by_its_degree(key, says):
    told = words(of(key), "cleavage")
    assert says in told
    assert "{" not in told


@pytest.mark.parametrize(
    "key", ["quartz-amethyst", "beryl-emerald", "garnet-pyrope", "jadeite-jadeite-jade", "opal-precious"]
)
def test_indistinct_hidden_or_no_cleavage_is_no_topic(key):
    assert words(of(key), "cleavage") == ""


def test_every_material_with_a_perfect_cleavage_says_so_and_no_other():
    told = {row.key for row in tables.materials() if "splits easily" in words(of(row.key), "cleavage")}
    assert told == {
        row.key for row in tables.materials() if "perfect" in row.cleavage and "hidden" not in row.cleavage
    }
    assert len(told) > 20


@pytest.mark.parametrize(
    ("key", "says"),
    [
        ("zoisite-tanzanite", "avoid thermal shock"),
        ("opal-precious", "crazes on drying or heat"),
        ("topaz-imperial-pink", "high heat or a sudden change can break it"),
        ("olivine-peridot", "fast or uneven heat fractures it"),
        ("quartz-amethyst", "strong heating takes the colour"),
    ],
)
def test_heat_is_told_in_the_words_of_the_care_table(key, says):
    risks = of(key)
    assert says in words(risks, "heat")
    assert any(says in row.heat for row in tables.care_for(tables.material(key)))
    assert next(risk for risk in risks if risk.topic == "heat").source


def test_an_unfilled_ruby_does_not_mind_the_bench_but_a_filled_one_does():
    assert words(of("corundum-ruby"), "heat") == ""
    assert "a torch destroys the filler" in words(of("corundum-ruby", treatments=("leadglass",)), "heat")


def test_a_liquid_inclusion_matters_once_it_was_seen():
    assert "burst" not in " ".join(risk.words for risk in of("garnet-tsavorite"))
    seen = of("beryl-aquamarine", seen="two-phase inclusion near the culet")
    assert "may burst when the stone is warmed" in words(seen, "fluids")


# --- Treatment -------------------------------------------------------------------------------------------------------


def test_an_emerald_told_to_be_oiled_may_lose_its_oil():
    """One cutter was sued over an emerald whose oil washed out (Repair work on gemstones
    <https://www.gemsociety.org/article/repair-work-gemstones/>)."""
    told = words(of("beryl-emerald", treated="treated", treatments=("oil",), work="recut"), "treatment")
    assert tables.treatment("oil").words in told
    assert tables.treatment("oil").permanence in told
    assert "may open, empty or harm it" in told
    assert "not tested" not in told


def test_diffused_colour_may_be_cut_through():
    """The colour lies in a layer that recutting or repolishing takes off (Disclosure
    <http://www.themelis.com/Disclosure.htm>)."""
    told = words(
        of("corundum-sapphire-blue", treated="treated", treatments=("diff_shallow",), work="recut"),
        "treatment",
    )
    assert "lost on recutting or repolishing" in told
    assert "may take it off or cut through it" in told


def test_a_heated_stone_has_nothing_the_lap_can_lose():
    risks = of("corundum-sapphire-blue", treated="treated", treatments=("heat",))
    assert words(risks, "treatment") == ""


@pytest.mark.parametrize("answer", ["", "not_tested"])
def test_what_nobody_tested_names_what_is_usual(answer):
    told = words(of("beryl-emerald", treated=answer), "treatment")
    assert "was not tested" in told
    for one in ("oiling", "resin filling", "fracture filling"):
        assert one in told
        assert one in tables.material("beryl-emerald").common_treatments


def test_said_to_be_untreated_stays_a_saying():
    told = words(of("beryl-emerald", treated="untreated"), "treatment")
    assert "It is said to be untreated, which was not tested here." in told
    assert "oiling" in told


def test_heating_alone_is_not_among_what_work_can_undo():
    told = words(of("zoisite-tanzanite"), "treatment")
    assert "coating" in told
    assert "heating" not in told


# --- Condition -------------------------------------------------------------------------------------------------------


def test_what_was_seen_is_told_back_and_what_was_denied_is_not():
    risks = of("beryl-emerald", seen="no chips, fissure reaching the table; old glue on the pavilion")
    assert "fissure reaching the table" in words(risks, "fissures")
    assert "old glue" in words(risks, "glue")
    assert words(risks, "chips") == ""


# --- The job ---------------------------------------------------------------------------------------------------------

ALWAYS = {"breakage", "weight", "colour", "stop and ask", "delay", "liability"}


@pytest.mark.parametrize("work", ["cut_client", "recut", "repolish", "repair", "cut_own", "match"])
def test_every_job_has_its_topics_each_with_reason_and_source(work):
    risks = of("beryl-emerald", work=work)
    assert {risk.topic for risk in risks} >= ALWAYS
    for risk in risks:
        assert risk.words.endswith(".")
        assert risk.why
        assert risk.source
    clients = {"off-cuts", "insurance", "ownership", "uncollected"}
    assert (clients <= {risk.topic for risk in risks}) == (work not in {"cut_own", "match"})


def test_a_report_that_was_left_is_named_for_any_work_and_a_recut_without_one_still_warned():
    left = of("corundum-ruby", work="cut_client", laboratory_report="Invented Laboratory 12")
    assert "Invented Laboratory 12" in words(left, "laboratory report")
    assert words(of("corundum-ruby", work="recut"), "laboratory report")
    assert words(of("corundum-ruby", work="cut_client"), "laboratory report") == ""


def test_the_agreed_weight_is_told():
    told = words(of("corundum-ruby", floor_ct=Decimal("1.9"), loss_percent=Decimal(20)), "weight")
    assert "1.900\xa0ct" in told
    assert "20.0\xa0%" in told
    assert "no least acceptable weight is agreed" in words(of("corundum-ruby"), "weight")


@pytest.mark.parametrize("choice", list(OffCuts))
def test_off_cuts_go_where_it_was_agreed(choice):
    told = words(of("corundum-ruby", off_cuts=choice), "off-cuts")
    assert {"back": "go back to you", "shop": "stay with the workshop", "payment": "part of the payment"}[
        choice
    ] in told


def test_liability_defers_to_local_law():
    risk = next(risk for risk in of("corundum-ruby") if risk.topic == "liability")
    assert "local law" in risk.words
    assert risk.why == CHECK_LAW


def test_a_stone_nobody_named_is_not_judged():
    assert "has not been settled" in words(of(None), "species")
    assert words(of(None), "cleavage") == ""


def test_a_material_of_the_shops_own_brings_its_own_words():
    own = Material(
        key="own-hambergite", name="hambergite", species="hambergite", cleavage="perfect, one direction",
        heat_care="keep it cool.", usual_treatments="coating", source="bench notes",
    )  # fmt: skip
    risks = risks_of(Subject(material=own))
    assert "Hambergite splits easily" in words(risks, "cleavage")
    assert "keep it cool" in words(risks, "heat")
    assert "coating" in words(risks, "treatment")


# --- From the rows ---------------------------------------------------------------------------------------------------


@pytest.mark.django_db
class TestFromTheRows:
    @pytest.fixture(autouse=True)
    def shop(self):
        make_shop(base_url=SITE)

    def test_a_piece_with_nothing_taken_in_goes_by_what_is_wished(self):
        commission = make_enquiry("cut_own")
        item = commissions.change_item(
            commission.items.get(),
            commissions.ItemSpec(work="cut_own", wanted="a topaz", material=Material.objects.get(key="topaz-imperial-pink"),
                                 least_ct=Decimal(2), most_ct=Decimal(3)),
            by=somebody(), at=NOON,
        )  # fmt: skip
        told = " ".join(risk_topics(item))
        assert "splits easily" in told
        assert "2.000\xa0ct to 3.000\xa0ct" in told
        assert "go back to you" not in told

    def test_what_was_taken_in_for_a_piece_is_what_its_risks_are_about(self):
        commission = make_enquiry("recut")
        item = commission.items.get()
        intake = make_intake(
            piece(item=item, told_material="beryl-emerald", told_treatment="treated", told_treatments=("oil",),
                  floor_ct=Decimal(5)),
            commission=commission, insured_by="Harbour Mutual",
        )  # fmt: skip
        row = intake.pieces.get()
        mark(make_photo(row), "fissure at the corner")
        told = " ".join(risk_topics(item))
        for said in (
            "fissures filled with colourless oil",
            "5.000\xa0ct",
            "fissure at the corner",
            "Harbour Mutual",
        ):
            assert said in told
        assert subject_of(item).material == subject_of_piece(row).material

    def test_a_test_made_here_outweighs_what_the_client_said(self):
        row = make_intake(piece(told_material="beryl-emerald")).pieces.get()
        glass = Material.objects.get(key="glass-crown-borosilicate-and-soda-lime")
        rough.state_about_lot(
            row.lot,
            {"question": "species", "material": glass, "evidence": 3, "how": "RI 1.52, singly refractive",
             "said_by": "the cutter", "said_on": DAY},
            by=somebody(), at=NOON,
        )  # fmt: skip
        row.refresh_from_db()
        assert subject_of_piece(row).material == glass
