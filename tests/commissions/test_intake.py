"""Taking in a client's goods: what is kept, what is asked about, what is refused, and whose they stay."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from tests.commissions.intakes import (
    SITE,
    cut_off,
    make_enquiry,
    make_intake,
    make_photo,
    mark,
    photographed,
    piece,
)
from tests.makers import DAY, NOON, make_lot, make_shop, somebody
from tests.rough.pictures import large
from workshop.books import questions
from workshop.commissions.actions import endings
from workshop.commissions.actions import intake as deeds
from workshop.commissions.believable import believable_span
from workshop.commissions.models import Intake, IntakePiece
from workshop.commissions.others import goods_of_others
from workshop.commissions.papers_condition import After, Finding, PieceAfter, faults_of
from workshop.commissions.papers_intake import pieces_of
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import JournalEntry
from workshop.gems.models import FinishedGem
from workshop.handbook.units import parse_weight
from workshop.materials.models import Evidence, Material, Question
from workshop.people.models import Ownership
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import Stone

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop():
    return make_shop(base_url=SITE)


def test_each_piece_lies_in_a_lot_of_its_own_that_stays_the_clients():
    commission = make_enquiry("recut", "cut_client")
    first, second = commission.items.all()
    intake = make_intake(
        piece("6.420 ct", item=first, told_material="beryl-emerald", told_treatment="treated",
              told_treatments=("oil",), treatment_words="a little cedar oil"),
        piece("4.2 g", item=second, stated_to_be="garnet from the garden", seen_as="dark red broken crystal"),
        commission=commission,
    )  # fmt: skip

    assert intake.code == "TI-0001"
    one, two = intake.pieces.select_related("lot__owner")
    assert (one.weight_ct, two.weight_ct) == (Decimal("6.420"), Decimal("21.000"))  # 1 ct = 0.2 g exactly
    for row in (one, two):
        assert row.lot.ownership == Ownership.CLIENT
        assert row.lot.owner == commission.client
        assert row.lot.came == "left"
        assert row.lot.landed_cost == 0
        assert row.lot.left_ct == row.weight_ct
    assert (one.item, two.item) == (first, second)


def test_what_the_client_tells_is_kept_as_said_and_nothing_more():
    intake = make_intake(
        piece(told_material="beryl-emerald", told_treatment="treated", told_treatments=("oil",),
              treatment_words="a little cedar oil")
    )  # fmt: skip
    said = {one.question: one for one in intake.pieces.get().lot.statements.all()}
    assert set(said) == {Question.SPECIES, Question.TREATMENT}
    for one in said.values():
        assert one.evidence == Evidence.SAID
        assert one.said_by == "Vesna Torsvik"
        assert one.said_on == DAY
        assert "told by the client" in one.how
    assert said[Question.TREATMENT].treatments == ["oil"]


def test_not_known_is_kept_as_not_tested_never_as_untreated():
    said = make_intake(piece()).pieces.get().lot.statements.get()
    assert (said.question, said.treated) == (Question.TREATMENT, "not_tested")


def test_the_stock_does_not_know_the_clients_goods():
    before = RoughLot.objects.own().count(), Stone.objects.own().count()
    intake = make_intake(
        piece("6.42 ct", declared_value=Decimal(900), declared_words="nine hundred, I think")
    )
    lot = intake.pieces.get().lot
    stone = stones.draw_stone(lot, parse_weight("6.42 ct"), by=somebody(), at=NOON)
    assert (RoughLot.objects.own().count(), Stone.objects.own().count()) == before
    assert stone.ownership == Ownership.CLIENT
    assert stone.owner == intake.commission.client
    assert FinishedGem.objects.in_stock().count() == 0


def test_the_books_count_the_clients_goods_apart_and_at_nil(client):
    make_lot("50 ct", by=somebody(), unit_price=Decimal(300), price_basis="lot", currency="EUR")
    before = questions.own_stock()
    intake = make_intake(
        piece("6.42 ct", declared_value=Decimal(98765), declared_words="so much"), piece("2 ct")
    )
    stones.draw_stone(intake.pieces.first().lot, parse_weight("6.42 ct"), by=somebody(), at=NOON)
    assert questions.own_stock() == before
    assert sum(line.cost for line in before) == 300
    rough_left, unfinished, _ = questions.goods_of_others()
    assert (rough_left.weight_ct, unfinished.weight_ct) == (Decimal(2), Decimal("6.42"))
    assert rough_left.cost == unfinished.cost == 0
    client.force_login(somebody())
    assert "98,765" not in client.get(reverse("books:stock")).content.decode()


# --- Figures that look like a slip -----------------------------------------------------------------------------------


def test_a_cut_stone_ten_times_too_heavy_for_its_millimetres_is_asked_about():
    # An emerald of 11 × 9 × 6 mm: 11 × 9 × 6 × 2.72 × 0.0022 (published constants for ovals lie near) is about 3.6 ct.
    odd = piece(
        "36.0 ct", told_material="beryl-emerald", outline="oval",
        length_mm=Decimal(11), width_mm=Decimal(9), depth_mm=Decimal(6),
    )  # fmt: skip
    with pytest.raises(PleaseConfirm) as asked:
        make_intake(odd)
    assert asked.value.field == "weight_1"
    assert "3.600\xa0ct" in asked.value.message
    assert Intake.objects.count() == 0
    assert RoughLot.objects.count() == 0
    make_intake(replace(odd, weight=parse_weight("3.6 ct")))
    make_intake(odd, sure=True)


def test_rough_never_weighs_more_than_the_block_around_it():
    # 10 × 10 × 10 mm of quartz, SG at most 2.66: 1 cm³ weighs 2.66 g, 13.3 ct. More than that is a slip.
    quartz = Material.objects.get(key="quartz-amethyst")
    span = believable_span(quartz, Decimal(10), Decimal(10), Decimal(10))
    assert span.high == Decimal("13.3")
    with pytest.raises(PleaseConfirm):
        make_intake(
            piece("13.4 ct", told_material="quartz-amethyst", length_mm=Decimal(10), width_mm=Decimal(10),
                  depth_mm=Decimal(10))
        )  # fmt: skip
    make_intake(
        piece(
            "8 ct",
            told_material="quartz-amethyst",
            length_mm=Decimal(10),
            width_mm=Decimal(10),
            depth_mm=Decimal(10),
        )
    )


def test_grams_typed_as_carats_are_asked_about():
    # The same block at 0.8 ct would fill 6 % of its box; the slimmest solid of the handbook fills a sixth.
    with pytest.raises(PleaseConfirm) as asked:
        make_intake(
            piece("0.8 ct", told_material="quartz-amethyst", length_mm=Decimal(10), width_mm=Decimal(10),
                  depth_mm=Decimal(10))
        )  # fmt: skip
    assert "8.000\xa0ct" in asked.value.message


def test_without_millimetres_nothing_is_guessed():
    assert believable_span(Material.objects.get(key="quartz-amethyst"), None, Decimal(1), Decimal(1)) is None


# --- What is refused -------------------------------------------------------------------------------------------------


def refused(**said):
    with pytest.raises(DeedRefused) as told:
        make_intake(*said.pop("pieces", [piece()]), **said)
    assert Intake.objects.count() == 0
    assert RoughLot.objects.count() == 0
    return told.value


def test_goods_do_not_come_tomorrow():
    assert refused(received_at=NOON + timedelta(days=1)).field == "received_at"


def test_goods_do_not_come_before_the_enquiry():
    assert refused(received_at=NOON - timedelta(days=9)).field == "received_at"


def test_cover_that_ended_before_they_came_covers_nothing():
    assert refused(insured_until=date(2026, 3, 1)).field == "insured_until"


def test_a_floor_above_the_weight_is_no_floor():
    said = refused(pieces=[piece(), piece("2 ct", floor_ct=Decimal("2.001"))])
    assert said.field == "floor_2"


def test_the_floor_may_be_the_whole_weight():
    assert make_intake(piece("2 ct", floor_ct=Decimal(2))).pieces.get().floor_ct == 2


def test_a_declared_value_needs_the_clients_own_words():
    """Disclosure practice: a figure the shop suggested may void the cover
    (https://www.jckonline.com/magazine-article/jewelry-take-in-procedures/)."""
    said = refused(pieces=[piece(declared_value=Decimal(500))])
    assert said.field == "declared_words_1"


def test_a_piece_of_another_commission_is_refused():
    other = make_enquiry()
    assert refused(pieces=[piece(item=other.items.get())]).field == "item_1"


def test_nothing_handed_over_is_nothing_taken_in():
    with pytest.raises(DeedRefused):
        deeds.take_in(make_enquiry(), pieces=[], handed_by="Vesna", received_at=NOON, by=somebody(), at=NOON)


def test_a_closed_commission_takes_nothing_in():
    commission = make_enquiry()
    commission.state, commission.closed_on = "declined", DAY
    commission.save()
    assert "declined" in refused(commission=commission).message


def test_a_nameless_bringer_is_refused():
    with pytest.raises(ValidationError):
        make_intake(handed_by="  ")
    assert RoughLot.objects.count() == 0


def test_a_treatment_that_is_told_is_named():
    with pytest.raises(ValidationError):
        make_intake(piece(told_treatment="treated"))
    assert IntakePiece.objects.count() == 0


def test_a_value_in_yen_has_no_cents():
    said = refused(
        pieces=[
            piece(declared_value=Decimal("500.5"), declared_currency="JPY", declared_words="five hundred")
        ]
    )
    assert said.field == "declared_value_1"


def test_a_value_in_another_currency_never_passes_for_the_shops():
    intake = make_intake(
        piece(declared_value=Decimal(500), declared_currency="USD", declared_words="five hundred bucks")
    )
    row = intake.pieces.get()
    assert (row.declared_value, row.declared_currency) == (Decimal(500), "USD")
    assert row.lot.declared_value is None


# --- Marks -----------------------------------------------------------------------------------------------------------


def test_a_mark_lies_on_its_picture():
    photo = make_photo(make_intake().pieces.get())
    assert mark(photo, x="0", y="100").pk
    for x, y in (("-0.001", "5"), ("5", "100.001")):
        with pytest.raises(DeedRefused):
            mark(photo, x=x, y=y)
    assert photo.marks.count() == 1


def test_a_hundred_marks_are_too_many():
    photo = make_photo(make_intake().pieces.get())
    for number in range(deeds.MOST_MARKS):
        mark(photo, words=f"pit {number}")
    with pytest.raises(DeedRefused):
        mark(photo, words="one more")
    assert photo.marks.count() == 40


def test_a_mark_without_words_points_at_nothing():
    photo = make_photo(make_intake().pieces.get())
    with pytest.raises(DeedRefused):
        mark(photo, words=" ")


def test_a_mark_comes_off_only_before_a_paper_shows_it():
    intake = photographed()
    photo = intake.pieces.get().photos.get()
    wrong, right = mark(photo, "dust"), mark(photo, "chip")
    deeds.remove_mark(wrong, by=somebody(), at=NOON)
    deeds.issue_receipt(intake, by=somebody(), at=NOON)
    with pytest.raises(DeedRefused):
        deeds.remove_mark(right, by=somebody(), at=NOON)
    assert [one.words for one in photo.marks.all()] == ["chip"]


def test_a_cut_off_picture_and_one_of_30_mb_are_refused():
    row = make_intake().pieces.get()
    for upload in (cut_off(), large(megabytes=30)):
        with pytest.raises(ValidationError):
            make_photo(row, upload=upload)
    assert row.photos.count() == 0


# --- Signing and reports ---------------------------------------------------------------------------------------------


def test_a_signature_stands_under_the_receipt_that_was_signed():
    intake = photographed()
    with pytest.raises(DeedRefused):
        deeds.sign_intake(intake, name="Vesna Torsvik", by=somebody(), at=NOON)
    first = deeds.issue_receipt(intake, by=somebody(), at=NOON)
    signed = deeds.sign_intake(intake, name="Vesna Torsvik", by=somebody(), at=NOON)
    assert signed.signed_at == NOON
    with pytest.raises(DeedRefused):
        deeds.sign_intake(intake, name="Vesna Torsvik", by=somebody(), at=NOON)
    with pytest.raises(DeedRefused):
        deeds.issue_receipt(intake, by=somebody(), at=NOON)  # a revision needs its reason
    second = deeds.issue_receipt(intake, reason="a second piece", by=somebody(), at=NOON)
    intake.refresh_from_db()
    first.refresh_from_db()
    assert (first.state_word, second.state_word) == ("superseded", "stands")
    assert (intake.receipt, intake.signed_at, intake.signed_by) == (second, None, "")
    assert JournalEntry.objects.filter(about=intake.code, verb="signature lapsed").exists()


def test_no_paper_without_a_photograph_of_every_piece():
    intake = make_intake(piece(), piece("1 ct"))
    make_photo(intake.pieces.first())
    with pytest.raises(DeedRefused) as told:
        deeds.issue_receipt(intake, by=somebody(), at=NOON)
    assert intake.pieces.last().lot.code in told.value.message


def test_the_report_after_the_work_lists_every_fault_again():
    intake = photographed(piece(chips="chip at the culet\nold glue", inclusions="fissure under the table"))
    mark(intake.pieces.get().photos.get(), "abraded table")
    row = pieces_of(intake)[0]
    faults = faults_of(row)
    assert faults == [
        "fissure under the table", "chip at the culet", "old glue", "abraded table (photograph 1, mark 1)",
    ]  # fmt: skip
    found = [Finding(fault, After.REMOVED) for fault in faults]
    with pytest.raises(DeedRefused):
        deeds.issue_after_report(
            intake, [PieceAfter(row, Decimal(5), findings=found)], by=somebody(), at=NOON
        )
    deeds.issue_condition_report(intake, by=somebody(), at=NOON)
    for wrong in (found[:-1], [*found[:-1], Finding("something else", After.CHANGED)]):
        with pytest.raises(DeedRefused):
            deeds.issue_after_report(
                intake, [PieceAfter(row, Decimal(5), findings=wrong)], by=somebody(), at=NOON
            )
    with pytest.raises(DeedRefused):
        deeds.issue_after_report(
            intake, [PieceAfter(row, Decimal(7), findings=found)], by=somebody(), at=NOON
        )
    with pytest.raises(DeedRefused):
        deeds.issue_after_report(intake, [], by=somebody(), at=NOON)
    paper = deeds.issue_after_report(
        intake,
        [PieceAfter(row, Decimal(5), findings=[*found, Finding("nick", After.NEW)])],
        by=somebody(),
        at=NOON,
    )
    assert paper.kind == "condition"
    assert (
        deeds.issue_after_report(
            intake,
            [PieceAfter(row, Decimal(5), findings=found)],
            reason="weighed again",
            by=somebody(),
            at=NOON,
        ).supersedes
        == paper
    )
    intake.refresh_from_db()
    assert intake.report.stands


# --- Scenario: a parcel of five, two of which go back unworked and weigh what they weighed ---------------------------


def test_two_of_five_pieces_come_back_as_they_came():
    weights = ["3.105 ct", "2.480 ct", "0.612 g", "1.999 ct", "5.000 ct"]
    commission = make_enquiry(*["cut_client"] * 5)
    items = list(commission.items.all())
    intake = photographed(
        *[piece(weight, item=item) for weight, item in zip(weights, items, strict=True)],
        commission=commission,
    )
    rows = list(intake.pieces.select_related("lot"))
    assert sum(row.weight_ct for row in rows) == Decimal("15.644")  # 3.105+2.480+3.060+1.999+5.000
    deeds.issue_condition_report(intake, by=somebody(), at=NOON)
    for row in rows[:3]:
        stones.draw_stone(row.lot, parse_weight(f"{row.weight_ct} ct"), by=somebody(), at=NOON)
    back = {items[3]: "1.999 ct", items[4]: "1 g"}
    for item, weight in back.items():
        with pytest.raises(DeedRefused):
            endings.return_unworked(item, given_back=parse_weight("1.9 ct"), on=DAY, by=somebody(), at=NOON)
        endings.return_unworked(item, given_back=parse_weight(weight), on=DAY, by=somebody(), at=NOON)
    for row in rows[3:]:
        row.lot.refresh_from_db()
        row.item.refresh_from_db()
        assert row.item.given_back_ct == row.weight_ct
        assert row.item.outcome == "unworked"
        assert row.lot.left_ct == 0
        assert row.lot.landed_cost == 0
    here = goods_of_others("EUR")
    assert {one.lot for one in here} == {row.lot for row in rows[:3]}
    assert sum(one.weight_ct for one in here) == Decimal("8.645")  # 3.105+2.480+3.060
    findings = [
        PieceAfter(row, row.weight_ct if row.item in back else row.weight_ct / 2) for row in pieces_of(intake)
    ]
    paper = deeds.issue_after_report(intake, findings, by=somebody(), at=NOON)
    assert paper.content.count("1.999\xa0ct") == 2
    assert paper.content.count("5.000\xa0ct") == 2


def test_another_piece_joins_the_same_taking_in():
    intake = make_intake()
    added = deeds.add_piece(intake, piece("1.2 ct"), by=somebody(), at=NOON)
    assert added.intake == intake
    assert added.lot.owner == intake.commission.client
    with pytest.raises(DeedRefused):
        deeds.add_piece(intake, piece("1.2 ct", floor_ct=Decimal(3)), by=somebody(), at=NOON)
    assert intake.pieces.count() == 2
