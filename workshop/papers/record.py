"""The content of a paper as one canonical text, so that one content has one hash.

Sorted keys, no spare blanks, UTF-8 as it is (close to RFC 8785). Figures are texts: a float has no one spelling,
so it is refused, and so is everything else that JSON does not know.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any


def canonical(content: dict[str, Any]) -> str:
    """The one spelling of a content. Raises TypeError for a float, a Decimal or anything JSON does not know."""
    _check(content)
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def sha256_of(text: str | bytes) -> str:
    """SHA-256 as 64 hexadecimal digits."""
    return hashlib.sha256(text.encode() if isinstance(text, str) else text).hexdigest()


def _check(value: Any) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str):
                raise TypeError(f"The name {key!r} in a paper's content is not a text.")
            _check(inner)
    elif isinstance(value, list):
        for inner in value:
            _check(inner)
    elif not isinstance(value, str | bool | int | None):
        raise TypeError(f"A paper's content cannot hold {value!r}: write figures as text.")
