"""The check page and the card's page in a real browser: narrow screens, and nothing the policy refuses."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests import makers
from tests.makers import NOON, make_answered_gem, make_material, make_shop
from tests.papers.documents import a_photo, a_quote, issued
from workshop.common.models import Shop
from workshop.gems import card_actions
from workshop.papers.document import Column, Mark, Photos, Picture, Table

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

OVERFLOW = "() => document.documentElement.scrollWidth - window.innerWidth"


@pytest.fixture
def owner():
    make_shop(name="Wren & Alder", base_url="https://cards.example")
    return makers.somebody()


def a_gem():
    return make_answered_gem(
        material=make_material(), clarity="a few needles at 10x lens", cut="step crown, brilliant pavilion"
    )


def test_a_buyer_reads_the_check_page_on_a_telephone(open_page, owner):
    """WCAG 2.2, 1.4.10 at 320 px; no account, no script, no refusal of the content policy."""
    paper = card_actions.issue_card(a_gem(), by=owner, at=NOON)
    page = open_page(390)
    told = []
    page.on("console", lambda message: told.append(message.text))
    page.goto(reverse("papers:check", args=[paper.check_code]))
    assert page.get_by_text("IC-0001 stands as it was issued").is_visible()
    assert page.evaluate("() => document.scripts.length") == 0
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate(OVERFLOW) <= 0
    assert told == []


def test_the_owner_issues_a_card_and_withdraws_it(open_page, owner, width):
    gem = a_gem()
    page = open_page(width, hand=owner)
    page.goto(reverse("gems:issue_card", args=[gem.code]))
    assert page.evaluate(OVERFLOW) <= 0
    page.get_by_role("button", name="Issue the card").click()
    page.get_by_role("heading", name="Stone information card IC-0001").wait_for()
    assert page.evaluate(OVERFLOW) <= 0
    page.get_by_role("link", name="Withdraw").click()
    page.get_by_label("Why it is withdrawn").fill("the stone goes back to the wheel")
    page.get_by_role("button", name="Withdraw it").click()
    page.get_by_text("the stone goes back to the wheel").first.wait_for()
    page.goto(reverse("papers:papers"))
    assert page.evaluate(OVERFLOW) <= 0
    assert page.locator("td").get_by_text("void", exact=True).is_visible()


def test_a_document_is_read_by_its_owner_and_kept_from_a_stranger(open_page, owner, width):
    """WCAG 2.2, 1.4.10: nothing sticks out, neither a long word nor a wide table; the check page at 320 px too."""
    shop, long = Shop.the(), "Unbreakable" * 12
    columns = [Column(f"Column {n}", numeric=n > 1) for n in range(9)]
    wide = Table(
        columns, [[long, "text", *["12,345.67"] * 7]], foot=[["In all", "", *["9.00"] * 7]], heading=long
    )
    pictures = Photos(
        [Picture(a_photo(), long, [Mark(Decimal(98), Decimal(2), long)]), Picture(a_photo(900, 1600), "x")]
    )
    document = a_quote(shop, title=long, reference=long, blocks=[*a_quote(shop).blocks, wide, pictures])
    paper = issued(document)
    page = open_page(width, hand=owner)
    told = []
    page.on("console", lambda message: told.append(message.text))
    page.goto(paper.get_absolute_url())
    assert page.evaluate(OVERFLOW) <= 0
    assert page.get_by_text("Ada Lund", exact=True).first.is_visible()
    assert page.locator("svg image").first.bounding_box()["width"] > 100
    stranger = open_page(390)
    stranger.set_viewport_size({"width": 320, "height": 640})
    stranger.on("console", lambda message: told.append(message.text))
    stranger.goto(reverse("papers:check", args=[paper.check_code]))
    assert stranger.get_by_text("QU-0001 stands as it was issued").is_visible()
    assert stranger.evaluate(OVERFLOW) <= 0
    assert "Ada Lund" not in stranger.content()
    assert told == []
