"""Along the stages, back with a reason, into waiting and out of it, to an end and up again."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from workshop.common.access import hand_of, recorder_only
from workshop.common.deeds import DeedForm, posted

from .. import actions
from ..access import stone_of
from ..forms import AgainForm, BackForm, EndForm, WaitForm
from ..models import STAGES, Stage, StageChange, Stone
from .cautions import cautions_about
from .pages import back_url, deed_page, tap


class _StageTap(DeedForm):
    """The stage a button names."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.stage = str(self.data.get("to", ""))

    def clean(self) -> dict[str, object] | None:
        if self.stage not in Stage.values:
            self.add_error(None, "There is no such stage.")
        return super().clean()


def stages_ahead(stone: Stone) -> list[Stage]:
    """The stages a stone may step to; finishing is a deed of its own."""
    return [stage for stage in STAGES[STAGES.index(Stage(stone.stage)) + 1 :] if stage != Stage.FINISHED]


@recorder_only
def move(request: HttpRequest, code: str) -> HttpResponse:
    """Step on to a later stage with one tap; GET shows all of them."""
    stone = stone_of(code)
    back = back_url(request, stone)
    if request.method != "POST":
        shown = {
            "stone": stone,
            "back": back,
            "back_query": "?from=bench" if request.GET.get("from") == "bench" else "",
            "stages": stages_ahead(stone),
            "cautions": cautions_about(stone, ("dopping", "cleaning")),
        }
        return render(request, "stones/move.html", shown)
    form = _StageTap(request.POST)
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        actions.move_on(stone, form.stage, by=by, at=now)
        step = stone.stage_changes.order_by("-pk").first()
        assert step is not None
        undo = reverse("stones:take_back", args=[step.pk])
        messages.success(request, f"{stone.code}: {Stage(form.stage).label}.", extra_tags=f"undo={undo}")
        return back

    return tap(request, form, deed, back=back)


@recorder_only
@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo a step that was tapped by mistake."""
    step = get_object_or_404(StageChange.objects.select_related("stone"), pk=pk)
    back = step.stone.get_absolute_url()

    def deed(by: object = hand_of(request), now: object = timezone.now()) -> str:
        stone = actions.take_back_step(step, by=by, at=now)  # type: ignore[arg-type]
        messages.info(request, f"{stone.code} is {stone.get_stage_display()} again.")
        return back

    return tap(request, DeedForm(request.POST), deed, back=back)


@recorder_only
def back(request: HttpRequest, code: str) -> HttpResponse:
    """Go back a stage, with the reason."""
    stone = stone_of(code)
    form = BackForm(posted(request), stone=stone)
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        typed = form.cleaned_data
        actions.go_back(stone, typed["stage"], reason=typed["reason"], by=by, at=now)
        return back_url(request, stone)

    return deed_page(
        request, stone, form, deed, title=f"{stone.code} goes back", submit="Go back",
        done="It went back. Hours from now on count as rework.", moments=("recutting",),
    )  # fmt: skip


@recorder_only
def wait(request: HttpRequest, code: str) -> HttpResponse:
    """Lay a stone aside where it stands."""
    stone = stone_of(code)
    form = WaitForm(posted(request))
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        typed = form.cleaned_data
        actions.wait_for(stone, typed["what"], note=typed["note"], by=by, at=now)
        return back_url(request, stone)

    return deed_page(request, stone, form, deed, title=f"{stone.code} waits", submit="Lay it aside")


@recorder_only
@require_POST
def resume(request: HttpRequest, code: str) -> HttpResponse:
    """Take a waiting stone up again."""
    return _tap_on(request, code, lambda stone, by, now: actions.resume(stone, by=by, at=now))


@recorder_only
@require_POST
def stop_note_done(request: HttpRequest, code: str) -> HttpResponse:
    """What the stop note said is done: it leaves the head of the stone and stays among the notes."""
    return _tap_on(
        request, code, lambda stone, by, now: actions.describe_stone(stone, {"stop_note": ""}, by=by, at=now)
    )


def _tap_on(request: HttpRequest, code: str, act: Callable[..., object]) -> HttpResponse:
    stone = stone_of(code)
    back, by, now = back_url(request, stone), hand_of(request), timezone.now()

    def deed() -> str:
        act(stone, by, now)
        return back

    return tap(request, DeedForm(request.POST), deed, back=back)


@recorder_only
def end(request: HttpRequest, code: str) -> HttpResponse:
    """A stone is put by, lost, scrapped, or goes back unworked."""
    stone = stone_of(code)
    first = {"ending": request.GET.get("as", "")}
    form = EndForm(posted(request), stone=stone, initial=first)
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        typed = form.cleaned_data
        actions.end_stone(stone, typed["ending"], reason=typed["reason"], by=by, at=now)
        return stone.get_absolute_url()

    return deed_page(request, stone, form, deed, title=f"{stone.code} comes to an end", submit="Keep it so")


@recorder_only
def again(request: HttpRequest, code: str) -> HttpResponse:
    """A lost stone was found, or one put by is taken up."""
    stone = stone_of(code)
    form = AgainForm(posted(request))
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        actions.take_up_again(stone, reason=form.cleaned_data["reason"], by=by, at=now)
        return stone.get_absolute_url()

    return deed_page(request, stone, form, deed, title=f"Take {stone.code} up again", submit="Take it up")
