"""A machine is lost, the shop is not: backups made in use, tried, locked, kept by rule, and brought back whole."""

import io
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
import zipfile
from datetime import UTC, date, datetime, timedelta

import pytest
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from workshop.exchange import backup, locked_file

AT = datetime(2026, 11, 25, 14, 30, tzinfo=UTC)
PHRASE = "north light and water"


@pytest.fixture
def data(tmp_path):
    """A data folder as a shop leaves it: a database in use, pictures, keys, a secret."""
    return make_shop(tmp_path / "data", stones=50)


def make_shop(folder, stones):
    folder.mkdir(mode=0o700)
    with sqlite3.connect(folder / "shop.sqlite3") as database:
        database.execute("PRAGMA journal_mode=WAL")
        database.execute("CREATE TABLE stone (id INTEGER PRIMARY KEY, code TEXT, weight_ct INTEGER)")
        database.executemany(
            "INSERT INTO stone (code, weight_ct) VALUES (?, ?)", [(f"S-{n:04d}", n) for n in range(stones)]
        )
    for name, bytes_ in {
        "media/photos/ab/x.jpg": b"\xff\xd8picture",
        "keys/papers.pem": b"key",
        "secret_key": b"s",
    }.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(bytes_)
    return folder


def stones_in(folder):
    with sqlite3.connect(folder / "shop.sqlite3") as database:
        return database.execute("SELECT COUNT(*) FROM stone").fetchone()[0]


def everything(folder):
    return {
        str(one.relative_to(folder)): one.read_bytes()
        for one in folder.rglob("*")
        if one.is_file() and not one.name.startswith("shop.sqlite3") and not one.name.endswith(".lock")
    }


@pytest.mark.parametrize("passphrase", ["", PHRASE])
def test_what_was_backed_up_comes_back(data, tmp_path, passphrase):
    made = backup.make(data, tmp_path / "kept", at=AT, passphrase=passphrase)
    assert made.rows == {"stone": 50}
    assert made.path.stat().st_mode & 0o777 == 0o600
    restored, safety = backup.restore(made.path, tmp_path / "new", at=AT, passphrase=passphrase)
    assert safety is None
    assert restored.made_at == AT
    assert stones_in(tmp_path / "new") == 50
    assert everything(tmp_path / "new") == everything(data)


def test_it_is_made_while_the_shop_writes(data, tmp_path):
    """A writer in the middle of a transaction: the backup holds what was committed, and nothing of the rest."""
    with sqlite3.connect(data / "shop.sqlite3") as writer:
        writer.execute("BEGIN IMMEDIATE")
        writer.execute("DELETE FROM stone")
        made = backup.make(data, tmp_path / "kept", at=AT)
        writer.rollback()
    assert made.rows == {"stone": 50}


def test_the_shop_that_was_there_is_kept(data, tmp_path):
    made = backup.make(data, tmp_path / "kept", at=AT)
    with sqlite3.connect(data / "shop.sqlite3") as database:
        database.execute("INSERT INTO stone (code, weight_ct) VALUES ('S-9999', 1)")
    _, safety = backup.restore(made.path, data, at=AT)
    assert stones_in(data) == 50
    assert safety is not None
    assert stones_in(safety) == 51


def test_nothing_is_restored_under_a_running_server(data, tmp_path):
    import fcntl

    made = backup.make(data, tmp_path / "kept", at=AT)
    with open(data / backup.SERVING, "w") as held:
        fcntl.flock(held, fcntl.LOCK_SH)
        with pytest.raises(backup.BackupFault, match="stop the server"):
            backup.restore(made.path, data, at=AT)


def test_a_fresh_folder_with_a_key_of_its_own_makes_room(data, tmp_path):
    made = backup.make(data, tmp_path / "kept", at=AT)
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    (fresh / "secret_key").write_text("made by the command itself")
    _, safety = backup.restore(made.path, fresh, at=AT)
    assert safety is None
    assert (fresh / "secret_key").read_text() == "s"


@pytest.mark.parametrize("seed", range(8))
def test_a_damaged_backup_is_refused_and_nothing_moves(data, tmp_path, seed):
    made = backup.make(data, tmp_path / "kept", at=AT, passphrase=PHRASE if seed % 2 else "")
    chance, packed = random.Random(seed), bytearray(made.path.read_bytes())
    if seed % 3:
        packed = packed[: chance.randrange(len(packed))]
    else:
        # The first tenth holds the database's own bytes; a bit in a zip's time stamps harms nothing and is no fault.
        packed[chance.randrange(60, len(packed) // 10)] ^= 1 << chance.randrange(8)
    made.path.write_bytes(bytes(packed))
    before = everything(data)
    with pytest.raises(backup.BackupFault):
        backup.restore(made.path, data, at=AT, passphrase=PHRASE)
    assert everything(data) == before
    assert stones_in(data) == 50
    assert sorted(one.name for one in tmp_path.iterdir()) == ["data", "kept"]


def test_another_passphrase_opens_nothing(data, tmp_path):
    made = backup.make(data, tmp_path / "kept", at=AT, passphrase=PHRASE)
    for wrong in ("", "north light"):
        with pytest.raises(backup.BackupFault):
            backup.verify(made.path, passphrase=wrong)
    assert b"S-0001" not in made.path.read_bytes()


@pytest.mark.parametrize("evil", ["../out.txt", "/tmp/out-of-the-house.txt"])
def test_a_file_that_would_leave_its_folder_is_refused(tmp_path, evil):
    path = tmp_path / "evil.zip"
    manifest = json.dumps({"format": 1, "made_at": AT.isoformat(), "rows": {}, "files": {evil: "0"}})
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("manifest.json", manifest)
        packed.writestr(evil, "x")
    with pytest.raises(backup.BackupFault, match="leave its folder"):
        backup.restore(path, tmp_path / "data", at=AT)


@pytest.mark.parametrize(
    "bytes_", [b"", b"not a zip", b"PK\x05\x06" + b"\0" * 18, locked_file.MAGIC + b"short"]
)
def test_what_is_no_backup_is_told_so(tmp_path, bytes_):
    (tmp_path / "file.zip").write_bytes(bytes_)
    with pytest.raises(backup.BackupFault):
        backup.restore(tmp_path / "file.zip", tmp_path / "data", at=AT, passphrase=PHRASE)


def test_no_backup_goes_into_the_shop_itself_or_comes_from_nowhere(data, tmp_path):
    with pytest.raises(backup.BackupFault, match="outside the data folder"):
        backup.make(data, data / "kept", at=AT)
    with pytest.raises(backup.BackupFault, match="no shop"):
        backup.make(tmp_path / "nowhere", tmp_path / "kept", at=AT)


# --- The lock ---------------------------------------------------------------------------------------------------------


def test_the_key_is_scrypt_as_its_rfc_says():
    """RFC 7914, section 12, third vector: the library's scrypt is the one of the standard."""
    made = Scrypt(salt=b"SodiumChloride", length=64, n=16384, r=8, p=1).derive(b"pleaseletmein")
    assert made.hex().startswith("7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2")


@pytest.mark.parametrize(
    "size", [0, 1, locked_file.PIECE - 1, locked_file.PIECE, locked_file.PIECE + 1, 3 * locked_file.PIECE]
)
def test_a_lock_gives_back_what_went_in(size):
    plain, locked, out = io.BytesIO(os.urandom(size)), io.BytesIO(), io.BytesIO()
    locked_file.lock(plain, locked, PHRASE)
    locked.seek(0)
    locked_file.unlock(locked, out, PHRASE)
    assert out.getvalue() == plain.getvalue()


def test_pieces_cannot_change_places_or_be_left_out():
    locked = io.BytesIO()
    locked_file.lock(io.BytesIO(os.urandom(3 * locked_file.PIECE)), locked, PHRASE)
    data, step = locked.getvalue(), locked_file.PIECE + 16 + 4
    start = len(locked_file.MAGIC) + locked_file.SALT_BYTES
    one, two, three = (
        data[start : start + step],
        data[start + step : start + 2 * step],
        data[start + 2 * step :],
    )
    for pieces in (two + one + three, one + three, one + two, one + two + three + three):
        with pytest.raises(locked_file.WrongPassphrase):
            locked_file.unlock(io.BytesIO(data[:start] + pieces), io.BytesIO(), PHRASE)


# --- Which are kept ---------------------------------------------------------------------------------------------------


def names(days, hour=3):
    return [f"workshop-{day:%Y%m%d}T{hour:02d}0000Z.zip" for day in days]


def test_seven_days_four_weeks_and_twelve_months_stay():
    today = date(2026, 11, 25)
    daily = names(today - timedelta(days=n) for n in range(500))
    kept = sorted(set(daily) - set(backup.to_drop(daily)), reverse=True)
    assert kept[:7] == daily[:7]
    # Besides the seven days: the newest of each of the four last weeks and of the twelve last months.
    weeks = {date.fromisoformat(f"{n[9:13]}-{n[13:15]}-{n[15:17]}").isocalendar()[:2] for n in kept}
    months = {n[9:15] for n in kept}
    assert len(months) == 12
    assert len(kept) <= 7 + 4 + 12
    assert {(2026, 48), (2026, 47), (2026, 46), (2026, 45)} <= weeks


def test_of_one_day_the_newest_stays_and_strangers_are_left_alone():
    day = [date(2026, 11, 25)]
    several = [*names(day, 3), *names(day, 12), "notes.txt", "workshop-old.zip", *names(day, 20)]
    assert sorted(backup.to_drop(several)) == sorted([*names(day, 3), *names(day, 12)])


# --- Killed at any moment ---------------------------------------------------------------------------------------------

DOING = """
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from workshop.exchange import backup
deed, path, data, kept = sys.argv[1:]
at = datetime(2026, 11, 25, 14, 30, tzinfo=UTC)
print("ready", flush=True)
if deed == "restore":
    backup.restore(Path(path), Path(data), at=at)
else:
    backup.make(Path(data), Path(kept), at=at)
"""


@pytest.mark.parametrize("deed", ["make", "restore"])
def test_a_process_killed_at_any_moment_leaves_a_whole_shop(data, tmp_path, deed, request):
    kept = tmp_path / "kept"
    made = backup.make(make_shop(tmp_path / "older", stones=30), kept, at=AT - timedelta(days=1))
    chance = random.Random(7)
    for round_ in range(100 if request.config.getoption("--deep") else 6):
        doing = subprocess.Popen(
            [sys.executable, "-c", DOING, deed, str(made.path), str(data), str(kept)], stdout=subprocess.PIPE
        )
        assert doing.stdout is not None
        doing.stdout.readline()
        time.sleep(chance.random() * 0.06)
        doing.send_signal(signal.SIGKILL)
        doing.wait()
        doing.stdout.close()
        assert stones_in(data) in {30, 50}, round_
        assert (data / "media/photos/ab/x.jpg").read_bytes() == b"\xff\xd8picture"
        for one in kept.iterdir():
            if backup.NAME.fullmatch(one.name):
                backup.verify(one)
        for one in tmp_path.iterdir():
            if "-before-" in one.name:
                # The shop that was there is whole too, wherever the kill fell.
                assert stones_in(one) in {30, 50}
                one.rename(tmp_path / f"aside-{round_}")
