"""The card as it comes out of the printer: size, words, type, fonts, code; one page a side whatever is typed."""

import io
import json
import os
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from tests import makers
from tests.makers import NOON, make_answered_gem, make_gem, make_shop, say
from tests.papers import sheets
from workshop.common import photos
from workshop.gems import card_actions
from workshop.handbook import tables
from workshop.materials.models import Material
from workshop.papers import actions, pdf, rendering
from workshop.papers.models import PaperFile
from workshop.stones.models import StonePhoto

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]

ID1, A6 = (85.60, 53.98), (105.0, 148.0)


@pytest.fixture(autouse=True)
def shop(db):
    return make_shop(name="Wren & Alder", cutter="Oona Alder", base_url="https://cards.example")


def issue(gem, **said):
    return card_actions.issue_card(gem, by=makers.somebody(), at=NOON, **said)


def drawn(paper, size):
    return bytes(actions.bytes_of(paper, size, at=NOON).pdf)


def a_photo(stone, colour="#46a58d"):
    picture = io.BytesIO()
    Image.new("RGB", (900, 700), colour).save(picture, "JPEG")
    kept = photos.keep(photos.prepare(picture), by=makers.somebody(), at=NOON)
    return StonePhoto.objects.create(stone=stone, photo=kept, stage="off_dop", at=NOON)


def photographed_gem(**said):
    stone = makers.make_stone("12 ct", by=makers.somebody())
    gem = make_gem(stone=stone, photo=a_photo(stone), **said)
    say(gem.stone, "nature", 2, nature="mined", how="invoice 17")
    say(gem.stone, "species", 3, material=Material.objects.get(key="tourmaline-elbaite"), how="RI 1.62")
    say(gem.stone, "treatment", 3, treated="untreated", how="10x lens")
    return gem


# --- Size, words, type ------------------------------------------------------------------------------------------------


def test_the_small_card_is_two_sides_of_id1():
    """S1: ISO/IEC 7810 ID-1, 85.60 × 53.98 mm, within 0.1 mm."""
    found = sheets.sizes_mm(drawn(issue(make_answered_gem()), "id1"))
    assert len(found) == 2
    for width, height in found:
        assert width == pytest.approx(ID1[0], abs=0.1) and height == pytest.approx(ID1[1], abs=0.1)


def test_the_sheet_is_one_a6_page():
    """ISO 216: A6, 105 × 148 mm."""
    ((width, height),) = sheets.sizes_mm(drawn(issue(make_answered_gem()), "a6"))
    assert width == pytest.approx(A6[0], abs=0.1) and height == pytest.approx(A6[1], abs=0.1)


@pytest.mark.parametrize("size", ["id1", "a6"])
def test_every_word_of_the_record_stands_on_the_sheet(size):
    paper = issue(make_answered_gem(clarity="eye clean; needles at 10x lens", cut="step crown"))
    said = json.loads(paper.content)
    text = " ".join(sheets.texts(drawn(paper, size)))
    wanted = [
        said["name_line"],
        said["number"],
        said["title"],
        said["role"],
        said["not_tested"],
        said["shop"]["name"],
    ]
    wanted += [row["text"] for row in said["facts"]] + said["care"]
    wanted += [part for row in said["lines"] for part in (row["text"], row["basis"]) if part]
    for words in wanted:
        assert all(sheets.bare(word).lower() in sheets.bare(text).lower() for word in words.split()), words
    assert "2 Mar 2026" in text


def test_the_small_card_keeps_the_order_of_the_law():
    """Section 7: front name, weight, size, cut, cutter; back treatment, basis, role line, code."""
    front, back = sheets.texts(drawn(issue(make_answered_gem()), "id1"))
    assert "Tourmaline" in front and "2.34 ct, by scale" in front and "Oona Alder" in front
    wanted = "Treatment: heated; permanent in normal wear and cleaning; affects value; according to Imaginary Stones"
    assert sheets.bare(wanted) in sheets.bare(back)
    assert "according to Imaginary Stones" in back and "not a laboratory report" in back


@pytest.mark.parametrize("size", ["id1", "a6"])
def test_no_type_below_six_points(size):
    """House rule on ID-1; the drawing's own figures too."""
    assert sheets.least_type_pt(drawn(issue(make_answered_gem()), size)) >= 5.99


def test_disclosure_is_as_large_as_the_description():
    """16 CFR 23.1 note 2: relative type size."""
    import pdfplumber

    with pdfplumber.open(io.BytesIO(drawn(issue(make_answered_gem()), "id1"))) as read:
        front = {
            round(c["size"], 1) for c in read.pages[0].chars if "CardSans" in c["fontname"].replace("-", "")
        }
        back = [c for c in read.pages[1].chars if c["x0"] < 150 and c["top"] < 120]
    described = max(front)
    assert {round(c["size"], 1) for c in back} == {described}


@pytest.mark.parametrize("size", ["id1", "a6"])
def test_all_fonts_lie_in_the_file(size):
    """S3, ISO 19005: also those that stand in for Hebrew, Arabic and pictures."""
    gem = make_answered_gem(colour="ירוק 💚 bluish green", clarity="نظيف للعين")
    found = sheets.fonts(drawn(issue(gem), size))
    assert len(found) >= 3 and all(found.values()), found
    assert any("Card-Sans" in name for name in found) and any("Card-Serif" in name for name in found)


def test_the_file_is_tagged_pdf_a_without_lock_or_script():
    """S3, ISO 19005-3: conformance entries, output intent, language, no encryption; not validated beyond this."""
    with pikepdf.open(io.BytesIO(drawn(issue(make_answered_gem()), "id1"))) as read:
        assert not read.is_encrypted
        assert read.Root.MarkInfo.Marked and "/StructTreeRoot" in read.Root
        assert str(read.Root.Lang) == "en" and len(read.Root.OutputIntents) == 1
        assert "/OpenAction" not in read.Root and "/JavaScript" not in read.Root.get("/Names", {})
        with read.open_metadata() as meta:
            assert meta["pdfaid:part"] == "3" and meta["pdfaid:conformance"] == "A"
            assert meta["dc:title"] == "Stone information card IC-0001"


def test_a_photograph_goes_on_the_card_sharp_and_small():
    """300 dots per inch over 52 mm is 614 px; the card's size of a picture has 640."""
    data = drawn(issue(photographed_gem(), picture="photo"), "a6")
    assert sheets.pictures(data) == [(640, 498)]
    assert len(data) < 120_000


# --- The code ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("dpi", [150, 300])
@pytest.mark.parametrize(("size", "page"), [("id1", 1), ("a6", 0)])
def test_the_code_reads_back_from_the_printed_page(size, page, dpi):
    """ISO/IEC 18004, read by an independent decoder."""
    paper = issue(make_answered_gem())
    assert sheets.code_on(drawn(paper, size), page, dpi) == json.loads(paper.content)["check_url"]


def test_the_code_keeps_its_quiet_zone():
    """ISO/IEC 18004: four modules on each side; segno draws the code at one unit a module."""
    from workshop.papers import qr

    svg = qr.svg("https://cards.example/papers/check/AAAAAAAAAAAAAAAAAAAAAA/").decode()
    side = int(svg.split('viewBox="0 0 ')[1].split()[0])
    assert (side - 8 - 17) % 4 == 0, "17 + 4 × version modules, and four on each side"
    assert (
        qr.module_mm("https://cards.example/papers/check/AAAAAAAAAAAAAAAAAAAAAA/", Decimal(20))
        == Decimal(20) / side
    )


# --- Long, odd and hostile ----------------------------------------------------------------------------------------------


def lengthy(count):
    return ("lengthy words of readings " * 80)[:count].strip()


def longest_gem(treatments, texts=lengthy, **said):
    stone = makers.make_stone("12 ct", by=makers.somebody())
    texts_of = {
        name: texts(most)
        for name, most in (
            ("cut", 120),
            ("colour", 120),
            ("colour_light", 80),
            ("clarity", 200),
            ("cut_by", 120),
        )
    }
    gem = make_gem(stone=stone, photo=a_photo(stone), shape="cut_corner_rectangle", **texts_of)
    say(stone, "nature", 2, nature="mined", how=texts(1000), said_by=texts(160))
    say(
        stone,
        "species",
        3,
        material=Material.objects.get(key="corundum-ruby"),
        how=texts(1000),
        said_by=texts(160),
    )
    say(
        stone,
        "treatment",
        3,
        treated="treated",
        treatments=treatments,
        degree="m" * 40,
        how=texts(1000),
        said_by=texts(160),
    )
    say(stone, "origin", 2, words=texts(300), how=texts(1000), said_by=texts(160))
    return gem


EVERY_TREATMENT = ["heat_residue", "dye", "coat", "glass", "irr", "diff_shallow", "oil"]


@pytest.mark.parametrize("picture", ["photo", "outline"])
@pytest.mark.parametrize("treatments", [["heat"], ["heat_residue", "dye", "glass"], EVERY_TREATMENT])
def test_the_longest_texts_still_keep_one_page_a_side(shop, treatments, picture):
    shop.name = lengthy(120)
    shop.save()
    paper = issue(longest_gem(treatments), picture=picture)
    assert len(sheets.sizes_mm(drawn(paper, "id1"))) == 2 and len(sheets.sizes_mm(drawn(paper, "a6"))) == 1
    said = json.loads(paper.content)
    for size in ("id1", "a6"):
        data = drawn(paper, size)
        text = " ".join(sheets.texts(data))
        for key in treatments:
            words = tables.treatment(key).words.split()
            assert all(word in text for word in words), f"{key} is named on {size}"
        assert all(word in text for care in said["care"] for word in care.split()), size
        assert "not a laboratory report" in text and "check page has them in full" in text
        assert sheets.least_type_pt(data) >= 5.99
        assert sheets.code_on(data, 0 if size == "a6" else 1, 300) == said["check_url"]


@pytest.mark.parametrize("words", ["W" * 119, "ש" * 119, "💎" * 60, "a-" * 59])
def test_words_without_a_place_to_break_stay_inside(shop, words):
    shop.name = words
    shop.save()
    paper = issue(make_answered_gem(cut=words, colour=words, clarity=words, cut_by=words))
    import pdfplumber

    for size, count in (("id1", 2), ("a6", 1)):
        data = drawn(paper, size)
        with pdfplumber.open(io.BytesIO(data)) as read:
            assert len(read.pages) == count
            for page in read.pages:
                assert all(char["x0"] >= 0 and char["x1"] <= page.width for char in page.chars)


@pytest.mark.parametrize("size", ["id1", "a6"])
def test_the_longest_name_line_is_never_cut(size):
    """16 CFR 23.1 note 2: the qualifiers of a name are not dropped for want of room."""
    own = Material.objects.create(
        key="own-long", species="tourmaline", variety="v" * 30 + " " + "variety " * 11
    )
    paper = issue(make_answered_gem(material=own))
    name = json.loads(paper.content)["name_line"]
    assert 120 < len(name) <= 160
    text = "".join(sheets.texts(drawn(paper, size))).replace(" ", "")
    assert name.replace(" ", "") in text


def test_a_name_line_beyond_what_a_card_holds_is_refused():
    own = Material.objects.create(key="own-longer", species="s" * 80, variety="v" * 119)
    with pytest.raises(card_actions.WordsRefused, match="160 characters"):
        issue(make_answered_gem(material=own))


def test_markup_in_a_text_is_printed_as_typed():
    paper = issue(make_answered_gem(cut='<b>"x"</b> & <script>', cut_by="<img src=x onerror=y>"))
    text = " ".join(sheets.texts(drawn(paper, "id1")))
    assert '<b>"x"</b> & <script>' in text and "<img src=x onerror=y>" in text


@pytest.mark.parametrize("size", ["id1", "a6"])
def test_an_ordinary_card_is_laid_out_once(size, monkeypatch):
    """A card costs little more than a bare render of its page only while the loosest setting fits."""
    paper = issue(
        make_answered_gem(clarity="eye clean; needles at 10x lens", cut="step crown, brilliant pavilion")
    )
    laid_out, really = [], pdf.render_to_string

    def count(template, context=None):
        laid_out.append(template)
        return really(template, context)

    pdf._styles(rendering.SHEETS[paper.kind][size].styles)
    monkeypatch.setattr(pdf, "render_to_string", count)
    drawn(paper, size)
    assert len(laid_out) == 1


# --- Bytes --------------------------------------------------------------------------------------------------------------


def test_the_bytes_are_kept_once_and_given_out_again():
    paper = issue(make_answered_gem())
    first = actions.bytes_of(paper, "id1", at=NOON)
    again = actions.bytes_of(paper, "id1", at=NOON)
    assert first.pk == again.pk and PaperFile.objects.count() == 1
    assert first.sha256 == __import__("hashlib").sha256(bytes(first.pdf)).hexdigest()


def test_a_crash_before_the_bytes_were_kept_is_healed_by_the_next_look(monkeypatch):
    """Same content, same bytes: what is drawn later is what would have been drawn then."""
    paper = issue(photographed_gem(colour="ירוק 💚 green"), picture="photo")
    would_be = rendering.draw(paper, "a6")

    def crash(*args, **kwargs):
        raise RuntimeError("the machine went down")

    with monkeypatch.context() as patched:
        patched.setattr(PaperFile.objects, "create", crash)
        with pytest.raises(RuntimeError):
            actions.bytes_of(paper, "a6", at=NOON)
    assert not PaperFile.objects.exists()
    assert drawn(paper, "a6") == would_be


def test_the_same_content_gives_the_same_bytes_in_another_process_on_another_day(tmp_path):
    """Also with fonts that stand in, which the renderer cuts down itself and would date."""
    script = """
import hashlib, sys, django
django.setup()
from workshop.papers import pdf, qr
from workshop.papers.kinds import LABEL
from workshop.papers.labels import Label
label = Label("G-0001", "ירוק 💎 Łódź tourmaline", "2.345 ct", "https://cards.example/gems/G-0001/")
data = pdf.render(LABEL, {"label": label}, {"qr.svg": qr.svg(label.url)})
print(hashlib.sha256(data).hexdigest())
"""
    hashes = set()
    for seed in ("1", "2"):
        environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "PYTHONHASHSEED": seed,
            "TMPDIR": str(tmp_path),
        }
        environment.pop("SOURCE_DATE_EPOCH", None)
        done = subprocess.run(
            [sys.executable, "-W", "ignore", "-c", script],
            capture_output=True, text=True, env=environment, cwd=Path(__file__).parents[2], check=True,
        )  # fmt: skip
        hashes.add(done.stdout.strip())
    assert len(hashes) == 1


def test_a_photograph_changed_underneath_is_caught_before_it_is_printed():
    paper = issue(photographed_gem(), picture="photo")
    said = json.loads(paper.content)["picture"]
    from django.core.files.storage import default_storage

    path = photos.path_of(said["sha256"], "card")
    with default_storage.open(path, "rb") as handle:
        data = bytearray(handle.read())
    data[-20] ^= 1
    with open(default_storage.path(path), "wb") as handle:
        handle.write(data)
    with pytest.raises(rendering.PaperDamaged, match="not the one it was issued with"):
        drawn(paper, "id1")
    os.remove(default_storage.path(path))
    with pytest.raises(rendering.PaperDamaged, match="not in the picture store"):
        drawn(paper, "id1")


def test_without_pango_a_sentence_says_what_to_install(settings):
    settings.PDF_AVAILABLE = False
    with pytest.raises(pdf.PdfUnavailable, match="apt-get install"):
        drawn(issue(make_answered_gem()), "id1")
