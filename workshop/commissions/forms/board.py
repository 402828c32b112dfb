"""What may be typed about an enquiry, its pieces, its stones and its photographs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from workshop.common import say
from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, LengthInput, PicturesInput, WeightInput
from workshop.common.models import Hand, Shop
from workshop.gems.models import Shape
from workshop.materials.models import Material
from workshop.people import actions as people
from workshop.people.forms import SomebodyMixin
from workshop.people.models import Contact
from workshop.rough.forms import currency_choices
from workshop.rough.models import RoughLot, SortGroup
from workshop.stones.models import Side, Stone

from ..actions.commissions import MOST_PIECES, ItemSpec
from ..looks import week_of
from ..models import CommissionItem, OffCuts, WorkKind

#: Any of these filled in makes a row of the enquiry a piece.
TELLING = (
    "wanted", "material", "shape", "length_mm", "width_mm", "tolerance_mm", "least_ct", "most_ct", "floor_ct",
)  # fmt: skip
WEIGHTS = ("least_ct", "most_ct", "floor_ct")


def piece_fields(end: str, shop: Shop) -> dict[str, forms.Field]:
    """The fields of one piece; ``end`` keeps the rows of an enquiry apart."""
    unit = shop.weight_unit
    fields: dict[str, forms.Field] = {
        "work": forms.ChoiceField(label="Kind of work", choices=WorkKind, initial=WorkKind.CUT_CLIENT),
        "wanted": forms.CharField(
            label="What is wanted",
            max_length=300,
            required=False,
            help_text="In plain words. Left empty, species and shape stand for it.",
        ),
        "material": forms.ModelChoiceField(
            label="Species", queryset=Material.objects.all(), required=False, empty_label="not said"
        ),
        "shape": forms.ChoiceField(label="Shape", choices=[("", "open"), *Shape.choices], required=False),
        "length_mm": LengthInput(label="Length", required=False, help_text="Diameter of a round."),
        "width_mm": LengthInput(label="Width", required=False),
        "tolerance_mm": LengthInput(label="May be off by", required=False),
        "least_ct": WeightInput(label="Weight from", required=False, unit=unit),
        "most_ct": WeightInput(label="Weight to", required=False, unit=unit),
        "floor_ct": WeightInput(
            label="Floor", required=False, unit=unit, help_text="Below it, stop and ask."
        ),
        "off_cuts": forms.ChoiceField(label="Off-cuts", choices=OffCuts, initial=OffCuts.BACK),
    }
    return {f"{name}{end}": field for name, field in fields.items()}


def read_piece(typed: Mapping[str, Any], end: str) -> ItemSpec:
    """One piece as it was typed."""
    said = {name: typed.get(f"{name}{end}") for name in ("work", "material", "shape", "off_cuts")}
    said |= {name: typed.get(f"{name}{end}") for name in ("length_mm", "width_mm", "tolerance_mm")}
    weights = {name: typed.get(f"{name}{end}") for name in WEIGHTS}
    said |= {name: weight.ct if weight is not None else None for name, weight in weights.items()}
    said |= {"shape": said["shape"] or "", "off_cuts": said["off_cuts"] or OffCuts.BACK}
    wanted = " ".join((typed.get(f"wanted{end}") or "").split())
    return ItemSpec(wanted=wanted or _in_short(said), **said)  # type: ignore[arg-type]


def _in_short(said: Mapping[str, Any]) -> str:
    """Oval aquamarine: species and shape, where nothing else was said."""
    shape = Shape(said["shape"]).label if said["shape"] else ""
    return " ".join(filter(None, [shape, str(said["material"]) if said["material"] else ""]))


class _PieceMixin:
    """Checks pieces typed in a form, row by row, and says each fault beside its field."""

    add_error: Any
    errors: Any
    cleaned_data: dict[str, Any]

    def check_piece(self, end: str) -> ItemSpec:
        spec = read_piece(self.cleaned_data, end)
        if not spec.wanted and f"wanted{end}" not in self.errors:
            self.add_error(f"wanted{end}", "Say what is wanted, or choose a species or a shape.")
        try:
            spec.onto(CommissionItem()).clean()
        except ValidationError as error:
            for name, faults in error.error_dict.items():
                field = f"{name}{end}" if f"{name}{end}" in self.fields else f"wanted{end}"  # type: ignore[attr-defined]
                self.add_error(field, faults)
        return spec


class EnquireForm(_PieceMixin, SomebodyMixin, DeedForm):
    """An enquiry, to be filled in within a minute: a client and a word for each piece are enough."""

    client = forms.ModelChoiceField(
        queryset=Contact.objects.all(), required=False, empty_label="nobody on the list"
    )
    new_client = forms.CharField(label="or a new client", max_length=160, required=False)
    new_email = forms.EmailField(label="and their e-mail", max_length=254, required=False)
    currency = forms.ChoiceField(
        label="Quoted and paid in", required=False, help_text="A tariff in it is needed to quote."
    )
    asked_on = DayInput(label="Asked on")
    wished_by = DayInput(label="Wished by", required=False)
    use = forms.CharField(
        label="For", max_length=120, required=False, help_text="Ring, pendant, a setting of …"
    )
    wish = forms.CharField(
        label="In their words",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    notes = forms.CharField(
        label="Notes for you alone",
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    pictures = PicturesInput(
        label="Photographs", required=False, help_text="Several at once; choose them last."
    )

    def __init__(self, *args: Any, shop: Shop, today: date, more: int = 0, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["asked_on"].initial = today
        self.fields["currency"].choices = currency_choices(shop.currency)  # type: ignore[attr-defined]
        self.fields["currency"].initial = self.home = shop.currency
        self.count = min(MOST_PIECES, self._sent_rows() + more)
        for number in range(1, self.count + 1):
            self.fields |= piece_fields(f"_{number}", shop)

    def _sent_rows(self) -> int:
        numbers = [name.removeprefix("work_") for name in self.data if name.startswith("work_")]
        return max([1, *(int(one) for one in numbers if one.isascii() and one.isdigit() and len(one) < 3)])

    @property
    def rows(self) -> Iterator[dict[str, BoundField]]:
        """The fields of each piece, by name, with its number."""
        for number in range(1, self.count + 1):
            end = f"_{number}"
            names = [name for name in self.fields if name.endswith(end)]
            yield {"number": number, **{name.removesuffix(end): self[name] for name in names}}  # type: ignore[dict-item]

    @property
    def next_row(self) -> int:
        """The number the next row would have, for the place on the page it appears at."""
        return min(self.count + 1, MOST_PIECES)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        self.check_somebody("client")
        typed["new_client"] = typed.get("new_client", "").strip()
        if not typed.get("client") and not typed["new_client"] and "client" not in self.errors:
            self.add_error("client", "Say who asks: pick somebody or give a new name.")
        if typed.get("new_email") and not typed["new_client"]:
            self.add_error("new_email", "That is for a new client; change a known one on their own page.")
        asked, wished = typed.get("asked_on"), typed.get("wished_by")
        if asked and wished and wished < asked:
            self.add_error("wished_by", "That is before it was asked.")
        self.pieces = [self.check_piece(f"_{number}") for number in self._filled(typed)]
        return typed

    def _filled(self, typed: Mapping[str, Any]) -> Iterator[int]:
        """Rows with anything in them; the first one always, since an enquiry needs a piece."""
        for number in range(1, self.count + 1):
            named = [f"{name}_{number}" for name in TELLING]
            if number == 1 or any(typed.get(name) or name in self.errors for name in named):
                yield number

    def who(self, *, by: Hand | None, at: datetime) -> Contact:
        """The client picked, or put on the contact list; call inside the deed."""
        picked: Contact | None = self.cleaned_data.get("client")
        if picked is not None:
            return picked
        return people.add_contact(
            by=by, at=at, name=self.cleaned_data["new_client"], sure=self.is_sure, is_client=True,
            email=self.cleaned_data.get("new_email") or "",
        )  # fmt: skip

    def asked(self) -> dict[str, Any]:
        """What ``open_commission`` is told besides client, pieces and photographs."""
        names = ("currency", "asked_on", "wished_by", "use", "wish", "notes")
        return {name: self.cleaned_data[name] for name in names}

    @property
    def is_abroad(self) -> bool:
        """Whether another currency than the shop's own was chosen."""
        return self["currency"].value() not in {None, "", self.home}


class PieceForm(_PieceMixin, DeedForm):
    """One piece, to add or to change."""

    def __init__(
        self, *args: Any, shop: Shop, item: CommissionItem | None = None, agreed: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields |= piece_fields("", shop)
        self.fields["floor_length_mm"] = LengthInput(label="Ask below this length", required=False)
        self.fields["floor_width_mm"] = LengthInput(label="and this width", required=False)
        if agreed and item is not None:
            self.fields["why"] = forms.CharField(
                label="Why it changes",
                max_length=300,
                help_text="The client accepted a quote for this piece.",
            )
        if item is not None:
            self.initial = {**self.initial, **ItemSpec.of(item).__dict__} | {
                name: say_plain(getattr(item, name))
                for name in (*TELLING[3:], "floor_length_mm", "floor_width_mm")
            }
        self.order_fields([*(name for name in self.fields if name not in {"sure", "once"}), "sure", "once"])

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        self.spec = self.check_piece("")
        floors = {name: typed.get(name) for name in ("floor_length_mm", "floor_width_mm")}
        self.spec = ItemSpec(**{**self.spec.__dict__, **floors})
        try:
            self.spec.onto(CommissionItem()).clean()
        except ValidationError as error:
            for name in floors.keys() & error.error_dict.keys():
                self.add_error(name, error.error_dict[name])
        return typed

    @property
    def reason(self) -> str:
        """The reason given, where one was asked."""
        return str(self.cleaned_data.get("why", ""))

    @property
    def floor_size_said(self) -> bool:
        """Whether the boxes for a floor of the size stand open."""
        return any(self[name].value() for name in ("floor_length_mm", "floor_width_mm"))


def say_plain(value: Any) -> str:
    """A figure as somebody would type it."""
    return "" if value is None else f"{value.normalize():f}"


class ChangeForm(DeedForm):
    """What is known of a commission besides its pieces."""

    wish = EnquireForm.base_fields["wish"]
    use = EnquireForm.base_fields["use"]
    wished_by = DayInput(label="Wished by", required=False)
    due_on = DayInput(
        label="Promised for the week of",
        required=False,
        help_text="Any day of that week; look at the load first.",
    )
    queue_place = forms.IntegerField(
        label="Place in the queue",
        min_value=1,
        max_value=999,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    notes = EnquireForm.base_fields["notes"]

    def clean_due_on(self) -> date | None:
        """A week goes by its Monday."""
        day: date | None = self.cleaned_data["due_on"]
        return week_of(day) if day is not None else None

    def changes(self) -> dict[str, Any]:
        """The columns of the commission."""
        return {name: self.cleaned_data[name] for name in self.fields if name not in {"sure", "once"}}


class CloseForm(DeedForm):
    """Why an enquiry comes to nothing."""

    reason = forms.CharField(
        label="Why",
        max_length=300,
        help_text="Price, time, the stone does not allow it, they went elsewhere …",
    )


class LinkForm(DeedForm):
    """A stone to stand for a piece: one of those that fit, or any by its code."""

    stone = forms.ChoiceField(label="One of these", required=False, widget=forms.RadioSelect)
    code = forms.CharField(label="or the code of another stone", max_length=12, required=False)
    why = forms.CharField(label="Note", max_length=200, required=False)

    def __init__(self, *args: Any, fitting: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["stone"].choices = list(fitting.items())  # type: ignore[attr-defined]
        if not fitting:
            del self.fields["stone"]
            self.fields["code"].label = "Code of the stone"

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        picked, code = typed.get("stone"), (typed.get("code") or "").strip().upper()
        if bool(picked) == bool(code):
            if not self.errors:
                self.add_error("code", "Choose one stone: one of those listed, or one by its code.")
            return typed
        self.chosen = None if "\x00" in code else Stone.objects.filter(code=picked or code).first()
        if self.chosen is None:
            self.add_error("code", "There is no stone with that code.")
        return typed


class UnlinkForm(DeedForm):
    """Why a stone stands for its piece no longer."""

    why = forms.CharField(
        label="Why", max_length=200, help_text="Another takes its place; it was the wrong one …"
    )


class DrawForm(DeedForm):
    """A piece taken from a lot for a piece of a commission."""

    source = forms.ChoiceField(label="From")
    weight = WeightInput(help_text="Any unit: 4.26 g, 21.3 ct.")
    length_mm = LengthInput(label="Length", required=False)
    width_mm = LengthInput(label="Width", required=False)
    depth_mm = LengthInput(label="Depth", required=False)
    first_side = forms.ChoiceField(
        label="Cut first", choices=Side.choices, initial=Side.PAVILION, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, shop: Shop, lots: list[RoughLot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["weight"].unit = shop.rough_unit  # type: ignore[attr-defined]
        self.sources = dict(_sources(lots))
        self.fields["source"].choices = [(key, words) for key, (_, _, words) in self.sources.items()]  # type: ignore[attr-defined]

    @property
    def lot(self) -> RoughLot:
        """The lot it comes from."""
        return self.sources[self.cleaned_data["source"]][0]

    def piece(self) -> dict[str, Any]:
        """What ``draw_stone`` is told besides lot and weight."""
        names = ("length_mm", "width_mm", "depth_mm", "first_side")
        group = self.sources[self.cleaned_data["source"]][1]
        return {"group": group, "sure": self.is_sure, **{name: self.cleaned_data[name] for name in names}}


def _sources(lots: list[RoughLot]) -> Iterator[tuple[str, tuple[RoughLot, SortGroup | None, str]]]:
    """Each lot, or each group of one that is sorted, with what is left in it."""
    for lot in lots:
        if not lot.is_sorted:
            words = f"{lot.code}, {lot.sold_as[:60]}, {say.carats(lot.left_ct)} left"
            yield lot.code, (lot, None, words)
        for group in lot.groups.all():
            if lot.is_sorted and group.left_ct > 0:
                words = f"{lot.code}, group {group.name}, {say.carats(group.left_ct)} left"
                yield f"{lot.code}/{group.pk}", (lot, group, words)


class PhotoForm(DeedForm):
    """Photographs for a commission."""

    pictures = PicturesInput(label="Photographs")
    caption = forms.CharField(max_length=200, required=False)
    share = forms.BooleanField(label="Show them to the client at once", required=False)
