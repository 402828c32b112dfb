"""One contact list, and the two questions asked of every stone: whose is it, and who has it tonight."""

from __future__ import annotations

from django.db import models
from django.urls import reverse

from workshop.common.fields import MoneyField


class ContactQuerySet(models.QuerySet["Contact"]):
    """Named questions about contacts."""

    def matching(self, words: str) -> ContactQuerySet:
        """Contacts whose name, firm, mail or code holds the words."""
        return self.filter(
            models.Q(name__icontains=words)
            | models.Q(firm__icontains=words)
            | models.Q(email__icontains=words)
            | models.Q(code__iexact=words)
        )

    def playing(self, part: str) -> ContactQuerySet:
        """Contacts who play a part, such as ``supplier``."""
        return self.filter(**{f"is_{part}": True})

    def like(self, *, name: str, firm: str = "", email: str = "") -> ContactQuerySet:
        """Contacts that may well be the same one: the same mail, or the same name at the same firm."""
        same = models.Q(name__iexact=name)
        if firm:
            same &= models.Q(firm__iexact=firm) | models.Q(firm="")
        if email:
            same |= models.Q(email__iexact=email)
        return self.filter(same)


class Contact(models.Model):
    """A person or firm the shop deals with, in as many parts as they play."""

    code = models.CharField(max_length=12, unique=True, editable=False)
    name = models.CharField(max_length=160)
    firm = models.CharField(max_length=160, blank=True)
    is_supplier = models.BooleanField("supplier of rough", default=False)
    is_client = models.BooleanField("client", default=False)
    is_buyer = models.BooleanField("buyer", default=False)
    is_jeweller = models.BooleanField("jeweller or setter", default=False)
    is_laboratory = models.BooleanField("laboratory", default=False)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=60, blank=True)
    address = models.TextField(max_length=500, blank=True)
    country = models.CharField(max_length=60, blank=True)
    tax_number = models.CharField(max_length=40, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    added_at = models.DateTimeField(auto_now_add=True)

    objects = ContactQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [models.CheckConstraint(condition=~models.Q(name=""), name="contact_has_name")]

    def __str__(self) -> str:
        return f"{self.name} ({self.firm})" if self.firm else self.name

    def get_absolute_url(self) -> str:
        return reverse("people:contact", args=[self.code])

    @property
    def parts(self) -> list[str]:
        """The parts this contact plays, in words."""
        played = [
            (self.is_supplier, "supplier"),
            (self.is_client, "client"),
            (self.is_buyer, "buyer"),
            (self.is_jeweller, "jeweller"),
            (self.is_laboratory, "laboratory"),
        ]
        return [word for plays, word in played if plays]


class Ownership(models.TextChoices):
    """Whose a thing is."""

    SHOP = "shop", "the shop's own"
    CLIENT = "client", "a client's"
    LENT = "lent", "lent to the shop"


class Place(models.TextChoices):
    """Where a thing is tonight."""

    SAFE = "safe", "in the safe"
    BENCH = "bench", "at the bench"
    MEMO = "memo", "out on memo"
    LABORATORY = "laboratory", "at a laboratory"
    SETTER = "setter", "at a setter"
    POST = "post", "in the post"
    CLIENT = "client", "with the client"
    BUYER = "buyer", "with the buyer"
    SELLER = "seller", "back with the seller"
    GONE = "gone", "gone"


class Belonging(models.Model):
    """Owner and holder are two questions, asked of everything: whose is it, and who has it tonight, since when."""

    ownership = models.CharField(max_length=8, choices=Ownership, default=Ownership.SHOP)
    owner = models.ForeignKey(Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    place = models.CharField(max_length=12, choices=Place, default=Place.SAFE)
    holder = models.ForeignKey(Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    held_since = models.DateField(null=True, blank=True)
    declared_value = MoneyField(
        null=True, blank=True, help_text="What it is declared or insured at while held."
    )

    class Meta:
        abstract = True

    @property
    def is_own(self) -> bool:
        """Whether it counts as the shop's stock."""
        return self.ownership == Ownership.SHOP

    def why_not_there(self, place: str, holder: Contact | None) -> str:
        """Why it may not go there, or nothing. Goods of others are lent on to nobody and go back to their owner."""
        if self.is_own:
            return ""
        if place in {Place.MEMO, Place.SELLER}:
            return f"It belongs to {self.whose}: it goes to nobody but its owner."
        if place == Place.CLIENT and (holder is None or holder.pk != self.owner_id):
            return f"It belongs to {self.whose}, who alone may have it as its owner."
        return ""

    @property
    def whose(self) -> str:
        """The owner in words."""
        return str(self.owner) if self.owner is not None else "the shop"


def ownership_constraint(room: str) -> models.CheckConstraint:
    """The shop's own has no other owner; everything else names one."""
    return models.CheckConstraint(
        condition=models.Q(ownership=Ownership.SHOP, owner__isnull=True)
        | models.Q(ownership__in=[Ownership.CLIENT, Ownership.LENT], owner__isnull=False),
        name=f"{room}_owner_fits_ownership",
    )
