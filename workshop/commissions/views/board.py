"""The board, the list, and writing down an enquiry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common import photos
from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted, posted_files, status_of, try_deed
from workshop.common.paging import page_of
from workshop.people.models import Contact

from ..actions import commissions as actions
from ..filters import CommissionFilter
from ..forms.board import EnquireForm
from ..looks import Look, look_at, week_of
from ..models import Commission, State
from .cards import Card, card_of
from .pages import shop_of, today_of

SORTS = {
    "code": "pk",
    "client": "client__name",
    "state": "state",
    "asked": "asked_on",
    "wished": "wished_by",
    "due": "due_on",
}
#: An order by what is owed tells who owes, so it is only there for whoever sees money.
MONEY_SORTS = {"balance": "balance"}
#: A board of more than this is no board; the list has them all.
CARDS = 150
COLUMNS = (State.ENQUIRY, State.QUOTED, State.ACCEPTED, State.IN_WORK)


@require_safe
def commissions(request: HttpRequest) -> HttpResponse:
    """Every commission, newest first, with what is owed together."""
    by, now = hand_of(request), timezone.now()
    found = CommissionFilter(request.GET, queryset=Commission.objects.all(), request=request, by=by)
    sums = _sums(found.qs) if by.sees_money else []
    count = sum(one["count"] for one in sums) if by.sees_money else found.qs.order_by().count()
    sorts = SORTS | MONEY_SORTS if by.sees_money else SORTS
    page = page_of(request, found.qs.select_related("client"), sorts=sorts, default="-code", total=count)
    context = {
        "filter": found,
        "page": page,
        "cards": [card_of(look) for look in look_at(page.rows, today_of(request, now), shop_of(request))],
        "sums": sums,
        "sort": "-code",
        "any": count or request.GET,
    }
    return render(request, "commissions/commissions.html", context, status=status_of(found.form))


def _sums(rows: QuerySet[Commission]) -> list[Any]:
    """What was charged, came in and is owed, currency by currency: sums of two currencies say nothing."""
    sums = {name: Sum(name) for name in ("charged", "paid", "refunded", "balance")}
    found: list[Any] = list(
        rows.order_by().values("currency").annotate(count=Count("pk"), **sums).order_by("currency")
    )
    # Taken off here: the database forgets, of a difference of two columns, that they count thousandths.
    return [{**one, "net_paid": one["paid"] - one["refunded"]} for one in found]


@dataclass(frozen=True)
class Week:
    """The cards of one column that fall due in the same stretch of time."""

    words: str
    cards: list[Card]


@dataclass(frozen=True)
class Column:
    """One state on the board."""

    state: State
    weeks: list[Week]

    @property
    def count(self) -> int:
        """How many cards stand in it."""
        return sum(len(week.cards) for week in self.weeks)


@require_safe
def board(request: HttpRequest) -> HttpResponse:
    """What stands, by state and promised week."""
    today = today_of(request, timezone.now())
    rows = Commission.objects.standing().select_related("client").order_by("due_on", "pk")
    looks = look_at(list(rows[: CARDS + 1]), today, shop_of(request))
    context = {
        "columns": [_column(state, looks[:CARDS], today) for state in COLUMNS],
        "any": bool(looks),
        "too_many": len(looks) > CARDS,
        "most": CARDS,
    }
    return render(request, "commissions/board.html", context)


def _column(state: State, looks: Sequence[Look], today: date) -> Column:
    here = [look for look in looks if look.commission.state == state]
    found: dict[str, list[Card]] = {}
    for look in sorted(here, key=lambda look: (look.commission.due_on or date.max, look.commission.pk)):
        found.setdefault(_stretch(look, today), []).append(card_of(look))
    return Column(state, [Week(words, cards) for words, cards in found.items()])


def _stretch(look: Look, today: date) -> str:
    due, monday = look.commission.due_on, week_of(today)
    if due is None:
        return "No week promised"
    if due < monday:
        return "Late"
    return {monday: "This week", monday + timedelta(days=7): "Next week"}.get(due, "Later")


@owner_only
def enquire(request: HttpRequest) -> HttpResponse:
    """Write down what a client asks for. Without a script one row more is a button."""
    by, now, shop = hand_of(request), timezone.now(), shop_of(request)
    one_more = request.POST.get("show") == "row"
    # A browser gives chosen files back only once, so a look at one row more decodes none.
    files = None if one_more else posted_files(request)
    form = EnquireForm(
        posted(request), files, shop=shop, today=shop.day_of(now), more=int(one_more),
        initial={"client": _asked_client(request)},
    )  # fmt: skip

    def deed() -> str:
        kept = [photos.keep(sizes, by=by, at=now) for sizes in form.cleaned_data["pictures"]]
        return actions.open_commission(
            form.who(by=by, at=now), items=form.pieces, photos=kept, by=by, at=now, **form.asked()
        ).get_absolute_url()

    if one_more:
        form.errors.clear()
    elif request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    return render(request, "commissions/enquire.html", {"form": form}, status=status_of(form))


def _asked_client(request: HttpRequest) -> Any:
    code = request.GET.get("client", "")[:12].replace("\x00", "")
    return Contact.objects.filter(code=code.upper()).first()
