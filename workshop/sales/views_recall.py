"""The recalls, one of them with its entries, one entry with its letter, and every deed that follows from it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.contrib import messages as notices
from django.db.models import Count, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import fetch, hand_of, money_only, owner_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed
from workshop.common.models import JournalEntry, Shop
from workshop.common.paging import page_of
from workshop.common.say import money
from workshop.common.spreadsheet import csv_file
from workshop.rough.models import LotStatement
from workshop.stones.models import StoneStatement

from .actions import recalls as actions
from .forms_recall import (
    ChoiceForm,
    CloseForm,
    KeepForm,
    OfferForm,
    OpenForm,
    ReasonForm,
    RepriceForm,
    ReturnForm,
    SettleForm,
    TellForm,
)
from .letters import Offer, letter, offer_of
from .models import PEOPLE, EntryKind, Recall, RecallEntry, still_to_do
from .pedigree import nobody_told
from .recall_groups import ROWS, WITH_US, group_of, grouped, next_deed, reason_of, revise_url, void_url
from .touched import recall_scope

ZERO = Decimal(0)
STILL = still_to_do("entries__")
#: What of a form of money that goes back its deed takes by the same name.
MONEY_BACK = ("reason", "on", "way", "words", "credit_note")
SORTS = {"code": "pk", "opened": "opened_at", "lot": "lot__code"}
COLUMNS = (
    "recall", "group", "what", "code", "spoken of", "why", "who", "e-mail", "telephone", "state", "told on",
    "told how", "choice", "words", "done on",
)  # fmt: skip


# --- Looking ------------------------------------------------------------------------------------------------------


@require_safe
def recalls(request: HttpRequest) -> HttpResponse:
    """Every recall, newest first, and what was learned of which nobody has been told yet."""
    sees_all = hand_of(request).sees_money
    state = request.GET.get("state", "")
    rows = Recall.objects.select_related("lot", "stone_statement__stone").annotate(
        all=Count("entries", distinct=True),
        to_do=Count("entries", filter=STILL, distinct=True),
        to_tell=Count("entries", filter=STILL & Q(entries__kind__in=PEOPLE), distinct=True),
    )  # fmt: skip
    if state in {"open", "closed"}:
        rows = rows.filter(closed_on__isnull=state == "open")
    page = page_of(request, rows, sorts=SORTS, default="-code")
    waiting = nobody_told() if sees_all else []
    context = {"page": page, "sort": "-code", "waiting": waiting, "any": page.total or state}
    return render(request, "sales/recalls.html", context)


@require_safe
def recall(request: HttpRequest, code: str) -> HttpResponse:
    """One recall and all it touches. Whoever sees no money sees what to set aside, and nobody's name."""
    shown = _recall(code)
    entries = _entries(shown)
    if not hand_of(request).sees_money:
        here = [one for one in entries if group_of(one) == WITH_US]
        return render(request, "sales/recall_set_aside.html", {"recall": shown, "entries": here})
    groups = [(name, [(one, next_deed(one)) for one in rows]) for name, rows in grouped(entries)]
    context = {
        "recall": shown, "groups": groups, "to_do": sum(one.is_to_do for one in entries),
        "to_tell": sum(one.is_to_do and one.is_person for one in entries), "events": _events(shown),
    }  # fmt: skip
    return render(request, "sales/recall.html", context)


def _events(shown: Recall) -> list[dict[str, Any]]:
    lines = JournalEntry.objects.filter(about=shown.code).select_related("by")
    return [
        {
            "at": one.happened_at, "text": one.verb[:1].upper() + one.verb[1:], "who": one.by,
            "detail": " · ".join(filter(None, [str(one.after.get("entry", "")), one.reason])),
        }
        for one in lines
    ]  # fmt: skip


@money_only
@require_safe
def table(request: HttpRequest, code: str) -> HttpResponse:
    """The entries as a table for a spreadsheet."""
    shown = _recall(code)
    rows = [_row(group, one) for group, found in grouped(_entries(shown)) for one in found]
    return csv_file(f"recall-{shown.code}", COLUMNS, rows)


def _row(group: str, one: RecallEntry) -> tuple[object, ...]:
    who = one.contact
    return (
        one.recall.code, group, one.get_kind_display(), one.code, "yes" if one.touched else "may be", one.why,
        str(who) if who else "", who.email if who else "", who.phone if who else "", one.state_word, one.told_on,
        one.told_how, one.get_choice_display(), one.words, one.done_on,
    )  # fmt: skip


@money_only
@require_safe
def entry(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """One entry: why it is touched, what was said and chosen, and the deeds that put it right."""
    shown = _entry(code, pk)
    context = {"recall": shown.recall, "entry": shown, "next": next_deed(shown), "deeds": _deeds(shown)}
    return render(request, "sales/recall_entry.html", context)


def _deeds(shown: RecallEntry) -> dict[str, Any]:
    """Which other deeds its page offers, by name."""
    gem, paper, line = shown.gem, shown.paper, shown.line
    may_void = paper is not None and paper.stands and not paper.is_of_account
    return {
        "revise": revise_url(shown),
        "void": void_url(shown) if may_void else "",
        "sale": line.sale if line is not None else None,
        "sold": shown.kind == EntryKind.BUYER and line is not None and line.stands,
        "reprice": shown.kind == EntryKind.GEM and gem is not None and gem.is_here and gem.is_own,
    }


# --- Opening and closing ------------------------------------------------------------------------------------------


@owner_only
def open_recall(request: HttpRequest, about: str, pk: int) -> HttpResponse:
    """What a statement would touch, and opening a recall on it."""
    said = _statement(about, pk)
    known = getattr(said, "recall", None)
    if known is not None and request.method != "POST":
        return redirect(known)
    form, by, now = OpenForm(posted(request)), hand_of(request), timezone.now()
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, lambda: actions.open_recall(said, by=by, at=now).get_absolute_url())
        if led_to:
            return redirect(led_to)
    why_not = actions.why_no_recall(said)
    scope = [] if why_not else recall_scope(said)
    context = {"said": said, "about": _about(said), "form": form, "why_not": why_not, "scope": scope}
    return render(request, "sales/recall_open.html", context, status=status_of(form))


def _statement(about: str, pk: int) -> LotStatement | StoneStatement:
    if about == "lot":
        return get_object_or_404(LotStatement.objects.select_related("lot", "material", "recall"), pk=pk)
    if about == "stone":
        return get_object_or_404(StoneStatement.objects.select_related("stone", "material", "recall"), pk=pk)
    raise Http404


def _about(said: LotStatement | StoneStatement) -> Any:
    return said.lot if isinstance(said, LotStatement) else said.stone


@owner_only
def close(request: HttpRequest, code: str) -> HttpResponse:
    """Close a recall."""
    shown, by, now = _recall(code), hand_of(request), timezone.now()
    form = CloseForm(posted(request), today=_today(request, now))

    def deed() -> None:
        actions.close_recall(shown, on=form.cleaned_data["on"], why=form.cleaned_data["why"], by=by, at=now)

    left = shown.entries.still_to_do().count()  # type: ignore[attr-defined]
    hint = f"{left} still to do: say why it is closed all the same." if left else "Nothing is left to do."
    return _page(
        request, shown, form, deed, title=f"Close {shown.code}", submit="Close it", hint=hint,
        back=shown.get_absolute_url(),
    )  # fmt: skip


# --- One entry ----------------------------------------------------------------------------------------------------


@owner_only
def tell(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The letter, ready to be changed and copied; and that somebody was told."""
    shown, by, now, shop = _entry(code, pk), hand_of(request), timezone.now(), Shop.the()
    asked = OfferForm(request.GET or None, currency=_currency(shown, shop))
    offer = _offer(shown, asked)
    form = TellForm(posted(request), written=letter(shown, shop, offer), today=_today(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        if "message" in request.POST:
            actions.prepare_message(shown, subject=typed["subject"], body=typed["letter"], by=by, at=now)
        else:
            actions.tell(shown, how=typed["how"], on=typed["on"], letter=typed["letter"], by=by, at=now)

    done = "Kept as a message. Send it, then say that they were told." if "message" in request.POST else ""
    return _page(
        request, shown.recall, form, deed, title=f"Tell {shown.contact or 'whoever has it'}", submit="They were told",
        template="sales/recall_tell.html", back=shown.get_absolute_url(), entry=shown, asked=asked, offer=offer,
        agreed=shown.line.net + shown.line.tax if shown.line is not None else None,
        done=done,
    )  # fmt: skip


def _currency(shown: RecallEntry, shop: Shop) -> str:
    return shown.line.sale.currency if shown.line is not None else shop.currency


def _offer(shown: RecallEntry, asked: OfferForm) -> Offer | None:
    if (
        shown.line is None
        or not asked.is_bound
        or not asked.is_valid()
        or not asked.cleaned_data["per_carat"]
    ):
        return None
    return offer_of(shown, asked.cleaned_data["per_carat"])


@owner_only
def choice(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Note what somebody chose."""
    shown, by, now = _entry(code, pk), hand_of(request), timezone.now()
    form = ChoiceForm(posted(request), today=_today(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        actions.note_choice(shown, typed["choice"], words=typed["words"], on=typed["on"], by=by, at=now)

    return _entry_page(
        request, shown, form, deed, title=f"What {shown.contact or 'they'} chose", submit="Note it",
        hint="A lower price and a return have deeds of their own, which note the choice too.",
    )  # fmt: skip


@owner_only
def settle(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Say what was done, or why nothing is."""
    shown, by, now = _entry(code, pk), hand_of(request), timezone.now()
    form = SettleForm(posted(request), initial={"nothing": shown.is_person})

    def deed() -> None:
        typed = form.cleaned_data
        actions.settle(shown, words=typed["words"], nothing=typed["nothing"], by=by, at=now)

    return _entry_page(request, shown, form, deed, title=f"What was done with {shown.code}", submit="Keep it")


@owner_only
def withdraw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Withdraw the open quote."""
    shown, by, now = _entry(code, pk, EntryKind.QUOTE), hand_of(request), timezone.now()
    form = ReasonForm(posted(request), initial={"reason": reason_of(shown.recall)})

    def deed() -> None:
        actions.withdraw_open_quote(shown, reason=form.cleaned_data["reason"], by=by, at=now)

    return _entry_page(
        request, shown, form, deed, title=f"Withdraw {shown.code}", submit="Withdraw it",
        hint="The client's copy stays as it is, marked void. Quote anew from the commission.",
    )  # fmt: skip


@owner_only
def lower(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The buyer keeps it for less."""
    shown, by, now = _entry(code, pk, EntryKind.BUYER), hand_of(request), timezone.now()
    assert shown.line is not None
    offer = _offer(shown, OfferForm(request.GET or None, currency=shown.line.sale.currency))
    begun: dict[str, Any] = {"reason": reason_of(shown.recall)}
    if offer is not None:
        begun |= {"price": offer.price, "refund": min(offer.refund, shown.line.sale.paid)}
    form = KeepForm(posted(request), sale=shown.line.sale, today=_today(request, now), initial=begun)

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in MONEY_BACK if name in typed}
        actions.keep_at_lower_price(
            shown,
            typed["price"],
            refund=typed.get("refund") or ZERO,
            by=by,
            at=now,
            base_url=_base(request),
            **told,
        )

    return _entry_page(
        request, shown, form, deed, title=f"{shown.code} at a lower price", submit="Lower the price",
        hint=f"Agreed were {money(shown.line.price, shown.line.sale.currency)}. What goes back is booked there.",
    )  # fmt: skip


@owner_only
def take_back(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The buyer returns it."""
    shown, by, now = _entry(code, pk, EntryKind.BUYER), hand_of(request), timezone.now()
    assert shown.line is not None
    form = ReturnForm(
        posted(request), sale=shown.line.sale, today=_today(request, now),
        initial={"reason": reason_of(shown.recall)},
    )  # fmt: skip

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in MONEY_BACK if name in typed}
        actions.take_back(
            shown, refund=typed.get("refund") or ZERO, by=by, at=now, base_url=_base(request), **told
        )

    return _entry_page(
        request, shown, form, deed, title=f"{shown.code} comes back", submit="Take it back",
        hint=f"The whole sale {shown.line.sale.code} is taken back, with every gem in it.",
    )  # fmt: skip


@owner_only
def reprice(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Ask another price for a gem."""
    shown, by, now = _entry(code, pk, EntryKind.GEM), hand_of(request), timezone.now()
    assert shown.gem is not None
    form = RepriceForm(
        posted(request), currency=Shop.the().currency, initial={"reason": reason_of(shown.recall)}
    )

    def deed() -> None:
        actions.reprice(shown, form.cleaned_data["amount"], reason=form.cleaned_data["reason"], by=by, at=now)

    return _entry_page(request, shown, form, deed, title=f"Another price for {shown.code}", submit="Ask it",
                       hint="The older prices stay in its history; what was quoted keeps its copy.")  # fmt: skip


# --- Pieces of these pages ----------------------------------------------------------------------------------------


def _recall(code: str) -> Recall:
    rows = Recall.objects.select_related("lot", "stone_statement__stone", "opened_by", "closed_by")
    return fetch(rows, code)


def _entries(shown: Recall) -> list[RecallEntry]:
    found = list(shown.entries.select_related(*ROWS))
    for one in found:
        one.recall = shown
    return found


def _entry(code: str, pk: int, kind: EntryKind | None = None) -> RecallEntry:
    rows = RecallEntry.objects.select_related(
        *ROWS, "line__gem", "recall__lot", "recall__stone_statement__stone", "done_by"
    )
    if kind is not None:
        rows = rows.filter(kind=kind)
    return get_object_or_404(rows, pk=pk, recall=_recall(code))


def _entry_page(
    request: HttpRequest, shown: RecallEntry, form: DeedForm, deed: Callable[[], None], **more: Any
) -> HttpResponse:
    return _page(request, shown.recall, form, deed, back=shown.get_absolute_url(), entry=shown, **more)


def _page(
    request: HttpRequest,
    shown: Recall,
    form: DeedForm,
    deed: Callable[[], None],
    *,
    back: str,
    template: str = "sales/recall_deed.html",
    done: str = "",
    **context: Any,
) -> HttpResponse:
    """The form of one deed; after it, back to what it was done to."""
    if request.method == "POST" and form.is_valid():

        def led() -> str:
            deed()
            return back

        if led_to := try_deed(request, form, led):
            if done:
                notices.success(request, done)
            return redirect(led_to)
    told = {"recall": shown, "form": form, "back": back, **context}
    return render(request, template, told, status=status_of(form))


def _base(request: HttpRequest) -> str:
    return request.build_absolute_uri("/")


def _today(request: HttpRequest, now: datetime) -> date:
    day: date = request.shop.day_of(now)  # type: ignore[attr-defined]
    return day
