"""One commission's page: what is next, who sees what, its photographs, and changing it."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests import makers
from tests.commissions import quoted
from tests.rough.pictures import jpeg
from workshop.commissions import progress
from workshop.commissions.actions import commissions
from workshop.commissions.actions.account import pay
from workshop.commissions.actions.endings import drop_item
from workshop.commissions.actions.work_price import charge_work
from workshop.commissions.looks import look_at
from workshop.commissions.models import Commission, CommissionItem, CommissionPhoto, Message, StopAsk
from workshop.commissions.steps import next_step
from workshop.common import photos
from workshop.common.errors import DeedRefused
from workshop.common.models import Photo
from workshop.handbook.units import parse_weight
from workshop.stones import actions as stones
from workshop.stones.models import Side, Stage, Stone, Wait

pytestmark = pytest.mark.django_db
NOON, DAY = makers.NOON, makers.DAY


@pytest.fixture
def owner(client):
    makers.make_shop(base_url="https://cards.example")
    person = makers.make_owner()
    client.force_login(person)
    return person


@pytest.fixture
def made(owner):
    items = [
        makers.make_item_spec(floor_ct=Decimal(2)),
        makers.make_item_spec(work="cut_own", wanted="a round"),
    ]
    return makers.make_commission(items=items, notes="pays late", by=owner)


def shown(client, made):
    answer = client.get(f"/commissions/{made.code}/")
    assert answer.status_code == 200
    return answer.content.decode()


def put(made, **columns):
    Commission.objects.filter(pk=made.pk).update(**columns)
    return Commission.objects.get(pk=made.pk)


def kept(owner, colour=(20, 90, 60)):
    return photos.keep(photos.prepare(jpeg(colour=colour)), by=owner, at=NOON)


def linked(made, number=1, weight="10 ct"):
    item = made.items.get(number=number)
    stone = makers.make_clients_stone(made.client, weight=weight)
    commissions.link_stone(item, stone, by=None, at=NOON)
    return item, stone


def test_it_works(client, made):
    page = shown(client, made)
    for words in (made.code, "Mara Quill", "for a ring", "1. an oval of her aquamarine", "2. a round", "Floor 2.000",
                  "pays late", "Opened enquiry", "Take in the client"):  # fmt: skip
        assert words in page, words
    assert client.get("/commissions/C-9999/").status_code == 404
    assert client.get(f"/commissions/{made.code.lower()}/").status_code == 200


# --- What is next -------------------------------------------------------------------------------------------------


def step_of(made, day=DAY):
    made = Commission.objects.get(pk=made.pk)
    assert progress.next_thing(made, day) == next_step(look_at([made], day)[0]).words
    return next_step(look_at([Commission.objects.get(pk=made.pk)], day)[0])


def test_the_next_thing_from_the_enquiry_to_the_hand(owner):
    """Each moment in turn, through the deeds wherever this room has them."""
    made = makers.make_commission(items=[makers.make_item_spec(floor_ct=Decimal(2))], by=owner)
    assert step_of(made).page == "commissions:take_in"
    item, stone = linked(made)
    assert step_of(made).page == "commissions:quote_draft"
    draft = quoted.make_draft(made, by=owner)
    assert (step_of(made).page, step_of(made).args) == ("commissions:quote", (made.code, draft.version))
    sent = quoted.quotes.send_quote(draft, by=owner, at=NOON, base_url=quoted.BASE_URL)
    step = step_of(made)
    assert (step.page, step.waits) == ("commissions:quote_answer", True)
    ran_out = step_of(made, sent.valid_until + timedelta(days=1))
    assert "ran out" in ran_out.words and ran_out.page == "commissions:quote_draft"
    quoted.accept(sent)
    assert step_of(made).page == "commissions:go_ahead"
    put(made, state="in_work", go_ahead_at=NOON)
    assert step_of(made).words == f"Go on with {stone.code}: selected."
    Stone.objects.filter(pk=stone.pk).update(weight_ct=Decimal("1.5"))
    step = step_of(made)
    assert (step.page, step.args) == ("commissions:ask", (made.code, 1))
    assert "the floor is" in step.words
    ask = StopAsk.objects.create(item=item, why="floor", words="?", asked_at=NOON)
    step = step_of(made)
    assert (step.page, step.args, step.waits) == ("commissions:ask_answer", (ask.pk,), True)
    StopAsk.objects.filter(pk=ask.pk).update(answered_at=NOON, answer="go on", weight_low_ct=Decimal(1))
    makers.make_gem("1.4 ct", stone=stone)
    assert (step_of(made).page, step_of(made).args) == ("commissions:charge_work", (made.code, 1))
    charge_work(item, on=DAY, by=owner, at=NOON)
    assert step_of(made).page == "commissions:deliver"
    CommissionItem.objects.filter(pk=item.pk).update(outcome="delivered", outcome_on=DAY)
    assert step_of(made).page == "commissions:account", "something is owed"
    pay(made, amount=put(made).balance, on=DAY, by=owner, at=NOON)
    assert step_of(made).page == "commissions:close_account"
    put(made, state="delivered", closed_on=DAY)
    assert step_of(made).words == "Closed: delivered."


def test_after_a_no_the_clients_words_are_told_and_what_to_do(client, owner):
    made = makers.make_commission(by=owner)
    linked(made)
    sent = quoted.make_sent(made, by=owner)
    quoted.quotes.decline_quote(
        sent,
        name="Mara Quill",
        words="only the first, please",
        answered_from="client's page",
        by=None,
        at=NOON,
    )
    step = step_of(made)
    assert step.words.startswith("Version 1 was declined") and step.page == "commissions:quote_draft"
    assert "only the first, please" not in step.words, "a hand reads the step, and the words may name a price"
    versions = shown(client, made).partition('id="quotes"')[2].partition("</section>")[0]
    assert "Mara Quill: “only the first, please”" in versions


def test_a_piece_the_accepted_version_leaves_out_is_told_before_its_goods_are_asked_for(owner):
    specs = [makers.make_item_spec(work="cut_own"), makers.make_item_spec(work="recut")]
    made = makers.make_commission(items=specs, by=owner)
    draft = quoted.make_draft(made, by=owner)
    second = made.items.get(number=2)
    quoted.quotes.drop_line(draft, second, by=owner, at=NOON)
    quoted.accept(
        quoted.quotes.send_quote(draft, by=owner, at=NOON, leaving_out=[second], base_url=quoted.BASE_URL)
    )
    step = step_of(made)
    assert (
        step.words.startswith("No accepted version names piece 2") and step.page == "commissions:quote_draft"
    )
    drop_item(second, reason="not wanted", on=DAY, by=owner, at=NOON)
    assert step_of(made).page == "commissions:go_ahead"


def test_a_piece_without_a_stone_in_work_wants_one(owner):
    made = put(
        makers.make_commission(items=[makers.make_item_spec(work="cut_own")], by=owner), state="in_work"
    )
    assert (step_of(made).page, step_of(made).args) == ("commissions:link", (made.code, 1))


def test_a_finished_stone_of_the_shops_own_is_sold_to_them_first(owner):
    made = put(
        makers.make_commission(items=[makers.make_item_spec(work="cut_own")], by=owner), state="in_work"
    )
    gem = makers.make_gem(by=owner)
    commissions.link_stone(made.items.get(), gem.stone, by=owner, at=NOON)
    step = step_of(made)
    assert step.address == f"/sales/sell/{gem.code}/?commission={made.code}"


def test_every_step_leads_to_a_page_that_opens(client, made):
    """The big button is never dead: its address stands in the address book."""
    linked(made)
    for state in ("enquiry", "accepted", "in_work"):
        step = step_of(put(made, state=state))
        assert step.address, step
        assert client.get(step.address).status_code == 200, step
    assert f'href="{step.address}"' in shown(client, made)


def test_stages_in_words_for_somebody_who_does_not_cut():
    said = [
        ({}, "chosen, not begun"),
        ({"stage": Stage.FIRST_POLISHED}, "pavilion polished"),
        ({"stage": Stage.FIRST_POLISHED, "first_side": Side.CROWN}, "crown polished"),
        ({"stage": Stage.SECOND_CUT}, "crown cut"),
        ({"stage": Stage.TRANSFERRED}, "turned over to cut the crown"),
        ({"stage": Stage.FINISHED}, "finished"),
        ({"ending": "broken"}, "broken in work"),
        ({"waiting_for": Wait.CLIENT}, "waiting for your answer"),
        ({"stage": Stage.FIRST_CUT, "waiting_for": Wait.GLUE}, "pavilion cut"),
    ]
    for columns, words in said:
        assert progress.stage_words(Stone(**columns), to_client=True) == words
    assert progress.stage_words(Stone(waiting_for=Wait.CLIENT)) == "waiting for the client's answer"
    assert all(progress.stage_words(Stone(stage=stage)) for stage in Stage)


# --- Who sees what ------------------------------------------------------------------------------------------------


def rich(made, owner):
    """Everything a hand must not see: money, notes, the client's own data, messages."""
    contact = made.client
    contact.email, contact.phone, contact.address = "mara@example.org", "555-0100", "7 Weir Lane"
    contact.save()
    made = put(made, charged=777, balance=777)
    quote = quoted.make_draft(made, by=owner)
    Message.objects.create(
        commission=made, moment="quote", subject="Your quote of 888", body="x", message_id="m1", made_at=NOON
    )
    return made, quote


def test_a_hand_sees_neither_money_nor_how_to_reach_the_client(client, owner, made):
    made, quote = rich(made, owner)
    page = shown(client, made)
    assert "quote of 888" in page and "pays late" in page
    assert made.client.get_absolute_url() in page
    client.force_login(makers.make_hand())
    page = shown(client, made)
    # With words or places: three digits alone may stand in a one-time key.
    hidden = ["777.00", "quote of 888", str(quote.price_high.quantize(Decimal("0.01"))), "pays late", "mara@example.org", "555-0100",
              "Weir Lane", made.client.get_absolute_url(), "/edit/", "/close/", "/add/", "/stone/", "/share/",
              "<h2>Quote", "<h2>Messages", "Account", "private link"]  # fmt: skip
    for words in hidden:
        assert words not in page, words
    assert "Mara Quill" in page and f"/commissions/{made.code}/photo/" in page


def test_a_reader_sees_it_all_and_changes_nothing(client, owner, made):
    made, _ = rich(made, owner)
    client.force_login(makers.make_reader())
    page = shown(client, made)
    assert "pays late" in page and "Quote" in page
    for words in ("/edit/", "/photo/", "/close/", "/stone/", "/share/", "button--main"):
        assert words not in page, words


@pytest.mark.parametrize(
    ("page", "hand", "reader"),
    [("edit/", 403, 403), ("close/", 403, 403), ("add/", 403, 403), ("1/", 403, 403), ("1/stone/", 403, 403),
     ("1/draw/", 403, 403), ("photo/", 200, 403), ("", 200, 200)],
)  # fmt: skip
def test_doors(client, made, page, hand, reader):
    for maker, wanted in ((makers.make_hand, hand), (makers.make_reader, reader)):
        client.force_login(maker())
        address = f"/commissions/{made.code}/{page}"
        assert client.get(address).status_code == wanted
        assert (
            client.post(address, {}).status_code
            == {403: 403, 200: 405 if not page else 422 if wanted == hand else 405}[wanted]
        )


# --- Photographs --------------------------------------------------------------------------------------------------


def test_a_photograph_is_hidden_until_it_is_shared(client, owner, made):
    url = f"/commissions/{made.code}/photo/"
    client.post(url, {"pictures": [jpeg()], "caption": "the sketch"})
    row = made.photos.get()
    assert (row.caption, row.shared_at) == ("the sketch", None)
    share = f"/commissions/{made.code}/share/{row.photo_id}/"
    assert client.get(share).status_code == 405
    assert client.post(share, {"do": "share"}).url == f"/commissions/{made.code}/#photographs"
    assert made.photos.get().shared_at is not None
    assert "The client sees it" in shown(client, made)
    client.post(share, {"do": "hide"})
    assert made.photos.get().shared_at is None
    client.post(url, {"pictures": [jpeg("b.jpg", colour=(1, 2, 90))], "share": "on"})
    assert made.photos.filter(shared_at__isnull=False).count() == 1


def test_a_stones_photograph_may_be_shared_and_anothers_may_not(client, owner, made):
    _, stone = linked(made)
    picture, foreign = kept(owner), kept(owner, (200, 10, 10))
    stones.add_stone_photo(stone, picture, by=owner, at=NOON)
    elsewhere = makers.make_clients_stone(makers.make_contact("Otto Fenn"))
    stones.add_stone_photo(elsewhere, foreign, by=owner, at=NOON)
    page = shown(client, made)
    assert f"/share/{picture.pk}/" in page and f"/share/{foreign.pk}/" not in page
    assert client.post(f"/commissions/{made.code}/share/{picture.pk}/", {}).status_code == 302
    row = CommissionPhoto.objects.get()
    assert (row.photo, row.item.number) == (picture, 1)
    assert client.post(f"/commissions/{made.code}/share/{foreign.pk}/", {}).status_code == 403
    assert client.post(f"/commissions/{made.code}/share/{foreign.pk}/", {"do": "hide"}).status_code == 404
    assert client.post(f"/commissions/{made.code}/share/{Photo.objects.count() + 99}/", {}).status_code == 404
    with pytest.raises(DeedRefused, match=f"not of {made.code}"):
        commissions.share_photo(made, foreign, by=owner, at=NOON)


def test_a_hand_keeps_photographs_and_shares_none(client, owner, made):
    client.force_login(makers.make_hand())
    client.post(f"/commissions/{made.code}/photo/", {"pictures": [jpeg()], "share": "on"})
    row = made.photos.get()
    assert row.shared_at is None
    assert client.post(f"/commissions/{made.code}/share/{row.photo_id}/", {}).status_code == 403


def test_the_same_picture_twice_is_one(owner, made):
    picture = kept(owner)
    first = commissions.add_commission_photo(made, picture, by=owner, at=NOON)
    assert commissions.add_commission_photo(made, picture, caption="again", by=owner, at=NOON) == first
    other = makers.make_item()
    with pytest.raises(DeedRefused, match="another commission"):
        commissions.add_commission_photo(made, picture, item=other, by=owner, at=NOON)


# --- Changing it --------------------------------------------------------------------------------------------------


def test_changing_what_is_known(client, owner, made):
    url = f"/commissions/{made.code}/edit/"
    typed = {"wish": "for a brooch", "use": "brooch", "wished_by": "2026-06-01", "due_on": "2026-04-16",
             "queue_place": "3", "notes": ""}  # fmt: skip
    assert client.post(url, typed).status_code == 302
    made = put(made)
    assert (str(made.due_on), made.queue_place, made.wish) == ("2026-04-13", 3, "for a brooch")
    assert "Changed commission" in shown(client, made)
    for bad, words in [({"wished_by": "2026-03-01"}, "before it was asked"), ({"queue_place": "-1"}, ""),
                       ({"wish": "x\n" * 1500}, "at most 2000"), ({"due_on": "soon"}, "valid date")]:  # fmt: skip
        answer = client.post(url, {**typed, **bad})
        assert answer.status_code == 422 and words in str(answer.context["form"].errors)
    with pytest.raises(DeedRefused, match="by its Monday"):
        commissions.change_commission(made, {"due_on": DAY + timedelta(days=1)}, by=owner, at=NOON)


def test_adding_and_changing_a_piece(client, owner, made):
    add, change = f"/commissions/{made.code}/add/", f"/commissions/{made.code}/1/"
    assert client.post(add, {"work": "repair", "wanted": "a chip", "off_cuts": "back"}).status_code == 302
    assert made.items.last().number == 3
    page = client.get(change).content.decode()
    assert 'value="2"' in page and 'value="an oval of her aquamarine"' in page
    assert (
        client.post(
            change, {"work": "recut", "wanted": "less", "off_cuts": "back", "floor_ct": "0.4 g"}
        ).status_code
        == 302
    )
    item = made.items.get(number=1)
    assert (item.work, item.floor_ct) == ("recut", Decimal(2))
    bad = client.post(change, {"work": "recut", "wanted": "less", "off_cuts": "back", "floor_ct": "3", "most_ct": "2",
                               "floor_width_mm": "4"})  # fmt: skip
    assert bad.status_code == 422
    assert set(bad.context["form"].errors) == {"floor_ct", "floor_length_mm"}
    assert client.get(f"/commissions/{made.code}/9/").status_code == 404


def test_a_changed_piece_after_the_yes_needs_its_reason(client, owner, made):
    put(made, accepted_at=NOON)
    typed = {"work": "cut_client", "wanted": "a cushion", "off_cuts": "back"}
    answer = client.post(f"/commissions/{made.code}/1/", typed)
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, ["why"])
    assert client.post(f"/commissions/{made.code}/1/", {**typed, "why": "by phone"}).status_code == 302
    assert "by phone" in shown(client, made)


def test_closing_an_enquiry(client, owner, made):
    url = f"/commissions/{made.code}/close/"
    assert client.post(url, {"reason": ""}).status_code == 422
    assert client.post(url, {"reason": "too dear"}).status_code == 302
    page = shown(client, made)
    assert "too dear" in page and "/add/" not in page
    again = client.post(
        f"/commissions/{made.code}/add/", {"work": "repair", "wanted": "a chip", "off_cuts": "back"}
    )
    assert again.status_code == 422 and "is declined" in again.content.decode()


def test_a_quote_with_the_client_is_answered_before_it_is_closed(owner, made):
    sent = quoted.make_sent(made, by=owner)
    with pytest.raises(DeedRefused, match=f"Version {sent.version} is with the client"):
        commissions.close_enquiry(put(made), reason="x", by=owner, at=NOON)


def test_an_account_that_is_open_is_settled_before_it_is_closed(owner, made):
    made = put(made, charged=50, balance=50)
    with pytest.raises(DeedRefused, match="account is not settled"):
        commissions.close_enquiry(made, reason="x", by=owner, at=NOON)


# --- Its cost -----------------------------------------------------------------------------------------------------


def test_the_same_number_of_questions_for_3_and_30_pieces_with_photographs(client, owner):
    made = makers.make_commission(by=owner)
    counted = []
    for pieces in (3, 30):
        while made.items.count() < pieces:
            item = makers.make_item(made, floor_ct=Decimal(2))
            stone = makers.make_clients_stone(made.client)
            commissions.link_stone(item, stone, by=owner, at=NOON)
            stones.add_stone_photo(stone, kept(owner, (item.number, 7, 7)), by=owner, at=NOON)
            StopAsk.objects.create(item=item, why="other", words="?", asked_at=timezone.now())
        shown(client, made)
        with CaptureQueriesContext(connection) as queries:
            shown(client, made)
        counted.append(len(queries))
    assert counted[0] == counted[1] <= 40, counted


# --- Ways to it ---------------------------------------------------------------------------------------------------


def test_stone_and_client_lead_to_the_commission(client, made):
    _, stone = linked(made)
    child = stones.split_stone(
        stone, [parse_weight("6 ct"), parse_weight("3.5 ct")], by=None, at=NOON, kerf_ct=Decimal("0.5")
    )[0]
    for code in (stone.code, child.code):
        assert f'href="/commissions/of/{code}/"' in client.get(f"/stones/{code}/").content.decode()
    other = makers.make_stone()
    assert "/commissions/of/" not in client.get(f"/stones/{other.code}/").content.decode()
    page = client.get(made.client.get_absolute_url()).content.decode()
    assert f'href="/commissions/?client={made.client.code}"' in page


def test_versions_are_told_with_their_papers(client, owner, made):
    sent = quoted.make_sent(made, by=owner)
    page = shown(client, made)
    assert sent.paper.number in page
    assert "Version 1" in page.split("<h2>Quote</h2>")[1]
