"""Documents to try the sheets on: a quote and a condition report of an invented shop, for an invented client."""

import io
from decimal import Decimal

from PIL import Image

from tests import makers
from tests.makers import NOON
from workshop.common import photos
from workshop.papers import actions
from workshop.papers.document import (
    Column,
    Document,
    Drawing,
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
from workshop.papers.models import PaperKind

ROLE = "The cutter's own statement, not a laboratory's."
GREY = "#c8c8c8"


def make_document_shop():
    return makers.make_shop(
        name="Wren & Alder",
        address="12 Harbour Row\nPort Ellen",
        email="bench@wren-alder.example",
        website="https://wren-alder.example",
        tax_number="XX 123 456",
        base_url="https://cards.example",
    )


def a_photo(width=1600, height=1200, colour=GREY):
    picture = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(picture, "JPEG")
    return photos.keep(photos.prepare(picture), by=makers.somebody(), at=NOON)


def noisy_photo():
    """A photograph that does not compress to nothing: every pixel differs from its neighbours."""
    picture = io.BytesIO()
    Image.effect_noise((1600, 1200), 60).convert("RGB").save(picture, "JPEG")
    return photos.keep(photos.prepare(picture), by=makers.somebody(), at=NOON)


def priced(rows):
    lines = [
        [f"Cutting, item {n}", "350.00 to 3 ct, then 50.00 a carat", "487.50"] for n in range(1, rows + 1)
    ]
    columns = [Column("Work"), Column("How reckoned"), Column("Amount", numeric=True)]
    return Table(columns, lines, foot=[["Altogether", "", "1,755.00"]], heading="Price", note="Tax is in it.")


def a_quote(shop, rows=3, **said):
    facts = {
        "title": "Quote for two tourmalines",
        "shop": shop,
        "reference": "C-0042, version 2",
        "parties": [Party("For", ["Ada Lund", "3 Quay Street\nStromness", "ada@lund.example"])],
        "facts": [("Valid until", "1 April 2026"), ("Currency", "EUR"), ("Left out", "")],
        "blocks": [
            Text(["Thank you for your letter.\nThis is what I propose."]),
            Facts([("Piece", "Your own rough, 21.40 ct"), ("Floor", "below 5.50 ct I ask you")], heading="The work"),
            priced(rows),
            Points(["The dark plane may open.", "The colour may look lighter."], heading="Risks", numbered=True),
            Text(["Deposit 500.00. Have these terms checked against your local law."], heading="Terms", strong=True),
            Signatures(["Ada Lund: place, day", "For the shop: place, day"], heading="Acceptance", words="I accept."),
        ],
        "role": ROLE,
    }  # fmt: skip
    return Document(**facts | said)


def a_condition_report(shop, photo=None):
    marks = [
        Mark(Decimal("25"), Decimal("30"), "Chip on the girdle"),
        Mark(Decimal("62.5"), Decimal("80"), "Fissure that reaches the surface"),
    ]
    return Document(
        title="Condition report",
        shop=shop,
        parties=[Party("Owner of the goods", ["Ada Lund"])],
        blocks=[
            Photos(
                [
                    Picture(photo or a_photo(), "Front, with scale", marks),
                    Picture(a_photo(900, 1500), "Back", marks[:1]),
                    Picture(a_photo(1500, 900), "Side"),
                ],
                heading="Photographs",
            ),
            Drawing(
                "oval", Decimal("13.2"), Decimal("10.8"), Decimal("7.1"), words="The plan", heading="Plan"
            ),
        ],
        role=ROLE,
    )


def issued(document, kind=PaperKind.QUOTE, about="C-0042"):
    return actions.issue(kind, about, document.content(), by=makers.somebody(), at=NOON)


def drawn(paper, size="a4"):
    return bytes(actions.bytes_of(paper, size, at=NOON).pdf)


def strings(content):
    """Every text in a content record, keys left out."""
    if isinstance(content, dict):
        return [text for inner in content.values() for text in strings(inner)]
    if isinstance(content, list):
        return [text for inner in content for text in strings(inner)]
    return [content] if isinstance(content, str) and content else []


def printed_texts(content):
    """Those of them that a sheet prints: not the hashes, file names and keys of its machinery."""
    said = [content["title"], content["reference"], content["role"], content["number"], content["check_url"]]
    shop = content["shop"]
    said += [shop["name"], *shop["address"], shop["email"], shop["website"], shop["tax_number"]]
    said += strings(content["parties"]) + strings(content["facts"])
    for block in content["blocks"]:
        kept = {key: part for key, part in block.items() if key not in ("kind", "drawing", "pictures")}
        said += strings(kept)
        for picture in block.get("pictures", []):
            said += [picture["words"], *(mark["words"] for mark in picture["marks"])]
    return [text for text in said if text]
