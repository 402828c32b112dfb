"""One commission: its page, and the deeds on the whole of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import prefetch_related_objects
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from workshop.common import photos
from workshop.common.access import hand_of, owner_only, recorder_only
from workshop.common.deeds import posted, posted_files
from workshop.common.errors import DeedRefused
from workshop.common.models import Photo
from workshop.stones.models import StonePhoto

from ..access import commission_of
from ..actions import commissions as actions
from ..forms.board import ChangeForm, CloseForm, PhotoForm
from ..looks import Look, look_at
from ..models import CLOSED, CommissionPhoto, IntakePhoto, MessageState, State
from ..steps import next_step
from .cards import outline_of
from .messages import talk_of
from .pages import deed_page, shop_of, today_of
from .told import told

OUTLINE_PX = 84
LETTERS = 20
#: Next things that any hand at the bench may do.
AT_THE_BENCH = ("stones:stone", "commissions:ask")


@require_safe
def commission(request: HttpRequest, code: str) -> HttpResponse:
    """A commission: what is next, its pieces, what was asked, quoted, taken in, paid, said and shown."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    today = today_of(request, now)
    look = look_at([shown], today, shop_of(request))[0]
    step = next_step(look)
    context: dict[str, Any] = {
        "commission": shown,
        "look": look,
        "today": today,
        "step": step,
        "step_is_mine": by.runs_the_shop or (by.may_record and step.page in AT_THE_BENCH),
        "pieces": [(piece, outline_of(piece, size_px=OUTLINE_PX)) for piece in look.pieces],
        "asks": [(ask, (today - _day(request, ask.asked_at)).days) for ask in look.asks],
        "settled": [ask for piece in look.pieces for ask in piece.item.questions.all() if not ask.is_open],
        "intakes": list(shown.intakes.prefetch_related("pieces")),
        "wants_goods": look.wants_goods,
        "deliveries": list(shown.deliveries.all()),
        "pictures": _pictures(look),
        "may_close": shown.state in {State.ENQUIRY, State.QUOTED},
        "may_cancel": shown.state not in {State.ENQUIRY, *CLOSED},
        "events": told(shown, money=by.sees_money),
    }
    if by.sees_money:
        quotes, letters = list(shown.quotes.all()), list(shown.messages.select_related("by")[:LETTERS])
        prefetch_related_objects(quotes, "paper")
        context |= {
            "versions": [(quote, quote.state_on(today)) for quote in quotes],
            "letters": letters,
            "ready": any(one.state in {MessageState.READY, MessageState.FAILED} for one in letters),
            **talk_of(request, shown, now),
        }
    return render(request, "commissions/commission.html", context)


def _day(request: HttpRequest, moment: datetime) -> Any:
    return request.shop.day_of(moment)  # type: ignore[attr-defined]


@dataclass(frozen=True)
class Picture:
    """A photograph the client may be shown, and whether they are."""

    photo: Photo
    words: str
    shared: bool


def _pictures(look: Look) -> list[Picture]:
    """Photographs of the commission, of its stones and of what was taken in; each once, the newest first."""
    kept = {row.photo_id: row for row in look.commission.photos.select_related("photo", "item")}
    stones = [stone.pk for piece in look.pieces for stone in piece.stones]
    found = [Picture(row.photo, _caption(row), row.shared_at is not None) for row in kept.values()]
    others: list[tuple[Photo, str]] = [
        (row.photo, row.caption or f"{row.stone.code}, {row.get_stage_display()}")
        for row in StonePhoto.objects.filter(stone__in=stones).select_related("photo", "stone")
    ]
    others += [
        (row.photo, row.view or "as taken in")
        for row in IntakePhoto.objects.filter(piece__intake__commission=look.commission).select_related(
            "photo"
        )
    ]
    seen = set(kept)
    for photo, words in others:
        if photo.pk not in seen:
            seen.add(photo.pk)
            found.append(Picture(photo, words, False))
    return sorted(found, key=lambda one: -one.photo.pk)


def _caption(row: CommissionPhoto) -> str:
    return row.caption or (f"piece {row.item.number}" if row.item else "from the enquiry")


@owner_only
def edit(request: HttpRequest, code: str) -> HttpResponse:
    """Change what is known of a commission."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = ChangeForm(posted(request), initial={name: getattr(shown, name) for name in actions.CHANGEABLE})
    return deed_page(
        request, shown, form,
        lambda: actions.change_commission(shown, form.changes(), by=by, at=now),
        title=f"Change {shown.code}", submit="Keep it",
    )  # fmt: skip


@owner_only
def close(request: HttpRequest, code: str) -> HttpResponse:
    """Close an enquiry that came to nothing."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = CloseForm(posted(request))
    return deed_page(
        request, shown, form,
        lambda: actions.close_enquiry(shown, reason=form.cleaned_data["reason"], by=by, at=now),
        title=f"Close {shown.code}", submit="Close it", done=f"{shown.code} is closed.",
        hint="For an enquiry that came to nothing. What was accepted is cancelled instead, with its account.",
    )  # fmt: skip


@recorder_only
def photo(request: HttpRequest, code: str) -> HttpResponse:
    """Keep photographs with a commission; only the owner may show them to the client."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = PhotoForm(posted(request), posted_files(request))
    if not by.runs_the_shop:
        del form.fields["share"]

    def deed() -> None:
        for sizes in form.cleaned_data["pictures"]:
            kept = photos.keep(sizes, by=by, at=now)
            actions.add_commission_photo(shown, kept, caption=form.cleaned_data["caption"], by=by, at=now)
            if form.cleaned_data.get("share"):
                actions.share_photo(shown, kept, by=by, at=now)

    return deed_page(
        request,
        shown,
        form,
        deed,
        title=f"Photographs for {shown.code}",
        submit="Keep them",
        at="#photographs",
    )


@owner_only
@require_POST
def share(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Show the client a photograph, or show it no longer."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    picture = get_object_or_404(Photo, pk=pk)
    try:
        if request.POST.get("do") == "hide":
            kept = shown.photos.filter(photo=picture).first()
            if kept is None:
                raise Http404
            actions.hide_photo(kept, by=by, at=now)
        else:
            actions.share_photo(shown, picture, by=by, at=now)
    except DeedRefused as refusal:
        # Only a forged form asks for a photograph that is not of this commission.
        raise PermissionDenied(refusal.message) from refusal
    return redirect(shown.get_absolute_url() + "#photographs")
