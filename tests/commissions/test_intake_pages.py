"""The pages of taking in: what can be typed, what is kept of it after an error, who sees what, and the tap."""

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.commissions.intakes import (
    SITE,
    cut_off,
    make_client,
    make_enquiry,
    make_intake,
    make_photo,
    mark,
    photographed,
    piece,
)
from tests.makers import NOON, make_hand, make_reader, make_shop, make_stone, somebody
from tests.rough import pages
from tests.rough.pictures import bomb, jpeg, large, not_a_picture
from workshop.commissions.actions import intake as deeds
from workshop.commissions.models import Intake, IntakePiece, Mark
from workshop.common.models import JournalEntry, Photo
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop():
    return make_shop(base_url=SITE, rough_unit="g", weight_unit="ct")


@pytest.fixture
def owner(client):
    person = somebody()
    client.force_login(person)
    return person


def said(answer):
    """The words of a page without its tags."""
    return re.sub(r"<[^>]*>", "", pages.said(answer))


def at(name, intake, *more):
    return reverse(f"commissions:{name}", args=[intake.commission.code, intake.code, *more])


def typed(count=1, **said):
    """A take-in form as it is sent, one piece unless said otherwise."""
    sent = {
        "count": str(count),
        "received_at": "2026-03-02T12:00",
        "handed_by": "Vesna Torsvik",
        "came_clean": "on",
    }
    for number in range(1, count + 1):
        sent |= {
            f"stated_to_be_{number}": "an emerald", f"seen_as_{number}": "green oval", f"weight_{number}": "6.42 ct",
            f"pieces_{number}": "1", f"told_treatment_{number}": "unknown", f"off_cuts_{number}": "back",
        }  # fmt: skip
    return sent | said


def send(client, commission, **said):
    return client.post(reverse("commissions:take_in", args=[commission.code]), typed(**said))


def test_taking_in_from_the_first_page_to_the_taking_in(client, owner):
    commission = make_enquiry("recut", "repair")
    first, second = commission.items.all()
    answer = send(
        client, commission, count=2, item_1=str(first.pk), item_2=str(second.pk), weight_2="0.5 g",
        pictures_1=[jpeg(colour=(1, 2, 3))], pictures_2=[jpeg(colour=(9, 8, 7), gps=True)],
        declared_value_1="900", declared_words_1="my aunt paid about 900", declared_currency_1="EUR",
    )  # fmt: skip
    intake = Intake.objects.get()
    assert answer.status_code == 302
    assert answer["Location"] == intake.get_absolute_url()
    rows = intake.pieces.all()
    assert [row.weight_ct for row in rows] == [Decimal("6.42"), Decimal("2.5")]
    assert [row.item for row in rows] == [first, second]
    assert [row.photos.count() for row in rows] == [1, 1]
    assert rows[0].declared_value == 900
    text = said(client.get(intake.get_absolute_url()))
    for words in ("Stated by the client", "Seen here", "an emerald", "green oval", "900.00 EUR"):
        assert words in text


def test_a_form_sent_twice_takes_in_once(client, owner):
    commission = make_enquiry()
    key = "a" * 32
    for _ in range(2):
        assert send(client, commission, once=key).status_code == 302
    assert Intake.objects.count() == 1


def test_another_piece_keeps_all_that_was_typed_and_nothing_else(client, owner):
    commission = make_enquiry()
    answer = send(
        client, commission, more="1", stated_to_be_1="her granny’s ring stone", weight_1="not yet",
        told_treatment_1="treated", told_treatments_1=["oil", "resin"], chips_1="nick",
    )  # fmt: skip
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="weight_2"' in page
    assert 'name="weight_3"' not in page
    assert 'value="not yet"' in page
    assert "her granny’s ring stone" in page
    assert re.search(r'value="oil"[^>]*checked', page)
    assert "field-errors" not in page
    assert Intake.objects.count() == 0


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("weight_1", "0 ct"), ("weight_1", "6.42 stone"), ("weight_1", "-1 ct"), ("weight_1", ""),
        ("pieces_1", "0"), ("pieces_1", "x"), ("length_mm_1", "-3"), ("floor_1", "6.43 ct"),
        ("loss_consent_percent_1", "101"), ("received_at", "2126-03-02T12:00"), ("received_at", "2026-02-01T12:00"),
        ("insured_until", "2026-03-01"), ("handed_by", ""), ("stated_to_be_1", ""), ("seen_as_1", ""),
        ("declared_value_1", "-1"), ("declared_value_1", "9.999"), ("declared_value_1", "nine"),
        ("told_treatments_1", "oil"), ("told_treatment_1", "treated"), ("told_treatment_1", "boiled"),
        ("item_1", "999999"), ("told_material_1", "999999"), ("off_cuts_1", "sold"), ("handed_by", "x" * 161),
    ],
)  # fmt: skip
def test_bad_input_is_told_beside_its_field_and_nothing_is_kept(client, owner, field, value):
    answer = send(client, make_enquiry(), **{"limits": "keep the inscription", field: value})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count('class="field-errors"') == 1
    assert "keep the inscription" in page
    assert Intake.objects.count() == RoughLot.objects.count() == 0


@pytest.mark.parametrize("count", ["", "x", "-4", "0", "1e9", "٣", "99999999"])
def test_a_strange_number_of_pieces_is_one_piece(client, owner, count):
    commission = make_enquiry(client=make_client("Jun Ferro"))
    answer = client.post(reverse("commissions:take_in", args=[commission.code]), typed() | {"count": count})
    assert answer.status_code == 302
    assert commission.intakes.get().pieces.count() == 1


def test_a_tenfold_slip_is_asked_about_and_kept_when_it_is_meant(client, owner):
    commission = make_enquiry()
    odd = {
        "told_material_1": str(Material.objects.get(key="quartz-amethyst").pk), "weight_1": "42 ct",
        "length_mm_1": "10", "width_mm_1": "10", "depth_mm_1": "10",
    }  # fmt: skip
    answer = send(client, commission, **odd)
    assert answer.status_code == 422
    assert "Did you mean 4.200 ct?" in said(answer)
    assert 'name="sure"' in answer.content.decode()
    assert Intake.objects.count() == 0
    assert send(client, commission, sure="on", **odd).status_code == 302


@pytest.mark.parametrize("make", [cut_off, bomb, not_a_picture, lambda: large(megabytes=30)])
def test_a_picture_that_is_none_leaves_nothing_behind(client, owner, make):
    answer = send(client, make_enquiry(), pictures_1=[make()])
    assert answer.status_code == 422
    assert "green oval" in answer.content.decode()
    assert Intake.objects.count() == Photo.objects.count() == 0
    intake = make_intake()
    row = intake.pieces.get()
    assert client.post(at("intake_photo", intake, row.pk), {"pictures": [make()]}).status_code == 422
    assert row.photos.count() == 0


# --- The tap ---------------------------------------------------------------------------------------------------------


def tap_page(client):
    """A picture of 640 × 480, shown 320 and 640 wide … whatever the page says."""
    intake = make_intake()
    photo = make_photo(intake.pieces.get(), size=(640, 480))
    page = client.get(at("intake_mark", intake, photo.pk)).content.decode()
    sizes = dict(re.findall(r'name="(small|wide)" width="(\d+)"', page))
    return intake, photo, {name: int(width) for name, width in sizes.items()}


@pytest.mark.parametrize("size", ["small", "wide"])
def test_a_tap_in_the_middle_marks_the_middle_in_either_size(client, owner, size):
    intake, photo, widths = tap_page(client)
    width = widths[size]
    height = round(width * 480 / 640)
    answer = client.post(
        at("intake_mark", intake, photo.pk),
        {"words": "chip", f"{size}.x": str(width // 4), f"{size}.y": str(height // 2)},
    )
    assert answer.status_code == 302
    made = Mark.objects.get()
    assert (made.x_percent, made.y_percent) == (Decimal(25), Decimal(50))


def test_a_tap_before_the_words_is_kept_and_asked_about(client, owner):
    intake, photo, _ = tap_page(client)
    answer = client.post(at("intake_mark", intake, photo.pk), {"words": "", "small.x": "80", "small.y": "60"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="25.000"' in page
    assert Mark.objects.count() == 0


def test_the_keyboard_gives_the_place_in_figures(client, owner):
    """A key presses an image button at 0, 0 (HTML Living Standard, 4.10.5.1.19): no tap; the figures count."""
    intake, photo, _ = tap_page(client)
    where = {"x_percent": "12,5", "y_percent": "99", "small.x": "0", "small.y": "0"}
    assert client.post(at("intake_mark", intake, photo.pk), {"words": "pit", **where}).status_code == 302
    assert Mark.objects.get().x_percent == Decimal("12.5")


@pytest.mark.parametrize(
    "where",
    [
        {"small.x": "321", "small.y": "5"}, {"small.x": "-1", "small.y": "5"}, {"small.x": "x", "small.y": "5"},
        {"small.x": "NaN", "small.y": "1e999999"}, {"x_percent": "100.001", "y_percent": "5"},
        {"x_percent": "-1", "y_percent": "5"}, {"x_percent": "5"}, {"small.x": "0", "small.y": "0"}, {},
    ],
)  # fmt: skip
def test_a_mark_outside_the_picture_is_refused(client, owner, where):
    intake, photo, _ = tap_page(client)
    answer = client.post(at("intake_mark", intake, photo.pk), {"words": "chip", **where})
    assert answer.status_code == 422
    assert "field-errors" in answer.content.decode()
    assert Mark.objects.count() == 0


def test_enter_presses_the_plain_button_and_not_the_picture(client, owner):
    """The first button of a form is its default one (HTML Living Standard, 4.10.21.2)."""
    intake, photo, _ = tap_page(client)
    page = client.get(at("intake_mark", intake, photo.pk)).content.decode()
    form = page[page.index('class="form stack intake-mark"') :]
    assert form.index("Keep the mark") < form.index('type="image"')


def test_marks_are_drawn_over_the_picture_and_come_off(client, owner):
    intake = photographed()
    photo = intake.pieces.get().photos.get()
    one = mark(photo, "chip <b>at</b> the girdle")
    page = client.get(intake.get_absolute_url()).content.decode()
    assert page.count('<g class="mark">') == 1
    assert "chip &lt;b&gt;at&lt;/b&gt; the girdle" in page
    assert client.get(at("intake_unmark", intake, one.pk)).status_code == 405
    assert client.post(at("intake_unmark", intake, one.pk), {}).status_code == 302
    assert Mark.objects.count() == 0


# --- Papers and signature --------------------------------------------------------------------------------------------


def test_the_way_from_photograph_to_signature(client, owner):
    intake = make_intake()
    page = said(client.get(intake.get_absolute_url()))
    assert "has no photograph yet" in page
    assert client.post(at("intake_receipt", intake), {}).status_code == 422
    row = intake.pieces.get()
    client.post(at("intake_photo", intake, row.pk), {"pictures": [jpeg()], "view": "front"})
    assert client.post(at("intake_receipt", intake), {}).status_code == 302
    assert client.post(at("intake_report", intake), {}).status_code == 302
    assert client.post(at("intake_sign", intake), {"name": "Vesna Torsvik"}).status_code == 422
    assert client.post(at("intake_sign", intake), {"name": "", "agreed": "on"}).status_code == 422
    scan = jpeg("sheet.jpg", colour=(250, 250, 250))
    assert (
        client.post(
            at("intake_sign", intake), {"name": "Vesna Torsvik", "agreed": "on", "scan": scan}
        ).status_code
        == 302
    )
    intake.refresh_from_db()
    assert (intake.receipt.number, intake.report.number) == ("IR-0001", "CR-0001")
    assert intake.signed_by == "Vesna Torsvik"
    page = said(client.get(intake.get_absolute_url()))
    assert "IR-0001 signed by Vesna Torsvik" in page
    assert client.post(at("intake_receipt", intake), {"reason": ""}).status_code == 422
    assert client.post(at("intake_receipt", intake), {"reason": "a misspelt name"}).status_code == 302
    intake.refresh_from_db()
    assert intake.receipt.number == "IR-0002"
    assert intake.signed_at is None


def test_a_signed_sheet_that_is_no_paper_is_refused(client, owner):
    intake = photographed()
    deeds.issue_receipt(intake, by=owner, at=NOON)
    sheet = not_a_picture("sheet.svg")
    sheet.file.seek(0)
    sheet.file.write(b"<svg onload=alert(1)>")
    sheet.file.truncate()
    answer = client.post(at("intake_sign", intake), {"name": "Vesna", "agreed": "on", "scan": sheet})
    assert answer.status_code == 422
    intake.refresh_from_db()
    assert intake.signed_at is None


def test_the_report_after_the_work_from_its_page(client, owner):
    intake = photographed(piece("6.42 ct", chips="chip at the culet"))
    assert client.get(at("intake_after", intake)).status_code == 200
    deeds.issue_condition_report(intake, by=owner, at=NOON)
    sent = {"weight_1": "5.98 ct", "new_1": "faint scratch on the table\n\n", "now_1_1": "removed"}
    for wrong in ({"now_1_1": ""}, {"now_1_1": "new"}, {"weight_1": "6.43 ct"}, {"weight_1": "0"}):
        assert client.post(at("intake_after", intake), sent | wrong).status_code == 422
    assert client.post(at("intake_after", intake), sent).status_code == 302
    page = said(client.get(intake.get_absolute_url()))
    assert "CR-0002" in page
    assert client.post(at("intake_after", intake), sent).status_code == 422  # the second wants a reason
    assert client.post(at("intake_after", intake), sent | {"reason": "weighed again"}).status_code == 302


# --- Who sees what ---------------------------------------------------------------------------------------------------

SECRET = ("98,765", "Quay Street", "+00 1234 567", "Harbour Mutual")


def told_intake():
    return photographed(
        piece(declared_value=Decimal(98765), declared_words="98,765 she said"),
        return_to="3 Quay Street", insured_by="Harbour Mutual",
    )  # fmt: skip


def test_a_hand_sees_the_goods_and_neither_their_value_nor_the_clients_address(client):
    intake = told_intake()
    deeds.issue_receipt(intake, by=somebody(), at=NOON)
    client.force_login(make_hand())
    page = said(client.get(intake.get_absolute_url()))
    assert "green oval" in page
    for words in SECRET:
        assert words not in page
    intake.refresh_from_db()
    assert client.get(intake.receipt.get_absolute_url()).status_code in {403, 404}
    assert client.get(at("intake_pdf", intake)).status_code == 403
    assert client.get(reverse("commissions:goods_of_others")).status_code == 403


def test_a_hand_adds_photographs_and_nothing_else(client):
    intake = told_intake()
    row, photo = intake.pieces.get(), intake.pieces.get().photos.get()
    client.force_login(make_hand())
    new = {"pictures": [jpeg(colour=(3, 3, 3))]}
    assert client.post(at("intake_photo", intake, row.pk), new).status_code == 302
    for name, more in (
        ("intake_mark", [photo.pk]), ("intake_receipt", []), ("intake_report", []), ("intake_after", []),
        ("intake_sign", []), ("intake_piece", []),
    ):  # fmt: skip
        assert client.get(at(name, intake, *more)).status_code == 403, name
        assert client.post(at(name, intake, *more), {}).status_code == 403, name
    assert client.get(reverse("commissions:take_in", args=[intake.commission.code])).status_code == 403


def test_a_reader_sees_all_and_changes_nothing(client):
    intake = told_intake()
    client.force_login(make_reader())
    page = said(client.get(intake.get_absolute_url()))
    for words in ("98,765.00 EUR", "Quay Street", "Harbour Mutual"):
        assert words in page
    assert client.get(reverse("commissions:goods_of_others")).status_code == 200
    assert client.post(at("intake_photo", intake, intake.pieces.get().pk), {}).status_code == 403


def test_the_taking_in_of_another_commission_is_not_found(client, owner):
    intake = make_intake()
    other = make_enquiry(client=make_client("Jun Ferro"))
    for code in (other.code, "C-9999"):
        assert client.get(reverse("commissions:intake", args=[code, intake.code])).status_code == 404
    photo = make_photo(intake.pieces.get())
    second = make_intake(commission=other)
    assert client.get(at("intake_mark", second, photo.pk)).status_code == 404
    assert client.get(at("intake_photo", second, intake.pieces.get().pk)).status_code == 404


# --- For the insurer -------------------------------------------------------------------------------------------------


def test_what_is_here_of_others_adds_up_by_currency(client, owner):
    intake = make_intake(
        piece("2 ct", declared_value=Decimal(100), declared_words="a hundred"),
        piece("3 ct", declared_value=Decimal(250), declared_currency="USD", declared_words="two fifty"),
        piece("4 ct", declared_value=Decimal(50), declared_words="fifty"),
        piece("5 ct"),
    )
    make_stone()  # the shop's own is no goods of others
    first = intake.pieces.first()
    stone = stones.draw_stone(first.lot, parse_weight("2 ct"), by=owner, at=NOON)
    page = said(client.get(reverse("commissions:goods_of_others")))
    assert "150.00 EUR" in page
    assert "250.00 USD" in page
    assert "400.00" not in page
    assert "14.000 ct" in page  # 2 + 3 + 4 + 5
    assert stone.code in page
    assert "1 without a declared value" in page


def test_what_went_home_is_not_here_any_more(client, owner):
    intake = make_intake(piece("2 ct"), piece("3 ct"))
    first = intake.pieces.first()
    stone = stones.draw_stone(first.lot, parse_weight("2 ct"), by=owner, at=NOON)
    stones.end_stone(stone, "unworked", reason="the client called it off", by=owner, at=NOON)
    page = said(client.get(reverse("commissions:goods_of_others")))
    assert stone.code not in page
    assert first.lot.code not in page
    assert intake.pieces.last().lot.code in page


def test_the_list_asks_the_database_as_often_for_thirty_lots_as_for_three(
    client, owner, django_assert_max_num_queries
):
    for _ in range(3):
        make_intake(*[piece("2 ct") for _ in range(10)], commission=make_enquiry(client=make_client()))
    for row in IntakePiece.objects.all()[:15]:
        stones.draw_stone(row.lot, parse_weight("2 ct"), by=owner, at=NOON)
    with django_assert_max_num_queries(12):
        client.get(reverse("commissions:goods_of_others"))


def test_a_taking_in_asks_the_database_as_often_for_ten_pieces_as_for_two(client, owner):
    asked = []
    for count in (2, 10):
        goods = [piece("2 ct", told_material="beryl-emerald") for _ in range(count)]
        intake = photographed(*goods, commission=make_enquiry(client=make_client()))
        mark(intake.pieces.first().photos.get())
        client.get(intake.get_absolute_url())  # the first page of a session asks more
        with CaptureQueriesContext(connection) as queries:
            assert client.get(intake.get_absolute_url()).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_a_slip_is_put_right_with_a_reason_and_its_lot_with_it(client, owner):
    intake = make_intake(piece("6.42 ct", floor_ct=Decimal(5)))
    row = intake.pieces.get()
    sent = {"stated_to_be": "an emerald", "seen_as": "green oval", "weight": "6.24 ct", "floor": "5 ct"}
    for wrong in ({"reason": ""}, {"weight": "4 ct"}, {"weight": "0"}, {"seen_as": ""}, {"floor": "6.3 ct"}):
        assert (
            client.post(at("intake_correct", intake, row.pk), sent | {"reason": "a slip"} | wrong).status_code
            == 422
        )
    row.refresh_from_db()
    assert row.weight_ct == Decimal("6.42")
    assert (
        client.post(at("intake_correct", intake, row.pk), sent | {"reason": "figures swapped"}).status_code
        == 302
    )
    row.refresh_from_db()
    row.lot.refresh_from_db()
    assert (row.weight_ct, row.lot.weight_ct, row.lot.left_ct) == (Decimal("6.24"),) * 3
    assert row.seen_as == "green oval"
    kept = JournalEntry.objects.get(about=intake.code, verb="corrected piece")
    assert kept.reason == "figures swapped"
    assert kept.before["weight_ct"] == "6.420"
    client.force_login(make_hand())
    assert client.get(at("intake_correct", intake, row.pk)).status_code == 403
