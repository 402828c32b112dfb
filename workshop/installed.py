"""The shop's own Python in `.venv`, holding exactly what the lock file says. Standard library only."""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

BASE_DIR = Path(__file__).resolve().parent.parent
VENV = BASE_DIR / ".venv"
PYTHON = VENV / "bin" / "python"
RUN_LOCK = BASE_DIR / ".lock" / "requirements.txt"
DEV_LOCK = BASE_DIR / ".lock" / "dev.txt"


class Sentence(Exception):
    """What went wrong and what to do about it, in one sentence for the person at the terminal."""


def inside() -> bool:
    """Is this process already running on the shop's own Python?"""
    return Path(sys.prefix).resolve() == VENV.resolve()


def ensure(lock: Path) -> None:
    """Makes `.venv` and installs `lock` into it, unless a marker says that this was done before."""
    if _is_current(lock):
        return
    if not os.access(BASE_DIR, os.W_OK):
        raise Sentence(
            f"The folder {BASE_DIR} cannot be written to, and the shop installs its parts there (.venv); "
            "change its owner, or copy the checkout to a folder of your own."
        )
    with _one_at_a_time():
        if _is_current(lock):
            return
        if not _works():
            _make()
        _install(lock)
        # What the tests run on holds all that the shop runs on, so with the second lock the first is met too.
        for met in {lock, RUN_LOCK}:
            _marker(met).write_text(_fingerprint(met))


def reenter(argv: list[str]) -> None:
    """Goes on with the same command on the shop's own Python; does not come back."""
    os.execv(PYTHON, [str(PYTHON), str(BASE_DIR / "manage.py"), *argv[1:]])


def _marker(lock: Path) -> Path:
    return VENV / f"installed-{lock.stem}"


def _fingerprint(lock: Path) -> str:
    try:
        return hashlib.sha256(lock.read_bytes()).hexdigest()
    except OSError as fault:
        raise Sentence(
            f"The lock file {lock} cannot be read ({fault.strerror}); fetch the checkout anew."
        ) from None


def _is_current(lock: Path) -> bool:
    marker = _marker(lock)
    return marker.is_file() and marker.read_text() == _fingerprint(lock) and _works()


def _works() -> bool:
    """A venv outlives the Python it was made with (an upgrade, a moved checkout); then it must be made again."""
    if not PYTHON.exists():
        return False
    probe = "import sys, pip; print(sys.prefix, sys.version_info >= (3, 11))"
    done = subprocess.run([str(PYTHON), "-c", probe], capture_output=True, text=True, check=False)
    if done.returncode:
        return False
    prefix, new_enough = done.stdout.strip().rsplit(" ", 1)
    return Path(prefix).resolve() == VENV.resolve() and new_enough == "True"


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Two commands started at once on a fresh checkout: the second waits for the first one's installation."""
    import fcntl

    descriptor = os.open(BASE_DIR, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def _make() -> None:
    if not (importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip")):
        raise Sentence(
            "This Python cannot make a virtual environment (its venv or ensurepip part is missing); "
            "on Debian or Ubuntu run: apt-get install python3-venv"
        )
    _say(f"Making the shop's own Python in {VENV} …")
    if VENV.exists():
        shutil.rmtree(VENV)
    done = subprocess.run(
        [sys.executable, "-m", "venv", str(VENV)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        shutil.rmtree(VENV, ignore_errors=True)
        raise Sentence(
            f"The virtual environment {VENV} could not be made: {_last_line(done.stdout + done.stderr)}"
        )


def _install(lock: Path) -> None:
    _say(f"Installing what {lock.relative_to(BASE_DIR)} lists; the first time this takes a minute or two …")
    command = [str(PYTHON), "-m", "pip", "install", "--quiet", "--no-input", "--disable-pip-version-check"]
    command += ["--require-hashes", "--only-binary", ":all:", "--retries", "3", "-r", str(lock)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        print(done.stdout + done.stderr, file=sys.stderr)
        raise Sentence(_why(done.stdout + done.stderr))


def _why(output: str) -> str:
    """What pip's many lines come down to."""
    if "DO NOT MATCH THE HASHES" in output:
        return (
            "A package differs from the one this version of the shop was tested with, so nothing was started; "
            "try again, and if it stays so ask where your packages come from."
        )
    if "No space left" in output:
        return f"The disk that holds {VENV} is full; make room (about 600 MB) and start again."
    if any(
        word in output
        for word in (
            "Failed to establish",
            "NameResolution",
            "ConnectTimeout",
            "ReadTimeout",
            "ProxyError",
            "Retrying",
        )
    ):
        return (
            "The package index could not be reached; connect to the internet "
            "(only this first start needs it) and start again."
        )
    if "No matching distribution" in output:
        return (
            "A package is not to be had for this Python and machine (pip's own words stand above); "
            "the shop is tested on Linux with Python 3.11 to 3.13."
        )
    return f"The installation failed (pip's own words stand above): {_last_line(output)}"


def _last_line(output: str) -> str:
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    return lines[-1] if lines else "it gave no reason."


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)
