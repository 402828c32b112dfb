"""The watch that every browser test keeps on its pages does find what it watches for."""

import pytest

from tests import browser

pytestmark = pytest.mark.browser


@pytest.fixture
def watched(chromium):
    context = chromium.new_context()
    page = context.new_page()
    faults: list[str] = []
    browser._watch(page, "shop.example", faults)
    yield page, faults
    context.close()


def test_a_quiet_page_has_no_fault(watched):
    page, faults = watched
    page.set_content("<h1>Lot L-0001</h1><script>console.log('well')</script>")
    page.wait_for_timeout(100)
    assert faults == []


@pytest.mark.parametrize(
    ("html", "fault"),
    [
        ("<script>throw new Error('broke')</script>", "script: broke"),
        ("<script>console.error('loud')</script>", "console: loud"),
        ("<img src='http://127.0.0.1:9/x.png'>", "another host: http://127.0.0.1:9/x.png"),
        (
            "<meta http-equiv='Content-Security-Policy' content=\"script-src 'none'\"><script>1</script>",
            "Content Security Policy",
        ),
    ],
)
def test_a_planted_fault_is_found(watched, html, fault):
    page, faults = watched
    page.set_content(html)
    page.wait_for_timeout(200)
    assert any(fault in found for found in faults), faults


@pytest.mark.django_db(transaction=True)
def test_a_page_of_the_shop_opens_at_each_width(open_page, width):
    page = open_page(width)
    page.goto("/no-such-page")
    assert page.evaluate("window.innerWidth") == width
    assert page.evaluate("document.documentElement.scrollWidth") <= width
