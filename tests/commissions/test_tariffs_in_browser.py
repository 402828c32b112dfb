"""A price list written on a phone and at a desk, tried, and the weeks and their calendar, in a real browser."""

import re
import urllib.request
from datetime import timedelta
from decimal import Decimal

import pytest
import vobject

from tests.makers import NOON, make_commission, make_owner, make_shop
from workshop.commissions import load
from workshop.commissions.models import BenchHours, Commission, Tariff

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def owner():
    make_shop()
    return make_owner()


def fits(page):
    return page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def unfold(page, title):
    page.locator("summary", has_text=re.compile(f"^{title}$")).click()


def test_writing_a_price_list_and_trying_it(open_page, owner, way):
    width, scripts = way
    page = open_page(width, hand=owner, java_script_enabled=scripts)
    page.goto("/commissions/tariffs/new/")
    assert page.locator("[name=hour-0-amount]").input_value() == "45.00"
    page.fill("[name=hour-0-amount]", "")
    page.fill("[name=base-0-amount]", "350")
    page.fill("[name=base-0-to_ct]", "3")
    page.fill("[name=base-0-step_amount]", "50")
    # A row more, and a second base that contradicts the first.
    page.get_by_role("button", name="More rows").first.click()
    assert page.locator("[name=base-0-amount]").input_value() == "350"
    page.fill("[name=base-1-amount]", "300")
    page.get_by_role("button", name="Keep the tariff").click()
    wrong = page.locator(".field--wrong", has=page.locator("[name=base-1-amount]"))
    assert "Two bases for the same weight" in wrong.inner_text()
    page.fill("[name=base-1-amount]", "")
    unfold(page, "Per piece of rough")
    page.fill("[name=rough-0-amount]", "30")
    page.get_by_role("button", name="Keep the tariff").click()
    page.wait_for_url(re.compile("/commissions/tariffs/T-0001/"))
    assert Tariff.objects.get().lines.count() == 2
    page.fill("[name=finished]", "5.5")
    page.fill("[name=rough_pieces]", "0")
    page.get_by_role("button", name="Reckon").click()
    assert page.locator(".priced .big-figure").inner_text().replace("\xa0", " ") == "475.00 EUR"
    if scripts:
        assert fits(page)


def test_the_weeks_and_their_calendar(open_page, owner, width):
    page = open_page(width, hand=owner)
    page.goto("/commissions/week/")
    page.get_by_role("link", name="Say the hours").click()
    page.fill("[name=hours]", "24")
    page.get_by_role("button", name="Say it").click()
    assert "until said otherwise" in page.content()
    assert BenchHours.objects.get().hours == Decimal(24)
    made = make_commission()
    monday = load.monday_of(NOON.now(NOON.tzinfo).date()) + timedelta(days=14)
    Commission.objects.filter(pk=made.pk).update(state="accepted", due_on=monday)
    page.goto("/commissions/week/")
    assert page.locator(".load-table tbody tr").count() == 12
    assert fits(page)
    page.get_by_role("link", name="Calendar", exact=True).click()
    page.get_by_role("button", name="Make the address").click()
    address = page.locator("#address").input_value()
    assert fits(page)
    with urllib.request.urlopen(address) as answer:
        read = vobject.readOne(answer.read().decode())
    assert read.vevent.summary.value == f"{made.code}, 1 piece"
    assert read.vevent.dtstart.value == monday
    page.get_by_role("button", name="Withdraw it").click()
    page.get_by_text("No address yet").wait_for()
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(address)
