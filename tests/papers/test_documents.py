"""Documents over one to many pages: what is frozen of them, and what comes out of the printer."""

import hashlib
import io
import json
import os
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pdfplumber
import pikepdf
import pypdf
import pytest
from django.core.files.storage import default_storage
from django.utils import translation

from tests.papers import sheets
from tests.papers.documents import (
    a_condition_report,
    a_photo,
    a_quote,
    drawn,
    issued,
    make_document_shop,
    noisy_photo,
    priced,
    printed_texts,
)
from workshop.common import photos
from workshop.common.errors import DeedRefused
from workshop.papers import marks, pdf, qr, rendering
from workshop.papers.document import (
    Column,
    Document,
    Facts,
    Mark,
    Party,
    Photos,
    Picture,
    Points,
    Signatures,
    Table,
    Text,
)
from workshop.papers.kinds import MOST_PAGES, SERIES, SHEETS
from workshop.papers.models import PRIVATE, PaperKind
from workshop.papers.record import canonical

pytestmark = pytest.mark.django_db

MARGIN_MM, FOOT_MM = 21, 26
MM = 72 / 25.4
LONG = "The stone was seen under the lens from three sides and turned in oblique light. "


@pytest.fixture(autouse=True)
def shop(db):
    return make_document_shop()


def words_of(data):
    """All words of a PDF without blanks, as another reader takes them out."""
    return sheets.bare("".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages))


def lines_of(page):
    """The lines above the foot of a page, from the top, each as its characters."""
    chars = [one for one in page.chars if one["bottom"] < page.height - FOOT_MM * MM and one["text"].strip()]
    lines = {}
    for char in chars:
        lines.setdefault(round(char["bottom"]), []).append(char)
    return [lines[at] for at in sorted(lines)]


# --- What is frozen -----------------------------------------------------------------------------------------------------


def test_a_content_is_texts_and_flags_and_leaves_out_what_is_empty(shop):
    content = a_quote(shop).content()
    assert canonical(content) == canonical(json.loads(json.dumps(content)))
    assert content["facts"] == [
        {"label": "Valid until", "text": "1 April 2026"},
        {"label": "Currency", "text": "EUR"},
    ]
    assert content["parties"][0]["lines"] == ["Ada Lund", "3 Quay Street", "Stromness", "ada@lund.example"]
    assert content["blocks"][0]["paragraphs"] == ["Thank you for your letter.", "This is what I propose."]
    assert content["shop"]["address"] == ["12 Harbour Row", "Port Ellen"] and content["language"] == "en"


@pytest.mark.parametrize(
    "empty",
    [
        Text(["", "  \n "], heading="Terms"),
        Facts([("Floor", ""), ("Size", " ")], heading="The work"),
        Table([Column("Work")], [], heading="Price"),
        Points([" "], heading="Risks"),
        Photos([], heading="Photographs"),
        Signatures([""], heading="Acceptance"),
    ],
)
def test_a_block_without_anything_goes_with_its_heading(shop, empty):
    assert Document(title="Quote", shop=shop, blocks=[empty]).content()["blocks"] == []


def test_a_row_with_a_cell_too_few_is_refused(shop):
    with pytest.raises(ValueError, match="1 cells in a table of 2 columns"):
        Table([Column("a"), Column("b")], [["1", "2"], ["3"]]).content()
    with pytest.raises(ValueError, match="3 cells in a table of 2 columns"):
        Table([Column("a"), Column("b")], [["1", "2"]], foot=[["1", "2", "3"]]).content()


@pytest.mark.pdf
@pytest.mark.parametrize(("told", "strong"), [({}, "Of it tax"), ({"total": 0}, "In all")])
def test_the_sum_that_counts_is_set_strong(shop, told, strong):
    table = Table([Column("Work"), Column("Amount", numeric=True)], [["Cutting", "80.00"]],
                  foot=[["In all", "96.00"], ["Of it tax", "16.00"]], **told)  # fmt: skip
    with pdfplumber.open(io.BytesIO(drawn(issued(a_quote(shop, blocks=[table]))))) as read:
        lines = {"".join(char["text"] for char in line): line for line in lines_of(read.pages[0])}
    plain = {char["fontname"] for char in lines["Cutting80.00"]}
    for row, amount in (("In all", "96.00"), ("Of it tax", "16.00")):
        used = {char["fontname"] for char in lines[sheets.bare(row) + amount]}
        assert len(used) == 1 and (used != plain) == (row == strong)


@pytest.mark.parametrize(("x", "y"), [("-0.1", "5"), ("5", "100.1"), ("NaN", "5")])
def test_a_mark_off_its_picture_is_refused(x, y):
    with pytest.raises((ValueError, ArithmeticError)):
        Mark(Decimal(x), Decimal(y), "chip").content()


@pytest.mark.parametrize(("place", "said"), [("10", "10"), ("0", "0"), ("12.500", "12.5"), ("100", "100")])
def test_a_place_is_spelled_one_way(place, said):
    assert Mark(Decimal(place), Decimal(place), "chip").content()["x"] == said


def test_a_photograph_that_is_gone_is_told_before_anything_is_issued(shop):
    photo = a_photo()
    os.remove(default_storage.path(photos.path_of(photo.sha256, "large")))
    with pytest.raises(DeedRefused, match="“Front” is not in the picture store"):
        Photos([Picture(photo, "Front")]).content()


def test_each_kind_of_document_has_its_series_and_both_sizes():
    assert {kind: SERIES[kind] for kind in PRIVATE} == {
        PaperKind.QUOTE: "QU", PaperKind.INTAKE_RECEIPT: "IR", PaperKind.CONDITION: "CR", PaperKind.HANDING_OVER: "HO",
        PaperKind.INVOICE: "IN", PaperKind.CREDIT_NOTE: "CN", PaperKind.MEMO_NOTE: "MN",
    }  # fmt: skip
    assert all(set(SHEETS[kind]) == {"a4", "letter"} for kind in PRIVATE)
    assert len(set(SERIES.values())) == len(PaperKind)


# --- The sheet ----------------------------------------------------------------------------------------------------------


@pytest.mark.pdf
@pytest.mark.parametrize(("size", "width", "height"), [("a4", 210, 297), ("letter", 215.9, 279.4)])
def test_the_sheet_has_the_size_it_says(shop, size, width, height):
    """ISO 216: A4 is 210 × 297 mm. Letter is 8.5 × 11 in (ANSI/ASME Y14.1 size A, from memory)."""
    for found in sheets.sizes_mm(drawn(issued(a_quote(shop)), size)):
        assert found == pytest.approx((width, height), abs=0.1)


@pytest.mark.pdf
@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("rows", [3, 60])
def test_every_text_of_the_record_is_printed(shop, size, rows):
    paper = issued(a_quote(shop, rows=rows))
    found = words_of(drawn(paper, size))
    for text in printed_texts(json.loads(paper.content)):
        assert sheets.bare(text) in found, text
    assert "Leftout" not in found and "issued2Mar2026" in found


@pytest.mark.pdf
def test_every_text_of_a_condition_report_is_printed(shop):
    paper = issued(a_condition_report(shop), PaperKind.CONDITION)
    found = words_of(drawn(paper))
    for text in printed_texts(json.loads(paper.content)):
        assert sheets.bare(text) in found, text


@pytest.mark.pdf
def test_each_page_says_number_shop_and_page(shop):
    paper = issued(a_quote(shop, rows=90))
    pages = sheets.texts(drawn(paper))
    assert len(pages) >= 3
    for at, text in enumerate(pages, start=1):
        assert text.endswith(f"Page {at} of {len(pages)}")
        assert paper.number in text.rpartition("Wren & Alder")[0] and "Wren & Alder Page" in text


@pytest.mark.pdf
def test_a_tables_head_stands_on_each_of_its_pages_and_its_sums_once(shop):
    pages = sheets.texts(drawn(issued(a_quote(shop, rows=90))))
    holding = [text for text in pages if "Cutting, item" in text]
    assert len(holding) >= 3
    assert all("Work How reckoned Amount" in text for text in holding)
    assert sum(text.count("Altogether") for text in pages) == 1
    rows = [f"item {n} 350.00" for n in range(1, 91)]
    assert all(sum(row in text for text in pages) == 1 for row in rows), "a row is missing or parted"
    # The sums never stand on a page of their own, away from the last row.
    assert any("item 90 350.00" in text and "Altogether" in text for text in pages)


@pytest.mark.pdf
def test_no_heading_ends_a_page_and_no_signature_is_parted_from_its_words(shop):
    """Whatever stands before: the text pushes heading after heading over the foot of the first page."""
    for count in range(0, 44, 3):
        text = [f"Line {n} of what was said before it." for n in range(count)]
        blocks = [Text(text), priced(4), Points(["One.", "Two."], heading="Risks"),
                  Signatures(["Ada Lund: day", "For the shop: day"], heading="Acceptance", words="I accept.")]  # fmt: skip
        data = drawn(issued(a_quote(shop, blocks=blocks)))
        with pdfplumber.open(io.BytesIO(data)) as read:
            for page in read.pages[:-1]:
                # Nor a heading and one line alone; of a table not its head alone.
                last = lines_of(page)[-2:]
                said = ["".join(char["text"] for char in line) for line in last]
                assert not any("Serif" in char["fontname"] for line in last for char in line), (count, said)
                assert "WorkHowreckonedAmount" not in said, (count, said)
        with_line = [page for page in sheets.texts(data) if "For the shop: day" in page]
        assert len(with_line) == 1 and "Acceptance I accept." in with_line[0], count


@pytest.mark.pdf
@pytest.mark.parametrize(
    "words", ["Unbreakable" * 20, "אבן ירוקה עם סדק " * 12, "💎" * 80, "緑色の石" * 40, "W" * 200]
)
def test_long_words_and_other_scripts_stay_inside_the_margins(shop, words):
    table = Table([Column(words), Column("n", numeric=True), Column("c")], [[words, words, words], ["a", "1", "b"]],
                  foot=[[words, "", "2"]], heading=words, note=words)  # fmt: skip
    document = Document(
        title=words, shop=shop, reference=words, parties=[Party(words, [words])], facts=[(words, words)],
        blocks=[Text([words], heading=words), Facts([(words, words)]), table, Points([words]),
                Photos([Picture(a_photo(), words, [Mark(Decimal(1), Decimal(99), words)])]),
                Signatures([words, words], words=words)],
        role=words,
    )  # fmt: skip
    with pdfplumber.open(io.BytesIO(drawn(issued(document)))) as read:
        for page in read.pages:
            left, right = MARGIN_MM * MM - 1, page.width - MARGIN_MM * MM + 1
            # A picture's own letters aside: a ring near an edge keeps its number inside the picture.
            for char in page.chars:
                assert char["x0"] >= left and (char["x1"] <= right or not char["text"].strip()), char["text"]


@pytest.mark.pdf
def test_a_wide_table_stays_inside_the_margins(shop):
    columns = [Column(f"Column {n}", numeric=n > 1) for n in range(12)]
    table = Table(columns, [["text", "more"] + ["12,345.67"] * 10] * 3)
    with pdfplumber.open(io.BytesIO(drawn(issued(a_quote(shop, blocks=[table]))))) as read:
        assert max(char["x1"] for char in read.pages[0].chars) <= read.pages[0].width - MARGIN_MM * MM + 1


@pytest.mark.pdf
@pytest.mark.parametrize("sort", ["cell", "fact", "marks", "signatures"])
def test_what_is_taller_than_a_page_runs_over_and_is_not_cut(shop, sort):
    tall = LONG * 90 + "The very end."
    many = [Mark(Decimal(n), Decimal(n), f"Fault {n}: {LONG}") for n in range(1, 60)]
    block = {
        "cell": Table([Column("a"), Column("b")], [["x", tall], ["y", "short"]], heading="Heading"),
        "fact": Facts([("a", tall)], heading="Heading"),
        "marks": Photos([Picture(a_photo(), "Front", many)], heading="Heading"),
        "signatures": Signatures([f"Signature {n}: {LONG}" for n in range(40)], heading="Heading"),
    }[sort]
    paper = issued(a_quote(shop, blocks=[block]))
    data = drawn(paper)
    found, pages = words_of(data), sheets.texts(data)
    assert len(pages) >= 2
    for text in printed_texts(json.loads(paper.content)):
        # The foot stands between two pages of a text that runs over: look for its sentences.
        for sentence in filter(None, text.split(". ")):
            assert sheets.bare(sentence) in found, sentence
    with pdfplumber.open(io.BytesIO(data)) as read:
        assert all(len(lines_of(page)) > 3 for page in read.pages[:-1]), (
            "a page with hardly more than a heading"
        )


@pytest.mark.pdf
def test_a_document_too_long_to_be_read_is_refused(shop):
    paper = issued(a_quote(shop, blocks=[Text([LONG * 100] * MOST_PAGES)]))
    with pytest.raises(pdf.CannotRender, match="shorten the longest texts"):
        drawn(paper)


@pytest.mark.pdf
def test_a_short_document_is_set_closer_where_that_saves_a_page(shop, monkeypatch):
    saved = []
    for rows in range(3, 20, 2):
        paper = issued(a_quote(shop, blocks=[priced(rows), Signatures(["Ada Lund: day"])]))
        with monkeypatch.context() as patched:
            patched.setattr(pdf, "SHORT", 0)
            loose = len(sheets.sizes_mm(rendering.draw(paper, "a4")))
        saved.append(loose - len(sheets.sizes_mm(rendering.draw(paper, "a4"))))
    assert min(saved) == 0 and max(saved) == 1


@pytest.mark.pdf
def test_markup_in_a_text_is_printed_as_typed(shop):
    hostile = '<b>"x"</b> & {{ paper.number }} <img src=x onerror=y>'
    found = words_of(drawn(issued(a_quote(shop, blocks=[Text([hostile], heading=hostile)]))))
    assert found.count(sheets.bare(hostile)) == 2


# --- Photographs and marks ----------------------------------------------------------------------------------------------


def rings(svg):
    """Centre and radius of each ring, in the picture's pixels; a ring is drawn twice, halo and ink."""
    root = ElementTree.fromstring(svg)
    found = [[float(one.get(name)) for name in ("cx", "cy", "r")] for one in root.iter("{http://www.w3.org/2000/svg}circle")]  # fmt: skip
    assert found[::2] == found[1::2]
    return found[::2], root


@pytest.mark.parametrize(("width", "height"), [(1600, 1200), (900, 1600), (1600, 400), (7, 5)])
@pytest.mark.parametrize(("x", "y"), [("0", "0"), ("100", "0"), ("0", "100"), ("100", "100"), ("37.5", "61")])
def test_a_ring_stands_where_it_was_set_and_its_number_inside_the_picture(width, height, x, y):
    marked = [{"x": x, "y": y, "words": "<chip>"}] * 12
    found, root = rings(marks.overlay({"width": width, "height": height, "marks": marked}))
    assert len(found) == 12
    for cx, cy, _ in found:
        assert cx == pytest.approx(float(x) / 100 * width, abs=0.01)
        assert cy == pytest.approx(float(y) / 100 * height, abs=0.01)
    texts = list(root.iter("{http://www.w3.org/2000/svg}text"))
    assert [text.text for text in texts] == [str(n) for n in range(1, 13)]
    for tag in root.iter("{http://www.w3.org/2000/svg}rect"):
        left, top = float(tag.get("x")), float(tag.get("y"))
        assert left >= 0 and left + float(tag.get("width")) <= width + 0.01
        if width <= 2 * height:
            assert top >= 0 and top + float(tag.get("height")) <= height + 0.01


def test_an_address_in_a_drawing_is_escaped():
    svg = marks.marked({"width": 4, "height": 3, "marks": []}, 'x" onload="alert(1)')
    image = ElementTree.fromstring(svg).find("{http://www.w3.org/2000/svg}image")
    assert image.get("href") == 'x" onload="alert(1)' and image.get("onload") is None


@pytest.mark.pdf
@pytest.mark.parametrize(("width", "height"), [(1600, 1200), (900, 1500), (1600, 700)])
def test_on_paper_the_ring_encloses_the_place_it_was_set_on(shop, width, height):
    """Measured on the printed page: grey within, dark at the ring, grey beyond."""
    place = (Decimal("30"), Decimal("70"))
    picture = Picture(a_photo(width, height), "Front", [Mark(*place, "Chip")])
    data = drawn(issued(a_quote(shop, blocks=[Photos([picture])])))
    dpi = 300
    with pdfplumber.open(io.BytesIO(data)) as read:
        (box,) = read.pages[0].images
    # The frame is 4 : 3 and the picture stands in the middle of it, whole.
    assert (box["x1"] - box["x0"]) / (box["bottom"] - box["top"]) == pytest.approx(width / height, rel=0.01)
    x = (box["x0"] + float(place[0]) / 100 * (box["x1"] - box["x0"])) * dpi / 72
    y = (box["top"] + float(place[1]) / 100 * (box["bottom"] - box["top"])) * dpi / 72
    image = sheets.page_image(data, 0, dpi)
    frame_mm = 80.5
    radius = marks.RING * frame_mm / 25.4 * dpi
    for step_x, step_y in ((1, 0), (-1, 0), (0, 1)):
        seen = [
            image.getpixel((round(x + step_x * r), round(y + step_y * r))) for r in range(round(1.6 * radius))
        ]
        dark = [at for at, light in enumerate(seen) if light < 60]
        assert dark and sum(dark) / len(dark) == pytest.approx(radius, rel=0.06)
        assert 180 < seen[0] < 215 and 180 < seen[round(radius * 0.4)] < 215


@pytest.mark.pdf
def test_photographs_are_printed_at_300_dots_an_inch_and_small(shop):
    data = drawn(issued(a_condition_report(shop, noisy_photo()), PaperKind.CONDITION))
    with pdfplumber.open(io.BytesIO(data)) as read:
        found = [image for page in read.pages for image in page.images]
    assert len(found) == 3
    for image in found:
        dots = image["srcsize"][0] / ((image["x1"] - image["x0"]) / 72)
        assert 290 <= dots <= 301
    stored = len(photos.read(noisy_photo(), "large"))
    assert len(data) < 60_000 + stored, "larger than the stored photograph with its page"


@pytest.mark.pdf
def test_a_photograph_changed_underneath_is_caught_before_it_is_printed(shop):
    photo = a_photo()
    paper = issued(a_condition_report(shop, photo), PaperKind.CONDITION)
    path = default_storage.path(photos.path_of(photo.sha256, "large"))
    data = bytearray(Path(path).read_bytes())
    data[-20] ^= 1
    Path(path).write_bytes(data)
    with pytest.raises(rendering.PaperDamaged, match="not the one it was issued with"):
        drawn(paper)


# --- For ten years ------------------------------------------------------------------------------------------------------


@pytest.mark.pdf
@pytest.mark.parametrize("size", ["a4", "letter"])
def test_the_code_leads_to_the_check_page_and_its_modules_are_large_enough(shop, size):
    """ISO/IEC 18004; 0.33 mm a module is common practice, no source."""
    paper = issued(a_quote(shop, rows=60))
    said = json.loads(paper.content)["check_url"]
    assert sheets.code_on(drawn(paper, size), 0, 200) == said
    assert qr.module_mm(said, Decimal(24)) >= qr.LEAST_MODULE_MM


@pytest.mark.pdf
def test_it_says_that_it_is_pdf_a_3a_and_keeps_to_what_can_be_seen_of_it(shop):
    """ISO 19005-3: part and level in the metadata, fonts and colour profile inside, tagged, a language, no script."""
    paper = issued(a_condition_report(shop), PaperKind.CONDITION)
    data = drawn(paper)
    with pikepdf.open(io.BytesIO(data)) as read:
        with read.open_metadata() as said:
            assert (said["pdfaid:part"], said["pdfaid:conformance"]) == ("3", "A")
            assert said["dc:title"] == f"Condition report {paper.number}"
        root = read.Root
        assert root.Lang == "en" and bool(root.MarkInfo.Marked) and "/StructTreeRoot" in root
        assert root.OutputIntents[0].S == "/GTS_PDFA1" and "/DestOutputProfile" in root.OutputIntents[0]
        assert "/OpenAction" not in root and "/AA" not in root and not read.is_encrypted
        alts = [str(one.Alt) for one in read.objects if isinstance(one, pikepdf.Dictionary) and "/Alt" in one]
    assert all(sheets.fonts(data).values()) and len(sheets.fonts(data)) >= 3
    assert {"Front, with scale", "Back", "Side", "The plan"} <= set(alts)


@pytest.mark.pdf
def test_the_same_content_gives_the_same_bytes_in_any_language(shop):
    """Whoever asks first, in whatever language their pages are: the paper keeps its own."""
    paper = issued(a_condition_report(shop), PaperKind.CONDITION)
    first = rendering.draw(paper, "a4")
    with translation.override("de"):
        again = rendering.draw(paper, "a4")
    assert hashlib.sha256(first).hexdigest() == hashlib.sha256(again).hexdigest()


@pytest.mark.pdf
def test_the_same_content_gives_the_same_bytes_in_another_process(tmp_path):
    script = """
import hashlib, io, django
django.setup()
from PIL import Image
from workshop.papers import pdf, qr, marks
from workshop.papers.kinds import DOCUMENT
out = io.BytesIO()
Image.effect_mandelbrot((1600, 1200), (-3, -2.5, 2, 2.5), 60).convert("RGB").save(out, "JPEG")
picture = {"words": "Front", "width": 1600, "height": 1200, "marks": [{"x": "3", "y": "4", "words": "chip ירוק 💎"}]}
shop = {"name": "Wren", "address": ["Łódź"]}
block = {"kind": "photos", "heading": "Photographs", "pairs": [{"pictures": [picture | {"file": "p.jpg", "rings": "r.svg"}, None]}]}
paper = {"title": "T", "number": "QU-0001", "language": "en", "shop": shop, "check_url": "https://cards.example/x"}
files = {"qr.svg": qr.svg("https://cards.example/x"), "p.jpg": out.getvalue(), "r.svg": marks.overlay(picture).encode()}
print(hashlib.sha256(pdf.render(DOCUMENT["a4"], {"paper": paper, "blocks": [block]}, files)).hexdigest())
"""
    hashes = set()
    for seed in ("1", "2"):
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.settings", "PYTHONHASHSEED": seed, "TMPDIR": str(tmp_path),
        }  # fmt: skip
        environment.pop("SOURCE_DATE_EPOCH", None)
        done = subprocess.run(
            [sys.executable, "-W", "ignore", "-c", script],
            capture_output=True, text=True, env=environment, cwd=Path(__file__).parents[2], check=True,
        )  # fmt: skip
        hashes.add(done.stdout.strip())
    assert len(hashes) == 1 and all(len(one) == 64 for one in hashes)
