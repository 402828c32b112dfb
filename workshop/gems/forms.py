"""What may be typed about a gem: finishing it, its words and pictures, its price, where it is, and how it leaves."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.urls import reverse
from django.utils.html import format_html

from workshop.common.deeds import DeedForm
from workshop.common.formfields import (
    DayInput,
    LengthInput,
    MoneyInput,
    NumberInput,
    PicturesInput,
    WeightInput,
)
from workshop.common.models import Photo, Shop
from workshop.handbook.money import round_money
from workshop.people.models import Contact, Place
from workshop.stones.models import STAGES, Stage, Stone, StonePhoto

from .actions import MOVES, Measured
from .models import FinishedGem, Gone, PriceLevel, Shape

#: The public picture: none, or the first of those that come with the form.
NO_PICTURE, NEW_PICTURE = "", "new"


class WordsForm(DeedForm):
    """What is said of a gem besides its weight and size, and which picture strangers see."""

    cut = forms.CharField(
        max_length=120, required=False, help_text="Style or design, such as brilliant, step, barion."
    )
    colour = forms.CharField(
        max_length=120, help_text="In your words. Judged only off the dop: clean, cool and loose."
    )
    colour_light = forms.CharField(
        label="Light it was judged by",
        max_length=80,
        required=False,
        help_text="Such as daylight, facing north.",
    )
    clarity = forms.CharField(
        max_length=200, required=False, help_text="In your words; say what you looked with, such as 10×."
    )
    girdle = forms.CharField(max_length=80, required=False, help_text="Such as medium, faceted.")
    culet = forms.CharField(max_length=80, required=False, help_text="Such as pointed, small.")
    table_percent = NumberInput(
        label="Table", unit="%", least=0, most=100, above_zero=True, places=1, required=False
    )
    crown_angle_deg = NumberInput(
        label="Crown angle", unit="°", least=0, most=90, above_zero=True, places=2, required=False
    )
    pavilion_angle_deg = NumberInput(
        label="Pavilion angle", unit="°", least=0, most=90, above_zero=True, places=2, required=False
    )
    facets = forms.IntegerField(
        min_value=1, max_value=5000, required=False, widget=forms.TextInput(attrs={"inputmode": "numeric"})
    )
    cut_by = forms.CharField(max_length=120, required=False)
    notes = forms.CharField(max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 3}))

    SAID = (
        "cut", "colour", "colour_light", "clarity", "girdle", "culet", "table_percent", "crown_angle_deg",
        "pavilion_angle_deg", "facets", "cut_by", "notes",
    )  # fmt: skip

    def said(self) -> dict[str, Any]:
        """The columns of the gem."""
        return {name: self.cleaned_data[name] for name in self.SAID}


class PublicPicture(forms.Form):
    """Pictures to add, and which one strangers see."""

    pictures = PicturesInput(
        label="Photographs",
        required=False,
        help_text="JPEG, PNG or WebP. Where it was taken is left out.",
    )
    public = forms.ChoiceField(label="For the public", required=False, widget=forms.RadioSelect)

    def offer(self, photos: Iterable[StonePhoto], chosen: int | None) -> None:
        """Let one of these be chosen, each shown small."""
        self.taken = {str(one.pk): one for one in photos}
        self.fields["public"].choices = [  # type: ignore[attr-defined]
            (NEW_PICTURE, "the first of the photographs sent now"),
            *((key, _small(one.photo, _told(one))) for key, one in self.taken.items()),
            (NO_PICTURE, "none: show a drawing from its measurements"),
        ]
        self.fields["public"].initial = str(chosen) if chosen else NO_PICTURE if self.taken else NEW_PICTURE

    @property
    def chosen_picture(self) -> StonePhoto | None:
        """The picture chosen among those kept already."""
        return self.taken.get(self.cleaned_data["public"])

    @property
    def takes_new_picture(self) -> bool:
        """Whether the first of the pictures that came along is to be the public one."""
        return self.cleaned_data["public"] == NEW_PICTURE and bool(self.cleaned_data["pictures"])


def _told(one: StonePhoto) -> str:
    return f"{one.caption}, {one.get_stage_display()}" if one.caption else one.get_stage_display()


def _small(photo: Photo, words: str) -> str:
    address = reverse("common:photo", args=[photo.sha256, "thumb"])
    return format_html('<img class="pick" src="{}" alt="" width="88" height="66"> {}', address, words)


class FinishForm(PublicPicture, WordsForm):
    """Off the dop, clean and loose: weigh, measure, describe."""

    weight = WeightInput()
    shape = forms.ChoiceField(choices=Shape)
    length_mm = LengthInput(label="Length")
    width_mm = LengthInput(label="Width")
    depth_mm = LengthInput(label="Depth")

    oil_left = forms.BooleanField(
        label="Oil or wax went into its fissures and stayed",
        required=False,
        help_text="Cutting oil counts. It is a treatment: it is stated in your name and told on every paper.",
    )
    oil_how = forms.CharField(label="Which, where, how much", max_length=300, required=False)

    SIDES = ("length_mm", "width_mm", "depth_mm")

    def __init__(self, *args: Any, stone: Stone, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer(stone.photos.select_related("photo").order_by("-at", "-pk"), None)
        self.fields["weight"].unit = shop.weight_unit  # type: ignore[attr-defined]
        self.fields["cut_by"].initial = shop.cutter
        self.fields["shape"].initial = stone.shape if stone.shape in Shape.values else Shape.OVAL
        if self["shape"].value() == Shape.ROUND:
            self.fields["length_mm"].label = "Greatest diameter"
            self.fields["width_mm"].label = "Least diameter"

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if typed.get("oil_left") and not typed.get("oil_how", "").strip():
            self.add_error("oil_how", "Say what went in, where, and how much of it stayed.")
        if typed.get("oil_how", "").strip() and not typed.get("oil_left"):
            self.add_error("oil_left", "You say what went in: tick that it did, or leave that empty.")
        return typed

    @property
    def oil(self) -> str:
        """What went into the fissures; empty where nothing did."""
        return self.cleaned_data["oil_how"] if self.cleaned_data["oil_left"] else ""

    def measured(self) -> Measured:
        """What the scale and the gauge said, and the words."""
        typed = self.cleaned_data
        sides = {name: typed[name] for name in self.SIDES}
        return Measured(weight=typed["weight"], shape=typed["shape"], **sides, **self.said())


class DescribeForm(WordsForm):
    """The words about a gem, as they stand."""

    @classmethod
    def values_of(cls, gem: FinishedGem) -> dict[str, Any]:
        """What stands there now, angles and shares without idle zeros."""
        values = {name: getattr(gem, name) for name in cls.SAID}
        for name in ("table_percent", "crown_angle_deg", "pavilion_angle_deg"):
            if values[name] is not None:
                values[name] = f"{values[name].normalize():f}"
        return values


class GemPhotoForm(PublicPicture, DeedForm):
    """More pictures of a gem, and which one strangers see."""

    caption = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, gem: FinishedGem, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer(gem.stone.photos.select_related("photo").order_by("-at", "-pk"), gem.public_photo_id)
        self.order_fields(["pictures", "caption", "public"])


class PriceForm(DeedForm):
    """What is asked for a gem, of whom."""

    amount = MoneyInput(label="Asking price")
    level = forms.ChoiceField(
        label="For", choices=PriceLevel, widget=forms.RadioSelect, initial=PriceLevel.RETAIL
    )
    reason = forms.CharField(
        max_length=200, required=False, help_text="Why it changed; it stays in the history."
    )

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].unit = currency  # type: ignore[attr-defined]


class MoveForm(DeedForm):
    """Who has the gem tonight."""

    place = forms.ChoiceField(
        label="It is", choices=[(place.value, place.label) for place in MOVES], widget=forms.RadioSelect
    )
    holder = forms.ModelChoiceField(
        label="Who has it",
        queryset=Contact.objects.all(),
        required=False,
        empty_label="nobody else",
        help_text="Needed for memo, laboratory, setter and client.",
    )
    since = DayInput(label="Since")
    declared_value = MoneyInput(
        label="Declared or insured at", required=False, help_text="What a carrier or the holder answers for."
    )

    def __init__(self, *args: Any, gem: FinishedGem, currency: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["declared_value"].unit = currency  # type: ignore[attr-defined]
        self.fields["since"].initial = today
        self.fields["place"].initial = gem.place
        self.fields["holder"].initial = gem.holder_id
        if gem.declared_value is not None:
            self.fields["declared_value"].initial = round_money(gem.declared_value, currency)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        place = typed.get("place")
        if place and typed.get("holder") and not MOVES[Place(place)]:
            self.add_error("holder", "Nobody else has it there; leave this empty.")
        return typed


class SendBackForm(DeedForm):
    """Which stage a gem goes back to, and why."""

    to = forms.ChoiceField(
        label="Back to",
        choices=[(stage.value, stage.label) for stage in STAGES if stage != Stage.FINISHED],
        widget=forms.RadioSelect,
        initial=Stage.OFF_DOP,
    )
    reason = forms.CharField(max_length=200, help_text="A scratch, a chip, an abraded edge, a recut.")


class LetGoForm(DeedForm):
    """How a gem leaves the books without being sold."""

    gone_as = forms.ChoiceField(label="It is", widget=forms.RadioSelect)
    on = DayInput(label="Since")
    holder = forms.ModelChoiceField(
        label="To whom", queryset=Contact.objects.all(), required=False, empty_label="nobody on the list"
    )
    note = forms.CharField(
        label="How", max_length=200, required=False, help_text="Needed unless it goes home to its owner."
    )

    def __init__(self, *args: Any, gem: FinishedGem, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ways = [Gone.GIVEN, Gone.KEPT, Gone.LOST] if gem.is_own else [Gone.DELIVERED, Gone.LOST]
        self.fields["gone_as"].choices = [(way.value, way.label) for way in ways]  # type: ignore[attr-defined]
        self.fields["gone_as"].initial = ways[0]
        self.fields["on"].initial = today
        if not gem.is_own:
            # It goes to its owner and to nobody else.
            del self.fields["holder"]


class BuyForm(DeedForm):
    """What the shop pays the owner of a gem for it."""

    paid = MoneyInput(label="Price paid", help_text="Zero where it was given, such as instead of payment.")
    reason = forms.CharField(label="How it changed hands", max_length=200)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["paid"].unit = currency  # type: ignore[attr-defined]


class BackForm(DeedForm):
    """How a gem that had gone came back."""

    reason = forms.CharField(label="How it came back", max_length=200)
