"""Pieces of a commission and the stones that stand for them."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import F, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common import say
from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted
from workshop.gems.models import FinishedGem
from workshop.people.models import Ownership
from workshop.rough.models import RoughLot
from workshop.stones.access import stone_of
from workshop.stones.models import Stone

from ..access import commission_of, item_of
from ..actions import commissions as actions
from ..forms.board import DrawForm, LinkForm, PieceForm, UnlinkForm
from ..models import ON_CLIENTS_GOODS, CommissionItem, ItemStone, WorkKind
from .pages import deed_page, shop_of

#: A list of more stones or lots than this is no help; the code box takes any.
LISTED = 30


@owner_only
def add_item(request: HttpRequest, code: str) -> HttpResponse:
    """One more piece."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = PieceForm(posted(request), shop=shop_of(request))
    return deed_page(
        request, shown, form, lambda: actions.add_item(shown, form.spec, by=by, at=now),
        title=f"One more piece for {shown.code}", submit="Add it", template="commissions/piece.html",
        crumb_words="One more piece",
    )  # fmt: skip


@owner_only
def item(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Change what is wanted of a piece."""
    shown, by, now = item_of(code, number), hand_of(request), timezone.now()
    agreed = shown.commission.accepted_at is not None
    form = PieceForm(posted(request), shop=shop_of(request), item=shown, agreed=agreed)
    return deed_page(
        request, shown.commission, form,
        lambda: actions.change_item(shown, form.spec, why=form.reason, by=by, at=now),
        title=f"Piece {shown.number} of {shown.commission.code}", submit="Keep it", at=f"#piece-{shown.number}",
        template="commissions/piece.html", agreed=agreed, crumb_words=f"Piece {shown.number}",
    )  # fmt: skip


@owner_only
def link(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Choose the stone that stands for a piece."""
    shown, by, now = item_of(code, number), hand_of(request), timezone.now()
    form = LinkForm(posted(request), fitting=_fitting(shown))

    def deed() -> None:
        assert form.chosen is not None
        actions.link_stone(shown, form.chosen, why=form.cleaned_data["why"], by=by, at=now)

    return deed_page(
        request, shown.commission, form, deed, title=f"The stone for piece {shown.number}", submit="Let it stand",
        at=f"#piece-{shown.number}", template="commissions/link.html", item=shown,
        lots=bool(_lots(shown)),
        links=list(shown.links.filter(until__isnull=True).select_related("stone__material")),
    )  # fmt: skip


def _fitting(shown: CommissionItem) -> dict[str, str]:
    """Stones that could stand for a piece, by code: the client's own, or the shop's on the bench and in stock."""
    free = Stone.objects.filter(ending="").exclude(
        pk__in=ItemStone.objects.filter(until__isnull=True).order_by().values("stone")
    )
    gone = FinishedGem.objects.gone().order_by().values("stone")
    whose = Q(ownership=Ownership.CLIENT, owner=shown.commission.client)
    if shown.work not in ON_CLIENTS_GOODS:
        own = Q(ownership=Ownership.SHOP)
        whose = own if shown.work == WorkKind.CUT_OWN else own | whose
    rows = free.filter(whose).exclude(pk__in=gone).select_related("material").order_by("-touched_at", "-pk")
    return {one.code: _in_words(one) for one in rows[:LISTED]}


def _in_words(stone: Stone) -> str:
    parts = [
        stone.code,
        str(stone.material or ""),
        say.carats(stone.weight_ct),
        stone.state_word,
        stone.plan[:60],
    ]
    return ", ".join(part for part in parts if part)


def _lots(shown: CommissionItem) -> list[RoughLot]:
    """Lots a stone for a piece may be drawn from: those taken in for it first."""
    theirs = Q(ownership=Ownership.CLIENT, owner=shown.commission.client)
    if shown.work not in ON_CLIENTS_GOODS:
        own = Q(ownership=Ownership.SHOP)
        theirs = own if shown.work == WorkKind.CUT_OWN else own | theirs
    rows = RoughLot.objects.filter(theirs, left_ct__gt=0).prefetch_related("groups")
    listed = list(rows.order_by("-received_on", "-pk")[:LISTED])
    for_it = set(rows.filter(intake_piece__item=shown).values_list("pk", flat=True))
    return sorted(listed, key=lambda lot: lot.pk not in for_it)


@owner_only
def draw(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Take the stone for a piece from a lot."""
    shown, by, now = item_of(code, number), hand_of(request), timezone.now()
    form = DrawForm(posted(request), shop=shop_of(request), lots=_lots(shown))

    def deed() -> None:
        stone = actions.draw_for_item(
            shown, form.lot, form.cleaned_data["weight"], by=by, at=now, **form.piece()
        )
        messages.success(
            request, f"{stone.code} was drawn for piece {shown.number}. Write its code on the bag."
        )

    return deed_page(
        request, shown.commission, form, deed, title=f"Draw the stone for piece {shown.number}", submit="Draw it",
        at=f"#piece-{shown.number}", template="commissions/draw.html", item=shown,
    )  # fmt: skip


@owner_only
def unlink(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """A stone stands for its piece no longer."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    held = get_object_or_404(ItemStone.objects.select_related("stone", "item"), pk=pk, item__commission=shown)
    form = UnlinkForm(posted(request))
    return deed_page(
        request, shown, form,
        lambda: actions.unlink_stone(held, why=form.cleaned_data["why"], by=by, at=now),
        title=f"{held.stone.code} for piece {held.item.number} no longer", submit="Take it off",
        at=f"#piece-{held.item.number}",
        hint="The stone stays as it is, and its hours stay with it. That it stood for the piece is kept.",
    )  # fmt: skip


@require_safe
def of_stone(request: HttpRequest, code: str) -> HttpResponse:
    """From a stone to the commission it stands for, itself or through what it was made from."""
    stone = stone_of(code)
    above: Stone | None = stone
    while above is not None:
        links = ItemStone.objects.filter(stone=above).select_related("item__commission")
        # One that still stands comes before those that ended.
        held = links.order_by(F("until").desc(nulls_first=True)).first()
        if held is not None:
            return redirect(f"{held.item.commission.get_absolute_url()}#piece-{held.item.number}")
        above = above.parent
    messages.info(request, f"{stone.code} stands for no commission.")
    return redirect(stone.get_absolute_url())
