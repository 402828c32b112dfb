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

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from workshop.common import say
from workshop.common.models import Shop
from workshop.materials.models import Evidence, Question, Statement, Treated, best_based
from workshop.materials.naming import choice, joined
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
from .quote_words import of_piece
from .risks import risks_of, subject_of_piece

ROLE: Final = gettext_lazy(
    "The cutter’s own statement of what was handed over and seen, not a laboratory’s. The goods stay the owner’s. "
    "What is said here about storage, liability and goods not collected is the workshop’s own wording; local law comes "
    "first."
)
RUNGS: Final = {
    Evidence.NOTHING: gettext_lazy("nothing to go by"),
    Evidence.SAID: gettext_lazy("the client’s word, not tested here"),
    Evidence.WRITTEN: gettext_lazy("in writing from the client, not tested here"),
    Evidence.TESTED: gettext_lazy("tested here, with readings"),
    Evidence.GEMMOLOGIST: gettext_lazy("independent gemmologist’s written opinion"),
    Evidence.LABORATORY: gettext_lazy("laboratory report"),
}
NOT_STATED, NONE_SEEN = gettext_lazy("not stated"), gettext_lazy("none noted")
NOT_MEASURED = gettext_lazy("not measured")


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
        Facts(_holding(intake), heading=_("While it is here and when it goes back")),
        Points(_risks(pieces), heading=_("Read this before you sign: what may go wrong"), numbered=True),
        Signatures(
            [
                _("Handed over: %(whom)s, day") % {"whom": intake.handed_by},
                _("Received for %(shop)s: name, day") % {"shop": shop.name},
            ],
            heading=_("Signatures"),
            words=_("Sign before the work starts; both keep a copy."),
        ),
    ]
    return Document(
        title=_("Receipt for goods taken in"),
        shop=shop,
        reference=f"{intake.code}, {intake.commission.code}",
        parties=[
            Party(_("Owner of the goods"), owner_lines(client)),
            Party(_("Handed over by"), [_handed(intake)]),
        ],
        facts=[
            (_("Received"), say.moment(intake.received_at)),
            (_("Where"), shop.name),
            (_("How it came"), intake.how or str(NOT_STATED)),
            (_("Pieces"), str(sum(piece.pieces for piece in pieces))),
            (_("Weight in all"), say.carats_and_grams(sum(piece.weight_ct for piece in pieces))),
            (_("To come back by"), _return_by(intake)),
        ],
        blocks=blocks,
        role=str(ROLE),
    )


def without_tax() -> Shop:
    """The shop without its tax number: no tax data stands on these papers."""
    shop = copy.copy(Shop.the())
    shop.tax_number = ""
    return shop


def owner_lines(client: Contact) -> list[str]:
    ways = " · ".join(filter(None, [client.phone, client.email]))
    return [str(client), client.address or _("address not given"), client.country, ways]


def _handed(intake: Intake) -> str:
    return f"{intake.handed_by} {_on_whose_word(intake)}" if intake.authority else intake.handed_by


def _on_whose_word(intake: Intake) -> str:
    return _("(authority: %(what)s)") % {"what": intake.authority}


def _return_by(intake: Intake) -> str:
    commission = intake.commission
    if commission.due_on is not None:
        return _("promised for the week of %(day)s") % {"day": say.moment(commission.due_on)}
    if commission.wished_by is not None:
        return _("wished for by %(day)s, not promised") % {"day": say.moment(commission.wished_by)}
    return _("no day promised yet")


def _two_columns(piece: IntakePiece, number: int, of: int, shop: Shop) -> Table:
    """Stated by the client beside seen here: two columns that are never mixed."""
    told = said_of(piece)
    rows = [
        [_("What it is"), piece.stated_to_be, piece.seen_as],
        [_("Species"), species_told(piece), basis(told.get(Question.SPECIES), piece)],
        [_("Treatment"), treatment_told(piece), treatment_seen(told, piece)],
        [_("On what evidence"), evidence_told(piece), evidence_here(told, piece)],
        [_("Pieces"), "", str(piece.pieces)],
        [
            _("Weight, by scale"),
            "",
            _("%(weight)s, scale step %(step)s")
            % {
                "weight": say.carats_and_grams(piece.weight_ct),
                "step": say.carats(_bare(shop.scale_step_ct), None),
            },
        ],
        [_("Length × width × depth"), "", size_words(piece.length_mm, piece.width_mm, piece.depth_mm)],
        [_("Colour"), "", piece.colour or _("not noted")],
        [_("Tests done"), "", piece.tests or _("none")],
        [_("Laboratory report left"), piece.laboratory_report or _("none left"), ""],
        [_("Declared value"), _declared(piece), _("the client’s own figure; not an appraisal")],
        [_("Inclusions, shown"), "", _in_a_row(piece.inclusions) or str(NONE_SEEN)],
        [_("Chips, fissures, old glue"), "", _condition(piece)],
    ]
    return Table(
        [Column(""), Column(_("Stated by the client")), Column(_("Seen here"))],
        rows,
        heading=piece_heading(piece, number, of),
    )  # fmt: skip


def _bare(figure: Decimal) -> Decimal:
    """A figure without the noughts nobody weighed."""
    return Decimal(f"{figure.normalize():f}")


def piece_heading(piece: IntakePiece, number: int, of: int) -> str:
    told = {"number": number, "of": of, "lot": piece.lot.code}
    if piece.item is None:
        return _("%(number)s of %(of)s: %(lot)s") % told
    told["piece"] = piece.item.number
    return _("%(number)s of %(of)s: %(lot)s, for piece %(piece)s of the commission") % told


def said_of(piece: IntakePiece) -> dict[str, Statement]:
    return best_based(list(piece.lot.statements.all()))


def told_of(piece: IntakePiece) -> dict[str, Statement]:
    """For each question what the client says best, whatever was found here since."""
    return best_based([one for one in piece.lot.statements.all() if one.evidence <= Evidence.WRITTEN])


def species_told(piece: IntakePiece) -> str:
    """The species as the client states it."""
    said = told_of(piece).get(Question.SPECIES)
    return said.answer if said is not None else str(NOT_STATED)


def basis(said: Statement | None, piece: IntakePiece) -> str:
    """What is known here of a statement: its own evidence, never the client's word as ours."""
    if said is not None and said.evidence >= Evidence.TESTED:
        told = f"{said.answer}; {RUNGS[Evidence(said.evidence)]}"
        return f"{told}: {said.how.strip()}" if said.how.strip() else told
    return _("no conclusion drawn from the tests") if piece.tests else _("not tested here")


def treatment_told(piece: IntakePiece) -> str:
    told = choice(piece.get_told_treatment_display())
    said = told_of(piece).get(Question.TREATMENT)
    named = said.answer if said is not None and said.treated == Treated.TREATED else ""
    parts = [f"{told}: {named}" if named else told]
    if piece.treatment_words:
        parts.append(_("“%(words)s”") % {"words": piece.treatment_words})
    return ", ".join(parts)


def treatment_seen(told: dict[str, Statement], piece: IntakePiece) -> str:
    said = told.get(Question.TREATMENT)
    return (
        basis(said, piece) if said is not None and said.evidence >= Evidence.TESTED else _("not tested here")
    )


def evidence_told(piece: IntakePiece) -> str:
    """The rung of the ladder of what the client says."""
    said = [one.evidence for one in told_of(piece).values()]
    return str(RUNGS[Evidence(max(said))] if said else NOT_STATED)


def evidence_here(told: dict[str, Statement], piece: IntakePiece) -> str:
    """The rung of what was tested here, by question."""
    tested = [one for one in told.values() if one.evidence >= Evidence.TESTED]
    words = [f"{choice(Question(one.question).label)}: {RUNGS[Evidence(one.evidence)]}" for one in tested]
    if words:
        return "; ".join(words)
    return (
        _("looked at; %(tests)s") % {"tests": piece.tests} if piece.tests else _("looked at, nothing tested")
    )


def size_words(length: Decimal | None, width: Decimal | None, depth: Decimal | None) -> str:
    sides = [side for side in (length, width, depth) if side is not None]
    return " × ".join(say.number(side, 2) for side in sides) + f"{say.GAP}mm" if sides else str(NOT_MEASURED)


def _declared(piece: IntakePiece) -> str:
    if piece.declared_value is None:
        return (
            _("“%(words)s”") % {"words": piece.declared_words}
            if piece.declared_words
            else _("the client named no value")
        )
    said = say.money(piece.declared_value, piece.declared_currency)
    if not piece.declared_words:
        return said
    told = {"value": said, "words": piece.declared_words}
    return _("%(value)s, in the client’s words: “%(words)s”") % told


def _in_a_row(lines: str) -> str:
    return "; ".join(line.strip() for line in lines.splitlines() if line.strip())


def _condition(piece: IntakePiece) -> str:
    parts = [_in_a_row(piece.chips) or str(NONE_SEEN)]
    if piece.magnification:
        parts.append(_("looked at with %(glass)s") % {"glass": piece.magnification})
    if not piece.intake.came_clean:
        parts.append(_("not taken in clean: more may show once it is"))
    return "; ".join(parts)


def _agreed(piece: IntakePiece) -> Facts:
    consent = piece.loss_consent_percent
    return Facts(
        [
            (
                _("Work"),
                choice(piece.item.get_work_display())
                if piece.item is not None
                else _("not settled yet: look and quote"),
            ),
            (
                _("Loss of weight agreed to"),
                _("up to %(loss)s") % {"loss": say.percent(consent)}
                if consent is not None
                else _("not agreed yet"),
            ),
            (
                _("Floor"),
                _("%(weight)s; below it the client is asked first") % {"weight": say.carats(piece.floor_ct)}
                if piece.floor_ct is not None
                else _("none agreed yet"),
            ),
            (_("Off-cuts"), choice(piece.get_off_cuts_display())),
        ]
    )


def _holding(intake: Intake) -> list[tuple[str, str]]:
    insured = intake.insured_by or _("not settled")
    if intake.insured_by and intake.insured_until is not None:
        told = {"insurer": intake.insured_by, "day": say.moment(intake.insured_until)}
        insured = _("%(insurer)s until %(day)s") % told
    return [
        (_("Insured while here by"), insured),
        (_("Goes back to"), intake.return_to or _("to be settled")),
        (_("Limits"), intake.limits or _("none given")),
        (_("Goods not collected"), intake.uncollected or _("no rule agreed; the local law applies")),
        (_("Taken in clean"), _("yes") if intake.came_clean else _("no")),
    ]


def _risks(pieces: Sequence[IntakePiece]) -> list[str]:
    """Each sentence once: those of one piece with its number, then those of all."""
    about: dict[str, list[int]] = {}
    for number, piece in enumerate(pieces, start=1):
        for risk in risks_of(subject_of_piece(piece)):
            about.setdefault(risk.words, []).append(number)
    of_some = {words: numbers for words, numbers in about.items() if len(numbers) < len(pieces)}
    told = [of_piece(", ".join(map(str, numbers)), words) for words, numbers in of_some.items()]
    return [*told, *(words for words in about if words not in of_some)]


def pictures(piece: IntakePiece) -> list[Picture]:
    return [
        Picture(
            photo.photo,
            joined(
                _("%(lot)s, photograph %(number)s") % {"lot": piece.lot.code, "number": number},
                photo.view,
                photo.photo.sha256[:12],
            ),
            [PaperMark(mark.x_percent, mark.y_percent, mark.words) for mark in photo.marks.all()],
        )
        for number, photo in enumerate(piece.photos.all(), start=1)
    ]
