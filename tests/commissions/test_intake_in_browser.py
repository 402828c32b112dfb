"""Goods taken in with a telephone in one hand: piece after piece, a photograph, a tap on a fault, the signature."""

import pytest

from tests.commissions.intakes import SITE, make_enquiry
from tests.makers import make_shop, somebody
from tests.rough.pictures import jpeg
from workshop.commissions.models import Intake, Mark

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_from_the_counter_to_the_signature(open_page, way, tmp_path):
    width, scripts = way
    make_shop(base_url=SITE)
    commission = make_enquiry("recut", "cut_client")
    page = open_page(width, hand=somebody(), java_script_enabled=scripts)
    page.goto(f"/commissions/{commission.code}/take-in/")
    page.fill("#id_stated_to_be_1", "a topaz from an aunt")
    page.fill("#id_seen_as_1", "light blue cut stone")
    page.fill("#id_weight_1", "1,284 g")
    page.get_by_role("button", name="Another piece").click()
    assert page.input_value("#id_stated_to_be_1") == "a topaz from an aunt"
    page.fill("#id_stated_to_be_2", "quartz")
    page.fill("#id_seen_as_2", "colourless broken crystal")
    page.fill("#id_weight_2", "21 ct")
    picture = tmp_path / "front.jpg"
    picture.write_bytes(jpeg(size=(800, 600)).read())
    page.set_input_files("#id_pictures_1", str(picture))
    page.set_input_files("#id_pictures_2", str(picture))
    page.get_by_role("button", name="Take it in").click()
    page.wait_for_url("**/goods/TI-0001/")
    assert [str(row.weight_ct) for row in Intake.objects.get().pieces.all()] == ["6.420", "21.000"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width

    page.get_by_role("link", name="Mark a fault").first.click()
    page.fill("#id_words", "chip")
    shown = page.locator("input[type=image]:visible")
    assert shown.count() == 1
    box = shown.bounding_box()
    shown.click(position={"x": box["width"] * 0.75, "y": box["height"] * 0.25})
    page.get_by_text("Marked so far").wait_for()
    made = Mark.objects.get()
    # Half a pixel of some 320 is less than a fifth of a per cent.
    assert abs(float(made.x_percent) - 75) < 0.4
    assert abs(float(made.y_percent) - 25) < 0.4
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # By keyboard: figures, and the Enter key.
    page.fill("#id_words", "pit")
    page.fill("#id_x_percent", "10")
    page.fill("#id_y_percent", "20")
    page.locator("#id_y_percent").press("Enter")
    page.get_by_text("10.0 % from the left").wait_for()
    page.get_by_role("link", name="Done").click()

    page.get_by_role("link", name="Issue the receipt").first.click()
    page.get_by_role("button", name="Issue the receipt").click()
    page.get_by_role("link", name="Issue the report on condition").click()
    page.get_by_role("button", name="Issue the report").click()
    page.get_by_role("link", name="Have it signed").first.click()
    page.get_by_label("They read the receipt").check()
    page.get_by_role("button", name="Sign the receipt").click()
    page.wait_for_url("**/goods/TI-0001/")
    assert Intake.objects.get().signed_at is not None
