"""Moving a stone along, back with a reason, into waiting and out of it, and to an end."""

from __future__ import annotations

from datetime import datetime, timedelta

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.formfields import as_typed
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight
from workshop.people.models import Ownership, Place

from ..models import REOPENABLE, STAGES, Ending, LossCause, Stage, StageChange, Stone, Wait
from .open_stone import BY_NOBODY, open_stone
from .sharing import share_on
from .times import stop_clocks_on
from .weights import record_weight


def move_on(stone: Stone, new: str, *, by: Hand | None, at: datetime) -> Stone:
    """Step to a later stage; stages may be skipped. Finishing is a deed of its own, with measurements."""
    with write_tx():
        stone = open_stone(stone)
        if STAGES.index(Stage(new)) <= STAGES.index(Stage(stone.stage)):
            raise DeedRefused("That stage lies behind it; to go back, give a reason.", field="stage")
        if new == Stage.FINISHED:
            raise DeedRefused("Finish the stone with its weight and measurements.", field="stage")
        return _change(stone, new, by=by, at=at, reason="", went_back=False)


def go_back(stone: Stone, new: str, *, reason: str, by: Hand | None, at: datetime) -> Stone:
    """Step back because of a chip, an inclusion reached, a recut. The hours after it count as rework."""
    if not reason.strip():
        raise DeedRefused("Say why it goes back: a chip, an inclusion reached, a recut.", field="reason")
    with write_tx():
        stone = open_stone(stone)
        if STAGES.index(Stage(new)) >= STAGES.index(Stage(stone.stage)):
            raise DeedRefused("That stage does not lie behind it.", field="stage")
        stone.rework = True
        return _change(stone, new, by=by, at=at, reason=reason, went_back=True)


def _change(stone: Stone, new: str, *, by: Hand | None, at: datetime, reason: str, went_back: bool) -> Stone:
    step = StageChange(
        stone=stone, old=stone.stage, new=new, at=at, by=by, reason=reason, went_back=went_back
    )
    step.full_clean(exclude=BY_NOBODY)
    step.save()
    before = {"stage": stone.stage, "waiting_for": stone.waiting_for}
    stone.stage, stone.touched_at = new, at
    stone.waiting_for, stone.waiting_note, stone.waiting_since = "", "", None
    stone.save(
        update_fields=["stage", "touched_at", "rework", "waiting_for", "waiting_note", "waiting_since"]
    )
    verb = "went back" if went_back else "moved on"
    journal.note(verb, stone.code, by=by, at=at, before=before, after={"stage": new}, reason=reason)
    return stone


#: How long a tap on the wrong stage may simply be taken back.
TAKE_BACK = timedelta(minutes=10)


def take_back_step(step: StageChange, *, by: Hand | None, at: datetime) -> Stone:
    """Undo a step on that was tapped by mistake: no rework, no reason asked, and both rows stay."""
    with write_tx():
        stone = open_stone(step.stone)
        last = stone.stage_changes.order_by("-pk").first()
        if last is None or last.pk != step.pk or last.went_back:
            raise DeedRefused("Only the last step on can be taken back; to go further back, give a reason.")
        if at - last.at > TAKE_BACK:
            raise DeedRefused("That step is some time ago; to go back, give a reason.")
        if stone.weighings.filter(counts=True, at__gte=last.at, order__gt=0).exists():
            raise DeedRefused("It was weighed since; to go back, give a reason.")
        return _change(stone, last.old, by=by, at=at, reason="tapped by mistake", went_back=False)


def wait_for(stone: Stone, what: str, *, by: Hand | None, at: datetime, note: str = "") -> Stone:
    """Lay a stone aside where it stands, for a named reason."""
    if what == Wait.OTHER and not note.strip():
        raise DeedRefused("Say what it waits for.", field="note")
    with write_tx():
        stone = open_stone(stone)
        stone.waiting_for, stone.waiting_note, stone.waiting_since = Wait(what), note, at
        stone.touched_at = at
        stone.full_clean()
        stone.save(update_fields=["waiting_for", "waiting_note", "waiting_since", "touched_at"])
        journal.note("waits", stone.code, by=by, at=at, after={"for": what, "note": note})
    return stone


def resume(stone: Stone, *, by: Hand | None, at: datetime) -> Stone:
    """Take a waiting stone up again."""
    with write_tx():
        stone = open_stone(stone)
        if not stone.waiting_for:
            raise DeedRefused(f"{stone.code} is not waiting.")
        before = {"for": stone.waiting_for, "since": stone.waiting_since}
        stone.waiting_for, stone.waiting_note, stone.waiting_since = "", "", None
        stone.touched_at = at
        stone.save(update_fields=["waiting_for", "waiting_note", "waiting_since", "touched_at"])
        journal.note("resumed", stone.code, by=by, at=at, before=before)
    return stone


def break_stone(
    stone: Stone,
    *,
    reason: str,
    by: Hand | None,
    at: datetime,
    fragments: Weight | None = None,
    cost_on_survivors: bool = False,
) -> Stone:
    """A stone broke in work. What is left is weighed; its cost stays as a loss or goes on the lot's survivors."""
    with write_tx():
        stone = open_stone(stone)
        if fragments is not None:
            if stone.on_dop:
                # Broken means off the dop: the fragments are loose and can be weighed.
                _change(stone, Stage.OFF_DOP, by=by, at=at, reason="", went_back=False)
            if fragments.ct > stone.weight_ct:
                raise DeedRefused(
                    f"The fragments cannot weigh more than {stone.weight_ct} ct.", field="fragments"
                )
            record_weight(
                stone,
                fragments,
                by=by,
                at=at,
                cause=LossCause.CHIPS,
                note=f"fragments, {as_typed(fragments)}",
                sure=True,
            )
            stone = open_stone(stone)
        stone.bears_cost = not cost_on_survivors
        return _end(stone, Ending.BROKEN, reason=reason, by=by, at=at)


def end_stone(stone: Stone, ending: str, *, reason: str, by: Hand | None, at: datetime) -> Stone:
    """A stone is lost, scrapped, put by, or goes back unworked."""
    if ending not in {Ending.LOST, Ending.SCRAPPED, Ending.PUT_BY, Ending.UNWORKED}:
        raise DeedRefused("That ending has a deed of its own.", field="ending")
    with write_tx():
        stone = open_stone(stone)
        if ending == Ending.UNWORKED and stone.ownership == Ownership.SHOP:
            raise DeedRefused(
                "The shop's own stone has nobody to go back to; put it by instead.", field="ending"
            )
        return _end(stone, ending, reason=reason, by=by, at=at)


#: Where a stone is once it ended.
_PLACE_AFTER = {
    Ending.LOST: Place.GONE,
    Ending.SCRAPPED: Place.GONE,
    Ending.UNWORKED: Place.CLIENT,
    Ending.PUT_BY: Place.SAFE,
    Ending.BROKEN: Place.SAFE,
}


def _end(stone: Stone, ending: str, *, reason: str, by: Hand | None, at: datetime) -> Stone:
    if not reason.strip() and ending != Ending.PUT_BY:
        raise DeedRefused("Say what happened.", field="reason")
    stone.ending, stone.ended_at, stone.ended_why = ending, at, reason
    stone.waiting_for, stone.waiting_note, stone.waiting_since = "", "", None
    stone.touched_at = at
    stone.place, stone.held_since = _PLACE_AFTER[Ending(ending)], Shop.the().day_of(at)
    stone.holder = stone.owner if ending == Ending.UNWORKED else None
    stone.full_clean()
    stone.save()
    stop_clocks_on(stone, at=at)
    share_on(stone.lot)
    stone.refresh_from_db()
    journal.note(
        "ended",
        stone.code,
        by=by,
        at=at,
        after={"ending": ending, "weight_ct": stone.weight_ct},
        reason=reason,
    )
    return stone


def hand_to_owner(stone: Stone, *, by: Hand | None, at: datetime, reason: str = "") -> Stone:
    """What is left of others' goods, broken, scrapped or put by, goes home to its owner."""
    with write_tx():
        stone = Stone.objects.select_related("owner").get(pk=stone.pk)
        if stone.ownership == Ownership.SHOP:
            raise DeedRefused(f"{stone.code} is the shop's own; it has nobody to go back to.")
        if stone.ending not in {Ending.BROKEN, Ending.SCRAPPED, Ending.PUT_BY}:
            raise DeedRefused(f"{stone.code} is {stone.state_word}; that goes back by another deed.")
        if stone.place == Place.CLIENT:
            raise DeedRefused(f"{stone.code} is back with its owner already.")
        before = {"place": stone.place}
        if stone.ending == Ending.PUT_BY:
            # Put by means here to be taken up again; what went home is not.
            stone.ending, stone.ended_why = Ending.UNWORKED, (reason or stone.ended_why or "given back")[:300]
        stone.place, stone.holder, stone.held_since = Place.CLIENT, stone.owner, Shop.the().day_of(at)
        stone.touched_at = at
        stone.full_clean()
        stone.save()
        after = {"place": stone.place, "holder": stone.holder}
        journal.note("handed to owner", stone.code, by=by, at=at, before=before, after=after, reason=reason)
    return stone


def take_up_again(stone: Stone, *, reason: str, by: Hand | None, at: datetime) -> Stone:
    """A lost stone is found, or one put by is taken up: the ending is reversed, and the journal keeps it."""
    if not reason.strip():
        raise DeedRefused("Say where it was found, or why it is taken up.", field="reason")
    with write_tx():
        stone = Stone.objects.select_related("lot").get(pk=stone.pk)
        if stone.ending not in REOPENABLE:
            raise DeedRefused("Only a lost stone can be found, and one put by taken up.")
        before = {"ending": stone.ending, "why": stone.ended_why}
        stone.ending, stone.ended_at, stone.ended_why = "", None, ""
        stone.place, stone.holder, stone.held_since = Place.BENCH, None, Shop.the().day_of(at)
        stone.touched_at = at
        stone.save()
        share_on(stone.lot)
        stone.refresh_from_db()
        journal.note("taken up again", stone.code, by=by, at=at, before=before, reason=reason)
    return stone


def describe_stone(stone: Stone, changes: dict[str, object], *, by: Hand | None, at: datetime) -> Stone:
    """Change plan, kind of work, shape, first side or the rough's dimensions; the journal keeps the old words."""
    allowed = {
        "plan", "work", "shape", "first_side", "length_mm", "width_mm", "depth_mm", "stop_note", "material",
    }  # fmt: skip
    with write_tx():
        stone = open_stone(stone)
        changes = {name: value for name, value in changes.items() if name in allowed}
        before = {name: getattr(stone, name) for name in changes}
        for name, value in changes.items():
            setattr(stone, name, value)
        stone.touched_at = at
        stone.full_clean()
        stone.save()
        journal.note("changed plan", stone.code, by=by, at=at, before=before, after=changes)
    return stone
