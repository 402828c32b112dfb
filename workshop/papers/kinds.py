"""What kinds of paper there are, their number series, and the sheets each is printed on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from .models import PaperKind


@dataclass(frozen=True)
class Sheet:
    """One size a paper is printed in: template, style sheet, and how many pages it may fill.

    A card fills ``pages``, no more and no less; a document runs on, from one to ``pages``. ``cuts`` says, for the
    two tightest settings, how many characters of each sort of text are kept; a document is never cut. Larger
    photographs are brought down to ``photo_dpi``. ``closer``: settings tried where one saves a document a page.
    """

    words: str
    template: str
    styles: str
    pages: int
    cuts: tuple[dict[str, int], ...] = ()
    runs_on: bool = False
    photo_dpi: int | None = None
    closer: tuple[int, ...] = (1,)

    def fits(self, pages: int) -> bool:
        """Whether so many pages are what this sheet may fill."""
        return 1 <= pages <= self.pages if self.runs_on else pages == self.pages


MOST_PAGES: Final = 20
"""A document that is longer is no longer read before it is signed; house rule."""

DOCUMENT: Final = {
    # ISO 216 A4: 210 × 297 mm.
    "a4": Sheet(
        "A4, 210 × 297 mm",
        "papers/document.html",
        "papers/document_a4.css",
        pages=MOST_PAGES,
        runs_on=True,
        photo_dpi=300,
    ),
    # 8.5 × 11 inches: 215.9 × 279.4 mm.
    "letter": Sheet(
        "Letter, 8.5 × 11 in",
        "papers/document.html",
        "papers/document_letter.css",
        pages=MOST_PAGES,
        runs_on=True,
        photo_dpi=300,
    ),
}

MOST_CERTIFICATE_PAGES: Final = 6

CERTIFICATE: Final = {
    "a4": Sheet(
        "A4, 210 × 297 mm",
        "papers/certificate.html",
        "papers/certificate_a4.css",
        pages=MOST_CERTIFICATE_PAGES,
        runs_on=True,
        photo_dpi=300,
        closer=(1, 2),
    ),
    # ISO 216 A5: 148 × 210 mm.
    "a5": Sheet(
        "A5, 148 × 210 mm",
        "papers/certificate.html",
        "papers/certificate_a5.css",
        pages=MOST_CERTIFICATE_PAGES,
        runs_on=True,
        photo_dpi=300,
        closer=(1, 2),
    ),
    "letter": Sheet(
        "Letter, 8.5 × 11 in",
        "papers/certificate.html",
        "papers/certificate_letter.css",
        pages=MOST_CERTIFICATE_PAGES,
        runs_on=True,
        photo_dpi=300,
        closer=(1, 2),
    ),
}

SUITE: Final = {
    size: replace(sheet, template="papers/suite.html", pages=MOST_PAGES)
    for size, sheet in CERTIFICATE.items()
    if size != "a5"
}

#: A kind's numbers run without a gap, each kind in its own series.
SERIES: Final = {
    PaperKind.INFO_CARD: "IC",
    PaperKind.CERTIFICATE: "CT",
    PaperKind.SUITE: "CS",
    PaperKind.QUOTE: "QU",
    PaperKind.INTAKE_RECEIPT: "IR",
    PaperKind.CONDITION: "CR",
    PaperKind.HANDING_OVER: "HO",
    PaperKind.INVOICE: "IN",
    PaperKind.CREDIT_NOTE: "CN",
    PaperKind.MEMO_NOTE: "MN",
}

SHEETS: Final[dict[str, dict[str, Sheet]]] = {
    PaperKind.INFO_CARD: {
        # ISO/IEC 7810 ID-1: 85.60 × 53.98 mm, the size of a bank card.
        "id1": Sheet(
            "card, 85.60 × 53.98 mm, front and back",
            "papers/info_card_id1.html",
            "papers/info_card_id1.css",
            pages=2,
            cuts=(
                {"fact": 84, "text": 100, "basis": 70, "shop": 60, "treatment": 230},
                {"fact": 34, "text": 50, "basis": 34, "shop": 30, "treatment": 230},
            ),
        ),
        # ISO 216 A6: 105 × 148 mm.
        "a6": Sheet(
            "sheet, A6, 105 × 148 mm",
            "papers/info_card_a6.html",
            "papers/info_card_a6.css",
            pages=1,
            cuts=(
                {"fact": 120, "text": 160, "basis": 120, "shop": 60, "treatment": 230},
                {"fact": 50, "text": 90, "basis": 60, "shop": 40, "treatment": 230},
            ),
        ),
    },
    PaperKind.CERTIFICATE: CERTIFICATE,
    PaperKind.SUITE: SUITE,
    PaperKind.QUOTE: DOCUMENT,
    PaperKind.INTAKE_RECEIPT: DOCUMENT,
    PaperKind.CONDITION: DOCUMENT,
    PaperKind.HANDING_OVER: DOCUMENT,
    PaperKind.INVOICE: DOCUMENT,
    PaperKind.CREDIT_NOTE: DOCUMENT,
    PaperKind.MEMO_NOTE: DOCUMENT,
}

LABEL: Final = Sheet(
    "bag label, 50 × 25 mm", "papers/label.html", "papers/label.css", pages=1, cuts=({"fact": 14},)
)

LABEL_SHEETS: Final = {
    on: Sheet(
        f"bag labels on {words}",
        "papers/label_sheet.html",
        f"papers/label_sheet_{on}.css",
        pages=MOST_PAGES,
        runs_on=True,
        closer=(),
    )
    for on, words in (("a4", "A4"), ("letter", "Letter"))
}
