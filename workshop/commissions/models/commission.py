"""A commission, its pieces, and the stones that fulfil them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.urls import reverse

from workshop.common.fields import LengthField, MoneyField, WeightField
from workshop.common.models import Photo
from workshop.gems.models import Shape
from workshop.materials.models import Material
from workshop.people.models import Contact
from workshop.stones.models import Stone

ZERO = Decimal(0)


class State(models.TextChoices):
    """How far a commission has come."""

    ENQUIRY = "enquiry", "enquiry"
    QUOTED = "quoted", "quoted"
    ACCEPTED = "accepted", "accepted, in the queue"
    IN_WORK = "in_work", "in work"
    DELIVERED = "delivered", "delivered"
    DECLINED = "declined", "declined"
    CANCELLED = "cancelled", "cancelled"


CLOSED = (State.DELIVERED, State.DECLINED, State.CANCELLED)
TONES = {
    State.ENQUIRY: "rough", State.QUOTED: "wait", State.ACCEPTED: "work", State.IN_WORK: "work",
    State.DELIVERED: "sold", State.DECLINED: "quiet", State.CANCELLED: "gone",
}  # fmt: skip


class CommissionQuerySet(models.QuerySet["Commission"]):
    """Named questions about commissions."""

    def standing(self) -> CommissionQuerySet:
        """Commissions neither delivered, declined nor cancelled."""
        return self.exclude(state__in=CLOSED)

    def promised(self) -> CommissionQuerySet:
        """Accepted ones that take hours of the bench."""
        return self.filter(state__in=[State.ACCEPTED, State.IN_WORK])

    def with_open_questions(self) -> CommissionQuerySet:
        """Commissions in which the client owes an answer."""
        from .talk import StopAsk

        asked = StopAsk.objects.standing().order_by().values("item__commission")
        return self.filter(pk__in=asked)

    def unpaid(self) -> CommissionQuerySet:
        """Commissions with something still owed by the client."""
        return self.filter(balance__gt=0)

    def matching(self, words: str) -> CommissionQuerySet:
        """Commissions of which every word is said: in code, client, wish, use or a piece's wish."""
        found = self
        for word in words.split():
            clients = Contact.objects.filter(models.Q(name__icontains=word) | models.Q(firm__icontains=word))
            pieces = CommissionItem.objects.filter(
                models.Q(wanted__icontains=word)
                | models.Q(material__species__icontains=word)
                | models.Q(material__variety__icontains=word)
                | models.Q(links__stone__code__iexact=word)
            )
            found = found.filter(
                models.Q(code__iexact=word)
                | models.Q(client__in=clients.order_by().values("pk"))
                | models.Q(wish__icontains=word)
                | models.Q(pk__in=pieces.order_by().values("commission"))
            )
        return found


class Commission(models.Model):
    """What a client asked for, from the enquiry to the delivered stones. Its account: charges and payments."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    client = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="commissions")
    state = models.CharField(max_length=10, choices=State, default=State.ENQUIRY, db_index=True)
    currency = models.CharField(max_length=3)
    asked_on = models.DateField()
    wish = models.TextField(max_length=2000, blank=True, help_text="What the client wants, in their words.")
    use = models.CharField(max_length=120, blank=True, help_text="Ring, pendant, collection …")
    wished_by = models.DateField(null=True, blank=True, help_text="The day the client hopes for.")
    due_on = models.DateField(null=True, blank=True, db_index=True, help_text="Monday of the promised week.")
    queue_place = models.PositiveSmallIntegerField(null=True, blank=True)
    notes = models.TextField(
        max_length=4000, blank=True, help_text="For you alone; the client never sees it."
    )
    accepted_at = models.DateTimeField(null=True, blank=True)
    go_ahead_at = models.DateTimeField(null=True, blank=True)
    closed_on = models.DateField(null=True, blank=True)
    closed_why = models.CharField(max_length=300, blank=True)
    heard_at = models.DateTimeField(null=True, blank=True, help_text="When the client was last heard from.")
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    # Kept by the actions so that lists and sums need no second look; the law tests hold them to the rows.
    charged = MoneyField(default=ZERO, help_text="All charges less credits, tax in.")
    paid = MoneyField(default=ZERO, help_text="All that came in.")
    refunded = MoneyField(default=ZERO, help_text="All that went back, a positive sum.")
    balance = MoneyField(default=ZERO, help_text="Still owed by the client; below zero the shop owes.")

    objects = CommissionQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(balance=models.F("charged") - models.F("paid") + models.F("refunded")),
                name="commission_account_adds_up",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=CLOSED, closed_on__isnull=False)
                | (~models.Q(state__in=CLOSED) & models.Q(closed_on__isnull=True)),
                name="commission_closed_has_a_day",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("commissions:commission", args=[self.code])

    @property
    def is_closed(self) -> bool:
        """Whether nothing more is expected to happen."""
        return self.state in CLOSED

    @property
    def net_paid(self) -> Decimal:
        """What came in and stayed."""
        return self.paid - self.refunded

    @property
    def state_word(self) -> str:
        """Where it stands, in words."""
        return self.get_state_display()

    @property
    def state_tone(self) -> str:
        """The sign its badge carries."""
        return TONES[State(self.state)]

    def is_late(self, today: date) -> bool:
        """Whether the promised week is over and it is not closed."""
        return not self.is_closed and self.due_on is not None and (today - self.due_on).days > 6


class WorkKind(models.TextChoices):
    """What is to be done with a piece."""

    CUT_OWN = "cut_own", "cut from the shop's rough"
    CUT_CLIENT = "cut_client", "cut the client's rough"
    RECUT = "recut", "recut"
    REPOLISH = "repolish", "repolish"
    REPAIR = "repair", "repair"
    MATCH = "match", "match a pair"


#: Work on goods that are the client's own.
ON_CLIENTS_GOODS = (WorkKind.CUT_CLIENT, WorkKind.RECUT, WorkKind.REPOLISH, WorkKind.REPAIR)


class Outcome(models.TextChoices):
    """How one piece of a commission ended."""

    OPEN = "open", "open"
    DELIVERED = "delivered", "finished and delivered"
    UNWORKED = "unworked", "returned unworked"
    BROKEN = "broken", "broken in work"
    LOST = "lost", "lost"
    BOUGHT = "bought", "bought by the shop"
    DROPPED = "dropped", "not done"


class OffCuts(models.TextChoices):
    """What happens to off-cuts and swarf worth keeping."""

    BACK = "back", "go back to the client"
    SHOP = "shop", "stay with the shop"
    PAYMENT = "payment", "kept as part of the payment"


SIZES_AND_WEIGHTS = (
    "length_mm", "width_mm", "tolerance_mm", "least_ct", "most_ct", "floor_ct", "floor_length_mm",
    "floor_width_mm",
)  # fmt: skip


def _above(low: Decimal | None, high: Decimal | None, said: str) -> str:
    return said if low is not None and high is not None and low > high else ""


def _missing(needed: Decimal | None, given: Decimal | None, said: str) -> str:
    return said if given is not None and needed is None else ""


class CommissionItem(models.Model):
    """One piece of a commission: what is wanted of it, and how it ended."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="items")
    number = models.PositiveSmallIntegerField(help_text="1, 2, 3 … within the commission.")
    work = models.CharField(max_length=10, choices=WorkKind)
    wanted = models.CharField(max_length=300, help_text="What is wanted, in plain words.")
    material = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    shape = models.CharField(max_length=24, choices=Shape, blank=True)
    length_mm = LengthField(null=True, blank=True)
    width_mm = LengthField(null=True, blank=True)
    tolerance_mm = LengthField(null=True, blank=True, help_text="How far a calibrated size may be off.")
    least_ct = WeightField(null=True, blank=True)
    most_ct = WeightField(null=True, blank=True)
    floor_ct = WeightField(null=True, blank=True, help_text="Below this the client is asked first.")
    floor_length_mm = LengthField(null=True, blank=True)
    floor_width_mm = LengthField(null=True, blank=True)
    off_cuts = models.CharField(max_length=8, choices=OffCuts, default=OffCuts.BACK)
    outcome = models.CharField(max_length=10, choices=Outcome, default=Outcome.OPEN)
    outcome_on = models.DateField(null=True, blank=True)
    outcome_note = models.CharField(max_length=300, blank=True)
    given_back_ct = WeightField(null=True, blank=True, help_text="What the owner got back of it, by scale.")

    class Meta:
        ordering = ["commission", "number"]
        constraints = [
            models.UniqueConstraint(fields=["commission", "number"], name="item_numbered_once"),
            models.CheckConstraint(
                condition=models.Q(least_ct__isnull=True)
                | models.Q(most_ct__isnull=True)
                | models.Q(least_ct__lte=models.F("most_ct")),
                name="item_weights_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(floor_ct__isnull=True)
                | models.Q(most_ct__isnull=True)
                | models.Q(floor_ct__lte=models.F("most_ct")),
                name="item_floor_below_its_range",
            ),
            models.CheckConstraint(
                condition=models.Q(outcome=Outcome.OPEN, outcome_on__isnull=True)
                | (~models.Q(outcome=Outcome.OPEN) & models.Q(outcome_on__isnull=False)),
                name="item_outcome_has_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.commission.code}, piece {self.number}"

    def clean(self) -> None:
        faults = {name: said for name, said in self._faults() if said}
        if faults:
            raise ValidationError(faults)

    def _faults(self) -> Iterator[tuple[str, str]]:
        """What of the wishes makes no sense, by the column it is said beside."""
        for name in SIZES_AND_WEIGHTS:
            value = getattr(self, name)
            yield name, "Give a figure above zero." if value is not None and value <= 0 else ""
        yield "length_mm", _missing(self.length_mm, self.width_mm, "Give the length too.")
        yield "width_mm", _above(self.width_mm, self.length_mm, "The width is the shorter side.")
        yield "tolerance_mm", _missing(self.length_mm, self.tolerance_mm, "A tolerance needs a size.")
        yield "tolerance_mm", _above(self.tolerance_mm, self.length_mm, "That is more than the size itself.")
        yield "most_ct", _above(self.least_ct, self.most_ct, "The range is upside down.")
        yield "floor_ct", _above(self.floor_ct, self.most_ct, "The floor is above the range.")
        yield "floor_length_mm", _missing(self.floor_length_mm, self.floor_width_mm, "Give the length too.")
        yield (
            "floor_length_mm",
            _above(self.floor_length_mm, self.length_mm, "The floor is above the wished size."),
        )
        yield (
            "floor_width_mm",
            _above(self.floor_width_mm, self.width_mm, "The floor is above the wished size."),
        )

    @property
    def is_open(self) -> bool:
        """Whether it has not ended yet."""
        return self.outcome == Outcome.OPEN

    @property
    def size_words(self) -> str:
        """The wished size, or nothing."""
        if self.length_mm is None:
            return ""
        sides = f"{self.length_mm}" + (f" × {self.width_mm}" if self.width_mm is not None else "")
        return f"{sides} mm" + (f" ± {self.tolerance_mm} mm" if self.tolerance_mm is not None else "")


class ItemStone(models.Model):
    """A stone that fulfils, or fulfilled, a piece of a commission. The stone itself knows no commission."""

    item = models.ForeignKey(CommissionItem, on_delete=models.PROTECT, related_name="links")
    stone = models.ForeignKey(Stone, on_delete=models.PROTECT, related_name="commission_links")
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True, help_text="When another took its place.")
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["stone"], condition=models.Q(until__isnull=True), name="stone_fulfils_one_piece"
            )
        ]

    def __str__(self) -> str:
        return f"{self.stone.code} for {self.item}"


class CommissionPhoto(models.Model):
    """A photograph of an enquiry, or one of a stone's that the cutter chose to share; only shared ones are shown."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="photos")
    item = models.ForeignKey(
        CommissionItem, null=True, blank=True, on_delete=models.PROTECT, related_name="photos"
    )
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    caption = models.CharField(max_length=200, blank=True)
    shared_at = models.DateTimeField(null=True, blank=True, help_text="Nothing: the client does not see it.")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.UniqueConstraint(fields=["commission", "photo"], name="commission_photo_once")]

    def __str__(self) -> str:
        return self.caption or f"{self.commission.code} photograph"
