"""The demo shop: what the issue asks of it is there, it keeps the laws, and every page of it opens for who may see it."""

import re
from collections import Counter
from functools import cache
from urllib.parse import urljoin, urlsplit

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from tests.laws import laws
from workshop.books.questions import rough_cost_ties
from workshop.commissions.models import Commission, State, StopAsk
from workshop.common.models import Hand, JournalEntry
from workshop.exchange.demo import HANDS, SHOP, Demo
from workshop.gems.models import FinishedGem
from workshop.papers.models import Paper
from workshop.rough.models import RoughLot
from workshop.sales.models import Sale
from workshop.stones.models import BenchTime, Ending, Stage, Stone

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("demo")]

#: Addresses a crawl must not follow: they end the session, or hold a file that is looked at elsewhere.
LEAVE = re.compile(r"^/(sign-out|admin|static)/|\.jpg$")
MOST_PAGES = 900


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """Loaded once for the tests of this file, and taken away with the transaction it lives in."""
    from django.db import transaction

    with django_db_blocker.unblock():
        outer = transaction.atomic()
        outer.__enter__()
        try:
            call_command("seed_materials", verbosity=0)
            Demo(timezone.now()).load()
            yield
        finally:
            transaction.set_rollback(True)
            outer.__exit__(None, None, None)


@pytest.fixture(autouse=True)
def own_media():
    """The demo's pictures are kept from test to test; the shared fixture would sweep them away."""


def test_it_has_a_commission_in_every_state_a_cutter_meets(demo):
    states = set(Commission.objects.values_list("state", flat=True))
    assert states == {State.ENQUIRY, State.QUOTED, State.IN_WORK, State.DELIVERED, State.CANCELLED}
    assert StopAsk.objects.standing().count() == 1
    assert (
        not Commission.objects.filter(state__in=[State.DELIVERED, State.CANCELLED])
        .exclude(balance=0)
        .exists()
    )


def test_it_has_lots_stones_gems_sales_and_a_year_of_hours(demo):
    assert RoughLot.objects.count() >= 6
    assert RoughLot.objects.exclude(ownership="shop").exists()
    assert Stone.objects.count() >= 40
    assert FinishedGem.objects.count() >= 20
    assert Sale.objects.count() >= 10
    days = BenchTime.objects.values_list("started_at__date", flat=True)
    assert (max(days) - min(days)).days > 330
    endings = Counter(Stone.objects.values_list("ending", flat=True))
    assert set(endings) >= {ending.value for ending in Ending}
    worked = set(Stone.objects.values_list("stage_changes__new", flat=True)) | {Stage.SELECTED, Stage.SAWN}
    assert worked >= {stage.value for stage in Stage}


def test_the_laws_hold_in_it_and_every_report_adds_up(demo):
    laws.check_weights()
    laws.check_money()
    laws.check_times()
    laws.check_ownership()
    laws.check_sales()
    assert rough_cost_ties().adds_up
    assert JournalEntry.objects.count() > 400


def test_it_goes_only_into_an_empty_shop(demo):
    with pytest.raises(CommandError, match="not empty"):
        call_command("load_demo")


@pytest.fixture(scope="module")
def crawled(demo):
    """Each person's crawl, made once."""
    return cache(crawl)


def crawl(name):
    """Every page somebody reaches by following links: {address: response}."""
    client = Client(raise_request_exception=True)
    client.force_login(Hand.objects.get(username=name), backend="django.contrib.auth.backends.ModelBackend")
    seen, waiting = {}, ["/"]
    while waiting and len(seen) < MOST_PAGES:
        address = waiting.pop(0)
        if address in seen:
            continue
        answer = seen[address] = client.get(address)
        if answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html"):
            for link in re.findall(r'href="([^"#]+)"', answer.content.decode()):
                target = urlsplit(urljoin(address, link.replace("&amp;", "&")))
                plain = not target.scheme and not target.netloc and target.path.startswith("/")
                # Filters and orders multiply without end; one page of each list stands for them.
                # That a paper of the demo can be drawn is seen once, by its owner.
                drawn = target.path.endswith(".pdf") and name != "wren"
                if plain and not drawn and not LEAVE.search(target.path) and not target.query:
                    waiting.append(target.path)
    return seen


@pytest.mark.parametrize("name", list(HANDS))
def test_every_page_opens_for_who_is_led_to_it(crawled, name):
    pages = crawled(name)
    wrong = {
        address: page.status_code for address, page in pages.items() if page.status_code not in {200, 302}
    }
    assert not wrong
    assert len(pages) > 100


def test_a_hand_sees_no_money_anywhere(crawled):
    currency = re.compile(rf"\b{SHOP['currency']}\b")
    told = {
        address: currency.findall(page.content.decode())
        for address, page in crawled("fenn").items()
        if page.status_code == 200 and page.headers["Content-Type"].startswith("text/html")
    }
    assert not {address: found for address, found in told.items() if found}


def test_some_cards_stand(demo):
    assert Paper.objects.standing().count() >= 5
