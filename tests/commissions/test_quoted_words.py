"""A quote is a public text too: what it may not say of the stones it speaks of."""

import pytest

from tests import makers
from tests.commissions.quoted import BASE_URL, make_draft
from tests.makers import NOON, make_clients_stone, make_commission, say
from workshop.commissions.actions import commissions, quotes
from workshop.commissions.models import QuoteState
from workshop.commissions.words_checked import facts_of
from workshop.common.errors import DeedRefused

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop():
    return makers.make_shop(base_url="https://cards.example")


def send(quote):
    return quotes.send_quote(quote, by=None, at=NOON, base_url=BASE_URL)


@pytest.mark.parametrize(
    ("note", "rule"),
    [
        ("A flawless stone will be yours.", "16 CFR 23.28"),
        ("Your untreated stone deserves it.", "LMHC"),  # CL-03: nobody said so
        ("Green amethyst cuts well.", "16 CFR 23.26"),
        ("It will weigh 25 points.", "16 CFR 23.18(b)"),
    ],
)
def test_a_note_that_breaks_a_rule_stops_the_quote_and_leaves_it_a_draft(note, rule):
    """Issue 5, item 2: the same engine over every public text."""
    quote = make_draft()
    quote.note = note
    quote.save(update_fields=["note"])
    with pytest.raises(DeedRefused, match="may not be used") as refusal:
        send(quote)
    assert rule in refusal.value.message
    quote.refresh_from_db()
    assert quote.state == QuoteState.DRAFT and quote.paper is None


def test_a_grown_stone_is_not_quoted_by_its_bare_name():
    """16 CFR 23.25(b): laboratory-grown directly before the name."""
    commission = make_commission()
    item = commission.items.get()
    stone = make_clients_stone(commission.client)
    say(stone, "nature", 5, nature="grown", how="no. 4")
    commissions.link_stone(item, stone, by=None, at=NOON)
    assert facts_of(item).nature == "grown"
    quote = make_draft(commission)
    line = quote.lines.get()
    line.what = "Recut your ruby"
    line.save(update_fields=["what"])
    with pytest.raises(DeedRefused, match=r"23\.25"):
        send(quote)
    line.what = "Recut your laboratory-grown ruby"
    line.save(update_fields=["what"])
    assert send(quote).state == QuoteState.SENT


def test_plain_words_and_a_place_to_post_to_pass():
    quote = make_draft()
    quote.note = "I post to Australia every week; the oval keeps most of the colour."
    quote.save(update_fields=["note"])
    assert send(quote).state == QuoteState.SENT
