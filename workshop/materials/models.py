"""Species and treatments, and the statements made about what a stone is."""

from __future__ import annotations

import re
from datetime import datetime

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.urls import reverse
from django.utils.translation import gettext as _

from workshop.handbook import tables

from .naming import called, cell, choice, degree_words


class MaterialQuerySet(models.QuerySet["Material"]):
    """Named questions about materials."""

    def matching(self, words: str) -> MaterialQuerySet:
        """Materials whose species or variety holds the words."""
        found = self
        for word in words.split():
            found = found.filter(
                models.Q(species__icontains=word)
                | models.Q(variety__icontains=word)
                | models.Q(name__icontains=word)
            )
        return found


class Material(models.Model):
    """A species and variety. Rows seeded from the handbook keep its key; the shop's own have none there."""

    key = models.SlugField(max_length=80, unique=True)
    name = models.CharField(max_length=80, blank=True, help_text="The everyday name: tanzanite, tsavorite.")
    species = models.CharField(max_length=80)
    variety = models.CharField(max_length=120, blank=True)
    from_handbook = models.BooleanField(default=False, editable=False)
    ri_low = models.CharField(max_length=12, blank=True)
    ri_high = models.CharField(max_length=12, blank=True)
    sg_typical = models.CharField(max_length=12, blank=True)
    hardness = models.CharField(max_length=20, blank=True)
    bench_caution = models.TextField(blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    # Only for the shop's own; what the handbook knows of its rows is read there, never copied.
    cleavage = models.CharField(max_length=200, blank=True)
    heat_care = models.CharField(max_length=300, blank=True)
    acid_care = models.CharField(max_length=300, blank=True)
    light_care = models.CharField(max_length=300, blank=True)
    usual_treatments = models.CharField(max_length=300, blank=True)
    source = models.CharField(max_length=300, blank=True, help_text="Where these figures are from.")

    objects = MaterialQuerySet.as_manager()

    class Meta:
        ordering = ["species", "variety"]
        constraints = [
            models.UniqueConstraint(fields=["species", "variety"], name="material_named_once"),
        ]

    def __str__(self) -> str:
        # The table's remarks in brackets ("green and mixed, watermelon") are for its own page, not for every line.
        variety = re.sub(r"\s*\([^)]*\)$", "", self.variety)
        return f"{self.species}, {variety}" if variety else self.species

    def get_absolute_url(self) -> str:
        return reverse("materials:material", args=[self.key])

    @property
    def everyday_name(self) -> str:
        """What it is called at the bench."""
        return self.name or self.variety or self.species


class Treatment(models.Model):
    """Something done to a stone besides cutting and polishing. Rows are seeded from the handbook."""

    key = models.SlugField(max_length=40, unique=True)
    words = models.CharField(max_length=200)
    needs_care = models.TextField(blank=True)
    permanence = models.TextField(blank=True)

    class Meta:
        ordering = ["words"]

    def __str__(self) -> str:
        return self.words


class Question(models.TextChoices):
    """What a statement answers."""

    NATURE = "nature", "nature"
    SPECIES = "species", "species and variety"
    TREATMENT = "treatment", "treatment"
    ORIGIN = "origin", "origin"
    COLOUR = "colour", "colour"


class Nature(models.TextChoices):
    """How the material came to be."""

    MINED = "mined", "mined"
    GROWN = "grown", "laboratory-grown"
    ASSEMBLED = "assembled", "assembled"
    RECONSTRUCTED = "reconstructed", "reconstructed"
    IMITATION = "imitation", "imitation"


class Treated(models.TextChoices):
    """The answers to the treatment question. Silence is not among them."""

    TREATED = "treated", "treated"
    UNTREATED = "untreated", "not treated"
    NOT_TESTED = "not_tested", "not tested"


class Evidence(models.IntegerChoices):
    """The ladder of evidence, weakest first."""

    NOTHING = 0, "nothing"
    SAID = 1, "said by the seller"
    WRITTEN = 2, "written by the seller"
    TESTED = 3, "tested here, with readings"
    GEMMOLOGIST = 4, "independent gemmologist's written opinion"
    LABORATORY = 5, "laboratory report"


class StatementQuerySet(models.QuerySet):
    """Named questions about statements."""

    def about(self, question: str) -> StatementQuerySet:
        """Those that answer one question."""
        return self.filter(question=question)


class Statement(models.Model):
    """What somebody said a stone is, when, how, and on what evidence. Never erased, never a bare fact.

    Which field holds the answer follows from the question: ``nature``, ``material``, ``treated`` with
    ``treatments`` (handbook keys), or plain ``words`` for origin and colour.
    """

    question = models.CharField(max_length=10, choices=Question)
    nature = models.CharField(max_length=14, choices=Nature, blank=True)
    material = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    treated = models.CharField(max_length=10, choices=Treated, blank=True)
    treatments = models.JSONField(default=list, blank=True)
    degree = models.CharField(max_length=40, blank=True, help_text="Such as minor, moderate, significant.")
    words = models.CharField(max_length=300, blank=True, help_text="As it was said, in the speaker's words.")
    evidence = models.IntegerField(choices=Evidence, default=Evidence.SAID)
    said_by = models.CharField(max_length=160)
    how = models.TextField(max_length=1000, blank=True, help_text="Readings taken, document and its number.")
    said_on = models.DateField()
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    written_at = models.DateTimeField(auto_now_add=True)

    objects = StatementQuerySet.as_manager()

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.get_question_display()}: {self.answer}"

    @property
    def answer(self) -> str:
        """The answer in plain words."""
        if self.question == Question.NATURE:
            return choice(self.get_nature_display())
        if self.question == Question.SPECIES:
            return called(str(self.material))
        if self.question == Question.TREATMENT:
            return self._treatment_words()
        return self.words

    def answers_since(self, asked: datetime | None) -> bool:
        """Whether it answers a question opened at a moment: only what was said, and written here, after it does."""
        return asked is None or (self.said_on >= asked.date() and self.written_at >= asked)

    def _treatment_words(self) -> str:
        if self.treated != Treated.TREATED:
            told = {"answer": choice(self.get_treated_display()), "words": self.words}
            return _("%(answer)s, sold as “%(words)s”") % told if self.words else told["answer"]
        known = {one.key: cell(one.words) for one in tables.treatments()}
        named = ", ".join(known.get(key, key) for key in self.treatments)
        return f"{named} ({degree_words(self.degree)})" if self.degree else named

    def clean(self) -> None:
        super().clean()
        answered = {
            Question.NATURE: bool(self.nature),
            Question.SPECIES: self.material_id is not None,
            Question.TREATMENT: bool(self.treated),
            Question.ORIGIN: bool(self.words.strip()),
            Question.COLOUR: bool(self.words.strip()),
        }
        if self.question and not answered[Question(self.question)]:
            raise ValidationError("The statement does not answer its question.")
        if self.treated == Treated.TREATED and not self.treatments:
            raise ValidationError({"treatments": "Say which treatment, or that it was not tested."})


def best_based(statements: list) -> dict[str, Statement]:
    """For each question the best-based newest statement: evidence first, then the day, then the order written.

    "Not tested" is an answer but never outranks a statement that says something on written evidence or better.
    """
    best: dict[str, Statement] = {}
    for statement in sorted(
        statements, key=lambda said: (_rank(said), said.said_on, said.written_at, said.pk)
    ):
        best[statement.question] = statement
    return best


def _rank(said: Statement) -> int:
    """Its rung on the ladder; "not tested" says nothing, on whatever paper it stands."""
    return min(said.evidence, Evidence.SAID) if said.treated == Treated.NOT_TESTED else said.evidence
