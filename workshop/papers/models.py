"""Papers: what was said, under which number, in which bytes, and whether it still stands."""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.urls import reverse

from .keys import fingerprint_of


class PaperKind(models.TextChoices):
    """What sort of paper it is."""

    INFO_CARD = "info_card", "stone information card"
    CERTIFICATE = "certificate", "stone certificate"
    SUITE = "suite", "pair or suite certificate"
    QUOTE = "quote", "quote"
    INTAKE_RECEIPT = "intake", "intake receipt"
    CONDITION = "condition", "condition report"
    HANDING_OVER = "handing_over", "handing-over note"
    INVOICE = "invoice", "invoice"
    CREDIT_NOTE = "credit_note", "credit note"
    MEMO_NOTE = "memo_note", "memo note"


#: Papers between the shop and one client: strangers and hands see that they exist, never what they say.
PRIVATE: Final = frozenset(
    {
        PaperKind.QUOTE,
        PaperKind.INTAKE_RECEIPT,
        PaperKind.CONDITION,
        PaperKind.HANDING_OVER,
        PaperKind.INVOICE,
        PaperKind.CREDIT_NOTE,
        PaperKind.MEMO_NOTE,
    }
)

#: Papers of account: neither withdrawn nor issued anew; what is wrong in one is put right by a credit note that
#: names it (Directive 2006/112/EC, Art. 219).
OF_ACCOUNT: Final = frozenset({PaperKind.INVOICE, PaperKind.CREDIT_NOTE})


class PaperKey(models.Model):
    """The public half of a key papers were signed with. The private half lies in a file, never here."""

    public = models.CharField(max_length=64, unique=True, help_text="Ed25519, 64 hexadecimal digits.")
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True, help_text="When a new one took its place.")
    why = models.CharField(max_length=300, blank=True, help_text="Why it was laid aside.")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.fingerprint

    @property
    def fingerprint(self) -> str:
        """What people compare by eye."""
        return fingerprint_of(self.public)


class PaperQuerySet(models.QuerySet["Paper"]):
    """Named questions about papers."""

    def standing(self) -> PaperQuerySet:
        """Papers neither voided nor superseded."""
        return self.filter(voided_at__isnull=True, superseded_by__isnull=True)

    def about(self, code: str) -> PaperQuerySet:
        """Papers about one thing, newest first."""
        return self.filter(about=code)

    def matching(self, words: str) -> PaperQuerySet:
        """Papers whose number or subject holds the words."""
        return self.filter(models.Q(number__icontains=words) | models.Q(about__iexact=words))

    def in_state(self, state: str) -> PaperQuerySet:
        """Papers that stand, were superseded, or were voided."""
        if state == "standing":
            return self.standing()
        if state == "void":
            return self.filter(voided_at__isnull=False)
        return self.filter(voided_at__isnull=True, superseded_by__isnull=False)


class Paper(models.Model):
    """An issued paper. Its content and its bytes never change; a revision supersedes it, a reason voids it.

    The number is taken and the content frozen in one transaction; the bytes are rendered after it, because
    nobody should wait for a renderer inside a write, and are then written once.
    """

    number = models.CharField(max_length=20, unique=True)
    kind = models.CharField(max_length=16, choices=PaperKind)
    about = models.CharField(max_length=40, db_index=True, help_text="Code of the thing it speaks of.")
    content = models.TextField(help_text="Canonical JSON: what the paper says.")
    content_sha256 = models.CharField(max_length=64)
    check_code = models.CharField(
        max_length=43, unique=True, help_text="The unguessable part of the check page."
    )
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    key = models.ForeignKey(PaperKey, null=True, blank=True, on_delete=models.PROTECT, related_name="papers")
    signature = models.CharField(
        max_length=128, blank=True, help_text="Over the content, by that key; 128 hexadecimal digits."
    )
    supersedes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    revision_reason = models.CharField(max_length=300, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    void_reason = models.CharField(max_length=300, blank=True)

    objects = PaperQuerySet.as_manager()

    #: What may still be written after issue, and only while it is empty.
    LATER = ("voided_at", "voided_by", "void_reason")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(voided_at__isnull=True) | ~models.Q(void_reason=""),
                name="paper_void_has_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(supersedes__isnull=True) | ~models.Q(revision_reason=""),
                name="paper_revision_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("papers:paper", args=[self.number])

    @property
    def stands(self) -> bool:
        """Whether it is neither voided nor superseded."""
        return self.voided_at is None and not hasattr(self, "superseded_by")

    @property
    def is_private(self) -> bool:
        """Whether what it says is for the shop and one client alone."""
        return self.kind in PRIVATE

    @property
    def is_of_account(self) -> bool:
        """Whether only a credit note puts it right."""
        return self.kind in OF_ACCOUNT

    @property
    def state_word(self) -> str:
        """Whether it still counts, in a word."""
        if self.voided_at is not None:
            return "void"
        return "stands" if self.stands else "superseded"

    @property
    def state_tone(self) -> str:
        """The sign a badge of its state carries beside the word."""
        return {"stands": "done", "superseded": "quiet", "void": "alert"}[self.state_word]

    def save(self, *args: object, **kwargs: object) -> None:
        if not self._state.adding:
            fields = set(kwargs.get("update_fields") or ())  # type: ignore[call-overload]
            if not fields or not fields <= set(self.LATER):
                raise ValidationError("An issued paper never changes; revise it or void it.")
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    def delete(self, *args: object, **kwargs: object) -> tuple[int, dict[str, int]]:
        raise ValidationError("An issued paper is never deleted; void it with a reason.")


class PaperFile(models.Model):
    """The bytes of a paper in one size, written once."""

    paper = models.ForeignKey(Paper, on_delete=models.PROTECT, related_name="files")
    size = models.CharField(max_length=8, help_text="The sheet it is made for, such as id1 or a6.")
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    rendered_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["paper", "size"], name="paper_file_once_per_size")]

    def __str__(self) -> str:
        return f"{self.paper.number} {self.size}"

    def save(self, *args: object, **kwargs: object) -> None:
        if not self._state.adding:
            raise ValidationError("The bytes of an issued paper never change.")
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    def delete(self, *args: object, **kwargs: object) -> tuple[int, dict[str, int]]:
        raise ValidationError("The bytes of an issued paper are never deleted.")
