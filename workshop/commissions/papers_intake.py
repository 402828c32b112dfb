"""From a taking-in to its receipt: what was handed over, whose it is, what is agreed, what may go wrong.

What the client states and what is seen here stand in two columns and are never mixed: a vague or wrong word of the
client's is then not the cutter's (Jewelry take-in procedures
<https://www.jckonline.com/magazine-article/jewelry-take-in-procedures/>; Working with customers' stones
<https://orchid.ganoksin.com/t/working-with-customers-stones/28832>). The declared value is the client's own figure,
and stands on the receipt alone. What is not known prints as not known.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from workshop.common import say
from workshop.common.models import Shop
from workshop.materials.models import Evidence, Question, Statement, Treated, best_based
from workshop.papers.document import (
    Block,
    Column,
    Document,
    Facts,
    Party,
    Photos,
    Picture,
    Points,
    Signatures,
    Table,
)
from workshop.papers.document import Mark as PaperMark
from workshop.people.models import Contact

from .models import Intake, IntakePiece
from .risks import risks_of, subject_of_piece

ROLE: Final = (
    "The cutter’s own statement of what was handed over and seen, not a laboratory’s. The goods stay the owner’s. "
    "What is said here about storage, liability and goods not collected is the workshop’s own wording; local law comes "
    "first."
)
RUNGS: Final = {
    Evidence.NOTHING: "nothing to go by",
    Evidence.SAID: "the client’s word, not tested here",
    Evidence.WRITTEN: "in writing from the client, not tested here",
    Evidence.TESTED: "tested here, with readings",
    Evidence.GEMMOLOGIST: "independent gemmologist’s written opinion",
    Evidence.LABORATORY: "laboratory report",
}
NOT_STATED, NONE_SEEN, NOT_MEASURED = "not stated", "none noted", "not measured"


def pieces_of(intake: Intake) -> list[IntakePiece]:
    """The pieces with all that a paper or page says of them, in the order they were taken in."""
    rows = intake.pieces.select_related("lot__material", "lot__owner", "item").prefetch_related(
        "photos__photo", "photos__marks", "lot__statements__material"
    )
    return list(rows)


# --- The receipt -----------------------------------------------------------------------------------------------------


def receipt(intake: Intake) -> Document:
    """What was handed over, whose it is, what is agreed, and what may go wrong."""
    shop, client = without_tax(), intake.commission.client
    pieces = pieces_of(intake)
    blocks: list[Block] = []
    for number, piece in enumerate(pieces, start=1):
        blocks += [
            _two_columns(piece, number, len(pieces), shop),
            _agreed(piece),
            Photos(pictures(piece), heading=""),
        ]
    blocks += [
        Facts(_holding(intake), heading="While it is here and when it goes back"),
        Points(_risks(pieces), heading="Read this before you sign: what may go wrong", numbered=True),
        Signatures(
            [f"Handed over: {intake.handed_by}, day", f"Received for {shop.name}: name, day"],
            heading="Signatures",
            words="Sign before the work starts; both keep a copy.",
        ),
    ]
    return Document(
        title="Receipt for goods taken in",
        shop=shop,
        reference=f"{intake.code}, {intake.commission.code}",
        parties=[
            Party("Owner of the goods", owner_lines(client)),
            Party("Handed over by", [_handed(intake)]),
        ],
        facts=[
            ("Received", say.moment(intake.received_at)),
            ("Where", shop.name),
            ("How it came", intake.how or NOT_STATED),
            ("Pieces", str(sum(piece.pieces for piece in pieces))),
            ("Weight in all", say.carats_and_grams(sum(piece.weight_ct for piece in pieces))),
            ("To come back by", _return_by(intake)),
        ],
        blocks=blocks,
        role=ROLE,
    )


def without_tax() -> Shop:
    """The shop without its tax number: no tax data stands on these papers."""
    shop = copy.copy(Shop.the())
    shop.tax_number = ""
    return shop


def owner_lines(client: Contact) -> list[str]:
    ways = " · ".join(filter(None, [client.phone, client.email]))
    return [str(client), client.address or "address not given", client.country, ways]


def _handed(intake: Intake) -> str:
    return f"{intake.handed_by} {_on_whose_word(intake)}" if intake.authority else intake.handed_by


def _on_whose_word(intake: Intake) -> str:
    return f"(authority: {intake.authority})"


def _return_by(intake: Intake) -> str:
    commission = intake.commission
    if commission.due_on is not None:
        return f"promised for the week of {say.moment(commission.due_on)}"
    if commission.wished_by is not None:
        return f"wished for by {say.moment(commission.wished_by)}, not promised"
    return "no day promised yet"


def _two_columns(piece: IntakePiece, number: int, of: int, shop: Shop) -> Table:
    """Stated by the client beside seen here: two columns that are never mixed."""
    told = said_of(piece)
    rows = [
        ["What it is", piece.stated_to_be, piece.seen_as],
        ["Species", species_told(piece), basis(told.get(Question.SPECIES), piece)],
        ["Treatment", treatment_told(piece), treatment_seen(told, piece)],
        ["On what evidence", evidence_told(piece), evidence_here(told, piece)],
        ["Pieces", "", str(piece.pieces)],
        [
            "Weight, by scale",
            "",
            f"{say.carats_and_grams(piece.weight_ct)}, scale step {shop.scale_step_ct.normalize():f} ct",
        ],
        ["Length × width × depth", "", size_words(piece.length_mm, piece.width_mm, piece.depth_mm)],
        ["Colour", "", piece.colour or "not noted"],
        ["Tests done", "", piece.tests or "none"],
        ["Laboratory report left", piece.laboratory_report or "none left", ""],
        ["Declared value", _declared(piece), "the client’s own figure; not an appraisal"],
        ["Inclusions, shown", "", _in_a_row(piece.inclusions) or NONE_SEEN],
        ["Chips, fissures, old glue", "", _condition(piece)],
    ]
    return Table(
        [Column(""), Column("Stated by the client"), Column("Seen here")],
        rows,
        heading=piece_heading(piece, number, of),
    )  # fmt: skip


def piece_heading(piece: IntakePiece, number: int, of: int) -> str:
    item = f", for piece {piece.item.number} of the commission" if piece.item is not None else ""
    return f"{number} of {of}: {piece.lot.code}{item}"


def said_of(piece: IntakePiece) -> dict[str, Statement]:
    return best_based(list(piece.lot.statements.all()))


def told_of(piece: IntakePiece) -> dict[str, Statement]:
    """For each question what the client says best, whatever was found here since."""
    return best_based([one for one in piece.lot.statements.all() if one.evidence <= Evidence.WRITTEN])


def species_told(piece: IntakePiece) -> str:
    """The species as the client states it."""
    said = told_of(piece).get(Question.SPECIES)
    return said.answer if said is not None else NOT_STATED


def basis(said: Statement | None, piece: IntakePiece) -> str:
    """What is known here of a statement: its own evidence, never the client's word as ours."""
    if said is not None and said.evidence >= Evidence.TESTED:
        how = f": {said.how.strip()}" if said.how.strip() else ""
        return f"{said.answer}; {RUNGS[Evidence(said.evidence)]}{how}"
    return "no conclusion drawn from the tests" if piece.tests else "not tested here"


def treatment_told(piece: IntakePiece) -> str:
    told = piece.get_told_treatment_display()
    said = told_of(piece).get(Question.TREATMENT)
    named = said.answer if said is not None and said.treated == Treated.TREATED else ""
    parts = [f"{told}: {named}" if named else told]
    if piece.treatment_words:
        parts.append(f"“{piece.treatment_words}”")
    return ", ".join(parts)


def treatment_seen(told: dict[str, Statement], piece: IntakePiece) -> str:
    said = told.get(Question.TREATMENT)
    return basis(said, piece) if said is not None and said.evidence >= Evidence.TESTED else "not tested here"


def evidence_told(piece: IntakePiece) -> str:
    """The rung of the ladder of what the client says."""
    said = [one.evidence for one in told_of(piece).values()]
    return RUNGS[Evidence(max(said))] if said else NOT_STATED


def evidence_here(told: dict[str, Statement], piece: IntakePiece) -> str:
    """The rung of what was tested here, by question."""
    tested = [one for one in told.values() if one.evidence >= Evidence.TESTED]
    words = [f"{Question(one.question).label}: {RUNGS[Evidence(one.evidence)]}" for one in tested]
    return "; ".join(words) or (f"looked at; {piece.tests}" if piece.tests else "looked at, nothing tested")


def size_words(length: Decimal | None, width: Decimal | None, depth: Decimal | None) -> str:
    sides = [side for side in (length, width, depth) if side is not None]
    return " × ".join(say.number(side, 2) for side in sides) + f"{say.GAP}mm" if sides else NOT_MEASURED


def _declared(piece: IntakePiece) -> str:
    if piece.declared_value is None:
        return f"“{piece.declared_words}”" if piece.declared_words else "the client named no value"
    said = say.money(piece.declared_value, piece.declared_currency)
    return f"{said}, in the client’s words: “{piece.declared_words}”" if piece.declared_words else said


def _in_a_row(lines: str) -> str:
    return "; ".join(line.strip() for line in lines.splitlines() if line.strip())


def _condition(piece: IntakePiece) -> str:
    parts = [_in_a_row(piece.chips) or NONE_SEEN]
    if piece.magnification:
        parts.append(f"looked at with {piece.magnification}")
    if not piece.intake.came_clean:
        parts.append("not taken in clean: more may show once it is")
    return "; ".join(parts)


def _agreed(piece: IntakePiece) -> Facts:
    consent = piece.loss_consent_percent
    return Facts(
        [
            (
                "Work",
                piece.item.get_work_display()
                if piece.item is not None
                else "not settled yet: look and quote",
            ),
            (
                "Loss of weight agreed to",
                f"up to {say.percent(consent)}" if consent is not None else "not agreed yet",
            ),
            (
                "Floor",
                f"{say.carats(piece.floor_ct)}; below it the client is asked first"
                if piece.floor_ct is not None
                else "none agreed yet",
            ),
            ("Off-cuts", piece.get_off_cuts_display()),
        ]
    )


def _holding(intake: Intake) -> list[tuple[str, str]]:
    until = f" until {say.moment(intake.insured_until)}" if intake.insured_until is not None else ""
    return [
        ("Insured while here by", f"{intake.insured_by}{until}" if intake.insured_by else "not settled"),
        ("Goes back to", intake.return_to or "to be settled"),
        ("Limits", intake.limits or "none given"),
        ("Goods not collected", intake.uncollected or "no rule agreed; the local law applies"),
        ("Taken in clean", "yes" if intake.came_clean else "no"),
    ]


def _risks(pieces: Sequence[IntakePiece]) -> list[str]:
    """Each sentence once: those of one piece with its number, then those of all."""
    about: dict[str, list[int]] = {}
    for number, piece in enumerate(pieces, start=1):
        for risk in risks_of(subject_of_piece(piece)):
            about.setdefault(risk.words, []).append(number)
    of_some = {words: numbers for words, numbers in about.items() if len(numbers) < len(pieces)}
    told = [f"Piece {', '.join(map(str, numbers))}: {words}" for words, numbers in of_some.items()]
    return [*told, *(words for words in about if words not in of_some)]


def pictures(piece: IntakePiece) -> list[Picture]:
    return [
        Picture(
            photo.photo,
            f"{piece.lot.code}, photograph {number}{f', {photo.view}' if photo.view else ''}, "
            f"{photo.photo.sha256[:12]}",
            [PaperMark(mark.x_percent, mark.y_percent, mark.words) for mark in photo.marks.all()],
        )
        for number, photo in enumerate(piece.photos.all(), start=1)
    ]
