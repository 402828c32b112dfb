"""Taking in a client's goods: each piece a lot that stays the client's, its photographs and the faults on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from workshop.common import journal, numbers, say
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Hand, Photo, Shop
from workshop.common.tx import write_tx
from workshop.handbook.money import round_money
from workshop.handbook.units import Weight
from workshop.materials.models import Evidence, Material, Question, Treated
from workshop.people.models import Ownership
from workshop.rough import actions as rough
from workshop.rough.models import Origin, RoughLot
from workshop.stones.actions.lots import correct_lot_weight

from ..believable import believable_span
from ..models import (
    Commission,
    CommissionItem,
    Intake,
    IntakePhoto,
    IntakePiece,
    Mark,
    OffCuts,
    ToldTreatment,
)
from .intake_papers import (
    issue_after_report,
    issue_condition_report,
    issue_receipt,
    open_intake,
    sign_intake,
)
from .standing import standing_commission

__all__ = [
    "PieceSpec", "add_intake_photo", "add_piece", "correct_piece", "issue_after_report", "issue_condition_report",
    "issue_receipt", "mark_fault", "remove_mark", "sign_intake", "take_in",
]  # fmt: skip

#: More of each than these no one looks through at the counter.
MOST_PIECES, MOST_PHOTOS, MOST_MARKS = 40, 12, 40
TOLD: Final = {
    ToldTreatment.UNKNOWN: Treated.NOT_TESTED,
    ToldTreatment.NONE: Treated.UNTREATED,
    ToldTreatment.TREATED: Treated.TREATED,
}


@dataclass(frozen=True)
class PieceSpec:
    """One piece as it lies on the counter: what the client says of it, what is seen, and what is agreed."""

    stated_to_be: str
    seen_as: str
    weight: Weight
    item: CommissionItem | None = None
    pieces: int = 1
    length_mm: Decimal | None = None
    width_mm: Decimal | None = None
    depth_mm: Decimal | None = None
    outline: str = ""
    colour: str = ""
    tests: str = ""
    inclusions: str = ""
    chips: str = ""
    magnification: str = ""
    told_material: Material | None = None
    told_treatment: str = ToldTreatment.UNKNOWN
    told_treatments: tuple[str, ...] = ()
    treatment_words: str = ""
    laboratory_report: str = ""
    declared_value: Decimal | None = None
    declared_currency: str = ""
    declared_words: str = ""
    loss_consent_percent: Decimal | None = None
    floor_ct: Decimal | None = None
    off_cuts: str = OffCuts.BACK

    def columns(self) -> dict[str, Any]:
        """What the row of the piece keeps as it was said."""
        names = {field.name for field in IntakePiece._meta.get_fields()}
        said = {name: getattr(self, name) for name in self.__dataclass_fields__ if name in names}
        return said | {"weight_ct": self.weight.ct}


def take_in(
    commission: Commission,
    *,
    pieces: Sequence[PieceSpec],
    handed_by: str,
    authority: str = "",
    how: str = "",
    came_clean: bool = True,
    insured_by: str = "",
    insured_until: date | None = None,
    return_to: str = "",
    limits: str = "",
    uncollected: str = "",
    received_at: datetime,
    sure: bool = False,
    by: Hand | None,
    at: datetime,
) -> Intake:
    """Take a client's goods in for a commission. Every piece gets a lot that stays the client's."""
    shop = Shop.the()
    _check_when(commission, received_at, insured_until, shop, at)
    _check_pieces(commission, pieces)
    with write_tx():
        commission = standing_commission(commission)
        intake = Intake(
            code=numbers.take("TI"), commission=commission, received_at=received_at, handed_by=handed_by.strip(),
            authority=authority, how=how, came_clean=came_clean, insured_by=insured_by, insured_until=insured_until,
            return_to=return_to, limits=limits, uncollected=uncollected, taken_by=by,
        )  # fmt: skip
        intake.full_clean(exclude=["taken_by", "commission"])
        intake.save()
        for number, spec in enumerate(pieces, start=1):
            _take_piece(intake, spec, number, shop, sure=sure, by=by, at=at)
        if commission.heard_at is None or commission.heard_at < received_at:
            commission.heard_at = received_at
            commission.save(update_fields=["heard_at"])
        journal.note(
            "took in goods", commission.code, by=by, at=at,
            after={"intake": intake.code, "pieces": len(pieces), "weight_ct": sum(p.weight.ct for p in pieces)},
        )  # fmt: skip
    return intake


def add_piece(
    intake: Intake, spec: PieceSpec, *, sure: bool = False, by: Hand | None, at: datetime
) -> IntakePiece:
    """One more piece of the same handing-over. A receipt that stands is then to be revised."""
    with write_tx():
        intake = open_intake(intake)
        count = intake.pieces.count()
        if count >= MOST_PIECES:
            raise DeedRefused(f"At most {MOST_PIECES} pieces in one taking-in; open a second one.")
        _check_pieces(intake.commission, [spec])
        piece = _take_piece(intake, spec, 1, Shop.the(), sure=sure, by=by, at=at)
        journal.note(
            "took in another piece", intake.commission.code, by=by, at=at,
            after={"intake": intake.code, "lot": piece.lot.code, "weight_ct": piece.weight_ct},
        )  # fmt: skip
    return piece


#: What may be put right about a piece; what the client told of species and treatment is a statement, and stays.
CORRECTABLE = (
    "stated_to_be", "seen_as", "colour", "tests", "inclusions", "chips", "magnification", "laboratory_report",
    "loss_consent_percent", "floor_ct",
)  # fmt: skip


def correct_piece(
    piece: IntakePiece,
    changes: Mapping[str, Any],
    *,
    weight: Weight | None = None,
    reason: str,
    by: Hand | None,
    at: datetime,
) -> IntakePiece:
    """Put right what was mistyped about a piece, its lot's weight with it; the journal keeps what stood there."""
    if not reason.strip():
        raise DeedRefused("Say why it is corrected.", field="reason")
    with write_tx():
        open_intake(piece.intake)
        piece = IntakePiece.objects.select_related("lot", "intake").get(pk=piece.pk)
        told = {name: changes[name] for name in CORRECTABLE if name in changes}
        if weight is not None:
            if weight.ct <= 0:
                raise DeedRefused("Weigh it: nothing weighs nothing.", field="weight")
            told["weight_ct"] = weight.ct
        before = {name: getattr(piece, name) for name in told if getattr(piece, name) != told[name]}
        for name in before:
            setattr(piece, name, told[name])
        if piece.floor_ct is not None and piece.floor_ct > piece.weight_ct:
            raise DeedRefused("The floor is above its weight.", field="floor")
        if not before:
            return piece
        piece.full_clean(exclude=["intake", "lot", "item"])
        piece.save(update_fields=list(before))
        if weight is not None and "weight_ct" in before:
            correct_lot_weight(piece.lot, weight, reason=reason, by=by, at=at)
        journal.note(
            "corrected piece", piece.intake.code, by=by, at=at, reason=reason,
            before={"lot": piece.lot.code, **before}, after={name: told[name] for name in before},
        )  # fmt: skip
    return piece


def _check_when(
    commission: Commission, received_at: datetime, insured_until: date | None, shop: Shop, at: datetime
) -> None:
    day = shop.day_of(received_at)
    if received_at > at:
        raise DeedRefused("The moment it came in lies in the future.", field="received_at")
    if day < commission.asked_on:
        asked = say.moment(commission.asked_on)
        raise DeedRefused(
            f"The enquiry came on {asked}; goods for it cannot have come before.", field="received_at"
        )
    if insured_until is not None and insured_until < day:
        raise DeedRefused("The cover would have ended before the goods came.", field="insured_until")


def _check_pieces(commission: Commission, pieces: Sequence[PieceSpec]) -> None:
    if not pieces:
        raise DeedRefused("Nothing was handed over: give at least one piece.", field="weight_1")
    if len(pieces) > MOST_PIECES:
        raise DeedRefused(f"At most {MOST_PIECES} pieces in one taking-in; open a second one.")
    for number, spec in enumerate(pieces, start=1):
        if spec.item is not None and spec.item.commission_id != commission.pk:
            raise DeedRefused(
                f"That piece belongs to another commission than {commission.code}.", field=f"item_{number}"
            )
        if spec.item is not None and not spec.item.is_open:
            raise DeedRefused(
                f"Piece {spec.item.number} is {spec.item.get_outcome_display()}.", field=f"item_{number}"
            )
        if spec.weight.ct <= 0:
            raise DeedRefused("Weigh it: nothing weighs nothing.", field=f"weight_{number}")
        if spec.floor_ct is not None and spec.floor_ct > spec.weight.ct:
            raise DeedRefused(
                f"The floor of {say.carats(spec.floor_ct)} is above its weight of {say.carats(spec.weight.ct)}.",
                field=f"floor_{number}",
            )
        if spec.declared_value is not None and not spec.declared_words.strip():
            raise DeedRefused(
                "Write the figure in the client's own words too, and who named it: a value put in the client's "
                "mouth may void the cover.",
                field=f"declared_words_{number}",
            )


def _take_piece(
    intake: Intake, spec: PieceSpec, number: int, shop: Shop, *, sure: bool, by: Hand | None, at: datetime
) -> IntakePiece:
    if not sure:
        _ask_about_weight(spec, number)
    currency = (
        (spec.declared_currency or intake.commission.currency) if spec.declared_value is not None else ""
    )
    lot = _receive(intake, spec, number, shop, currency, sure=sure, by=by, at=at)
    columns = spec.columns() | {"intake": intake, "lot": lot, "declared_currency": currency}
    if spec.declared_value is not None and round_money(spec.declared_value, currency) != spec.declared_value:
        raise DeedRefused(f"{currency} has fewer decimal places.", field=f"declared_value_{number}")
    piece = IntakePiece(**columns)
    piece.full_clean(exclude=["intake", "lot"])
    piece.save()
    return piece


def _receive(
    intake: Intake,
    spec: PieceSpec,
    number: int,
    shop: Shop,
    currency: str,
    *,
    sure: bool,
    by: Hand | None,
    at: datetime,
) -> RoughLot:
    client = intake.commission.client
    try:
        return rough.receive_lot(
            sold_as=spec.stated_to_be,
            weight=spec.weight,
            received_on=shop.day_of(intake.received_at),
            came=Origin.LEFT,
            ownership=Ownership.CLIENT,
            owner=client,
            material=spec.told_material,
            pieces=spec.pieces,
            statements=_statements(intake, spec, str(client), shop),
            # The lot's own column is in the shop's currency; another one stands in the piece alone.
            declared_value=spec.declared_value if currency == shop.currency else None,
            notes=f"Taken in as {intake.code} for {intake.commission.code}. Seen here as: {spec.seen_as}",
            sure=sure,
            by=by,
            at=at,
        )
    except PleaseConfirm as doubt:
        raise PleaseConfirm(doubt.message, field=f"weight_{number}") from doubt


def _statements(intake: Intake, spec: PieceSpec, client: str, shop: Shop) -> list[Mapping[str, Any]]:
    """What the client tells of species and treatment, on the rung of the ladder of a thing that was said."""
    common = {
        "evidence": Evidence.SAID,
        "said_by": client,
        "said_on": shop.day_of(intake.received_at),
        "how": f"told by the client at taking in {intake.code}",
    }
    treated = TOLD[ToldTreatment(spec.told_treatment)]
    said: list[Mapping[str, Any]] = [
        {
            "question": Question.TREATMENT,
            "treated": treated,
            "treatments": list(spec.told_treatments) if treated == Treated.TREATED else [],
            "words": spec.treatment_words,
            **common,
        }
    ]
    if spec.told_material is not None:
        said.append(
            {
                "question": Question.SPECIES,
                "material": spec.told_material,
                "words": spec.stated_to_be,
                **common,
            }
        )
    return said


def _ask_about_weight(spec: PieceSpec, number: int) -> None:
    span = believable_span(
        spec.told_material,
        spec.length_mm,
        spec.width_mm,
        spec.depth_mm,
        outline=spec.outline,
        pieces=spec.pieces,
    )
    if span is None or span.low <= spec.weight.ct <= span.high:
        return
    meant = [spec.weight.ct * 10, spec.weight.ct / 10]
    instead = next((f" Did you mean {say.carats(ct)}?" for ct in meant if span.low <= ct <= span.high), "")
    raise PleaseConfirm(
        f"{say.carats(spec.weight.ct)} does not go with its millimetres: {span.words}.{instead} Look at the unit "
        "and the point.",
        field=f"weight_{number}",
    )


# --- Photographs and the faults on them ------------------------------------------------------------------------------


def add_intake_photo(
    piece: IntakePiece, photo: Photo, *, view: str = "", by: Hand | None, at: datetime
) -> IntakePhoto:
    """Bind a kept picture to a piece as it came in."""
    with write_tx():
        if piece.photos.count() >= MOST_PHOTOS:
            raise DeedRefused(f"At most {MOST_PHOTOS} photographs of one piece.", field="pictures")
        bound, made = IntakePhoto.objects.get_or_create(piece=piece, photo=photo, defaults={"view": view})
        if made:
            journal.note(
                "photograph at taking in",
                piece.lot.code,
                by=by,
                at=at,
                after={"sha256": photo.sha256, "view": view},
            )
    return bound


def mark_fault(
    photo: IntakePhoto, *, x_percent: Decimal, y_percent: Decimal, words: str, by: Hand | None, at: datetime
) -> Mark:
    """Point at a fault on a photograph, in per cent of its width from the left and of its height from the top."""
    if not words.strip():
        raise DeedRefused("Say what it is: chip, fissure, inclusion …", field="words")
    for place, field in ((x_percent, "x_percent"), (y_percent, "y_percent")):
        if not 0 <= place <= 100:
            raise DeedRefused("The mark lies outside the picture.", field=field)
    with write_tx():
        intake = open_intake(photo.piece.intake)
        if photo.marks.count() >= MOST_MARKS:
            raise DeedRefused(
                f"{MOST_MARKS} marks are enough for one picture; take a closer one.", field="words"
            )
        mark = Mark(photo=photo, x_percent=x_percent, y_percent=y_percent, words=words.strip())
        mark.full_clean(exclude=["photo"])
        mark.save()
        journal.note("marked a fault", intake.code, by=by, at=at, after={"words": mark.words})
    return mark


def remove_mark(mark: Mark, *, by: Hand | None, at: datetime) -> None:
    """Take a mark off again, as long as no paper shows it."""
    with write_tx():
        intake = open_intake(mark.photo.piece.intake)
        if intake.receipt_id is not None or intake.report_id is not None:
            raise DeedRefused("A paper was issued with this mark; what changed is said in the after-report.")
        journal.note("removed a mark", intake.code, by=by, at=at, before={"words": mark.words})
        mark.delete()
