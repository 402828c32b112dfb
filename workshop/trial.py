"""`manage.py test` and `manage.py check_all`: the same commands on a desk and in CI. Standard library only."""

import os
import subprocess
import sys
import time

from workshop.installed import BASE_DIR

# What does not touch the database, starts a shop of its own, or asks a browser, says nothing new on the second engine.
ALONE = [
    "tests/test_up*",
    "tests/test_env.py",
    "tests/test_logs.py",
    "tests/test_settings.py",
    "tests/test_static.py",
]
# A drawn page of a PDF, a word of a rule and a file on the disk are the same whatever lies beneath.
NO_DATABASE = [
    "tests/materials",
    "tests/exchange/test_backup.py",
    "tests/papers/test_sealing.py",
    "tests/papers/test_keys.py",
]
APART = ["tests/handbook", "tests/guards", *NO_DATABASE, *ALONE]
NOT_ON_POSTGRESQL = [*(f"--ignore-glob={place}" for place in APART), "-m", "not browser and not pdf"]


def run_tests(words: list[str]) -> int:
    """All tests on SQLite, then all that touch the database on PostgreSQL; or just what `words` (pytest's own) pick.

    `--postgresql` among the words runs the picked tests on a throw-away PostgreSQL instead.
    """
    if "--postgresql" in words:
        return _on_postgresql([word for word in words if word != "--postgresql"])
    if words and not all(word in ("--deep", "-q", "-v") for word in words):
        return _pytest(words)
    return worst([_pytest(words), _on_postgresql([*NOT_ON_POSTGRESQL, *words])])


def check_all(words: list[str]) -> int:
    """Every check, each told to the end, and the worst of their answers.

    CI splits it: `--only-install` stops before the first check, `--without-tests` after the last.
    """
    if words == ["--only-install"]:
        return 0
    answers = [step() for step in (_format, _lint, _types, _migrations)]
    if words != ["--without-tests"]:
        answers.append(run_tests(words))
    return worst(answers)


def worst(answers: list[int]) -> int:
    return next((answer for answer in answers if answer), 0)


def _format() -> int:
    return _step("ruff", "format", "--check", ".")


def _lint() -> int:
    return _step("ruff", "check", ".")


def _types() -> int:
    return _step("mypy")


def _migrations() -> int:
    return _step("django", "makemigrations", "--check", "--dry-run", DJANGO_SETTINGS_MODULE="tests.settings")


def _pytest(words: list[str], **more: str) -> int:
    # Two workers on two cores, a file to each at a time: what a file makes ready once is then made once.
    # A run that names its own number, or wants a debugger, keeps its way.
    alone = any(word.startswith(("-n", "--pdb", "--numprocesses")) for word in words)
    return _step("pytest", *([] if alone else ["-n", "auto", "--dist", "loadfile"]), *words, **more)


def _on_postgresql(words: list[str]) -> int:
    sys.path.insert(0, str(BASE_DIR))
    from tests import postgres
    from tests.absent import in_ci

    reason = postgres.why_not()
    if reason:
        print(f"The tests on PostgreSQL are {'missing' if in_ci() else 'skipped'}: {reason}.", flush=True)
        return 1 if in_ci() else 0
    with postgres.running() as url:
        return _pytest(words, DATABASE_URL=url)


def _step(module: str, *words: str, **more: str) -> int:
    where = " on PostgreSQL" if "DATABASE_URL" in more else ""
    print(f"→ {module} {' '.join(words)}{where}", flush=True)
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", module, *words], cwd=BASE_DIR, env={**os.environ, **more}, check=False
    )
    print(f"  {module} answered {done.returncode} after {time.monotonic() - began:.0f} s", flush=True)
    return done.returncode
