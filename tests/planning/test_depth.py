"""The depth budget: figures against the closed forms of a round, light before and after, refusals."""

import base64
import io
import math
from decimal import Decimal
from urllib.parse import urlencode

import pytest
from PIL import Image

from workshop.planning.models import CutPlan

SAID = {
    "outline": "round", "style": "", "sides": "8", "length_mm": "10", "width_mm": "10", "shallow_mm": "6.2",
    "lost_mm": "0.2", "crown_angle": "34", "pavilion_angle": "42", "table": "57", "girdle": "3", "material": "",
    "ri": "1.544", "sg": "2.65",
}  # fmt: skip


def ask(client, **said):
    return client.get("/planning/depth/?" + urlencode(SAID | said))


def errors_of(answer):
    return {name: list(said) for name, said in answer.context["form"].errors.items()}


def ways_of(answer):
    return {way.label.split(",")[0]: way for way in answer.context["ways"]}


def test_the_form_alone(as_owner, shop):
    answer = as_owner.get("/planning/depth/")
    assert answer.status_code == 200 and "budget" not in answer.context


def test_a_quartz_round_too_deep_by_the_closed_form(as_owner, shop):
    """Crown 21.5 % x tan 34, girdle 3 %, pavilion 50 % x tan 42 of 10 mm: 6.2523 mm against 6.00."""
    answer = ask(as_owner)
    budget = answer.context["budget"]
    depth = 2.15 * math.tan(math.radians(34)) + 0.3 + 5 * math.tan(math.radians(42))
    assert float(budget.planned.depth_mm) == pytest.approx(depth, abs=0.005)
    assert float(budget.over_mm) == pytest.approx(depth - 6.0, abs=0.006)
    assert "Too deep by" in answer.content.decode()


def test_the_ways_that_fit(as_owner, shop):
    ways = ways_of(ask(as_owner))
    flatter = math.degrees(math.atan((6.0 - 0.3 - 2.15 * math.tan(math.radians(34))) / 5))
    assert ways["Flatter pavilion"].pavilion_deg == pytest.approx(flatter)
    assert all(way.fits for label, way in ways.items() if label != "As planned")
    assert not ways["As planned"].fits
    # Smaller with the angles kept: the light stays, the width goes with the depth.
    assert float(ways["Smaller"].width_mm) == pytest.approx(10 * 6.0 / 6.2523, abs=0.02)
    assert ways["Smaller"].face_up.leaked == ways["As planned"].face_up.leaked


def test_margin_and_tilt_are_the_published_and_derived_ones(as_owner, shop):
    """Critical angle of quartz 40.37°; 42° windows from 2.52° of tilt (derived, checked by brute-force rays)."""
    window = ways_of(ask(as_owner))["As planned"].window
    assert window.margin_deg == pytest.approx(42 - 40.37, abs=0.01)
    assert window.tilt_deg == pytest.approx(2.52, abs=0.01)


def test_a_pavilion_under_the_critical_angle_is_seen_through(as_owner, shop):
    ways = ways_of(ask(as_owner, shallow_mm="5.6"))
    planned, flatter = ways["As planned"], ways["Flatter pavilion"]
    assert flatter.window.margin_deg < 0 and flatter.window.tilt_deg == 0
    assert flatter.face_up.window > 20 > planned.face_up.window


def test_shares_of_light_add_up_to_the_whole(as_owner, shop):
    for way in ask(as_owner).context["ways"]:
        light = way.face_up
        whole = light.returned + light.leaked + light.dark + light.glare
        assert whole == pytest.approx(Decimal(100), abs=Decimal("0.6"))


def test_the_pictures_stand_in_the_page_and_are_pictures(as_owner, shop):
    answer = ask(as_owner)
    for way in answer.context["ways"]:
        head, _, body = way.face_up.picture.partition(",")
        picture = Image.open(io.BytesIO(base64.b64decode(body)))
        assert head == "data:image/png;base64"
        assert picture.size == (120, 120) and picture.mode == "LA"
        # A round fills pi/4 of its square; beside it the picture is clear.
        opaque = sum(1 for alpha in picture.getchannel("A").tobytes() if alpha) / 120**2
        assert opaque == pytest.approx(math.pi / 4, abs=0.01)
    assert "img-src" in answer["Content-Security-Policy"] and "data:" in answer["Content-Security-Policy"]


def test_what_fits_says_so_and_how_steep_it_may_be(as_owner, shop):
    answer = ask(as_owner, shallow_mm="7.5")
    ways = ways_of(answer)
    assert "It fits" in answer.content.decode()
    assert ways["Flatter pavilion"].pavilion_deg > 42 and "Smaller" not in ways


def test_a_step_cut_is_budgeted_too(as_owner, shop):
    answer = ask(as_owner, outline="cut_corner_rectangle", length_mm="12", width_mm="9", shallow_mm="6.2")
    assert answer.status_code == 200
    assert all(way.fits for way in answer.context["ways"][1:])


def test_a_material_fills_in_index_and_gravity(as_owner, shop):
    answer = ask(as_owner, material="topaz-colourless-and-blue", ri="", sg="")
    assert answer.context["form"].cleaned_data["ri"] == Decimal("1.606")


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"crown_angle": "90"}, "crown_angle"),
        ({"pavilion_angle": "0"}, "pavilion_angle"),
        ({"pavilion_angle": "steep"}, "pavilion_angle"),
        ({"ri": "1.29"}, "ri"),
        ({"ri": "3.51"}, "ri"),
        ({"ri": "", "material": ""}, "ri"),
        ({"material": "unobtainium"}, "material"),
        ({"shallow_mm": "0"}, "shallow_mm"),
        ({"shallow_mm": "0.2"}, "lost_mm"),
        ({"length_mm": "14"}, "__all__"),  # no round is 14 x 10
        ({"length_mm": "900"}, "__all__"),
        ({"girdle": "0"}, "__all__"),  # crown through pavilion
        ({"table": "99"}, "table"),
        ({"outline": "blob"}, "outline"),
    ],
)
def test_refusals_stand_beside_their_field(as_owner, shop, said, field):
    answer = ask(as_owner, **said)
    assert answer.status_code == 422
    assert field in errors_of(answer), errors_of(answer)


def test_crown_through_pavilion_is_told(as_owner, shop):
    """The breaks of a round dip by .84 % above and .87 % below (B. Harding, Scallops): a girdle of 1 % is eaten up."""
    answer = ask(as_owner, girdle="1")
    assert answer.status_code == 422
    assert "girdle" in errors_of(answer)["__all__"][0]


def test_a_plan_fills_the_form(as_owner, stone, choose):
    choose(as_owner, stone)
    plan = CutPlan.objects.get()
    first = as_owner.get(f"/planning/depth/?plan={plan.code}").context["form"].initial
    assert (first["outline"], first["width_mm"]) == ("oval", plan.width_mm)
    assert as_owner.get("/planning/depth/?plan=PL-9999").status_code == 404


def test_a_stone_fills_the_form(as_owner, stone):
    first = as_owner.get(f"/planning/depth/?stone={stone.code}").context["form"].initial
    assert first["material"] == "beryl-aquamarine" and first["ri"] == "1.567"
    assert as_owner.get("/planning/depth/?stone=S-9999").status_code == 404


def test_a_hand_may_use_it(as_hand, shop):
    answer = ask(as_hand)
    assert answer.status_code == 200 and "EUR" not in answer.content.decode()
