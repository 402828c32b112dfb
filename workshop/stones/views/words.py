"""Words, pictures and sums about one stone: notes, photographs, statements, the plan, costs, changing hands."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from workshop.common import photos
from workshop.common.access import hand_of, owner_only, recorder_only
from workshop.common.deeds import posted
from workshop.materials.forms import StatementForm
from workshop.materials.models import Question

from .. import actions
from ..access import stone_of
from ..forms import BuyForm, ExtraForm, NoteForm, PhotoForm, PlanForm
from ..models import NoteKind
from .pages import back_url, deed_page


@recorder_only
def note(request: HttpRequest, code: str) -> HttpResponse:
    """Write a note; a stop note is read first when work goes on."""
    stone = stone_of(code)
    kind = request.GET.get("kind", "")
    form = NoteForm(posted(request), initial={"kind": kind if kind in NoteKind.values else NoteKind.NOTE})
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        typed = form.cleaned_data
        if typed["kind"] == NoteKind.ON_DOP:
            actions.note_dop_reading(stone, typed["text"], by=by, at=now)
        else:
            actions.add_note(stone, typed["text"], kind=typed["kind"], by=by, at=now)
        return back_url(request, stone)

    return deed_page(request, stone, form, deed, title=f"Note on {stone.code}", submit="Keep the note")


@recorder_only
def photo(request: HttpRequest, code: str) -> HttpResponse:
    """Keep photographs of a stone at its present stage."""
    stone = stone_of(code)
    form = PhotoForm(posted(request), request.FILES or None)
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        for sizes in form.cleaned_data["pictures"]:
            kept = photos.keep(sizes, by=by, at=now)
            actions.add_stone_photo(stone, kept, caption=form.cleaned_data["caption"], by=by, at=now)
        return back_url(request, stone)

    return deed_page(request, stone, form, deed, title=f"Photograph {stone.code}", submit="Keep")


@owner_only
def statement(request: HttpRequest, code: str) -> HttpResponse:
    """Write down what somebody says a stone is, on what evidence; the older statements stay."""
    stone = stone_of(code)
    asked = request.GET.get("question", "")
    question = asked if asked in Question.values else Question.TREATMENT.value
    by, now = hand_of(request), timezone.now()
    form = StatementForm(posted(request), question=question, today=timezone.localdate(now))

    def deed() -> str:
        actions.state_about_stone(stone, form.said(), by=by, at=now)
        return back_url(request, stone)

    return deed_page(
        request, stone, form, deed, title=f"Statement about {stone.code}", submit="Keep the statement",
        template="stones/statement.html", questions=Question.choices, question=question,
    )  # fmt: skip


@recorder_only
def plan(request: HttpRequest, code: str) -> HttpResponse:
    """Say what a stone is to become; a changed design leaves its old words in the journal."""
    stone = stone_of(code)
    form = PlanForm(posted(request), initial=PlanForm.values_of(stone))
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        changes = {name: form.cleaned_data[name] for name in PlanForm.CHANGES}
        actions.describe_stone(stone, changes, by=by, at=now)
        return back_url(request, stone)

    return deed_page(
        request, stone, form, deed, title=f"Plan for {stone.code}", submit="Keep the plan",
        template="stones/plan.html",
    )  # fmt: skip


@owner_only
def extra(request: HttpRequest, code: str) -> HttpResponse:
    """Book what was worn or paid for this stone alone."""
    stone = stone_of(code)
    by, now = hand_of(request), timezone.now()
    currency = request.shop.currency  # type: ignore[attr-defined]
    form = ExtraForm(posted(request), currency=currency, today=timezone.localdate(now))

    def deed() -> str:
        typed = form.cleaned_data
        actions.charge_stone(
            stone,
            kind=typed["kind"],
            amount=typed["amount"],
            on=typed["on"],
            note=typed["note"],
            by=by,
            at=now,
        )
        return back_url(request, stone)

    return deed_page(request, stone, form, deed, title=f"A cost of {stone.code} alone", submit="Book it")


@owner_only
def buy(request: HttpRequest, code: str) -> HttpResponse:
    """Buy a stone from its owner: it becomes the shop's own."""
    stone = stone_of(code)
    by, now = hand_of(request), timezone.now()
    form = BuyForm(posted(request), currency=request.shop.currency)  # type: ignore[attr-defined]

    def deed() -> str:
        typed = form.cleaned_data
        actions.buy_from_owner(stone, paid=typed["paid"], reason=typed["reason"], by=by, at=now)
        return back_url(request, stone)

    return deed_page(
        request, stone, form, deed, title=f"Buy {stone.code} from its owner", submit="Buy it",
        template="stones/buy.html",
    )  # fmt: skip
