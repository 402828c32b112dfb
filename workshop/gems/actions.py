"""What people do with finished gems: finish one, price it, move it, send it back to work, let it go."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight
from workshop.papers import actions as papers
from workshop.papers.models import Paper
from workshop.people.models import Contact, Ownership, Place
from workshop.stones import actions as stones
from workshop.stones.models import ExtraKind, Stage, StageChange, Stone, StonePhoto

from .bound import refuse_bound
from .measures import doubts_about, in_order
from .models import FinishedGem, Gone, PriceChange, PriceLevel

#: A deed of nobody's (an import, the demo) is allowed; a blank author is no error of the person at the form.
BY_NOBODY = ("by",)


@dataclass(frozen=True)
class Measured:
    """What is measured and described when a stone is finished: mm, and for a round greatest and least diameter."""

    weight: Weight
    length_mm: Decimal
    width_mm: Decimal
    depth_mm: Decimal
    shape: str
    colour: str
    colour_light: str = ""
    cut: str = ""
    clarity: str = ""
    girdle: str = ""
    culet: str = ""
    table_percent: Decimal | None = None
    crown_angle_deg: Decimal | None = None
    pavilion_angle_deg: Decimal | None = None
    facets: int | None = None
    cut_by: str = ""
    notes: str = ""


def finish_gem(
    stone: Stone,
    measured: Measured,
    *,
    by: Hand | None,
    at: datetime,
    public_photo: StonePhoto | None = None,
    oil_left: str = "",
    sure: bool = False,
) -> FinishedGem:
    """Weigh, measure and accept a stone that is off the dop, clean and loose.

    ``oil_left`` says which oil or wax went into its fissures and stayed: that is stated as the treatment it is.
    """
    with write_tx():
        stone = Stone.objects.select_related("lot", "material").get(pk=stone.pk)
        if stone.stage != Stage.OFF_DOP or stone.ending:
            raise DeedRefused(
                f"{stone.code} has to be off the dop, clean and loose, to be weighed and described."
            )
        measured = _in_order(measured)
        last_ct = stone.weight_ct
        stones.record_weight(stone, measured.weight, by=by, at=at, note="finished", sure=True)
        if not sure:
            _ask_about(measured, stone, last_ct)
        stone.refresh_from_db()
        gem = FinishedGem(
            code=numbers.take("G"),
            stone=stone,
            weight_ct=measured.weight.ct,
            whole_ct=stone.start_ct,
            trimmed_ct=_weight_at(stone, (Stage.SELECTED, Stage.SAWN)),
            preform_ct=_weight_at(stone, (Stage.PREFORMED,)),
            finished_on=Shop.the().day_of(at),
            public_photo=public_photo,
            ownership=stone.ownership,
            owner=stone.owner,
            place=Place.SAFE,
            held_since=Shop.the().day_of(at),
            declared_value=stone.declared_value,
            cost_at_finish=stone.cost_to_date,
            **{name: value for name, value in vars(measured).items() if name != "weight"},
        )
        _check_photo(gem, public_photo)
        gem.full_clean()
        gem.save()
        if oil_left:
            stones.say_filled(stone, oil_left, said_by=measured.cut_by or Shop.the().cutter, by=by, at=at)
        _step(stone, Stage.FINISHED, by=by, at=at, reason="", went_back=False)
        journal.note(
            "finished",
            gem.code,
            by=by,
            at=at,
            after={"stone": stone.code, "weight_ct": gem.weight_ct, "recovery": gem.recovery_from_whole},
        )
    return gem


def _in_order(measured: Measured) -> Measured:
    """Length before width as the outline is measured, whichever was typed first."""
    length, width = in_order(measured.shape, measured.length_mm, measured.width_mm)
    return replace(measured, length_mm=length, width_mm=width)


def _ask_about(measured: Measured, stone: Stone, last_ct: Decimal) -> None:
    sides = (measured.length_mm, measured.width_mm, measured.depth_mm)
    doubts = list(
        doubts_about(
            measured.shape, sides, weight_ct=measured.weight.ct, last_ct=last_ct, material=stone.material
        )
    )
    if doubts:
        raise PleaseConfirm(" ".join(words for _, words in doubts), field=doubts[0][0])


def _weight_at(stone: Stone, stages: tuple[Stage, ...]) -> Decimal | None:
    """The last weighing at some stages, not counting the one the stone began with."""
    return (
        stone.weighings.filter(counts=True, order__gt=0, stage__in=stages)
        .order_by("-order")
        .values_list("weight_ct", flat=True)
        .first()
    )


def _check_photo(gem: FinishedGem, photo: StonePhoto | None) -> None:
    if photo is not None and photo.stone_id != gem.stone_id:
        raise DeedRefused("That photograph shows another stone.", field="public_photo")


def _step(stone: Stone, new: Stage, *, by: Hand | None, at: datetime, reason: str, went_back: bool) -> None:
    StageChange.objects.create(
        stone=stone, old=stone.stage, new=new, at=at, by=by, reason=reason, went_back=went_back
    )
    stone.stage, stone.touched_at = new, at
    stone.waiting_for, stone.waiting_note, stone.waiting_since, stone.stop_note = "", "", None, ""
    stone.place, stone.held_since = (Place.BENCH if went_back else Place.SAFE), Shop.the().day_of(at)
    stone.holder = None
    stone.save(
        update_fields=[
            "stage", "touched_at", "waiting_for", "waiting_note", "waiting_since", "stop_note", "place", "held_since",
            "holder", "rework", "treatment_asked_at",
        ]
    )  # fmt: skip


def send_back(gem: FinishedGem, *, to: str, reason: str, by: Hand | None, at: datetime) -> Stone:
    """A finished stone goes back to work: a scratch, a recut. Its papers are void and its treatment is asked again."""
    if not reason.strip():
        raise DeedRefused("Say why it goes back to work.", field="reason")
    with write_tx():
        gem = _standing(gem)
        refuse_bound(gem)
        if gem.place not in {Place.SAFE, Place.BENCH}:
            raise DeedRefused(f"{gem.code} is {gem.get_place_display()}; bring it home first.")
        stone = Stone.objects.get(pk=gem.stone_id)
        if to not in Stage.values or to == Stage.FINISHED:
            raise DeedRefused("Name the stage it goes back to.", field="to")
        stone.rework, stone.treatment_asked_at = True, at
        _step(stone, Stage(to), by=by, at=at, reason=reason, went_back=True)
        _void_papers(gem, f"back for work: {reason}", by=by, at=at)
        _close(gem, Gone.RECUT, Shop.the().day_of(at), reason)
        journal.note("back for work", gem.code, by=by, at=at, after={"stage": to}, reason=reason)
    return stone


def _void_papers(gem: FinishedGem, reason: str, *, by: Hand | None, at: datetime) -> None:
    for paper in Paper.objects.standing().about(gem.code):
        papers.void(paper, reason=reason, by=by, at=at)


def _standing(gem: FinishedGem) -> FinishedGem:
    fresh = FinishedGem.objects.select_related("stone", "owner").get(pk=gem.pk)
    if fresh.gone_on is not None:
        raise DeedRefused(f"{fresh.code} is {fresh.get_gone_as_display()} since {fresh.gone_on}.")
    return fresh


def _close(gem: FinishedGem, gone_as: str, on: date, note: str) -> None:
    gem.gone_as, gem.gone_on, gem.gone_note = gone_as, on, note[:200]
    gem.save(update_fields=["gone_as", "gone_on", "gone_note"])


def set_price(
    gem: FinishedGem,
    amount: Decimal,
    *,
    by: Hand | None,
    at: datetime,
    level: str = PriceLevel.RETAIL,
    reason: str = "",
) -> PriceChange:
    """Ask a price. The older ones stay in the history."""
    with write_tx():
        gem = _standing(gem)
        if gem.ownership != Ownership.SHOP:
            raise DeedRefused(f"{gem.code} is not the shop's to price.")
        change = PriceChange(
            gem=gem, level=level, amount=amount, set_on=Shop.the().day_of(at), reason=reason, by=by
        )
        change.full_clean(exclude=BY_NOBODY)
        before = gem.prices.filter(level=level).values_list("amount", flat=True).first()
        change.save()
        if level == PriceLevel.RETAIL:
            gem.price = amount
            gem.save(update_fields=["price"])
        journal.note(
            "priced", gem.code, by=by, at=at, before={level: before}, after={level: amount}, reason=reason
        )
    return change


#: Places a gem can be moved to by hand, and whether somebody there has to be named.
MOVES = {
    Place.SAFE: False,
    Place.BENCH: False,
    Place.POST: False,
    Place.MEMO: True,
    Place.LABORATORY: True,
    Place.SETTER: True,
    Place.CLIENT: True,
}


def move_gem(
    gem: FinishedGem,
    *,
    place: str,
    since: date,
    by: Hand | None,
    at: datetime,
    holder: Contact | None = None,
    declared_value: Decimal | None = None,
) -> FinishedGem:
    """Say who has the gem tonight, since when, at what declared value."""
    if place not in MOVES:
        raise DeedRefused("A gem is not moved there by hand.", field="place")
    if MOVES[Place(place)] and holder is None:
        raise DeedRefused("Say who has it.", field="holder")
    if since > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="since")
    with write_tx():
        gem = _standing(gem)
        if since < gem.finished_on:
            raise DeedRefused(f"It was finished on {gem.finished_on}; it was nowhere before.", field="since")
        refuse_bound(gem)
        if why := gem.why_not_there(place, holder):
            raise DeedRefused(why, field="place")
        before = {"place": gem.place, "holder": gem.holder}
        gem.place, gem.held_since, gem.declared_value = place, since, declared_value
        gem.holder = holder if MOVES[Place(place)] else None
        gem.full_clean()
        gem.save(update_fields=["place", "holder", "held_since", "declared_value"])
        journal.note(
            "moved gem", gem.code, by=by, at=at, before=before, after={"place": place, "holder": gem.holder}
        )
    return gem


DESCRIBED = (
    "cut", "colour", "colour_light", "clarity", "girdle", "culet", "table_percent", "crown_angle_deg",
    "pavilion_angle_deg", "facets", "cut_by", "notes", "public_photo",
)  # fmt: skip


def describe_gem(
    gem: FinishedGem, changes: dict[str, object], *, by: Hand | None, at: datetime
) -> FinishedGem:
    """Change the words about a gem (not its weight or size: those come off the scale and the gauge when finished)."""
    with write_tx():
        gem = _standing(gem)
        changes = {name: value for name, value in changes.items() if name in DESCRIBED}
        changes = {name: value for name, value in changes.items() if getattr(gem, name) != value}
        if not changes:
            return gem
        before = {name: getattr(gem, name) for name in changes}
        for name, value in changes.items():
            setattr(gem, name, value)
        _check_photo(gem, gem.public_photo)
        gem.full_clean()
        gem.save()
        journal.note("described gem", gem.code, by=by, at=at, before=before, after=changes)
    return gem


#: Where a gem is once it left the books.
_PLACE_AFTER = {
    Gone.SOLD: Place.BUYER,
    Gone.DELIVERED: Place.CLIENT,
    Gone.GIVEN: Place.GONE,
    Gone.KEPT: Place.GONE,
    Gone.LOST: Place.GONE,
}


def let_go(
    gem: FinishedGem,
    *,
    gone_as: str,
    on: date,
    by: Hand | None,
    at: datetime,
    holder: Contact | None = None,
    note: str = "",
    still_here: bool = False,
) -> FinishedGem:
    """The gem leaves the books: sold, delivered to its owner, given, kept or lost. Others' goods only go home.

    ``still_here``: sold, but it lies here until ``hand_over``.
    """
    with write_tx():
        gem = _standing(gem)
        refuse_bound(gem)
        if gone_as not in _PLACE_AFTER:
            raise DeedRefused("Sending a gem back to work is a deed of its own.", field="gone_as")
        if gem.ownership == Ownership.SHOP and gone_as == Gone.DELIVERED:
            raise DeedRefused(f"{gem.code} is the shop's own; it is sold or given.", field="gone_as")
        if gem.ownership != Ownership.SHOP and gone_as not in {Gone.DELIVERED, Gone.LOST}:
            raise DeedRefused(
                f"{gem.code} belongs to {gem.whose}; it leaves only to its owner.", field="gone_as"
            )
        if on < gem.finished_on:
            raise DeedRefused(
                f"{gem.code} was finished on {gem.finished_on}; it cannot leave before.", field="on"
            )
        if on > Shop.the().day_of(at):
            raise DeedRefused("The day lies in the future.", field="on")
        if gone_as in {Gone.LOST, Gone.GIVEN, Gone.KEPT} and not note.strip():
            raise DeedRefused("Say how.", field="note")
        if not still_here:
            gem.place, gem.held_since = _PLACE_AFTER[Gone(gone_as)], on
            gem.holder = gem.owner if gone_as == Gone.DELIVERED else holder
        gem.save(update_fields=["place", "held_since", "holder"])
        _close(gem, gone_as, on, note)
        stones.fix_cost(Stone.objects.select_related("lot").get(pk=gem.stone_id), fixed=True)
        journal.note("left the books", gem.code, by=by, at=at, after={"as": gone_as, "on": on}, reason=note)
    return gem


def hand_over(gem: FinishedGem, *, on: date, holder: Contact, by: Hand | None, at: datetime) -> FinishedGem:
    """A gem that was sold before leaves the house."""
    with write_tx():
        gem = FinishedGem.objects.get(pk=gem.pk)
        if gem.gone_as != Gone.SOLD or gem.gone_on is None:
            raise DeedRefused(f"{gem.code} is not sold.")
        if gem.place == Place.BUYER:
            raise DeedRefused(f"{gem.code} is with the buyer since {gem.held_since}.")
        if on < gem.gone_on:
            raise DeedRefused(f"{gem.code} was sold on {gem.gone_on}; it cannot leave before.", field="on")
        before = {"place": gem.place}
        gem.place, gem.holder, gem.held_since = Place.BUYER, holder, on
        gem.save(update_fields=["place", "holder", "held_since"])
        journal.note("handed over", gem.code, by=by, at=at, before=before, after={"on": on, "holder": holder})
    return gem


def buy_from_owner(
    gem: FinishedGem, *, paid: Decimal, reason: str, by: Hand | None, at: datetime
) -> FinishedGem:
    """The shop buys somebody else's gem: gem and stone become its own, and the price a cost of the stone."""
    if not reason.strip():
        raise DeedRefused("Say how it changed hands.", field="reason")
    if paid < 0:
        raise DeedRefused("Give a price of zero or more.", field="paid")
    with write_tx():
        gem = _standing(gem)
        if gem.ownership == Ownership.SHOP:
            raise DeedRefused(f"{gem.code} is the shop's own already.")
        before = {"ownership": gem.ownership, "owner": gem.owner}
        for thing in (gem, Stone.objects.get(pk=gem.stone_id)):
            thing.ownership, thing.owner = Ownership.SHOP, None
            thing.save(update_fields=["ownership", "owner"])
        if paid:
            stones.charge_stone(
                gem.stone, kind=ExtraKind.MATERIAL, amount=paid, on=Shop.the().day_of(at), by=by, at=at,
                note=reason[:200],
            )  # fmt: skip
        after = {"ownership": Ownership.SHOP.value, "paid": paid}
        journal.note("changed hands", gem.code, by=by, at=at, before=before, after=after, reason=reason)
    return gem


def found_again(gem: FinishedGem, *, reason: str, by: Hand | None, at: datetime) -> FinishedGem:
    """A gem that was lost, given, kept or delivered is back. A sold one comes back with its sale."""
    if not reason.strip():
        raise DeedRefused("Say how it came back.", field="reason")
    with write_tx():
        if FinishedGem.objects.get(pk=gem.pk).gone_as == Gone.SOLD:
            raise DeedRefused(f"{gem.code} was sold; take the sale back.")
        return take_back(gem, reason=reason, by=by, at=at)


def take_back(gem: FinishedGem, *, reason: str, by: Hand | None, at: datetime) -> FinishedGem:
    """A gem comes back on the books: a sale was taken back, or a lost one was found."""
    with write_tx():
        gem = FinishedGem.objects.select_related("stone").get(pk=gem.pk)
        if gem.gone_on is None or gem.gone_as == Gone.RECUT:
            raise DeedRefused(f"{gem.code} is not away.")
        before = {"gone_as": gem.gone_as, "gone_on": gem.gone_on}
        gem.gone_as, gem.gone_on, gem.gone_note = "", None, ""
        gem.place, gem.holder, gem.held_since = Place.SAFE, None, Shop.the().day_of(at)
        gem.full_clean()
        gem.save()
        stones.fix_cost(Stone.objects.select_related("lot").get(pk=gem.stone_id), fixed=False)
        journal.note("came back", gem.code, by=by, at=at, before=before, reason=reason)
    return gem
