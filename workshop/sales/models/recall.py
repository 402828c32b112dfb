"""Recalls: something was learned later of a lot or a stone, and everybody it touches is told and kept count of."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.commissions.models import Commission, Message, Quote, QuoteState
from workshop.gems.models import FinishedGem
from workshop.materials.models import Evidence, Question
from workshop.papers.models import Paper
from workshop.people.models import Contact
from workshop.rough.models import LotStatement, RoughLot
from workshop.stones.models import Stone, StoneStatement

from .sale import SaleLine


class RecallQuerySet(models.QuerySet["Recall"]):
    """Named questions about recalls."""

    def open(self) -> RecallQuerySet:
        """Recalls not closed yet."""
        return self.filter(closed_on__isnull=True)


class Recall(models.Model):
    """What was learned, copied from the statement it rests on, and of which lot. It changes nothing by itself."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    question = models.CharField(max_length=10, choices=Question)
    answer = models.CharField(max_length=400, help_text="What was learned, in plain words.")
    before = models.CharField(max_length=400, blank=True, help_text="What had stood until then, and on what.")
    evidence = models.IntegerField(choices=Evidence)
    said_by = models.CharField(max_length=160)
    said_on = models.DateField()
    how = models.TextField(max_length=1000, blank=True)
    lot = models.ForeignKey(RoughLot, on_delete=models.PROTECT, related_name="recalls")
    lot_statement = models.OneToOneField(
        LotStatement, null=True, blank=True, on_delete=models.PROTECT, related_name="recall"
    )
    stone_statement = models.OneToOneField(
        StoneStatement, null=True, blank=True, on_delete=models.PROTECT, related_name="recall"
    )
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    closed_on = models.DateField(null=True, blank=True)
    closed_why = models.CharField(max_length=300, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = RecallQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(lot_statement__isnull=True, stone_statement__isnull=False)
                | models.Q(lot_statement__isnull=False, stone_statement__isnull=True),
                name="recall_rests_on_one_statement",
            )
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("sales:recall", args=[self.code])

    @property
    def is_open(self) -> bool:
        """Whether somebody may still have to be told."""
        return self.closed_on is None

    @property
    def about(self) -> RoughLot | Stone:
        """The lot or stone it was said of."""
        return self.stone_statement.stone if self.stone_statement is not None else self.lot

    @property
    def state_word(self) -> str:
        """Whether it is still open."""
        return "open" if self.is_open else "closed"

    @property
    def state_tone(self) -> str:
        """The sign its badge carries."""
        return "alert" if self.is_open else "done"


class EntryKind(models.TextChoices):
    """What or who is touched."""

    LOT = "lot", "rough"
    STONE = "stone", "stone"
    GEM = "gem", "gem"
    PAPER = "paper", "paper"
    QUOTE = "quote", "open quote"
    BUYER = "buyer", "buyer"
    HOLDER = "holder", "holder"
    HOLD = "hold", "promised to"
    CLIENT = "client", "client"


#: Entries that stand for somebody who has to hear of it.
PEOPLE = (EntryKind.BUYER, EntryKind.HOLDER, EntryKind.HOLD, EntryKind.CLIENT)


class EntryState(models.TextChoices):
    """How far one entry has come."""

    TO_DO = "to_do", "to do"
    TOLD = "told", "told"
    ANSWERED = "answered", "answered"
    DONE = "done", "done"
    NOTHING = "nothing", "nothing to do"


class Choice(models.TextChoices):
    """What somebody who was told chose."""

    LOWER = "lower", "keeps it at a lower price"
    RETURNED = "returned", "returned it"
    KEPT = "kept", "keeps it as it is"
    TEST = "test", "wants it tested"
    REFUSED = "refused", "refused to answer"
    SILENT = "silent", "no answer"
    OTHER = "other", "something else"


def still_to_do(entries: str = "") -> models.Q:
    """What makes an entry one that nobody has dealt with; ``entries`` leads to it from another row: ``entries__``."""

    def asked(**said: object) -> models.Q:
        return models.Q(**{entries + name: value for name, value in said.items()})

    paper_stands = asked(paper__voided_at__isnull=True, paper__superseded_by__isnull=True)
    return (
        asked(state=EntryState.TO_DO)
        & (asked(paper__isnull=True) | paper_stands)
        & (asked(quote__isnull=True) | asked(quote__state=QuoteState.SENT))
    )


class EntryQuerySet(models.QuerySet["RecallEntry"]):
    """Named questions about the entries of recalls."""

    def still_to_do(self) -> EntryQuerySet:
        """Entries nobody has dealt with: a paper that fell or a quote that was withdrawn elsewhere is dealt with."""
        return self.filter(still_to_do())

    def people(self) -> EntryQuerySet:
        """Those that stand for somebody."""
        return self.filter(kind__in=PEOPLE)


class RecallEntry(models.Model):
    """One thing or person a recall touches, why, and what was done about it."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=8, choices=EntryKind)
    code = models.CharField(max_length=40)
    why = models.CharField(max_length=600, help_text="Why it is touched, in words.")
    touched = models.BooleanField(
        help_text="What was said speaks of it; otherwise it may be the same and may not."
    )
    contact = models.ForeignKey(Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    stone = models.ForeignKey(Stone, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    gem = models.ForeignKey(FinishedGem, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    paper = models.ForeignKey(Paper, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    quote = models.ForeignKey(Quote, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey(SaleLine, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    commission = models.ForeignKey(
        Commission, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    message = models.ForeignKey(Message, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=8, choices=EntryState, default=EntryState.TO_DO)
    letter = models.TextField(max_length=6000, blank=True, help_text="The words they were told in.")
    told_on = models.DateField(null=True, blank=True)
    told_how = models.CharField(max_length=120, blank=True)
    choice = models.CharField(max_length=8, choices=Choice, blank=True)
    words = models.CharField(max_length=600, blank=True, help_text="What they chose, or what was done.")
    done_on = models.DateField(null=True, blank=True)
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "recall entries"
        constraints = [
            models.UniqueConstraint(fields=["recall", "kind", "code"], name="recall_entry_once"),
            models.CheckConstraint(
                condition=~models.Q(state=EntryState.TOLD) | models.Q(told_on__isnull=False),
                name="recall_told_has_a_day",
            ),
            models.CheckConstraint(
                condition=~models.Q(state__in=[EntryState.ANSWERED, EntryState.DONE])
                | models.Q(done_on__isnull=False),
                name="recall_done_has_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.recall.code} {self.get_kind_display()} {self.code}"

    def get_absolute_url(self) -> str:
        return reverse("sales:recall_entry", args=[self.recall.code, self.pk])

    @property
    def is_person(self) -> bool:
        """Whether it stands for somebody who has to hear of it."""
        return self.kind in PEOPLE

    @property
    def dealt_with_elsewhere(self) -> str:
        """What became of it by another deed: a paper that fell, a quote no longer open."""
        if self.paper is not None and not self.paper.stands:
            return self.paper.state_word
        if self.quote is not None and self.quote.state != QuoteState.SENT:
            return self.quote.get_state_display()
        return ""

    @property
    def is_to_do(self) -> bool:
        """Whether nobody has dealt with it yet."""
        return self.state == EntryState.TO_DO and not self.dealt_with_elsewhere

    @property
    def state_word(self) -> str:
        """How far it has come, in words."""
        if self.state == EntryState.TO_DO and self.dealt_with_elsewhere:
            return self.dealt_with_elsewhere
        if self.state == EntryState.TO_DO and self.is_person:
            return "to tell"
        return self.get_state_display()

    @property
    def state_tone(self) -> str:
        """The sign its badge carries."""
        if self.is_to_do:
            return "alert"
        return {EntryState.TOLD: "wait", EntryState.NOTHING: "quiet"}.get(EntryState(self.state), "done")
