"""The look in a real browser: narrow screens, targets, keyboard, light and dark, and pages without a script."""

import pytest

from tests import makers

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGES = ["/shop/", "/hands/", "/hands/add/", "/journal/"]

TOO_SMALL = """() => [...document.querySelectorAll('a, button, summary, input:not([type=hidden]), select, textarea')]
  .filter((one) => one.checkVisibility() && !one.closest('p, li, .unseen, .skip') && !one.matches('.skip'))
  .filter((one) => { const box = one.getBoundingClientRect(); return box.width < 24 || box.height < 24; })
  .map((one) => one.outerHTML.slice(0, 100))"""

OVERFLOW = "() => document.documentElement.scrollWidth - window.innerWidth"


@pytest.fixture
def owner():
    makers.make_shop(name="Atelier of the North Window")
    return makers.make_owner()


def test_no_page_scrolls_sideways_at_320_pixels(open_page, owner):
    # WCAG 2.2, success criterion 1.4.10: 320 CSS pixels without scrolling in two directions.
    page = open_page(390, hand=owner)
    page.set_viewport_size({"width": 320, "height": 640})
    for address in PAGES:
        page.goto(address)
        assert page.evaluate(OVERFLOW) <= 0, address


def test_whatever_is_pressed_is_large_enough(open_page, owner, width):
    # WCAG 2.2, success criterion 2.5.8: targets of 24 by 24 CSS pixels; links within a sentence are excepted.
    page = open_page(width, hand=owner)
    for address in PAGES:
        page.goto(address)
        assert page.evaluate(TOO_SMALL) == [], address


def test_dark_paper_is_remembered_and_written_by_the_server(open_page, owner):
    page = open_page(390, hand=owner)
    page.goto("/shop/")
    page.click(".who summary")
    page.click("[data-theme-switch]")
    answer = page.goto("/hands/")
    assert 'data-theme="dark"' in answer.text()
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(24, 22, 19)"


def test_a_cookie_with_another_word_in_it_changes_nothing(client, owner):
    client.force_login(owner)
    client.cookies["theme"] = '"><script>'
    assert b"data-theme=" not in client.get("/hands/").content


def test_without_a_script_the_rooms_open_and_one_signs_out(open_page, owner):
    page = open_page(390, hand=owner, java_script_enabled=False)
    page.goto("/shop/")
    assert not page.is_visible(".rooms nav")
    page.click(".rooms summary")
    assert page.is_visible(".rooms nav")
    page.click(".who summary")
    page.click("text=Sign out")
    assert page.url.endswith("/sign-in/")


def test_what_was_typed_is_asked_about_before_the_page_goes(open_page, owner):
    page = open_page(1280, hand=owner)
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.goto("/hands/add/")
    page.fill("[name=username]", "new hand")
    page.evaluate("location.assign('/hands/')")
    page.wait_for_timeout(300)
    assert asked == ["beforeunload"]
    assert page.input_value("[name=username]") == "new hand"


def test_a_refused_form_puts_the_keyboard_at_what_is_wrong(open_page, owner):
    page = open_page(1280, hand=owner)
    page.goto("/hands/add/")
    page.fill("[name=username]", "new hand")
    page.fill("[name=password]", "short")
    page.fill("[name=again]", "shorter")
    page.click("form.form button")
    assert page.evaluate("document.activeElement.className") == "wrong-summary"
    page.click(".wrong-summary a >> nth=0")
    assert page.evaluate("document.activeElement.tagName") == "INPUT"
    assert page.input_value("[name=username]") == "new hand", "typing survives an error"


def test_without_a_signal_what_was_typed_stays(open_page, owner):
    page = open_page(390, hand=owner)
    page.goto("/hands/add/")
    page.fill("[name=username]", "new hand")
    page.fill("[name=password]", "a long enough pass phrase")
    page.fill("[name=again]", "a long enough pass phrase")
    page.context.set_offline(True)
    page.click("form.form button")
    assert "no signal" in page.inner_text("#messages")
    assert page.input_value("[name=username]") == "new hand"
    page.context.set_offline(False)
    page.click("form.form button")
    page.wait_for_url("**/hands/**")


def test_the_keyboard_reaches_the_rooms_on_a_desk(open_page, owner):
    page = open_page(1280, hand=owner)
    page.goto("/shop/")
    reached = []
    for _ in range(12):
        page.keyboard.press("Tab")
        reached.append(
            page.evaluate(
                "document.activeElement.closest('.rooms nav') ? 'room' : document.activeElement.className"
            )
        )
    assert reached[0] == "skip"
    assert "room" in reached
