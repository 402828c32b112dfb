"""From a gem's rows to the content of its certificate: all its card says, and how it is made, drawn and came about.

It is called a certificate only where every word about what the stone is rests on tests or better (E3 of the house's
ladder); otherwise a description. Either way it is the cutter's own statement, and says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from workshop.common import photos, say
from workshop.common.errors import DeedRefused
from workshop.common.models import Shop
from workshop.handbook.weights import state_length, state_weight
from workshop.materials.disclosure import Disclosure
from workshop.materials.models import Treated
from workshop.materials.sentences import Said
from workshop.materials.words import Facts, Profile, lint
from workshop.papers.document import shop_words
from workshop.papers.record import sha256_of
from workshop.papers.rendering import DOCUMENT_PICTURE, PICTURE
from workshop.stones.models import Stage, StonePhoto

from .models import FinishedGem, Shape
from .papers import OUTLINE, all_said, card_content, what_may_be_said, without_owners

WORDING: Final = 1
TESTED: Final = 3
MOST_PHOTOS: Final = 6

#: The weights a cutter may show of a stone's way, in its order; each may be left out.
WEIGHTS: Final = {
    "rough": "the whole rough",
    "trimmed": "the trimmed piece",
    "preform": "the preform",
    "finished": "the finished gem",
    "recovery": "how much of the rough was kept, in per cent",
}
USUAL_WEIGHTS: Final = ("rough", "finished", "recovery")


#: How each outline's sizes are taken: the rules of ``handbook.outlines.measure``, after a Thai laboratory's page,
#: <http://aglthai.com/measurement.php>; for the polygon the house's own.
USUALLY_MEASURED: Final = gettext_lazy("Length: the longest dimension. Width: the widest at right angles.")
ALONG_THE_SIDE: Final = gettext_lazy("Length: along the longest side. Width: at right angles.")
MEASURED: Final = {
    Shape.ROUND: gettext_lazy("Least and greatest diameter, and depth."),
    Shape.SQUARE: gettext_lazy("From side to side, both ways."),
    Shape.RECTANGLE: ALONG_THE_SIDE,
    Shape.CUT_CORNER: ALONG_THE_SIDE,
    Shape.CUSHION: ALONG_THE_SIDE,
    Shape.SHIELD: ALONG_THE_SIDE,
    Shape.POLYGON: gettext_lazy("The greatest and the least reading across the polygon."),
    Shape.HEART: gettext_lazy("Length: from the point to the line over the lobes. Width: across the lobes."),
    Shape.TRIANGLE: gettext_lazy(
        "Width: corner to corner on a side. Length: from the middle of that side to the far point."
    ),
}


@dataclass(frozen=True)
class Chosen:
    """What the cutter lets a certificate show: photographs (keys, in their order) and weights of its way."""

    photos: tuple[int, ...] = ()
    weights: tuple[str, ...] = USUAL_WEIGHTS


def is_certifiable(statements: Iterable[Said], facts: Facts) -> bool:
    """Whether all that a paper would say a stone is was tested, or stands in a better report (rung 3 and up).

    That a stone was mined is not tested here: it counts once a report or the chain from the rough shows it.
    """
    tested = all(one.evidence >= TESTED and one.treated != Treated.NOT_TESTED for one in statements)
    return tested and (facts.nature != "mined" or facts.natural_shown)


def title_of(gem: FinishedGem, facts: Facts) -> str:
    """What the paper may be called on what is known of the gem today."""
    return _("Cutter’s certificate") if is_certifiable(all_said(gem), facts) else _("Stone description")


def what_it_may_say(gem: FinishedGem, profile: Profile = Profile.STRICT) -> Disclosure:
    """The disclosure of a gem, with what is wrong with the shop's own line and with the title among the findings."""
    made = what_may_be_said(gem, profile)
    shop = Shop.the()
    texts = [*_captions(gem), shop.foot_words, title_of(gem, made.facts)]
    found = [*made.findings, *(one for text in texts for one in lint(text, made.facts, profile))]
    return replace(made, findings=tuple(dict.fromkeys(found)))


def certificate_content(
    gem: FinishedGem, said: Disclosure, chosen: Chosen, *, profile: Profile, shop: Shop
) -> dict[str, Any]:
    """The content record of a certificate: the card's own, and what only a larger sheet has room for."""
    content = card_content(gem, said, profile=profile, picture=OUTLINE, shop=shop)
    shown = [_photo(gem, one) for one in chosen_photos(gem, chosen.photos)]
    return content | {
        "title": title_of(gem, said.facts),
        "shop": shop_words(shop, tax=False),
        "measured": measured_words(gem),
        "proportions": [{"label": label, "text": text} for label, text in proportions(gem) if text],
        "drawing": drawing_of(gem),
        "drawing_words": _("Drawn from its measurements; facet lines are a scheme."),
        "photographs": shown,
        "picture": _picture(gem, chosen) if shown else content["picture"],
        "pedigree": pedigree(gem, chosen.weights, shop),
        "cutter": without_owners(gem, gem.cut_by or shop.cutter or shop.name),
    }


def offered_weights(gem: FinishedGem) -> list[str]:
    """Which of ``WEIGHTS`` are known of a gem."""
    known = {"trimmed": gem.trimmed_ct, "preform": gem.preform_ct}
    return [name for name in WEIGHTS if known.get(name, True)]


def pedigree(gem: FinishedGem, weights: Sequence[str], shop: Shop) -> dict[str, Any]:
    """The stone's way from rough to gem in the weights that may be shown."""
    ways = [
        ("rough", _("Rough"), gem.whole_ct),
        ("trimmed", _("Trimmed"), gem.trimmed_ct),
        ("preform", _("Preform"), gem.preform_ct),
        ("finished", _("Finished gem"), gem.weight_ct),
    ]
    steps = [
        {"label": label, "text": stated_carats(ct, shop)}
        for name, label, ct in ways
        if name in weights and ct
    ]
    kept = say.percent(gem.recovery_from_whole) if "recovery" in weights else ""
    return {"steps": steps, "kept": kept, "finished_on": gem.finished_on.isoformat()}


def stated_carats(ct: Decimal, shop: Shop) -> str:
    """A weight as it may stand on paper, with its unit."""
    return f"{say.number(state_weight(ct, scale_step=shop.scale_step_ct))}{say.GAP}ct"


def measured_words(gem: FinishedGem) -> str:
    """How the outline's length and width are taken, which for a heart or a triangle is not as one would guess."""
    return str(MEASURED.get(Shape(gem.shape), USUALLY_MEASURED))


def proportions(gem: FinishedGem) -> list[tuple[str, str]]:
    """Table, angles, depth and length to width, as far as they were measured.

    Per cent of the average diameter for a round, of the narrowest width for all others (computation notes, section
    9, <https://lunns.portfoliooffinediamonds.com/The-Extra-Sparkle/Glossary-of-Diamond-Terms/Depth-Percentage>).
    """
    length, width, depth = (state_length(side) for side in (gem.length_mm, gem.width_mm, gem.depth_mm))
    if gem.shape == Shape.ROUND:
        base, of = (length + width) / 2, _("of the average diameter")
    else:
        base = min(length, width)
        of = _("of the width") if base == width else _("of the length")
    ratio = "" if gem.shape == Shape.ROUND else say.number(length / width, 2)
    return [
        (_("Depth"), f"{say.percent(100 * depth / base)} {of}"),
        (_("Length to width"), ratio),
        (_("Table"), _percent(gem.table_percent)),
        (_("Crown"), _degrees(gem.crown_angle_deg)),
        (_("Pavilion"), _degrees(gem.pavilion_angle_deg)),
        (_("Girdle"), without_owners(gem, gem.girdle)),
        (_("Culet"), without_owners(gem, gem.culet)),
        (_("Facets"), str(gem.facets or "")),
    ]


def drawing_of(gem: FinishedGem) -> dict[str, str]:
    """What ``papers.drawn.views`` needs to draw a gem."""
    sides = {"length_mm": gem.length_mm, "width_mm": gem.width_mm, "depth_mm": gem.depth_mm}
    known = {"table_percent": gem.table_percent, "crown_angle": gem.crown_angle_deg}
    return {
        "shape": gem.shape,
        "style": style_of(gem.cut),
        **{name: format(state_length(side), "f") for name, side in sides.items()},
        **{name: "" if figure is None else _plain(figure) for name, figure in known.items()},
    }


def style_of(cut: str) -> str:
    """How the facets lie as far as the words about the cut tell it; nothing for the usual way of the outline."""
    named = [style for style in ("step", "brilliant", "mixed") if style in cut.lower()]
    return "mixed" if len(named) > 1 else "".join(named)


def chosen_photos(gem: FinishedGem, keys: Sequence[int]) -> list[StonePhoto]:
    """The photographs with these keys, in that order. Raises DeedRefused for one that is not of this stone."""
    if len(keys) > MOST_PHOTOS:
        raise DeedRefused(f"A certificate has room for {MOST_PHOTOS} photographs.", field="photos")
    rows = {one.pk: one for one in gem.stone.photos.select_related("photo").filter(pk__in=keys)}
    if missing := [key for key in keys if key not in rows]:
        raise DeedRefused(f"Photograph {missing[0]} is not one of {gem.stone.code}’s.", field="photos")
    return [rows[key] for key in keys]


def _captions(gem: FinishedGem) -> list[str]:
    return [one.caption for one in gem.stone.photos.all() if one.caption]


def _photo(gem: FinishedGem, one: StonePhoto) -> dict[str, Any]:
    """A photograph says that it is not to scale and how large the stone is (16 CFR 23.1 note 3)."""
    try:
        data = photos.read(one.photo, DOCUMENT_PICTURE)
    except FileNotFoundError as error:
        raise DeedRefused(
            f"The photograph “{one}” is not in the picture store any more; leave it out.", field="photos"
        ) from error
    length, width = (state_length(side) for side in (gem.length_mm, gem.width_mm))
    done = one.stage in {Stage.OFF_DOP, Stage.FINISHED}
    told = one.caption or (_("Photograph") if done else _("While it was made"))
    size = _("not to scale: the finished stone is %(size)s") % {
        "size": f"{say.number(length, 2)}{say.GAP}×{say.GAP}{say.millimetres(width)}"
    }
    return {
        "sha256": one.photo.sha256,
        "bytes_sha256": sha256_of(data),
        "width": one.photo.width,
        "height": one.photo.height,
        "words": f"{without_owners(gem, told).rstrip('.')}, {size}.",
    }


def _picture(gem: FinishedGem, chosen: Chosen) -> dict[str, Any]:
    """The first photograph again, small, for the check page."""
    first = chosen_photos(gem, chosen.photos[:1])[0]
    small = sha256_of(photos.read(first.photo, PICTURE))
    said = _photo(gem, first)
    return {"kind": "photo", "sha256": said["sha256"], "bytes_sha256": small, "words": said["words"]}


def _plain(figure: Decimal) -> str:
    return format(figure.normalize(), "f")


def _percent(figure: Decimal | None) -> str:
    return "" if figure is None else f"{say.number(figure.normalize())}{say.GAP}%"


def _degrees(figure: Decimal | None) -> str:
    return "" if figure is None else f"{say.number(figure.normalize())}°"
