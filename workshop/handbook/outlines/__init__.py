"""Girdle outlines: the plan shapes a cutter uses, at any length to width, and how each is measured.

Frame of every chapter that draws or cuts: x runs along the width, y along the length, millimetres; an azimuth
is counted in degrees clockwise from +y as seen face up, so azimuth 0 is twelve o'clock and 90 is three
o'clock. Measuring rules follow a Thai laboratory's page, http://aglthai.com/measurement.php (WT-14a of our
notes); regular polygons follow the closed forms of plane geometry. Shape constants (how far a cushion bulges,
where a pear is widest) are common practice, no source, and are named below.
"""

from .balance import Evening, SideReading, even_out, read_sides
from .outline import (
    KEYS,
    LABELS,
    LIES_DOWN,
    MOST_ELONGATED,
    NEARLY_EQUAL,
    USUAL_LENGTH_TO_WIDTH,
    Measured,
    Outline,
    UnknownOutline,
    area,
    centroid,
    hull,
    make_outline,
    measure,
    perimeter,
    usual_length_to_width,
)
from .polygons import PolygonMeasures, regular_polygon, regular_polygon_from_width
from .shapes import (
    CORNER_LEG,
    CUSHION_POWER,
    KITE_SHOULDER,
    SHIELD_SHOULDER,
    STEPS,
    TRIANGLE_BOW,
    Array,
    Point,
)
from .stations import HalfPlane, Stations, half_planes, places, side_lengths, stations

__all__ = [
    "CORNER_LEG",
    "CUSHION_POWER",
    "KEYS",
    "KITE_SHOULDER",
    "LABELS",
    "LIES_DOWN",
    "MOST_ELONGATED",
    "NEARLY_EQUAL",
    "SHIELD_SHOULDER",
    "STEPS",
    "TRIANGLE_BOW",
    "USUAL_LENGTH_TO_WIDTH",
    "Array",
    "Evening",
    "HalfPlane",
    "Measured",
    "Outline",
    "Point",
    "PolygonMeasures",
    "SideReading",
    "Stations",
    "UnknownOutline",
    "area",
    "centroid",
    "even_out",
    "half_planes",
    "hull",
    "make_outline",
    "measure",
    "perimeter",
    "places",
    "read_sides",
    "regular_polygon",
    "regular_polygon_from_width",
    "side_lengths",
    "stations",
    "usual_length_to_width",
]
