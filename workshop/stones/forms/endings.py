"""A stone becomes several, breaks, or comes to another end; and how it is taken up again."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import WeightInput
from workshop.handbook.units import Weight
from workshop.people.models import Ownership

from ..models import Ending, Stone

ZERO = Decimal(0)
#: Pieces one saw cut, cleavage or fall makes of a stone, at most.
MOST_PIECES = 40


class SplitForm(DeedForm):
    """The pieces, and the weight that became none. A row more is one press of a button, without a script."""

    kerf = WeightInput(label="Kerf", required=False, help_text="Sawn away.")
    chips = WeightInput(label="Chips", required=False, help_text="Broken off and kept or thrown out.")
    lost = WeightInput(label="Lost", required=False, help_text="Known to be gone.")
    reason = forms.CharField(
        label="How",
        max_length=300,
        required=False,
        help_text="Sawn as planned, cleaved, came apart along a flaw.",
    )
    rows = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, unit: str, more: int = 0, **kwargs: Any
    ) -> None:
        self.count = min(max(_whole(data.get("rows") if data else None, 2), 2) + more, MOST_PIECES)
        if data is not None and more:
            data = {**{name: data.get(name) for name in data}, "rows": str(self.count)}
        super().__init__(data, **kwargs)
        self.unit = unit
        for number in range(1, self.count + 1):
            self.fields[f"piece_{number}"] = WeightInput(label=f"Piece {number}", required=False, unit=unit)
        for name in ("kerf", "chips", "lost"):
            self.fields[name].unit = unit  # type: ignore[attr-defined]
        self.fields["rows"].initial = self.count

    @property
    def pieces(self) -> list[Weight]:
        """The pieces that were weighed, in the order typed."""
        typed = (self.cleaned_data.get(f"piece_{number}") for number in range(1, self.count + 1))
        return [weight for weight in typed if weight is not None]

    @property
    def piece_fields(self) -> list[forms.BoundField]:
        """The rows of the pieces."""
        return [self[f"piece_{number}"] for number in range(1, self.count + 1)]

    def gone(self, name: str) -> Decimal:
        """Carats of kerf, chips or lost; nothing where it was left out."""
        weight: Weight | None = self.cleaned_data.get(name)
        return ZERO if weight is None else weight.ct

    def gap(self, stone: Stone) -> Decimal:
        """What would stay unexplained as things are typed."""
        taken = sum((piece.ct for piece in self.pieces), ZERO)
        return stone.weight_ct - taken - sum((self.gone(name) for name in ("kerf", "chips", "lost")), ZERO)


def _whole(text: Any, otherwise: int) -> int:
    digits = str(text or "")
    return int(digits) if digits.isascii() and digits.isdigit() and len(digits) < 4 else otherwise


class BreakForm(DeedForm):
    """What happened, what is left, and where its cost goes."""

    reason = forms.CharField(label="What happened", max_length=300)
    fragments = WeightInput(
        label="What is left of it", required=False, help_text="All fragments together, loose and clean."
    )
    cost_goes = forms.ChoiceField(
        label="Its share of the rough's cost",
        choices=[("loss", "stays with it, as a loss"), ("survivors", "goes on what is left of its lot")],
        widget=forms.RadioSelect,
        initial="loss",
    )

    def __init__(self, *args: Any, unit: str, sees_money: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["fragments"].unit = unit  # type: ignore[attr-defined]
        if not sees_money:
            # Whoever sees no costs decides none: the cost stays where it is, and the owner may choose later.
            del self.fields["cost_goes"]

    @property
    def on_survivors(self) -> bool:
        """Whether the survivors of the lot take its cost over."""
        return self.cleaned_data.get("cost_goes") == "survivors"


class EndForm(DeedForm):
    """How a stone ends, other than broken or made into several."""

    ending = forms.ChoiceField(label="It is", widget=forms.RadioSelect)
    reason = forms.CharField(
        label="What happened",
        max_length=300,
        required=False,
        help_text="Lost: where last seen, and when. Needed for all but “put by”.",
    )

    def __init__(self, *args: Any, stone: Stone, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ways = [Ending.PUT_BY, Ending.LOST, Ending.SCRAPPED]
        if stone.ownership != Ownership.SHOP:
            ways.append(Ending.UNWORKED)
        self.fields["ending"].choices = [(way.value, way.label) for way in ways]  # type: ignore[attr-defined]


class AgainForm(DeedForm):
    """Where it was found, or why it is taken up."""

    reason = forms.CharField(label="Where it was, or why it is taken up", max_length=300)
