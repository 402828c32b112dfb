"""What is done with a gem: priced, moved, described, pictured, sent back to work, let go, and taken in again."""

import io
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_contact,
    make_gem,
    make_hand,
    make_lot,
    make_reader,
    make_stone,
    say,
)
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.gems import actions, card_actions
from workshop.gems.models import FinishedGem, PriceChange
from workshop.papers.models import Paper

D = Decimal


def url(deed, gem):
    return reverse(f"gems:{deed}", args=[gem.code])


@pytest.fixture
def gem(owner):
    return make_gem(by=owner)


@pytest.fixture
def clients_gem(owner):
    contact = make_contact("Clara Client")
    lot = make_lot(by=owner, ownership="client", owner=contact)
    return make_gem(stone=make_stone(lot=lot, by=owner), by=owner)


# --- Price --------------------------------------------------------------------------------------------------------


def test_a_price_is_asked_and_the_older_one_stays_in_the_history(client, owner, gem):
    client.post(url("price", gem), {"amount": "700", "level": "retail"})
    answer = client.post(url("price", gem), {"amount": "765,60", "level": "retail", "reason": "120 a carat"})
    assert answer.url == gem.get_absolute_url()
    gem.refresh_from_db()
    assert gem.price == D("765.60")
    assert [one.amount for one in gem.prices.all()] == [D("765.60"), D("700.00")]
    page = client.get(answer.url).content.decode()
    assert "765.60" in page and "700.00" in page and "120 a carat" in page
    line = JournalEntry.objects.filter(verb="priced").first()
    assert (line.before, line.after) == ({"retail": "700.000"}, {"retail": "765.60"})


def test_a_trade_price_stands_beside_the_asking_price(client, owner, gem):
    actions.set_price(gem, D("700"), by=owner, at=NOON)
    client.post(url("price", gem), {"amount": "500", "level": "trade"})
    gem.refresh_from_db()
    assert gem.price == D("700.00")
    assert PriceChange.objects.filter(level="trade").get().amount == D("500.00")


@pytest.mark.parametrize("amount", ["-1", "", "much", "10.005", "1e15", "nan"])
def test_what_is_no_price_is_refused(client, owner, gem, amount):
    answer = client.post(url("price", gem), {"amount": amount, "level": "retail", "reason": "keep me"})
    assert answer.status_code == 422 and answer.context["form"].errors["amount"]
    assert "keep me" in answer.content.decode()
    assert not PriceChange.objects.exists()


def test_what_is_not_the_shops_has_no_price(client, owner, clients_gem):
    answer = client.post(url("price", clients_gem), {"amount": "5", "level": "retail"})
    assert answer.status_code == 422
    assert "is not the shop's to price" in answer.content.decode().replace("&#x27;", "'")
    assert not PriceChange.objects.exists()


# --- Where it is --------------------------------------------------------------------------------------------------


def test_who_has_it_tonight_since_when_at_what_value(client, owner, gem):
    holder = make_contact("Setter Sorrel", is_jeweller=True)
    sent = {"place": "memo", "holder": holder.pk, "since": "2026-03-04", "declared_value": "800"}
    assert client.post(url("move", gem), sent).status_code == 302
    gem.refresh_from_db()
    assert (gem.place, gem.holder, gem.held_since, gem.declared_value) == (
        "memo", holder, date(2026, 3, 4), D("800.00"),
    )  # fmt: skip
    assert (gem.state_word, gem.is_away) == ("out on memo", True)
    # The form opens with what stands there, in money as it is typed.
    assert client.get(url("move", gem)).context["form"]["declared_value"].value() == D("800.00")
    home = {"place": "safe", "since": "2026-03-05"}
    assert client.post(url("move", gem), home).status_code == 302
    gem.refresh_from_db()
    assert (gem.holder, gem.is_away, gem.declared_value) == (None, False, None)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"place": "memo"}, "holder"),
        ({"place": "moon"}, "place"),
        ({"place": "buyer"}, "place"),
        ({"since": "2999-01-01"}, "since"),
        ({"since": "2025-01-01"}, "since"),
        ({"since": "soon"}, "since"),
        ({"declared_value": "-5"}, "declared_value"),
        ({"holder": "77777"}, "holder"),
    ],
)
def test_a_place_that_cannot_be_is_refused(client, owner, gem, wrong, field):
    answer = client.post(url("move", gem), {"place": "safe", "since": "2026-03-04", **wrong})
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    gem.refresh_from_db()
    assert (gem.place, gem.held_since) == ("safe", DAY)


def test_nobody_has_it_in_the_safe(client, owner, gem):
    sent = {"place": "safe", "since": "2026-03-04", "holder": make_contact().pk}
    answer = client.post(url("move", gem), sent)
    assert answer.context["form"].errors["holder"]


# --- Words and pictures -------------------------------------------------------------------------------------------


def test_words_change_and_the_journal_keeps_the_old_ones(client, owner, gem):
    form = client.get(url("describe", gem)).context["form"]
    assert form["colour"].value() == "bluish green, medium"
    client.post(url("describe", gem), {"colour": "green", "table_percent": "56.50", "facets": "57"})
    gem.refresh_from_db()
    assert (gem.colour, gem.table_percent, gem.facets) == ("green", D("56.5"), 57)
    line = JournalEntry.objects.get(verb="described gem")
    assert (line.before["colour"], line.after["colour"]) == ("bluish green, medium", "green")
    assert client.get(url("describe", gem)).context["form"]["table_percent"].value() == "56.5"


def test_a_description_that_changes_nothing_leaves_no_line(client, owner, gem):
    sent = {"colour": gem.colour, "colour_light": gem.colour_light}
    assert client.post(url("describe", gem), sent).status_code == 302
    assert not JournalEntry.objects.filter(verb="described gem").exists()


def test_a_gem_has_a_colour(client, owner, gem):
    answer = client.post(url("describe", gem), {"colour": " "})
    assert answer.status_code == 422 and answer.context["form"].errors["colour"]


def test_weight_and_size_are_not_words(owner, gem):
    actions.describe_gem(gem, {"weight_ct": D(99), "price": D(1), "cut": "step"}, by=owner, at=NOON)
    gem.refresh_from_db()
    assert (gem.weight_ct, gem.price, gem.cut) == (D("2.345"), None, "step")


def test_a_public_picture_is_added_chosen_and_taken_off(client, owner, gem):
    out = io.BytesIO()
    Image.new("RGB", (320, 240), "teal").save(out, "JPEG")
    client.post(
        url("photo", gem),
        {"pictures": SimpleUploadedFile("g.jpg", out.getvalue(), "image/jpeg"), "public": "new", "caption": "hand"},
    )  # fmt: skip
    gem.refresh_from_db()
    kept = gem.stone.photos.get()
    assert (gem.public_photo, kept.caption, kept.stage) == (kept, "hand", "finished")
    client.post(url("photo", gem), {"public": ""})
    gem.refresh_from_db()
    assert gem.public_photo is None
    client.post(url("photo", gem), {"public": str(kept.pk)})
    gem.refresh_from_db()
    assert gem.public_photo == kept


# --- Back to work -------------------------------------------------------------------------------------------------


def test_back_to_work_voids_its_card_and_asks_the_treatment_again(client, owner):
    gem = make_answered_gem(by=owner)
    card = card_actions.issue_card(gem, by=owner, at=NOON, base_url="https://cards.example")
    page = client.get(url("rework", gem)).content.decode()
    assert card.number in page and "treatment is asked anew" in page
    answer = client.post(url("rework", gem), {"to": "second_cut", "reason": "a scratch on the table"})
    assert answer.status_code == 302
    gem.refresh_from_db()
    assert (gem.gone_as, gem.gone_note) == ("recut", "a scratch on the table")
    stone = gem.stone
    assert (stone.stage, stone.rework, stone.place) == ("second_cut", True, "bench")
    assert stone.treatment_asked_at is not None
    assert "scratch" in Paper.objects.get(number=card.number).void_reason
    page = client.get(answer.url).content.decode()
    assert "opened the treatment question again" in page
    assert "Still open" in page and "treatment</a>" in page
    # It is finished a second time, as a gem of its own, from the same whole rough.
    later = make_gem(weight="2.100 ct", stone=stone, by=owner, at=stone.touched_at)
    assert (later.code, later.whole_ct) == ("G-0002", gem.whole_ct)
    assert later.code in client.get(gem.get_absolute_url()).content.decode()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [({"reason": ""}, "reason"), ({"to": "finished"}, "to"), ({"to": "moon"}, "to")],
)
def test_back_to_work_needs_a_stage_and_a_reason(client, owner, gem, wrong, field):
    answer = client.post(url("rework", gem), {"to": "off_dop", "reason": "a scratch", **wrong})
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    gem.refresh_from_db()
    assert gem.is_here


def test_a_gem_that_lies_elsewhere_is_brought_home_first(owner, gem):
    """It used to be on the bench and out on memo at once."""
    actions.move_gem(gem, place="memo", holder=make_contact(), since=DAY, by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="bring it home first"):
        actions.send_back(gem, to="second_cut", reason="a scratch", by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="Name the stage"):
        actions.send_back(make_gem(by=owner), to="nowhere", reason="a scratch", by=owner, at=NOON)


# --- Off the books ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["given", "kept", "lost"])
def test_a_gem_leaves_the_books_with_a_reason_and_can_come_back(client, owner, gem, way):
    sent = {"gone_as": way, "on": "2026-03-05", "note": "to a godchild"}
    assert client.post(url("let_go", gem), sent).status_code == 302
    gem.refresh_from_db()
    assert (gem.gone_as, gem.gone_on, gem.place) == (way, date(2026, 3, 5), "gone")
    assert gem.stone.cost_fixed
    page = client.get(gem.get_absolute_url()).content.decode()
    assert "to a godchild" in page and "It came back" in page and url("price", gem) not in page
    assert client.post(url("again", gem), {"reason": "found behind the lap"}).status_code == 302
    gem = FinishedGem.objects.get()
    assert (gem.gone_as, gem.is_here, gem.place, gem.stone.cost_fixed) == ("", True, "safe", False)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"note": ""}, "note"),
        ({"on": "2999-01-01"}, "on"),
        ({"on": "2026-03-01"}, "on"),
        ({"gone_as": "sold"}, "gone_as"),
        ({"gone_as": "recut"}, "gone_as"),
        ({"gone_as": "delivered"}, "gone_as"),
    ],
)
def test_leaving_the_books_is_told_in_full(client, owner, gem, wrong, field):
    sent = {"gone_as": "lost", "on": "2026-03-05", "note": "last seen on the bench", **wrong}
    answer = client.post(url("let_go", gem), sent)
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    gem.refresh_from_db()
    assert gem.is_here


def test_a_clients_gem_only_goes_home(client, owner, clients_gem):
    page = client.get(url("let_go", clients_gem)).content.decode()
    assert "belongs to Clara Client" in page and "given away" not in page
    for way in ("given", "kept", "sold"):
        with pytest.raises(DeedRefused, match="leaves only to its owner"):
            actions.let_go(clients_gem, gone_as=way, on=DAY, by=owner, at=NOON, note="no")
    client.post(url("let_go", clients_gem), {"gone_as": "delivered", "on": "2026-03-05"})
    clients_gem.refresh_from_db()
    assert (clients_gem.gone_as, clients_gem.holder) == ("delivered", clients_gem.owner)


def test_a_clients_gem_is_bought_and_then_is_stock(client, owner, clients_gem):
    assert url("buy", clients_gem) in client.get(clients_gem.get_absolute_url()).content.decode()
    sent = {"paid": "75.50", "reason": "instead of the cutting fee"}
    assert client.post(url("buy", clients_gem), sent).status_code == 302
    gem = FinishedGem.objects.get()
    assert (gem.is_own, gem.owner, gem.stone.is_own) == (True, None, True)
    # What was paid is a cost of the stone, which had none: the rough was the client's.
    assert gem.stone.cost_to_date == D("75.50")
    assert list(FinishedGem.objects.in_stock()) == [gem]
    line = JournalEntry.objects.get(verb="changed hands")
    assert (line.before["owner"], line.reason) == ("Clara Client", "instead of the cutting fee")


@pytest.mark.parametrize(
    ("wrong", "field"), [({"paid": "-1"}, "paid"), ({"paid": ""}, "paid"), ({"reason": " "}, "reason")]
)
def test_a_purchase_is_told_in_full(client, owner, clients_gem, wrong, field):
    answer = client.post(url("buy", clients_gem), {"paid": "75", "reason": "bought", **wrong})
    assert answer.status_code == 422 and answer.context["form"].errors[field]
    assert not FinishedGem.objects.get().is_own


def test_the_shop_does_not_buy_its_own(client, owner, gem):
    answer = client.post(url("buy", gem), {"paid": "75", "reason": "bought"})
    assert answer.status_code == 422 and "own already" in answer.content.decode()


def test_the_shops_own_is_not_delivered(owner, gem):
    with pytest.raises(DeedRefused, match="sold or given"):
        actions.let_go(gem, gone_as="delivered", on=DAY, by=owner, at=NOON)


def test_nothing_more_is_done_to_a_gem_that_is_gone(client, owner, gem):
    actions.let_go(gem, gone_as="lost", on=DAY, note="in the post", by=owner, at=NOON)
    tries = {
        "price": {"amount": "5", "level": "retail"},
        "move": {"place": "safe", "since": "2026-03-04"},
        "describe": {"colour": "other"},
        "rework": {"to": "off_dop", "reason": "a scratch"},
        "let_go": {"gone_as": "given", "on": "2026-03-04", "note": "again"},
    }
    for deed, sent in tries.items():
        answer = client.post(url(deed, gem), sent)
        assert answer.status_code == 422, deed
        assert "is lost since" in answer.content.decode(), deed


def test_what_never_left_does_not_come_back(client, owner, gem):
    answer = client.post(url("again", gem), {"reason": "here it is"})
    assert answer.status_code == 422 and "is not away" in answer.content.decode()


def test_a_statement_after_the_recut_answers_the_treatment_again(client, owner):
    gem = make_answered_gem(by=owner)
    now = timezone.now()
    actions.send_back(gem, to="second_cut", reason="a chip", by=owner, at=now)
    later = make_gem(weight="2.1 ct", stone=gem.stone, by=owner, at=now + timedelta(hours=1))
    assert client.get(later.get_absolute_url()).context["questions"] == ["treatment"]
    say(gem.stone, "treatment", 2, treated="treated", treatments=["heat"], said_on=now.date(), at=now)
    assert client.get(later.get_absolute_url()).context["questions"] == []


# --- Who may ------------------------------------------------------------------------------------------------------

OWNERS_DEEDS = ("price", "move", "describe", "rework", "let_go", "buy", "again")


@pytest.mark.parametrize("maker", [make_hand, make_reader])
@pytest.mark.parametrize("deed", OWNERS_DEEDS)
def test_only_the_owner_may(client, gem, maker, deed):
    client.force_login(maker())
    assert client.get(url(deed, gem)).status_code == 403
    assert client.post(url(deed, gem), {}).status_code == 403


def test_a_hand_adds_photographs_and_a_reader_does_not(client, gem):
    client.force_login(make_hand())
    assert client.get(url("photo", gem)).status_code == 200
    client.force_login(make_reader())
    assert client.get(url("photo", gem)).status_code == 403


@pytest.mark.parametrize("deed", [*OWNERS_DEEDS, "photo", "gem"])
def test_strangers_are_sent_to_the_door_and_an_unknown_code_is_not_there(client, gem, deed):
    assert client.get(reverse(f"gems:{deed}", args=["G-9999"])).status_code == 404
    client.logout()
    assert reverse("common:sign_in") in client.get(url(deed, gem)).url


def test_a_form_sent_twice_prices_once(client, owner, gem):
    sent = {"amount": "5", "level": "retail", "once": "one"}
    assert client.post(url("price", gem), sent).url == client.post(url("price", gem), sent).url
    assert PriceChange.objects.count() == 1


def test_deeds_of_nobody_are_allowed(owner, gem):
    """The demo and an import have no hand; a blank author used to refuse the price."""
    assert actions.set_price(gem, D("5"), by=None, at=NOON).by is None
