"""The client's own page: opened by a private link, without an account.

Every address below a wrong link answers the same, to the byte. A right link always opens, even from a place that
asked for many wrong ones: 128 random bits and a signature leave a guesser nothing to find, so the limit only keeps
the noise down, and a client behind a shared address must not pay for a neighbour.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils import timezone

from workshop.common import photos
from workshop.common.deeds import DeedForm, posted, try_deed
from workshop.common.errors import DeedRefused
from workshop.common.middleware import client_address
from workshop.common.models import Shop
from workshop.papers import actions as papers
from workshop.papers.pdf import PdfUnavailable
from workshop.papers.rendering import PaperDamaged, content_of
from workshop.papers.views import pdf_response

from .. import links
from ..actions.answers import accept_quote, decline_quote
from ..actions.asks import answer_ask
from ..actions.links import count_wrong, note_seen
from ..forms.client import AcceptForm, AnswerForm, DeclineForm
from ..models import ClientLink, Commission, Quote, QuoteState, StopAsk
from ..quote_words import agreement
from ..shown import Shown, agreed_wording, papers_of, photo_for_client, shown_to_client

FROM = "client's page"
#: The sheets a client is given first: what prints at home.
SHEETS_FIRST = ("a4", "letter", "a6")
TRY_LATER_SECONDS = int(links.WRONG_WITHIN.total_seconds())

#: Sent to no other host, kept nowhere, found by no search. A page with a form keeps the house's "same-origin":
#: under "no-referrer" a browser sends a form with the origin "null" (Fetch standard, "append a request Origin
#: header"), which the guard against forged posts has to refuse.
PRIVATE = {"Cache-Control": "no-store", "X-Robots-Tag": "noindex, nofollow"}
NO_REFERRER = "no-referrer"

LinkView = Callable[..., HttpResponse]


def by_link(*methods: str, has_forms: bool = False) -> Callable[[LinkView], Callable[..., HttpResponse]]:
    """Open a page to whoever holds its link, and answer every other address alike."""

    def guard(view: LinkView) -> Callable[..., HttpResponse]:
        @login_not_required
        @wraps(view)
        def guarded(request: HttpRequest, token: str, **parts: Any) -> HttpResponse:
            now = timezone.now()
            link = links.link_of(token, now)
            if link is None:
                return _private(_closed(request, now))
            if request.method not in methods:
                return _private(HttpResponseNotAllowed(methods))
            try:
                answer = view(request, link, now, **parts)
            except Http404:
                return _private(_nothing_here(_shop(request)))
            return _private(answer, has_forms=has_forms)

        return guarded

    return guard


@by_link("GET", "HEAD", has_forms=True)
def page(request: HttpRequest, link: ClientLink, now: datetime) -> HttpResponse:
    """The commission as the client may see it."""
    if not request.user.is_authenticated:
        # The shop's own look is no sign that the client was there.
        note_seen(link, at=now)
    return _page(request, link, now)


@by_link("GET", "HEAD", "POST", has_forms=True)
def accept(request: HttpRequest, link: ClientLink, now: datetime, version: int) -> HttpResponse:
    """Yes to a version: name, time and the exact wording are kept."""
    quote = _sent_quote(link.commission, version)
    form = AcceptForm(posted(request), statement=agreement(quote), version=version, prefix="yes")

    def deed() -> None:
        typed = form.cleaned_data
        accept_quote(
            quote, name=typed["name"], words=typed["words"], wording=agreed_wording(quote),
            answered_from=FROM, by=None, at=now,
        )  # fmt: skip

    return _answered(request, link, now, form, deed, accept=form)


@by_link("GET", "HEAD", "POST", has_forms=True)
def decline(request: HttpRequest, link: ClientLink, now: datetime, version: int) -> HttpResponse:
    """No to a version, with a word."""
    quote = _sent_quote(link.commission, version)
    form = DeclineForm(posted(request), version=version, prefix="no")

    def deed() -> None:
        typed = form.cleaned_data
        decline_quote(quote, name=typed["name"], words=typed["words"], answered_from=FROM, by=None, at=now)

    return _answered(request, link, now, form, deed, decline=form)


@by_link("GET", "HEAD", "POST", has_forms=True)
def answer(request: HttpRequest, link: ClientLink, now: datetime, pk: int) -> HttpResponse:
    """The answer to a question that stopped the work."""

    rows = StopAsk.objects.filter(item__commission=link.commission, withdrawn_at__isnull=True)
    ask = get_object_or_404(rows, pk=pk)
    form = AnswerForm(posted(request), options=tuple(map(str, ask.options)), prefix=f"ask{ask.pk}")

    def deed() -> None:
        typed = form.cleaned_data
        answer_ask(
            ask, answer=typed["answer"], words=typed["words"], name=typed["name"], answered_from=FROM, by=None, at=now
        )  # fmt: skip

    return _answered(request, link, now, form, deed, answers={ask.pk: form})


@by_link("GET", "HEAD")
def photo(request: HttpRequest, link: ClientLink, now: datetime, sha: str, size: str) -> HttpResponse:
    """A photograph that was shared, in one of the sizes the shop keeps: re-encoded, with nothing the camera noted."""
    found = photo_for_client(link.commission, sha) if size in photos.SIZES else None
    if found is None:
        raise Http404
    try:
        return HttpResponse(photos.read(found, size), content_type="image/jpeg")
    except FileNotFoundError as error:
        raise Http404 from error


@by_link("GET", "HEAD")
def paper(request: HttpRequest, link: ClientLink, now: datetime, number: str) -> HttpResponse:
    """A paper of this commission as a PDF."""
    found = next((one for one in papers_of(link.commission) if one.number == number), None)
    if found is None:
        raise Http404
    try:
        sizes = content_of(found)["sizes"]
        size = next((one for one in SHEETS_FIRST if one in sizes), sizes[0])
        kept = papers.bytes_of(found, size, at=now)
    except (PdfUnavailable, PaperDamaged, DeedRefused):
        refusal = f"{found.number} cannot be drawn just now. Ask us for it; nothing is lost."
        return _page(request, link, now, refusal=refusal, status=503)
    return pdf_response(bytes(kept.pdf), f"{found.number}-{size}")


def _answered(
    request: HttpRequest,
    link: ClientLink,
    now: datetime,
    form: DeedForm,
    deed: Callable[[], None],
    **forms: Any,
) -> HttpResponse:
    """Do a deed of the client's once and show the page as it then is; refused, show why, and the page as it is."""
    address = links.address_of(link)
    if request.method != "POST":
        return redirect(address)

    def led() -> str:
        deed()
        # Not the address itself: the row that keeps the one-time key must not open the page.
        return link.commission.code

    if not form.is_valid():
        refusal = f"Nothing was sent yet. {_problems(form)}"
        return _page(request, link, now, refusal=refusal, look_at=form.prefix or "", status=422, **forms)
    if try_deed(request, form, led, anyone=True):
        return redirect(f"{address}#now")
    return _page(request, link, now, refusal=_problems(form), status=409, **forms)


def _problems(form: DeedForm) -> str:
    return " ".join(dict.fromkeys(str(problem) for problems in form.errors.values() for problem in problems))


def _page(
    request: HttpRequest,
    link: ClientLink,
    now: datetime,
    *,
    refusal: str = "",
    look_at: str = "",
    status: int = 200,
    **forms: Any,
) -> HttpResponse:
    shop, commission = _shop(request), Commission.objects.select_related("client").get(pk=link.commission_id)
    shown = shown_to_client(commission, shop.day_of(now))
    context = {
        "token": links.token_of(link),
        "shop": shop,
        "shown": shown,
        "until": link.expires_at,
        "refusal": refusal,
        "look_at": look_at,
        **_forms(shown, **forms),
    }
    return render(request, "client/page.html", context, status=status)


def _forms(
    shown: Shown,
    *,
    accept: AcceptForm | None = None,
    decline: DeclineForm | None = None,
    answers: dict[int, AnswerForm] | None = None,
) -> dict[str, Any]:
    """The forms the page has now; one that was sent and refused keeps what was typed."""
    quote = shown.quote if shown.quote and shown.quote.is_open else None
    # What was typed for a version that is no longer the open one must not stand under another.
    if quote and (accept is None or accept.version != quote.version):
        accept = AcceptForm(statement=quote.statement, version=quote.version, prefix="yes")
    if quote and (decline is None or decline.version != quote.version):
        decline = DeclineForm(version=quote.version, prefix="no")
    return {
        "accept": accept if quote else None,
        "decline": decline if quote else None,
        "asks": [
            (ask, (answers or {}).get(ask.pk) or AnswerForm(options=ask.options, prefix=f"ask{ask.pk}"))
            for ask in shown.asks
        ],
    }


def _sent_quote(commission: Commission, version: int) -> Quote:
    rows = commission.quotes.exclude(state=QuoteState.DRAFT).select_related("commission", "paper")
    return get_object_or_404(rows, version=version)


def _closed(request: HttpRequest, now: datetime) -> HttpResponse:
    """Malformed, forged, unknown, withdrawn or run out: one answer, until it was asked for too often."""
    if count_wrong(links.place_of(client_address(request)), at=now):
        response = _nothing_here(_shop(request), too_often=True)
        response["Retry-After"] = str(TRY_LATER_SECONDS)
        return response
    return _nothing_here(_shop(request))


def _nothing_here(shop: Shop, *, too_often: bool = False) -> HttpResponse:
    # Drawn without the request: no cookie and no token of a form make one answer differ from another.
    context = {"shop": shop, "too_often": too_often}
    return HttpResponse(render_to_string("client/closed.html", context), status=429 if too_often else 404)


def _private(response: HttpResponse, *, has_forms: bool = False) -> HttpResponse:
    for name, value in PRIVATE.items():
        response[name] = value
    if not has_forms:
        response["Referrer-Policy"] = NO_REFERRER
    return response


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop
