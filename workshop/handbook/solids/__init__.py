"""Convex stones from facet planes, the cuts built from proportions, and a cutter's own tier table."""

from .budget import PARTS, fitted_to_depth
from .cuts import STYLES, Proportions, UnknownStyle, cut, depth_of, make_cut, usual_style
from .planes import CrownMeetsPavilion, ImpossibleAngle, Plane, plane_arrays, plane_from
from .proportions import (
    crown_angle_from,
    crown_height_percent,
    pavilion_angle_from,
    pavilion_depth_percent,
    scallop_percent,
    total_depth_percent,
)
from .recut import cut_to_size, deeper
from .solid import Face, Solid, convex_outline, solid_from_arrays, solid_from_planes
from .tiers import (
    CutTable,
    NoMeet,
    Tier,
    angle_through,
    azimuth_of,
    cut_table,
    facet_name,
    meet_point,
    solve_tiers,
)

__all__ = [
    "PARTS",
    "STYLES",
    "CrownMeetsPavilion",
    "CutTable",
    "Face",
    "ImpossibleAngle",
    "NoMeet",
    "Plane",
    "Proportions",
    "Solid",
    "Tier",
    "UnknownStyle",
    "angle_through",
    "azimuth_of",
    "convex_outline",
    "crown_angle_from",
    "crown_height_percent",
    "cut",
    "cut_table",
    "cut_to_size",
    "deeper",
    "depth_of",
    "facet_name",
    "fitted_to_depth",
    "make_cut",
    "meet_point",
    "pavilion_angle_from",
    "pavilion_depth_percent",
    "plane_arrays",
    "plane_from",
    "scallop_percent",
    "solid_from_arrays",
    "solid_from_planes",
    "solve_tiers",
    "total_depth_percent",
    "usual_style",
]
