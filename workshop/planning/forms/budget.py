"""What the depth budget asks: a cut, its size, and the depth there is at the shallow spot."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from workshop.common.formfields import LengthInput

from ..cuts import Cut
from .asks import USUAL_CUT, AskForm, CutFields, MaterialFields, number


class DepthForm(MaterialFields, CutFields, AskForm):
    """A plan, and the depth the rough really has."""

    length_mm = LengthInput(label="Length")
    width_mm = LengthInput(label="Width")
    shallow_mm = LengthInput(
        label="Depth at the shallow spot", help_text="Where the piece is thinnest inside the outline."
    )
    lost_mm = number(
        "Lost to sawing, preform and polish", unit="mm", least=0, most=20, places=2, required=False,
        help="Taken off the depth first. Common practice, no source: 0.2 mm.",
    )  # fmt: skip

    INITIAL = USUAL_CUT | {"lost_mm": "0.2"}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        shallow, lost = cleaned.get("shallow_mm"), cleaned.get("lost_mm") or Decimal(0)
        if shallow is not None and shallow <= lost:
            self.add_error("lost_mm", "That takes all the depth there is.")
        return cleaned

    @property
    def room_mm(self) -> Decimal:
        """Depth left for the stone."""
        room: Decimal = self.cleaned_data["shallow_mm"] - (self.cleaned_data["lost_mm"] or Decimal(0))
        return room

    def cut(self) -> Cut:
        """The cut as planned."""
        return cut_of(self.cleaned_data)


def cut_of(said: dict[str, Any]) -> Cut:
    """A cut from the fields of ``CutFields`` with length and width."""
    return Cut(
        outline=said["outline"],
        style=said["style"],
        length_to_width=float(said["length_mm"] / said["width_mm"]),
        sides=int(said["sides"] or 8),
        keel=not said["point"],
        crown_deg=float(said["crown_angle"]),
        pavilion_deg=float(said["pavilion_angle"]),
        table_percent=float(said["table"]),
        girdle_percent=float(said["girdle"]),
    )
