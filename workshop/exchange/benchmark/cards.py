"""The information card against a bare render of the same HTML."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.utils import timezone

from workshop.common.models import Hand
from workshop.gems import actions as gems
from workshop.gems.card_actions import issue_card
from workshop.handbook.units import parse_weight
from workshop.materials.models import Evidence, Nature, Question, Treated
from workshop.papers import pdf, rendering
from workshop.papers.kinds import Sheet
from workshop.papers.models import Paper
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import Stage

from .measure import Timed, against

AIM = 1.5


def measure_cards(owner: Hand, rounds: int, say: Callable[[str], None]) -> list[Timed]:
    """Each size of one card."""
    if not settings.PDF_AVAILABLE:
        say("no card: Pango is missing")
        return []
    paper = _a_card(owner)
    measured = []
    for size in ("id1", "a6"):
        say(f"card {size}")
        sheet, html, files = _drawn_with(paper, size)
        size_bytes = len(rendering.draw(paper, size))
        measured.append(
            against(
                f"information card, {size}",
                lambda size=size: rendering.draw(paper, size),  # type: ignore[misc]
                lambda sheet=sheet, html=html, files=files: _bare(sheet, html, files),  # type: ignore[misc]
                rounds=rounds,
                size=size_bytes,
                aim=AIM,
            )
        )
    return measured


def _a_card(owner: Hand) -> Paper:
    now = timezone.now()
    lot = RoughLot.objects.filter(left_ct__gt=5).order_by("pk")[0]
    stone = stones.draw_stone(lot, parse_weight("5 ct"), by=owner, at=now)
    today: date = now.date()
    said: list[dict[str, Any]] = [
        {"question": Question.NATURE, "nature": Nature.MINED},
        {"question": Question.SPECIES, "material": lot.material},
        {"question": Question.TREATMENT, "treated": Treated.NOT_TESTED, "words": "untreated"},
    ]
    for one in said:
        common = {
            "evidence": Evidence.TESTED,
            "said_by": "the benchmark",
            "said_on": today,
            "how": "readings",
        }
        stones.state_about_stone(stone, {**common, **one}, by=owner, at=now)
    stones.move_on(stone, Stage.OFF_DOP, by=owner, at=now)
    measured = gems.Measured(
        weight=parse_weight("2.00 ct"), length_mm=Decimal("8.10"), width_mm=Decimal("7.00"), depth_mm=Decimal("5.00"),
        shape="oval", colour="green",
    )  # fmt: skip
    gem = gems.finish_gem(stone, measured, by=owner, at=now, sure=True)
    return issue_card(gem, by=owner, at=now, base_url="http://localhost")


def _drawn_with(paper: Paper, size: str) -> tuple[Sheet, str, dict[str, bytes]]:
    """What a paper was drawn from: sheet, files, and the HTML that fitted, caught on their way through the door."""
    handed: list[tuple[Sheet, dict[str, bytes]]] = []
    written: list[str] = []
    door, write = pdf.render, pdf.render_to_string

    def catch(sheet: Sheet, context: Any, files: Any = None) -> bytes:
        handed.append((sheet, dict(files or {})))
        return door(sheet, context, files)

    def catch_html(*said: Any, **more: Any) -> str:
        written.append(write(*said, **more))
        return written[-1]

    pdf.render, pdf.render_to_string = catch, catch_html  # type: ignore[assignment]
    try:
        rendering.draw(paper, size)
    finally:
        pdf.render, pdf.render_to_string = door, write
    return handed[0][0], written[-1], handed[0][1]


def _bare(sheet: Sheet, html: str, files: dict[str, bytes]) -> bytes:
    """One bare render of the same HTML with the same warm fonts: WeasyPrint's own cost."""
    return bytes(_laid_out(sheet, html, files).write_pdf(pdf_variant=pdf.VARIANT))


def _laid_out(sheet: Sheet, html: str, files: dict[str, bytes]) -> Any:
    from weasyprint import HTML

    return HTML(string=html, url_fetcher=pdf._fetcher(files), base_url=None).render(
        stylesheets=[pdf._styles(sheet.styles)], font_config=pdf._font_config(), pdf_variant=pdf.VARIANT
    )
