"""What a quote may not say of the stones it speaks of: the rules of disclosure over every word typed for the client."""

from __future__ import annotations

from collections.abc import Sequence

from workshop.materials.models import Evidence, Nature, Question, Treated, best_based
from workshop.materials.words import Facts, Finding, lint
from workshop.stones.actions.notes import said_about

from .models import CommissionItem, Quote, QuoteLine


def quote_findings(quote: Quote, lines: Sequence[QuoteLine]) -> list[Finding]:
    """What stops a quote: its note against every piece, each line against its own."""
    known = {line.item_id: facts_of(line.item) for line in lines}
    found = [one for line in lines for one in lint(line.what, known[line.item_id])]
    found += [one for facts in known.values() for one in lint(quote.note, facts)]
    return list(dict.fromkeys(one for one in found if one.blocks))


def facts_of(item: CommissionItem) -> Facts:
    """What is known of a piece before it is cut: of its stones and the lots they came from, the best-based word."""
    links = item.links.filter(until__isnull=True).select_related("stone__lot")
    best = best_based([one for link in links for one in said_about(link.stone)])
    nature, treatment, species = (
        best.get(question) for question in (Question.NATURE, Question.TREATMENT, Question.SPECIES)
    )
    done = treatment.treatments if treatment is not None and treatment.treated == Treated.TREATED else []
    mined = nature is not None and nature.nature == Nature.MINED and nature.evidence >= Evidence.WRITTEN
    return Facts(
        nature=nature.nature if nature is not None else Nature.MINED,
        treatments=frozenset(done),
        species=species.material.species if species is not None and species.material is not None else "",
        natural_shown=mined,
        untreated_evidence=treatment.evidence
        if treatment is not None and treatment.treated == Treated.UNTREATED
        else -1,
        origin_evidence=best[Question.ORIGIN].evidence if Question.ORIGIN in best else -1,
        origin=best[Question.ORIGIN].words if Question.ORIGIN in best else "",
        on_card=False,
    )
