"""Ranges of a quote's line as the client reads them: ``{% load quote_words %}``, then ``line|weights``."""

from __future__ import annotations

from django import template

from workshop.commissions import quote_words
from workshop.commissions.models import QuoteLine

register = template.Library()


@register.filter
def what(line: QuoteLine) -> str:
    """What will be done, with the loss of a recut."""
    return quote_words.what_words(line)


@register.filter
def weights(line: QuoteLine) -> str:
    """The range of its finished weight."""
    return quote_words.weight_words(line)


@register.filter
def sizes(line: QuoteLine) -> str:
    """The range of its finished size."""
    return quote_words.size_words(line)


@register.filter
def prices(line: QuoteLine) -> str:
    """The range of its price."""
    return quote_words.price_words(line.price_low, line.price_high, line.quote.currency)
