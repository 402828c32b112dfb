"""What may be typed when a client's goods are taken in: who brought them, the pieces, faults, reports, signatures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict
from django.utils import timezone

from workshop.common.deeds import DeedForm
from workshop.common.formfields import (
    DayInput,
    LengthInput,
    MomentInput,
    MoneyInput,
    NumberInput,
    PicturesInput,
    WeightInput,
)
from workshop.common.models import Shop
from workshop.gems.models import Shape
from workshop.handbook.errors import HandbookError
from workshop.handbook.money import parse_money
from workshop.handbook.units import Weight
from workshop.materials.forms import treatment_choices
from workshop.materials.models import Material
from workshop.rough.forms import currency_choices

from ..actions.intake import MOST_PIECES, PieceSpec
from ..models import Commission, CommissionItem, IntakePiece, OffCuts, ToldTreatment

TEXTS = ("stated_to_be", "seen_as", "colour", "tests", "inclusions", "chips", "magnification", "treatment_words",
         "laboratory_report", "declared_words")  # fmt: skip
#: Boxes that stand folded away until one of them is filled in or wrong.
FOLDED = {
    "which": ("told_treatments",),
    "told": ("told_material", "told_treatment", "told_treatments", "treatment_words", "laboratory_report",
             "declared_value", "declared_currency", "declared_words"),
    "seen": ("outline", "colour", "tests", "inclusions", "chips", "magnification"),
    "agreed": ("loss_consent_percent", "floor", "off_cuts"),
}  # fmt: skip
LONG = {"rows": 2}


def line(label: str, most: int, *, required: bool = False, help: str = "", **attrs: str) -> forms.CharField:
    """A box of one line, of so many characters at most."""
    widget = forms.TextInput(attrs=attrs) if attrs else None
    return forms.CharField(label=label, max_length=most, required=required, help_text=help, widget=widget)


def several(label: str, help: str) -> forms.CharField:
    """A box of several lines."""
    return forms.CharField(
        label=label, max_length=1000, required=False, help_text=help, widget=forms.Textarea(attrs=LONG)
    )


def piece_fields(shop: Shop, items: Sequence[CommissionItem], currency: str) -> dict[str, forms.Field]:
    """The boxes of one piece, those that are always needed first."""
    choices = [("", "none of them yet"), *((str(one.pk), f"{one.number}: {one.wanted}") for one in items)]
    return {
        "item": forms.TypedChoiceField(label="For which piece", choices=choices, required=False, empty_value=""),
        "stated_to_be": line("Stated by the client to be", 300, required=True, help="In the client’s words."),
        "seen_as": line(
            "Seen here", 300, required=True, help="As exactly as you can: “green stone” protects nobody."
        ),
        "weight": WeightInput(label="Weight, by scale", unit=shop.weight_unit),
        "pieces": forms.IntegerField(label="Pieces", min_value=1, max_value=9999, initial=1),
        "length_mm": LengthInput(label="Length", required=False),
        "width_mm": LengthInput(label="Width", required=False),
        "depth_mm": LengthInput(label="Depth", required=False),
        "pictures": PicturesInput(
            label="Photographs", required=False, help_text="Front, back, side, with a scale. Choose them last."
        ),
        "told_material": forms.ModelChoiceField(
            label="Species, as the client says", queryset=Material.objects.all(), required=False, empty_label="not said"
        ),
        "told_treatment": forms.ChoiceField(
            label="Treatment, as the client says", choices=ToldTreatment, initial=ToldTreatment.UNKNOWN
        ),
        "told_treatments": forms.MultipleChoiceField(
            label="Named by the client", choices=treatment_choices, required=False, widget=forms.CheckboxSelectMultiple
        ),
        "treatment_words": line("In the client’s words", 200),
        "laboratory_report": line("Laboratory report left with it", 120, help="House and number."),
        "declared_value": MoneyInput(
            label="Declared value", required=False,
            help_text="The client’s own figure. Do not suggest one: it may void the cover.",
        ),
        "declared_currency": forms.ChoiceField(
            label="In", choices=currency_choices(currency), initial=currency, required=False
        ),
        "declared_words": line("Said by whom, in which words", 200, help="Such as: “my aunt paid about 900”."),
        "outline": forms.ChoiceField(
            label="Outline", choices=[("", "rough, or not settled"), *Shape.choices], required=False,
            help_text="Of a cut stone: its weight is then held against its millimetres.",
        ),
        "colour": line("Colour", 120),
        "tests": line("Tests done here", 300, help="With their readings; leave empty for none."),
        "inclusions": several("Inclusions shown to the client", "What and where, a line each."),
        "chips": several("Chips, fissures, old glue", "A line each; you can mark them on a photograph later."),
        "magnification": line("Looked at with", 40, help="Such as lens, 10×."),
        "loss_consent_percent": NumberInput(
            label="Loss of weight agreed to", unit="%", least=0, most=100, places=3, required=False
        ),
        "floor": WeightInput(
            label="Floor", unit=shop.weight_unit, required=False, help_text="Below it the client is asked first."
        ),
        "off_cuts": forms.ChoiceField(label="Off-cuts", choices=OffCuts, initial=OffCuts.BACK),
    }  # fmt: skip


class PiecesForm(DeedForm):
    """Pieces on the counter, each with the same boxes; their names end in its number."""

    count = forms.CharField(max_length=40, widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, commission: Commission, shop: Shop, count: int = 1, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.commission, self.home = commission, shop.currency
        self.items = {str(item.pk): item for item in commission.items.select_related("material")}
        self.numbers = range(1, min(max(count, 1), MOST_PIECES) + 1)
        unspoken = iter([one for one in self.items.values() if one.is_open])
        for number in self.numbers:
            for name, field in piece_fields(shop, list(self.items.values()), commission.currency).items():
                self.fields[f"{name}_{number}"] = field
            if (item := next(unspoken, None)) is not None:
                self._begin_with(item, number)
        self.fields["count"].initial = len(self.numbers)

    def _begin_with(self, item: CommissionItem, number: int) -> None:
        """What was agreed of the piece of the commission stands in the boxes already."""
        self.fields[f"item_{number}"].initial = str(item.pk)
        self.fields[f"off_cuts_{number}"].initial = item.off_cuts

    @property
    def rows(self) -> Iterator[dict[str, Any]]:
        """The boxes of each piece by name, and which folded groups hold something to be seen."""
        names = [name.removesuffix("_1") for name in self.fields if name.endswith("_1")]
        for number in self.numbers:
            boxes: dict[str, Any] = {name: self[f"{name}_{number}"] for name in names}
            shown = {
                group: any(self._stands_in(boxes[name]) for name in held) for group, held in FOLDED.items()
            }
            yield {**boxes, "number": number, "open": shown}

    def _stands_in(self, box: BoundField) -> bool:
        value = box.value()
        return bool(box.errors) or (bool(value) and value != box.field.initial)

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or self.cleaned_data
        for number in self.numbers:
            self._check_treatment(typed, number)
            self._check_value(typed, number)
        return typed

    def _check_treatment(self, typed: dict[str, Any], number: int) -> None:
        told, which = typed.get(f"told_treatment_{number}"), typed.get(f"told_treatments_{number}")
        if told == ToldTreatment.TREATED and not which and f"told_treatments_{number}" not in self.errors:
            self.add_error(
                f"told_treatments_{number}",
                "Say which; if they do not know, choose “not known” and keep their words.",
            )
        if which and told != ToldTreatment.TREATED and f"told_treatment_{number}" not in self.errors:
            self.add_error(
                f"told_treatment_{number}", "A treatment is named below; then it is said to be treated."
            )

    def _check_value(self, typed: dict[str, Any], number: int) -> None:
        value = typed.get(f"declared_value_{number}")
        if value is None:
            return
        try:
            parse_money(str(value), typed.get(f"declared_currency_{number}") or self.commission.currency)
        except HandbookError as error:
            self.add_error(f"declared_value_{number}", str(error))

    def specs(self) -> list[PieceSpec]:
        """The pieces as the deed takes them."""
        return [self._spec(number) for number in self.numbers]

    def _spec(self, number: int) -> PieceSpec:
        def typed(name: str) -> Any:
            return self.cleaned_data[f"{name}_{number}"]

        value = typed("declared_value")
        texts = {name: typed(name).replace("\r\n", "\n") for name in TEXTS}
        sizes = {name: typed(name) for name in ("length_mm", "width_mm", "depth_mm")}
        return PieceSpec(
            **texts,
            **sizes,
            item=self.items.get(typed("item")),
            weight=typed("weight"),
            pieces=typed("pieces"),
            outline=typed("outline"),
            told_material=typed("told_material"),
            told_treatment=typed("told_treatment"),
            told_treatments=tuple(typed("told_treatments")),
            declared_value=value,
            declared_currency=(typed("declared_currency") or self.commission.currency)
            if value is not None
            else "",
            loss_consent_percent=typed("loss_consent_percent"),
            floor_ct=typed("floor").ct if typed("floor") is not None else None,
            off_cuts=typed("off_cuts"),
        )

    def pictures(self) -> list[list[dict[str, bytes]]]:
        """The prepared photographs of each piece."""
        return [self.cleaned_data[f"pictures_{number}"] for number in self.numbers]

    @classmethod
    def count_in(cls, sent: QueryDict | None) -> int:
        """How many pieces a sent form says it has; whatever else it says is one."""
        text = (sent.get("count") if sent is not None else None) or "1"
        return (
            int(text) if isinstance(text, str) and text.isascii() and text.isdigit() and len(text) < 4 else 1
        )

    def as_it_stood(self, sent: QueryDict) -> dict[str, Any]:
        """What was typed so far, to begin a longer form with; a browser sends chosen files only once."""
        stood: dict[str, Any] = {}
        for name, field in self.fields.items():
            if name in {"once", "sure", "count"} or isinstance(field, PicturesInput):
                continue
            if isinstance(field, forms.MultipleChoiceField):
                stood[name] = sent.getlist(name)
            elif isinstance(field, forms.BooleanField):
                stood[name] = name in sent
            elif name in sent:
                stood[name] = sent[name]
        return stood


class TakeInForm(PiecesForm):
    """Who brought the goods, how they are held, and the pieces."""

    received_at = MomentInput(label="Received")
    handed_by = line("Handed over by", 160, required=True)
    authority = line(
        "If not the owner: on whose word", 200, help="With what proof: letter, identity card seen …"
    )
    how = line("How it came", 120, help="In person, by courier, registered post …", list="ways-in")
    came_clean = forms.BooleanField(
        label="Taken in clean", required=False, initial=True, help_text="Faults show better on a clean stone."
    )
    insured_by = line("Insured while it is here by", 160)
    insured_until = DayInput(label="Insured until", required=False)
    return_to = line("Goes back to, and how", 300)
    limits = line("Limits", 300, help="Do not cut below …, keep the inscription …")
    uncollected = line(
        "Storage and goods not collected", 300, help="Your own rule; have it checked against your local law."
    )

    def __init__(self, *args: Any, commission: Commission, shop: Shop, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, commission=commission, shop=shop, **kwargs)
        client = commission.client
        self.fields["received_at"].initial = timezone.localtime(now).replace(second=0, microsecond=0)
        self.fields["handed_by"].initial = client.name
        self.fields["return_to"].initial = " ".join(client.address.split())[:300]

    def terms(self) -> dict[str, Any]:
        """What the deed takes besides the pieces."""
        names = ("received_at", "handed_by", "authority", "how", "came_clean", "insured_by", "insured_until",
                 "return_to", "limits", "uncollected")  # fmt: skip
        return {name: self.cleaned_data[name] for name in names}


class CorrectForm(DeedForm):
    """What was mistyped about a piece."""

    stated_to_be = line("Stated by the client to be", 300, required=True)
    seen_as = line("Seen here", 300, required=True)
    weight = WeightInput(label="Weight, by scale")
    colour = line("Colour", 120)
    inclusions = several("Inclusions shown to the client", "What and where, a line each.")
    chips = several("Chips, fissures, old glue", "A line each.")
    tests = line("Tests done here", 300)
    magnification = line("Looked at with", 40)
    laboratory_report = line("Laboratory report left with it", 120)
    loss_consent_percent = NumberInput(
        label="Loss of weight agreed to", unit="%", least=0, most=100, places=3, required=False
    )
    floor = WeightInput(label="Floor", required=False)
    reason = line("Why it is corrected", 300, required=True)

    def __init__(self, *args: Any, piece: IntakePiece, shop: Shop, **kwargs: Any) -> None:
        kwargs["initial"] = {
            name: getattr(piece, name) for name in self.base_fields if hasattr(piece, name)
        } | {
            "weight": f"{piece.weight_ct} ct",
            "floor": f"{piece.floor_ct} ct" if piece.floor_ct is not None else "",
        }
        super().__init__(*args, **kwargs)
        for name in ("weight", "floor"):
            self.fields[name].unit = shop.weight_unit  # type: ignore[attr-defined]

    def changes(self) -> dict[str, Any]:
        """The columns of the piece as typed, its weight apart."""
        typed = {
            name: value.replace("\r\n", "\n") if isinstance(value, str) else value
            for name, value in self.cleaned_data.items()
        }
        floor: Weight | None = self.cleaned_data["floor"]
        return typed | {"floor_ct": floor.ct if floor is not None else None}


class IntakePhotoForm(DeedForm):
    """Photographs of one piece."""

    pictures = PicturesInput(label="Photographs", help_text="Several at once.")
    view = line("What they show", 60, help="Front, back, side, with a scale …")


class MarkForm(DeedForm):
    """A fault: its words, and its place by a tap on the picture or in figures."""

    words = line("What is it?", 120, help="Such as: chip at the girdle.", autocomplete="off")
    x_percent = NumberInput(label="From left", unit="%", least=0, most=100, places=3, required=False)
    y_percent = NumberInput(label="From top", unit="%", least=0, most=100, places=3, required=False)

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors:
            if typed["x_percent"] is None or typed["y_percent"] is None:
                self.add_error(
                    "x_percent" if typed["x_percent"] is None else "y_percent",
                    "Tap the place on the picture, or give its place in figures.",
                )
            if not typed["words"].strip():
                self.add_error("words", "Say what it is: chip, fissure, inclusion …")
        return typed
