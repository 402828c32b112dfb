"""Pictures of a stone in its light, as small PNGs that stand in the page itself."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from . import figures

if TYPE_CHECKING:
    from decimal import Decimal

    from workshop.handbook.light import LightResult
    from workshop.handbook.solids import Solid

PICTURE_GRID = 120
#: Enough rays for a share to 0.1 % or so; no picture is drawn of it.
SHARE_GRID = 64
#: The tilt at which a stone is looked at besides face up: about what a hand gives it. Our own choice.
TILT_DEG = 10.0


@dataclass(frozen=True)
class Light:
    """Where the light of a stone goes, per cent of its face, and how it looks."""

    tilt_deg: float
    returned: Decimal
    leaked: Decimal
    window: Decimal
    dark: Decimal
    glare: Decimal
    picture: str = ""


def light_of(solid: Solid, index: float, *, tilt_deg: float = 0.0, pictured: bool = True) -> Light:
    """Trace the light of a stone and draw what the eye sees."""
    from workshop.handbook.light import trace

    grid = PICTURE_GRID if pictured else SHARE_GRID
    seen = trace(solid.normals, solid.offsets, index, grid=grid, tilt_deg=tilt_deg)
    return Light(
        tilt_deg,
        figures.per_cent(seen.returned),
        figures.per_cent(seen.leaked),
        figures.per_cent(seen.window),
        figures.per_cent(seen.dark),
        figures.per_cent(seen.glare),
        png_address(seen) if pictured else "",
    )


def png_address(seen: LightResult) -> str:
    """The face-up picture as a ``data:`` address; what lies beside the stone is left clear."""
    clear = np.where(seen.inside, 255, 0).astype(np.uint8)
    picture = Image.merge("LA", (Image.fromarray(seen.face_up), Image.fromarray(clear)))
    kept = BytesIO()
    picture.save(kept, format="PNG", optimize=True)
    return "data:image/png;base64," + b64encode(kept.getvalue()).decode("ascii")
