"""Pages of rough: the list of lots, one lot, taking a lot in, and what is added to it later."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Model, Sum, prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from workshop.common import photos
from workshop.common.access import hand_of, money_only, owner_only, recorder_only
from workshop.common.deeds import DeedForm, posted, posted_files, status_of, try_deed, try_out
from workshop.common.models import JournalEntry, Shop
from workshop.common.paging import page_of
from workshop.materials.forms import StatementForm
from workshop.materials.models import Evidence, Question, best_based

from . import actions, documents, figures
from .access import document_of, lot_of
from .filters import LotFilter
from .forms import DescribeForm, DocumentForm, MoveForm, PhotoForm, ReceiveForm
from .models import RoughLot

SORTS = {
    "code": "id",
    "received": "received_on",
    "sold_as": "sold_as",
    "seller": "seller__name",
    "material": "material__species",
    "weight": "weight_ct",
    "left": "left_ct",
}
MONEY_SORTS = {"landed": "landed_cost", "cost_left": "cost_left"}
LINES_SHOWN = 30
STONES_SHOWN = 100


@require_safe
def lots(request: HttpRequest) -> HttpResponse:
    """Every lot, with totals under the columns."""
    found = LotFilter(request.GET, queryset=RoughLot.objects.all(), request=request)
    totals = found.qs.order_by().aggregate(
        count=Count("pk"),
        weight_ct=Sum("weight_ct"),
        left_ct=Sum("left_ct"),
        landed_cost=Sum("landed_cost"),
        cost_left=Sum("cost_left"),
    )
    # An order by cost would tell a hand who sees none which lot was dearer.
    sorts = SORTS | (MONEY_SORTS if hand_of(request).sees_money else {})
    rows = found.qs.select_related("seller", "owner", "material")
    page = page_of(request, rows, sorts=sorts, default="-received", total=totals["count"])
    context = {"filter": found, "page": page, "totals": totals, "sort": "-received"}
    return render(request, "rough/lots.html", context, status=status_of(found.form))


@require_safe
def lot(request: HttpRequest, code: str) -> HttpResponse:
    """One lot: what it was sold as, what it cost, how it was sorted, and where every carat and cent of it is."""
    shown = lot_of(code)
    sees_money = hand_of(request).sees_money
    groups, losses = list(shown.groups.all()), list(shown.losses.select_related("group"))
    # The name of the stones' relation is given by the room above; no import leads up.
    draws = list(shown.draws.select_related("group"))
    prefetch_related_objects(draws[-STONES_SHOWN:], "stones")
    context: dict[str, Any] = {
        "lot": shown,
        "groups": figures.of_groups(groups, draws, losses),
        "draws": [(draw, _first_stone(draw)) for draw in draws[-STONES_SHOWN:]],
        "draws_in_all": len(draws),
        "losses": losses,
        "weight_account": figures.weight_account(shown, groups, draws, losses),
        "photos": shown.photos.select_related("photo"),
        "journal": _told_journal(shown, sees_money=sees_money),
        **_said(shown),
    }
    if sees_money:
        context |= {
            "landed": figures.landed(shown, list(shown.costs.all())),
            "money_account": figures.money_account(shown, draws),
            "sold_difference": shown.stones.aggregate(sum=Sum("cost_difference"))["sum"],  # type: ignore[attr-defined]
            "documents": shown.documents.select_related("added_by"),
        }
    return render(request, "rough/lot.html", context)


def _first_stone(draw: Any) -> Model | None:
    """The stone as it was drawn; the pieces made of it come after."""
    return next((stone for stone in draw.stones.all() if stone.parent_id is None), None)


def _said(shown: RoughLot) -> dict[str, Any]:
    said = list(shown.statements.select_related("material"))
    best = {statement.pk for statement in best_based(said).values()}
    asked = [statement.question for statement in said]
    said.sort(key=lambda one: (Question.values.index(one.question), -one.evidence, -one.pk))
    return {
        "statements": [(statement, statement.pk in best) for statement in said],
        "ladder": max(Evidence.values),
        "open_questions": [question for question in Question if question not in asked],
        "questions": Question,
    }


@dataclass(frozen=True)
class _Line:
    at: Any
    text: str
    who: str
    detail: str


def _told_journal(shown: RoughLot, *, sees_money: bool) -> list[_Line]:
    entries = JournalEntry.objects.filter(about=shown.code).select_related("by")[:LINES_SHOWN]
    return [
        _Line(
            at=entry.happened_at,
            text=entry.verb.capitalize(),
            who=str(entry.by) if entry.by is not None else "",
            detail=_detail(entry, sees_money=sees_money),
        )
        for entry in entries
    ]


def _detail(entry: JournalEntry, *, sees_money: bool) -> str:
    # Sums, and titles of papers that may tell them, are for who sees money.
    names = ["answer", "place", "cause", *(["title"] if sees_money else [])]
    told = [str(entry.after[name]) for name in names if entry.after.get(name)]
    if sees_money:
        told += map(str, entry.after.get("lines", []))
    return "; ".join([*told, *([entry.reason] if entry.reason else [])])


@owner_only
def receive(request: HttpRequest) -> HttpResponse:
    """Take in a parcel. “Work it out” shows what it comes to and keeps nothing."""
    by, now, shop = hand_of(request), timezone.now(), _shop(request)
    form = ReceiveForm(
        posted(request),
        posted_files(request),
        shop=shop,
        today=shop.day_of(now),
        initial={"currency": shop.currency},
    )

    def deed() -> RoughLot:
        return actions.receive_lot(by=by, at=now, **form.receipt(by=by, at=now))

    def keep() -> str:
        received = deed()
        for sizes in form.cleaned_data["pictures"]:
            kept = photos.keep(sizes, by=by, at=now)
            actions.add_lot_photo(received, kept, caption="", by=by, at=now)
        return received.get_absolute_url()

    if "preview" in request.POST:
        return _look(request, form, deed)
    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, keep)):
        return redirect(led_to)
    return render(request, "rough/receive.html", {"form": form}, status=status_of(form))


def _look(request: HttpRequest, form: ReceiveForm, deed: Callable[[], RoughLot]) -> HttpResponse:
    """What the parcel would come to, as a page, or as the piece of it that a script asks for while one types."""
    form.leave_pictures()
    worked_out = try_out(form, lambda: _worked_out(deed())) if form.is_valid() else None
    quietly = "quietly" in request.POST
    context = {
        "form": form,
        "worked_out": worked_out,
        "looking": True,
        "quietly": quietly,
        "slips": _slips(form, quietly=quietly),
    }
    if request.headers.get("HX-Request"):
        return render(request, "rough/_worked_out.html", context)
    form.take_pictures_again()
    return render(request, "rough/receive.html", context, status=status_of(form))


def _slips(form: ReceiveForm, *, quietly: bool) -> list[tuple[str, str]]:
    """What is wrong so far; while somebody is still typing, an empty box is not wrong."""
    return [(str(box.label), str(error)) for box in form for error in box.errors if box.data or not quietly]


def _worked_out(received: RoughLot) -> figures.Landed:
    return figures.landed(received, list(received.costs.all()))


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop


def _deed_page(
    request: HttpRequest, lot_shown: RoughLot, form: DeedForm, deed: Any, **context: Any
) -> HttpResponse:
    """The form of one deed on a lot; after the deed, back to the lot."""
    if request.method == "POST" and form.is_valid():

        def led() -> str:
            deed()
            return lot_shown.get_absolute_url()

        if led_to := try_deed(request, form, led):
            return redirect(led_to)
    context |= {"form": form, "lot": lot_shown}
    return render(request, "rough/deed.html", context, status=status_of(form))


@owner_only
def edit(request: HttpRequest, code: str) -> HttpResponse:
    """Change the words about a lot."""
    shown, by, now = lot_of(code), hand_of(request), timezone.now()
    form = DescribeForm(posted(request), shop=_shop(request), initial=DescribeForm.values_of(shown))

    def deed() -> None:
        actions.describe_lot(shown, form.changes(by=by, at=now), by=by, at=now)

    return _deed_page(
        request, shown, form, deed, title=f"Edit {shown.code}", step="Edit", submit="Save",
        hint="Weight and money are changed by deeds of their own: a late bill, weight that left, sorting.",
    )  # fmt: skip


@owner_only
def statement(request: HttpRequest, code: str) -> HttpResponse:
    """Write down what somebody says the goods are, and on what evidence; the older statements stay."""
    shown, by, now = lot_of(code), hand_of(request), timezone.now()
    asked = request.GET.get("question", "")
    question = Question(asked) if asked in Question.values else Question.SPECIES
    form = StatementForm(
        posted(request),
        question=question,
        today=_shop(request).day_of(now),
        initial={"said_by": shown.seller or shown.owner or ""},
    )

    def deed() -> None:
        actions.state_about_lot(shown, form.said(), by=by, at=now)

    return _deed_page(
        request, shown, form, deed, title=f"{shown.code}: {question.label}", step="Statement",
        submit="Keep the statement",
        questions=Question, question=question,
        hint="Nothing said before is erased; what stands on the best evidence is shown first.",
    )  # fmt: skip


@recorder_only
def photo(request: HttpRequest, code: str) -> HttpResponse:
    """Keep photographs of a lot."""
    shown, by, now = lot_of(code), hand_of(request), timezone.now()
    form = PhotoForm(posted(request), posted_files(request))

    def deed() -> None:
        for sizes in form.cleaned_data["pictures"]:
            kept = photos.keep(sizes, by=by, at=now)
            actions.add_lot_photo(shown, kept, caption=form.cleaned_data["caption"], by=by, at=now)

    return _deed_page(
        request, shown, form, deed, title=f"Photographs of {shown.code}", step="Photographs", submit="Keep"
    )


@owner_only
def document(request: HttpRequest, code: str) -> HttpResponse:
    """Keep a paper that came with a lot."""
    shown, by, now = lot_of(code), hand_of(request), timezone.now()
    form = DocumentForm(posted(request), posted_files(request))

    def deed() -> None:
        read = form.cleaned_data["document"]
        documents.keep(read)
        actions.add_lot_document(
            shown,
            title=form.cleaned_data["title"],
            sha256=read.sha256,
            byte_count=len(read.content),
            media_type=read.media_type,
            by=by,
            at=now,
        )

    return _deed_page(
        request, shown, form, deed, title=f"Paper of {shown.code}", step="Paper", submit="Keep the paper"
    )


@money_only
@require_safe
def document_file(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """A kept paper, as a file to save: invoices tell prices, so hands do not get it."""
    kept = document_of(code, pk)
    name = f"{kept.lot.code} {kept.title}{documents.ENDINGS.get(kept.media_type, '')}"
    return HttpResponse(
        documents.read_kept(kept.sha256),
        content_type=kept.media_type,
        headers={
            "Content-Disposition": content_disposition_header(True, name),
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-store",
        },
    )


@recorder_only
def move(request: HttpRequest, code: str) -> HttpResponse:
    """Say who has the lot tonight."""
    shown, by, now = lot_of(code), hand_of(request), timezone.now()
    form = MoveForm(
        posted(request),
        today=_shop(request).day_of(now),
        initial={"place": shown.place, "holder": shown.holder},
    )

    def deed() -> None:
        actions.move_lot(
            shown, by=by, at=now, **{name: form.cleaned_data[name] for name in ("place", "holder", "since")}
        )

    return _deed_page(request, shown, form, deed, title=f"Where {shown.code} is", step="Move", submit="Keep")
