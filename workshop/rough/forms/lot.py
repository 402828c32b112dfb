"""What is added to a lot later: words, place, photographs, papers."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django import forms

from workshop.common.deeds import DeedForm
from workshop.common.formfields import DayInput, MoneyInput, PicturesInput
from workshop.common.models import Hand, Shop
from workshop.people.forms import SomebodyMixin
from workshop.people.models import Contact

from ..actions import PLACES
from ..documents import MOST_BYTES, ReadDocument, read_document
from ..models import RoughLot


class DescribeForm(SomebodyMixin, DeedForm):
    """The words about a lot; its weight and money have deeds of their own."""

    sold_as = forms.CharField(label="Sold as", max_length=300)
    seller = forms.ModelChoiceField(
        queryset=Contact.objects.all(), required=False, empty_label="nobody on the list"
    )
    new_seller = forms.CharField(label="or a new seller", max_length=160, required=False)
    pieces = forms.IntegerField(
        min_value=1,
        max_value=1_000_000,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    declared_value = MoneyInput(label="Declared or insured at", required=False)
    notes = forms.CharField(max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 4}))

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["declared_value"].unit = shop.currency  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        self.check_somebody("seller")
        return cleaned

    def changes(self, *, by: Hand | None, at: datetime) -> dict[str, Any]:
        """What is to stand there now; call inside the deed."""
        plain = {name: self.cleaned_data[name] for name in ("sold_as", "pieces", "declared_value", "notes")}
        return {**plain, "seller": self.somebody("seller", "supplier", by=by, at=at)}

    @staticmethod
    def values_of(lot: RoughLot) -> dict[str, Any]:
        """What stands there now."""
        return {
            name: getattr(lot, name) for name in ("sold_as", "seller", "pieces", "declared_value", "notes")
        }


class MoveForm(DeedForm):
    """Who has a lot tonight."""

    place = forms.ChoiceField(
        label="It is", choices=[(place.value, place.label) for place in PLACES], widget=forms.RadioSelect
    )
    holder = forms.ModelChoiceField(
        label="Who has it", queryset=Contact.objects.all(), required=False, empty_label="the shop"
    )
    since = DayInput(label="Since")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["since"].initial = today


class PhotoForm(DeedForm):
    """Photographs of a lot."""

    pictures = PicturesInput(
        label="Photographs", help_text="JPEG, PNG or WebP; where it was taken is not kept."
    )
    caption = forms.CharField(max_length=200, required=False)


class DocumentForm(DeedForm):
    """A paper that came with a lot."""

    title = forms.CharField(max_length=120, help_text="Such as: invoice 2026-114.")
    document = forms.FileField(
        label="File",
        help_text="PDF, JPEG, PNG or plain text. Kept as it came; only owners and readers can open it.",
        widget=forms.FileInput(
            attrs={"accept": ".pdf,.jpg,.jpeg,.png,.txt", "data-max-bytes": str(MOST_BYTES)}
        ),
    )

    def clean_document(self) -> ReadDocument:
        """The file's bytes, once they show what they are."""
        return read_document(self.cleaned_data["document"])
