"""Every page of the demo shop under axe-core: no fault by WCAG 2.2 AA, light and dark, on a phone and at a desk.

axe finds what a program can find (w3.org/TR/WCAG22); what it cannot, such as the order of the focus, is tried by hand-written
tests: `test_main_job_in_browser.py`, `common/test_look_in_browser.py`, `stones/test_bench_in_browser.py`.
"""

import re
from importlib.resources import files

import pytest
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from tests.guards.house import House, build, pages
from tests.guards.test_doors import DRAWN
from tests.makers import make_owner, make_shop
from workshop.commissions import links
from workshop.commissions.models import ClientLink, Commission
from workshop.common.models import Hand, Photo
from workshop.exchange.demo import Demo
from workshop.gems.models import FinishedGem
from workshop.materials.models import Question
from workshop.papers.models import Paper, PaperKind
from workshop.people.models import Contact
from workshop.planning.models import CutPlan
from workshop.planning.views.calculators import CALCULATORS
from workshop.rough.models import RoughLot
from workshop.sales.models import Sale
from workshop.stones.models import BenchTime, StageChange, Stone, Weighing

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text()
RUN = """async (rules) => {
  const found = await axe.run(document, {runOnly: {type: 'tag', values: rules}, resultTypes: ['violations']});
  return found.violations.map((one) => [one.id, one.nodes.map((node) => node.html.slice(0, 160))]);
}"""
#: Not pages to read: files, and what only answers a form.
NO_PAGE = DRAWN | {
    "common:sign_out", "common:photo", "common:open_shop", "papers:check_picture", "rough:document_file", "rough:label",
    "stones:label", "gems:label", "planning:calculator",
}  # fmt: skip
#: Where much has an address that the demo has nothing for: tried in the guards' shop, which has one of everything.
OF_GUARDS = re.compile(r"(commissions|client|sales):|gems:.*(suite|member|certificate)")


def demo_house():
    """Where each page of the demo leads to."""
    open_stone = (
        Stone.objects.filter(ending="", stage="preformed").first() or Stone.objects.on_the_bench().first()
    )
    ready = Stone.objects.filter(stage="off_dop", ending="").first() or open_stone
    card = Paper.objects.standing().filter(kind=PaperKind.INFO_CARD).first()
    gem = FinishedGem.objects.get(code=card.about)
    here = FinishedGem.objects.filter(gone_on=None, ownership="shop").first()
    lot = RoughLot.objects.filter(groups__isnull=False).first()
    plan = CutPlan.objects.first()
    owner, sale = Hand.objects.get(username="wren"), Sale.objects.first()
    house = House(owner, None, None)
    house.parts = {
        "key": "tourmaline-elbaite", "number": card.number, "check_code": card.check_code, "name": "weight",
        "sha": Photo.objects.first().sha256,
    }  # fmt: skip
    house.instead = {
        "common": {"pk": owner.pk}, "people": {"code": Contact.objects.first().code}, "rough": {"code": lot.code},
        "stones": {"code": open_stone.code, "pk": BenchTime.objects.filter(ended_at__isnull=False).first().pk},
        "gems": {"code": here.code}, "gems:gem": {"code": gem.code}, "sales": {"code": sale.code},
        "books": {"code": gem.stone.code}, "planning": {"code": open_stone.code}, "planning:lot_options": {"code": lot.code},
        **({"planning:plan": {"code": plan.code}} if plan else {}), "gems:finish": {"code": ready.code},
        "sales:sell": {"code": here.code}, "stones:correct_weight": {"pk": Weighing.objects.last().pk},
        "stones:take_back": {"pk": StageChange.objects.last().pk},
        **{f"stones:{deed}": {"code": lot.code} for deed in ("sort", "charge", "lose", "draw", "correct_lot")},
    }  # fmt: skip
    return house


def one_of_each(house, names, deep):
    """A page of each template, for pages of one template differ in their fields alone; `--deep`: every page."""
    known, owner = set(), Client()
    owner.force_login(house.owner)
    for name in names:
        if name in NO_PAGE or (name == "planning:plan" and name not in house.instead):
            continue
        address = house.address(name)
        answer = owner.get(address)
        if answer.status_code in {302, 405} or not answer.headers["Content-Type"].startswith("text/html"):
            # What leads on, what only answers a form, and files.
            continue
        assert answer.status_code == 200, (address, answer.status_code)
        template = answer.templates[0].name
        if deep or template not in known:
            known.add(template)
            yield address


def addresses(house, deep):
    """Pages of each kind, and those that look otherwise for stones, lots, gems and commissions in other states."""
    yield from one_of_each(house, [name for name in pages() if not OF_GUARDS.match(name)], deep)
    yield Sale.objects.first().get_absolute_url()
    yield from (f"/planning/calculators/{name}/" for name in CALCULATORS)
    yield from (f"/stones/{Stone.objects.first().code}/statement/?question={one}" for one in Question.values)
    states = {(stone.ending, stone.waiting_for): stone for stone in Stone.objects.all()}
    yield from (stone.get_absolute_url() for stone in states.values())
    yield from ({gem.gone_as: gem for gem in FinishedGem.objects.all()}[way].get_absolute_url() for way in
                {gem.gone_as for gem in FinishedGem.objects.all()})  # fmt: skip
    yield from (
        lot.get_absolute_url() for lot in {lot.ownership: lot for lot in RoughLot.objects.all()}.values()
    )
    states = {one.state: one for one in Commission.objects.all()}
    yield from (one.get_absolute_url() for one in states.values())
    yield from (links.address_of(one) for one in ClientLink.objects.all()[:3])
    yield from (
        "/no-such-page",
        "/find/?q=tourmaline",
        "/rough/?sold_as=nothing+of+the+sort",
        "/stones/?sort=-weight",
    )


WAYS = [(1280, "light"), (390, "dark"), (390, "light"), (1280, "dark")]


def faults_on(page, where, ways):
    """What axe finds on a page, by width and light."""
    found = []
    page.evaluate(AXE + ";0")
    for width, light in ways:
        page.set_viewport_size({"width": width, "height": 844})
        # A still picture: what changes its colour slowly is judged when it has changed.
        page.emulate_media(color_scheme=light, reduced_motion="reduce")
        found += [
            f"{where} at {width} px, {light}: {rule}: {nodes}" for rule, nodes in page.evaluate(RUN, RULES)
        ]
    return found


def judged(page, of, deep):
    """What axe finds on these pages, and how many there were."""
    found, seen = [], 0
    for address in dict.fromkeys(of):
        if address == "/sign-in/":
            continue
        page.goto(address)
        # Width and light in turn, so that every kind of page meets each of them; `--deep` tries all four on every page.
        found += faults_on(page, address, WAYS if deep else [WAYS[seen % len(WAYS)]])
        seen += 1
    return found, seen


def test_no_page_of_the_demo_shuts_anybody_out(open_page, request):
    call_command("seed_materials", verbosity=0)
    Demo(timezone.now()).load()
    house = demo_house()
    page, deep = open_page(1280, hand=house.owner), request.config.getoption("--deep")
    found, seen = judged(page, addresses(house, deep), deep)
    assert not found, "\n".join(found)
    assert seen > 60


def test_no_page_of_commissions_and_sales_shuts_anybody_out(open_page, request):
    call_command("seed_materials", verbosity=0)
    house = build()
    page, deep = open_page(1280, hand=house.owner), request.config.getoption("--deep")
    names = [name for name in pages() if OF_GUARDS.match(name)]
    found, seen = judged(page, one_of_each(house, names, deep), deep)
    assert not found, "\n".join(found)
    assert seen > 40


def test_what_a_stranger_sees_and_a_refused_form(open_page):
    call_command("seed_materials", verbosity=0)
    make_shop()
    owner, found = make_owner(), []
    stranger, page = open_page(1280), open_page(1280, hand=owner)
    stranger.goto("/sign-in/")
    found += faults_on(stranger, "/sign-in/", WAYS)
    for address in ("/rough/receive/", "/people/add/", "/shop/", "/stones/times/add/", "/hands/add/"):
        page.goto(address)
        # As a browser that checks nothing itself would send it.
        page.evaluate("document.querySelectorAll('main form').forEach((form) => { form.noValidate = true; })")
        page.locator("main form input[type=text]").first.fill("")
        page.locator("main form button:not([name])").last.click()
        assert page.locator(".wrong-summary").count() == 1, address
        found += faults_on(page, f"{address}, refused", WAYS[:2])
    for address in ("/", "/rough/", "/stones/", "/gems/", "/sales/", "/people/", "/papers/", "/books/stock/"):
        page.goto(address)
        found += faults_on(page, f"{address}, empty", WAYS[2:])
    assert not found, "\n".join(found)


def test_it_finds_faults_where_there_are_some(open_page):
    """Proof that the check can fail: a page with a fault of each kind."""
    page = open_page(1280)
    page.goto("/sign-in/")
    page.evaluate(
        """() => {
          document.documentElement.removeAttribute('lang');
          document.body.innerHTML = '<img src="data:,"><input><p class="planted">pale words</p>';
          document.querySelector('.planted').style.color = '#ddd';
        }"""
    )
    page.evaluate(AXE + ";0")
    found = {rule for rule, _ in page.evaluate(RUN, RULES)}
    assert found >= {"image-alt", "label", "color-contrast", "html-has-lang", "region"}
