"""The second half of `up`, on the shop's own Python: everything made ready, then the server, until Ctrl-C."""

import contextlib
import ctypes
import ctypes.util
import fcntl
import hashlib
import io
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from workshop import env
from workshop.installed import BASE_DIR, Sentence

PANGO_PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
# Two cores' worth: a page waits for the database more than it computes, and one PDF must not stop the others.
WORKERS = 2
THREADS = 8


def run(*, host: str, port: int, browser: bool) -> int:
    """Prepares the shop, serves it, and comes back when it is stopped."""
    look_for_pango()
    make_ready()
    shown = "localhost" if host in ("0.0.0.0", "::", "") else host  # noqa: S104
    address = f"http://{f'[{shown}]' if ':' in shown else shown}:{port}"
    welcome = "\n".join([f"The {_which()} is open at {address}/", *sign_in(address), _where()])
    _close_connections()
    keeper = os.getpid()
    # Held until this process and its workers are gone: nobody restores a backup under a running server.
    held = _hold_the_shop()
    try:
        _server(host, port, welcome, address if browser else "").run()
    except SystemExit as end:
        # The workers were forked in here, and leave this way too.
        if os.getpid() != keeper:
            raise
        _say("Stopped." if not end.code else "The server stopped with an error; its own words stand above.")
        return int(end.code or 0)
    finally:
        os.close(held)
    return 0


def _hold_the_shop() -> int:
    from django.conf import settings

    from workshop.exchange.backup import SERVING

    descriptor = os.open(settings.WORKSHOP_DATA / SERVING, os.O_RDWR | os.O_CREAT, 0o600)
    fcntl.flock(descriptor, fcntl.LOCK_SH)
    return descriptor


def look_for_pango() -> None:
    """Papers need Pango and a font; without them all but papers works, and WORKSHOP_PDF tells the pages so."""
    missing = pango_fault()
    if missing:
        os.environ["WORKSHOP_PDF"] = "0"
        _say(f"Papers cannot be made as PDF: {missing} All else works.")


def pango_fault() -> str:
    try:
        # WeasyPrint loads the libraries as it is imported, and prints a page of advice when that fails.
        with contextlib.redirect_stdout(io.StringIO()):
            import weasyprint  # noqa: F401
    except OSError:
        return (
            f"the system library Pango is missing; on Debian or Ubuntu run: apt-get install {PANGO_PACKAGES}"
        )
    return (
        ""
        if _has_fonts()
        else "no font is installed; on Debian or Ubuntu run: apt-get install fonts-dejavu-core"
    )


class _FontSet(ctypes.Structure):
    """The head of fontconfig's FcFontSet."""

    _fields_ = [("count", ctypes.c_int), ("room", ctypes.c_int), ("fonts", ctypes.c_void_p)]


def _has_fonts() -> bool:
    name = ctypes.util.find_library("fontconfig") or "libfontconfig.so.1"
    fontconfig = ctypes.CDLL(name)
    fontconfig.FcConfigGetFonts.restype = ctypes.POINTER(_FontSet)
    fontconfig.FcConfigGetFonts.argtypes = [ctypes.c_void_p, ctypes.c_int]
    if not fontconfig.FcInit():
        return False
    of_the_system = fontconfig.FcConfigGetFonts(None, 0)
    return bool(of_the_system) and of_the_system.contents.count > 0


def make_ready() -> None:
    """Database, static files and, in the demo, the demo shop."""
    # Not the settings of another project, left over in the terminal.
    os.environ["DJANGO_SETTINGS_MODULE"] = "workshop.settings"
    import django

    django.setup()
    _migrate()
    _collect_static()
    if env.flag("WORKSHOP_DEMO"):
        _load_demo()


def _migrate() -> None:
    from django.core.management import call_command
    from django.core.management.base import SystemCheckError
    from django.db import DatabaseError

    try:
        _keep_a_copy()
        # With its checks: they ask the database whether it is set as `settings.py` says.
        call_command("migrate", verbosity=0, interactive=False, skip_checks=False)
    except SystemCheckError as fault:
        raise Sentence(str(fault).strip()) from None
    except DatabaseError as fault:
        raise Sentence(_why_no_database(fault)) from None


def _keep_a_copy() -> None:
    """Before an upgrade changes the tables of a shop that is in use: the database as it was, beside the new one."""
    from django.conf import settings
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    known, done = executor.loader.disk_migrations or {}, executor.loader.applied_migrations
    if any(room in executor.loader.migrated_apps and (room, name) not in known for room, name in done):
        raise Sentence(
            "This shop's data was last used by a newer version; start that version, or restore a backup."
        )
    pending = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not (pending and done) or connection.vendor != "sqlite":
        return
    folder = env.make_private_folder(Path(settings.WORKSHOP_DATA) / "before-upgrade")
    copy = folder / f"shop-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.sqlite3"
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(copy)])
    _say(f"This version changes the tables; the database as it was is kept in {copy}")


def _why_no_database(fault: Exception) -> str:
    reason = " ".join(str(fault).split()).rstrip(".")
    if env.text("DATABASE_URL"):
        return f"The database that DATABASE_URL names cannot be used ({reason}); check that it runs and who may enter."
    from django.conf import settings

    place = settings.DATABASES["default"]["NAME"]
    return f"The database {place} cannot be used ({reason}); is the folder yours, and the disk not full?"


def _collect_static() -> None:
    """Collects and compresses the static files, when one of them (or what compresses them) has changed."""
    from django.conf import settings
    from django.core.management import call_command

    root = Path(settings.STATIC_ROOT)
    marker, mark = root / ".collected", _static_mark()
    if marker.is_file() and marker.read_text() == mark:
        return
    try:
        call_command("collectstatic", verbosity=0, interactive=False, clear=True)
        marker.write_text(mark)
    except OSError as fault:
        raise Sentence(
            f"The static files cannot be written to {root} ({fault.strerror}); is the folder yours?"
        ) from None


def _static_mark() -> str:
    from django.contrib.staticfiles.finders import get_finders

    digest = hashlib.sha256((BASE_DIR / ".lock" / "requirements.txt").read_bytes())
    for finder in get_finders():
        for name, storage in sorted(finder.list([]), key=lambda found: found[0]):
            facts = Path(storage.path(name)).stat()
            digest.update(f"{name} {facts.st_size} {facts.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def _load_demo() -> None:
    """Fills an empty demo shop; what the loader says about signing in is kept for the next starts."""
    from django.conf import settings
    from django.contrib.auth import get_user_model
    from django.core.management import call_command

    if get_user_model().objects.exists():
        return
    _say("Loading the demo shop …")
    said = io.StringIO()
    call_command("load_demo", stdout=said)
    kept = Path(settings.WORKSHOP_DATA) / "sign-in.txt"
    kept.write_text(said.getvalue())
    kept.chmod(0o600)


def sign_in(address: str) -> list[str]:
    """How to come in: the demo's invented hands, the owner's one-time link of a new shop, or nothing to say."""
    from django.conf import settings
    from django.contrib.auth import get_user_model
    from django.core.management import call_command

    if env.flag("WORKSHOP_DEMO"):
        kept = Path(settings.WORKSHOP_DATA) / "sign-in.txt"
        return kept.read_text().strip().splitlines() if kept.exists() else []
    if get_user_model().objects.exists():
        return []
    said = io.StringIO()
    call_command("owner_link", stdout=said)
    return [
        "It has no owner yet. Open this link once to make your account:",
        f"  {address}{said.getvalue().strip()}",
    ]


def _which() -> str:
    return "demo shop" if env.flag("WORKSHOP_DEMO") else "shop"


def _where() -> str:
    from django.conf import settings

    return f"Its data lies in {settings.WORKSHOP_DATA}. Ctrl-C stops it."


def _close_connections() -> None:
    """The workers are forked from this process, and a database connection must not be shared by two."""
    from django.db import connections

    connections.close_all()


def _server(host: str, port: int, welcome: str, browse: str) -> Any:
    """A gunicorn that serves this process's own application; forked, so that the workers start at once."""
    import logging

    from gunicorn.app.base import BaseApplication

    from workshop.logs import WithoutKeys

    # Gunicorn keeps no access log here; its few lines of its own may name an address all the same.
    logging.getLogger("gunicorn.error").addFilter(WithoutKeys())
    bind = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    options = {
        "bind": bind,
        "workers": env.whole("WORKSHOP_WORKERS", default=WORKERS, least=1, most=16),
        "worker_class": "gthread",
        "threads": env.whole("WORKSHOP_THREADS", default=THREADS, least=1, most=64),
        "preload_app": True,
        # A belt against slow growth in the PDF maker: a worker is renewed after some thousand pages.
        "max_requests": 2000,
        "max_requests_jitter": 200,
        "timeout": 120,
        "graceful_timeout": 10,
        "keepalive": 5,
        "loglevel": "warning",
        "proc_name": "workshop",
        # Its remote control would be one more door, and lies in the home folder, where two shops would meet.
        "control_socket_disable": True,
        "when_ready": lambda server: _greet(welcome, browse),
    }

    class Server(BaseApplication):
        def load_config(self) -> None:
            for name, value in options.items():
                self.cfg.set(name, value)

        def load(self) -> Any:
            from workshop.wsgi import application

            return application

    return Server()


def _greet(welcome: str, browse: str) -> None:
    print(f"\n{welcome}\n", flush=True)
    if browse and _has_screen():
        subprocess.Popen(
            [sys.executable, "-m", "webbrowser", browse],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )


def _has_screen() -> bool:
    return sys.platform == "darwin" or bool(env.text("DISPLAY") or env.text("WAYLAND_DISPLAY"))


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)
