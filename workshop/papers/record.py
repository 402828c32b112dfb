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


def plain(value: Any) -> Any:
    """The same content without characters that do not print: controls, and marks that turn the reading direction
    of what follows, by which a text may show other words than it holds (Unicode TR 36, bidirectional text
    spoofing)."""
    if isinstance(value, str):
        return value.translate(_UNPRINTED)
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    return [plain(inner) for inner in value] if isinstance(value, list) else value


_UNPRINTED = dict.fromkeys(
    [*range(0x20), 0x7F, *range(0x80, 0xA0), *range(0x202A, 0x202F), *range(0x2066, 0x206A), 0xFEFF]
) | {ord(blank): " " for blank in "\n\r\t"}


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
