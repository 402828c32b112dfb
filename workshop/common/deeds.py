"""From a valid form to a deed, once, with every refusal shown beside its field."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db import DataError, IntegrityError
from django.http import HttpRequest, QueryDict
from django.utils.datastructures import MultiValueDict

from workshop.handbook.errors import HandbookError

from .access import hand_of
from .errors import DeedRefused, PleaseConfirm
from .once import do_once, new_key
from .tx import rehearse

Answer = TypeVar("Answer")


class DeedForm(forms.Form):
    """A form that leads to a deed. It carries a one-time key, and a tick box that appears when figures look wrong."""

    once = forms.CharField(max_length=64, widget=forms.HiddenInput, required=False)
    sure = forms.BooleanField(
        required=False, widget=forms.HiddenInput, label="Yes, this is what I mean; keep it as typed."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["once"].initial = new_key
        self.order_fields([name for name in self.fields if name not in {"once", "sure"}] + ["sure", "once"])

    def ask(self, refusal: PleaseConfirm) -> None:
        """Show the doubt and a box to tick; what was typed stays."""
        self.add_error(refusal.field if refusal.field in self.fields else None, refusal.message)
        self.fields["sure"].widget = forms.CheckboxInput()

    @property
    def is_sure(self) -> bool:
        """Whether the person ticked that odd figures are meant."""
        return bool(self.cleaned_data.get("sure"))


def try_deed(
    request: HttpRequest, form: DeedForm, deed: Callable[[], str], *, anyone: bool = False
) -> str | None:
    """Do the deed of a form once. The address it led to, or None with the form saying why not.

    Use as the last step of a view::

        if request.method == "POST" and form.is_valid():
            if led_to := try_deed(request, form, lambda: receive_lot(...).get_absolute_url()):
                return redirect(led_to)
        return render(request, "rough/receive.html", {"form": form}, status=status_of(form))

    ``anyone`` is for the few deeds of people who are not signed in.
    """
    by = None if anyone else hand_of(request)
    return _told(form, lambda: do_once(form.cleaned_data.get("once") or new_key(), by, deed))


def try_out(form: DeedForm, deed: Callable[[], Answer]) -> Answer | None:
    """What a deed would answer, without doing it; None with the form saying why it would be refused."""
    return _told(form, lambda: rehearse(deed))


def _told(form: DeedForm, deed: Callable[[], Answer]) -> Answer | None:
    try:
        return deed()
    except PleaseConfirm as doubt:
        form.ask(doubt)
    except DeedRefused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.message)
    except HandbookError as error:
        form.add_error(None, str(error))
    except ValidationError as error:
        _add_validation(form, error)
    except (IntegrityError, DataError):
        # The last line of defence: a constraint (or on PostgreSQL the length of a column) caught what the form and
        # the deed let through.
        form.add_error(None, "The records refuse this: it would break one of their rules. Nothing was kept.")
    return None


def _add_validation(form: DeedForm, error: ValidationError) -> None:
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for field, problems in error.error_dict.items():
        for problem in problems:
            form.add_error(field if field in form.fields else None, problem)


def posted(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: a form sent empty was sent all the same, and hears what is missing."""
    return request.POST if request.method == "POST" else None


def begun(request: HttpRequest, *names: str) -> dict[str, str]:
    """What a link that led to a form filled in beforehand, by the names of its fields: ``?reason=…``."""
    return {name: request.GET[name].replace("\x00", "")[:300] for name in names if name in request.GET}


def posted_files(request: HttpRequest) -> MultiValueDict[str, UploadedFile] | None:
    """The files that came with it; Django takes even an empty bag of files for a sending."""
    return request.FILES if request.method == "POST" else None


def status_of(form: forms.BaseForm) -> int:
    """422 for a form that was sent and refused, 200 for one that is only shown."""
    return 422 if form.is_bound and form.errors else 200
