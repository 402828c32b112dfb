"""A gem's information card: what stops it, what it says, and that it stays as it was issued."""

import io
import json
import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from tests import makers
from tests.makers import DAY, NOON, make_answered_gem, make_gem, make_shop, say
from workshop.common import photos
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.gems import card_actions
from workshop.gems.card_actions import QuestionOpen, WordsRefused
from workshop.gems.models import FinishedGem
from workshop.gems.papers import open_questions, what_may_be_said
from workshop.materials.models import Material
from workshop.papers.models import Paper, PaperFile
from workshop.rough import actions as rough
from workshop.rough.models import LotPhoto
from workshop.stones.models import StonePhoto

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    return make_shop(base_url="https://cards.example", cutter="Oona Alder", scale_step_ct=Decimal("0.001"))


@pytest.fixture
def owner(client, shop):
    person = makers.somebody()
    client.force_login(person)
    return person


def issue(gem, **said):
    return card_actions.issue_card(gem, by=makers.somebody(), at=NOON, **said)


def content(paper):
    return json.loads(paper.content)


def fact(paper, label):
    return next(row["text"] for row in content(paper)["facts"] if row["label"] == label)


def line(paper, label):
    return next(row["text"] for row in content(paper)["lines"] if row["label"] == label)


def a_photo(stone):
    picture = io.BytesIO()
    Image.new("RGB", (900, 700), "#46a58d").save(picture, "JPEG")
    kept = photos.keep(photos.prepare(picture), by=makers.somebody(), at=NOON)
    return StonePhoto.objects.create(stone=stone, photo=kept, stage="off_dop", at=NOON)


# --- Refusals -------------------------------------------------------------------------------------------------------


def test_no_card_while_a_question_is_open_and_it_says_which(shop):
    """House law 6."""
    gem = make_gem()
    with pytest.raises(QuestionOpen) as refusal:
        issue(gem)
    assert refusal.value.questions == ["nature", "species", "treatment"]
    say(gem.stone, "nature", 2, nature="mined")
    say(gem.stone, "species", 3, material=Material.objects.get(key="tourmaline-elbaite"), how="RI 1.62")
    with pytest.raises(QuestionOpen) as refusal:
        issue(gem)
    assert "treatment" in refusal.value.message and refusal.value.questions == ["treatment"]
    assert not Paper.objects.exists()
    say(gem.stone, "treatment", 1, treated="not_tested", words="unheated")
    assert line(issue(gem), "Treatment") == "not tested; sold to me as “unheated”"


def test_statements_about_the_lot_answer_for_its_stones(shop):
    gem = make_gem()
    material = Material.objects.get(key="tourmaline-elbaite")
    base = {"said_by": "Imaginary Stones", "said_on": DAY, "evidence": 2}
    for more in (
        {"question": "nature", "nature": "mined"},
        {"question": "species", "material": material},
        {"question": "treatment", "treated": "treated", "treatments": ["heat"]},
    ):
        rough.state_about_lot(gem.stone.lot, base | more, by=makers.somebody(), at=NOON)
    assert open_questions(gem) == []


def test_a_better_based_statement_about_the_stone_goes_before_its_lots(shop):
    gem = make_answered_gem()
    say(
        gem.stone,
        "treatment",
        5,
        said_by="LAB",
        treated="treated",
        treatments=["oil"],
        degree="minor",
        how="no. 7",
    )
    assert "oil" in line(issue(gem), "Treatment")


def test_a_recut_reopens_the_treatment_question(shop):
    """T17: LM-06 and the course text on shallow diffusion and opened fissures."""
    gem = make_answered_gem()
    gem.stone.treatment_asked_at = datetime(2026, 3, 5, 9, 0, tzinfo=UTC)
    gem.stone.save(update_fields=["treatment_asked_at"])
    with pytest.raises(QuestionOpen, match="treatment"):
        issue(gem)
    say(gem.stone, "treatment", 2, treated="treated", treatments=["heat"], said_on=DAY + timedelta(days=3),
        at=datetime(2026, 3, 6, tzinfo=UTC))  # fmt: skip
    assert open_questions(FinishedGem.objects.get(pk=gem.pk)) == []


def test_not_tested_on_good_paper_never_outranks_an_answer(shop):
    gem = make_answered_gem()
    say(gem.stone, "treatment", 3, treated="not_tested")
    assert line(issue(gem), "Treatment").startswith("heated")


@pytest.mark.parametrize(
    ("field", "words"),
    [("clarity", "flawless"), ("colour", "pigeon blood red"), ("cut", "AAA cut"), ("colour", "Kashmir blue")],
)
def test_words_that_break_a_rule_stop_the_card_and_name_the_rule(shop, field, words):
    """US-25, CL-08, US-05, CL-06."""
    gem = make_answered_gem(**{field: words})
    with pytest.raises(WordsRefused) as refusal:
        issue(gem)
    assert refusal.value.findings[0].rule in refusal.value.message
    assert not Paper.objects.exists()


def test_a_price_in_a_reading_stops_the_card(shop):
    """C8, P10: no value on a card."""
    gem = make_answered_gem()
    say(gem.stone, "origin", 2, words="Nowhere Hills", how="invoice 17, 1200 EUR")
    with pytest.raises(WordsRefused):
        issue(gem)


def test_one_card_stands_at_a_time(shop):
    gem = make_answered_gem()
    first = issue(gem)
    with pytest.raises(DeedRefused, match=first.number):
        issue(gem)


# --- What it says -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("weighed", "printed"),
    [
        ("1.768 ct", "1.76"),
        ("1.769 ct", "1.77"),  # W2, WT-04: GIA, How is diamond carat weight rounded?
        ("1.999 ct", "2.00"),  # W3
        ("1.998 ct", "1.99"),
        ("0.478 ct", "0.47"),  # W6: AGL Thai
        ("0.479 ct", "0.48"),
    ],
)
def test_the_hundredth_rises_only_on_a_nine(shop, weighed, printed):
    paper = issue(make_answered_gem(weight=weighed))
    assert content(paper)["weight_ct"] == printed
    assert fact(paper, "Weight") == f"{printed}\u00a0ct, by scale"


def test_never_finer_than_the_scale(shop):
    shop.scale_step_ct = Decimal("0.1")
    shop.save()
    assert content(issue(make_answered_gem(weight="1.70 ct")))["weight_ct"] == "1.7"


def test_sizes_to_the_hundredth_in_the_order_of_the_outline(shop):
    """W16, WT-13 and WT-14: length × width × depth; for a round least – greatest diameter × depth."""
    oval = issue(make_answered_gem(length_mm=Decimal("9"), width_mm=Decimal("6.5"), depth_mm=Decimal("4.2")))
    assert fact(oval, "Size") == "9.00 × 6.50 × 4.20\u00a0mm"


def test_a_round_gives_least_and_greatest_diameter(shop):
    """WT-14, W15b: 8.20 to 8.31 mm still counts as round."""
    gem = make_answered_gem(
        shape="round", length_mm=Decimal("8.31"), width_mm=Decimal("8.20"), depth_mm=Decimal("5.1")
    )
    assert fact(issue(gem), "Size") == "8.20 – 8.31 × 5.10\u00a0mm"
    assert not [found for found in what_may_be_said(gem).findings if "round" in found.advice]


def test_diameters_far_apart_are_asked_about(shop):
    """1.54 % of the mean, buyers' guides, from memory."""
    gem = make_answered_gem(shape="round", length_mm=Decimal("8.6"), width_mm=Decimal("8.2"))
    assert [found for found in what_may_be_said(gem).findings if "really round" in found.advice]


def test_a_weight_that_its_size_denies_is_asked_about(shop):
    """Published constants for an oval lie near 2.0 ct for 9.12 × 7.04 × 5.20 mm at SG 3.06; 5.2 ct is a slip."""
    fits = make_answered_gem(weight="2.02 ct")
    assert not [found for found in what_may_be_said(fits).findings if "check weight" in found.advice]


def test_too_heavy_for_its_size(shop):
    gem = make_answered_gem(weight="5.2 ct")
    assert [found for found in what_may_be_said(gem).findings if "check weight" in found.advice]


def test_a_photograph_comes_with_the_true_size(shop):
    """C2: 16 CFR 23.1 note 3."""
    stone = makers.make_stone("12 ct", by=makers.somebody())
    gem = make_gem(stone=stone, photo=a_photo(stone))
    for args in (
        ("nature", 2, {"nature": "mined"}),
        ("species", 3, {"material": Material.objects.get(key="tourmaline-elbaite"), "how": "RI 1.62"}),
        ("treatment", 3, {"treated": "untreated", "how": "10x lens"}),
    ):
        say(gem.stone, args[0], args[1], **args[2])
    picture = content(issue(gem, picture="photo"))["picture"]
    assert picture["words"] == "Photograph, not to scale: the stone is 9.12 × 7.04 mm."
    assert picture["sha256"] == gem.public_photo.photo.sha256 and len(picture["bytes_sha256"]) == 64


def test_without_a_photograph_only_the_drawing_can_be_chosen(shop):
    with pytest.raises(DeedRefused) as refusal:
        issue(make_answered_gem(), picture="photo")
    assert refusal.value.field == "picture"


def test_the_rough_kept_track_of_makes_a_mined_stone_natural(shop):
    """CL-02: written statement and photographs of the rough."""
    ruby = Material.objects.get(key="corundum-ruby")
    gem = make_answered_gem(material=ruby)
    assert what_may_be_said(gem).name_line == "Ruby (corundum), reported as mined"
    picture = io.BytesIO()
    Image.new("RGB", (60, 60), "red").save(picture, "JPEG")
    kept = photos.keep(photos.prepare(picture), by=makers.somebody(), at=NOON)
    LotPhoto.objects.create(lot=gem.stone.lot, photo=kept)
    assert what_may_be_said(gem).name_line == "Ruby (corundum)"


def test_every_card_says_whose_statement_it_is(shop):
    """Section 3.3: GIA on "report"; house rule."""
    said = content(issue(make_answered_gem()))
    assert said["role"] == "The cutter’s own statement, not a laboratory report. Local law comes first."
    assert said["title"] == "Stone information card"
    assert fact(Paper.objects.get(), "Cut by") == "Oona Alder"


def test_each_line_can_be_asked_why_it_is_there(shop):
    for row in content(issue(make_answered_gem()))["lines"]:
        assert row["why"], row["label"]


def test_a_clients_card_names_no_client_price_or_value(client, shop):
    """P10: house rule after GDPR art. 5."""
    owner = makers.make_contact("Clara Farweather", firm="Farweather & Kin", email="clara@far.example")
    by = makers.somebody()
    lot = makers.make_lot(by=by, ownership="client", owner=owner, declared_value=Decimal("4321.50"))
    stone = makers.make_stone("12 ct", lot=lot, by=by)
    gem = make_gem(stone=stone, notes="for Clara Farweather")
    say(gem.stone, "nature", 2, nature="mined", said_by="Clara Farweather", how="letter of Farweather & Kin")
    say(gem.stone, "species", 3, material=Material.objects.get(key="tourmaline-elbaite"), how="RI 1.62")
    say(gem.stone, "treatment", 1, treated="not_tested", said_by="clara farweather", words="unheated")
    paper = issue(gem)
    page = client.get(reverse("papers:check", args=[paper.check_code])).content.decode()
    for text in (paper.content, page):
        assert "arweather" not in text and "clara@" not in text
        # As a word: the same digits may stand inside a hash or a check code.
        assert not re.search(r"\b4,?321\b", text)
    assert "according to the owner, letter of the owner" in paper.content


def test_a_client_is_hidden_behind_letters_that_grow_in_lower_case(shop):
    """İ is one letter, and two in lower case (Unicode SpecialCasing.txt)."""
    by = makers.somebody()
    owner = makers.make_contact("Clara Farweather")
    stone = makers.make_stone("12 ct", lot=makers.make_lot(by=by, ownership="client", owner=owner), by=by)
    gem = make_gem(stone=stone)
    say(gem.stone, "nature", 2, nature="mined", how="İİİİ, letter of Clara Farweather")
    say(gem.stone, "species", 3, material=Material.objects.get(key="tourmaline-elbaite"), how="RI 1.62")
    say(gem.stone, "treatment", 1, treated="not_tested", words="unheated")
    assert "İİİİ, letter of the owner" in issue(gem).content


# --- Revision, and later deeds --------------------------------------------------------------------------------------


def test_a_revision_says_what_the_records_say_today_and_leaves_the_old_card(shop):
    gem = make_answered_gem()
    old = issue(gem)
    before = (old.content, old.content_sha256)
    say(
        gem.stone,
        "treatment",
        5,
        said_by="LAB",
        treated="treated",
        treatments=["oil"],
        degree="minor",
        how="no. 7",
    )
    new = card_actions.revise_card(old, reason="laboratory report came", by=makers.somebody(), at=NOON)
    old = Paper.objects.get(pk=old.pk)
    assert (old.content, old.content_sha256) == before
    assert old.superseded_by == new and not old.stands and new.stands
    assert content(new)["supersedes"] == old.number and new.revision_reason == "laboratory report came"
    assert [new.number, old.number] == ["IC-0002", "IC-0001"]


def test_later_deeds_never_reach_into_an_issued_card(shop):
    gem = make_answered_gem()
    paper = issue(gem)
    FinishedGem.objects.filter(pk=gem.pk).update(colour="yellow", weight_ct=Decimal("1.111"))
    shop.name = "Another name"
    shop.save()
    fresh = Paper.objects.get(pk=paper.pk)
    assert fresh.content == paper.content and "yellow" not in fresh.content and "Another" not in fresh.content


# --- The pages --------------------------------------------------------------------------------------------------------


def test_the_page_shows_what_the_card_will_say_and_issues_it(client, owner):
    gem = make_answered_gem(by=owner)
    url = reverse("gems:issue_card", args=[gem.code])
    page = client.get(url).content.decode()
    assert "What it will say" in page and "Tourmaline" in page and "heated; permanent" in page
    answer = client.post(
        url, {"picture": "outline", "sizes": ["id1", "a6"], "profile": "strict", "once": "k1"}
    )
    paper = Paper.objects.get()
    assert answer.status_code == 302 and answer.url == paper.get_absolute_url()
    again = client.post(
        url, {"picture": "outline", "sizes": ["id1", "a6"], "profile": "strict", "once": "k1"}
    )
    assert again.url == answer.url and Paper.objects.count() == 1, "sent twice, issued once"
    assert JournalEntry.objects.filter(about=gem.code, verb="issue stone information card").count() == 1


@pytest.mark.pdf
def test_the_bytes_are_drawn_once_the_card_is_issued(client, owner):
    gem = make_answered_gem(by=owner)
    typed = {"picture": "outline", "sizes": ["id1", "a6"], "profile": "strict"}
    client.post(reverse("gems:issue_card", args=[gem.code]), typed)
    assert sorted(PaperFile.objects.values_list("size", flat=True)) == ["a6", "id1"]


def test_a_card_is_issued_where_no_pdf_can_be_made(client, owner, settings):
    settings.PDF_AVAILABLE = False
    gem = make_answered_gem(by=owner)
    typed = {"picture": "outline", "sizes": ["id1"], "profile": "strict"}
    assert client.post(reverse("gems:issue_card", args=[gem.code]), typed).status_code == 302
    assert Paper.objects.get().stands and not PaperFile.objects.exists()


def test_the_page_names_the_open_question_and_offers_no_form(client, owner):
    gem = make_gem(by=owner)
    url = reverse("gems:issue_card", args=[gem.code])
    page = client.get(url).content.decode()
    assert "Open: nature, species, treatment." in page and "Issue the card" not in page
    answer = client.post(url, {"picture": "outline", "sizes": ["id1"], "profile": "strict"})
    assert (
        answer.status_code == 422
        and "the question of nature, species and treatment is open" in answer.content.decode()
    )


def test_a_refused_word_is_told_on_the_page(client, owner):
    gem = make_answered_gem(by=owner, clarity="flawless")
    url = reverse("gems:issue_card", args=[gem.code])
    assert "“flawless” stops the card." in client.get(url).content.decode()
    answer = client.post(url, {"picture": "outline", "sizes": ["id1"], "profile": "strict"})
    assert answer.status_code == 422 and not Paper.objects.exists()


@pytest.mark.parametrize(
    "typed",
    [
        {"picture": "outline", "sizes": ["a0"], "profile": "strict"},
        {"picture": "outline", "profile": "strict"},
        {"picture": "photo", "sizes": ["id1"], "profile": "strict"},
        {"picture": "outline", "sizes": ["id1"], "profile": "lenient"},
    ],
)
def test_choices_nobody_was_offered_are_refused(client, owner, typed):
    gem = make_answered_gem(by=owner)
    answer = client.post(reverse("gems:issue_card", args=[gem.code]), typed)
    assert answer.status_code == 422 and not Paper.objects.exists()


def test_revising_on_the_page_wants_a_reason(client, owner):
    gem = make_answered_gem(by=owner)
    paper = issue(gem)
    url = reverse("gems:revise_card", args=[paper.number])
    assert client.get(url).status_code == 200
    assert client.post(url, {"picture": "outline", "profile": "strict"}).status_code == 422
    answer = client.post(url, {"picture": "outline", "profile": "strict", "reason": "colour seen again"})
    assert answer.status_code == 302 and Paper.objects.count() == 2
    twice = client.post(url, {"picture": "outline", "profile": "strict", "reason": "once more"})
    assert twice.status_code == 422 and "superseded" in twice.content.decode()


def test_only_the_owner_issues_and_revises(client, shop):
    gem = make_answered_gem()
    paper = issue(gem)
    for person in (makers.make_hand(), makers.make_reader()):
        client.force_login(person)
        assert client.get(reverse("gems:issue_card", args=[gem.code])).status_code == 403
        assert client.post(reverse("gems:revise_card", args=[paper.number])).status_code == 403
    assert Paper.objects.count() == 1


def test_without_an_address_of_its_own_the_shop_is_reached_where_it_was_asked(client, owner, shop):
    shop.base_url = ""
    shop.save()
    gem = make_answered_gem(by=owner)
    client.post(
        reverse("gems:issue_card", args=[gem.code]), {"picture": "outline", "sizes": ["id1"], "profile": "us"}
    )
    assert content(Paper.objects.get())["check_url"].startswith("http://testserver/papers/check/")
    assert timezone.is_aware(Paper.objects.get().issued_at)
