"""What kinds of paper there are, their number series, and the sheets each is printed on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .models import PaperKind


@dataclass(frozen=True)
class Sheet:
    """One size a paper is printed in: template, style sheet, and how many pages it may fill, no more no less.

    ``cuts`` says, for the two tightest settings, how many characters of each sort of text are kept.
    """

    words: str
    template: str
    styles: str
    pages: int
    cuts: tuple[dict[str, int], ...] = ()


#: A kind's numbers run without a gap, each kind in its own series.
SERIES: Final = {PaperKind.INFO_CARD: "IC"}

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
    }
}

LABEL: Final = Sheet(
    "bag label, 50 × 25 mm", "papers/label.html", "papers/label.css", pages=1, cuts=({"fact": 14},)
)
