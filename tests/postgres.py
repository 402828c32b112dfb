"""A throw-away PostgreSQL for the tests: started by an unprivileged user in a folder of its own, gone afterwards."""

import glob
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

UNSAFE_BUT_QUICK = "-c fsync=off -c full_page_writes=off -c synchronous_commit=off -c max_connections=100"


def programs() -> Path | None:
    """The folder with initdb and pg_ctl, newest version first; Debian keeps it off the PATH."""
    found = shutil.which("initdb")
    folders = [Path(found).parent] if found else []
    folders += [Path(name) for name in glob.glob("/usr/lib/postgresql/*/bin")]
    folders.sort(key=lambda folder: [int(part) for part in folder.parts if part.isdigit()], reverse=True)
    usable = [folder for folder in folders if (folder / "initdb").exists() and (folder / "pg_ctl").exists()]
    return usable[0] if usable else None


def why_not() -> str:
    """Why no PostgreSQL can be started here; empty when one can."""
    if programs() is None:
        return "PostgreSQL is not installed (on Debian: apt-get install postgresql)"
    if os.geteuid() == 0 and _service_user() is None:
        return "PostgreSQL refuses to run as root, and there is no user named postgres to run it as"
    return ""


@contextmanager
def running() -> Iterator[str]:
    """The DATABASE_URL of a fresh cluster, for as long as the block lasts."""
    binaries = programs()
    if binaries is None:
        raise RuntimeError(why_not())
    # In /tmp whatever TMPDIR says: the path of a socket may have 107 bytes, no more.
    folder = Path(tempfile.mkdtemp(prefix="wpg", dir="/tmp"))
    data, log = folder / "data", folder / "log"
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres")
        _run(
            binaries / "initdb",
            "-D",
            data,
            "-U",
            "app",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C.UTF-8",
            "--no-sync",
        )
        options = f"-k {folder} -c listen_addresses='' {UNSAFE_BUT_QUICK}"
        _run(binaries / "pg_ctl", "-D", data, "-w", "-t", "60", "-l", log, "-o", options, "start")
        try:
            _run(binaries / "createdb", "-h", folder, "-U", "app", "app")
            yield f"postgresql://app@/app?host={folder}"
        finally:
            _run(binaries / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(*words: object) -> None:
    command = [str(word) for word in words]
    if os.geteuid() == 0:
        command = ["runuser", "-u", "postgres", "--", *command]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, cwd="/tmp", stdin=subprocess.DEVNULL
    )
    if done.returncode:
        raise RuntimeError(f"{' '.join(command)}\n{done.stdout}{done.stderr}")


def _service_user() -> pwd.struct_passwd | None:
    try:
        return pwd.getpwnam("postgres")
    except KeyError:
        return None
