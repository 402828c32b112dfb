"""From off the dop to a sold gem in a real browser, on a phone and at a desk, with and without script."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.makers import make_lot
from workshop.gems.models import FinishedGem
from workshop.handbook.units import parse_weight
from workshop.sales.models import Sale
from workshop.stones import actions as stones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

D = Decimal
OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def stone(owner):
    """Acceptance scenario 2: 4.26 g for 164.89, 6.10 h at the bench and 2.00 h off it at 45.00, wear 6.50."""
    start = (timezone.now() - timedelta(days=1)).replace(hour=5, minute=0, second=0, microsecond=0)
    lot = make_lot(
        "21.30 ct", by=owner, at=start, received_on=start.date(), price_basis="lot", unit_price=D("164.89")
    )
    drawn = stones.draw_stone(lot, parse_weight("4.26 g"), by=owner, at=start)
    bench, off = start + timedelta(hours=6, minutes=6), start + timedelta(hours=8, minutes=6)
    stones.add_time(by=owner, at=bench, start=start, end=bench, activity="cut_pavilion", stones=[drawn])
    stones.add_time(by=owner, at=off, start=bench, end=off, activity="photograph", stones=[drawn])
    stones.charge_stone(drawn, kind="wear", amount=D("6.50"), on=start.date(), by=owner, at=off)
    return stones.move_on(drawn, "off_dop", by=owner, at=off)


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_finish_price_and_sell(open_page, owner, stone, width, script):
    page = open_page(width, hand=owner, java_script_enabled=script)
    page.goto(f"/gems/finish/{stone.code}/")
    # A slip of the point is asked about, and what was typed stays.
    page.get_by_label("Weight", exact=False).first.fill("0,638 ct")
    page.get_by_label("Shape").select_option("oval")
    for label, figure in (("Length", "12.9"), ("Width", "10.6"), ("Depth", "7.6")):
        page.get_by_label(label, exact=False).first.fill(figure)
    page.get_by_label("Colour", exact=False).first.fill("green, medium")
    page.get_by_role("button", name="Finish it").click()
    assert page.get_by_text("Did you mean 6.380").first.is_visible()
    assert page.get_by_label("Colour", exact=False).first.input_value() == "green, medium"
    page.get_by_label("Weight", exact=False).first.fill("6,38 ct")
    page.get_by_role("button", name="Finish it").click()
    gem = FinishedGem.objects.get()
    assert page.url.endswith(gem.get_absolute_url())

    page.get_by_role("link", name="Price", exact=True).click()
    page.get_by_label("Asking price", exact=False).fill("765.60")
    page.get_by_role("button", name="Ask it").click()
    assert page.get_by_text("73.36").first.is_visible()

    page.get_by_role("link", name="Sell", exact=True).click()
    page.get_by_label("or a new buyer").fill("Ana Fictiva")
    page.get_by_label("Paid in full").check()
    page.get_by_role("button", name="Work it out").click()
    # With a script the answer comes into the page a moment later.
    page.get_by_text("Nothing is sold yet").wait_for()
    assert not Sale.objects.exists()
    assert page.get_by_label("Paid in full").is_checked()
    page.get_by_role("button", name="Sell", exact=True).click()
    sale = Sale.objects.get()
    assert page.url.endswith(sale.get_absolute_url())
    for figure in ("535.89", "229.71", "73.36", "445.89", "319.71"):
        assert page.get_by_text(figure).first.is_visible(), figure
    assert (sale.gross, sale.owed, sale.margin) == (D("765.60"), D(0), D("229.71"))


def test_nothing_is_wider_than_the_screen(open_page, owner, stone, width):
    from tests.makers import make_gem

    gem = make_gem(weight="6.38 ct", stone=stone, by=owner, at=timezone.now())
    page = open_page(width, hand=owner)
    deeds = ["", "price/", "move/", "describe/", "photo/", "rework/", "let-go/"]
    for url in [
        "/gems/",
        *(f"/gems/{gem.code}/{deed}" for deed in deeds),
        f"/sales/sell/{gem.code}/",
        "/sales/",
    ]:
        page.goto(url)
        assert page.evaluate(OVERFLOW) <= 0, url
