"""From a stone to its plan in a real browser, on a phone and at a desk; the pictures of its light under our own policy."""

import re
from decimal import Decimal

import pytest

from tests import makers
from workshop.materials.actions import seed_materials
from workshop.materials.models import Material
from workshop.planning.models import CutPlan

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def stone():
    seed_materials()
    makers.make_shop(zone="Europe/Lisbon")
    aquamarine = Material.objects.get(key="beryl-aquamarine")
    sizes = {"length_mm": Decimal("12"), "width_mm": Decimal("9"), "depth_mm": Decimal("7")}
    return makers.make_stone("9.6 ct", material=aquamarine, **sizes)


def test_options_are_asked_sorted_and_one_is_chosen(open_page, width, stone):
    page = open_page(width, hand=makers.make_owner())
    page.goto(f"/stones/{stone.code}/")
    page.get_by_role("link", name="Options for this rough").click()
    page.get_by_label("Asked per carat").fill("80")
    page.get_by_role("button", name="Show the options").click()
    page.get_by_role("link", name="The hour earns").click()
    assert page.locator("tbody tr").count() == 12
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    oval = page.locator("tbody tr").filter(has=page.locator("th", has_text="Oval"))
    oval.get_by_role("button", name="Choose").click()
    page.wait_for_url(re.compile("/planning/plans/PL-"))
    assert page.locator("svg polygon").count() > 1
    assert CutPlan.objects.get().outline == "oval"
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_light_of_a_budget_is_shown_as_pictures(open_page, width, stone):
    page = open_page(width, hand=makers.make_owner())
    page.goto(f"/planning/depth/?stone={stone.code}")
    page.get_by_label("Depth at the shallow spot").fill("5")
    page.get_by_role("button", name="Work it out").click()
    pictures = page.locator(".look img")
    pictures.nth(3).wait_for()
    assert pictures.count() >= 4
    drawn = pictures.evaluate_all("all => all.map(one => one.complete && one.naturalWidth)")
    assert drawn == [120] * len(drawn)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_no_page_of_the_room_scrolls_sideways_at_320_pixels(open_page, stone):
    """WCAG 2.2, success criterion 1.4.10: 320 CSS pixels without scrolling in two directions."""
    page = open_page(390, hand=makers.make_owner())
    page.set_viewport_size({"width": 320, "height": 640})
    asked = [
        "depth/?outline=oval&length_mm=9&width_mm=7&shallow_mm=4&crown_angle=34&pavilion_angle=42&table=57&girdle=3&ri=1.6&sg=3"
    ]
    asked += [
        f"calculators/{name}/"
        for name in ("window/?ri=1.6", "wheel/?teeth=96&fold=7", "girdle/?sides=2+2+2.1&tolerance=2")
    ]
    for address in [
        "",
        "recut/",
        "calculators/",
        f"stones/{stone.code}/",
        *(one.rstrip("/") for one in asked),
    ]:
        page.goto(f"/planning/{address}")
        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0, address
