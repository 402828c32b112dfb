"""Pages about materials: the list, one material, adding one of the shop's own."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.paging import page_of
from workshop.handbook import tables

from . import actions, reference, rulebook
from .filters import MaterialFilter
from .forms import AddMaterialForm, ChangeMaterialForm
from .models import Evidence, Material
from .ruling import Profile

SORTS = {"species": "species", "variety": "variety", "name": "name"}


@require_safe
def materials(request: HttpRequest) -> HttpResponse:
    """Every material, the handbook's and the shop's own."""
    found = MaterialFilter(request.GET, queryset=Material.objects.all())
    page = page_of(request, found.qs, sorts=SORTS, default="species")
    return render(request, "materials/materials.html", {"filter": found, "page": page, "sort": "species"})


@require_safe
def material(request: HttpRequest, key: str) -> HttpResponse:
    """One material: figures, care, usual treatments, cautions, and where each was read."""
    shown = get_object_or_404(Material, key=key)
    # The name of the lots' relation is given by a room above; no import leads up.
    lots_of_it = shown.lots.exists()  # type: ignore[attr-defined]
    context: dict[str, object] = {
        "material": shown,
        "not_advice": tables.NOT_ADVICE,
        "has_lots": lots_of_it,
    }
    if shown.from_handbook:
        context |= _from_handbook(tables.material(shown.key))
    else:
        context["bench_wide"] = [row for row in tables.cautions() if row.is_of_the_bench]
    return render(request, "materials/material.html", context)


@require_safe
def rules(request: HttpRequest) -> HttpResponse:
    """What may be said of a stone, and by whose rule: words, sentences, treatments."""
    treatments = [(row, reference.sources(row.source)) for row in tables.treatments()]
    context = {
        "words": rulebook.word_rules(),
        "sentences": rulebook.sentence_rules(),
        "treatments": treatments,
        "profiles": [(one.value, one.words) for one in Profile],
        "evidence": Evidence.choices,
    }
    return render(request, "materials/rules.html", context)


def _from_handbook(row: tables.Material) -> dict[str, object]:
    return {
        "row": row,
        "figures": reference.figures(row),
        "care": reference.bench_care(row),
        "angles": reference.angles(row),
        "lookalikes": reference.confused_with(row),
        "advice": tables.care_advice(row),
        "treatments": [
            one for one in tables.treatments() if one.is_usual_for(row) and one.key != "none_known"
        ],
        "treatments_from_memory": reference.from_memory(row, "treatments"),
        "hazard_from_memory": reference.from_memory(row, "hazard"),
        "cautions": [(caution, reference.sources(caution.source)) for caution in tables.cautions_for(row)],
        "sources": reference.sources(f"{row.source} ; {row.other_source}"),
    }


@owner_only
def add(request: HttpRequest) -> HttpResponse:
    """Add a material the handbook does not have."""
    form = AddMaterialForm(posted(request))
    if request.method == "POST" and form.is_valid():
        by, now = hand_of(request), timezone.now()
        named = {"species": form.cleaned_data["species"], "variety": form.cleaned_data["variety"]}
        led_to = try_deed(
            request,
            form,
            lambda: actions.add_material(by=by, at=now, **named, **form.facts()).get_absolute_url(),
        )
        if led_to:
            return redirect(led_to)
    return render(request, "materials/add.html", {"form": form}, status=status_of(form))


@owner_only
def edit(request: HttpRequest, key: str) -> HttpResponse:
    """Change what the shop itself wrote of a material."""
    known = get_object_or_404(Material, key=key)
    form = ChangeMaterialForm(posted(request), material=known)
    if request.method == "POST" and form.is_valid():
        by, now = hand_of(request), timezone.now()
        led_to = try_deed(
            request,
            form,
            lambda: actions.change_material(known, form.facts(), by=by, at=now).get_absolute_url(),
        )
        if led_to:
            return redirect(led_to)
    return render(request, "materials/edit.html", {"form": form, "material": known}, status=status_of(form))
