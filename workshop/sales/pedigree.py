"""What was learned later: which statements overthrow an older one, and what each stone of a lot rests on.

All stones of one piece belong to one lot, so a lot with its stones is the whole pedigree.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Exists, OuterRef, Q, QuerySet, TextField
from django.db.models.functions import Cast

from workshop.commissions.models import IntakePiece, ItemStone
from workshop.gems.models import FinishedGem
from workshop.materials.models import Evidence, Question, Statement, Treated, best_based
from workshop.people.models import Place
from workshop.rough.models import LotStatement
from workshop.stones.models import Stone, StoneStatement

#: What is shared by everything that came out of one parcel; origin and colour are a stone's own.
SHARED: Final = (Question.NATURE, Question.SPECIES, Question.TREATMENT)


def lot_of(statement: Statement) -> int:
    """The lot a statement about a lot or a stone belongs to."""
    if isinstance(statement, LotStatement):
        return statement.lot_id
    assert isinstance(statement, StoneStatement)
    return statement.stone.lot_id


def same_statement(one: Statement, other: Statement) -> bool:
    """Whether they are one row; a lot's and a stone's may bear the same number."""
    return type(one) is type(other) and one.pk == other.pk


def differs(new: Statement, old: Statement) -> bool:
    """Whether the new answer is another one, to the worse or simply different.

    A variety told where only the species was known is the same answer said closer; and "not treated" where nothing
    had been tested takes nothing from anybody.
    """
    if new.question == Question.NATURE:
        return new.nature != old.nature
    if new.question == Question.SPECIES:
        return _another_material(new, old)
    if new.question == Question.TREATMENT:
        return _another_treatment(new, old)
    return " ".join(new.words.split()).casefold() != " ".join(old.words.split()).casefold()


def _another_material(new: Statement, old: Statement) -> bool:
    assert new.material is not None and old.material is not None
    closer = new.material.species == old.material.species and not old.material.variety
    return new.material_id != old.material_id and not closer


def _another_treatment(new: Statement, old: Statement) -> bool:
    if (old.treated, new.treated) == (Treated.NOT_TESTED, Treated.UNTREATED):
        return False
    told = [
        (one.treated, frozenset(one.treatments), one.degree.strip().casefold())
        if one.treated == Treated.TREATED
        else (one.treated, frozenset(), "")
        for one in (new, old)
    ]
    return told[0] != told[1]


@dataclass(frozen=True)
class Pedigree:
    """A lot's stones and all that was said of them and of it."""

    stones: dict[int, Stone]
    of_lot: tuple[LotStatement, ...]
    of_stones: dict[int, list[StoneStatement]]

    def line(self, stone: Stone) -> list[Stone]:
        """The stone and all it came from, itself first."""
        found = [stone]
        while found[-1].parent_id is not None:
            found.append(self.stones[found[-1].parent_id])
        return found

    def said_of(self, stone: Stone | None, question: str) -> list[Statement]:
        """What answers a question for a stone: said of it, of what it came from, of its lot; for no stone, of the lot.

        A recut asks the treatment again: what was said or written down before it counts no more.
        """
        line = self.line(stone) if stone is not None else []
        said: list[Statement] = [one for one in self.of_lot if one.question == question]
        said += [one for kin in line for one in self.of_stones.get(kin.pk, ()) if one.question == question]
        asked = max((kin.treatment_asked_at for kin in line if kin.treatment_asked_at), default=None)
        return said if question != Question.TREATMENT else [one for one in said if one.answers_since(asked)]

    def before(self, statement: Statement, stone: Stone | None) -> Statement | None:
        """What a stone, or the lot, had rested on for the question before something was said."""
        said = self.said_of(stone, statement.question)
        return best_based([one for one in said if _is_older(one, statement)]).get(statement.question)

    def now(self, question: str, stone: Stone | None) -> Statement | None:
        """What a stone, or the lot, rests on for a question today."""
        return best_based(self.said_of(stone, question)).get(question)


def _is_older(one: Statement, than: Statement) -> bool:
    return (one.written_at, one.pk) < (than.written_at, than.pk) and not same_statement(one, than)


def pedigrees(lots: Iterable[int]) -> dict[int, Pedigree]:
    """The pedigree of each lot, in three queries however many there are."""
    keys = set(lots)
    stones = Stone.objects.filter(lot__in=keys).select_related("material", "owner", "holder").order_by("pk")
    by_lot: dict[int, dict[int, Stone]] = {key: {} for key in keys}
    for stone in stones:
        by_lot[stone.lot_id][stone.pk] = stone
    of_lot: dict[int, list[LotStatement]] = {key: [] for key in keys}
    for said in LotStatement.objects.filter(lot__in=keys).select_related("material"):
        of_lot[said.lot_id].append(said)
    of_stones: dict[int, list[StoneStatement]] = {}
    for one in StoneStatement.objects.filter(stone__lot__in=keys).select_related("material"):
        of_stones.setdefault(one.stone_id, []).append(one)
    return {key: Pedigree(by_lot[key], tuple(of_lot[key]), of_stones) for key in keys}


def basis_words(statement: Statement) -> str:
    """An answer with what it rests on, without who said it: that may be somebody else's name."""
    return f"{statement.answer} ({Evidence(statement.evidence).label})"


def is_learned(statement: Statement, pedigree: Pedigree) -> bool:
    """Whether it holds today and overthrew what its own stone, or its lot or a stone of it, had rested on."""
    if isinstance(statement, StoneStatement):
        return _overthrew(statement, pedigree.stones[statement.stone_id], pedigree)
    return any(_overthrew(statement, stone, pedigree) for stone in (None, *pedigree.stones.values()))


def _overthrew(statement: Statement, stone: Stone | None, pedigree: Pedigree) -> bool:
    now, old = pedigree.now(statement.question, stone), pedigree.before(statement, stone)
    holds = now is not None and same_statement(now, statement)
    return holds and old is not None and differs(statement, old)


def nobody_told() -> list[LotStatement | StoneStatement]:
    """Statements that overthrow an older one, of goods that somebody else has a part in, and that have no recall.

    Newest first; five queries at most.
    """
    found: list[LotStatement | StoneStatement] = [
        *_lot_candidates().select_related("lot", "material"),
        *_stone_candidates().select_related("stone", "material"),
    ]
    if not found:
        return []
    known = pedigrees(lot_of(one) for one in found)
    learned = [one for one in found if is_learned(one, known[lot_of(one)])]
    return sorted(learned, key=lambda one: (one.written_at, one.pk), reverse=True)


def _lot_candidates() -> QuerySet[LotStatement]:
    of_lot = LotStatement.objects.filter(lot=OuterRef("lot"))
    of_stones = StoneStatement.objects.filter(stone__lot=OuterRef("lot"))
    return _told_apart(LotStatement.objects.all()).filter(
        Exists(_another_answer(of_lot)) | Exists(_another_answer(of_stones)), _reaches("lot")
    )


def _stone_candidates() -> QuerySet[StoneStatement]:
    of_lot = LotStatement.objects.filter(lot=OuterRef("stone__lot"))
    of_stone = StoneStatement.objects.filter(stone=OuterRef("stone"))
    of_kin = StoneStatement.objects.filter(stone__lot=OuterRef("stone__lot"))
    came_from_another = Q(stone__parent__isnull=False) & Exists(_another_answer(of_kin))
    return _told_apart(StoneStatement.objects.all()).filter(
        Exists(_another_answer(of_stone)) | Exists(_another_answer(of_lot)) | came_from_another,
        _reaches("stone__lot"),
    )


def _told_apart(rows: QuerySet) -> QuerySet:
    return rows.filter(recall__isnull=True).annotate(named=Cast("treatments", TextField()))


def _another_answer(rows: QuerySet) -> QuerySet:
    """Rows that answer the outer row's question otherwise; roughly, so that few are left to be looked at closely."""
    other = ~Q(nature=OuterRef("nature")) | ~Q(treated=OuterRef("treated")) | ~Q(degree=OuterRef("degree"))
    other |= ~Q(named_here=OuterRef("named"))
    other |= Q(question=Question.SPECIES) & ~Q(material=OuterRef("material"))
    other |= Q(question__in=[Question.ORIGIN, Question.COLOUR]) & ~Q(words=OuterRef("words"))
    return (
        rows.order_by()
        .filter(question=OuterRef("question"))
        .annotate(named_here=Cast("treatments", TextField()))
        .filter(other)
    )


def _reaches(lot: str) -> Q:
    """Goods of the lot are finished, promised, or in other hands: there may be somebody to tell."""
    held = Stone.objects.filter(lot=OuterRef(lot)).exclude(place__in=[Place.SAFE, Place.BENCH])
    rows: Sequence[QuerySet] = (
        FinishedGem.objects.filter(stone__lot=OuterRef(lot)),
        ItemStone.objects.filter(stone__lot=OuterRef(lot), until__isnull=True),
        IntakePiece.objects.filter(lot=OuterRef(lot)),
        held,
    )
    reach = Q()
    for one in rows:
        reach |= Q(Exists(one.order_by()))
    return reach
