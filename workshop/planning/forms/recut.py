"""What a recut asks: the stone as it is, what would be done to it, and what a carat brings before and after."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from workshop.common.formfields import LengthInput, MoneyInput, WeightInput

from .asks import (
    AskForm,
    MaterialFields,
    angle,
    checked_facet,
    number,
    outline_choices,
    percent,
    style_choices,
)

DOINGS = {
    "window": "close the window: a pavilion that does not leak",
    "pavilion": "cut the whole pavilion deeper",
    "mains": "cut the pavilion mains deeper",
    "crown": "cut the whole crown deeper",
    "table": "open the table: cut it deeper",
    "known": "I know what it will weigh",
}
DEEPER = ("pavilion", "mains", "crown", "table")


class RecutForm(MaterialFields, AskForm):
    """The stone from its dimensions, and one thing to do to it."""

    before = WeightInput(label="Weight now", unit="ct")
    length_mm = LengthInput(label="Length")
    width_mm = LengthInput(label="Width")
    depth_mm = LengthInput(label="Depth")
    outline = forms.ChoiceField(choices=outline_choices)
    style = forms.ChoiceField(choices=style_choices, required=False)
    table = percent("Table", least=5, most=95, help="Of the width, as measured.")
    crown_angle = angle("Crown mains", help="As measured or guessed; 34° where you cannot tell.")
    girdle = percent("Girdle", most=50, help="Of the width, at its thick places.")
    doing = forms.ChoiceField(
        label="What would be done", choices=list(DOINGS.items()), widget=forms.RadioSelect
    )
    target_angle = angle(
        "New pavilion mains", required=False, help="To close a window. Empty: the angle most sources advise."
    )
    off_mm = number(
        "Off every facet of the rest", unit="mm", least=0, most=5, places=2, required=False,
        help="To close a window: what polishing takes besides. The low end of the range takes twice as much.",
    )  # fmt: skip
    by_mm = number("Deeper by", unit="mm", least=0, most=50, places=2, required=False)
    after = WeightInput(label="Weight afterwards", unit="ct", required=False)
    hours = number("Hours", unit="h", least=0, most=1000, places=2, required=False, help="Empty: estimated.")
    value_now = MoneyInput(label="A carat brings now", required=False)
    value_after = MoneyInput(
        label="A carat brings afterwards",
        required=False,
        help_text="May stay empty: the break-even is shown.",
    )
    fee = MoneyInput(
        label="Fee or cost of the recut", required=False, help_text="Empty: the hours at the rate."
    )
    rate = MoneyInput(label="An hour costs", required=False)

    MONEY = ("value_now", "value_after", "fee", "rate")
    INITIAL = {
        "outline": "oval", "style": "", "table": "57", "crown_angle": "34", "girdle": "3", "doing": "window",
        "off_mm": "0.05",
    }  # fmt: skip

    def __init__(self, data: Any = None, *, currency: str, money: bool, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.money = money
        for name in self.MONEY:
            if money:
                self.fields[name].unit = currency  # type: ignore[attr-defined]
            else:
                del self.fields[name]

    def clean_crown_angle(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["crown_angle"])

    def clean_target_angle(self) -> Decimal | None:
        return checked_facet(self.cleaned_data["target_angle"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        doing, before, after = cleaned.get("doing"), cleaned.get("before"), cleaned.get("after")
        if doing in DEEPER and not cleaned.get("by_mm") and "by_mm" not in self.errors:
            self.add_error("by_mm", "How much deeper, in millimetres, more than zero?")
        if doing == "known" and after is None and "after" not in self.errors:
            self.add_error("after", "Give the weight afterwards.")
        if after is not None and before is not None and after.ct > before.ct:
            self.add_error("after", f"A recut stone weighs no more than before: {before.ct} ct.")
        return cleaned
