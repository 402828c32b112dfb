"""Papers among all the other deeds of a life: issued, revised, voided, drawn; and what changes around them.

``PapersStay`` is laid over any life (a shop's, a commission's): after each of its steps every row of papers, every byte
and every key is what it was when it was issued, except that a paper may be withdrawn once.
"""

import io

from django.core.management import call_command
from django.db.models import F, Value
from django.db.models.functions import Concat
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule

from tests import makers
from tests.commissions.commission_life import CommissionLife
from tests.laws.shop_life import REFUSED, ShopLife
from tests.papers.documents import a_quote
from workshop.common.models import JournalEntry, Series, Shop
from workshop.gems.card_actions import issue_card
from workshop.gems.models import FinishedGem
from workshop.gems.papers import open_questions
from workshop.materials.models import Material, Treatment
from workshop.papers import actions, keys, rendering
from workshop.papers.kinds import SERIES
from workshop.papers.models import OF_ACCOUNT, PRIVATE, Paper, PaperFile, PaperKey, PaperKind
from workshop.people.models import Contact

picks = st.integers(0, 10_000)
words = st.sampled_from(["", "Sea green", "שלום", "مرحبا", "💎 Łódź", '<b>&"</b>', "W" * 60])
SITE = "https://cards.example"
#: Drawing is slow: so many more in a life than the first, and each drawn again when it ends.
MOST_DRAWN = 1
FROZEN = [field.attname for field in Paper._meta.concrete_fields if field.name not in Paper.LATER]
LATER = ["voided_at", "voided_by_id", "void_reason"]
#: How often each deed on papers went through in all lives of a run.
DONE = set()


class PapersStay:
    """Rules and laws to be mixed into a life that has ``now``, ``deed`` and hands."""

    def __init__(self):
        super().__init__()
        self.rows, self.bytes, self.keys = {}, {}, {}
        self.drawn, self.seeded = 0, False

    @property
    def hand(self):
        return self.hands[0] if hasattr(self, "hands") else self.owner

    def on_papers(self, name, act):
        """Do it, or be refused and leave nothing behind; what either kind of life says of a deed, said once."""
        before = (JournalEntry.objects.count(), Paper.objects.count(), list(Series.objects.values_list()))
        try:
            with makers.write_tx():
                made = act()
        except REFUSED:
            assert before == (
                JournalEntry.objects.count(),
                Paper.objects.count(),
                list(Series.objects.values_list()),
            )
            return None
        DONE.add(name)
        return made

    def a_paper(self, pick):
        rows = list(Paper.objects.order_by("pk"))
        return rows[pick % len(rows)]

    @initialize()
    def first_papers(self):
        """Two papers and their bytes before anything else, so that no life is without."""
        content = a_quote(Shop.the()).content()
        for kind in (PaperKind.QUOTE, PaperKind.HANDING_OVER):
            paper = actions.issue(kind, "C-0041", content, by=None, at=self.now, base_url=SITE)
        actions.bytes_of(paper, "a4", at=self.now)

    # Papers

    @precondition(lambda self: Paper.objects.count() < 30)
    @rule(kind=st.sampled_from(sorted(PRIVATE)), said=words)
    def issue_document(self, kind, said):
        content = a_quote(Shop.the(), reference=said, title=f"Paper {said}").content()
        about = "C-0042"
        self.on_papers("issue", lambda: actions.issue(
            PaperKind(kind), about, content, by=self.hand, at=self.now, base_url=SITE
        ))  # fmt: skip

    @precondition(lambda self: Paper.objects.exists())
    @rule(pick=picks, reason=st.sampled_from(["", " ", "a slip", "new words"]), said=words)
    def revise_document(self, pick, reason, said):
        paper = self.a_paper(pick)
        if paper.kind == PaperKind.INFO_CARD:
            return
        content = a_quote(Shop.the(), reference=said).content()
        stood = paper.stands and paper.kind not in OF_ACCOUNT
        fresh = self.on_papers(
            "revise",
            lambda: actions.revise(paper, content, reason=reason, by=self.hand, at=self.now, base_url=SITE),
        )
        assert (fresh is not None) == (stood and bool(reason.strip()))

    @precondition(lambda self: Paper.objects.exists())
    @rule(pick=picks, reason=st.sampled_from(["", "a slip"]))
    def void_document(self, pick, reason):
        paper = self.a_paper(pick)
        stood = paper.stands and paper.kind not in OF_ACCOUNT
        done = self.on_papers("void", lambda: actions.void(paper, reason=reason, by=self.hand, at=self.now))
        assert (done is not None) == (stood and bool(reason))

    @precondition(lambda self: FinishedGem.objects.exists())
    @rule(pick=picks)
    def card_of_any_gem(self, pick):
        """No path to a card past an open question: whatever the gem, whatever was said of it until now."""
        rows = list(FinishedGem.objects.order_by("pk"))
        gem = rows[pick % len(rows)]
        is_open = bool(open_questions(gem))
        made = self.on_papers(
            "card", lambda: issue_card(gem, by=self.hand, at=self.now, base_url="http://localhost")
        )
        assert made is None or not is_open

    @precondition(lambda self: Paper.objects.exists() and self.drawn < MOST_DRAWN)
    @rule(pick=picks)
    def draw_it(self, pick):
        paper = self.a_paper(pick)
        size = rendering.content_of(paper)["sizes"][0]
        if PaperFile.objects.filter(paper=paper, size=size).exists():
            return
        self.drawn += 1
        actions.bytes_of(paper, size, at=self.now)
        DONE.add("draw")

    # What changes around them

    @rule(name=words, key=st.booleans())
    def the_shop_changes(self, name, key):
        shop = Shop.the()
        shop.name, shop.address = name or "Another name", f"{name}\nAnother street"
        shop.base_url = "https://elsewhere.example" if key else ""
        shop.tax_number, shop.cutter = name, name
        shop.save()

    @rule(said=words)
    def what_things_are_called_changes(self, said):
        Material.objects.update(species=Concat(Value(f"renamed {said} "), F("key")), name=said)
        Contact.objects.update(name=f"Somebody {said}", address=said)
        Treatment.objects.update(words=f"otherwise {said}", needs_care=said)

    @precondition(lambda self: not self.seeded)
    @rule()
    def the_tables_are_seeded_again(self):
        self.seeded = True
        call_command("seed_materials", verbosity=0, stdout=io.StringIO())

    @rule(reason=st.sampled_from(["", "three years are over"]))
    def the_key_is_changed(self, reason):
        before = keys.current().public
        made = self.on_papers("key", lambda: actions.change_key(reason=reason, by=self.hand, at=self.now))
        assert (made is not None) == bool(reason) == (keys.current().public != before)

    # The laws

    @invariant()
    def papers_are_as_they_were_issued(self):
        for row in Paper.objects.order_by("pk").values(*FROZEN, *LATER):
            pk, later = row["id"], [row.pop(name) for name in LATER]
            known = self.rows.setdefault(pk, (dict(row), later))
            assert row == known[0]
            assert later == known[1] or known[1] == [None, None, ""], "voided twice, or a void taken back"
            self.rows[pk] = (known[0], later)
        assert Paper.objects.count() == len(self.rows), "a paper is gone"

    @invariant()
    def bytes_and_keys_are_as_they_were(self):
        for kept in PaperFile.objects.values("pk", "paper_id", "size", "pdf", "sha256", "rendered_at"):
            kept["pdf"] = bytes(kept["pdf"])
            assert self.bytes.setdefault(kept["pk"], kept) == kept
        assert PaperFile.objects.count() == len(self.bytes), "a file is gone"
        for pk, public in PaperKey.objects.values_list("pk", "public"):
            assert self.keys.setdefault(pk, public) == public
        assert PaperKey.objects.count() == len(self.keys)

    @invariant()
    def numbers_have_no_gap_and_papers_no_fault(self):
        papers = list(Paper.objects.select_related("key").prefetch_related("files"))
        for kind, prefix in SERIES.items():
            taken = sorted(paper.number for paper in papers if paper.kind == kind)
            assert taken == [f"{prefix}-{n:04d}" for n in range(1, len(taken) + 1)]
            last = Series.objects.filter(prefix=prefix).values_list("last", flat=True).first()
            assert (last or 0) == len(taken)
        for paper in papers:
            assert actions.faults(paper) == []
            assert paper.supersedes_id is None or paper.supersedes_id < paper.pk

    def teardown(self):
        """Drawn again at the end of the life, from the record alone: the same bytes as on its first day."""
        try:
            for kept in PaperFile.objects.select_related("paper__key"):
                assert rendering.draw(kept.paper, kept.size) == bytes(kept.pdf), kept
        finally:
            super().teardown()


class PaperShopLife(PapersStay, ShopLife):
    """The main job with papers between all its deeds."""

    @invariant()
    def papers_stay_as_issued(self):
        """The shop life's own law knows only of its own cards; here all papers are held, see above."""


class PaperCommissionLife(PapersStay, CommissionLife):
    """A commission with its quotes and handing-over notes, and papers of all kinds between its deeds."""
