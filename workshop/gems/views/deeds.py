"""What is done with a gem: its words, its pictures, its price, its whereabouts, back to work, and off the books."""

from __future__ import annotations

from datetime import date, datetime

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from workshop.common import say
from workshop.common.access import hand_of, owner_only, recorder_only
from workshop.common.deeds import posted
from workshop.common.models import Shop
from workshop.papers.models import Paper

from .. import actions
from ..access import gem_of
from ..forms import (
    BackForm,
    BuyForm,
    DescribeForm,
    GemPhotoForm,
    LetGoForm,
    MoveForm,
    PriceForm,
    SendBackForm,
)
from .finish import add_pictures
from .pages import deed_page


def _today(request: HttpRequest, now: datetime) -> date:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    day: date = shop.day_of(now)
    return day


def _currency(request: HttpRequest) -> str:
    return str(request.shop.currency)  # type: ignore[attr-defined]


@owner_only
def price(request: HttpRequest, code: str) -> HttpResponse:
    """Ask a price; the older ones stay in the history."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = PriceForm(posted(request), currency=_currency(request))

    def deed() -> None:
        typed = form.cleaned_data
        actions.set_price(gem, typed["amount"], level=typed["level"], reason=typed["reason"], by=by, at=now)

    return deed_page(
        request, gem, form, deed, title=f"Price of {gem.code}", submit="Ask it", template="gems/price.html",
        cost=gem.stone.cost_to_date,
    )  # fmt: skip


@owner_only
def move(request: HttpRequest, code: str) -> HttpResponse:
    """Say who has the gem tonight."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = MoveForm(posted(request), gem=gem, currency=_currency(request), today=_today(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        told = {name: typed[name] for name in ("place", "holder", "since", "declared_value")}
        actions.move_gem(gem, by=by, at=now, **told)

    return deed_page(request, gem, form, deed, title=f"Where {gem.code} is", submit="Keep")


@owner_only
def describe(request: HttpRequest, code: str) -> HttpResponse:
    """Change the words about a gem; weight and size stay as they came off scale and gauge."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = DescribeForm(posted(request), initial=DescribeForm.values_of(gem))

    def deed() -> None:
        actions.describe_gem(gem, form.said(), by=by, at=now)

    return deed_page(
        request, gem, form, deed, title=f"Describe {gem.code}", submit="Keep the words",
        template="gems/describe.html", standing=_standing_papers(gem.code),
    )  # fmt: skip


@recorder_only
def photo(request: HttpRequest, code: str) -> HttpResponse:
    """Add photographs of a gem, and choose the one strangers see."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = GemPhotoForm(posted(request), request.FILES or None, gem=gem)

    def deed() -> None:
        if not form.takes_new_picture:
            actions.describe_gem(gem, {"public_photo": form.chosen_picture}, by=by, at=now)
        add_pictures(gem, form, caption=form.cleaned_data["caption"], by=by, at=now)

    return deed_page(request, gem, form, deed, title=f"Photographs of {gem.code}", submit="Keep")


@owner_only
def rework(request: HttpRequest, code: str) -> HttpResponse:
    """Send a gem back to work, with the reason."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = SendBackForm(posted(request))

    def deed() -> None:
        typed = form.cleaned_data
        actions.send_back(gem, to=typed["to"], reason=typed["reason"], by=by, at=now)

    return deed_page(
        request, gem, form, deed, title=f"{gem.code} goes back to work", submit="Send it back",
        done=f"{gem.stone.code} is on the bench again. Hours from now on count as rework.",
        template="gems/rework.html", standing=_standing_papers(gem.code),
    )  # fmt: skip


@owner_only
def let_go(request: HttpRequest, code: str) -> HttpResponse:
    """A gem leaves the books without a sale: given, kept, lost, or home to its owner."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = LetGoForm(posted(request), gem=gem, today=_today(request, now))

    def deed() -> None:
        typed = form.cleaned_data
        actions.let_go(
            gem,
            gone_as=typed["gone_as"],
            on=typed["on"],
            holder=typed.get("holder"),
            note=typed["note"],
            by=by,
            at=now,
        )

    return deed_page(
        request, gem, form, deed, title=f"{gem.code} leaves the books", submit="Keep it so",
        template="gems/let_go.html",
    )  # fmt: skip


@owner_only
def buy(request: HttpRequest, code: str) -> HttpResponse:
    """Buy a gem from its owner: it becomes the shop's own."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = BuyForm(posted(request), currency=_currency(request))

    def deed() -> None:
        typed = form.cleaned_data
        actions.buy_from_owner(gem, paid=typed["paid"], reason=typed["reason"], by=by, at=now)

    return deed_page(request, gem, form, deed, title=f"Buy {gem.code} from its owner", submit="Buy it")


@owner_only
def again(request: HttpRequest, code: str) -> HttpResponse:
    """A gem that had gone came back: found, or given back."""
    gem, by, now = gem_of(code), hand_of(request), timezone.now()
    form = BackForm(posted(request))

    def deed() -> None:
        actions.found_again(gem, reason=form.cleaned_data["reason"], by=by, at=now)

    done = f"{gem.code}, {say.carats(gem.weight_ct)}, is on the books again."
    return deed_page(request, gem, form, deed, title=f"{gem.code} came back", submit="Take it in", done=done)


def _standing_papers(code: str) -> list[Paper]:
    return list(Paper.objects.standing().about(code))
