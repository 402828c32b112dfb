"""Errors of the handbook: each says what was expected and what to do about it.

Every error is a ``ValueError`` so that a caller who only knows Python can still catch it; the message is a whole
sentence fit to stand beside a form field, and the parts it was made from stay readable as attributes.
"""

from __future__ import annotations


class HandbookError(ValueError):
    """The handbook cannot answer; ``str(error)`` is a sentence for the person who asked."""

    def __init__(self, message: str, **said: object) -> None:
        super().__init__(message)
        self.message = message
        self.said = said


class NotANumber(HandbookError):
    """Text that should be a number is not one, or could be read in two ways."""


class UnknownUnit(HandbookError):
    """A unit the handbook does not know; ``said['known']`` lists those it does."""


class UnknownCurrency(HandbookError):
    """A currency code that ISO 4217 does not list among those the house knows."""


class OutOfRange(HandbookError):
    """A value outside the range its source states; tables are never extended silently."""


class NothingToShareBy(HandbookError):
    """An amount is to be shared, but every share weighs nothing."""


class DoesNotAddUp(HandbookError):
    """Parts and whole disagree where they must agree."""


class OpenSolid(HandbookError):
    """The planes do not close a solid; ``said['directions']`` names the open sides."""


class EmptySolid(HandbookError):
    """The planes leave nothing between them."""
