"""The calculators: no data of the shop, nothing kept, every answer at its own address."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of
from workshop.common.deeds import status_of
from workshop.handbook.errors import DoesNotAddUp, HandbookError
from workshop.handbook.money import round_money

from .. import answers
from ..forms import calculators as asks
from ..forms.asks import AskForm


@dataclass(frozen=True)
class Calculator:
    """One calculator: its address, its words, what it asks, and who answers."""

    name: str
    title: str
    words: str
    icon: str
    form: type[AskForm]
    answer: Callable[..., dict[str, Any]]
    beside: str = ""
    """The field a refusal about figures that contradict each other belongs to."""
    money: bool = False

    @property
    def template(self) -> str:
        """Where its answer is written."""
        return f"planning/answers/_{self.name}.html"


CALCULATORS = {
    one.name: one
    for one in (
        Calculator(
            "identify", "What can it be?", "Which species agree with the readings taken.", "search",
            asks.IdentifyForm, answers.identified,
        ),
        Calculator(
            "density", "Specific gravity", "Weighed in air and in water, with an honest uncertainty.", "scale",
            asks.DensityForm, answers.weighed, beside="water",
        ),
        Calculator(
            "window", "Angles and windows", "Critical angle, advised mains, and the tilt they window at.", "eye",
            asks.WindowForm, answers.window, beside="pavilion",
        ),
        Calculator(
            "tangent", "Carry angles over", "A design taken to another index by the tangent ratio.", "edit",
            asks.TangentForm, answers.carried, beside="angles",
        ),
        Calculator(
            "wheel", "What a wheel divides", "Facets on the nearest teeth, and how far off they fall.", "plan",
            asks.WheelForm, answers.divided, beside="fold",
        ),
        Calculator(
            "settings", "Settings on another wheel", "A design moved from one index wheel to another.", "next",
            asks.SettingsForm, answers.moved, beside="settings",
        ),
        Calculator(
            "girdle", "Even out a girdle", "Which sides are long, by how much, and where to go in.", "ruler",
            asks.GirdleForm, answers.girdle, beside="sides",
        ),
        Calculator(
            "weight", "Weight from millimetres", "Every published constant side by side, and the exact solid.", "gem",
            asks.WeightForm, answers.from_size, beside="depth_mm",
        ),
        Calculator(
            "grit", "Grit and micron", "What a grit label means under each standard.", "rough",
            asks.GritForm, answers.grains, beside="label",
        ),
        Calculator(
            "buying", "Before buying", "What a parcel must sell for.", "money",
            asks.BuyingForm, answers.buying, beside="price", money=True,
        ),
    )
}  # fmt: skip


@require_safe
def index(request: HttpRequest) -> HttpResponse:
    """All calculators this person may use."""
    shown = [one for one in CALCULATORS.values() if not one.money or hand_of(request).sees_money]
    return render(request, "planning/calculators.html", {"calculators": shown})


@require_safe
def calculator(request: HttpRequest, name: str) -> HttpResponse:
    """One calculator and, once asked, its answer."""
    if name not in CALCULATORS:
        raise Http404("No such calculator.")
    chosen = CALCULATORS[name]
    if chosen.money and not hand_of(request).sees_money:
        raise PermissionDenied("Prices and costs are not shown to you.")
    form = _form(request, chosen)
    context: dict[str, Any] = {"calculator": chosen, "form": form}
    if form.answered:
        context |= _answer(request, chosen, form)
    return render(request, "planning/calculator.html", context, status=status_of(form))


def _form(request: HttpRequest, chosen: Calculator) -> AskForm:
    initial = dict(chosen.form.INITIAL)  # type: ignore[attr-defined]
    if not chosen.money:
        return chosen.form.of(request, initial)
    shop = request.shop  # type: ignore[attr-defined]
    initial |= {"rate": f"{round_money(shop.hourly_rate, shop.currency)}", "hours": "3", "stones": "1"}
    return chosen.form.of(request, initial, currency=shop.currency)


def _answer(request: HttpRequest, chosen: Calculator, form: AskForm) -> dict[str, Any]:
    more = (request.shop.currency,) if chosen.money else ()  # type: ignore[attr-defined]
    try:
        return chosen.answer(form.cleaned_data, *more) | {"answered": True}
    except DoesNotAddUp as error:
        form.tell(error, chosen.beside)
    except HandbookError as error:
        form.tell(error)
    return {}
