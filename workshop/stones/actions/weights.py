"""Weighing a stone: each reading kept, each loss with its cause, each slip asked about at once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

from workshop.common import journal
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.formfields import as_typed
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight, looks_tenfold

from ..models import Loss, LossCause, NoteKind, Stage, Stone, StoneNote, Weighing
from .open_stone import BY_NOBODY, check_order, open_stone
from .sharing import carry_on, share_on

ZERO = Decimal(0)


def record_weight(
    stone: Stone,
    weight: Weight,
    *,
    by: Hand | None,
    at: datetime,
    cause: str = LossCause.SWARF,
    parts: Sequence[tuple[str, Decimal]] = (),
    note: str = "",
    sure: bool = False,
) -> Weighing:
    """Weigh a loose, clean stone. ``parts`` names causes of parts of the loss; the rest is put to ``cause``."""
    with write_tx():
        stone = open_stone(stone)
        check_order(stone, at)
        _check_scale(stone, weight, sure=sure)
        order = stone.weighings.filter(counts=True).order_by("-order").values_list("order", flat=True)[0] + 1
        lost = stone.weight_ct - weight.ct
        if sum((ct for _, ct in parts), ZERO) > lost:
            raise DeedRefused(f"The parts named add up to more than the {lost} ct that went.", field="parts")
        weighing = Weighing(
            stone=stone,
            weight_ct=weight.ct,
            entered=as_typed(weight),
            stage=stone.stage,
            at=at,
            by=by,
            cause=cause,
            note=note,
            order=order,
        )
        weighing.full_clean(exclude=BY_NOBODY)
        weighing.save()
        for part_cause, ct in parts:
            Loss.objects.create(stone=stone, weighing=weighing, weight_ct=ct, cause=part_cause, at=at)
        before = stone.weight_ct
        _restate(stone)
        stone.touched_at = at
        stone.save(update_fields=["weight_ct", "start_ct", "touched_at"])
        journal.note(
            "weighed", stone.code, by=by, at=at, before={"weight_ct": before}, after={"weight_ct": weight.ct}
        )
    return weighing


def _check_scale(stone: Stone, weight: Weight, *, sure: bool) -> None:
    if stone.on_dop:
        raise DeedRefused(
            f"{stone.code} is on the dop: a weight read now weighs dop and wax too. Keep it as a note.",
            field="weight",
        )
    meant = looks_tenfold(weight.ct, stone.weight_ct)
    hint = f" Did you mean {meant} ct?" if meant is not None else ""
    if weight.ct > stone.weight_ct:
        raise DeedRefused(
            f"That is above the last weight of {stone.weight_ct} ct. If the last one was wrong, correct it.{hint}",
            field="weight",
        )
    if meant is not None and not sure:
        raise PleaseConfirm(f"From {stone.weight_ct} ct to {weight.ct} ct at once?{hint}", field="weight")


def correct_weight(
    weighing: Weighing, weight: Weight, *, reason: str, by: Hand | None, at: datetime
) -> Weighing:
    """Put a wrong reading right. Both stay; the run of weighings must still only fall."""
    if not reason.strip():
        raise DeedRefused("Say why it is corrected.", field="reason")
    with write_tx():
        weighing = Weighing.objects.get(pk=weighing.pk)
        stone = open_stone(weighing.stone)
        if not weighing.counts:
            raise DeedRefused("This reading was corrected already; correct the one that counts.")
        _check_neighbours(weighing, weight.ct)
        weighing.counts = False
        weighing.save(update_fields=["counts"])
        fresh = Weighing(
            stone=stone,
            weight_ct=weight.ct,
            entered=as_typed(weight),
            stage=weighing.stage,
            at=weighing.at,
            by=by,
            cause=weighing.cause,
            note=weighing.note,
            order=weighing.order,
            corrects=weighing,
            reason=reason,
        )
        fresh.full_clean(exclude=BY_NOBODY)
        fresh.save()
        # What was named as chips or skin stays named; only the size of the rest follows the new reading.
        weighing.losses.update(weighing=fresh)
        _restate(stone)
        _restate_start(stone)
        stone.touched_at = at
        stone.save(update_fields=["weight_ct", "start_ct", "touched_at"])
        if weighing.order == 0:
            share_on(stone.lot)
            if stone.parent is not None:
                carry_on(stone.parent)
        journal.note(
            "corrected weight",
            stone.code,
            by=by,
            at=at,
            before={"weight_ct": weighing.weight_ct},
            after={"weight_ct": weight.ct},
            reason=reason,
        )
    return fresh


def _check_neighbours(weighing: Weighing, ct: Decimal) -> None:
    run = weighing.stone.weighings.filter(counts=True)
    above = run.filter(order__lt=weighing.order).order_by("-order").first()
    below = run.filter(order__gt=weighing.order).order_by("order").first()
    if above is not None and ct > above.weight_ct:
        raise DeedRefused(
            f"The weighing before it says {above.weight_ct} ct; it cannot be more.", field="weight"
        )
    if below is not None and ct < below.weight_ct:
        raise DeedRefused(
            f"The weighing after it says {below.weight_ct} ct; it cannot be less.", field="weight"
        )


def _restate(stone: Stone) -> None:
    """Bring losses and the present weight in step with the weighings that count."""
    run = list(stone.weighings.filter(counts=True).order_by("order"))
    for last, now in pairwise(run):
        lost = last.weight_ct - now.weight_ct
        named = [loss for loss in now.losses.order_by("pk") if loss.cause != now.cause]
        room = lost
        for loss in named:
            # A corrected reading may leave less room than the parts once named.
            loss.weight_ct = min(loss.weight_ct, room)
            room -= loss.weight_ct
        now.losses.exclude(pk__in=[loss.pk for loss in named if loss.weight_ct]).delete()
        Loss.objects.bulk_update([loss for loss in named if loss.weight_ct], ["weight_ct"])
        if room:
            Loss.objects.create(stone=stone, weighing=now, weight_ct=room, cause=now.cause, at=now.at)
    stone.start_ct, stone.weight_ct = run[0].weight_ct, run[-1].weight_ct


def _restate_start(stone: Stone) -> None:
    """Carry a corrected first weight to where the stone came from: the draw, or the parent's gap."""
    if stone.parent is None:
        draw = stone.draw
        draw.weight_ct = stone.start_ct
        draw.save(update_fields=["weight_ct"])
        return
    parent = stone.parent
    others = sum((child.start_ct for child in parent.children.exclude(pk=stone.pk)), ZERO)
    gone = sum((loss.weight_ct for loss in parent.losses.filter(weighing__isnull=True)), ZERO)
    parent.gap_ct = parent.weight_ct - others - gone - stone.start_ct
    if parent.gap_ct < 0:
        raise DeedRefused(
            f"{parent.code} weighed {parent.weight_ct} ct; its pieces cannot weigh more.", field="weight"
        )
    parent.save(update_fields=["gap_ct"])


def note_dop_reading(stone: Stone, text: str, *, by: Hand | None, at: datetime) -> StoneNote:
    """Keep what the scale said with dop and wax as a note; it never becomes a weight of the stone."""
    with write_tx():
        stone = open_stone(stone)
        note = StoneNote(stone=stone, kind=NoteKind.ON_DOP, text=text, stage=Stage(stone.stage), at=at, by=by)
        note.full_clean(exclude=BY_NOBODY)
        note.save()
        journal.note("dop reading noted", stone.code, by=by, at=at, after={"text": text})
    return note
