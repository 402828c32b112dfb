"""What may be typed about the papers of a taking-in: a reason, a signature, what became of each fault."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import LanguageInput, LengthInput, WeightInput
from workshop.common.models import Shop
from workshop.rough.documents import ReadDocument, read_document

from ..models import IntakePiece
from ..papers_condition import After, Finding, PieceAfter, faults_of
from .intake import line, several


class IssueForm(DeedForm):
    """Issue a paper; a reason where it takes the place of one that stands."""

    reason = line("Why it is issued anew", 300, help="The reason stays with the paper.")
    language = LanguageInput(help_text="What was typed stays as it was typed.")

    def __init__(self, *args: Any, again: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if again:
            self.fields["reason"].required = True
        else:
            del self.fields["reason"]

    @property
    def said_reason(self) -> str:
        """The reason, or nothing for a first issue."""
        return str(self.cleaned_data.get("reason") or "")


class SignForm(DeedForm):
    """The signature: a name typed here, or the signed sheet as a file."""

    name = line("Name of whoever signs", 160, required=True)
    scan = forms.FileField(
        label="The signed sheet", required=False,
        help_text="Scan or photograph: PDF, JPEG or PNG, at most 10 MB. Leave it out when they sign here by name.",
    )  # fmt: skip
    agreed = forms.BooleanField(label="They read the receipt with its risks and agree to it.")

    def clean_scan(self) -> ReadDocument | None:
        """The sheet, read and looked at before any write begins."""
        upload = self.cleaned_data["scan"]
        return read_document(upload) if upload else None


class AfterForm(DeedForm):
    """The report after the work: each piece weighed again, each fault said again."""

    def __init__(
        self, *args: Any, pieces: Sequence[IntakePiece], shop: Shop, again: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.pieces = list(pieces)
        for number, piece in enumerate(self.pieces, start=1):
            self.fields[f"weight_{number}"] = WeightInput(label="Weight now, by scale", unit=shop.weight_unit)
            for side in ("length", "width", "depth"):
                self.fields[f"{side}_mm_{number}"] = LengthInput(
                    label=f"{side.capitalize()} now", required=False
                )
            self.fields[f"treatment_{number}"] = line(
                "Treatment, as seen now",
                200,
                help="A recut reopens the question; empty prints as not tested again.",
            )
            for place, fault in enumerate(faults_of(piece), start=1):
                self.fields[f"now_{number}_{place}"] = forms.ChoiceField(
                    label=fault,
                    choices=[("", "say …"), *(one for one in After.choices if one[0] != After.NEW)],
                )
                self.fields[f"note_{number}_{place}"] = line("Remark", 200)
            self.fields[f"new_{number}"] = several("New faults", "A line each; leave empty for none.")
        if again:
            self.fields["reason"] = line("Why it is issued anew", 300, required=True)

    @property
    def rows(self) -> Iterator[dict[str, Any]]:
        """The boxes of each piece."""
        for number, piece in enumerate(self.pieces, start=1):
            faults = range(1, len(faults_of(piece)) + 1)
            yield {
                "piece": piece,
                "number": number,
                **{
                    name: self[f"{name}_{number}"]
                    for name in ("weight", "length_mm", "width_mm", "depth_mm", "treatment", "new")
                },
                "faults": [(self[f"now_{number}_{at}"], self[f"note_{number}_{at}"]) for at in faults],
            }

    def found(self) -> list[PieceAfter]:
        """What the report says of each piece."""
        return [self._found(number, piece) for number, piece in enumerate(self.pieces, start=1)]

    def _found(self, number: int, piece: IntakePiece) -> PieceAfter:
        typed = self.cleaned_data
        again = [
            Finding(fault, typed[f"now_{number}_{place}"], typed[f"note_{number}_{place}"])
            for place, fault in enumerate(faults_of(piece), start=1)
        ]
        new = [line.strip() for line in typed[f"new_{number}"].splitlines() if line.strip()]
        return PieceAfter(
            piece,
            typed[f"weight_{number}"].ct,
            typed[f"length_mm_{number}"],
            typed[f"width_mm_{number}"],
            typed[f"depth_mm_{number}"],
            findings=[*again, *(Finding(line[:300], After.NEW) for line in new)],
            treatment=typed[f"treatment_{number}"],
        )
