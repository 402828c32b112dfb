"""Papers that came with a lot: looked at before they are kept, and never shown as anything but a file to save."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import IO

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

MOST_BYTES = 10 * 1024 * 1024
#: How a file of each kind begins (the formats' own specifications); plain text is known by what it does not hold.
BEGINS = {
    "application/pdf": b"%PDF-",
    "image/jpeg": b"\xff\xd8\xff",
    "image/png": b"\x89PNG\r\n\x1a\n",
}
ENDINGS = {"application/pdf": ".pdf", "image/jpeg": ".jpg", "image/png": ".png", "text/plain": ".txt"}


@dataclass(frozen=True)
class ReadDocument:
    """A paper's bytes, with the kind they themselves show."""

    content: bytes
    sha256: str
    media_type: str


def read_document(upload: IO[bytes]) -> ReadDocument:
    """Read an upload whole; what it calls itself does not count. Raises ValidationError."""
    size = getattr(upload, "size", None)
    if size is not None and size > MOST_BYTES:
        raise ValidationError(f"This file is larger than {MOST_BYTES // (1024 * 1024)} MB.")
    upload.seek(0)
    content = upload.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise ValidationError(f"This file is larger than {MOST_BYTES // (1024 * 1024)} MB.")
    return ReadDocument(content, hashlib.sha256(content).hexdigest(), _kind(content))


def _kind(content: bytes) -> str:
    for media_type, beginning in BEGINS.items():
        if content.startswith(beginning):
            return media_type
    if _is_plain_text(content):
        return "text/plain"
    raise ValidationError("Only PDF, JPEG, PNG and plain text are kept; this file is none of them.")


def _is_plain_text(content: bytes) -> bool:
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        return False
    # A page or drawing that calls itself text could still be opened as one by somebody's browser.
    odd = any(ord(sign) < 32 and sign not in "\t\r\n\f" for sign in text)
    return bool(text.strip()) and not odd and not text.lstrip("\ufeff \t\r\n").startswith("<")


def keep(document: ReadDocument) -> None:
    """Store the bytes under their hash; the same paper twice is one file."""
    path = path_of(document.sha256)
    if not default_storage.exists(path):
        default_storage.save(path, ContentFile(document.content))


def path_of(sha256: str) -> str:
    """Where a paper lies in the store."""
    return f"documents/{sha256[:2]}/{sha256}"


def read_kept(sha256: str) -> bytes:
    """The bytes of a kept paper."""
    with default_storage.open(path_of(sha256)) as handle:
        return bytes(handle.read())
