"""The depth budget: a plan held against the depth there is, the angles that still fit, and the light each keeps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from workshop.handbook.errors import HandbookError
from workshop.handbook.outlines import make_outline

from . import figures
from .cuts import Cut, Window, window_of
from .looks import TILT_DEG, Light, light_of

WAYS = {
    "pavilion": "Flatter pavilion, crown kept",
    "crown": "Flatter crown, pavilion kept",
    "both": "Both, by one ratio of the tangents",
}


@dataclass(frozen=True, eq=False)
class Way:
    """One way to cut it: angles, sizes, weight, window and light."""

    label: str
    crown_deg: float
    pavilion_deg: float
    length_mm: Decimal
    width_mm: Decimal
    depth_mm: Decimal
    weight_ct: Decimal
    window: Window
    face_up: Light
    tilted: Light
    fits: bool


@dataclass(frozen=True, eq=False)
class Budget:
    """The plan as it stands, what is missing or to spare, and the ways that fit."""

    planned: Way
    room_mm: Decimal
    ways: list[Way]
    impossible: list[str]

    @property
    def over_mm(self) -> Decimal:
        """How much deeper the plan is than the room; negative: to spare."""
        return self.planned.depth_mm - self.room_mm


def budget(cut: Cut, *, width_mm: Decimal, room_mm: Decimal, index: float, gravity: float) -> Budget:
    """Hold a plan against the depth there is. Raises the handbook's errors for proportions that make no stone."""
    from workshop.handbook.solids import fitted_to_depth

    width, room = float(width_mm), float(room_mm)
    planned = _way("As planned", cut, width, room, index, gravity)
    outline = make_outline(cut.outline, length=width * cut.ratio, width=width, sides=cut.sides)
    ways, impossible = [], []
    for part, label in WAYS.items():
        try:
            said = fitted_to_depth(cut.chosen_style, outline, cut.proportions, room, part=part)  # type: ignore[arg-type]
            if said is None:
                impossible.append(f"{label}: no angle is flat enough.")
                continue
            fitted = replace(cut, crown_deg=said.crown_angle, pavilion_deg=said.pavilion_angle)
            ways.append(_way(label, fitted, width, room, index, gravity))
        except HandbookError as error:
            impossible.append(f"{label}: {error}")
    if planned.depth_mm > room_mm:
        smaller = width * room / float(planned.depth_mm)
        ways.append(_way("Smaller, angles kept", cut, smaller, room, index, gravity))
    return Budget(planned, room_mm, ways, impossible)


def _way(label: str, cut: Cut, width: float, room: float, index: float, gravity: float) -> Way:
    solid = cut.solid(width)
    return Way(
        label=label,
        crown_deg=cut.crown_deg,
        pavilion_deg=cut.pavilion_deg,
        length_mm=figures.millimetres(solid.length),
        width_mm=figures.millimetres(solid.width),
        depth_mm=figures.millimetres(solid.depth),
        weight_ct=figures.carats(solid.weight_ct(gravity)),
        window=window_of(solid, index),
        face_up=light_of(solid, index),
        tilted=light_of(solid, index, tilt_deg=TILT_DEG, pictured=False),
        fits=solid.depth <= room + 0.005,
    )
