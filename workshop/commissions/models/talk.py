"""What passes between cutter and client: the private link, questions put and answered, messages."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.urls import reverse

from workshop.common.fields import LengthField, MoneyField, WeightField
from workshop.common.models import Photo

from .commission import Commission, CommissionItem
from .quote import Quote


class ClientLink(models.Model):
    """A client's way in without an account. Its address is the key and a signature; a key alone opens nothing."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="links")
    key = models.CharField(max_length=32, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    last_seen_at = models.DateTimeField(null=True, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.commission.code} link of {self.made_at:%Y-%m-%d}"


class WrongAddress(models.Model):
    """A private address that opened nothing. Kept in the database, so that all processes count together."""

    place = models.CharField(max_length=64, help_text="Where it was asked from, as a keyed hash.")
    at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "wrong addresses"
        indexes = [models.Index(fields=["place", "at"], name="wrongaddress_place_at")]

    def __str__(self) -> str:
        return f"a wrong address at {self.at:%Y-%m-%d %H:%M}"


class CalendarLink(models.Model):
    """A private address of the calendar of promised weeks."""

    key = models.CharField(max_length=32, unique=True)
    hand = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"calendar of {self.hand}"


class AskWhy(models.TextChoices):
    """What came up."""

    FLOOR = "floor", "it would fall below the floor"
    INCLUSION = "inclusion", "an inclusion or fissure was reached"
    CHIP = "chip", "it chipped or cracked"
    BROKE = "broke", "it broke or cleaved"
    DESIGN = "design", "the design is to change"
    SPECIES = "species", "the species turns out different"
    TREATMENT = "treatment", "a treatment was found"
    COLOUR = "colour", "the colour is not as thought"
    SIZE = "size", "the size will not be met"
    SECOND = "second", "a second stone is possible"
    COST = "cost", "it will cost more"
    OTHER = "other", "something else"


class StopAskQuerySet(models.QuerySet["StopAsk"]):
    """Named questions about stop-and-asks."""

    def standing(self) -> StopAskQuerySet:
        """Those still without an answer."""
        return self.filter(answered_at__isnull=True, withdrawn_at__isnull=True)


class StopAsk(models.Model):
    """Work stopped and the client was asked: what came up, the new figures, and the dated answer."""

    item = models.ForeignKey(CommissionItem, on_delete=models.PROTECT, related_name="questions")
    why = models.CharField(max_length=10, choices=AskWhy)
    words = models.TextField(max_length=2000, help_text="What you tell and ask the client.")
    photo = models.ForeignKey(Photo, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    weight_low_ct = WeightField(null=True, blank=True)
    weight_high_ct = WeightField(null=True, blank=True)
    length_mm = LengthField(null=True, blank=True)
    width_mm = LengthField(null=True, blank=True)
    new_price = MoneyField(
        null=True, blank=True, help_text="Of this piece, if it changes; tax as in the quote."
    )
    options = models.JSONField(default=list, help_text="The answers offered, in order.")
    by_floor = models.BooleanField(default=False, help_text="Raised by the floor watch itself.")
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    answer = models.CharField(max_length=200, blank=True)
    answer_words = models.TextField(max_length=2000, blank=True)
    answered_name = models.CharField(max_length=160, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_from = models.CharField(max_length=60, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_why = models.CharField(max_length=300, blank=True)
    led_to = models.ForeignKey(Quote, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    objects = StopAskQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(answered_at__isnull=True, answer="")
                | (models.Q(answered_at__isnull=False) & ~models.Q(answer="")),
                name="stopask_answer_has_a_time",
            ),
            models.CheckConstraint(
                condition=models.Q(weight_low_ct__isnull=True)
                | models.Q(weight_high_ct__isnull=True)
                | models.Q(weight_low_ct__lte=models.F("weight_high_ct")),
                name="stopask_weights_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.get_why_display()}"

    @property
    def is_open(self) -> bool:
        """Whether the client still owes an answer."""
        return self.answered_at is None and self.withdrawn_at is None


class Moment(models.TextChoices):
    """The moments a message is owed, and the rest."""

    RECEIVED = "received", "received and weighed"
    QUOTE = "quote", "quote"
    GO_AHEAD = "go_ahead", "go-ahead and deposit"
    QUEUE = "queue", "place in the queue"
    SURPRISE = "surprise", "stop-and-ask"
    PAVILION = "pavilion", "first side done"
    FINISHED = "finished", "finished"
    POSTED = "posted", "posted"
    ARRIVED = "arrived", "arrived"
    OTHER = "other", "other"


class MessageState(models.TextChoices):
    """What became of a message."""

    READY = "ready", "ready"
    SENDING = "sending", "being sent"
    SENT = "sent", "sent"
    FAILED = "failed", "failed"
    COPIED = "copied", "given to the client another way"
    DROPPED = "dropped", "not sent"
    TOLD = "told", "told by the client"


class Message(models.Model):
    """One message to the client, or one told by the client; the words stay with the commission."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="messages")
    item = models.ForeignKey(
        CommissionItem, null=True, blank=True, on_delete=models.PROTECT, related_name="messages"
    )
    moment = models.CharField(max_length=10, choices=Moment)
    from_client = models.BooleanField(default=False)
    to = models.EmailField(blank=True)
    subject = models.CharField(max_length=200, blank=True)
    body = models.TextField(max_length=6000)
    state = models.CharField(max_length=8, choices=MessageState, default=MessageState.READY)
    message_id = models.CharField(max_length=120, unique=True, help_text="The same on every attempt.")
    tries = models.PositiveSmallIntegerField(default=0)
    error = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        said = f"“{self.body[:60].strip()}{'…' if len(self.body) > 60 else ''}”" if self.from_client else ""
        return said or self.subject or self.get_moment_display()

    def get_absolute_url(self) -> str:
        return reverse("commissions:message", args=[self.commission.code, self.pk])
