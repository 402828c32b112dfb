"""The deeds on one entry of a recall: tell, note what was chosen, and put right what it touches."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted
from workshop.common.models import Shop
from workshop.common.say import money

from .actions import recalls as actions
from .forms_recall import (
    ChoiceForm,
    KeepForm,
    OfferForm,
    ReasonForm,
    RepriceForm,
    ReturnForm,
    SettleForm,
    TellForm,
)
from .letters import Offer, letter, offer_of
from .models import EntryKind, RecallEntry
from .recall_groups import reason_of
from .recall_pages import base_of, deed_page, entry_of, entry_page, today_of

ZERO = Decimal(0)
#: What of a form of money that goes back its deed takes by the same name.
MONEY_BACK = ("reason", "on", "way", "words", "credit_note")


@owner_only
def tell(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The letter, ready to be changed and copied; and that somebody was told."""
    shown, by, now, shop = entry_of(code, pk), hand_of(request), timezone.now(), Shop.the()
    asked = OfferForm(request.GET or None, currency=_currency(shown, shop))
    offer = _offer(shown, asked)
    form = TellForm(posted(request), written=letter(shown, shop, offer), today=today_of(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        if "message" in request.POST:
            actions.prepare_message(shown, subject=typed["subject"], body=typed["letter"], by=by, at=now)
        else:
            actions.tell(shown, how=typed["how"], on=typed["on"], letter=typed["letter"], by=by, at=now)

    done = "Kept as a message. Send it, then say that they were told." if "message" in request.POST else ""
    return deed_page(
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
    shown, by, now = entry_of(code, pk), hand_of(request), timezone.now()
    form = ChoiceForm(posted(request), today=today_of(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        actions.note_choice(shown, typed["choice"], words=typed["words"], on=typed["on"], by=by, at=now)

    return entry_page(
        request, shown, form, deed, title=f"What {shown.contact or 'they'} chose", submit="Note it",
        hint="A lower price and a return have deeds of their own, which note the choice too.",
    )  # fmt: skip


@owner_only
def settle(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Say what was done, or why nothing is."""
    shown, by, now = entry_of(code, pk), hand_of(request), timezone.now()
    form = SettleForm(posted(request), initial={"nothing": shown.is_person})

    def deed() -> None:
        typed = form.cleaned_data
        actions.settle(shown, words=typed["words"], nothing=typed["nothing"], by=by, at=now)

    return entry_page(request, shown, form, deed, title=f"What was done with {shown.code}", submit="Keep it")


@owner_only
def withdraw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Withdraw the open quote."""
    shown, by, now = entry_of(code, pk, EntryKind.QUOTE), hand_of(request), timezone.now()
    form = ReasonForm(posted(request), initial={"reason": reason_of(shown.recall)})

    def deed() -> None:
        actions.withdraw_open_quote(shown, reason=form.cleaned_data["reason"], by=by, at=now)

    return entry_page(
        request, shown, form, deed, title=f"Withdraw {shown.code}", submit="Withdraw it",
        hint="The client's copy stays as it is, marked void. Quote anew from the commission.",
    )  # fmt: skip


@owner_only
def lower(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The buyer keeps it for less."""
    shown, by, now = entry_of(code, pk, EntryKind.BUYER), hand_of(request), timezone.now()
    assert shown.line is not None
    offer = _offer(shown, OfferForm(request.GET or None, currency=shown.line.sale.currency))
    begun: dict[str, Any] = {"reason": reason_of(shown.recall)}
    if offer is not None:
        begun |= {"price": offer.price, "refund": min(offer.refund, shown.line.sale.paid)}
    form = KeepForm(posted(request), sale=shown.line.sale, today=today_of(request, now), initial=begun)

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in MONEY_BACK if name in typed}
        actions.keep_at_lower_price(
            shown,
            typed["price"],
            refund=typed.get("refund") or ZERO,
            by=by,
            at=now,
            base_url=base_of(request),
            **told,
        )

    return entry_page(
        request, shown, form, deed, title=f"{shown.code} at a lower price", submit="Lower the price",
        hint=f"Agreed were {money(shown.line.price, shown.line.sale.currency)}. What goes back is booked there.",
    )  # fmt: skip


@owner_only
def take_back(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The buyer returns it."""
    shown, by, now = entry_of(code, pk, EntryKind.BUYER), hand_of(request), timezone.now()
    assert shown.line is not None
    form = ReturnForm(
        posted(request), sale=shown.line.sale, today=today_of(request, now),
        initial={"reason": reason_of(shown.recall)},
    )  # fmt: skip

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in MONEY_BACK if name in typed}
        actions.take_back(
            shown, refund=typed.get("refund") or ZERO, by=by, at=now, base_url=base_of(request), **told
        )

    return entry_page(
        request, shown, form, deed, title=f"{shown.code} comes back", submit="Take it back",
        hint=f"The whole sale {shown.line.sale.code} is taken back, with every gem in it.",
    )  # fmt: skip


@owner_only
def reprice(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Ask another price for a gem."""
    shown, by, now = entry_of(code, pk, EntryKind.GEM), hand_of(request), timezone.now()
    assert shown.gem is not None
    form = RepriceForm(
        posted(request), currency=Shop.the().currency, initial={"reason": reason_of(shown.recall)}
    )

    def deed() -> None:
        actions.reprice(shown, form.cleaned_data["amount"], reason=form.cleaned_data["reason"], by=by, at=now)

    return entry_page(request, shown, form, deed, title=f"Another price for {shown.code}", submit="Ask it",
                       hint="The older prices stay in its history; what was quoted keeps its copy.")  # fmt: skip
