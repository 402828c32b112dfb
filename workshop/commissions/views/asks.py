"""Stop and ask: the question, its answer, and the small piece of it on the page at the wheel."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common import photos
from workshop.common.access import fetch, hand_of, owner_only, recorder_only
from workshop.common.deeds import DeedForm, posted, posted_files, status_of, try_deed
from workshop.common.models import Hand
from workshop.stones.models import Stone

from .. import progress
from ..access import item_of
from ..actions import changes
from ..actions.quotes import draft_quote
from ..ask_words import ready_words
from ..floors import UnderFloor, floor_of
from ..forms.account import ReasonForm, accepted
from ..forms.asks import AnswerForm, AskForm, DiffersForm
from ..models import AskWhy, CommissionItem, QuoteState, StopAsk
from .pages import deed_page, shop_of, today_of

#: The signs of what may come up, most usual first.
REASONS = (
    AskWhy.INCLUSION, AskWhy.FLOOR, AskWhy.CHIP, AskWhy.BROKE, AskWhy.SIZE, AskWhy.COLOUR, AskWhy.DESIGN,
    AskWhy.SECOND, AskWhy.COST, AskWhy.SPECIES, AskWhy.TREATMENT, AskWhy.OTHER,
)  # fmt: skip


def _alarm(item: CommissionItem, stone: Stone | None = None) -> UnderFloor | None:
    """What falls under the floor of a piece; with ``stone``, that very one."""
    found = progress.under_floor(CommissionItem.objects.filter(pk=item.pk))
    return next((one for one in found if stone is None or one.stone.pk == stone.pk), None)


def _at_work(item: CommissionItem) -> Stone | None:
    stones = [stone for stone in progress.stones_of(item) if stone.is_open]
    return max(stones, key=lambda stone: stone.weight_ct) if stones else None


def _asked(request: HttpRequest, shop_context: CommissionItem) -> dict[str, Any]:
    return {
        "commission": shop_context.commission,
        "shop": shop_of(request),
        "today": today_of(request, timezone.now()),
    }


@recorder_only
def ask(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Stop and ask about a piece: first what came up, then the question, written already."""
    item, by = item_of(code, number), hand_of(request)
    why, stone, alarm = request.GET.get("why", ""), _at_work(item), _alarm(item)
    back = _bench_or(request, stone, item.commission.get_absolute_url())
    shown: dict[str, Any] = {
        "commission": item.commission, "item": item, "stone": stone, "alarm": alarm, "back": back,
        "asked": item.questions.standing().first(),  # type: ignore[attr-defined]
        "bench": "&from=bench" if request.GET.get("from") == "bench" else "",
    }  # fmt: skip
    if why not in AskWhy.values:
        shown["reasons"] = [(one.value, one.label) for one in REASONS if one != AskWhy.FLOOR or item.floor_ct]
        return render(
            request, "commissions/ask_why.html", shown, status=422 if request.method == "POST" else 200
        )
    words = ready_words(item, why, stone=stone, alarm=alarm)
    form = AskForm(
        posted(request), posted_files(request), why=why, words=words, sees_money=by.sees_money, **_asked(request, item)
    )  # fmt: skip
    now = timezone.now()

    def deed() -> str:
        kept = [photos.keep(sizes, by=by, at=now) for sizes in form.cleaned_data["picture"]]
        made = changes.ask_client(
            item, why=why, photo=kept[0] if kept else None, by_floor=why == AskWhy.FLOOR and alarm is not None, by=by,
            at=now, **form.told,
        )  # fmt: skip
        return _after(request, made, by, back)

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    shown |= {"form": form, "why": AskWhy(why)}
    return render(request, "commissions/ask.html", shown, status=status_of(form))


def _bench_or(request: HttpRequest, stone: Stone | None, otherwise: str) -> str:
    if stone is not None and request.GET.get("from") == "bench":
        return reverse("stones:bench", args=[stone.code])
    return otherwise


def _after(request: HttpRequest, made: StopAsk, by: Hand, back: str) -> str:
    """The owner goes on to send the message; a hand goes back to the bench, and the owner finds the question."""
    if by.runs_the_shop:
        messages.success(request, "The stone waits. Now tell the client: the text is ready.")
        return _message_page(made)
    messages.success(request, "The stone waits. The owner finds the question on the commission and sends it.")
    return back


def _message_page(made: StopAsk) -> str:
    commission = made.item.commission
    try:
        page = reverse("commissions:write_message", args=[commission.code])
    except NoReverseMatch:
        return commission.get_absolute_url()
    return f"{page}?moment=surprise&item={made.item.number}&ask={made.pk}"


@owner_only
def ask_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down an answer that came by telephone, letter or in person."""
    made = _ask_of(pk)
    by, now = hand_of(request), timezone.now()
    form = AnswerForm(posted(request), ask=made, **_asked(request, made.item))
    names = ("answer", "words", "name", "answered_from")
    return deed_page(
        request, made.item.commission, form,
        lambda: changes.answer_ask(made, by=by, at=now, **form.take(*names)),
        title=f"They answered about piece {made.item.number}", submit="Keep the answer",
        done="The answer is kept, and its stones go on.", at="#questions", template="commissions/ask_answer.html",
        ask=made,
    )  # fmt: skip


@owner_only
def ask_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a question back."""
    made = _ask_of(pk)
    by, now = hand_of(request), timezone.now()
    form = ReasonForm(posted(request))
    return deed_page(
        request, made.item.commission, form,
        lambda: changes.withdraw_ask(made, reason=form.cleaned_data["reason"], by=by, at=now),
        title=f"Withdraw the question about piece {made.item.number}", submit="Withdraw it",
        done="The question is withdrawn, and its stones go on.", at="#questions",
        template="commissions/ask_answer.html", ask=made,
    )  # fmt: skip


def _ask_of(pk: int) -> StopAsk:
    rows = StopAsk.objects.select_related("item__commission__client", "photo", "led_to", "asked_by")
    return get_object_or_404(rows, pk=pk)


@owner_only
def ask_version(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin the version of the quote that a question leads to, or go on with the draft that is there."""
    made, by, now = _ask_of(pk), hand_of(request), timezone.now()
    commission = made.item.commission
    form = DeedForm(posted(request))

    def deed() -> str:
        draft = commission.quotes.filter(state=QuoteState.DRAFT).first()
        if draft is None:
            held = accepted(commission)
            if held is None or held.tariff is None:
                return reverse("commissions:quote_draft", args=[commission.code])
            why = f"piece {made.item.number}: {made.get_why_display()}"
            draft = draft_quote(commission, tariff=held.tariff, why=why, by=by, at=now)
        changes.lead_to_version(made, draft, by=by, at=now)
        return draft.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {
        "commission": commission, "form": form, "ask": made, "back": commission.get_absolute_url() + "#questions",
        "title": "A new version of the quote", "submit": "Begin it",
        "hint": "It begins with the figures agreed so far. The accepted version holds until the new one is accepted.",
    }  # fmt: skip
    return render(request, "commissions/ask_answer.html", context, status=status_of(form))


@owner_only
def differs(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Species or treatment turn out otherwise: state it on the stone, stop, and ask."""
    item, by, now = item_of(code, number), hand_of(request), timezone.now()
    stone = _at_work(item)
    if stone is None:
        refusal = f"No stone of piece {number} is at work."
        context = {"commission": item.commission, "title": "Found to be different", "refusal": refusal}
        return render(
            request,
            "commissions/changes_refused.html",
            context,
            status=422 if request.method == "POST" else 200,
        )
    form = DiffersForm(posted(request), **_asked(request, item))
    form.fields["words"].initial = ready_words(item, AskWhy.TREATMENT, stone=stone)

    def deed() -> str:
        said = form.said(by=str(by), on=today_of(request, now))
        made = changes.tell_differs(item, stone, said=said, words=form.cleaned_data["words"], by=by, at=now)
        return _after(request, made, by, item.commission.get_absolute_url())

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {
        "commission": item.commission, "item": item, "stone": stone, "form": form, "submit": "State it and ask",
        "title": f"Piece {number} is not what it was thought to be", "back": item.commission.get_absolute_url(),
        "hint": "A finding of your own, never a laboratory's. It stands with the stone from now on, whatever the "
        "client answers.",
    }  # fmt: skip
    return render(request, "commissions/changes_deed.html", context, status=status_of(form))


@require_safe
def at_the_wheel(request: HttpRequest, stone_code: str) -> HttpResponse:
    """The floor, the open question and the way to stop, for the page of a stone at the wheel."""
    stone = fetch(Stone.objects.all(), stone_code)
    item = _piece_of(stone)
    watched = item if item is not None and item.is_open else None
    floor = floor_of(watched) if watched is not None else None
    context = {
        "stone": stone,
        "item": item,
        "commission": item.commission if item else None,
        "alarm": _alarm(watched, stone) if watched is not None else None,
        "asked": item.questions.standing().first() if item else None,  # type: ignore[attr-defined]
        "floor_ct": floor,
        "left_ct": stone.weight_ct - floor if floor is not None and not stone.ending else None,
    }
    whole = not request.headers.get("HX-Request")
    page = "commissions/at_the_wheel.html" if whole else "commissions/_at_the_wheel.html"
    return render(request, page, context)


def _piece_of(stone: Stone) -> CommissionItem | None:
    """The piece a stone stands for, itself or by what it was made from."""
    above: Stone | None = stone
    while above is not None:
        link = (
            above.commission_links.filter(until__isnull=True)
            .select_related("item__commission__client")
            .first()
        )
        if link is not None:
            return link.item
        above = above.parent
    return None
