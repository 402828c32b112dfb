"""Every kind of paper in every size, read back with other people's readers.

qpdf (pikepdf) reads the structure, pdfminer (pdfplumber) and pypdf the words and measures, PDFium the pixels, and
ZXing the code. What ISO 19005-3 asks beyond what is looked at here, nobody has checked: no validator is to be had.
"""

import io
import json
import re

import pikepdf
import pypdf
import pytest
import zxingcpp
from django.template import TemplateDoesNotExist
from django.template.loader import get_template

from tests.papers import sheets
from tests.papers.documents import strings
from tests.papers.specimens import DEEDS, EVERY, IDS
from workshop.papers import keys
from workshop.papers.kinds import SHEETS
from workshop.papers.models import PaperKind
from workshop.papers.record import sha256_of

pytestmark = [pytest.mark.pdf, pytest.mark.django_db]
every = pytest.mark.parametrize(("kind", "size"), EVERY, ids=IDS)

#: ISO/IEC 7810 ID-1; ISO 216 A4, A5, A6; Letter is 8.5 × 11 in (ANSI/ASME Y14.1 size A, from memory).
SIZES_MM = {
    "id1": (85.60, 53.98), "a6": (105, 148), "a5": (148, 210), "a4": (210, 297), "letter": (215.9, 279.4),
}  # fmt: skip
#: Names in a record that a machine needs and no sheet prints.
UNSEEN = {
    "about", "bytes_sha256", "check_code", "drawing", "gem", "kind", "language", "profile", "sha256", "sizes",
    "statements", "supersedes", "issued_at", "picture", "marks",
}  # fmt: skip


def opened(specimens, kind, size):
    return pikepdf.open(io.BytesIO(specimens[kind].files[size]))


def test_every_kind_has_its_specimen():
    drawn = {kind for kind in PaperKind if all(_is_there(sheet.template) for sheet in SHEETS[kind].values())}
    assert set(DEEDS) == drawn
    assert len(EVERY) == sum(len(SHEETS[kind]) for kind in drawn)


def _is_there(template):
    try:
        get_template(template)
    except TemplateDoesNotExist:
        return False
    return True


@every
def test_the_sheet_is_as_large_as_its_name_says(specimens, kind, size):
    for found in sheets.sizes_mm(specimens[kind].files[size]):
        assert found == pytest.approx(SIZES_MM[size], abs=0.1)


@every
def test_it_keeps_to_what_can_be_seen_of_pdf_a(specimens, kind, size):
    """ISO 19005-3: 6.6.4 (part and conformance in the metadata), 6.2.3 (output intent), 6.3.x (fonts), 6.7 (tags,
    language), 6.5 (no actions but to go somewhere). Numbers of the clauses from memory."""
    record = json.loads(specimens[kind].row["content"])
    with opened(specimens, kind, size) as pdf, pdf.open_metadata() as said:
        root = pdf.Root
        assert (said["pdfaid:part"], said["pdfaid:conformance"]) == ("3", "A")
        assert record["number"] in said["dc:title"]
        assert bool(root.ViewerPreferences.DisplayDocTitle)
        assert str(root.Lang) == record["language"]
        assert bool(root.MarkInfo.Marked)
        assert len(root.StructTreeRoot.K) >= 1
        (intent,) = root.OutputIntents
        assert intent.S == "/GTS_PDFA1"
        profile = intent.DestOutputProfile.read_bytes()
        # ICC.1:2010, 7.2: bytes 16 to 19 name the colour space, 36 to 39 are always "acsp".
        assert profile[16:20] == b"RGB " and profile[36:40] == b"acsp"
        assert b"sRGB" in profile or b"s\0R\0G\0B" in profile
        assert not pdf.is_encrypted
        assert "/OpenAction" not in root and "/AA" not in root and "/AcroForm" not in root
    fonts = sheets.fonts(specimens[kind].files[size])
    assert len(fonts) >= 2 and all(fonts.values()), fonts


def things(pdf):
    """Every dictionary in the file, those of streams and those inside others too."""
    seen, heap = set(), [*pdf.objects, pdf.trailer]
    while heap:
        one = heap.pop()
        if isinstance(one, pikepdf.Dictionary | pikepdf.Stream):
            if one.is_indirect:
                if one.objgen in seen:
                    continue
                seen.add(one.objgen)
            yield one
            heap += [one[name] for name in one]
        elif isinstance(one, pikepdf.Array):
            heap += list(one)


@every
def test_it_runs_nothing_and_calls_nobody(specimens, kind, size):
    """ISO 19005-3, 6.5.1 and 6.2.9 (from memory): no script, no launch, no reference to what lies outside."""
    barred = {
        "/JavaScript",
        "/Launch",
        "/Sound",
        "/Movie",
        "/ResetForm",
        "/ImportData",
        "/SubmitForm",
        "/GoToR",
    }
    with opened(specimens, kind, size) as pdf:
        count = 0
        for thing in things(pdf):
            count += 1
            assert str(thing.get("/S")) not in barred
            assert not {"/JS", "/JavaScript", "/F_", "/OPI", "/Ref", "/FFilter", "/Alternates"} & set(
                thing.keys()
            )
            if thing.get("/Type") == "/Filespec":
                assert "/EF" in thing and "/FS" not in thing
            elif "/F" in thing and isinstance(thing, pikepdf.Stream):
                raise AssertionError("a stream whose data lie in another file")
            if thing.get("/S") == "/URI":
                # A link may be followed by who clicks on it; nothing asks for one by itself.
                assert re.match(
                    r"(https://cards\.example/|https://wren-alder\.example|mailto:bench@)", str(thing.URI)
                )
    assert count > 20


@every
def test_it_carries_its_record_and_two_signatures(specimens, kind, size):
    specimen = specimens[kind]
    with opened(specimens, kind, size) as pdf:
        files = {name: one.get_file().read_bytes() for name, one in pdf.attachments.items()}
        relations = {str(one.UF): str(one.AFRelationship) for one in pdf.Root.AF}
        kinds = {str(one.UF): str(one.EF.F.Subtype) for one in pdf.Root.AF}
    assert relations == {
        "record.json": "/Source",
        "record.jsonld": "/Supplement",
        "signature.json": "/Supplement",
    }
    # ISO 19005-3, 6.8: an embedded file says what type it is.
    assert all(re.fullmatch(r"/?[a-z]+/[a-z+.-]+", one) for one in kinds.values()), kinds
    assert files["record.json"].decode() == specimen.row["content"]
    assert sha256_of(files["record.json"]) == specimen.row["content_sha256"]
    said = json.loads(files["signature.json"])
    assert keys.verifies(specimen.public, files["record.json"], said["record_signature"])
    linked = json.loads(files["record.jsonld"])
    assert linked["@context"] == "https://schema.org"
    named = linked.get("subjectOf", linked)
    assert named["identifier"] == specimen.row["number"]


def printed(content):
    if isinstance(content, dict):
        return [text for key, inner in content.items() if key not in UNSEEN for text in printed(inner)]
    return (
        [text for inner in content for text in printed(inner)]
        if isinstance(content, list)
        else strings(content)
    )


@every
def test_every_word_of_the_record_is_on_it(specimens, kind, size):
    record = json.loads(specimens[kind].row["content"])
    if kind in {PaperKind.INFO_CARD, PaperKind.CERTIFICATE, PaperKind.SUITE}:
        # These carry more than they print (statements, reasons); tests of their own hold them word by word.
        kept = [
            "title",
            "name_line",
            "weight_ct",
            "role",
            "number",
            *(["check_url"] if size != "id1" else []),
        ]
        record = {name: record[name] for name in kept if name in record}
    pages = pypdf.PdfReader(io.BytesIO(specimens[kind].files[size])).pages
    found = sheets.bare("".join(page.extract_text() for page in pages))
    texts = [text for text in printed(record) if text not in {"", record.get("issued_on")}]
    assert len(texts) >= 4
    missing = [text for text in texts if sheets.bare(text) not in found]
    assert missing == []


def dark_box(code):
    spots = [
        code.position.top_left,
        code.position.top_right,
        code.position.bottom_left,
        code.position.bottom_right,
    ]
    return min(p.x for p in spots), min(p.y for p in spots), max(p.x for p in spots), max(p.y for p in spots)


@every
def test_the_code_reads_at_150_dots_an_inch_and_stands_free(specimens, kind, size):
    """ISO/IEC 18004: four modules of quiet zone on each side, measured in the pixels of the drawn page."""
    data = specimens[kind].files[size]
    record = json.loads(specimens[kind].row["content"])
    page = len(sheets.sizes_mm(data)) - 1 if size == "id1" else 0
    assert sheets.code_on(data, page, 150) == record["check_url"]
    dpi = 300
    image = sheets.page_image(data, page, dpi)
    (code,) = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
    left, top, right, bottom = dark_box(code)
    modules = _modules(record["check_url"])
    module = (right - left) / modules
    assert module / dpi * 25.4 >= 0.33, "a module a telephone reads; common practice, no source"
    quiet = int(4 * module - 1)
    around = image.crop((left - quiet, top - quiet, right + quiet, bottom + quiet))
    inside = image.crop((left, top, right, bottom))
    assert inside.getextrema()[0] < 60
    for x, y in ((0, 0), (around.width - quiet + 2, 0)):
        assert around.crop((x, y, x + quiet - 2, around.height)).getextrema()[0] > 200
    for x, y in ((0, 0), (0, around.height - quiet + 2)):
        assert around.crop((x, y, around.width, y + quiet - 2)).getextrema()[0] > 200


def _modules(text):
    """How many modules the code of a text has on a side: the smallest version of ISO/IEC 18004, table 7, level M,
    byte mode, that holds it (14, 26, 42, 62, 84, 106, 122, 152, 180 bytes in versions 1 to 9)."""
    room = (14, 26, 42, 62, 84, 106, 122, 152, 180)
    version = next(n for n, most in enumerate(room, start=1) if len(text.encode()) <= most)
    return 17 + 4 * version
