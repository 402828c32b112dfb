"""The information card against a bare render of the same HTML, a card on a sheet against a single one, and what a
thousand of them leave behind in memory."""

from __future__ import annotations

import gc
import os
import statistics
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

from workshop.common.models import Hand
from workshop.gems import actions as gems
from workshop.gems.card_actions import issue_card
from workshop.handbook.units import parse_weight
from workshop.materials.models import Evidence, Nature, Question, Treated
from workshop.papers import actions as papers_room
from workshop.papers import pdf, rendering, sheets
from workshop.papers.kinds import Sheet
from workshop.papers.labels import Label, draw_label
from workshop.papers.models import Paper, PaperKind
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import Stage

from .measure import Timed, against, milliseconds

AIM, SHEET_AIM = 1.5, 0.5
ON_A_SHEET = 100


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
    return [*measured, *_on_sheets(paper, owner, rounds, say)]


def _on_sheets(paper: Paper, owner: Hand, rounds: int, say: Callable[[str], None]) -> list[Timed]:
    """A card of a sheet of a hundred against a single one, printed before and never printed; a label likewise."""
    papers, now = _copies(paper, owner, ON_A_SHEET), timezone.now()
    single = statistics.median(milliseconds(lambda: rendering.draw(paper, "id1")) for _ in range(rounds))
    say(f"sheet of {ON_A_SHEET} cards")
    first = milliseconds(lambda: sheets.draw_cards(papers, "a4", at=now)) / ON_A_SHEET
    again = [milliseconds(lambda: sheets.draw_cards(papers, "a4", at=now)) / ON_A_SHEET for _ in range(3)]
    size = len(sheets.draw_cards(papers, "a4", at=now))
    say(f"sheet of {ON_A_SHEET} labels")
    label = Label("S-0001", "tourmaline", "12.345 ct", "http://localhost/stones/S-0001/")
    draw_label(label)
    one = statistics.median(milliseconds(lambda: draw_label(label)) for _ in range(rounds))
    many = [
        milliseconds(lambda: sheets.draw_labels([label] * ON_A_SHEET, "a4")) / ON_A_SHEET for _ in range(3)
    ]
    return [
        Timed(
            "a card on a sheet of 100", statistics.median(again), max(again), single, size=size, aim=SHEET_AIM
        ),
        Timed("a card on it, none drawn before", first, first, single),
        Timed("a label on a sheet of 100", statistics.median(many), max(many), one, aim=SHEET_AIM),
    ]


def _copies(paper: Paper, owner: Hand, count: int) -> list[Paper]:
    """Papers of their own with the words of one: each its number, its code, its signature."""
    content, now = rendering.content_of(paper), timezone.now()
    return [
        papers_room.issue(
            PaperKind.INFO_CARD, f"G-X{at:05d}", content, by=owner, at=now, base_url="http://localhost"
        )
        for at in range(count)
    ]


def measure_memory(owner: Hand, count: int, say: Callable[[str], None]) -> str:
    """How much the process holds as it draws ``count`` cards, in a sentence. A twentieth of them warm it up."""
    if not settings.PDF_AVAILABLE:
        return "No card: Pango is missing."
    paper = _a_card(owner)
    warm, held, objects = max(count // 20, 1), [], []
    for at, one in enumerate(_copies(paper, owner, count), 1):
        rendering.draw(one, "id1")
        if at == warm or at % max(count // 4, 1) == 0:
            gc.collect()
            held.append((at, _resident_mb()))
            objects.append(len(gc.get_objects()))
            say(f"{at} papers: {held[-1][1]:.1f} MB")
    told = ", ".join(f"{mb:.1f} MB after {at}" for at, mb in held)
    grown = (held[-1][1] - held[0][1]) * 1024 / max(held[-1][0] - held[0][0], 1)
    live = (objects[-1] - objects[0]) / max(held[-1][0] - held[0][0], 1)
    return f"Memory over {count} cards: {told}; {grown:+.2f} kB and {live:+.2f} live objects a card."


def _resident_mb() -> float:
    """What the process holds now, from the kernel's own count."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


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

    def catch(sheet: Sheet, context: Any, files: Any = None, *more: Any) -> bytes:
        handed.append((sheet, dict(files or {})))
        return door(sheet, context, files, *more)

    def catch_html(*said: Any, **more: Any) -> str:
        written.append(write(*said, **more))
        return written[-1]

    pdf.render, pdf.render_to_string = catch, catch_html  # type: ignore[assignment]
    try:
        rendering.draw(paper, size)
    finally:
        pdf.render, pdf.render_to_string = door, write
    # A style sheet nobody used before is written through the same door.
    pages = [text for text in written if "<html" in text]
    return handed[0][0], pages[-1], handed[0][1]


def _bare(sheet: Sheet, html: str, files: dict[str, bytes]) -> bytes:
    """One bare render of the same HTML with the same warm fonts: WeasyPrint's own cost."""
    return bytes(_laid_out(sheet, html, files).write_pdf(pdf_variant=pdf.VARIANT))


def _laid_out(sheet: Sheet, html: str, files: dict[str, bytes]) -> Any:
    from weasyprint import HTML

    return HTML(string=html, url_fetcher=pdf._fetcher(files), base_url=None).render(
        stylesheets=[pdf._styles(sheet.styles)], font_config=pdf._font_config(), pdf_variant=pdf.VARIANT
    )
