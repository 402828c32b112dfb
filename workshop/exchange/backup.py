"""The whole shop in one file, made while it is in use, and brought back: database, pictures, papers' keys, secret key.

A backup is a plain zip, readable without us: ``manifest.json`` says when, with which version, how many rows each table
had, and the SHA-256 of every file. It counts only once it was opened again and tried. The database is copied first and
the files after it: files are only ever added, under the hash of what they hold, so every row finds its file.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import fcntl
import hashlib
import json
import os
import re
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any, Final

from . import locked_file

FORMAT: Final = 1
MANIFEST, DATABASE = "manifest.json", "shop.sqlite3"
#: What of the data folder goes along, besides the database.
FOLDERS, FILES = ("media", "keys"), ("secret_key",)
NAME: Final = re.compile(r"workshop-(\d{4})(\d\d)(\d\d)T\d{6}Z\.(?:zip|locked)")
DAILY, WEEKLY, MONTHLY = 7, 4, 12
SERVING: Final = "serving.lock"
"""Held, shared, by a server for as long as it runs."""
LOCKS: Final = ("write.lock", SERVING)


class BackupFault(Exception):
    """What is wrong with a backup or its place, in a sentence."""


@dataclass(frozen=True)
class Backup:
    """A backup that was tried: where it lies, when it was made, how many rows and files it holds."""

    path: Path
    made_at: datetime
    rows: dict[str, int]
    files: int


def make(data: Path, folder: Path, *, at: datetime, passphrase: str = "") -> Backup:
    """Make a backup of the shop in ``data`` and try it. Nothing with a backup's name is left behind by a failure."""
    if not (data / DATABASE).is_file():
        raise BackupFault(f"There is no shop in {data}.")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if folder.resolve() == data.resolve() or data.resolve() in folder.resolve().parents:
        raise BackupFault(
            "Keep backups outside the data folder, best on another disk: one lost disk would take both."
        )
    name = f"workshop-{at:%Y%m%dT%H%M%SZ}.{'locked' if passphrase else 'zip'}"
    with tempfile.TemporaryDirectory(dir=folder, prefix=".making-") as half:
        packed = Path(half) / "backup.zip"
        _pack(data, packed, Path(half), at)
        if passphrase:
            locked = Path(half) / "backup.locked"
            with open(packed, "rb") as plain, open(locked, "wb") as out:
                locked_file.lock(plain, out, passphrase)
            packed.unlink()
            packed = locked
        _flushed(packed)
        tried = verify(packed, passphrase=passphrase)
        os.chmod(packed, 0o600)
        os.replace(packed, folder / name)
    _flushed(folder)
    return replace(tried, path=folder / name)


def _pack(data: Path, packed: Path, work: Path, at: datetime) -> None:
    copy = work / DATABASE
    with (
        contextlib.closing(_reading(data / DATABASE)) as source,
        contextlib.closing(sqlite3.connect(copy)) as target,
    ):
        source.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")
    rows = _rows(copy)
    inside = {DATABASE: copy}
    for name in FILES:
        if (data / name).is_file():
            inside[name] = data / name
    for name in FOLDERS:
        inside |= {
            str(one.relative_to(data)): one for one in sorted((data / name).rglob("*")) if one.is_file()
        }
    manifest: dict[str, Any] = {"format": FORMAT, "made_at": at.isoformat(), "rows": rows, "files": {}}
    with zipfile.ZipFile(packed, "w", allowZip64=True) as out:
        for name, path in inside.items():
            # Pictures are packed already; only the database shrinks.
            out.write(path, name, zipfile.ZIP_DEFLATED if name == DATABASE else zipfile.ZIP_STORED)
            manifest["files"][name] = _sha256(path)
        out.writestr(MANIFEST, json.dumps(manifest, indent=1, sort_keys=True))


def verify(path: Path, *, passphrase: str = "") -> Backup:
    """Open a backup as a restore would and try all of it. Raises BackupFault."""
    with tempfile.TemporaryDirectory(prefix="workshop-try-") as place:
        return unpack(path, Path(place), passphrase=passphrase)


def unpack(path: Path, place: Path, *, passphrase: str = "") -> Backup:
    """Everything of a backup into an empty folder, every file compared with its hash, the database with its counts."""
    with _opened(path, passphrase) as packed:
        manifest = _manifest(packed)
        for name, sha in manifest["files"].items():
            target = place / name
            if not target.resolve().is_relative_to(place.resolve()):
                raise BackupFault(f"{path.name} holds a file that would leave its folder.")
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            try:
                with packed.open(name) as source, open(target, "wb") as out:
                    shutil.copyfileobj(source, out, 1 << 20)
            except (
                Exception
            ) as fault:  # a damaged archive raises all sorts, from zlib's errors to an end of file
                raise BackupFault(f"{path.name} is damaged at {name}.") from fault
            os.chmod(target, 0o600)
            if _sha256(target) != sha:
                raise BackupFault(f"{path.name} is damaged at {name}.")
    _try_database(place / DATABASE, manifest["rows"], path.name)
    return Backup(path, datetime.fromisoformat(manifest["made_at"]), manifest["rows"], len(manifest["files"]))


def _manifest(packed: zipfile.ZipFile) -> dict[str, Any]:
    try:
        manifest: dict[str, Any] = json.loads(packed.read(MANIFEST))
    except (KeyError, ValueError, zipfile.BadZipFile) as fault:
        raise BackupFault("This file is no backup of a workshop.") from fault
    if manifest.get("format") != FORMAT:
        raise BackupFault("This backup was made by another version; restore it with that one.")
    return manifest


@contextlib.contextmanager
def _opened(path: Path, passphrase: str) -> Iterator[zipfile.ZipFile]:
    try:
        locked = locked_file.is_locked(path)
    except OSError as fault:
        raise BackupFault(f"{path} cannot be read ({fault.strerror}).") from fault
    if not locked:
        with _zip(path) as packed:
            yield packed
        return
    if not passphrase:
        raise BackupFault(f"{path.name} is locked: give its passphrase.")
    with tempfile.TemporaryFile() as plain:
        with open(path, "rb") as handle:
            try:
                locked_file.unlock(handle, plain, passphrase)
            except locked_file.WrongPassphrase as fault:
                raise BackupFault(f"{path.name} does not open: {fault}") from fault
        with _zip(plain) as packed:
            yield packed


def _zip(source: Path | IO[bytes]) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(source)
    except zipfile.BadZipFile as fault:
        raise BackupFault("This file is no backup of a workshop, or was cut short.") from fault


def _try_database(path: Path, rows: dict[str, int], name: str) -> None:
    try:
        with contextlib.closing(_reading(path)) as database:
            sound = database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            orphans = database.execute("PRAGMA foreign_key_check").fetchone()
        if not sound or orphans is not None or _rows(path) != rows:
            raise BackupFault(f"The database in {name} is damaged.")
    except sqlite3.DatabaseError as fault:
        raise BackupFault(f"The database in {name} is damaged.") from fault


def _rows(path: Path) -> dict[str, int]:
    with contextlib.closing(_reading(path)) as database:
        names = database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        )
        tables = sorted(str(name) for (name,) in names.fetchall())
        return {name: database.execute(f'SELECT COUNT(*) FROM "{name}"').fetchone()[0] for name in tables}  # noqa: S608


def _reading(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=30)


# --- Which to keep ----------------------------------------------------------------------------------------------------


def to_drop(names: list[str]) -> list[str]:
    """Of the backups by these names, those beyond the last of 7 days, 4 weeks and 12 months; the newest always stays.

    Names that are no backup's are left alone.
    """
    dated = sorted(((name, _day(name)) for name in names if NAME.fullmatch(name)), reverse=True)
    keep: set[str] = set()
    for most, period in ((DAILY, _by_day), (WEEKLY, _by_week), (MONTHLY, _by_month)):
        newest: dict[Any, str] = {}
        for name, day in dated:
            newest.setdefault(period(day), name)
        keep.update(list(newest.values())[:most])
    return [name for name, _ in dated if name not in keep]


def _day(name: str) -> date:
    found = NAME.fullmatch(name)
    assert found is not None
    year, month, day = map(int, found.groups())
    return date(year, month, day)


def _by_day(day: date) -> Any:
    return day


def _by_week(day: date) -> Any:
    return day.isocalendar()[:2]


def _by_month(day: date) -> Any:
    return day.year, day.month


# --- Bringing back ----------------------------------------------------------------------------------------------------


def restore(path: Path, data: Path, *, at: datetime, passphrase: str = "") -> tuple[Backup, Path | None]:
    """Put a backup in the place of what lies in ``data``, which is kept beside it: (backup, where the old one lies).

    Everything is unpacked and tried in a folder beside; then the two change places in one step, so that a process
    killed at any moment leaves either the old shop or the new one, whole. Raises BackupFault; nothing has moved then.
    """
    data = data.resolve()
    data.parent.mkdir(parents=True, exist_ok=True)
    with _nobody_serving(data):
        place = Path(tempfile.mkdtemp(dir=data.parent, prefix=f".{data.name}-restoring-"))
        try:
            backup = unpack(path, place, passphrase=passphrase)
            _flush_all(place)
            safety = _change_places(place, data, at)
        except BaseException:
            shutil.rmtree(place, ignore_errors=True)
            raise
    return backup, safety


def _change_places(new: Path, data: Path, at: datetime) -> Path | None:
    if not data.exists() or not any(data.iterdir()):
        if data.exists():
            data.rmdir()
        os.rename(new, data)
        return None
    if not (data / DATABASE).exists() and {one.name for one in data.iterdir()} <= {*FILES, *LOCKS}:
        # Made by the very command that restores: a key of its own and no shop.
        _exchange(new, data)
        shutil.rmtree(new)
        return None
    safety = data.with_name(f"{data.name}-before-{at:%Y%m%dT%H%M%SZ}")
    if safety.exists():
        raise BackupFault(f"{safety} is in the way; try again in a second.")
    _exchange(new, data)
    os.rename(new, safety)
    _flushed(data.parent)
    return safety


def _exchange(one: Path, other: Path) -> None:
    """Two folders change names at once (Linux ``renameat2``; two steps where the file system cannot)."""
    libc = ctypes.CDLL(None, use_errno=True)
    at_cwd, exchange = -100, 2
    if hasattr(libc, "renameat2"):
        done = libc.renameat2(at_cwd, os.fsencode(one), at_cwd, os.fsencode(other), exchange)
        if done == 0:
            return
        fault = ctypes.get_errno()
        if fault not in {errno.EINVAL, errno.ENOSYS}:
            why = os.strerror(fault)
            raise BackupFault(f"{other} cannot be replaced ({why}); restore into a new folder and name that.")
    aside = one.with_name(f"{one.name}-aside")
    os.rename(other, aside)
    os.rename(one, other)
    os.rename(aside, one)


@contextlib.contextmanager
def _nobody_serving(data: Path) -> Iterator[None]:
    if not data.is_dir():
        yield
        return
    with open(data / SERVING, "a", encoding="ascii") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            raise BackupFault("The shop is open: stop the server first.") from fault
        yield
    (data / SERVING).unlink(missing_ok=True)


def _flush_all(place: Path) -> None:
    for one in place.rglob("*"):
        _flushed(one)
    _flushed(place)


def _flushed(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _sha256(path: Path) -> str:
    with open(path, "rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()
