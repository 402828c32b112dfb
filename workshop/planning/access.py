"""Fetch what a planning page is about: a stone, a lot, or a plan."""

from __future__ import annotations

import re

from django.http import Http404, HttpRequest

from workshop.common.access import fetch
from workshop.rough.models import RoughLot
from workshop.stones.models import Stone

from .models import CutPlan


def stone_of(code: str) -> Stone:
    """The stone of a code, with what its plan needs."""
    return fetch(Stone.objects.select_related("material", "lot", "owner"), code)


def lot_of(code: str) -> RoughLot:
    """The lot of a code, with its material."""
    return fetch(RoughLot.objects.select_related("material", "owner"), code)


def plan_of(code: str) -> CutPlan:
    """The plan of a code, with its stone or lot."""
    return fetch(CutPlan.objects.select_related("stone__material", "stone__lot", "lot", "chosen_by"), code)


def asked_code(request: HttpRequest, name: str) -> str:
    """A code that stands in the address after ``?name=``; empty where there is none, 404 for what is no code."""
    code = request.GET.get(name, "")
    if code and not re.fullmatch(r"[A-Za-z]{1,3}-[0-9]{1,8}", code):
        raise Http404(f"{name} is the code of one, such as S-0123.")
    return code
