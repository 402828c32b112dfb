"""The shop's own key for papers: Ed25519 (RFC 8032), kept as a file in the data folder, never in the database.

A paper carries a signature, so that who holds the shop's public key can tell years later, and without this shop's
server, that the record is the one that was issued. The private half never leaves the folder ``keys``; it belongs into
the backup, and is read by nobody but the account the shop runs under.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from django.conf import settings

from workshop.common.errors import DeedRefused

FOLDER: Final = "keys"
CURRENT: Final = "papers.pem"
SIGNATURE_BYTES: Final = 64
"""Length of an Ed25519 signature (RFC 8032, 5.1.6)."""


class KeyDamaged(DeedRefused):
    """The file of the key is there and cannot be read as one."""


@dataclass(frozen=True)
class ShopKey:
    """A key that signs. ``public`` is its public half as 64 hexadecimal digits (RFC 8032, 5.1.5)."""

    private: Ed25519PrivateKey
    public: str

    @property
    def fingerprint(self) -> str:
        """What people compare: see ``fingerprint_of``."""
        return fingerprint_of(self.public)

    def sign(self, data: bytes) -> str:
        """The signature over ``data`` as 128 hexadecimal digits; the same data give the same signature."""
        return self.private.sign(data).hex()


def current() -> ShopKey:
    """The key that signs today; made on first use. Raises KeyDamaged."""
    path = _path()
    if not path.exists():
        _put(Ed25519PrivateKey.generate(), path)
    return _read(path)


def holding(public: str) -> ShopKey | None:
    """The key with this public half, whether it signs today or was laid aside; None where its file is gone."""
    try:
        now = current()
        if now.public == public:
            return now
        old = _aside(fingerprint_of(public))
        found = _read(old) if old.exists() else None
    except KeyDamaged:
        return None
    return found if found is not None and found.public == public else None


def rotate() -> tuple[ShopKey | None, ShopKey]:
    """Lay the key aside under its fingerprint and make a new one: (old, new). What the old one signed stays valid."""
    path = _path()
    old = _read(path) if path.exists() else None
    if old is not None:
        os.replace(path, _aside(old.fingerprint))
    return old, current()


def verifies(public: str, data: bytes, signature: str) -> bool:
    """Whether ``signature`` (hexadecimal) was made over ``data`` by the private half of ``public``. Never raises."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        key.verify(bytes.fromhex(signature), data)
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def fingerprint_of(public: str) -> str:
    """The first 80 bits of the SHA-256 of a public key, in five groups of four digits, to compare by eye.

    >>> fingerprint_of("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a")
    '21fe 31df a154 a261 626b'
    """
    digits = hashlib.sha256(bytes.fromhex(public)).hexdigest()[:20]
    return " ".join(digits[place : place + 4] for place in range(0, len(digits), 4))


def _path() -> Path:
    folder = settings.WORKSHOP_DATA / FOLDER
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return Path(folder / CURRENT)


def _aside(fingerprint: str) -> Path:
    return _path().with_name(f"papers-{fingerprint.replace(' ', '')}.pem")


def _put(key: Ed25519PrivateKey, path: Path) -> None:
    """Write whole and then name it, and only if nobody else did: two first papers at once make one key."""
    data = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    half = path.with_name(f".{secrets.token_hex(8)}")
    with open(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as handle:
        handle.write(data)
        handle.flush()
        os.fsync(handle.fileno())
    try:
        os.link(half, path)
    except FileExistsError:
        pass
    finally:
        half.unlink()


def _read(path: Path) -> ShopKey:
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except (ValueError, TypeError, OSError) as error:
        raise KeyDamaged(f"The shop's key in {path} cannot be read; put it back from a backup.") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise KeyDamaged(f"The key in {path} is not an Ed25519 key.")
    raw = key.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)
    return ShopKey(key, raw.hex())
