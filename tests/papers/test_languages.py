"""A paper in German says what the same paper says in English: same figures, same statements, no English left over."""

import io
import json
import re
from decimal import Decimal

import pikepdf
import pytest
from django.utils import translation
from django.utils.translation import trans_real

from tests.commissions import quoted
from tests.commissions.intakes import SITE, make_enquiry, mark, photographed, piece
from tests.makers import NOON, make_gem, make_shop, say, somebody
from tests.materials.test_disclosure import answers, treated
from tests.papers import sheets
from workshop.commissions.actions import intake as intakes
from workshop.commissions.actions import quotes
from workshop.common.models import Shop
from workshop.gems import card_actions
from workshop.gems.papers import OUTLINE, card_content, what_may_be_said
from workshop.handbook import tables
from workshop.materials import disclosure
from workshop.materials.models import Material
from workshop.materials.words import Profile
from workshop.papers import actions
from workshop.papers.models import PaperKind
from workshop.papers.rendering import content_of, draw

pytestmark = pytest.mark.django_db

#: English words that are no German ones: none may stand in the fixed text of a German paper.
ENGLISH = re.compile(
    r"\b(?:the|and|of|not|with|by|is|are|or|for|from|to|it|its|no|yes|stone|weight|size|shape|colour|heated|heat|light|"
    r"tested|cutter|needs|value|mined|treatment|species|nature|origin|care|issued|page|day|piece|date|carat)\b",
    re.IGNORECASE,
)


@pytest.fixture(autouse=True)
def shop(db):
    return make_shop(
        name="Werkstatt Erle", cutter="Oona Erle", base_url="https://karten.example", paper_language="de"
    )


@pytest.fixture
def asked(monkeypatch):
    """Every message id that was asked for in German, and whether a catalogue has it."""
    found = {}
    plain, in_context = translation._trans.gettext, translation._trans.pgettext

    def note(key):
        if translation.get_language() == "de" and key:
            found[key] = key in trans_real.translation("de")._catalog

    def gettext(message):
        note(str(message).replace("\r\n", "\n"))
        return plain(message)

    def pgettext(context, message):
        note(f"{context}\x04{message}")
        return in_context(context, message)

    monkeypatch.setattr(translation._trans, "gettext", gettext)
    monkeypatch.setattr(translation._trans, "pgettext", pgettext)
    return found


def untranslated(asked):
    # Words before a name are asked in the form the name wants; a gender nobody said shows there.
    return sorted(key for key, known in asked.items() if not known)


def issue(gem, language="", **said):
    return card_actions.issue_card(gem, by=somebody(), at=NOON, language=language, **said)


def drawn(paper, size):
    return bytes(actions.bytes_of(paper, size, at=NOON).pdf)


def german_gem(key="corundum-ruby", treatments=("heat_residue",), degree="minor", nature="mined", **said):
    gem = make_gem(
        cut="brilliant",
        colour="kräftig rot",
        colour_light="daylight",
        clarity="feine Nadeln unter der Lupe",
        **said,
    )
    say(gem.stone, "nature", 5, nature=nature, said_by="Labor Nirgendwo", how="Nr. 4711")
    say(gem.stone, "species", 3, material=Material.objects.get(key=key), how="RI 1,762–1,770; SG 4,00")
    say(
        gem.stone, "treatment", 2, treated="treated", treatments=list(treatments), degree=degree,
        said_by="Händler Phantasie", how="Rechnung 17",
    )  # fmt: skip
    return gem


# --- The card ---------------------------------------------------------------------------------------------------------


@pytest.mark.pdf
@pytest.mark.parametrize("size", ["id1", "a6"])
def test_a_german_card_is_german_from_end_to_end(size, asked):
    paper = issue(german_gem())
    text = " ".join(sheets.texts(drawn(paper, size)))
    assert content_of(paper)["language"] == "de"
    assert "Rubin (Korund)" in text and "erhitzt, mit Rückständen" in text and "gering" in text
    assert "2,34 ct, gewogen" in text.replace("\xa0", " ")
    assert "Eigene Aussage des Schleifers, kein Laborbericht" in text
    assert ENGLISH.findall(text.replace(content_of(paper)["check_url"], "")) == []
    assert untranslated(asked) == []
    with pikepdf.open(io.BytesIO(drawn(paper, size))) as read:
        assert str(read.Root.Lang) == "de"


@pytest.mark.pdf
def test_the_code_and_the_bytes_do_not_know_the_language():
    """ISO/IEC 18004: read back at 150 dots per inch; the same record gives the same bytes."""
    paper = issue(german_gem())
    found = drawn(paper, "id1")
    assert sheets.code_on(found, 1, 150) == content_of(paper)["check_url"]
    assert draw(paper, "id1") == found


def test_the_same_statements_give_the_same_facts_in_both_languages():
    gem = german_gem()
    english, german = (_said(gem, language) for language in ("en", "de"))
    for name in ("weight_ct", "size_mm", "gem", "profile", "statements"):
        assert english[name] == german[name]
    assert [line["topic"] for line in english["lines"]] == [line["topic"] for line in german["lines"]]
    assert [line["why"] for line in english["lines"]] == [line["why"] for line in german["lines"]]
    assert len(english["care"]) == len(german["care"])
    for one, other in zip(_texts(english), _texts(german), strict=True):
        assert _figures(one) == _figures(other)


def _said(gem, language):
    with translation.override(language):
        said = what_may_be_said(gem)
        return card_content(gem, said, profile=Profile.STRICT, picture=OUTLINE, shop=Shop.the())


def _texts(content):
    return [row["text"] for row in content["facts"]] + [
        f"{line['text']} {line['basis']}" for line in content["lines"]
    ]


def _figures(text):
    """The numbers of a text, whatever their decimal sign, without the day's order."""
    return sorted(re.findall(r"\d+", text.replace(",", ".")))


def test_what_the_cutter_typed_in_another_language_is_marked(shop):
    shop.paper_language = "en"
    shop.save()
    rows = {row["label"]: row for row in content_of(issue(german_gem(), "de"))["facts"]}
    assert rows["Farbe"]["lang"] == "en" and "lang" not in rows["Gewicht"]


def test_a_revision_keeps_the_language_unless_told_another():
    paper = issue(german_gem(), "de")
    again = card_actions.revise_card(paper, reason="neu gewogen", by=somebody(), at=NOON)
    assert content_of(again)["language"] == "de"
    last = card_actions.revise_card(again, reason="for a buyer abroad", language="en", by=somebody(), at=NOON)
    assert content_of(last)["language"] == "en" and content_of(last)["title"] == "Stone information card"


def test_a_word_the_german_rules_bar_stops_a_german_card():
    """16 CFR 23.28(a): "lupenrein" is flawless; no look through a lens is recorded."""
    gem = german_gem()
    gem.clarity = "lupenrein"
    gem.save()
    with pytest.raises(card_actions.WordsRefused) as refused:
        issue(gem, "de")
    assert any(one.words == "lupenrein" and "23.28" in one.rule for one in refused.value.findings)


def test_an_english_word_still_stops_a_german_card():
    gem = german_gem()
    gem.colour = "flawless red"
    gem.save()
    with pytest.raises(card_actions.WordsRefused):
        issue(gem, "de")


@pytest.mark.pdf
def test_the_longest_german_cards_still_fit_two_pages(monkeypatch):
    """Of all species and treatments those with most to say; ISO/IEC 7810 ID-1, front and back."""
    monkeypatch.setattr(disclosure, "lint_here", lambda *_: [])
    for key, treatment in _wordiest(5):
        gem = german_gem(key, [treatment], degree="significant")
        monkeypatch.setattr(card_actions, "WordsRefused", AssertionError)
        made = sheets.sizes_mm(drawn(_forced(gem), "id1"))
        assert len(made) == 2, (key, treatment)


def _wordiest(most):
    keys = [row.key for row in tables.treatments() if row.key not in {"none_known", "unknown"}]
    lengths = {}
    with translation.override("de"):
        for row in tables.materials():
            for key in keys:
                made = disclosure.disclose(answers(row.key, treatment=treated(key, degree="significant")))
                texts = [made.name_line, *made.care, *(line.text for line in made.treatments), *made.remarks]
                lengths[row.key, key] = sum(map(len, texts))
    return sorted(lengths, key=lengths.get)[-most:]


def _forced(gem):
    """A card whatever its rules say: only its words and their room are in question here."""
    content = _said(gem, "de")
    return actions.issue(PaperKind.INFO_CARD, gem.code, content, by=somebody(), at=NOON)


# --- The documents ----------------------------------------------------------------------------------------------------


def sent_quote():
    commission = make_enquiry("recut")
    draft = quoted.make_draft(commission)
    return quotes.send_quote(draft, by=somebody(), at=NOON, base_url=SITE)


def taken_in():
    commission = make_enquiry("recut")
    told = {
        "stated_to_be": "Saphir der Tante", "seen_as": "blauer Stein", "told_material": "corundum-sapphire-blue",
        "told_treatment": "none", "treatment_words": "nie erhitzt", "colour": "blau", "tests": "RI 1,762",
        "inclusions": "Seide", "chips": "Kerbe an der Rondiste", "magnification": "Lupe, 10×",
        "declared_value": Decimal(4321), "declared_words": "viertausend", "loss_consent_percent": Decimal(15),
        "floor_ct": Decimal("5.5"), "length_mm": Decimal("11.20"), "width_mm": Decimal("9.05"),
    }  # fmt: skip
    taken = photographed(
        piece("6.420 ct", item=commission.items.get(), **told), commission=commission, handed_by="Jun Torsvik",
        authority="Brief vom 1. März", how="persönlich", insured_by="Hafenkasse", return_to="Einschreiben",
    )  # fmt: skip
    mark(taken.pieces.get().photos.get(), "Kerbe", "70", "30")
    return taken


def fixed_words(content, typed):
    """All texts of a record but its addresses, codes and what was typed."""
    skipped = {
        "check_url",
        "check_code",
        "kind",
        "shape",
        "sha256",
        "bytes_sha256",
        "shop",
        "parties",
        "why",
        "topic",
    }
    found = []

    def walk(value, name=""):
        if name in skipped:
            return
        if isinstance(value, dict):
            for key, inner in value.items():
                walk(inner, key)
        elif isinstance(value, list):
            for inner in value:
                walk(inner, name)
        elif isinstance(value, str) and value not in typed:
            found.append(value)

    walk({key: content[key] for key in ("title", "reference", "facts", "blocks", "role")})
    return " ".join(found)


def test_a_german_quote_is_german(asked):
    quote = sent_quote()
    content = content_of(quote.paper)
    typed = {quote.terms, *(f"{line.item.number}. {line.what}" for line in quote.lines.all())}
    text = fixed_words(content, typed)
    for line in quote.lines.all():
        text = text.replace(line.what, "")
    assert content["title"] == "Angebot" and "Gültig bis" in text and "Widerrufsrecht" in text
    assert ENGLISH.findall(text) == [] and untranslated(asked) == []
    assert re.search(r"\d,\d\d\xa0EUR", text) and not re.search(r"\d\.\d\d\xa0EUR", text)


def test_risks_typed_by_hand_stay_as_typed_and_the_others_turn_german():
    commission = make_enquiry("recut")
    draft = quoted.make_draft(commission)
    draft.risk_lines = [*draft.risk_lines[:1], "Mein eigener Satz."]
    draft.save()
    sent = quotes.send_quote(draft, by=somebody(), at=NOON, base_url=SITE)
    (points,) = [
        one["points"] for one in content_of(sent.paper)["blocks"] if one["kind"] == "list" and one["numbered"]
    ]
    assert points[-1] == "Mein eigener Satz." and ENGLISH.findall(points[0]) == []


def test_the_sums_of_a_quote_do_not_know_the_language():
    quote = sent_quote()
    assert quote.price_low == sum(line.price_low for line in quote.lines.all())


def test_german_receipt_and_reports_are_german(asked):
    taken = taken_in()
    receipt = intakes.issue_receipt(taken, by=somebody(), at=NOON, base_url=SITE)
    before = intakes.issue_condition_report(taken, by=somebody(), at=NOON, base_url=SITE)
    typed = {one.wanted for one in taken.commission.items.all()}
    for paper, title in ((receipt, "Annahmeschein"), (before, "Zustandsbericht vor der Arbeit")):
        content = content_of(paper)
        assert content["title"] == title and content["language"] == "de"
        assert ENGLISH.findall(fixed_words(content, typed)) == []
    assert untranslated(asked) == []
    assert "6,420\xa0ct (1,284\xa0g)" in json.dumps(content_of(receipt), ensure_ascii=False)
