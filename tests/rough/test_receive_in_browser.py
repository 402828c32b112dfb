"""The landed cost appears while one types, in a real browser on a phone and at a desk."""

import pytest

from tests.makers import make_owner, make_shop
from workshop.rough.models import RoughLot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_parcel_is_typed_worked_out_and_kept(open_page, width):
    make_shop(currency="EUR")
    page = open_page(width, hand=make_owner())
    page.goto("/rough/receive/")
    page.fill("#id_new_seller", "Imaginary Stones")
    page.fill("#id_weight", "84,6 g")
    page.fill("#id_sold_as", "tourmaline, mine run")
    page.fill("#id_unit_price", "14.50")
    page.select_option("#id_currency", "USD")
    page.fill("#id_rate", "0.9315")
    for name, amount, currency in (
        ("fee", "35", "price"),
        ("freight", "62", "price"),
        ("clearance", "18.50", "home"),
    ):
        page.fill(f"#id_{name}", amount)
        page.select_option(f"#id_{name}_in", currency)
    page.locator("#id_notes").focus()
    # 1,323.70 USD x 0.9315 + 18.50 EUR: the worked parcel of test_scenario_parcel.py.
    page.locator("#worked-out").get_by_text("1,251.53").first.wait_for()
    assert not RoughLot.objects.exists()
    page.get_by_role("button", name="Receive the lot").click()
    page.wait_for_url("**/rough/L-0001/")
    assert "14.7935" in page.content()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    lot = RoughLot.objects.get()
    assert str(lot.landed_cost) == "1251.530"


def test_the_same_without_a_script(open_page, width):
    make_shop(currency="EUR")
    page = open_page(width, hand=make_owner(), java_script_enabled=False)
    page.goto("/rough/receive/")
    page.fill("#id_weight", "20 g")
    page.fill("#id_sold_as", "garnet")
    page.fill("#id_unit_price", "3")
    page.get_by_role("button", name="Work it out").click()
    page.locator("#worked-out", has_text="60.00").wait_for()
    assert page.input_value("#id_sold_as") == "garnet"
    page.get_by_role("button", name="Receive the lot").click()
    assert page.url.endswith("/rough/L-0001/")
    page.goto("/stones/from/L-0001/sort/")
    page.get_by_role("button", name="One more row").click()
    for number, name in enumerate("ABCD"):
        page.fill(f"#id_g-{number}-name", name)
        page.fill(f"#id_g-{number}-weight", "5 g")
    page.get_by_role("button", name="Work it out").click()
    page.locator("#outcome", has_text="20.00").wait_for()
    # The third row is offered as a cull, which carries nothing: 60.00 over three groups.
    assert page.locator("#outcome").inner_text().count("20.00") >= 3
    assert not RoughLot.objects.get().groups.exists()
    page.get_by_role("button", name="Keep the sort").click()
    assert page.url.endswith("/rough/L-0001/")
    assert RoughLot.objects.get().groups.count() == 4


def test_whose_goods_they_are_is_asked_once_a_clients_are_named(open_page, width):
    make_shop()
    page = open_page(width, hand=make_owner())
    page.goto("/rough/receive/")
    assert not page.locator("#id_new_owner").is_visible()
    page.check("[name=way_in][value=client]")
    page.fill("#id_new_owner", "Ada Invented")
    page.fill("#id_weight", "18,35 ct")
    page.fill("#id_sold_as", "aquamarine, one crystal")
    page.get_by_role("button", name="Receive the lot").click()
    page.wait_for_url("**/rough/L-0001/")
    assert RoughLot.objects.get().owner.name == "Ada Invented"
