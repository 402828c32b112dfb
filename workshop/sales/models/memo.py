"""Memos: goods lent out to be looked at or sold, or lent to the shop; and gems held for somebody until a day.

Title stays with the sender until a stone is sold (AGTA/JVC guide to memo transactions, 2009); goods out on memo stay
in the sender's stock, goods in on memo never enter the receiver's (IRS Publication 538).
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.common.fields import MoneyField, WeightField
from workshop.gems.models import FinishedGem
from workshop.papers.models import Paper
from workshop.people.models import Contact
from workshop.rough.models import RoughLot

from .sale import Sale

ZERO = Decimal(0)


class Direction(models.TextChoices):
    """Who lends."""

    OUT = "out", "lent out"
    IN = "in", "lent to the shop"


class LineState(models.TextChoices):
    """How far one stone of a memo is."""

    SET_ASIDE = "set_aside", "set aside, not sent yet"
    OUT = "out", "out"
    EXTENDED = "extended", "out, its day put off"
    SOLD = "sold", "sold"
    RETURNED = "returned", "back"
    DAMAGED = "damaged", "back damaged"
    LOST = "lost", "lost"
    DROPPED = "dropped", "never sent"


#: A stone stands on one memo at a time.
STANDING = (LineState.SET_ASIDE, LineState.OUT, LineState.EXTENDED)
LENT = (LineState.OUT, LineState.EXTENDED)


class MemoQuerySet(models.QuerySet["Memo"]):
    """Named questions about memos."""

    def standing(self) -> MemoQuerySet:
        """Memos with something still open."""
        return self.filter(closed_on__isnull=True)

    def overdue(self, today: date) -> MemoQuerySet:
        """Memos whose goods should be back."""
        return self.standing().filter(sent_on__isnull=False, return_by__lt=today)


class Memo(models.Model):
    """Goods lent to one party until a day. The prices are net and equal the invoice, should a stone be sold."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    direction = models.CharField(max_length=3, choices=Direction, default=Direction.OUT)
    party = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="memos")
    made_on = models.DateField()
    sent_on = models.DateField(null=True, blank=True, db_index=True)
    return_by = models.DateField(db_index=True)
    currency = models.CharField(max_length=3)
    terms = models.TextField(
        max_length=1000, blank=True, help_text="When and how a stone that is sold is paid."
    )
    loss_words = models.CharField(max_length=500, help_text="Who bears loss, theft, damage and the post.")
    insured_by = models.CharField(max_length=160, blank=True)
    insured_value = MoneyField(null=True, blank=True)
    signed_by = models.CharField(max_length=160, blank=True, help_text="Who signed for the receiver.")
    note = models.OneToOneField(Paper, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    closed_on = models.DateField(null=True, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = MemoQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(return_by__gte=models.F("made_on")), name="memo_comes_back_after_it_goes"
            ),
            # Points for a sound memo: in writing and signed by the receiver (Rapaport, "How jewelry wholesalers can
            # make a memo bullet-proof").
            models.CheckConstraint(
                condition=models.Q(sent_on__isnull=True)
                | models.Q(direction=Direction.IN)
                | ~models.Q(signed_by=""),
                name="memo_goes_out_signed",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("sales:memo", args=[self.code])

    def is_overdue(self, today: date) -> bool:
        """Whether its goods should be back."""
        return self.closed_on is None and self.sent_on is not None and self.return_by < today

    @property
    def is_out(self) -> bool:
        """Whether its goods left, and something is still open."""
        return self.closed_on is None and self.sent_on is not None

    @property
    def state_word(self) -> str:
        """Where it stands, in words."""
        if self.closed_on:
            return "closed"
        return self.get_direction_display() if self.sent_on else "set aside, to be signed"

    @property
    def state_tone(self) -> str:
        """The sign its badge carries."""
        return "quiet" if self.closed_on else "wait"


class MemoLine(models.Model):
    """One stone of a memo and how it ended."""

    memo = models.ForeignKey(Memo, on_delete=models.PROTECT, related_name="lines")
    gem = models.ForeignKey(
        FinishedGem, null=True, blank=True, on_delete=models.PROTECT, related_name="memo_lines"
    )
    lot = models.OneToOneField(
        RoughLot, null=True, blank=True, on_delete=models.PROTECT, related_name="memo_line",
        help_text="Goods lent to the shop: never its stock.",
    )  # fmt: skip
    words = models.CharField(max_length=300, help_text="As the note says it.")
    weight_ct = WeightField()
    price = MoneyField(help_text="Net; what is owed if it is sold or does not come back.")
    state = models.CharField(max_length=10, choices=LineState, default=LineState.SET_ASIDE)
    outcome_on = models.DateField(null=True, blank=True)
    outcome_note = models.CharField(max_length=300, blank=True)
    back_ct = WeightField(null=True, blank=True, help_text="By the scale when it came back.")
    sale = models.ForeignKey(Sale, null=True, blank=True, on_delete=models.PROTECT, related_name="memo_lines")
    owed = MoneyField(null=True, blank=True, help_text="For a stone that was lost.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["gem"], condition=models.Q(state__in=STANDING), name="gem_stands_on_one_memo"
            ),
            models.CheckConstraint(
                condition=models.Q(gem__isnull=True, lot__isnull=False)
                | models.Q(gem__isnull=False, lot__isnull=True),
                name="memoline_is_a_gem_or_lent_goods",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=STANDING, outcome_on__isnull=True)
                | (~models.Q(state__in=STANDING) & models.Q(outcome_on__isnull=False)),
                name="memoline_outcome_has_a_day",
            ),
            models.CheckConstraint(condition=models.Q(price__gte=0), name="memoline_price_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.memo.code}: {self.words}"

    @property
    def stands(self) -> bool:
        """Whether it is still set aside or lent."""
        return self.state in STANDING


class Hold(models.Model):
    """A gem held for somebody until a day; sold to nobody else before."""

    gem = models.ForeignKey(FinishedGem, on_delete=models.PROTECT, related_name="holds")
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="holds")
    since = models.DateField()
    until = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    lifted_on = models.DateField(null=True, blank=True)
    lifted_why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["gem"], condition=models.Q(lifted_on__isnull=True), name="gem_is_held_for_one"
            ),
            models.CheckConstraint(
                condition=models.Q(until__gte=models.F("since")), name="hold_ends_after_it_began"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.gem.code} for {self.contact}"

    def holds_on(self, day: date) -> bool:
        """Whether it still counts on a day."""
        return self.lifted_on is None and day <= self.until
