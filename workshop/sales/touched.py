"""Everybody and everything one statement touches, asked of the rows as they stand; nothing is changed by asking."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final

from django.db.models import Q

from workshop.commissions.models import (
    Commission,
    Delivery,
    IntakePiece,
    ItemStone,
    Quote,
    QuoteLine,
    QuoteState,
)
from workshop.common.say import moment
from workshop.gems.models import FinishedGem, Gone, SuiteMember
from workshop.materials.models import Evidence, Statement
from workshop.papers.models import Paper, PaperKind
from workshop.people.models import Belonging, Contact, Ownership, Place
from workshop.rough.models import LotStatement, RoughLot
from workshop.stones.models import Ending, Stone, StoneStatement

from .models import EntryKind, Hold, LineState, MemoLine, SaleLine
from .models.memo import STANDING
from .pedigree import SHARED, Pedigree, basis_words, differs, lot_of, pedigrees, same_statement

AT_HOME: Final = (Place.SAFE, Place.BENCH)
#: Stones that are no more, or are somebody's again: they are told of, and nothing is to be done with them.
OVER: Final = (Ending.SPLIT, Ending.BROKEN, Ending.LOST, Ending.SCRAPPED, Ending.UNWORKED)


@dataclass(frozen=True)
class Verdict:
    """What a statement means for one thing: whether it speaks of it, whether anything is to be done, and why."""

    touched: bool
    needs: bool
    why: str

    @property
    def weight(self) -> int:
        """For choosing the gravest of several."""
        return 2 * self.touched + self.needs


@dataclass(frozen=True)
class Touch:
    """One thing or person touched: what a recall keeps of it as an entry."""

    kind: EntryKind
    code: str
    verdict: Verdict
    contact: Contact | None = None
    stone: Stone | None = None
    gem: FinishedGem | None = None
    paper: Paper | None = None
    quote: Quote | None = None
    line: SaleLine | None = None
    commission: Commission | None = None

    @property
    def key(self) -> tuple[str, str]:
        """What makes it one entry and no other."""
        return self.kind.value, self.code


def recall_scope(statement: LotStatement | StoneStatement) -> list[Touch]:
    """All that a statement touches, with the gravest reason for each; a constant number of queries."""
    pedigree = pedigrees([lot_of(statement)])[lot_of(statement)]
    scope = _Scope(statement, pedigree, _verdicts(statement, pedigree))
    scope.look()
    found: dict[tuple[str, str], Touch] = {}
    for touch in scope.touches():
        known = found.get(touch.key)
        if known is None or touch.verdict.weight > known.verdict.weight:
            found[touch.key] = touch
    return list(found.values())


# --- What it means for each stone ---------------------------------------------------------------------------------


def _verdicts(statement: LotStatement | StoneStatement, pedigree: Pedigree) -> dict[int, Verdict]:
    """A verdict for every stone in reach: the whole lot, or for what a stone has alone only its own line."""
    if isinstance(statement, LotStatement):
        said_of = "drawn from the lot it was said of"
        return {pk: _spoken_of(statement, one, pedigree, said_of) for pk, one in pedigree.stones.items()}
    about = pedigree.stones[statement.stone_id]
    above = {kin.pk for kin in pedigree.line(about)[1:]}
    found = {}
    for pk, stone in pedigree.stones.items():
        line = [kin.pk for kin in pedigree.line(stone)]
        if about.pk in line:
            words = "it was said of this stone" if pk == about.pk else f"made from {about.code}"
            found[pk] = _spoken_of(statement, stone, pedigree, words)
        elif pk in above:
            found[pk] = _may_be(statement, stone, pedigree, f"{about.code} was made from it, may be the same")
        elif statement.question in SHARED:
            found[pk] = _may_be(statement, stone, pedigree, f"same lot as {about.code}, may be the same")
    return found


def _spoken_of(statement: Statement, stone: Stone | None, pedigree: Pedigree, words: str) -> Verdict:
    now = pedigree.now(statement.question, stone)
    if now is not None and not same_statement(now, statement) and differs(statement, now):
        return Verdict(
            False, False, f"{words}; a better-based statement of its own holds: {basis_words(now)}"
        )
    old = pedigree.before(statement, stone)
    if old is None:
        question = statement.get_question_display()  # type: ignore[attr-defined]
        return Verdict(True, True, f"{words}; until then nobody had said anything of its {question}")
    if not differs(statement, old):
        return Verdict(False, False, f"{words}; it was known before: {basis_words(old)}")
    return Verdict(True, True, f"{words}; until then: {basis_words(old)}")


def _may_be(statement: Statement, stone: Stone | None, pedigree: Pedigree, words: str) -> Verdict:
    """It is not spoken of. A statement of its own that is as well based settles it; the lot's word does not."""
    own = pedigree.now(statement.question, stone)
    if own is None:
        question = statement.get_question_display()  # type: ignore[attr-defined]
        return Verdict(False, True, f"{words}; nobody has said anything of its {question}")
    if not differs(statement, own):
        return Verdict(False, False, f"{words}; the same is known of it: {basis_words(own)}")
    settled = isinstance(own, StoneStatement) and own.evidence >= max(statement.evidence, Evidence.TESTED)
    holds = "has a statement of its own" if settled else "so far"
    return Verdict(False, not settled, f"{words}; {holds}: {basis_words(own)}")


# --- What hangs on the stones -------------------------------------------------------------------------------------


@dataclass
class _Scope:
    """The rows that hang on the stones in reach, each table asked once."""

    statement: LotStatement | StoneStatement
    pedigree: Pedigree
    verdicts: dict[int, Verdict]
    gems: list[FinishedGem] = field(default_factory=list)
    lines: list[SaleLine] = field(default_factory=list)
    memo_lines: list[MemoLine] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)
    members: list[SuiteMember] = field(default_factory=list)
    links: list[ItemStone] = field(default_factory=list)
    pieces: list[IntakePiece] = field(default_factory=list)
    quote_lines: list[QuoteLine] = field(default_factory=list)
    deliveries: list[Delivery] = field(default_factory=list)
    lot: RoughLot = field(init=False)
    #: The gravest verdict over each stone and all that was made of it, and for each commission.
    below: dict[int, Verdict] = field(default_factory=dict)
    commissions: dict[int, Verdict] = field(default_factory=dict)

    def look(self) -> None:
        """Ask for the rows."""
        keys = list(self.verdicts)
        self.lot = RoughLot.objects.select_related("owner", "holder").get(pk=lot_of(self.statement))
        gems = FinishedGem.objects.filter(stone__in=keys).exclude(gone_as=Gone.RECUT)
        self.gems = list(gems.select_related("stone__material", "holder", "owner").order_by("pk"))
        lines = SaleLine.objects.filter(gem__stone__in=keys, stands=True)
        self.lines = list(lines.select_related("sale__buyer", "sale__commission", "gem__stone"))
        memo_lines = MemoLine.objects.filter(gem__stone__in=keys, state__in=STANDING)
        self.memo_lines = list(memo_lines.select_related("memo__party", "gem__stone"))
        holds = Hold.objects.filter(gem__stone__in=keys, lifted_on__isnull=True, gem__gone_on__isnull=True)
        self.holds = list(holds.select_related("contact", "gem__stone"))
        members = SuiteMember.objects.filter(gem__stone__in=keys)
        self.members = list(members.select_related("suite", "gem"))
        links = ItemStone.objects.filter(stone__in=keys, until__isnull=True)
        self.links = list(links.select_related("item__commission__client"))
        pieces = IntakePiece.objects.filter(lot=self.lot)
        self.pieces = list(pieces.select_related("intake__commission__client", "item__commission__client"))
        self._weigh_commissions()
        plans = Q(plan__lot=self.lot) | Q(plan__stone__in=keys)
        quoted = QuoteLine.objects.filter(plans | Q(quote__commission__in=list(self.commissions)))
        quoted = quoted.filter(quote__state__in=[QuoteState.SENT, QuoteState.ACCEPTED])
        self.quote_lines = list(quoted.select_related("quote__commission__client", "quote__paper", "plan"))
        items = [link.item_id for link in self.links]
        delivered = Delivery.objects.filter(items__in=items).distinct()
        self.deliveries = list(delivered.prefetch_related("items").select_related("commission"))

    def of_lot(self) -> Verdict:
        """What it means for the lot as a whole."""
        if isinstance(self.statement, LotStatement):
            return _spoken_of(self.statement, None, self.pedigree, "the lot it was said of")
        about = self.statement.stone.code
        return _may_be(self.statement, None, self.pedigree, f"the lot {about} came from, may be the same")

    def _weigh_commissions(self) -> None:
        for pk, verdict in self.verdicts.items():
            for kin in self.pedigree.line(self.pedigree.stones[pk]):
                self._add(self.below, kin.pk, verdict)
        for link in self.links:
            self._add(self.commissions, link.item.commission_id, self.below[link.stone_id])
        for piece in self.pieces:
            self._add(self.commissions, piece.intake.commission_id, self.of_lot())

    @staticmethod
    def _add(found: dict[int, Verdict], key: int, verdict: Verdict) -> None:
        if key not in found or verdict.weight > found[key].weight:
            found[key] = verdict

    # --- The entries

    def touches(self) -> Iterator[Touch]:
        """Every entry, some of them twice."""
        yield from self._rough()
        yield from self._stones()
        yield from self._gems()
        yield from self._buyers()
        yield from self._promised()
        yield from self._quotes()
        yield from self._clients()
        yield from self._papers()

    def _rough(self) -> Iterator[Touch]:
        if not self.lot.left_ct or self.statement.question not in SHARED:
            return
        verdict = self.of_lot()
        yield Touch(EntryKind.LOT, self.lot.code, _but(verdict, f"{verdict.why}; rough of it is left", False))
        yield from self._with_others(self.lot, self.lot.code, verdict)

    def _stones(self) -> Iterator[Touch]:
        finished = {gem.stone_id for gem in self.gems}
        for pk, verdict in self.verdicts.items():
            stone = self.pedigree.stones[pk]
            if pk in finished:
                continue
            over = stone.ending in OVER
            words = f"{verdict.why}; {stone.get_ending_display()}" if over else verdict.why
            yield Touch(EntryKind.STONE, stone.code, _but(verdict, words, over), stone=stone)
            if not over:
                yield from self._with_others(stone, stone.code, verdict, stone=stone)

    def _gems(self) -> Iterator[Touch]:
        for gem in self.gems:
            verdict = self.verdicts[gem.stone_id]
            # Whoever has it or owns it stands in the list by name: the gem itself asks for nothing more.
            away = gem.gone_as in {Gone.SOLD, Gone.DELIVERED} and not gem.waits_for_buyer
            words = f"{verdict.why}; {gem.state_word}" if gem.gone_on else verdict.why
            yield Touch(EntryKind.GEM, gem.code, _but(verdict, words, away), gem=gem, stone=gem.stone)
            if not gem.gone_on:
                yield from self._with_others(gem, gem.code, verdict, gem=gem, stone=gem.stone)
            elif gem.gone_as == Gone.DELIVERED and gem.owner is not None:
                yield from self._owner(gem.owner, gem.code, verdict, gem=gem, stone=gem.stone)

    def _with_others(
        self,
        thing: Belonging,
        code: str,
        verdict: Verdict,
        *,
        stone: Stone | None = None,
        gem: FinishedGem | None = None,
    ) -> Iterator[Touch]:
        """Who has it, and whose it is where no commission speaks for the owner."""
        if thing.place not in AT_HOME:
            words = f"{code} is {thing.get_place_display()}; {verdict.why}"  # type: ignore[attr-defined]
            holds = _but(verdict, words, False)
            yield Touch(EntryKind.HOLDER, code, holds, contact=thing.holder, gem=gem, stone=stone)
        if thing.ownership != Ownership.SHOP and thing.owner is not None:
            yield from self._owner(thing.owner, code, verdict, gem=gem, stone=stone)

    def _owner(
        self, owner: Contact, code: str, verdict: Verdict, *, stone: Stone | None, gem: FinishedGem | None
    ) -> Iterator[Touch]:
        spoken_for = {link.item.commission.client_id for link in self.links}
        spoken_for |= {piece.intake.commission.client_id for piece in self.pieces}
        if owner.pk not in spoken_for:
            yield Touch(EntryKind.CLIENT, code, verdict, contact=owner, gem=gem, stone=stone)

    def _buyers(self) -> Iterator[Touch]:
        for line in self.lines:
            verdict = self.verdicts[line.gem.stone_id]
            buyer, commission = line.sale.buyer, line.sale.commission
            yield Touch(
                EntryKind.BUYER, line.gem.code, verdict, contact=buyer, gem=line.gem, stone=line.gem.stone, line=line,
                commission=commission,
            )  # fmt: skip

    def _promised(self) -> Iterator[Touch]:
        """Whom a gem is held for, or set aside for to be lent: they may have been told what it is."""
        for held in self.holds:
            yield self._promise(held.gem, held.contact, f"held for them until {moment(held.until)}")
        for line in self.memo_lines:
            if line.gem is not None and line.state == LineState.SET_ASIDE:
                yield self._promise(
                    line.gem, line.memo.party, f"set aside for {line.memo.code}", line.memo.code
                )

    def _promise(self, gem: FinishedGem, contact: Contact, words: str, memo: str = "") -> Touch:
        verdict = self.verdicts[gem.stone_id]
        told = _but(verdict, f"{words}; {verdict.why}", False)
        code = ", ".join(filter(None, [gem.code, memo]))
        return Touch(EntryKind.HOLD, code, told, contact=contact, gem=gem, stone=gem.stone)

    def _quotes(self) -> Iterator[Touch]:
        for line in self.quote_lines:
            quote = line.quote
            if quote.state == QuoteState.SENT:
                yield Touch(
                    EntryKind.QUOTE, str(quote), self._of_quote(line), contact=quote.commission.client, quote=quote,
                    commission=quote.commission,
                )  # fmt: skip

    def _of_quote(self, line: QuoteLine) -> Verdict:
        found = [self.commissions[key] for key in [line.quote.commission_id] if key in self.commissions]
        if line.plan is not None and line.plan.stone_id in self.verdicts:
            found.append(self.verdicts[line.plan.stone_id])
        if line.plan is not None and line.plan.lot_id == self.lot.pk:
            found.append(self.of_lot())
        return max(found, key=lambda one: one.weight)

    def _clients(self) -> Iterator[Touch]:
        known = {link.item.commission_id: link.item.commission for link in self.links}
        known |= {piece.intake.commission_id: piece.intake.commission for piece in self.pieces}
        verdicts = dict(self.commissions)
        for line in self.quote_lines:
            known.setdefault(line.quote.commission_id, line.quote.commission)
            self._add(verdicts, line.quote.commission_id, self._of_quote(line))
        for key, commission in known.items():
            if not self._only_bought(commission):
                yield Touch(
                    EntryKind.CLIENT, commission.code, verdicts[key], contact=commission.client, commission=commission
                )  # fmt: skip

    def _only_bought(self, commission: Commission) -> bool:
        """All that it has of the lot was sold on it: its client is told as the buyer of each gem."""
        bought = {line.gem.stone_id for line in self.lines if line.sale.commission_id == commission.pk}
        if not bought or any(piece.intake.commission_id == commission.pk for piece in self.pieces):
            return False
        lines = [{one.pk for one in self.pedigree.line(self.pedigree.stones[pk])} for pk in bought]
        linked = [link.stone_id for link in self.links if link.item.commission_id == commission.pk]
        open_quotes = any(
            line.quote.commission_id == commission.pk and line.quote.state == QuoteState.SENT
            for line in self.quote_lines
        )
        return not open_quotes and all(any(pk in line for line in lines) for pk in linked)

    def _papers(self) -> Iterator[Touch]:
        about, by_key = self._speaking_papers()
        of_codes = Q(about__in=list(about)) & ~Q(kind__in=[PaperKind.QUOTE, PaperKind.HANDING_OVER])
        rows = Paper.objects.standing().filter(of_codes | Q(pk__in=list(by_key))).order_by("pk")
        for paper in rows:
            verdict = by_key.get(paper.pk) or about[paper.about]
            yield Touch(EntryKind.PAPER, paper.number, verdict, paper=paper)

    def _speaking_papers(self) -> tuple[dict[str, Verdict], dict[int, Verdict]]:
        """What papers may speak of, by code; and papers known by their own row."""
        about: dict[str, Verdict] = {self.lot.code: self.of_lot()}
        for pk, verdict in self.verdicts.items():
            about[self.pedigree.stones[pk].code] = verdict
        for gem in self.gems:
            about[gem.code] = self.verdicts[gem.stone_id]
        several: dict[str, list[Verdict]] = defaultdict(list)
        for line in self.lines:
            several[line.sale.code].append(self.verdicts[line.gem.stone_id])
        for lent in self.memo_lines:
            if lent.gem is not None:
                several[lent.memo.code].append(self.verdicts[lent.gem.stone_id])
        for member in self.members:
            several[member.suite.code].append(self.verdicts[member.gem.stone_id])
        about |= {code: _gravest(verdicts) for code, verdicts in several.items()}
        about |= {piece.intake.code: self.of_lot() for piece in self.pieces}
        by_key: dict[int, Verdict] = {}
        for quoted in self.quote_lines:
            if quoted.quote.state == QuoteState.ACCEPTED and quoted.quote.paper_id is not None:
                self._add(by_key, quoted.quote.paper_id, self._of_quote(quoted))
        for delivery in self.deliveries:
            if delivery.note_id is not None:
                handed = {item.pk for item in delivery.items.all()}
                kin = [self.below[one.stone_id] for one in self.links if one.item_id in handed]
                self._add(by_key, delivery.note_id, _gravest(kin))
        return about, by_key


def _gravest(verdicts: Iterable[Verdict]) -> Verdict:
    return max(verdicts, key=lambda one: one.weight)


def _but(verdict: Verdict, words: str, nothing: bool) -> Verdict:
    """The same verdict in other words, and with nothing to be done where that is so."""
    return Verdict(verdict.touched, verdict.needs and not nothing, words)
