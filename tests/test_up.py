"""`manage.py up` before anything is installed: each thing that can be in the way gets one sentence with its remedy."""

import ast
import builtins
import socket
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from workshop import env, installed, up
from workshop.installed import Sentence

BASE_DIR = Path(__file__).resolve().parent.parent


@pytest.fixture(autouse=True)
def _clean_environment(monkeypatch, tmp_path):
    for name in ("WORKSHOP_DEMO", "WORKSHOP_HOSTS", "DATABASE_URL"):
        monkeypatch.setenv(name, "")
        monkeypatch.delenv(name)
    monkeypatch.setenv("WORKSHOP_DATA", str(tmp_path / "data"))


def said(words: list[str], capsys) -> str:
    """What `manage.py …` tells on standard error when it stops at once."""
    assert up.main(["manage.py", *words]) == 2
    sentence = capsys.readouterr().err.strip()
    assert "\n" not in sentence, "one sentence, on one line"
    assert "Traceback" not in sentence
    return sentence


# Too old a Python.


def test_manage_py_can_be_read_by_an_old_python():
    ast.parse((BASE_DIR / "manage.py").read_text(), feature_version=(3, 4))
    assert "f'" not in (BASE_DIR / "manage.py").read_text()
    assert 'f"' not in (BASE_DIR / "manage.py").read_text()


def test_too_old_a_python_is_told_which_one_is_needed(monkeypatch):
    import manage

    monkeypatch.setattr(
        manage, "sys", SimpleNamespace(version_info=(3, 9, 2), version="3.9.2 (main)", exit=sys.exit)
    )
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer; this is 3\.9\.2"):
        manage.main()


# Options.


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--porr", "8000"], "unrecognized arguments: --porr 8000"),
        (["--port", "eighty"], "'eighty' is not a port; give a number from 1 to 65535"),
        (["--port", "70000"], "'70000' is not a port"),
        (["--port", "0"], "'0' is not a port"),
        (["--port"], "expected one argument"),
        (["--dem"], "unrecognized arguments"),
        (["shop"], "unrecognized arguments: shop"),
    ],
)
def test_a_wrong_option_is_told_with_the_right_ones(words, why, capsys):
    sentence = said(["up", *words], capsys)
    assert why in sentence
    assert "its options are --demo, --port NUMBER, --host ADDRESS and --no-browser" in sentence


def test_help_names_each_option(capsys):
    with pytest.raises(SystemExit) as end:
        up.main(["manage.py", "up", "--help"])
    assert end.value.code == 0
    help_text = capsys.readouterr().out
    assert all(option in help_text for option in ("--demo", "--port", "--host", "--no-browser"))


# Address and port.


def test_a_busy_port_is_told_with_another_to_try(capsys):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        assert f"Port {port} is busy" in said(["up", "--port", str(port)], capsys)


def test_an_address_of_another_machine_is_told(capsys):
    # 192.0.2.0/24 is kept for documentation: RFC 5737, section 3.
    assert "192.0.2.7 is no address of this machine" in said(
        ["up", "--host", "192.0.2.7", "--port", "8765"], capsys
    )


def test_every_address_needs_the_names_it_answers_to(capsys):
    assert "WORKSHOP_HOSTS" in said(["up", "--host", "0.0.0.0"], capsys)


def test_an_address_given_is_an_address_allowed(monkeypatch):
    monkeypatch.setenv("WORKSHOP_HOSTS", "bench.local")
    up.prepare_environment(up.read_options(["--host", "192.168.1.5"]))
    assert env.words("WORKSHOP_HOSTS") == ["bench.local", "192.168.1.5"]
    up.prepare_environment(up.read_options(["--host", "::1"]))
    assert "[::1]" in env.words("WORKSHOP_HOSTS")


# Data.


def test_a_data_folder_that_cannot_be_made_is_told(monkeypatch, tmp_path, capsys):
    (tmp_path / "file").touch()
    monkeypatch.setenv("WORKSHOP_DATA", str(tmp_path / "file" / "data"))
    sentence = said(["up"], capsys)
    assert "cannot be made" in sentence
    assert "WORKSHOP_DATA" in sentence


def test_a_data_folder_without_write_access_is_told(monkeypatch, tmp_path, capsys):
    # Root may write anywhere, so the answer of the system is given by hand.
    monkeypatch.setattr(env.os, "access", lambda path, mode: False)
    assert "cannot be written to" in said(["up"], capsys)


@pytest.mark.parametrize("url", ["mysql://root@localhost/shop", "postgresql://localhost"])
def test_a_bad_database_url_stops_before_anything_is_installed(monkeypatch, url, capsys):
    monkeypatch.setattr(installed, "ensure", lambda lock: pytest.fail("installed nevertheless"))
    monkeypatch.setenv("DATABASE_URL", url)
    assert "DATABASE_URL" in said(["up"], capsys)


def test_the_demo_is_never_loaded_into_a_real_database(monkeypatch, capsys):
    monkeypatch.setenv("DATABASE_URL", "postgresql://ada@localhost/shop")
    assert "unset it, or leave out --demo" in said(["up", "--demo"], capsys)


# The other commands.


def test_a_command_before_the_first_start_names_the_first_start(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(installed, "PYTHON", tmp_path / "none")
    plain_import = builtins.__import__

    def without_django(name, *rest, **more):
        if name.startswith("django"):
            raise ImportError(name)
        return plain_import(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without_django)
    assert said(["shell"], capsys) == "The shop is not installed yet; run: python3 manage.py up"


def test_a_command_goes_on_in_the_shops_own_python(monkeypatch):
    seen = []

    def reenter(argv):
        seen.append(argv)
        raise Sentence("went on there")

    monkeypatch.setattr(installed, "inside", lambda: False)
    monkeypatch.setattr(installed, "PYTHON", Path(sys.executable))
    monkeypatch.setattr(installed, "reenter", reenter)
    assert up.main(["manage.py", "check"]) == 2
    assert seen == [["manage.py", "check"]]


def test_ctrl_c_while_it_prepares_ends_without_a_traceback(monkeypatch, capsys):
    def interrupted(lock):
        raise KeyboardInterrupt

    monkeypatch.setattr(installed, "ensure", interrupted)
    monkeypatch.setattr(up, "_refuse_a_busy_port", lambda host, port: None)
    assert up.main(["manage.py", "up"]) == 130
    assert capsys.readouterr().err.strip() == "Stopped."
