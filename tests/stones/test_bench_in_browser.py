"""The wheel's page in a real browser: large targets, few taps, no script needed, nothing wider than the screen."""

from decimal import Decimal

import pytest

from tests.makers import NOON, make_lot, make_stone
from workshop.stones import actions

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
SMALL = """() => [...document.querySelectorAll('main .button--bench')]
  .filter((one) => one.checkVisibility())
  .filter((one) => { const box = one.getBoundingClientRect(); return box.width < 64 || box.height < 64; })
  .map((one) => one.textContent.trim())"""


@pytest.fixture
def stones(owner):
    lot = make_lot("100 ct")
    return [make_stone("10 ct", lot=lot, plan="oval", shape="oval"), make_stone("20 ct", lot=lot)]


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_a_stretch_at_the_wheel(open_page, owner, stones, width, script):
    first, second = stones
    page = open_page(width, hand=owner, java_script_enabled=script)
    page.goto(f"/stones/bench/{first.code}/")
    # The clock: one tap. Another stone: one tap.
    page.get_by_role("button", name="Start the clock").click()
    page.get_by_role("button", name=second.code).click()
    assert page.url.endswith(f"/stones/bench/{second.code}/")
    assert [time.ended_at is None for time in owner.times.order_by("pk")] == [False, True]
    # Weighing: two fields and one tap.
    page.get_by_label("Weight", exact=False).first.fill("18,5")
    page.get_by_label("What went").select_option("trim")
    page.get_by_role("button", name="Weigh", exact=True).last.click()
    second.refresh_from_db()
    assert second.weight_ct == Decimal("18.5")
    # The next stage: one tap, and one to take it back.
    page.get_by_role("button", name="Preformed").click()
    second.refresh_from_db()
    assert second.stage == "preformed"
    page.get_by_role("button", name="Undo").click()
    second.refresh_from_db()
    assert second.stage == "selected"
    page.goto(f"/stones/bench/{second.code}/")
    page.get_by_role("button", name="Stop the clock").click()
    assert page.url.endswith(f"/stones/bench/{second.code}/")
    assert not owner.times.filter(ended_at=None).exists()


def test_targets_are_for_a_wet_thumb(open_page, owner, stones, width):
    page = open_page(width, hand=owner)
    actions.wait_for(stones[1], "glue", by=owner, at=NOON)
    for url in (
        f"/stones/bench/{stones[0].code}/",
        "/stones/bench/",
        f"/stones/{stones[0].code}/",
        f"/stones/{stones[0].code}/move/",
    ):
        page.goto(url)
        assert page.locator("main .button--bench").count() >= 5, url
        assert page.evaluate(SMALL) == [], url
        assert page.evaluate(OVERFLOW) <= 0, url


def test_the_clock_can_be_started_without_scrolling(open_page, owner, stones):
    page = open_page(390, hand=owner)
    actions.add_note(stones[0], "row 3, index 24 left", kind="stop", by=owner, at=NOON)
    page.goto(f"/stones/bench/{stones[0].code}/")
    box = page.get_by_role("button", name="Start the clock").bounding_box()
    assert box["y"] + box["height"] < 844


def test_a_piece_more_without_a_script(open_page, owner, stones):
    page = open_page(390, hand=owner, java_script_enabled=False)
    page.goto(f"/stones/{stones[0].code}/split/")
    page.get_by_label("Piece 1").fill("5")
    page.get_by_role("button", name="One more piece").click()
    assert page.get_by_label("Piece 1").input_value() == "5"
    page.get_by_label("Piece 2").fill("3")
    page.get_by_label("Piece 3").fill("1.9")
    page.get_by_role("button", name="Close it and open the pieces").click()
    assert stones[0].children.count() == 3


@pytest.mark.parametrize(
    "code", ["", "weigh/", "split/", "note/", "plan/", "statement/", "extra/", "break/", "end/"]
)
def test_nothing_scrolls_sideways_at_320_pixels(open_page, owner, stones, code):
    # WCAG 2.2, success criterion 1.4.10.
    page = open_page(390, hand=owner)
    page.set_viewport_size({"width": 320, "height": 640})
    page.goto(f"/stones/{stones[0].code}/{code}")
    assert page.evaluate(OVERFLOW) <= 0
