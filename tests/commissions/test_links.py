"""Stones that stand for the pieces of a commission: which may, which may not, and what is made of them."""

from dataclasses import replace
from decimal import Decimal

import pytest

from tests import makers
from workshop.commissions import progress
from workshop.commissions.actions import commissions
from workshop.commissions.actions.commissions import ItemSpec
from workshop.commissions.models import CommissionItem, ItemStone
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.gems import actions as gems
from workshop.handbook.units import parse_weight
from workshop.people.models import Contact
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import Stone

pytestmark = pytest.mark.django_db
NOON = makers.NOON


def link(item, stone, **said):
    return commissions.link_stone(item, stone, by=None, at=NOON, **said)


def refused(words, deed, *args, **said):
    """The deed is refused with these words, and no link was written."""
    before = ItemStone.objects.count()
    with pytest.raises(DeedRefused, match=words) as refusal:
        deed(*args, **said)
    assert ItemStone.objects.count() == before
    return refusal.value


@pytest.fixture
def commission():
    makers.make_shop()
    return makers.make_commission()


@pytest.fixture
def item(commission):
    return commission.items.get()


@pytest.fixture
def stone(commission):
    return makers.make_clients_stone(commission.client)


def own_item(commission, work="cut_own"):
    return makers.make_item(commission, work=work, wanted="a round of the shop's own")


def test_it_works(commission, item, stone):
    link(item, stone, why="the better of two")
    assert progress.stones_of(item) == [stone]
    line = JournalEntry.objects.filter(about=commission.code).first()
    assert (line.verb, line.after, line.reason) == (
        "linked stone", {"piece": 1, "stone": stone.code}, "the better of two",
    )  # fmt: skip


def test_a_stone_of_another_client_is_refused_by_name(item):
    other = makers.make_contact("Otto Fenn", is_client=True)
    theirs = makers.make_clients_stone(other)
    refusal = refused(
        rf"{theirs.code} belongs to Otto Fenn; this commission is Mara Quill's", link, item, theirs
    )
    assert refusal.field == "stone"


def test_a_stone_lent_by_a_dealer_is_refused(commission):
    dealer = makers.make_contact("A Dealer")
    lot = makers.make_lot("5 ct", came="left", ownership="lent", owner=dealer)
    refused("is lent to the shop by A Dealer", link, own_item(commission), makers.make_stone("5 ct", lot=lot))


def test_own_stones_only_for_pieces_cut_from_own_rough_or_matched(commission, item):
    for work in ("cut_client", "recut", "repolish", "repair"):
        own = makers.make_stone()
        piece = makers.make_item(commission, work=work)
        refused(
            f"{own.code} is the shop's own; piece {piece.number} is work on the client's", link, piece, own
        )
    for work in ("cut_own", "match"):
        link(own_item(commission, work), makers.make_stone())


def test_clients_goods_are_not_cut_as_the_shops_rough(commission, stone):
    piece = own_item(commission)
    refused(
        rf"{stone.code} belongs to Mara Quill; piece {piece.number} is to be cut from the shop's",
        link, piece, stone,
    )  # fmt: skip
    link(own_item(commission, "match"), stone)


def test_a_stone_stands_for_one_piece_at_a_time(commission, item, stone):
    link(item, stone)
    second = makers.make_item(commission)
    elsewhere = makers.make_commission(client=commission.client).items.get()
    for piece in (item, second, elsewhere):
        refused(rf"{stone.code} stands for {commission.code}, piece 1 already", link, piece, stone)


def test_what_was_made_of_a_stone_stays_in_its_commission(commission, item, stone):
    link(item, stone)
    big, small = stones.split_stone(
        stone, [parse_weight("6 ct"), parse_weight("3.5 ct")], by=None, at=NOON, kerf_ct=Decimal("0.5")
    )
    elsewhere = makers.make_commission(client=commission.client).items.get()
    refused(
        f"{small.code} was made from {stone.code}, which stands for {commission.code}", link, elsewhere, small
    )
    assert [one.pk for one in progress.stones_of(item)] == [stone.pk, big.pk, small.pk]
    second = makers.make_item(commission)
    link(second, small)
    assert [one.pk for one in progress.stones_of(item)] == [stone.pk, big.pk]
    assert [one.pk for one in progress.stones_of(second)] == [small.pk]


def test_a_split_stone_is_refused_and_its_pieces_named(item, stone):
    stones.split_stone(
        stone, [parse_weight("6 ct"), parse_weight("3.5 ct")], by=None, at=NOON, kerf_ct=Decimal("0.5")
    )
    refused("was made into several: take one of those", link, item, stone)


@pytest.mark.parametrize(
    ("ending", "words"), [("lost", "is lost"), ("put_by", "is put by"), ("scrapped", "is scrapped")]
)
def test_an_ended_stone_is_refused(item, stone, ending, words):
    stones.end_stone(stone, ending, reason="it happened", by=None, at=NOON)
    refused(f"{stone.code} {words}", link, item, stone)


def test_a_gem_that_left_is_refused(commission):
    owner = makers.somebody()
    gem = makers.make_gem(by=owner)
    gems.let_go(gem, gone_as="given", on=makers.DAY, by=owner, at=NOON, note="a present")
    refused(f"{gem.stone.code} is {gem.code}, given away", link, own_item(commission), gem.stone)


def test_a_gem_in_stock_may_stand_for_a_piece_and_makes_it_ready(commission):
    piece, gem = own_item(commission, "match"), makers.make_gem()
    link(piece, gem.stone)
    assert progress.gems_of(piece) == [gem]
    assert progress.is_ready(piece)


def test_a_piece_is_ready_when_its_gem_is_here_and_nothing_of_it_is_at_work(commission, item, stone):
    link(item, stone)
    assert not progress.is_ready(item)
    big, small = stones.split_stone(
        stone, [parse_weight("6 ct"), parse_weight("3.5 ct")], by=None, at=NOON, kerf_ct=Decimal("0.5")
    )
    gem = makers.make_gem("2.2 ct", stone=big)
    assert not progress.is_ready(item), "the second stone is still at work"
    stones.end_stone(small, "put_by", reason="no use", by=None, at=NOON)
    assert progress.is_ready(item)
    gems.let_go(
        gem, gone_as="delivered", on=makers.DAY, by=makers.somebody(), at=NOON, holder=commission.client
    )
    assert not progress.is_ready(item), "it is with the client already"


def test_a_recut_tells_its_stone(commission, stone):
    piece = makers.make_item(commission, work="recut")
    link(piece, stone)
    stone.refresh_from_db()
    assert stone.work == "recut"


def test_nothing_is_linked_to_an_ended_piece_or_a_closed_commission(commission, item, stone):
    CommissionItem.objects.filter(pk=item.pk).update(outcome="dropped", outcome_on=makers.DAY)
    refused(f"Piece 1 of {commission.code} is not done", link, item, stone)
    CommissionItem.objects.filter(pk=item.pk).update(outcome="open", outcome_on=None)
    commissions.close_enquiry(commission, reason="too dear", by=None, at=NOON)
    refused(f"{commission.code} is declined", link, item, stone)


def test_a_stone_is_taken_off_with_a_reason_and_may_stand_elsewhere(commission, item, stone):
    held = link(item, stone)
    refused("Say why", commissions.unlink_stone, held, why="  ", by=None, at=NOON)
    commissions.unlink_stone(held, why="the other is better", by=None, at=NOON)
    assert progress.stones_of(item) == []
    refused("no longer already", commissions.unlink_stone, held, why="again", by=None, at=NOON)
    link(makers.make_item(commission), stone)
    held.refresh_from_db()
    assert (held.until, held.why) == (NOON, "the other is better")


def test_drawing_for_a_piece_draws_and_links_at_once(commission, item):
    lot = makers.make_lot("20 ct", came="left", ownership="client", owner=commission.client, pieces=2)
    stone = commissions.draw_for_item(item, lot, parse_weight("12 ct"), by=None, at=NOON)
    assert progress.stones_of(item) == [stone]
    assert (stone.owner, stone.weight_ct) == (commission.client, Decimal(12))


def test_a_draw_that_may_not_be_linked_draws_nothing(commission, item):
    lot = makers.make_lot("20 ct")
    before = Stone.objects.count()
    refused("is the shop's own", commissions.draw_for_item, item, lot, parse_weight("2 ct"), by=None, at=NOON)
    assert Stone.objects.count() == before
    assert RoughLot.objects.get(pk=lot.pk).left_ct == Decimal(20)
    refused("Only 20.000 ct are left", commissions.draw_for_item, own_item(commission), lot,
            parse_weight("21 ct"), by=None, at=NOON)  # fmt: skip


def test_changing_an_agreed_piece_needs_a_reason(commission, item):
    wider = replace(ItemSpec.of(item), wanted="a cushion", shape="cushion")
    commissions.change_item(item, wider, by=None, at=NOON)
    commission.accepted_at = NOON
    commission.save()
    smaller = replace(wider, floor_ct=Decimal("1.2"))
    with pytest.raises(DeedRefused, match="say why it changes") as refusal:
        commissions.change_item(item, smaller, by=None, at=NOON)
    assert refusal.value.field == "why"
    commissions.change_item(item, smaller, why="she agreed by phone", by=None, at=NOON)
    line = JournalEntry.objects.filter(about=commission.code).first()
    assert (line.before["floor_ct"], line.after["floor_ct"], line.reason) == (
        None,
        "1.2",
        "she agreed by phone",
    )


def test_closing_an_enquiry_waits_for_the_clients_goods(commission, item, stone):
    link(item, stone)
    with pytest.raises(DeedRefused, match=f"{stone.code} of the client lies here still"):
        commissions.close_enquiry(commission, reason="too dear", by=None, at=NOON)
    stones.end_stone(stone, "unworked", reason="given back", by=None, at=NOON)
    closed = commissions.close_enquiry(commission, reason="too dear", by=None, at=NOON)
    assert (closed.state, closed.closed_why, closed.items.get().outcome) == (
        "declined",
        "too dear",
        "dropped",
    )
    with pytest.raises(DeedRefused, match="is declined"):
        commissions.close_enquiry(commission, reason="again", by=None, at=NOON)


def test_closing_needs_a_reason_and_an_enquiry(commission):
    with pytest.raises(DeedRefused, match="Say why"):
        commissions.close_enquiry(commission, reason=" ", by=None, at=NOON)
    commission.state = "in_work"
    commission.save()
    with pytest.raises(DeedRefused, match="cancel it instead"):
        commissions.close_enquiry(commission, reason="x", by=None, at=NOON)


# --- The pages --------------------------------------------------------------------------------------------------


@pytest.fixture
def owner(client, commission):
    person = makers.somebody()
    client.force_login(person)
    return person


def test_the_page_offers_what_fits_and_links_it(client, owner, commission, item, stone):
    strangers = makers.make_clients_stone(makers.make_contact("Otto Fenn"))
    url = f"/commissions/{commission.code}/1/stone/"
    page = client.get(url).content.decode()
    assert stone.code in page and strangers.code not in page
    answer = client.post(url, {"stone": stone.code})
    assert answer.url == f"/commissions/{commission.code}/#piece-1"
    assert progress.stones_of(item) == [stone]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "Choose one stone"),
        ({"code": "S-9999"}, "There is no stone with that code"),
        ({"code": "S-\x00"}, "Null characters"),
        ({"stone": "S-9999"}, "Select a valid choice"),
    ],
)
def test_a_stone_that_is_none(client, owner, commission, stone, typed, words):
    answer = client.post(f"/commissions/{commission.code}/1/stone/", typed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not ItemStone.objects.exists()


def test_anothers_stone_by_its_code_is_refused_beside_the_box(client, owner, commission):
    theirs = makers.make_clients_stone(makers.make_contact("Otto Fenn"))
    answer = client.post(
        f"/commissions/{commission.code}/1/stone/", {"code": theirs.code.lower(), "why": "kept"}
    )
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "belongs to Otto Fenn" in page and 'value="kept"' in page


def test_drawing_on_the_page(client, owner, commission, item):
    lot = makers.make_lot("20 ct", came="left", ownership="client", owner=commission.client, pieces=2)
    url = f"/commissions/{commission.code}/1/draw/"
    assert lot.code in client.get(url).content.decode()
    bad = client.post(url, {"source": lot.code, "weight": "21 ct", "first_side": "crown"})
    assert (bad.status_code, Stone.objects.count()) == (422, 0)
    client.post(url, {"source": lot.code, "weight": "4 g", "first_side": "crown"})
    assert [one.weight_ct for one in progress.stones_of(item)] == [Decimal(20)]


def test_taking_off_on_the_page(client, owner, commission, item, stone):
    held = link(item, stone)
    url = f"/commissions/{commission.code}/unlink/{held.pk}/"
    assert client.post(url, {}).status_code == 422
    assert client.post(url, {"why": "wrong one"}).status_code == 302
    assert progress.stones_of(item) == []
    other = makers.make_commission(client=Contact.objects.get(pk=commission.client_id))
    assert client.get(f"/commissions/{other.code}/unlink/{held.pk}/").status_code == 404


def test_from_a_stone_to_its_commission(client, owner, commission, item, stone):
    none = client.get(f"/commissions/of/{stone.code}/", follow=True)
    assert "stands for no commission" in none.content.decode()
    link(item, stone)
    child = stones.split_stone(
        stone, [parse_weight("6 ct"), parse_weight("3.5 ct")], by=None, at=NOON, kerf_ct=Decimal("0.5")
    )[0]
    for code in (stone.code, child.code):
        assert client.get(f"/commissions/of/{code}/").url == f"/commissions/{commission.code}/#piece-1"
    assert client.get("/commissions/of/S-9999/").status_code == 404
