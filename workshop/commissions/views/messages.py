"""Writing to a client, the list of messages, and the client's private link."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib import messages as notices
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from workshop.common.access import hand_of, money_only, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.paging import page_of

from .. import links, messages
from ..access import commission_of
from ..actions import links as link_actions
from ..actions import messages as actions
from ..forms.messages import LinkForm, MessageForm, ToldForm
from ..message_filters import OPEN_STATES, MessageFilter
from ..models import Commission, CommissionItem, Message, MessageState, Moment, StopAsk
from ..owed import Owed, owed
from .pages import deed_page

SORTS = {"made": "made_at", "client": "commission__client__name", "commission": "commission__pk"}
CONSOLE = "django.core.mail.backends.console.EmailBackend"


@money_only
@require_safe
def outbox(request: HttpRequest) -> HttpResponse:
    """Every message to and from clients, newest first."""
    rows = Message.objects.select_related("commission__client", "item")
    found = MessageFilter(request.GET, queryset=rows)
    page = page_of(request, found.qs, sorts=SORTS, default="-made")
    context = {
        "filter": found, "page": page, "sort": "-made", "any": page.total or request.GET, "now": timezone.now(),
        "prints_only": _prints_only(),
    }  # fmt: skip
    return render(request, "commissions/messages.html", context, status=status_of(found.form))


@owner_only
def write(request: HttpRequest, code: str) -> HttpResponse:
    """Write to the client; ``?moment=`` fills in the text from the records."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    moment, item, ask = _spoken_of(request, shown)
    form = MessageForm(posted(request), initial=_filled_in(request, shown, moment, item, ask))

    def deed() -> str:
        typed = {name: form.cleaned_data[name] for name in ("subject", "body", "to")}
        return str(actions.write_message(shown, moment=moment, item=item, by=by, at=now, **typed).pk)

    if request.method == "POST" and form.is_valid() and (made := try_deed(request, form, deed)):
        kept = get_object_or_404(Message, pk=made)
        if "send" in request.POST:
            _try_send(request, kept, by=by, now=now)
        return redirect(kept)
    context = {
        "commission": shown, "form": form, "moment": moment.label, "item": item, "moments": _also(shown, moment, item),
        "link_here": messages.LINK_HERE, "link": links.open_link(shown, now), "prints_only": _prints_only(),
    }  # fmt: skip
    return render(request, "commissions/message_write.html", context, status=status_of(form))


@money_only
@require_safe
def message(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """One message, and what became of it."""
    return _message_page(request, _message(code, pk), timezone.now())


@owner_only
@require_POST
def send(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Hand a message to the mail server; ``again`` after somebody looked whether it went."""
    kept, by, now = _message(code, pk), hand_of(request), timezone.now()
    try:
        after = actions.send_message(
            kept, by=by, at=now, base_url=_base(request), again="again" in request.POST
        )
    except DeedRefused as refusal:
        return _message_page(request, _message(code, pk), now, refusal=refusal.message)
    _tell(request, after)
    return redirect(after)


@owner_only
@require_POST
def mark_sent(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Somebody looked: it went."""
    return _closed(request, code, pk, actions.mark_sent)


@owner_only
@require_POST
def copied(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The client was given the text another way."""
    return _closed(request, code, pk, actions.mark_copied)


@owner_only
@require_POST
def drop(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Leave a message unsent for good."""
    return _closed(request, code, pk, actions.drop_message)


@owner_only
def told(request: HttpRequest, code: str) -> HttpResponse:
    """Write down what the client told by telephone."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = ToldForm(posted(request))
    return deed_page(
        request, shown, form,
        lambda: actions.note_told(shown, words=form.cleaned_data["words"], by=by, at=now),
        title=f"What {shown.client.name} said", submit="Keep it", at="#messages",
        hint="Kept with the commission and its date. An answer to a quote or a question is entered there.",
    )  # fmt: skip


@owner_only
def link_make(request: HttpRequest, code: str) -> HttpResponse:
    """Make the client's private link."""
    shown, by, now = commission_of(code), hand_of(request), timezone.now()
    form = LinkForm(posted(request))
    return deed_page(
        request, shown, form,
        lambda: link_actions.make_link(shown, days=form.cleaned_data["days"], by=by, at=now),
        title=f"Private link for {shown.client.name}", submit="Make the link", at="#client-link",
        hint="Whoever holds the link sees this commission's page and can answer for the client, without an account. "
        "It shows no cost, no notes and nobody else, and you can withdraw it at any time.",
    )  # fmt: skip


@owner_only
@require_POST
def link_withdraw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Close a link at once."""
    shown = commission_of(code)
    try:
        link_actions.withdraw_link(
            get_object_or_404(shown.links, pk=pk), by=hand_of(request), at=timezone.now()
        )
        notices.success(request, "The link is withdrawn; it opens nothing any more.")
    except DeedRefused as refusal:
        notices.info(request, refusal.message)
    return redirect(f"{shown.get_absolute_url()}#client-link")


def talk_of(request: HttpRequest, commission: Commission, now: datetime) -> dict[str, Any]:
    """What the commission's page shows of the client's link and of messages: for its owner alone the address."""
    by, link = hand_of(request), links.open_link(commission, now)
    address = links.full_address(link, _base(request)) if link is not None and by.runs_the_shop else ""
    return {
        "link": link,
        "link_address": address,
        "link_path": links.address_of(link) if address and link is not None else "",
        "link_stays_inside": not _shop(request).base_url,
        "links_open": list(commission.links.filter(withdrawn_at__isnull=True, expires_at__gt=now)),
        "owed": owed(commission) if by.runs_the_shop else [],
    }


def _message(code: str, pk: int) -> Message:
    rows = Message.objects.select_related("commission__client", "item", "by")
    return get_object_or_404(rows, commission=commission_of(code), pk=pk)


def _message_page(request: HttpRequest, kept: Message, now: datetime, *, refusal: str = "") -> HttpResponse:
    by = hand_of(request)
    given, why_not = "", ""
    if by.runs_the_shop and not kept.from_client:
        try:
            given = actions.as_given(kept, _base(request), now)
        except DeedRefused as reason:
            why_not = reason.message
    context = {
        "message": kept,
        "commission": kept.commission,
        "given": given,
        "why_not": why_not,
        "refusal": refusal,
        "open": kept.state in OPEN_STATES,
        "stuck": actions.is_stuck(kept, now),
        "prints_only": _prints_only(),
    }
    return render(request, "commissions/message.html", context, status=409 if refusal else 200)


def _closed(request: HttpRequest, code: str, pk: int, deed: Callable[..., Message]) -> HttpResponse:
    kept, now = _message(code, pk), timezone.now()
    try:
        return redirect(deed(kept, by=hand_of(request), at=now))
    except DeedRefused as refusal:
        return _message_page(request, _message(code, pk), now, refusal=refusal.message)


def _try_send(request: HttpRequest, kept: Message, *, by: Hand, now: datetime) -> None:
    try:
        _tell(request, actions.send_message(kept, by=by, at=now, base_url=_base(request)))
    except DeedRefused as refusal:
        notices.warning(request, refusal.message)


def _tell(request: HttpRequest, after: Message) -> None:
    if after.state == MessageState.SENT:
        how = (
            "It was printed where the server runs; no mail left."
            if _prints_only()
            else f"Sent to {after.to}."
        )
        notices.success(request, how)
    else:
        notices.error(request, f"Not sent: {after.error} It is kept here and can be sent again.")


def _also(commission: Commission, moment: Moment, item: CommissionItem | None) -> list[Owed]:
    """What is owed besides the word that is being written."""
    return [one for one in owed(commission) if (one.moment, one.item) != (moment, item)]


def _spoken_of(
    request: HttpRequest, commission: Commission
) -> tuple[Moment, CommissionItem | None, StopAsk | None]:
    """Which moment, piece and question the address asks for; nonsense is not found."""
    asked = request.GET.get("moment") or Moment.OTHER.value
    if asked not in Moment.values:
        raise Http404
    item = ask = None
    if number := request.GET.get("item"):
        item = get_object_or_404(commission.items, number=_whole(number))
    if pk := request.GET.get("ask"):
        ask = get_object_or_404(
            StopAsk.objects.select_related("item"), item__commission=commission, pk=_whole(pk)
        )
    return Moment(asked), item or (ask.item if ask else None), ask


def _filled_in(
    request: HttpRequest,
    commission: Commission,
    moment: Moment,
    item: CommissionItem | None,
    ask: StopAsk | None,
) -> dict[str, str]:
    if like := request.GET.get("like"):
        old = get_object_or_404(commission.messages.filter(from_client=False), pk=_whole(like))
        return {"to": old.to or commission.client.email, "subject": old.subject, "body": old.body}
    subject, body = messages.wording(commission, moment, item, ask)
    return {"to": commission.client.email, "subject": subject, "body": body}


def _whole(typed: str) -> int:
    # Not `int`: it takes underscores and thousands of digits.
    if not typed.isascii() or not typed.isdigit() or len(typed) > 18:
        raise Http404
    return int(typed)


def _prints_only() -> bool:
    return bool(settings.EMAIL_BACKEND == CONSOLE)


def _base(request: HttpRequest) -> str:
    """Where the shop is reached from outside; until its owner has said so, where this page was."""
    return _shop(request).base_url or request.build_absolute_uri("/")


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop
