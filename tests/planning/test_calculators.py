"""Each calculator against a published figure, with its source beside it, and what it refuses."""

import re
from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from workshop.planning.views.calculators import CALCULATORS


def ask(client, name, **said):
    return client.get(f"/planning/calculators/{name}/?{urlencode(said)}")


def errors_of(answer):
    return {name: list(said) for name, said in answer.context["form"].errors.items()}


def words_of(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode())).replace("\u00a0", " ")


def test_the_index_leads_to_each(as_owner, shop):
    text = as_owner.get("/planning/calculators/").content.decode()
    assert all(f"/planning/calculators/{name}/" in text for name in CALCULATORS)


@pytest.mark.parametrize("name", CALCULATORS)
def test_each_shows_its_form_with_a_caution_and_keeps_nothing(as_owner, shop, name):
    answer = as_owner.get(f"/planning/calculators/{name}/")
    assert answer.status_code == 200
    assert "Plans, not promises" in answer.content.decode() and "answered" not in answer.context
    assert as_owner.post(f"/planning/calculators/{name}/").status_code == 405


@pytest.mark.parametrize("name", CALCULATORS)
def test_each_asked_for_nothing_says_what_is_missing(as_owner, shop, name):
    form = CALCULATORS[name].form
    blank = dict.fromkeys(form.base_fields, "")
    answer = ask(as_owner, name, **blank)
    assert answer.status_code == 422 and answer.context["form"].errors


def test_no_such_calculator(as_owner, shop):
    assert as_owner.get("/planning/calculators/horoscope/").status_code == 404


@pytest.mark.parametrize("name", [name for name in CALCULATORS if name != "buying"])
def test_none_asks_the_shop_s_records(as_owner, shop, name):
    """Session, the hand, the shop and the running clock of the page's frame are all that is read."""
    page = f"/planning/calculators/{name}/"
    as_owner.get(page)  # the first page of a visit also notes when it began
    with CaptureQueriesContext(connection) as form_alone:
        as_owner.get(page)
    with CaptureQueriesContext(connection) as index:
        as_owner.get("/planning/calculators/")
    assert len(form_alone) == len(index)


class TestIdentify:
    ELBAITE = {"ri_low": "1.624", "ri_high": "1.644", "ri_within": "0.002", "sg": "3.06", "sg_within": "0.02"}

    def test_tourmaline_s_figures_name_tourmaline_first(self, as_owner, shop):
        found = ask(as_owner, "identify", **self.ELBAITE).context["found"]
        assert found.candidates[0].species == "tourmaline"

    def test_none_is_an_answer(self, as_owner, shop):
        answer = ask(as_owner, "identify", **(self.ELBAITE | {"sg": "7"}))
        assert answer.status_code == 200
        assert answer.context["found"].candidates == ()
        assert "None of the table" in words_of(answer)

    def test_contradicting_readings_are_told_and_name_nothing(self, as_owner, shop):
        answer = ask(as_owner, "identify", **(self.ELBAITE | {"ri_low": "1.70"}))
        assert "contradict each other" in words_of(answer)
        assert answer.context["found"].candidates == ()

    def test_one_reading_alone_leaves_several(self, as_owner, shop):
        """Corundum 1.762, and what shares it; a single index proves no species."""
        found = ask(as_owner, "identify", ri="1.762", ri_within="0.002").context["found"]
        assert "corundum" in {one.species for one in found.candidates}
        assert len(found.candidates) > 3 and found.next_reading

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"ri": "1.2", "ri_within": "0.01"}, "ri"),
            ({"ri": "3.6", "ri_within": "0.01"}, "ri"),
            ({"ri": "1.6"}, "ri_within"),
            ({"ri": "1.6", "ri_within": "0"}, "ri_within"),
            ({"sg": "0.2", "sg_within": "0.01"}, "sg"),
            ({"sg": "abc", "sg_within": "0.01"}, "sg"),
            ({"optic": "triaxial"}, "optic"),
            ({"ri_within": "0.002"}, "__all__"),
        ],
    )
    def test_refusals(self, as_owner, shop, said, field):
        answer = ask(as_owner, "identify", **said)
        assert answer.status_code == 422 and field in errors_of(answer)


class TestDensity:
    WADE = {"air": "4.02", "water": "3.32", "wire": "0.30", "step": "0.01", "celsius": "4", "within": "0"}

    def test_wade_s_example(self, as_owner, shop):
        """4.02 ct, 3.32 with a wire of .30: SG 4.02 (F. B. Wade, A Text-Book of Precious Stones, lesson 4)."""
        answer = ask(as_owner, "density", **self.WADE)
        assert answer.context["value"] == pytest.approx(Decimal("4.02"), abs=Decimal("0.0005"))
        assert "corundum" in {row.species for row in answer.context["near"]}

    def test_the_step_of_the_balance_is_the_uncertainty(self, as_owner, shop):
        """GUM table of our notes: 3 ct at SG 4.00 on a .01 ct balance, .027 (k = 1)."""
        said = self.WADE | {"air": "3.00", "water": "2.25", "wire": "", "celsius": "4"}
        found = ask(as_owner, "density", **said).context["found"]
        assert found.from_balance == pytest.approx(0.027, abs=0.0005)

    def test_warm_water_is_allowed_for(self, as_owner, shop):
        """Water of 25 °C weighs 997.05 kg/m3, so leaving it out reads .30 % high (thoughtco.com water table)."""
        found = ask(as_owner, "density", **(self.WADE | {"celsius": "25"})).context
        assert float(found["value"]) / found["plain"] == pytest.approx(0.99705, abs=0.00002)

    def test_grams_are_read(self, as_owner, shop):
        """2.06 g displacing .76 g: 2.71 (roughcreations.com, 2019/06)."""
        said = {"air": "2.06 g", "water": "1.30 g", "step": "0.01 g", "celsius": "4", "within": "1"}
        assert ask(as_owner, "density", **said).context["value"] == pytest.approx(
            Decimal("2.71"), abs=Decimal("0.002")
        )

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"water": "5"}, "water"),
            ({"water": "0.1"}, "water"),
            ({"celsius": "60"}, "__all__"),
            ({"step": "0"}, "step"),
            ({"air": ""}, "air"),
        ],
    )
    def test_refusals(self, as_owner, shop, said, field):
        answer = ask(as_owner, "density", **(self.WADE | said))
        assert answer.status_code == 422 and field in errors_of(answer), errors_of(answer)


class TestWindow:
    def test_quartz_and_its_published_angles(self, as_owner, shop):
        """Quartz 43 (Washington; gemsociety "Choosing angles"), over its critical 40.37 by 2.63, windows at 4.07°."""
        context = ask(as_owner, "window", ri="1.544", pavilion="43").context
        assert context["critical"] == pytest.approx(40.37, abs=0.005)
        assert context["own_tilt"].tilt_deg == pytest.approx(4.07, abs=0.005)
        assert {one.angle_deg for one, _ in context["advised"]} >= {43.0}

    def test_under_the_critical_angle_it_windows_face_up(self, as_owner, shop):
        assert "window face up" in words_of(ask(as_owner, "window", ri="1.544", pavilion="40"))

    @pytest.mark.parametrize("ri", ["1.29", "3.51", "", "glass"])
    def test_an_index_no_gem_has(self, as_owner, shop, ri):
        answer = ask(as_owner, "window", ri=ri)
        assert answer.status_code == 422 and "ri" in errors_of(answer)

    def test_a_pavilion_beyond_the_formula(self, as_owner, shop):
        assert ask(as_owner, "window", ri="1.544", pavilion="75").status_code == 422


class TestTangent:
    def test_washington_s_case(self, as_owner, shop):
        """Mains 43 to 39: the facet at 57 comes to 53.21 by the ratio .868387, not to 53 (ukfcg.org)."""
        context = ask(as_owner, "tangent", angles="57 43 0 90", old="43", new="39").context
        assert context["found"].ratio == pytest.approx(0.868387, abs=1e-6)
        assert [round(new, 2) for _, new in context["lines"]] == [53.21, 39.0, 0.0, 90.0]

    def test_a_shift_of_more_than_two_degrees_is_warned_of(self, as_owner, shop):
        words = words_of(ask(as_owner, "tangent", angles="43", old="43", new="39", pavilion="on", ri="1.544"))
        assert "usually spoils" in words and "windows face-up" in words

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"old": "90"}, "old"),
            ({"new": "0"}, "new"),
            ({"angles": "95"}, "__all__"),
            ({"angles": "steep"}, "angles"),
            ({"pavilion": "on"}, "ri"),
        ],
    )
    def test_refusals(self, as_owner, shop, said, field):
        answer = ask(as_owner, "tangent", **({"angles": "43", "old": "43", "new": "42"} | said))
        assert answer.status_code == 422 and field in errors_of(answer), errors_of(answer)


class TestWheel:
    def test_seven_on_96(self, as_owner, shop):
        """Nearest teeth 0 14 27 41 55 69 82, up to 1.607° off (whole-number arithmetic, by hand in our notes)."""
        division = ask(as_owner, "wheel", teeth="96", fold="7").context["division"]
        assert division.settings == (0, 14, 27, 41, 55, 69, 82)
        assert division.greatest_error_deg == pytest.approx(1.607, abs=0.001)

    def test_what_fits_says_so(self, as_owner, shop):
        """77 divides by 7 and 11 (The Gemology Project, index gears)."""
        words = words_of(ask(as_owner, "wheel", teeth="77", fold="11"))
        assert "11 facets fall on teeth" in words

    @pytest.mark.parametrize(
        "said",
        [
            {"teeth": "2", "fold": "3"},
            {"teeth": "96", "fold": "0"},
            {"teeth": "8", "fold": "300"},
            {"teeth": "9.5", "fold": "3"},
        ],
    )
    def test_refusals(self, as_owner, shop, said):
        assert ask(as_owner, "wheel", **said).status_code == 422

    def test_settings_of_64_on_96(self, as_owner, shop):
        """Setting x 1.5, even settings only."""
        context = ask(as_owner, "settings", settings="2 10 64; 3", old="64", new="96").context
        assert [(one.old, label) for one, _, label in context["lines"]] == [
            (2, "3"),
            (10, "15"),
            (64, "96"),
            (3, "5"),
        ]
        assert not context["exact"]

    @pytest.mark.parametrize("settings", ["", "65", "-1", "3.5", "a b", " ".join(["1"] * 300)])
    def test_settings_no_wheel_has(self, as_owner, shop, settings):
        assert ask(as_owner, "settings", settings=settings, old="64", new="96").status_code == 422


class TestGirdle:
    def test_a_long_and_a_short_side(self, as_owner, shop):
        """Sum 16.0, an even side 2.0: +0.1 is 5 % long, -0.06 is 3 % short."""
        said = {"sides": "2.1 2.0 1.94 2.0 1.98 2.0 1.98 2.0", "tolerance": "2"}
        context = ask(as_owner, "girdle", **said).context
        assert [side.verdict for side, _ in context["lines"]][:3] == ["long", "even", "short"]
        assert context["smaller"] > 0
        assert all(depth >= 0 for _, depth in context["lines"])

    def test_an_even_one(self, as_owner, shop):
        context = ask(as_owner, "girdle", sides="3 3 3 3 3 3", tolerance="1").context
        assert context["balanced"] and context["smaller"] == pytest.approx(0, abs=1e-6)

    def test_against_an_outline_whose_sides_differ(self, as_owner, shop):
        context = ask(
            as_owner, "girdle", sides="9 7 9 7", tolerance="1", outline="rectangle", ratio=str(9 / 7)[:5]
        ).context
        assert context["balanced"]

    @pytest.mark.parametrize(
        "said",
        [
            {"sides": "1 2"},
            {"sides": "1 2 0"},
            {"sides": "1 2 3 4 5", "outline": "rectangle"},
            {"tolerance": "60"},
        ],
    )
    def test_refusals(self, as_owner, shop, said):
        assert ask(as_owner, "girdle", **({"sides": "3 3 3", "tolerance": "2"} | said)).status_code == 422


class TestWeight:
    DIAMOND = {
        "outline": "round", "length_mm": "6.11", "width_mm": "6.05", "depth_mm": "3.63",
        "material": "diamond-natural-or-synthetic", "sg": "", "correction": "1", "table": "57", "crown_angle": "34",
    }  # fmt: skip

    def test_the_trade_text_s_round_diamond(self, as_owner, shop):
        """6.05-6.11 x 3.63 by .0061: .8185 ct (gemgate.com, estimating mounted diamond weight, chapter 11)."""
        lines = ask(as_owner, "weight", **self.DIAMOND).context["lines"]
        assert any(line.ct == pytest.approx(Decimal("0.8185"), abs=Decimal("0.0001")) for line in lines)
        assert all(line.read_in for line in lines)
        assert sum(line.exact for line in lines) == 1

    def test_a_weighed_citrine(self, as_owner, shop):
        """Cut corners, 10.68 x 8.6 x 7.12 mm, 4.36 ct on the balance: the range holds it."""
        said = {
            "outline": "cut_corner_rectangle",
            "length_mm": "10.68",
            "width_mm": "8.6",
            "depth_mm": "7.12",
        }
        context = ask(as_owner, "weight", **(self.DIAMOND | said | {"material": "quartz-citrine"})).context
        assert context["low"] < Decimal("4.36") < context["high"]

    def test_a_bead_is_a_sphere(self, as_owner, shop):
        """pi/6 D^3 x SG / 200 for 8 mm at 2.65: 3.552 ct."""
        said = {
            "outline": "bead",
            "length_mm": "8",
            "width_mm": "8",
            "depth_mm": "8",
            "material": "",
            "sg": "2.65",
        }
        (line,) = ask(as_owner, "weight", **(self.DIAMOND | said)).context["lines"]
        assert line.ct == pytest.approx(Decimal("3.552"), abs=Decimal("0.001"))

    @pytest.mark.parametrize(
        "outline",
        ["kite", "shield", "polygon", "heart", "triangle", "pear", "marquise", "cabochon", "briolette"],
    )
    def test_every_shape_gets_an_answer(self, as_owner, shop, outline):
        said = {
            "outline": outline,
            "length_mm": "9",
            "width_mm": "7",
            "depth_mm": "4",
            "material": "",
            "sg": "3",
        }
        answer = ask(as_owner, "weight", **(self.DIAMOND | said))
        assert answer.status_code == 200 and answer.context["lines"]

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"depth_mm": "0"}, "depth_mm"),
            ({"width_mm": "-3"}, "width_mm"),
            ({"material": ""}, "sg"),
            ({"correction": "2"}, "correction"),
            ({"crown_angle": "91"}, "crown_angle"),
            ({"width_mm": "3"}, "__all__"),  # no round is 6.11 x 3
        ],
    )
    def test_refusals(self, as_owner, shop, said, field):
        answer = ask(as_owner, "weight", **(self.DIAMOND | said))
        assert answer.status_code == 422 and field in errors_of(answer), errors_of(answer)


class TestGrit:
    @pytest.mark.parametrize(
        ("label", "standard", "microns"),
        [("1200", "jis", 9.5), ("P1200", "fepa_p", 15), ("1000", "cami", 10.3), ("#8000", "jis", 1.2)],
    )
    def test_published_sizes(self, as_owner, shop, label, standard, microns):
        """JIS R 6001:1987 (evers.c.ooco.jp/JIS.html); CAMI and FEPA P (sizes.com/tools/sandpaper.htm)."""
        found = ask(as_owner, "grit", label=label, standard=standard).context["found"]
        assert microns in [one.microns for one, _ in found]

    def test_one_name_is_several_grains(self, as_owner, shop):
        near = ask(as_owner, "grit", label="", standard="jis", microns="15").context["near"]
        assert {standard for _, standard in near} >= {"FEPA P", "CAMI"}

    @pytest.mark.parametrize(
        "said",
        [
            {"label": "soft"},
            {"label": "1201", "standard": "jis"},
            {"label": "P1200", "standard": "jis"},
            {"microns": "0"},
        ],
    )
    def test_refusals(self, as_owner, shop, said):
        assert (
            ask(as_owner, "grit", **({"label": "", "standard": "diamond", "microns": ""} | said)).status_code
            == 422
        )


class TestBuying:
    PARCEL = {
        "weight": "2 g", "price": "80", "extras": "", "stones": "1", "low": "20", "middle": "30", "high": "33",
        "hours": "0", "rate": "45", "fee": "0", "margin": "0",
    }  # fmt: skip

    def test_the_published_tourmaline(self, as_owner, shop):
        """10 ct at $8 are $80; 30 % are 3 ct; $26.66 a finished carat (gemsociety.org, Figuring rough cost)."""
        lines = ask(as_owner, "buying", **self.PARCEL).context["lines"]
        expected = next(line for line in lines if line.name == "expected")
        assert expected.finished_ct == 3
        assert expected.rough_per_ct == pytest.approx(Decimal("26.66"), abs=Decimal("0.01"))

    def test_a_careful_buyer_pays_per_gram_what_a_carat_costs(self, as_owner, shop):
        """At 20 % a gram gives one carat, so the price per gram is the cost per finished carat (same source)."""
        context = ask(as_owner, "buying", **self.PARCEL).context
        assert context["lines"][0].rough_per_ct == context["per_gram"] == 40

    def test_hours_fees_and_margin(self, as_owner, shop):
        """(80 + 3 x 45) / (1 - 5 % - 20 %) = 286.67."""
        context = ask(
            as_owner, "buying", **(self.PARCEL | {"hours": "3", "fee": "5", "margin": "20"})
        ).context
        assert context["needed"] == Decimal("286.67")
        assert context["labour"] == Decimal("135.00")

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"low": "40"}, "middle"),
            ({"low": "0"}, "middle"),
            ({"fee": "60", "margin": "40"}, "margin"),
            ({"weight": "0"}, "weight"),
            ({"price": "-1"}, "price"),
            ({"stones": "0"}, "stones"),
        ],
    )
    def test_refusals(self, as_owner, shop, said, field):
        answer = ask(as_owner, "buying", **(self.PARCEL | said))
        assert answer.status_code == 422 and field in errors_of(answer), errors_of(answer)

    def test_a_hand_does_not_see_it(self, as_hand, as_reader, shop):
        assert ask(as_hand, "buying", **self.PARCEL).status_code == 403
        assert "buying" not in as_hand.get("/planning/calculators/").content.decode()
        assert ask(as_reader, "buying", **self.PARCEL).status_code == 200
