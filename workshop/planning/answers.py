"""What each calculator answers: the typed figures handed to the handbook, its answer made ready for the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from workshop.handbook import costing, density, identify, optics, outlines, tables, weights, wheels
from workshop.handbook.errors import HandbookError
from workshop.handbook.money import round_money
from workshop.handbook.tables import abrasives
from workshop.materials.reference import Source, sources

from . import figures
from .forms.calculators import ROUNDED

Said = dict[str, Any]
Answer = dict[str, Any]
TILTS_SHOWN = (38, 39, 40, 41, 42, 43, 44, 45)


def window(said: Said) -> Answer:
    """Critical angle, what sources advise, and the tilt each pavilion windows at."""
    index = float(said["ri"])
    own = float(said["pavilion"]) if said["pavilion"] is not None else None
    return {
        "critical": optics.critical_angle_deg(index),
        "reflected": 100 * optics.normal_reflectance(index),
        "brewster": optics.brewster_deg(index),
        "steepest": optics.steepest_useful_pavilion_deg(index),
        "head": optics.viewer_head_zone(index),
        "advised": [(one, sources(one.source)) for one in optics.recommended_pavilions(index)],
        "own": own,
        "own_tilt": optics.window_tilt(index, own) if own is not None else None,
        "own_margin": own - optics.critical_angle_deg(index) if own is not None else None,
        "tilts": [(angle, optics.window_tilt_deg(index, angle)) for angle in TILTS_SHOWN],
    }


def identified(said: Said) -> Answer:
    """Which species of the table agree."""

    def reading(name: str, within: str) -> identify.Reading | None:
        value = said[name]
        return None if value is None else identify.Reading(float(value), float(said[within]))

    readings = identify.Readings(
        ri=reading("ri", "ri_within"),
        ri_low=reading("ri_low", "ri_within"),
        ri_high=reading("ri_high", "ri_within"),
        over_limit=said["over"],
        birefringence=reading("birefringence", "birefringence_within"),
        sg=reading("sg", "sg_within"),
        optic_character=said["optic"] or None,
    )
    return {"found": identify.identify(readings)}


def weighed(said: Said) -> Answer:
    """A specific gravity with its uncertainty, and whose it may be."""
    found = density.weigh(
        said["air"].ct,
        said["water"].ct,
        wire=said["wire"].ct if said["wire"] else Decimal(0),
        balance_step=said["step"].ct,
        water_c=float(said["celsius"]),
        water_c_within=float(said["within"]),
        air_density=density.AIR_DENSITY if said["lift"] else 0.0,
    )
    plain = density.specific_gravity(
        said["air"].ct, said["water"].ct, wire=said["wire"].ct if said["wire"] else 0
    )
    within = max(found.expanded_uncertainty, 0.0001)
    return {
        "found": found,
        "plain": plain,
        "within": figures.decimal_of(within, 4),
        "value": figures.decimal_of(found.value, 4),
        "near": [
            row
            for row in tables.materials()
            if float(row.sg_low) - within <= found.value <= float(row.sg_high) + within
        ],
    }


def divided(said: Said) -> Answer:
    """Facets on the nearest teeth."""
    teeth, fold = int(said["teeth"]), int(said["fold"])
    division = wheels.nearest_settings(teeth, fold, start=Fraction(said["start"] or 0))
    lines = zip(
        division.settings, division.errors_teeth, division.errors_deg, division.steps_deg, strict=True
    )
    return {
        "division": division,
        "report": wheels.report(teeth),
        "lines": [(wheels.setting_label(one, teeth), float(off), deg, step) for one, off, deg, step in lines],
        "fitting": wheels.wheels_for(fold),
        "midway": [wheel.teeth for wheel in wheels.wheels_for(fold, midway=True)],
        "uneven": _uneven(division),
    }


def _uneven(division: wheels.Division) -> float | None:
    """By how many per cent the sides of such a girdle differ; None where they close no outline."""
    if division.fold < 3:
        return None
    try:
        sides = division.side_lengths
    except HandbookError:
        return None
    return 100 * (max(sides) - min(sides)) / (sum(sides) / len(sides))


def moved(said: Said) -> Answer:
    """Settings on another wheel."""
    old, new = int(said["old"]), int(said["new"])
    carried = wheels.move_settings([int(one) for one in said["settings"]], old, new)
    return {
        "lines": [(one, float(one.wanted), wheels.setting_label(one.nearest, new)) for one in carried],
        "exact": all(one.exact for one in carried),
        "new": new,
    }


def carried(said: Said) -> Answer:
    """Angles by the tangent ratio."""
    angles = [float(one) for one in said["angles"]]
    index = float(said["ri"]) if said["pavilion"] and said["ri"] else None
    found = optics.carry_angles(angles, float(said["old"]), float(said["new"]), pavilion_index=index)
    return {
        "found": found,
        "lines": list(zip(angles, found.angles_deg, strict=True)),
        "percent": 100 * found.ratio,
    }


def grains(said: Said) -> Answer:
    """A grit in microns, and its like under the other standards."""
    found = abrasives.microns(said["label"], said["standard"]) if said["label"] else ()
    grain = float(said["microns"]) if said["microns"] else found[0].microns
    return {
        "found": [(one, _read_in(one.source)) for one in found],
        "grain": grain,
        "near": [(one, abrasives.STANDARDS[one.standard]) for one in abrasives.nearest_labels(grain)],
        "sequences": [(steps, _read_in(source)) for steps, source in abrasives.TRADE_SEQUENCES],
    }


def _read_in(text: str) -> Sequence[Source | str]:
    """The sources of a cell; where none has an address, the words as they stand."""
    return sources(text) or [text]


@dataclass(frozen=True)
class Weighed:
    """A weight by one way of reckoning, and where that was read."""

    ct: Decimal
    way: str
    read_in: Sequence[Source | str]
    from_memory: bool = False
    exact: bool = False


def from_size(said: Said) -> Answer:
    """Carats by every published constant for the outline, and by the exact solid."""
    outline, sg = said["outline"], said["sg"]
    size = said["length_mm"], said["width_mm"], said["depth_mm"]
    found = weights.estimates_from_size(outline, *size, sg, correction=said["correction"] or Decimal(1))
    lines = [_line(one, " × SG") for one in found]
    notes = []
    if said["material"].startswith("diamond") and outline not in ROUNDED:
        try:
            lines += [_line(one) for one in weights.diamond_estimates_from_size(outline, *size)]
        except HandbookError as error:
            notes.append(str(error))
    if outline not in ROUNDED:
        lines.append(_by_solid(said))
    carats = [line.ct for line in lines]
    spread = weights.ESTIMATE_SPREAD
    return {
        "lines": sorted(lines, key=lambda line: line.ct),
        "low": min(carats) * (1 - spread),
        "high": max(carats) * (1 + spread),
        "spread": 100 * spread,
        "heart": outline == "heart",
        "notes": notes,
    }


def _line(one: weights.PublishedEstimate, gravity: str = "") -> Weighed:
    return Weighed(
        one.ct, f"{one.constant:.5f} × {one.basis}{gravity}", _read_in(one.source), one.from_memory
    )


def _by_solid(said: Said) -> Weighed:
    from workshop.handbook.solids import cut_to_size, usual_style

    length, width, depth = (float(said[name]) for name in ("length_mm", "width_mm", "depth_mm"))
    style = usual_style(said["outline"])
    solid = cut_to_size(
        said["outline"],
        length=length,
        width=width,
        depth=depth,
        table_percent=float(said["table"]),
        crown_angle=float(said["crown_angle"]),
    )
    ct = figures.carats(solid.weight_ct(float(said["sg"])))
    fraction = figures.decimal_of(solid.fraction, 3)
    return Weighed(
        ct,
        f"exact solid of a {style} cut with these sizes: fills {fraction} of its box",
        ["our own geometry"],
        exact=True,
    )


@dataclass(frozen=True)
class ParcelLine:
    """What a parcel must bring at one recovery."""

    name: str
    recovery: Decimal
    finished_ct: Decimal
    stone_ct: Decimal
    rough_per_ct: Decimal
    cost_per_ct: Decimal
    needed_per_ct: Decimal
    needed_per_stone: Decimal


def buying(said: Said, currency: str) -> Answer:
    """What a parcel must sell for, at three recoveries."""
    weight, stones = said["weight"].ct, int(said["stones"])
    landed = said["price"] + (said["extras"] or Decimal(0))
    seconds = figures.seconds(float(said["hours"])) * stones
    labour = costing.labour_cost([(seconds, said["rate"])], currency)
    kept = 1 - ((said["fee"] or Decimal(0)) + (said["margin"] or Decimal(0))) / 100
    needed = round_money((landed + labour) / kept, currency)
    names = {"low": "careful", "middle": "expected", "high": "at best"}
    return {
        "landed": landed,
        "labour": labour,
        "whole": landed + labour,
        "needed": needed,
        "per_gram": costing.unit_price(landed, weight / 5),
        "lines": [
            _parcel_line(words, said[name], weight, stones, landed, landed + labour, needed, currency)
            for name, words in names.items()
        ],
    }


def _parcel_line(
    name: str,
    recovery: Decimal,
    weight: Decimal,
    stones: int,
    landed: Decimal,
    whole: Decimal,
    needed: Decimal,
    currency: str,
) -> ParcelLine:
    finished = weight * recovery / 100
    return ParcelLine(
        name,
        recovery,
        finished,
        finished / stones,
        costing.break_even_per_carat(landed, finished, currency),
        costing.break_even_per_carat(whole, finished, currency),
        costing.break_even_per_carat(needed, finished, currency),
        round_money(needed / stones, currency),
    )


def girdle(said: Said) -> Answer:
    """Which sides are long or short, and where to cut to even them out."""
    read = [float(one) for one in said["sides"]]
    outline = _plan_outline(said, len(read))
    plan = outlines.side_lengths(outlines.places(outline, len(read)))
    judged = outlines.read_sides(
        read, tolerance_percent=float(said["tolerance"]), wanted=plan.tolist() if said["outline"] else None
    )
    evening = outlines.even_out(read, outlines.half_planes(outline, len(read)))
    return {
        "lines": list(zip(judged, evening.depths, strict=True)),
        "evening": evening,
        "balanced": all(side.verdict == "even" for side in judged),
        "smaller": 100 * (1 - evening.scale * float(plan.sum()) / sum(read)),
    }


def _plan_outline(said: Said, count: int) -> outlines.Outline:
    if not said["outline"]:
        ratio = outlines.usual_length_to_width("polygon", count) if 3 <= count <= 24 else 1.0
        return outlines.make_outline("polygon", length=10 * ratio, width=10, sides=count)
    ratio = float(said["ratio"] or outlines.usual_length_to_width(said["outline"]))
    return outlines.make_outline(said["outline"], length=10 * ratio, width=10)
