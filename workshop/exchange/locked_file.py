"""A file locked with a passphrase: AES-256-GCM in pieces, the key by scrypt (RFC 7914); the format is written here.

``WORKSHOP-LOCKED-1\\n``, 16 bytes of salt, then pieces: each a length (4 bytes, big-endian; the highest bit marks the
last piece), and the sealed bytes (plain length + 16). The nonce of piece n is n in 12 bytes, and the mark of the last
piece is bound into it, so that pieces can be neither left out nor put in another order. The salt is new each time and
so is the key: no nonce is ever used twice with one key.
"""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import BinaryIO, Final

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

MAGIC: Final = b"WORKSHOP-LOCKED-1\n"
SALT_BYTES: Final = 16
PIECE: Final = 1 << 20
LAST: Final = 1 << 31
#: Cost of the passphrase: 64 MiB, about a third of a second; OWASP's password storage cheat sheet asks N=2^16, r=8, p=2
#: or the like (from memory).
COST_N, COST_R, COST_P = 1 << 16, 8, 2


class WrongPassphrase(Exception):
    """The passphrase does not open the file, or somebody changed the file."""


def is_locked(path: Path) -> bool:
    """Whether a file begins like a locked one."""
    with open(path, "rb") as handle:
        return handle.read(len(MAGIC)) == MAGIC


def lock(plain: BinaryIO, out: BinaryIO, passphrase: str) -> None:
    """Write ``plain`` to ``out``, locked."""
    salt = secrets.token_bytes(SALT_BYTES)
    out.write(MAGIC + salt)
    box = AESGCM(_key(passphrase, salt))
    piece, number = plain.read(PIECE), 0
    while True:
        following = plain.read(PIECE)
        last = not following
        sealed = box.encrypt(_nonce(number), piece, _bound(last))
        out.write((len(sealed) | (LAST if last else 0)).to_bytes(4, "big") + sealed)
        if last:
            return
        piece, number = following, number + 1


def unlock(locked: BinaryIO, out: BinaryIO, passphrase: str) -> None:
    """Write what was locked to ``out``. Raises WrongPassphrase; what was written by then is worth nothing."""
    if locked.read(len(MAGIC)) != MAGIC:
        raise WrongPassphrase("This is no locked file.")
    box, number = AESGCM(_key(passphrase, locked.read(SALT_BYTES))), 0
    while True:
        head = int.from_bytes(locked.read(4), "big")
        last, length = bool(head & LAST), head & (LAST - 1)
        if not 0 < length <= PIECE + 16:
            raise WrongPassphrase("The file is cut short.")
        try:
            out.write(box.decrypt(_nonce(number), locked.read(length), _bound(last)))
        except InvalidTag as error:
            raise WrongPassphrase("The passphrase is another one, or the file was changed.") from error
        if last:
            if locked.read(1):
                raise WrongPassphrase("Something was added to the file.")
            return
        number += 1


def _key(passphrase: str, salt: bytes) -> bytes:
    return Scrypt(salt=salt, length=32, n=COST_N, r=COST_R, p=COST_P).derive(passphrase.encode())


def _nonce(number: int) -> bytes:
    return number.to_bytes(12, "big")


def _bound(last: bool) -> bytes:
    return b"last" if last else b"more"
