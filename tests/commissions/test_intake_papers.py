"""What stands on the receipt and on the reports on condition, field by field.

The fields are those an intake receipt and a condition report need by the take-in practice of the trade: exact words,
client's own value, weight on a scale before work, faults shown (Jewelry take-in procedures
<https://www.jckonline.com/magazine-article/jewelry-take-in-procedures/>; Repair take-in procedures
<https://orchid.ganoksin.com/t/repair-take-in-procedures/36509>), with no declared value on a report on condition and
no tax on either.
"""

import io
import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pdfplumber
import pytest

from tests.commissions.intakes import SITE, make_client, make_enquiry, make_photo, mark, photographed, piece
from tests.makers import DAY, NOON, make_shop, somebody
from workshop.commissions.actions import intake as deeds
from workshop.commissions.papers_condition import After, Finding, PieceAfter, faults_of
from workshop.commissions.papers_intake import pieces_of
from workshop.common.errors import DeedRefused
from workshop.materials.models import Material
from workshop.papers import actions as papers
from workshop.papers.rendering import content_of
from workshop.rough import actions as rough

pytestmark = pytest.mark.django_db

TOLD = {
    "stated_to_be": "an unheated sapphire of my aunt’s",
    "seen_as": "blue transparent oval, brilliant crown, window",
    "told_material": "corundum-sapphire-blue",
    "told_treatment": "none",
    "treatment_words": "never heated, the dealer swore",
    "length_mm": Decimal("11.20"),
    "width_mm": Decimal("9.05"),
    "depth_mm": Decimal("6.10"),
    "colour": "medium blue, zoned",
    "tests": "RI 1.762–1.770",
    "inclusions": "silk near the girdle\nfeather under the table",
    "chips": "nick at the girdle",
    "magnification": "lens, 10×",
    "declared_value": Decimal(4321),
    "declared_words": "the insurer wrote 4,321",
    "laboratory_report": "Invented Laboratory 77-1203",
    "loss_consent_percent": Decimal(15),
    "floor_ct": Decimal("5.5"),
}


@pytest.fixture
def intake():
    make_shop(
        base_url=SITE, name="Northlight Lapidary", address="7 Weir Lane\nMillbeck", tax_number="XX 123 456",
        zone="Europe/Lisbon",
    )  # fmt: skip
    commission = make_enquiry(
        "recut", client=make_client(email="vesna@torsvik.example"), wished_by=date(2026, 6, 1)
    )
    taken = photographed(
        piece("6.420 ct", item=commission.items.get(), **TOLD), commission=commission, handed_by="Jun Torsvik",
        authority="her brother, letter of 1 March", how="in person", insured_by="Harbour Mutual",
        insured_until=date(2026, 9, 30), return_to="registered post, 3 Quay Street", limits="keep the inscription",
        uncollected="Kept free for three months after notice.",
    )  # fmt: skip
    mark(taken.pieces.get().photos.get(), "nick", "70", "30")
    return taken


def printed(paper):
    """Every word of the frozen record, with plain spaces."""
    return json.dumps(content_of(paper), ensure_ascii=False).replace("\xa0", " ")


def row(paper, label):
    """The cells beside a label in the first table that has it."""
    for block in content_of(paper)["blocks"]:
        for cells in block.get("rows", []) if block["kind"] == "table" else []:
            if cells[0] == label:
                return [cell.replace("\xa0", " ") for cell in cells[1:]]
    raise AssertionError(f"no row {label}")


RECEIPT = {
    "document number": "IR-0001", "date": "2026-03-02", "issuer": "Northlight Lapidary", "issuer’s address": "7 Weir Lane",
    "client’s name": "Vesna Torsvik", "client’s address": "3 Quay Street", "a way of contact": "+00 1234 567",
    "another way of contact": "vesna@torsvik.example", "who handed it over": "Jun Torsvik",
    "authority": "her brother, letter of 1 March", "moment": "2 Mar 2026, 12:00", "how": "in person",
    "stone’s number": "L-0001", "client’s description": "an unheated sapphire of my aunt’s",
    "cutter’s description": "blue transparent oval, brilliant crown, window", "species": "corundum, sapphire",
    "treatment as told": "said to be untreated", "in the client’s words": "never heated, the dealer swore",
    "evidence": "the client’s word, not tested here", "weight": "6.420 ct (1.284 g)", "scale": "scale step 0.01 ct",
    "dimensions": "11.20 × 9.05 × 6.10 mm", "declared value": "4,321.00 EUR", "who named it": "the insurer wrote 4,321",
    "laboratory report": "Invented Laboratory 77-1203", "tests": "RI 1.762–1.770", "colour": "medium blue, zoned",
    "inclusions": "silk near the girdle; feather under the table", "faults": "nick at the girdle",
    "magnification": "lens, 10×", "photograph": '"kind": "photos"', "mark": '"words": "nick"', "work": "recut",
    "loss": "up to 15.0 %", "floor": "5.500 ct; below it the client is asked first", "off-cuts": "go back to the client",
    "return by": "wished for by 1 Jun 2026, not promised", "insured by": "Harbour Mutual until 30 Sep 2026",
    "goes back to": "registered post, 3 Quay Street", "limits": "keep the inscription",
    "uncollected": "Kept free for three months after notice.", "signature of who handed over": "Handed over: Jun Torsvik",
    "signature of the shop": "Received for Northlight Lapidary", "role": "not a laboratory’s", "law": "local law comes first",
    "risk": "may part along planes in the crystal",
}  # fmt: skip
CONDITION = {
    name: RECEIPT[name]
    for name in (
        "date", "issuer", "client’s name", "client’s address", "stone’s number", "client’s description",
        "cutter’s description", "species", "treatment as told", "evidence", "weight", "dimensions", "photograph", "mark",
        "colour", "tests", "magnification", "faults", "role",
    )
} | {"document number": "CR-0001", "signatures": "For the owner: name, day", "fault of the list": "feather under the table"}  # fmt: skip


@pytest.mark.parametrize("name", RECEIPT)
def test_the_receipt_says(intake, name):
    assert RECEIPT[name] in printed(deeds.issue_receipt(intake, by=somebody(), at=NOON)), name


@pytest.mark.parametrize("name", CONDITION)
def test_the_report_on_condition_says(intake, name):
    assert CONDITION[name] in printed(deeds.issue_condition_report(intake, by=somebody(), at=NOON)), name


def after(intake, **said):
    deeds.issue_condition_report(intake, by=somebody(), at=NOON)
    one = pieces_of(intake)[0]
    found = [
        Finding(fault, After.REMOVED if "nick" in fault else After.UNCHANGED) for fault in faults_of(one)
    ]
    told = PieceAfter(
        one, Decimal("5.610"), Decimal("10.90"), Decimal("8.80"), Decimal("6.00"), findings=found
    )
    return deeds.issue_after_report(intake, [replace(told, **said)], by=somebody(), at=NOON)


def test_tax_and_value_stand_only_where_they_belong(intake):
    receipt = deeds.issue_receipt(intake, by=somebody(), at=NOON)
    reports = [after(intake)]
    intake.refresh_from_db()
    reports.append(intake.report)
    for paper in (receipt, *reports):
        assert "XX 123 456" not in printed(paper)
    for report in reports:
        for words in ("4,321", "insurer wrote", "Declared", "come back by", "wished for"):
            assert words not in printed(report)


def test_the_report_after_says_each_fault_again_with_the_weight_then_and_now(intake):
    paper = after(intake)
    assert row(paper, "Weight, by scale") == ["6.420 ct (1.284 g)", "5.610 ct (1.122 g)"]
    assert row(paper, "Length × width × depth") == ["11.20 × 9.05 × 6.10 mm", "10.90 × 8.80 × 6.00 mm"]
    assert row(paper, "silk near the girdle") == ["unchanged", ""]
    assert row(paper, "nick at the girdle") == ["removed", ""]
    assert row(paper, "nick (photograph 1, mark 1)") == ["removed", ""]
    assert row(paper, "On what evidence")[0] == "the client’s word, not tested here"
    assert row(paper, "Treatment")[1] == "not tested again"


def test_the_clients_words_never_stand_as_the_cutters(intake):
    for paper in (
        deeds.issue_receipt(intake, by=somebody(), at=NOON),
        deeds.issue_condition_report(intake, by=somebody(), at=NOON),
    ):
        stated, seen = zip(
            *[row(paper, label) for label in ("What it is", "Species", "Treatment", "On what evidence")],
            strict=True,
        )
        assert "unheated sapphire" in " ".join(stated)
        for words in ("sapphire", "unheated", "untreated", "dealer", "corundum", "client"):
            assert words not in " ".join(seen)
    one = pieces_of(intake)[0]
    found = [Finding(fault, After.UNCHANGED) for fault in faults_of(one)]
    after_paper = deeds.issue_after_report(
        intake, [PieceAfter(one, one.weight_ct, findings=found)], by=somebody(), at=NOON
    )
    seen = " ".join(row(after_paper, label)[1] for label in ("What it is", "Species", "Treatment"))
    assert "corundum" not in seen


def test_what_was_tested_here_stands_on_the_cutters_side(intake):
    rough.state_about_lot(
        intake.pieces.get().lot,
        {"question": "species", "material": Material.objects.get(key="spinel-natural"), "evidence": 3,
         "how": "RI 1.718, singly refractive", "said_by": "the cutter", "said_on": DAY},
        by=somebody(), at=NOON,
    )  # fmt: skip
    stated, seen = row(deeds.issue_receipt(intake, by=somebody(), at=NOON), "Species")
    assert "spinel" in seen
    assert "RI 1.718" in seen
    assert "spinel" not in stated
    assert "corundum" in stated


def test_what_nobody_said_prints_as_not_known(intake):
    bare = photographed(piece("1 ct"), commission=make_enquiry(client=make_client("Jun Ferro", address="")))
    paper = deeds.issue_receipt(bare, by=somebody(), at=NOON)
    told = printed(paper)
    assert row(paper, "Species")[0] == "not stated"
    assert row(paper, "Declared value")[0] == "the client named no value"
    assert row(paper, "Length × width × depth")[1] == "not measured"
    for words in (
        "address not given",
        "no day promised yet",
        "not settled",
        "none given",
        "the local law applies",
    ):
        assert words in told


def test_a_revised_receipt_takes_the_place_of_the_first(intake):
    first = deeds.issue_receipt(intake, by=somebody(), at=NOON)
    second = deeds.issue_receipt(intake, reason="a misspelt name", by=somebody(), at=NOON)
    first.refresh_from_db()
    assert (first.state_word, second.state_word, second.number) == ("superseded", "stands", "IR-0002")
    assert content_of(first)["number"] == "IR-0001"


def test_an_issued_receipt_does_not_follow_later_words(intake):
    paper = deeds.issue_receipt(intake, by=somebody(), at=NOON)
    client = intake.commission.client
    client.name = "Somebody Else"
    client.save()
    make_photo(intake.pieces.get(), colour=(200, 0, 0))
    paper.refresh_from_db()
    assert "Somebody Else" not in printed(paper)
    assert papers.faults(paper) == []


def test_a_refused_receipt_uses_up_no_number(intake):
    deeds.add_piece(intake, piece("1 ct"), by=somebody(), at=NOON)
    with pytest.raises(DeedRefused):
        deeds.issue_receipt(intake, by=somebody(), at=NOON)
    make_photo(intake.pieces.last(), colour=(5, 5, 5))
    assert deeds.issue_receipt(intake, by=somebody(), at=NOON).number == "IR-0001"


def test_the_printed_sheets_hold_the_words_the_marks_and_the_lines_to_sign(intake, settings):
    if not settings.PDF_AVAILABLE:
        pytest.skip("no PDF renderer here")
    one, two = (
        deeds.issue_receipt(intake, by=somebody(), at=NOON),
        deeds.issue_condition_report(intake, by=somebody(), at=NOON),
    )
    for paper, size in ((one, "a4"), (one, "letter"), (two, "a4")):
        data = bytes(papers.bytes_of(paper, size, at=NOON).pdf)
        with pdfplumber.open(io.BytesIO(data)) as pdf:
            text = " ".join(" ".join((page.extract_text() or "").split()) for page in pdf.pages)
            assert sum(len(page.images) for page in pdf.pages) >= 1
        for words in (paper.number, "Vesna Torsvik", "an unheated sapphire", "6.420 ct", "Signatures"):
            assert words in text


def test_forty_marks_long_words_and_another_script_still_print(intake, settings):
    if not settings.PDF_AVAILABLE:
        pytest.skip("no PDF renderer here")
    long = photographed(
        piece("1 ct", stated_to_be="a" * 300, seen_as="חתוך ומלוטש " * 20, chips="\n".join(f"pit {n}" for n in range(60))),
        commission=make_enquiry(client=make_client("N" * 160)), return_to="x" * 300,
    )  # fmt: skip
    photo = long.pieces.get().photos.get()
    for number in range(40):
        mark(photo, f"pit {number} " + "w" * 100, str(number * 2.5), str(100 - number * 2.5))
    for paper in (
        deeds.issue_receipt(long, by=somebody(), at=NOON), deeds.issue_condition_report(long, by=somebody(), at=NOON),
    ):  # fmt: skip
        assert bytes(papers.bytes_of(paper, "a4", at=NOON).pdf).startswith(b"%PDF")
