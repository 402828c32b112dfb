"""A piece of rough with its flats and losses, the cut's angles, the work and the money."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import LengthInput, MoneyInput, WeightInput
from workshop.common.models import Shop
from workshop.handbook.money import round_money

from ..cuts import OFFERED, Cut
from ..history import hardness_factor
from ..options import PriceBand, Terms, Work
from ..pieces import SHAPES, SIDE_NAMES, Flat, Piece
from .asks import (
    AskForm,
    angle,
    checked_facet,
    checked_gravity,
    checked_index,
    gravity_field,
    index_field,
    number,
    percent,
    style_choices,
)

MOST_FLATS = 30
FLATS_AT_FIRST = 2
ZERO = Decimal(0)
KINDS = [("flat", "a flat it has"), ("loss", "a fracture or zone to lose")]
WAYS = [*((name, name) for name in SIDE_NAMES), ("", "by the two angles")]


class PieceForm(AskForm):
    """Everything the table of options asks. Rows for flats and losses are added by a button, without a script."""

    weight = WeightInput(label="Weight of the piece", unit="ct")
    length_mm = LengthInput(label="Length")
    width_mm = LengthInput(label="Width")
    height_mm = LengthInput(label="Height")
    shape = forms.ChoiceField(label="Shape of the piece", choices=list(SHAPES.items()))
    crystal_sides = number(
        "Sides of the crystal", least=3, most=12, places=0, required=False,
        help="For the two crystal shapes: 4 for an octahedron, 6 for beryl or sapphire.",
    )  # fmt: skip
    skin_mm = number(
        "Skin to lose all round", unit="mm", least=0, most=50, places=2, required=False,
        help="Frosted skin, saw marks, what preforming takes.",
    )  # fmt: skip
    sg = gravity_field()
    ri = index_field()
    mohs = number("Hardness, Mohs", least=1, most=10, places=1)
    care = forms.BooleanField(label="Sensitive to heat or easily cleaved", required=False)
    flawed = forms.BooleanField(label="Flaws to cut around that are not entered as losses", required=False)
    style = forms.ChoiceField(choices=style_choices, required=False)
    point = forms.BooleanField(
        label="Mains all run to one point", required=False,
        help_text="Otherwise ovals and cushions end in a keel, their mains at one angle.",
    )  # fmt: skip
    free = forms.BooleanField(
        label="Let the length follow the rough", required=False,
        help_text="0.8 to 1.5 times the usual length to width; not for rounds, squares, triangles and hearts.",
    )  # fmt: skip
    crown_angle = angle("Crown mains")
    pavilion_angle = angle("Pavilion mains")
    table = percent("Table", least=5, most=95)
    girdle = percent("Girdle", most=50)
    rate = MoneyInput(label="An hour costs")
    off_percent = percent("Time off the bench, on top", most=500)
    spent = MoneyInput(
        label="Cost of the piece so far", required=False, help_text="Empty: its share of the lot by weight."
    )
    asked = MoneyInput(label="Asked per carat", required=False)
    from_2 = WeightInput(label="From", unit="ct", required=False)
    asked_2 = MoneyInput(label="per carat", required=False)
    from_3 = WeightInput(label="From", unit="ct", required=False)
    asked_3 = MoneyInput(label="per carat", required=False)
    flats = forms.IntegerField(required=False, widget=forms.HiddenInput)

    MONEY = ("rate", "off_percent", "spent", "asked", "from_2", "asked_2", "from_3", "asked_3")

    def __init__(
        self,
        data: Any = None,
        *,
        currency: str,
        money: bool,
        species: str = "",
        per_ct: Decimal = ZERO,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.currency, self.money, self.species, self.per_ct = currency, money, species, per_ct
        for name in self.MONEY:
            if not money:
                del self.fields[name]
            elif isinstance(self.fields[name], MoneyInput):
                self.fields[name].unit = currency  # type: ignore[attr-defined]
        self.count = self._row_count(data)
        for row in range(1, self.count + 1):
            self._add_row(row)

    def _row_count(self, data: Any) -> int:
        if data is None:
            return FLATS_AT_FIRST
        text = str(data.get("flats", ""))
        said = int(text) if text.isascii() and text.isdigit() and len(text) < 4 else FLATS_AT_FIRST
        return min(max(said, 0) + (2 if "more" in data else 0), MOST_FLATS)

    def _add_row(self, row: int) -> None:
        self.fields[f"kind_{row}"] = forms.ChoiceField(label="What", choices=KINDS, required=False)
        self.fields[f"way_{row}"] = forms.ChoiceField(
            label="Towards", choices=WAYS, required=False, initial="top"
        )
        self.fields[f"at_{row}"] = number(
            "From the middle", unit="mm", least=-1000, most=1000, places=2, required=False
        )
        self.fields[f"turn_{row}"] = angle("Round", least=-360, most=360, required=False)
        self.fields[f"rise_{row}"] = angle("Up", least=-90, most=90, required=False)

    @property
    def flat_rows(self) -> list[list[Any]]:
        """The fields of each row, for the page."""
        return [
            [self[f"{name}_{row}"] for name in ("kind", "way", "at", "turn", "rise")]
            for row in range(1, self.count + 1)
        ]

    @property
    def dearer(self) -> bool:
        """Whether a price from a weight on was said, or is wrong."""
        names = [name for name in ("from_2", "asked_2", "from_3", "asked_3") if name in self.fields]
        return any(self[name].value() or self[name].errors for name in names)

    def clean_ri(self) -> Decimal | None:
        return checked_index(self.cleaned_data["ri"])

    def clean_sg(self) -> Decimal | None:
        return checked_gravity(self.cleaned_data["sg"])

    def clean_crown_angle(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["crown_angle"])

    def clean_pavilion_angle(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["pavilion_angle"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        for row in range(1, self.count + 1):
            at = cleaned.get(f"at_{row}")
            if at is not None and cleaned.get(f"kind_{row}") != "loss" and at <= 0:
                words = "A flat leaves the middle of the piece inside; else enter it as a loss."
                self.add_error(f"at_{row}", words)
        for band in ("2", "3"):
            if self.money and bool(cleaned.get(f"from_{band}")) != (cleaned.get(f"asked_{band}") is not None):
                self.add_error(f"asked_{band}", "Give both: the weight from which, and the price.")
        return cleaned

    def piece(self) -> Piece:
        """The piece as described."""
        said = self.cleaned_data
        return Piece(
            shape=said["shape"],
            length_mm=str(said["length_mm"]),
            width_mm=str(said["width_mm"]),
            height_mm=str(said["height_mm"]),
            weight_ct=str(said["weight"].ct),
            specific_gravity=str(said["sg"]),
            skin_mm=str(said["skin_mm"] or 0),
            sides=int(said["crystal_sides"] or (4 if said["shape"] == "bipyramid" else 6)),
            flats=tuple(self._flats()),
        )

    def _flats(self) -> list[Flat]:
        said, found = self.cleaned_data, []
        for row in range(1, self.count + 1):
            at = said.get(f"at_{row}")
            if at is None:
                continue
            angles = (said.get(f"turn_{row}") or ZERO, said.get(f"rise_{row}") or ZERO)
            kind = said.get(f"kind_{row}") or "flat"
            found.append(Flat(kind, said.get(f"way_{row}") or "", str(at), str(angles[0]), str(angles[1])))
        return found

    def cut(self) -> Cut:
        """Style, angles and percentages, the same for every outline."""
        said = self.cleaned_data
        return Cut(
            outline="round",
            style=said["style"],
            keel=not said["point"],
            crown_deg=float(said["crown_angle"]),
            pavilion_deg=float(said["pavilion_angle"]),
            table_percent=float(said["table"]),
            girdle_percent=float(said["girdle"]),
        )

    def work(self) -> Work:
        """What the hours depend on."""
        said = self.cleaned_data
        return Work(hardness_factor(self.species, float(said["mohs"])), said["care"], said["flawed"])

    def terms(self) -> Terms | None:
        """The money of the table; nothing for whoever sees none."""
        if not self.money:
            return None
        said = self.cleaned_data
        bands = [PriceBand(ZERO, said["asked"])] if said["asked"] is not None else []
        bands += [
            PriceBand(said[f"from_{band}"].ct, said[f"asked_{band}"])
            for band in ("2", "3")
            if said[f"from_{band}"] is not None
        ]
        spent = said["spent"]
        if spent is None:
            spent = round_money(self.per_ct * said["weight"].ct, self.currency)
        return Terms(self.currency, said["rate"], said["off_percent"], spent, tuple(bands))


def initial_money(shop: Shop, off_percent: Decimal, spent: Decimal | None) -> dict[str, Any]:
    """What the money fields offer at first; a piece in its lot leaves its share to be worked out."""
    return {
        "rate": f"{round_money(shop.hourly_rate, shop.currency)}",
        "off_percent": f"{off_percent}",
        "spent": "" if spent is None else f"{round_money(spent, shop.currency)}",
    }


class ChooseForm(DeedForm):
    """Which outline of the table becomes the plan."""

    outline = forms.ChoiceField(choices=[(key, key) for key in OFFERED])
