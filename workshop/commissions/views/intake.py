"""Taking a client's goods in, their photographs and faults, and the papers of it; what lies here of others."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from workshop.common import photos
from workshop.common.access import fetch, hand_of, money_only, owner_only, recorder_only
from workshop.common.deeds import DeedForm, posted, posted_files, status_of, try_deed
from workshop.common.models import Shop
from workshop.materials.models import Evidence
from workshop.papers import marks as rings

from .. import others, risks
from ..access import commission_of
from ..actions import intake as actions
from ..actions.intake_papers import after_reports, missing_for_papers
from ..forms.intake import (
    CorrectForm,
    IntakePhotoForm,
    MarkForm,
    PiecesForm,
    TakeInForm,
)
from ..models import Commission, Intake, IntakePhoto, IntakePiece, Mark
from ..papers_intake import RUNGS, pieces_of, treatment_told

#: Widths in CSS pixels at which a picture is offered to be tapped: one for telephones, one for wider screens.
#: Both are fixed, since a browser without a script tells a tap in pixels of what it shows and no more.
TAP_WIDTHS = {"small": 320, "wide": 720}
#: A picture of a column or a strip is still shown whole on one screen.
TALLEST = 640
#: What a hand at the bench is not told: how the goods are covered and on which terms they are kept.
TERMS = frozenset({"insurance", "uncollected"})
THOUSANDTH = Decimal("0.001")


def intake_of(code: str, intake_code: str) -> Intake:
    """The taking-in with a code, of that commission."""
    if "\x00" in intake_code:
        raise Http404
    rows = Intake.objects.select_related("commission__client", "receipt", "report", "taken_by")
    return get_object_or_404(rows, code=intake_code.upper(), commission=commission_of(code))


def shop_of(request: HttpRequest) -> Shop:
    """The shop of the request."""
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop


# --- Taking in -------------------------------------------------------------------------------------------------------


@owner_only
def take_in(request: HttpRequest, code: str) -> HttpResponse:
    """Take goods in, piece after piece. “Another piece” keeps all that was typed and nothing else."""
    commission, by, now, shop = commission_of(code), hand_of(request), timezone.now(), shop_of(request)
    sent = posted(request)
    count = TakeInForm.count_in(sent)
    if sent is not None and "more" in sent:
        return _longer(request, commission, sent, count, now)
    form = TakeInForm(sent, posted_files(request), commission=commission, shop=shop, now=now, count=count)

    def deed() -> str:
        made = actions.take_in(
            commission, pieces=form.specs(), sure=form.is_sure, by=by, at=now, **form.terms()
        )
        for row, sizes in zip(made.pieces.all(), form.pictures(), strict=True):
            _keep(row, sizes, "", by=by, at=now)
        return made.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    return _take_in_page(request, commission, form)


def _longer(
    request: HttpRequest, commission: Commission, sent: QueryDict, count: int, now: datetime
) -> HttpResponse:
    shop = shop_of(request)
    before = TakeInForm(commission=commission, shop=shop, now=now, count=count)
    form = TakeInForm(
        commission=commission, shop=shop, now=now, count=count + 1, initial=before.as_it_stood(sent)
    )
    return _take_in_page(request, commission, form)


def _take_in_page(request: HttpRequest, commission: Commission, form: TakeInForm) -> HttpResponse:
    context = {"commission": commission, "form": form, "check_law": risks.CHECK_LAW}
    return render(request, "commissions/intake_take_in.html", context, status=status_of(form))


def _keep(row: IntakePiece, pictures: list[dict[str, bytes]], view: str, *, by: Any, at: datetime) -> None:
    for sizes in pictures:
        actions.add_intake_photo(row, photos.keep(sizes, by=by, at=at), view=view, by=by, at=at)


@owner_only
def intake_piece(request: HttpRequest, code: str, intake_code: str) -> HttpResponse:
    """One more piece of the same handing-over."""
    intake, by, now = intake_of(code, intake_code), hand_of(request), timezone.now()
    form = PiecesForm(
        posted(request), posted_files(request), commission=intake.commission, shop=shop_of(request)
    )

    def deed() -> None:
        row = actions.add_piece(intake, form.specs()[0], sure=form.is_sure, by=by, at=now)
        _keep(row, form.pictures()[0], "", by=by, at=now)

    return deed_page(request, intake, form, deed, "commissions/intake_piece.html", title="Another piece")


@owner_only
def intake_correct(request: HttpRequest, code: str, intake_code: str, pk: int) -> HttpResponse:
    """Put right what was mistyped about a piece."""
    intake, by, now = intake_of(code, intake_code), hand_of(request), timezone.now()
    row = get_object_or_404(IntakePiece.objects.select_related("lot", "intake"), pk=pk, intake=intake)
    form = CorrectForm(posted(request), piece=row, shop=shop_of(request))

    def deed() -> None:
        typed = form.cleaned_data
        actions.correct_piece(
            row, form.changes(), weight=typed["weight"], reason=typed["reason"], by=by, at=now
        )

    hint = "The journal keeps what stood there. A paper that was issued keeps its words: issue it anew."
    return deed_page(
        request, intake, form, deed, title=f"Correct {row.lot.code}", submit="Correct", hint=hint
    )


def deed_page(
    request: HttpRequest,
    intake: Intake,
    form: DeedForm,
    deed: Callable[[], object],
    template: str = "commissions/intake_deed.html",
    **context: Any,
) -> HttpResponse:
    """The form of one deed of a taking-in; after it, back to the taking-in."""

    def led() -> str:
        deed()
        return intake.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, led)):
        return redirect(led_to)
    context |= {"intake": intake, "form": form}
    return render(request, template, context, status=status_of(form))


# --- The taking-in ---------------------------------------------------------------------------------------------------


@require_safe
def intake_by_code(request: HttpRequest, intake_code: str) -> HttpResponse:
    """From the code alone, as papers and labels know it, to the taking-in."""
    return redirect(fetch(Intake.objects.select_related("commission"), intake_code).get_absolute_url())


@require_safe
def intake(request: HttpRequest, code: str, intake_code: str) -> HttpResponse:
    """One taking-in: its pieces, stated beside seen, the faults on their pictures, the risks, the papers."""
    shown = intake_of(code, intake_code)
    pieces, sees_money = pieces_of(shown), hand_of(request).sees_money
    context = {
        "intake": shown,
        "pieces": [told_of_piece(piece, terms=sees_money) for piece in pieces],
        "missing": missing_for_papers(pieces),
        "check_law": risks.CHECK_LAW,
        "editable": not shown.commission.is_closed,
    }
    if sees_money:
        context |= {"after": after_reports(shown), "signed_sheets": _signed_sheets(shown, pieces)}
    return render(request, "commissions/intake.html", context)


def _signed_sheets(shown: Intake, pieces: list[IntakePiece]) -> list[Any]:
    if not pieces or shown.receipt is None:
        return []
    return list(pieces[0].lot.documents.filter(title__startswith=shown.receipt.number).select_related("lot"))


def told_of_piece(piece: IntakePiece, *, terms: bool) -> dict[str, Any]:
    """A piece as its page tells it; ``terms`` with what it is insured by and kept on."""
    subject = risks.subject_of_piece(piece)
    return {
        "piece": piece,
        "photos": [(photo, _marked(photo)) for photo in piece.photos.all()],
        "said": [(one, RUNGS[Evidence(one.evidence)]) for one in piece.lot.statements.all()],
        "treatment": treatment_told(piece),
        "rung": RUNGS[Evidence.SAID],
        "risks": [one for one in risks.risks_of(subject) if terms or one.topic not in TERMS],
    }


def _picture(photo: IntakePhoto, extra: list[dict[str, str]] | None = None) -> dict[str, Any]:
    told = [
        {"x": str(mark.x_percent), "y": str(mark.y_percent), "words": mark.words}
        for mark in photo.marks.all()
    ]
    return {"width": photo.photo.width, "height": photo.photo.height, "marks": [*told, *(extra or [])]}


def _marked(photo: IntakePhoto) -> str:
    address = reverse("common:photo", args=[photo.photo.sha256, "large"])
    return rings.marked(_picture(photo), address)


@recorder_only
def intake_photo(request: HttpRequest, code: str, intake_code: str, pk: int) -> HttpResponse:
    """Photographs of one piece."""
    intake, by, now = intake_of(code, intake_code), hand_of(request), timezone.now()
    row = get_object_or_404(IntakePiece.objects.select_related("lot"), pk=pk, intake=intake)
    form = IntakePhotoForm(posted(request), posted_files(request))

    def deed() -> None:
        _keep(row, form.cleaned_data["pictures"], form.cleaned_data["view"], by=by, at=now)

    return deed_page(
        request, intake, form, deed, title=f"Photographs of {row.lot.code}", submit="Keep", lead=row.seen_as
    )


@owner_only
def intake_mark(request: HttpRequest, code: str, intake_code: str, pk: int) -> HttpResponse:
    """Point at a fault: tap the picture, or give its place in figures."""
    intake, by, now = intake_of(code, intake_code), hand_of(request), timezone.now()
    rows = IntakePhoto.objects.select_related("piece__lot", "photo").prefetch_related("marks")
    photo = get_object_or_404(rows, pk=pk, piece__intake=intake)
    form = MarkForm(_with_tap(request, photo))

    def deed() -> str:
        typed = form.cleaned_data
        actions.mark_fault(
            photo, by=by, at=now, **{name: typed[name] for name in ("x_percent", "y_percent", "words")}
        )
        return request.path

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {
        "intake": intake,
        "photo": photo,
        "form": form,
        "taps": _taps(photo),
        "overlay": rings.overlay(_picture(photo, _pointed_at(form))),
        "removable": intake.receipt_id is None and intake.report_id is None,
    }
    return render(request, "commissions/intake_mark.html", context, status=status_of(form))


def _taps(photo: IntakePhoto) -> list[dict[str, Any]]:
    """The sizes in which the picture is offered, small and wide."""
    found = []
    for name, most in TAP_WIDTHS.items():
        width = min(most, TALLEST * photo.photo.width // photo.photo.height, most)
        width = max(width, 1)
        height = max(round(width * photo.photo.height / photo.photo.width), 1)
        found.append({"name": name, "width": width, "height": height})
    return found


def _with_tap(request: HttpRequest, photo: IntakePhoto) -> QueryDict | None:
    """What was sent, with a tap turned from pixels into per cent. Keys press such a button at 0, 0: no tap at all."""
    sent = posted(request)
    if sent is None:
        return None
    for tap in _taps(photo):
        x, y = _pixel(sent.get(f"{tap['name']}.x")), _pixel(sent.get(f"{tap['name']}.y"))
        if x is not None and y is not None and (x, y) != (0, 0):
            told = sent.copy()
            told["x_percent"] = str((100 * x / tap["width"]).quantize(THOUSANDTH))
            told["y_percent"] = str((100 * y / tap["height"]).quantize(THOUSANDTH))
            return told
    return sent


def _pixel(text: str | None) -> Decimal | None:
    try:
        read = Decimal(text or "")
    except InvalidOperation:
        return None
    return read if read.is_finite() and abs(read) < 100_000 else None


def _pointed_at(form: MarkForm) -> list[dict[str, str]]:
    """A tap whose words are still missing is shown where it fell."""
    if not form.is_bound or form.is_valid():
        return []
    x, y = form.cleaned_data.get("x_percent"), form.cleaned_data.get("y_percent")
    return [{"x": str(x), "y": str(y), "words": ""}] if x is not None and y is not None else []


@owner_only
@require_POST
def intake_unmark(request: HttpRequest, code: str, intake_code: str, pk: int) -> HttpResponse:
    """Take a mark off again."""
    intake, by, now = intake_of(code, intake_code), hand_of(request), timezone.now()
    mark = get_object_or_404(
        Mark.objects.select_related("photo__piece__intake"), pk=pk, photo__piece__intake=intake
    )
    back = reverse("commissions:intake_mark", args=[code, intake.code, mark.photo_id])
    form = DeedForm(request.POST)

    def deed() -> str:
        actions.remove_mark(mark, by=by, at=now)
        return back

    if form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {
        "intake": intake,
        "form": form,
        "title": "Take a mark off",
        "submit": "Take it off",
        "back": back,
    }
    return render(request, "commissions/intake_deed.html", context, status=status_of(form))


# --- For the insurer -------------------------------------------------------------------------------------------------


@money_only
@require_safe
def goods_of_others(request: HttpRequest) -> HttpResponse:
    """What lies here of others tonight, with the values they declared."""
    goods = others.goods_of_others(shop_of(request).currency)
    context = {
        "goods": goods,
        "totals": others.totals(goods),
        "now": timezone.now(),
        "undeclared": sum(1 for one in goods if one.declared_value is None),
        "weight_ct": sum((one.weight_ct for one in goods), Decimal(0)),
    }
    return render(request, "commissions/intake_others.html", context)
