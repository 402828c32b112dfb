"""What people do with the list of materials, and how the handbook's rows come into it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import Model
from django.utils.text import slugify

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.handbook import tables

from .models import Material, Treatment


def seed_materials(*, into: type[Model] = Material, treatments: type[Model] = Treatment) -> tuple[int, int]:
    """Bring the handbook's materials and treatments into the database; how many of each were new.

    May be run again at any time: known rows are brought up to date, the shop's own notes stay. Where the shop
    had added by hand what the handbook came to know later, its row becomes the handbook's.
    """
    with write_tx():
        return (
            sum(_seed_material(into, row) for row in tables.materials()),
            sum(_seed_treatment(treatments, row) for row in tables.treatments()),
        )


def _seed_material(model: type[Model], row: tables.Material) -> bool:
    rows = model._default_manager
    known = (
        rows.filter(key=row.key).first()
        or rows.filter(species__iexact=row.species, variety__iexact=row.variety).first()
    )
    facts: dict[str, Any] = {
        "key": row.key,
        "name": row.name,
        "species": row.species,
        "variety": row.variety,
        "from_handbook": True,
        "ri_low": str(row.ri_low),
        "ri_high": str(row.ri_high),
        "sg_typical": str(row.sg_typical),
        "hardness": _span(str(row.mohs_low), str(row.mohs_high)),
        "bench_caution": row.bench_hazard,
    }
    rows.update_or_create(pk=known.pk if known is not None else None, defaults=facts)
    return known is None


def _seed_treatment(model: type[Model], row: tables.Treatment) -> bool:
    facts = {"words": row.words, "needs_care": row.care, "permanence": row.permanence}
    return model._default_manager.update_or_create(key=row.key, defaults=facts)[1]


def _span(low: str, high: str) -> str:
    return low if low == high else f"{low}–{high}"


def add_material(*, species: str, variety: str = "", by: Hand | None, at: datetime, **facts: str) -> Material:
    """Add a material of the shop's own. ``facts`` are other text columns of ``Material``."""
    species, variety = " ".join(species.split()), " ".join(variety.split())
    with write_tx():
        same = Material.objects.filter(species__iexact=species, variety__iexact=variety).first()
        if same is not None:
            raise DeedRefused(f"{same} is in the list already.", field="species")
        material = Material(key=_free_key(f"{species} {variety}"), species=species, variety=variety, **facts)
        material.full_clean()
        material.save()
        journal.note("added material", material.key[:40], by=by, at=at, after={"material": str(material)})
    return material


#: What may be changed of the shop's own rows; of the handbook's, the shop only keeps notes.
OWN_FACTS = (
    "name", "ri_low", "ri_high", "sg_typical", "hardness", "cleavage", "heat_care", "acid_care", "light_care",
    "usual_treatments", "bench_caution", "source", "notes",
)  # fmt: skip


def change_material(
    material: Material, changes: Mapping[str, str], *, by: Hand | None, at: datetime
) -> Material:
    """Change what the shop itself wrote of a material. The handbook's figures are not the shop's to change."""
    with write_tx():
        material = Material.objects.get(pk=material.pk)
        allowed = ("notes",) if material.from_handbook else OWN_FACTS
        before = {
            name: getattr(material, name)
            for name in allowed
            if name in changes and getattr(material, name) != changes[name]
        }
        if not before:
            return material
        for name in before:
            setattr(material, name, changes[name])
        material.full_clean()
        material.save(update_fields=list(before))
        after = {name: changes[name] for name in before}
        journal.note("changed material", material.key[:40], by=by, at=at, before=before, after=after)
    return material


def _free_key(words: str) -> str:
    # A name in a script that leaves nothing to spell an address with still needs one.
    plain = slugify(words)[:70].strip("-") or "material"
    taken = {"add", *Material.objects.filter(key__startswith=plain).values_list("key", flat=True)}
    count = 1
    while (key := plain if count == 1 else f"{plain}-{count}") in taken:
        count += 1
    return key
