"""What each role may do, said once: closed by default, opened by the part a page belongs to."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.core.exceptions import PermissionDenied
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from .models import Hand

View = Callable[..., HttpResponse]
Row = TypeVar("Row", bound=Model)


def _only(allowed: Callable[[Hand], bool], why: str) -> Callable[[View], View]:
    def guard(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not allowed(hand_of(request)):
                raise PermissionDenied(why)
            return view(request, *args, **kwargs)

        return guarded

    return guard


#: Buying, sorting, pricing, papers, sales, people and the shop itself: the owner.
owner_only = _only(lambda hand: hand.runs_the_shop, "Only the shop's owner may do this.")
#: Time, weights and what happens at the bench: owners and hands.
recorder_only = _only(lambda hand: hand.may_record, "You may look, but not record anything.")
#: Prices, costs and what the hour earned: owners and readers.
money_only = _only(lambda hand: hand.sees_money, "Prices and costs are not shown to you.")


def hand_of(request: HttpRequest) -> Hand:
    """The signed-in hand; pages are closed by default, so there is one."""
    assert isinstance(request.user, Hand)
    return request.user


def fetch(rows: QuerySet[Row], code: str) -> Row:
    """The row with a human code, typed in any case, or a 404."""
    if "\x00" in code:
        # PostgreSQL does not even compare with such a text.
        raise Http404
    return get_object_or_404(rows, code=code.upper())
