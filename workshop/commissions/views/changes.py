"""When a piece ends otherwise, goods change hands, a design changes, a client is silent, or all of it is cancelled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import DeedForm, posted
from workshop.stones.models import Ending, Stone

from .. import progress
from ..access import commission_of, item_of
from ..actions import changes
from ..actions.goods import goods_of, goods_of_none
from ..forms.account import accepted
from ..forms.changes import (
    BrokenForm,
    BuyForm,
    CancelForm,
    DesignForm,
    DropForm,
    FoundForm,
    LostForm,
    OffCutForm,
    ReplaceForm,
    RestForm,
    UnworkedForm,
    WordsForm,
)
from ..models import Commission, CommissionItem, OffCuts
from .account import LAW
from .pages import deed_page, shop_of, today_of


def _typed(request: HttpRequest, commission: Commission) -> dict[str, Any]:
    return {"commission": commission, "shop": shop_of(request), "today": today_of(request, timezone.now())}


def _piece_page(
    request: HttpRequest, item: CommissionItem, form: DeedForm, deed: Callable[[], object], **words: Any
) -> HttpResponse:
    """The form of a deed on one piece, with its stones and weights beside it."""
    shown = {"item": item, "stones": progress.stones_of(item), "goods": goods_of(item), **words}
    return deed_page(
        request, item.commission, form, deed, at=f"#piece-{item.number}", template="commissions/changes_deed.html",
        **shown,
    )  # fmt: skip


def _refused(request: HttpRequest, item: CommissionItem, title: str, why: str) -> HttpResponse:
    context = {"commission": item.commission, "title": title, "refusal": why}
    return render(
        request, "commissions/changes_refused.html", context, status=422 if request.method == "POST" else 200
    )


def _side(item: CommissionItem) -> bool:
    """Whether sums hold the tax, as the accepted version says."""
    quote = accepted(item.commission)
    return quote is None or quote.tax_included


def _which(item: CommissionItem, wanted: Callable[[Stone], bool]) -> list[Stone]:
    return [stone for stone in progress.stones_of(item) if wanted(stone)]


@owner_only
def unworked(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """A client's piece goes back as it came."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    form = UnworkedForm(posted(request), **_typed(request, item.commission))

    def deed() -> None:
        changes.return_unworked(
            item, tax_percent=form.tax, tax_included=_side(item), by=by, at=now,
            **form.take("given_back", "note", "fee", "on"),
        )  # fmt: skip

    step = shop_of(request).scale_step_ct
    return _piece_page(
        request, item, form, deed, title=f"Piece {number} goes back unworked", submit="Give it back",
        done=f"Piece {number} went back unworked.", law=LAW,
        hint=f"Weight back is weight in, within a step of your scale ({step.normalize():f} ct).",
    )  # fmt: skip


@owner_only
def broken(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """A stone of a piece broke in work."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    # What a hand told of at the bench ends its piece here, with the money.
    stones = _which(item, lambda stone: stone.is_open or (item.is_open and stone.ending == Ending.BROKEN))
    if not stones:
        return _refused(request, item, "It broke", f"No stone of piece {number} is at work.")
    form = BrokenForm(posted(request), stones=stones, **_typed(request, item.commission))
    names = ("stone", "reason", "fragments", "handed_back", "goes_on", "price", "on")
    return _piece_page(
        request, item, form,
        lambda: changes.tell_broken(
            item, tax_percent=form.tax, tax_included=_side(item), by=by, at=now, **form.take(*names)
        ),
        title=f"A stone of piece {number} broke", submit="Keep it so",
        done="It is kept as broken in work. Tell the client now; photographs of the fragments help.", law=LAW,
        hint="Its hours stay. The fragments stay whose the stone was. Fell it into pieces worth cutting? Make several "
        "of it on the stone's own page instead.",
    )  # fmt: skip


@owner_only
def lost(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """A stone of a piece is lost."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    stones = _which(item, lambda stone: not stone.ending or (item.is_open and stone.ending == Ending.LOST))
    if not stones:
        return _refused(request, item, "It is lost", f"No stone stands for piece {number}.")
    form = LostForm(posted(request), stones=stones, **_typed(request, item.commission))
    return _piece_page(
        request, item, form,
        lambda: changes.tell_lost(item, by=by, at=now, **form.take("stone", "last_seen", "goes_on", "on")),
        title=f"A stone of piece {number} is lost", submit="Keep it so", done="It is kept as lost.",
        hint="Tell the client, and your insurer where its value was declared. Found again, it is taken up where it "
        "stood; nothing is deleted.",
    )  # fmt: skip


@owner_only
def found(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """A lost stone is found."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    stones = _which(item, lambda stone: stone.ending == Ending.LOST or _gem_lost(stone))
    if not stones:
        return _refused(request, item, "It was found", f"No stone of piece {number} is lost.")
    form = FoundForm(posted(request), stones=stones, **_typed(request, item.commission))
    return _piece_page(
        request, item, form, lambda: changes.tell_found(item, by=by, at=now, **form.take("stone", "where")),
        title=f"A stone of piece {number} was found", submit="Take it up again", done="It is taken up again.",
    )  # fmt: skip


def _gem_lost(stone: Stone) -> bool:
    return stone.gems.filter(gone_as="lost").exists()  # type: ignore[attr-defined]


@owner_only
def drop(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """A piece is not done after all."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    goods = goods_of(item)
    form = DropForm(posted(request), has_goods=bool(goods), **_typed(request, item.commission))

    def deed() -> None:
        changes.drop_item(
            item, given_back=form.cleaned_data.get("given_back"), tax_percent=form.tax, tax_included=_side(item),
            by=by, at=now, **form.take("reason", "fee", "on"),
        )  # fmt: skip

    told = (
        "The client's goods go back as they are, weighed once more."
        if goods
        else "Stones of your own are free again."
    )
    return _piece_page(
        request, item, form, deed, title=f"Piece {number} is not done", submit="Let it go",
        done=f"Piece {number} is not done.", hint=told, law=LAW,
    )  # fmt: skip


@owner_only
def give_back(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Fragments and off-cuts go home after their piece has ended."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    if not goods_of(item):
        return _refused(
            request, item, "Give back the rest", f"Nothing of the client's lies here for piece {number}."
        )
    form = RestForm(posted(request), **_typed(request, item.commission))
    return _piece_page(
        request, item, form,
        lambda: changes.give_back_rest(item, by=by, at=now, **form.take("weighed", "reason", "on")),
        title=f"Give back the rest of piece {number}", submit="Give it back", done="It went home.",
    )  # fmt: skip


@owner_only
def buy(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Buy the client's stone."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    stones = _theirs(item)
    if not stones:
        why = f"No stone of the client's stands for piece {number}."
        if goods_of(item).lots:
            why = f"The goods of piece {number} lie in {', '.join(goods_of(item).codes)} still: draw its stone first."
        return _refused(request, item, "Buy it", why)
    form = BuyForm(posted(request), stones=stones, **_typed(request, item.commission))
    return _piece_page(
        request, item, form,
        lambda: changes.buy_stone(
            item, form.cleaned_data["stone"], own_cost=form.own, by=by, at=now, **form.take("price", "reason", "on")
        ),
        title=f"Buy a stone of piece {number}", submit="Buy it", done="It is yours, and the client's credit is booked.",
        hint="From that day it is the shop's own: it may be finished, put into stock and sold. The price lowers what "
        "the client owes; pay out what is left by “money went back”.",
    )  # fmt: skip


@owner_only
def off_cut(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Keep an off-cut."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    stones = _theirs(item)
    if item.off_cuts == OffCuts.BACK:
        why = f"Off-cuts of piece {number} go back to the client. Agreed anew? Change it on the piece first."
        return _refused(request, item, "Keep an off-cut", why)
    if not stones:
        return _refused(request, item, "Keep an off-cut", f"No off-cut of piece {number} was made yet.")
    form = OffCutForm(posted(request), stones=stones, **_typed(request, item.commission))

    def deed() -> None:
        typed = form.cleaned_data
        changes.keep_off_cut(
            item, typed["stone"], value=typed["value"] or changes.ZERO, own_cost=form.own, by=by, at=now,
            **form.take("reason", "on"),
        )  # fmt: skip

    return _piece_page(
        request, item, form, deed, title=f"Keep an off-cut of piece {number}", submit="Keep it",
        done="It is yours.", hint=f"Agreed for this piece: off-cuts {item.get_off_cuts_display()}.",
    )  # fmt: skip


def _theirs(item: CommissionItem) -> Sequence[Stone]:
    """What the client may sell to the shop of a piece: at work, finished and here, broken or put by."""
    goods = goods_of(item)
    known = {stone.pk: stone for stone in [*goods.at_work, *goods.ended]}
    for gem in progress.gems_of(item):
        if gem.is_here and not gem.is_own:
            known[gem.stone_id] = gem.stone
    return list(known.values())


@owner_only
def replace(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Another stone takes the place of one that broke or was lost."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    stones = _which(
        item, lambda stone: stone.ending in {Ending.BROKEN, Ending.LOST, Ending.SCRAPPED} or _gem_lost(stone)
    )
    if not stones:
        return _refused(
            request, item, "Another in its place", f"No stone of piece {number} broke or was lost."
        )
    form = ReplaceForm(posted(request), stones=stones, **_typed(request, item.commission))

    def deed() -> None:
        typed = form.cleaned_data
        changes.replace_stone(item, typed["stone"], typed["new"], why=typed["why"], by=by, at=now)

    return _piece_page(
        request, item, form, deed, title=f"Another stone for piece {number}", submit="Let it stand for the piece",
        done="It stands for the piece now. Its fellow's measurements are on its own page.",
    )  # fmt: skip


@owner_only
def design(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """The design changes, perhaps mid-cut."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    first = {
        "wanted": item.wanted,
        "shape": item.shape,
        "length_mm": item.length_mm,
        "width_mm": item.width_mm,
    }
    form = DesignForm(posted(request), initial=first, **_typed(request, item.commission))
    names = ("wanted", "shape", "length_mm", "width_mm", "why", "from_client")
    return _piece_page(
        request, item, form, lambda: changes.change_design(item, by=by, at=now, **form.take(*names)),
        title=f"Another design for piece {number}", submit="Change it",
        done="The old design stays in the journal, and the hours are kept. If the price changes, send a new version.",
    )  # fmt: skip


@owner_only
def hold(request: HttpRequest, code: str) -> HttpResponse:
    """A client is silent: lay the commission aside, or take it up again."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    silent = progress.days_silent(shown, today_of(request, now))
    form = WordsForm(posted(request), label="Why, and how long you will keep it")
    said = f"No word for {silent} days. " if silent else ""
    return deed_page(
        request, shown, form,
        lambda: changes.put_on_hold(shown, reason=form.cleaned_data["words"], by=by, at=now),
        title=f"Lay {shown.code} aside", submit="Lay it aside", done=f"{shown.code} is laid aside.", law=LAW,
        template="commissions/account_deed.html",
        hint=f"{said}Its stones wait for the client, and its place in the queue is free. What your receipt says of "
        "storage and uncollected goods depends on your local law.",
    )  # fmt: skip


@owner_only
def off_hold(request: HttpRequest, code: str) -> HttpResponse:
    """The client was heard from again."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = WordsForm(posted(request), label="What the client said")
    return deed_page(
        request, shown, form,
        lambda: changes.take_off_hold(shown, word=form.cleaned_data["words"], by=by, at=now),
        title=f"{shown.code}: the client was heard from", submit="Go on with it", done=f"{shown.code} goes on.",
        hint="Stones without an open question are taken up again.",
    )  # fmt: skip


@owner_only
def cancel(request: HttpRequest, code: str) -> HttpResponse:
    """Cancel a commission: how far it came, what is due, the deposit, and the goods."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    if shown.is_closed:
        why = f"{shown.code} is {shown.state_word} already."
        context = {"commission": shown, "title": f"Cancel {shown.code}", "refusal": why}
        return render(
            request,
            "commissions/changes_refused.html",
            context,
            status=422 if request.method == "POST" else 200,
        )
    pieces = changes.reached(shown)
    form = CancelForm(
        posted(request), pieces=pieces, unnamed=bool(goods_of_none(shown)), **_typed(request, shown)
    )  # fmt: skip
    quote = accepted(shown)

    def deed() -> None:
        typed = form.cleaned_data
        changes.cancel_commission(
            shown, refunded=typed.get("refund"), way=typed.get("way") or "transfer", tax_percent=form.tax,
            tax_included=quote is None or quote.tax_included, given_back=form.given_back, by=by, at=now,
            sure=form.is_sure, **form.take("reason", "fee", "on"),
        )  # fmt: skip

    return deed_page(
        request, shown, form, deed, title=f"Cancel {shown.code}", submit="Cancel it",
        done=f"{shown.code} is cancelled.", template="commissions/cancel.html", pieces=pieces, quote=quote, law=LAW,
    )  # fmt: skip
