"""What travels inside a PDF, read back by independent readers: pikepdf (qpdf) for the file, and the RFC's own scheme."""

import json
import random
from datetime import UTC, datetime

import pikepdf
import pytest
from weasyprint import HTML

from workshop.papers import keys, linked_data, sealing
from workshop.papers.record import canonical, sha256_of

RECORD = {
    "title": "Stone information card", "number": "IC-0001", "name_line": "Spinel", "gem": "G-0007",
    "weight_ct": "1.77", "size_mm": ["7.10", "6.20", "4.05"], "issued_on": "2026-11-25", "language": "en",
    "shop": {"name": "Corrie Workshop", "website": ""}, "check_url": "https://cards.example/check/x",
    "lines": [{"label": "Treatment", "text": "none found by the cutter", "why": "", "basis": ""}],
}  # fmt: skip
ISSUED = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def apart(settings, tmp_path):
    settings.WORKSHOP_DATA = tmp_path


def sealed(record=RECORD):
    key, text = keys.current(), canonical(record)
    document = HTML(string="<html lang=en><title>Card</title><h1>Card</h1>").render(pdf_variant="pdf/a-3a")
    document.metadata.attachments = sealing.attachments(
        text, sealing.Signed(key.public, key.sign(text.encode())), ISSUED
    )
    made = document.write_pdf(pdf_variant="pdf/a-3a", finisher=sealing.leave_readable)
    return sealing.seal(made, key.sign)


def test_what_was_sealed_holds_and_says_who_sealed_it():
    read = sealing.read(sealed())
    assert read.faults == ()
    assert read.record == RECORD
    assert read.public == keys.current().public
    assert read.fingerprint == keys.current().fingerprint


def test_the_same_record_gives_the_same_bytes():
    assert sealed() == sealed()


def test_another_reader_finds_the_three_files_and_their_relations(tmp_path):
    (tmp_path / "card.pdf").write_bytes(sealed())
    with pikepdf.open(tmp_path / "card.pdf") as pdf:
        files = {name: spec.get_file().read_bytes() for name, spec in pdf.attachments.items()}
        relations = {str(one.UF): str(one.AFRelationship) for one in pdf.Root.AF}
    assert files["record.json"].decode() == canonical(RECORD)
    assert relations == {
        "record.json": "/Source",
        "record.jsonld": "/Supplement",
        "signature.json": "/Supplement",
    }
    said = json.loads(files["signature.json"])
    assert said["record_sha256"] == sha256_of(canonical(RECORD))
    assert keys.verifies(said["public_key"], files["record.json"], said["record_signature"])


@pytest.mark.parametrize("seed", range(40))
def test_a_bit_flipped_anywhere_is_caught(seed):
    data = bytearray(sealed())
    chance = random.Random(seed)
    data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    assert sealing.read(bytes(data)).faults


def test_what_is_added_at_the_end_is_caught():
    assert sealing.read(sealed() + b"\n% more").faults == ("The file was changed since it was made.",)


def test_a_record_put_in_place_of_another_is_caught():
    """Somebody who makes a whole file of their own, with a key of their own, is known by the key."""
    before = keys.current()
    keys.rotate()
    forged = sealing.read(sealed(RECORD | {"name_line": "Ruby"}))
    assert forged.faults == ()
    assert forged.public != before.public


@pytest.mark.parametrize("junk", [b"", b"%PDF-1.7", b"\x00" * 500, b"not a pdf", canonical(RECORD).encode()])
def test_junk_is_told_from_a_paper(junk):
    assert sealing.read(junk).faults == (sealing.NOT_OURS,)


def test_a_huge_file_is_not_even_opened():
    assert "too large" in sealing.read(b"0" * (sealing.MOST_BYTES + 1)).faults[0]


def test_linked_data_uses_terms_of_schema_org():
    """Types and properties as listed at https://schema.org/IndividualProduct and /DigitalDocument (from memory of
    the vocabulary, release 28); CTM and MMT are codes of UN/ECE Recommendation 20 (from memory)."""
    said = json.loads(linked_data.of(RECORD))
    assert said["@context"] == "https://schema.org"
    assert said["@type"] == "IndividualProduct"
    assert said["weight"] == {
        "@type": "QuantitativeValue",
        "value": "1.77",
        "unitCode": "CTM",
        "unitText": "ct",
    }
    assert [said[side]["value"] for side in ("width", "depth")] == RECORD["size_mm"][1:]
    length = {
        "@type": "PropertyValue",
        "name": "Length",
        "value": "7.10",
        "unitCode": "MMT",
        "unitText": "mm",
    }
    assert length in said["additionalProperty"]
    assert {"@type": "PropertyValue", "name": "Treatment", "value": "none found by the cutter"} in said[
        "additionalProperty"
    ]
    assert said["subjectOf"]["identifier"] == "IC-0001"
    assert "hasCertification" not in said


def test_a_paper_that_is_no_stone_is_a_document():
    said = json.loads(linked_data.of({"title": "Quote", "number": "QU-0001", "language": "en"}))
    assert said["@type"] == "DigitalDocument"
    assert said["identifier"] == "QU-0001"
