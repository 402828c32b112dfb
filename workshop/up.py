"""What `manage.py` does before Django is there: `up`, `test`, `check_all`, and the way into the shop's own Python.

Standard library only: on a fresh machine nothing else is installed yet.
"""

import argparse
import os
import socket
import sys
from collections.abc import Callable
from typing import NoReturn

from workshop import env, installed
from workshop.installed import Sentence

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8000
ANY_ADDRESS = ("0.0.0.0", "::", "")  # noqa: S104


def main(argv: list[str]) -> int:
    """Runs the command line; a fault that has a remedy ends with one sentence and status 2."""
    commands: dict[str, Callable[[list[str]], int]] = {"up": up, "test": test, "check_all": check_all}
    try:
        own = commands.get(argv[1]) if len(argv) > 1 else None
        return own(argv) if own else django(argv)
    except (Sentence, env.EnvironmentFault) as fault:
        print(fault, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130


def up(argv: list[str]) -> int:
    """Makes what is missing, then serves the shop until Ctrl-C."""
    options = read_options(argv[2:])
    _refuse_other_systems()
    prepare_environment(options)
    _refuse_a_busy_port(options.host, options.port)
    installed.ensure(installed.RUN_LOCK)
    if not installed.inside():
        installed.reenter(argv)
    from workshop import serve

    return serve.run(host=options.host, port=options.port, browser=not options.no_browser)


def test(argv: list[str]) -> int:
    """Installs what the tests need, then runs them."""
    _into_the_test_environment(argv)
    from workshop import trial

    return trial.run_tests(argv[2:])


def check_all(argv: list[str]) -> int:
    """Format, lint, types, migrations, tests: all that CI asks."""
    _into_the_test_environment(argv)
    from workshop import trial

    return trial.check_all(argv[2:])


def django(argv: list[str]) -> int:
    """Any other command is Django's, or one of a room's own."""
    if not installed.inside() and installed.PYTHON.exists():
        installed.reenter(argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        raise Sentence("The shop is not installed yet; run: python3 manage.py up") from None
    execute_from_command_line(argv)
    return 0


def _into_the_test_environment(argv: list[str]) -> None:
    _refuse_other_systems()
    installed.ensure(installed.DEV_LOCK)
    if not installed.inside():
        installed.reenter(argv)


class _Reader(argparse.ArgumentParser):
    """Says what is wrong in one sentence, instead of a page of usage."""

    def error(self, message: str) -> NoReturn:
        raise Sentence(
            f"up: {message}; its options are --demo, --port NUMBER, --host ADDRESS and --no-browser."
        )


def read_options(words: list[str]) -> argparse.Namespace:
    reader = _Reader(
        prog="manage.py up", description="Start the shop on this machine.", allow_abbrev=False, add_help=True
    )
    reader.add_argument(
        "--demo", action="store_true", help="the invented demo shop, in a data folder of its own"
    )
    reader.add_argument(
        "--port", type=_port, default=DEFAULT_PORT, help=f"where to listen (default {DEFAULT_PORT})"
    )
    reader.add_argument(
        "--host", default=DEFAULT_HOST, help=f"this machine's address (default {DEFAULT_HOST})"
    )
    reader.add_argument("--no-browser", action="store_true", help="do not open a browser")
    return reader.parse_args(words)


def _port(said: str) -> int:
    try:
        number = int(said)
    except ValueError:
        number = 0
    if not 1 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{said!r} is not a port; give a number from 1 to 65535")
    return number


def prepare_environment(options: argparse.Namespace) -> None:
    """Says to the settings what the options said, and finds early what would stop the shop later."""
    if options.demo:
        os.environ["WORKSHOP_DEMO"] = "1"
    _name_the_host(options.host)
    url = env.text("DATABASE_URL")
    if url and env.flag("WORKSHOP_DEMO"):
        raise Sentence(
            "The demo shop keeps to its own folder, but DATABASE_URL names a database; unset it, or leave out --demo."
        )
    if url:
        env.postgresql(url)
    env.make_private_folder(env.data_folder(installed.BASE_DIR))


def _name_the_host(host: str) -> None:
    names = env.words("WORKSHOP_HOSTS")
    if host in ANY_ADDRESS:
        if not names:
            raise Sentence(
                f"With --host {host or '(empty)'} the shop answers on every address of this machine; say in "
                "WORKSHOP_HOSTS by which names (with commas) it may be called, or give --host one address."
            )
        return
    name = f"[{host}]" if ":" in host else host
    if name not in names:
        os.environ["WORKSHOP_HOSTS"] = ",".join([*names, name])


def _refuse_a_busy_port(host: str, port: int) -> None:
    try:
        address = socket.getaddrinfo(host or None, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)[0]
        with socket.socket(address[0], socket.SOCK_STREAM) as door:
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            door.bind(address[4])
    except socket.gaierror:
        raise Sentence(
            f"{host!r} is no address of this machine; leave out --host to use {DEFAULT_HOST}."
        ) from None
    except PermissionError:
        raise Sentence(
            f"Port {port} is kept for the system; give a number above 1023, such as --port 8000."
        ) from None
    except OSError as fault:
        raise Sentence(_why_not_bound(host, port, fault)) from None


def _why_not_bound(host: str, port: int, fault: OSError) -> str:
    import errno

    if fault.errno == errno.EADDRINUSE:
        other = port + 1 if port < 65535 else DEFAULT_PORT
        return f"Port {port} is busy (another shop, or another program); give another one, such as --port {other}."
    if fault.errno == errno.EADDRNOTAVAIL:
        return f"{host} is no address of this machine; leave out --host to use {DEFAULT_HOST}."
    return f"The shop cannot listen on {host} port {port}: {fault.strerror}; try another --host or --port."


def _refuse_other_systems() -> None:
    if os.name != "posix":
        raise Sentence("The shop runs on Linux and macOS; on Windows use it inside WSL (Debian or Ubuntu).")
