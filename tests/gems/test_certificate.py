"""A gem's certificate: what it is called, what stops it, what it says, and how it comes out of the printer."""

import io
import json
from datetime import timedelta
from decimal import Decimal

import pdfplumber
import pikepdf
import pytest
from django.urls import reverse
from PIL import Image

from tests import makers
from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_contact,
    make_gem,
    make_shop,
    say,
)
from tests.papers import sheets
from workshop.common import photos
from workshop.common.errors import DeedRefused
from workshop.common.say import GAP
from workshop.gems.card_actions import QuestionOpen, WordsRefused
from workshop.gems.certificate_actions import issue_certificate, revise_certificate
from workshop.gems.models import FinishedGem, Shape
from workshop.gems.papers_certificate import MEASURED, Chosen, measured_words, pedigree, proportions
from workshop.handbook.outlines import make_outline, measure
from workshop.materials.models import Material
from workshop.papers import actions, sealing
from workshop.papers.models import Paper
from workshop.stones.models import StonePhoto

pytestmark = pytest.mark.django_db

#: ISO 216: A4 and A5; ANSI Letter, 8.5 × 11 in.
SIZES = {"a4": (210.0, 297.0), "a5": (148.0, 210.0), "letter": (215.9, 279.4)}


@pytest.fixture(autouse=True)
def shop(db):
    return make_shop(
        name="Wren & Alder", cutter="Oona Alder", base_url="https://cards.example", tax_number="NW 123 456",
        address="4 Quay Lane\nPort Ellen", scale_step_ct=Decimal("0.001"),
    )  # fmt: skip


@pytest.fixture
def owner(client):
    person = makers.somebody()
    client.force_login(person)
    return person


def issue(gem, **said):
    return issue_certificate(gem, by=makers.somebody(), at=NOON, **said)


def content(paper):
    return json.loads(paper.content)


def drawn(paper, size):
    return bytes(actions.bytes_of(paper, size, at=NOON).pdf)


def words(pdf):
    return sheets.bare(" ".join(sheets.texts(pdf)))


def a_photo(stone, stage="off_dop", caption="", colour="#46a58d"):
    picture = io.BytesIO()
    Image.new("RGB", (900, 700), colour).save(picture, "JPEG")
    kept = photos.keep(photos.prepare(picture), by=makers.somebody(), at=NOON)
    return StonePhoto.objects.create(stone=stone, photo=kept, stage=stage, caption=caption, at=NOON)


def a_tested_gem(**said):
    """Everything about it tested here, and the rough photographed as it came."""
    gem = make_gem(**said)
    say(gem.stone, "nature", 4, nature="mined", said_by="Ida Thorn, gemmologist")
    say(
        gem.stone, "species", 3, material=Material.objects.get(key="tourmaline-elbaite"), how="RI 1.624–1.644"
    )
    say(gem.stone, "treatment", 3, treated="treated", treatments=["dye"], how="10x lens, swab")
    return gem


def proportion(gem, label):
    return dict(proportions(gem))[label]


# --- What it is called ------------------------------------------------------------------------------------------------


def test_it_is_called_a_certificate_only_on_tests_or_better():
    """Disclosure sheet 3.3, C7: only facts at E3 and up, and the role line forced (GIA asks to say report)."""
    described, certified = issue(make_answered_gem()), issue(a_tested_gem())
    assert content(described)["title"] == "Stone description"
    assert content(certified)["title"] == "Cutter’s certificate"
    for paper in (described, certified):
        assert "not a laboratory report" in content(paper)["role"] and "Local law" in content(paper)["role"]


@pytest.mark.parametrize(
    ("question", "evidence", "said"),
    [
        ("treatment", 2, {"treated": "treated", "treatments": ["heat"]}),
        ("treatment", 5, {"treated": "not_tested", "words": "sold as unheated"}),
        ("species", 2, {}),
        ("nature", 2, {"nature": "mined"}),
    ],
)
def test_one_weak_word_makes_it_a_description(question, evidence, said):
    gem = make_gem()
    strong = {
        "nature": (4, {"nature": "mined"}),
        "species": (3, {"material": Material.objects.get(key="tourmaline-elbaite"), "how": "RI 1.62"}),
        "treatment": (3, {"treated": "treated", "treatments": ["dye"], "how": "lens"}),
    }
    strong[question] = (evidence, strong[question][1] if question == "species" else said)
    for name, (rung, told) in strong.items():
        say(gem.stone, name, rung, **told)
    assert content(issue(gem))["title"] == "Stone description"


# --- What stops it ------------------------------------------------------------------------------------------------------


def test_the_same_stops_it_as_stops_a_card():
    gem = make_gem()
    with pytest.raises(QuestionOpen) as refusal:
        issue(gem)
    assert refusal.value.questions == ["nature", "species", "treatment"]
    with pytest.raises(WordsRefused, match=r"23\.28"):
        issue(make_answered_gem(clarity="flawless"))
    assert not Paper.objects.exists()


def test_a_caption_and_the_shops_own_line_are_held_to_the_rules_too(shop):
    gem = make_answered_gem()
    photo = a_photo(gem.stone, caption="flawless")
    with pytest.raises(WordsRefused, match="flawless"):
        issue(gem, chosen=Chosen(photos=(photo.pk,)))
    photo.delete()
    shop.foot_words = "Untreated stones only"
    shop.save()
    with pytest.raises(WordsRefused, match="ntreated"):
        issue(gem)


def test_one_stands_at_a_time_and_a_card_beside_it():
    from workshop.gems.card_actions import issue_card

    gem = make_answered_gem()
    paper = issue(gem)
    assert paper.number == "CT-0001"
    with pytest.raises(DeedRefused, match="CT-0001 stands"):
        issue(gem)
    assert issue_card(gem, by=makers.somebody(), at=NOON).number == "IC-0001"
    again = revise_certificate(paper, reason="a better weighing", by=makers.somebody(), at=NOON)
    assert again.number == "CT-0002" and again.supersedes_id == paper.pk


def test_a_photograph_of_another_stone_is_refused():
    gem, other = make_answered_gem(), make_answered_gem()
    with pytest.raises(DeedRefused, match="not one of"):
        issue(gem, chosen=Chosen(photos=(a_photo(other.stone).pk,)))
    with pytest.raises(DeedRefused, match="room for 6"):
        issue(gem, chosen=Chosen(photos=tuple(range(7))))


# --- How it is measured -----------------------------------------------------------------------------------------------


def test_a_heart_and_a_triangle_are_measured_by_their_own_convention():
    """A Thai laboratory's page, http://aglthai.com/measurement.php (WT-14a): heart: width across the lobes, length
    from the point to the line over them; triangle: width corner to corner on a side, length from that side's middle
    to the far point. So a length below the width is right, and is not turned round."""
    heart = make_answered_gem(shape="heart", length_mm=Decimal("7.80"), width_mm=Decimal("8.40"))
    said = content(issue(heart))
    assert said["measured"] == "Length: from the point to the line over the lobes. Width: across the lobes."
    assert said["facts"][1]["text"].startswith("7.80 × 8.40 × 5.20")
    triangle = make_answered_gem(shape="triangle", length_mm=Decimal("7.10"), width_mm=Decimal("7.94"))
    said = content(issue(triangle))
    assert said["measured"].startswith("Width: corner to corner on a side.")
    assert said["facts"][1]["text"].startswith("7.10 × 7.94 × 5.20")


@pytest.mark.parametrize("shape", [shape for shape in MEASURED if shape not in {Shape.ROUND, Shape.SQUARE}])
def test_the_words_are_those_of_the_rule_the_handbook_measures_by(shape):
    rule = measure(make_outline(shape.value, length=1.0, width=1.0)).rule
    ours = set(measured_words(FinishedGem(shape=shape)).lower().replace(":", "").replace(".", "").split())
    wanted = {word.strip(",").replace("’s", "") for word in rule.split()} & {
        "lobes", "point", "corner", "longest", "side", "middle", "greatest", "least", "right", "angles"
    }  # fmt: skip
    assert wanted and wanted <= ours


def test_a_round_tells_its_diameters_and_counts_depth_on_their_mean():
    """Least – greatest × depth (WT-14). 79.6 % by width and 65.9 % by another base of the same stone: so the base is
    told (computation sheet 9, pricescope.com/journal/numbers_and_perception_case_square_diamondcuts)."""
    gem = make_answered_gem(
        shape="round", length_mm=Decimal("6.56"), width_mm=Decimal("6.50"), depth_mm=Decimal("4.00")
    )
    said = content(issue(gem))
    assert said["facts"][1]["text"].startswith("6.50 – 6.56 × 4.00")
    assert proportion(gem, "Depth").replace(GAP, " ") == "61.3 % of the average diameter"  # 4.00 / 6.53
    square = make_gem(
        shape="square", length_mm=Decimal("5.78"), width_mm=Decimal("5.78"), depth_mm=Decimal("4.60")
    )
    assert proportion(square, "Depth").startswith("79.6")


@pytest.mark.parametrize(
    ("shape", "sizes", "depth", "ratio"),
    [
        ("oval", ("9.12", "7.04", "5.20"), "73.9 % of the width", "1.30"),
        ("heart", ("7.80", "8.40", "5.20"), "66.7 % of the length", "0.93"),
        ("pear", ("11.00", "7.00", "4.60"), "65.7 % of the width", "1.57"),
    ],
)
def test_proportions_are_of_the_narrowest_width(shape, sizes, depth, ratio):
    """Other outlines than round on the narrowest width: lunns.portfoliooffinediamonds.com, Depth Percentage. Worked by
    hand: 5.20/7.04, 5.20/7.80, 4.60/7.00."""
    length, width, deep = map(Decimal, sizes)
    gem = make_gem(shape=shape, length_mm=length, width_mm=width, depth_mm=deep)
    assert proportion(gem, "Depth").replace(GAP, " ") == depth
    assert proportion(gem, "Length to width") == ratio


def test_what_was_not_measured_is_not_told():
    assert [row["label"] for row in content(issue(make_answered_gem()))["proportions"]] == [
        "Depth",
        "Length to width",
    ]


# --- The way from the rough ---------------------------------------------------------------------------------------------


def a_way(shop, **weights):
    gem = make_answered_gem(weight="2.349 ct")
    gem.trimmed_ct, gem.preform_ct = Decimal("7.419"), Decimal("3.318")
    gem.save()
    return pedigree(gem, weights["shown"], shop)


def test_only_the_weights_ticked_are_told_and_rounded_down_but_for_a_nine(shop):
    """W: raise the hundredth only when the thousandth is a nine (GIA; 0.478 → 0.47, 0.479 → 0.48)."""
    way = a_way(shop, shown=["rough", "trimmed", "preform", "finished", "recovery"])
    told = {step["label"]: step["text"].replace(GAP, " ") for step in way["steps"]}
    assert told == {
        "Rough": "10.00 ct",
        "Trimmed": "7.42 ct",
        "Preform": "3.31 ct",
        "Finished gem": "2.35 ct",
    }
    assert way["kept"].replace(GAP, " ") == "23.5 %"  # 2.349 / 10.000
    few = a_way(shop, shown=["finished"])
    assert [step["label"] for step in few["steps"]] == ["Finished gem"] and few["kept"] == ""


def test_no_weight_at_all_leaves_the_way_out():
    paper = issue(make_answered_gem(), chosen=Chosen(weights=()))
    assert content(paper)["pedigree"]["steps"] == []


def test_weights_are_never_finer_than_the_scale(shop):
    shop.scale_step_ct = Decimal("0.1")
    shop.save()
    way = a_way(shop, shown=["preform"])
    assert way["steps"][0]["text"].replace(GAP, " ") == "3.3 ct"


# --- What it never says -------------------------------------------------------------------------------------------------


def test_no_owner_no_price_no_tax_number_stands_on_it():
    """P10, and table 7.1: neither client nor tax data on a card."""
    client = make_contact("Mara Quill", is_client=True)
    stone = makers.make_clients_stone(client)
    gem = make_answered_gem(stone=stone, clarity="as Mara Quill likes it", girdle="Mara Quill’s")
    a = a_photo(stone, caption="For Mara Quill")
    text = issue(gem, chosen=Chosen(photos=(a.pk,))).content
    assert "Quill" not in text and "NW 123" not in text and "price" not in text.lower()


def test_photographs_say_how_large_the_stone_is():
    """16 CFR 23.1 note 3 (C2)."""
    gem = make_answered_gem()
    made, rough = (
        a_photo(gem.stone),
        a_photo(gem.stone, stage="selected", caption="As it came.", colour="#333"),
    )
    said = content(issue(gem, chosen=Chosen(photos=(made.pk, rough.pk))))["photographs"]
    told = [one["words"].replace(GAP, " ") for one in said]
    assert told[0] == "Photograph, not to scale: the finished stone is 9.12 × 7.04 mm."
    assert told[1] == "As it came, not to scale: the finished stone is 9.12 × 7.04 mm."


# --- Out of the printer -------------------------------------------------------------------------------------------------


@pytest.mark.pdf
@pytest.mark.parametrize("size", SIZES)
def test_it_has_its_size_its_words_its_fonts_its_code_and_its_record(size):
    gem = a_tested_gem(
        cut="brilliant", table_percent=Decimal("56.5"), crown_angle_deg=Decimal("36"), facets=89
    )
    paper = issue(gem)
    made, said = drawn(paper, size), content(paper)
    for width, height in sheets.sizes_mm(made):
        assert width == pytest.approx(SIZES[size][0], abs=0.1) and height == pytest.approx(
            SIZES[size][1], abs=0.1
        )
    shown = words(made).lower()
    wanted = [
        said["title"],
        said["number"],
        said["name_line"],
        "2.34 ct",
        "by scale",
        said["measured"],
        said["role"],
    ]
    wanted += [row["text"] for row in said["proportions"]] + [row["text"] for row in said["facts"][1:]]
    wanted += [part for row in said["lines"] for part in (row["text"], row["basis"]) if part] + said["care"]
    wanted += [step["text"] for step in said["pedigree"]["steps"]] + [said["not_tested"], "true size"]
    for told in wanted:
        for word in told.split():
            assert sheets.bare(word).lower() in shown, told
    assert sheets.least_type_pt(made) >= 5.99
    assert all(sheets.fonts(made).values())
    assert sheets.code_on(made, 0, 150) == said["check_url"]
    with pikepdf.open(io.BytesIO(made)) as read:
        assert set(read.attachments) == {"record.json", "record.jsonld", "signature.json"}
        assert read.attachments["record.json"].get_file().read_bytes().decode() == paper.content
        assert read.Root.MarkInfo.Marked and str(read.Root.Lang)
        linked = json.loads(read.attachments["record.jsonld"].get_file().read_bytes())
    # S4, S5: an individual product; the weight as printed, UN/ECE code CTM.
    assert linked["@type"] == "IndividualProduct" and linked["weight"]["value"] == "2.34"
    assert linked["weight"]["unitCode"] == "CTM" and "hasCertification" not in linked
    assert sealing.read(made).faults == ()


@pytest.mark.pdf
@pytest.mark.parametrize("shape", ["oval", "heart", "triangle"])
def test_the_outline_is_printed_at_its_true_size(shape):
    """16 CFR 23.1 note 3: its ink is as wide and as high as the stone, within 0.1 mm. The reader of PDFs gives the
    middle of the line, which is 0.6 px of 1/96 in wide."""
    line = 0.6 * 25.4 / 96
    gem = make_answered_gem(shape=shape, length_mm=Decimal("9.12"), width_mm=Decimal("8.44"))
    made = drawn(issue(gem), "a4")
    with pdfplumber.open(io.BytesIO(made)) as read:
        page = read.pages[0]
        caption = next(word for word in page.extract_words() if word["text"] == "true")
        lines = [
            one for one in page.curves if one["x0"] > caption["x0"] - 40 and one["bottom"] < caption["top"]
        ]
        sizes = {
            (
                round(float(one["width"]) * sheets.MM_PER_PT, 2),
                round(float(one["height"]) * sheets.MM_PER_PT, 2),
            )
            for one in lines
        }
    width, height = max(sizes)
    assert width + line == pytest.approx(8.44, abs=0.1) and height + line == pytest.approx(9.12, abs=0.1)


@pytest.mark.pdf
def test_the_worst_comes_out_whole():
    """Long names, three treatments, right to left, emoji, a mark, a photograph."""
    shop = make_shop(
        name="The Workshop of Wrenfield, Alderson, Thistlethwaite & Daughters, Lapidaries",
        cutter="Oona Alexandrina Featherstonehaugh-Alder", foot_words="Cut one at a time, by the north window.",
    )  # fmt: skip
    gem = make_gem(
        cut="brilliant crown over steps עברית \U0001f48e", colour="כחול ירקרק, bluish green", clarity="eye clean" * 15,
        shape="triangle", length_mm=Decimal("7.10"), width_mm=Decimal("7.94"),
    )  # fmt: skip
    say(gem.stone, "nature", 2, nature="mined", how="invoice 17")
    say(gem.stone, "species", 3, material=Material.objects.get(key="tourmaline-elbaite"), how="RI 1.62")
    say(gem.stone, "treatment", 2, treated="treated", treatments=["heat", "oil", "dye"], how="invoice 17")
    shop.mark = a_photo(gem.stone, colour="#0f5b4a").photo
    shop.save()
    shown = a_photo(gem.stone, caption="Face up in daylight")
    paper = issue(gem, chosen=Chosen(photos=(shown.pk,)))
    for size in SIZES:
        made = drawn(paper, size)
        text = words(made)
        assert len(sheets.sizes_mm(made)) <= 2 and all(sheets.fonts(made).values())
        for told in ("Featherstonehaugh-Alder", "Thistlethwaite", "north window", "Dyed", "Heated", "oil"):
            assert sheets.bare(told) in text, told
        assert sheets.code_on(made, 0, 150) == content(paper)["check_url"]
        # The photograph and the mark.
        assert len(sheets.pictures(made)) >= 2


@pytest.mark.pdf
def test_the_same_content_gives_the_same_bytes():
    from workshop.papers import rendering

    gem = make_answered_gem()
    paper = issue(gem, chosen=Chosen(photos=(a_photo(gem.stone).pk,)))
    assert rendering.draw(paper, "a5") == rendering.draw(paper, "a5")


# --- The pages ----------------------------------------------------------------------------------------------------------


def test_it_is_issued_from_the_gems_page_and_shown(client, owner):
    gem = make_answered_gem()
    photo = a_photo(gem.stone)
    address = reverse("gems:issue_certificate", args=[gem.code])
    assert address in client.get(gem.get_absolute_url()).content.decode()
    page = client.get(address).content.decode()
    assert "Stone description" in page and "Tourmaline" in page
    sent = {"photos": [photo.pk], "weights": ["finished"], "sizes": ["a5"], "profile": "strict", "once": "a"}
    answer = client.post(address, sent)
    paper = Paper.objects.get()
    assert answer.status_code == 302 and answer.url == paper.get_absolute_url()
    assert content(paper)["sizes"] == ["a5"] and len(content(paper)["pedigree"]["steps"]) == 1
    shown = client.get(answer.url).content.decode()
    assert reverse("gems:revise_certificate", args=[paper.number]) in shown and "From rough to gem" in shown
    client.logout()
    check = client.get(reverse("papers:check", args=[paper.check_code])).content.decode()
    assert "Stone description CT-0001" in check and "not a laboratory report" in check


def test_revising_keeps_sheets_and_needs_a_reason(client, owner):
    paper = issue(make_answered_gem(), sizes=["a4"])
    address = reverse("gems:revise_certificate", args=[paper.number])
    refused = client.post(address, {"weights": ["rough"], "profile": "strict"})
    assert refused.status_code == 422 and "reason" in refused.context["form"].errors
    assert (
        client.post(address, {"reason": "weighed again", "weights": [], "profile": "us"}).status_code == 302
    )
    assert content(Paper.objects.get(number="CT-0002"))["sizes"] == ["a4"]


@pytest.mark.parametrize(
    "said",
    [{"sizes": ["a3"]}, {"sizes": []}, {"weights": ["secret"]}, {"photos": ["x"]}, {"photos": ["999"]}, {"profile": "mars"}],
)  # fmt: skip
def test_odd_choices_are_refused_beside_their_field(client, owner, said):
    gem = make_answered_gem()
    a_photo(gem.stone)
    sent = {"weights": ["finished"], "sizes": ["a4"], "profile": "strict"} | said
    answer = client.post(reverse("gems:issue_certificate", args=[gem.code]), sent)
    assert answer.status_code == 422 and set(answer.context["form"].errors) == set(said)
    assert not Paper.objects.exists()


def test_only_the_owner_issues_one(client):
    gem = make_answered_gem()
    address = reverse("gems:issue_certificate", args=[gem.code])
    assert client.get(address).status_code == 302
    for person in (makers.make_hand(), makers.make_reader()):
        client.force_login(person)
        assert client.get(address).status_code == 403
        assert client.post(address, {"sizes": ["a4"], "profile": "strict"}).status_code == 403


def test_a_gem_back_for_work_gets_none():
    gem = make_answered_gem()
    FinishedGem.objects.filter(pk=gem.pk).update(gone_on=DAY + timedelta(days=1), gone_as="recut")
    with pytest.raises(DeedRefused, match="went back for work"):
        issue(gem)
