"""From what is typed about a lot to typed values."""

from .lot import DescribeForm, DocumentForm, MoveForm, PhotoForm
from .receive import EXTRAS, ReceiveForm, checked_places, currency_choices

__all__ = [
    "EXTRAS",
    "DescribeForm",
    "DocumentForm",
    "MoveForm",
    "PhotoForm",
    "ReceiveForm",
    "checked_places",
    "currency_choices",
]
