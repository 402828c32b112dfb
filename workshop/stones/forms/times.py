"""The clock, and times written down afterwards."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from workshop.common.deeds import DeedForm
from workshop.common.formfields import MomentInput
from workshop.common.models import Hand
from workshop.rough.models import RoughLot

from ..models import Activity, Stone

MOST_CODES = 60


class CodesInput(forms.CharField):
    """Codes of stones, parted by commas or spaces; cleans to the stones."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 800)
        super().__init__(**kwargs)

    def clean(self, value: Any) -> list[Stone]:
        codes = list(dict.fromkeys(super().clean(value).replace(",", " ").upper().split()))
        if len(codes) > MOST_CODES:
            raise ValidationError(f"At most {MOST_CODES} stones share one time.")
        found = {stone.code: stone for stone in Stone.objects.filter(code__in=codes)}
        unknown = [code for code in codes if code not in found]
        if unknown:
            raise ValidationError(f"There is no stone {', '.join(unknown)}.")
        return [found[code] for code in codes]


class LotInput(forms.CharField):
    """The code of a lot; cleans to the lot, or None."""

    def clean(self, value: Any) -> RoughLot | None:
        code = super().clean(value).strip().upper()
        if not code:
            return None
        lot = RoughLot.objects.filter(code=code).first()
        if lot is None:
            raise ValidationError(f"There is no lot {code}.")
        return lot


class StoneTicks(forms.ModelMultipleChoiceField):
    """Tick boxes of stones, each with its code and what it is."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.CheckboxSelectMultiple)
        kwargs.setdefault("required", False)
        super().__init__(Stone.objects.none(), to_field_name="code", **kwargs)

    def label_from_instance(self, obj: Any) -> str:
        what = obj.plan or (str(obj.material) if obj.material else "")
        return f"{obj.code} {what}".strip()


class StartForm(DeedForm):
    """What a start button sends: stones, or a lot, or nothing for the shop's own work."""

    stone = CodesInput(required=False)
    lot = LotInput(required=False, max_length=12)
    activity = forms.ChoiceField(choices=[("", ""), *Activity.choices], required=False)
    switch = forms.BooleanField(required=False)

    def __init__(self, data: QueryDict) -> None:
        together = data.copy()
        together["stone"] = " ".join(data.getlist("stone"))
        super().__init__(together)


class _WhatFor(DeedForm):
    """Which stones, lot or shop's work a stretch of time went on."""

    activity = forms.ChoiceField(label="What it went on", choices=Activity)
    stones = StoneTicks(label="Stones on the bench")
    others = CodesInput(
        label="Other stones",
        required=False,
        help_text="Codes, with commas or spaces. The time is shared evenly.",
    )

    def __init__(self, *args: Any, stones: Sequence[Stone], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # The list was cut to what lies at hand, and a cut queryset cannot be searched again: the field gets the keys.
        keys = [stone.pk for stone in stones]
        rows = Stone.objects.filter(pk__in=keys).select_related("material").order_by("-touched_at", "-pk")
        self.fields["stones"].queryset = rows  # type: ignore[attr-defined]

    @property
    def chosen(self) -> list[Stone]:
        """Every stone ticked or named, once."""
        both = [*self.cleaned_data["stones"], *self.cleaned_data["others"]]
        return list({stone.pk: stone for stone in both}.values())


class AddTimeForm(_WhatFor):
    """A time written down afterwards."""

    start = MomentInput(label="From")
    end = MomentInput(label="To")
    lot = LotInput(
        label="Or a lot",
        required=False,
        max_length=12,
        help_text="Its code, for sorting. Nothing at all: the shop.",
    )
    hand = forms.ModelChoiceField(
        Hand.objects.none(), label="Whose time", required=False, empty_label="my own"
    )
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, by: Hand, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if by.runs_the_shop:
            others = Hand.objects.filter(is_active=True, role__in=["owner", "hand"]).exclude(pk=by.pk)
            self.fields["hand"].queryset = others  # type: ignore[attr-defined]
        else:
            del self.fields["hand"]
        self.order_fields(["start", "end", "activity", "stones", "others", "lot", "hand", "note"])


class CorrectTimeForm(_WhatFor):
    """When it really was and what for; the old figure and the reason stay."""

    start = MomentInput(label="From")
    end = MomentInput(label="To")
    reason = forms.CharField(max_length=300, help_text="Such as: left running, forgot to start, wrong stone.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(["start", "end", "reason", "activity", "stones", "others"])


def chosen_first(codes: Iterable[str], bench: Iterable[Stone]) -> dict[str, Any]:
    """Stones as the fields begin with them: ticked where they lie on the bench, otherwise named by their code."""
    at_hand = {stone.code for stone in bench}
    return {
        "stones": [code for code in codes if code in at_hand],
        "others": ", ".join(code for code in codes if code not in at_hand),
    }


class StrikeForm(DeedForm):
    """Why a time never was."""

    reason = forms.CharField(max_length=300)
