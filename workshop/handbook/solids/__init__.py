"""Convex stones from facet planes, the cuts built from proportions, and a cutter's own tier table."""

from .cuts import STYLES, Proportions, UnknownStyle, cut, make_cut, usual_style
from .planes import CrownMeetsPavilion, ImpossibleAngle, Plane, plane_arrays, plane_from
from .proportions import (
    crown_angle_from,
    crown_height_percent,
    pavilion_angle_from,
    pavilion_depth_percent,
    scallop_percent,
    total_depth_percent,
)
from .solid import Face, Solid, convex_outline, solid_from_arrays, solid_from_planes

__all__ = [
    "STYLES",
    "CrownMeetsPavilion",
    "Face",
    "ImpossibleAngle",
    "Plane",
    "Proportions",
    "Solid",
    "UnknownStyle",
    "convex_outline",
    "crown_angle_from",
    "crown_height_percent",
    "cut",
    "make_cut",
    "pavilion_angle_from",
    "pavilion_depth_percent",
    "plane_arrays",
    "plane_from",
    "scallop_percent",
    "solid_from_arrays",
    "solid_from_planes",
    "total_depth_percent",
    "usual_style",
]
