"""What travels inside a paper's PDF, and how it is sealed: the record, the record as linked data, two signatures.

Three files are attached. ``record.json`` is the content record byte for byte as it was issued. ``record.jsonld`` says
the same, as far as schema.org has words for it, to machines. ``signature.json`` holds the shop's public key, its
signature over the record, and one over the whole file: Ed25519 (RFC 8032) over the bytes of the PDF as they are while
the 128 digits of that last signature are noughts. So a flipped bit anywhere in the file is found without asking
anybody, by whoever has the shop's public key. None of this is a signature in the sense of ISO 32000: a reader of PDFs
shows no mark of its own for it.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from . import keys, linked_data
from .record import canonical, sha256_of

RECORD, LINKED, SIGNATURE = "record.json", "record.jsonld", "signature.json"
NOUGHTS: Final = "0" * (2 * keys.SIGNATURE_BYTES)
SEAL: Final = re.compile(rb'"file_signature":"([0-9a-f]{128})"')
STAMP: Final = re.compile(SEAL.pattern + rb',"public_key":"([0-9a-f]{64})","record_sha256":"([0-9a-f]{64})"')
MOST_BYTES: Final = 25 * 1024 * 1024
"""Above this a file is not one of ours; our papers take some ten to a few hundred kilobytes."""


@dataclass(frozen=True)
class Signed:
    """A record's signature: the public key, and the signature over the canonical record, both hexadecimal."""

    public: str
    signature: str


def attachments(record: str, signed: Signed, issued_at: datetime) -> list[Any]:
    """The three files as the renderer takes them, dated by the paper's own moment so that the bytes stay the same."""
    from weasyprint import Attachment

    linked = linked_data.of(json.loads(record))
    texts = [
        (RECORD, "The content of this paper, as it was issued", "Source", record),
        (LINKED, "The same for machines, in the terms of schema.org", "Supplement", linked),
        (SIGNATURE, "The shop's signatures over record and file", "Supplement", _signature(record, signed)),
    ]  # fmt: skip
    return [
        Attachment(
            string=text,
            name=name,
            description=said,
            created=issued_at,
            modified=issued_at,
            relationship=relation,
        )
        for name, said, relation, text in texts
    ]


def _signature(record: str, signed: Signed) -> str:
    return canonical(
        {
            "algorithm": "Ed25519, RFC 8032",
            "file_signature": NOUGHTS,
            "public_key": signed.public,
            "record_sha256": sha256_of(record),
            "record_signature": signed.signature,
        }
    )


def leave_readable(document: Any, pdf: Any) -> None:
    """A finisher for the renderer: the signature lies uncompressed, so that its place can be filled afterwards."""
    for thing in pdf.objects:
        stream = getattr(thing, "stream", None)
        if stream and any(isinstance(part, bytes) and NOUGHTS.encode() in part for part in stream):
            thing.compress = False
            # The checksum of an embedded file is optional (ISO 32000-1, table 46), and would speak of the noughts.
            del thing.extra["Params"]["CheckSum"]


def seal(pdf: bytes, sign: Callable[[bytes], str]) -> bytes:
    """The file with its own signature in place of the noughts. Raises ValueError where it has not one place."""
    places = list(SEAL.finditer(pdf))
    if len(places) != 1 or places[0][1] != NOUGHTS.encode():
        raise ValueError("This file has no place for one signature.")
    start, end = places[0].span(1)
    return pdf[:start] + sign(pdf).encode() + pdf[end:]


@dataclass(frozen=True)
class Stamp:
    """Whose key sealed a file, and the SHA-256 of the record it was sealed with."""

    public: str
    record_sha256: str


def stamp(pdf: bytes) -> Stamp | None:
    """The stamp of a file, found without opening it; None where the seal does not hold. Never raises."""
    places = list(STAMP.finditer(pdf))
    if len(places) != 1:
        return None
    signature, public, digest = (part.decode() for part in places[0].groups())
    return Stamp(public, digest) if keys.verifies(public, _blanked(pdf, places[0]), signature) else None


def _blanked(pdf: bytes, place: re.Match[bytes]) -> bytes:
    """The file as it was signed: noughts in the place of its own signature."""
    start, end = place.span(1)
    return pdf[:start] + NOUGHTS.encode() + pdf[end:]


@dataclass(frozen=True)
class Reading:
    """What a file says of itself, and what of that holds. ``faults`` is empty when all of it does."""

    record: dict[str, Any] | None
    public: str
    faults: tuple[str, ...]
    text: str = ""
    """The record byte for byte, as it lies in the file."""

    @property
    def fingerprint(self) -> str:
        """Of the key it was signed with; nothing for a file that names none."""
        return keys.fingerprint_of(self.public) if self.public else ""


NOT_OURS: Final = "This file holds no record of a paper, or is no PDF."


def read(pdf: bytes) -> Reading:
    """Open a file that somebody handed in and try its signatures. Never raises, whatever the bytes are."""
    if len(pdf) > MOST_BYTES:
        return Reading(None, "", ("This file is too large to be one of our papers.",))
    try:
        files = _attached(pdf)
        text = files[RECORD].decode()
        said = json.loads(files[SIGNATURE])
        record = json.loads(text)
        public = str(said["public_key"])
        keys.fingerprint_of(public)
    except Exception:  # a file made to harm may raise anything at all inside the reader
        return Reading(None, "", (NOT_OURS,))
    return Reading(record, public, tuple(_faults(pdf, text, said, public)), text)


def _attached(pdf: bytes) -> dict[str, bytes]:
    from pypdf import PdfReader

    return {name: data[0] for name, data in PdfReader(io.BytesIO(pdf), strict=True).attachments.items()}


def _faults(pdf: bytes, text: str, said: dict[str, Any], public: str) -> list[str]:
    found = []
    if said.get("record_sha256") != sha256_of(text):
        found.append("The record is not the one the signature speaks of.")
    if not keys.verifies(public, text.encode(), str(said.get("record_signature", ""))):
        found.append("The signature over the record does not hold.")
    places = list(SEAL.finditer(pdf))
    if len(places) != 1:
        return [*found, "The signature over the file is missing."]
    if not keys.verifies(public, _blanked(pdf, places[0]), places[0][1].decode()):
        found.append("The file was changed since it was made.")
    return found
