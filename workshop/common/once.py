"""A form sent twice does its deed once.

Each create form carries a one-time key. The key is written in the same transaction as the deed, so a retry after
a lost answer finds the key and is led to what the first sending made.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable

from .models import DoneDeed, Hand
from .tx import write_tx


def new_key() -> str:
    """A fresh one-time key for a form."""
    return uuid.uuid4().hex


def do_once(key: str, by: Hand | None, deed: Callable[[], str]) -> str:
    """Do ``deed`` unless ``key`` was used before; either way return the address its result lives at."""
    with write_tx():
        seen = DoneDeed.objects.filter(key=key, by=by).first()
        if seen is not None:
            return seen.led_to
        led_to = deed()
        DoneDeed.objects.create(key=key, by=by, led_to=led_to)
        return led_to
