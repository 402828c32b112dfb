"""The shop's own Python: made once, filled by hash, and told in a sentence when it cannot be."""

import hashlib
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from workshop import installed
from workshop.installed import DEV_LOCK, RUN_LOCK, Sentence


@pytest.fixture(scope="module")
def empty_venv(tmp_path_factory):
    """A real virtual environment with nothing but pip in it; made once, since making one takes seconds."""
    base = tmp_path_factory.mktemp("checkout")
    subprocess.run([sys.executable, "-m", "venv", str(base / ".venv")], check=True)
    return base


@pytest.fixture
def checkout(empty_venv, monkeypatch):
    """`installed` at work in a checkout of its own, without a marker, and with no package index but the one given."""
    for marker in (empty_venv / ".venv").glob("installed-*"):
        marker.unlink()
    monkeypatch.setattr(installed, "BASE_DIR", empty_venv)
    monkeypatch.setattr(installed, "VENV", empty_venv / ".venv")
    monkeypatch.setattr(installed, "PYTHON", empty_venv / ".venv" / "bin" / "python")
    monkeypatch.setattr(installed, "RUN_LOCK", empty_venv / "requirements.txt")
    for name in [name for name in os.environ if name.startswith("PIP_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/simple")
    monkeypatch.setenv("PIP_RETRIES", "0")
    return empty_venv


def wheel(folder: Path) -> Path:
    """The smallest package there is."""
    path = folder / "pebble-1.0-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as out:
        out.writestr("pebble.py", "weight_ct = '1.000'\n")
        out.writestr("pebble-1.0.dist-info/METADATA", "Metadata-Version: 2.1\nName: pebble\nVersion: 1.0\n")
        out.writestr(
            "pebble-1.0.dist-info/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
        )
        out.writestr("pebble-1.0.dist-info/RECORD", "")
    return path


def lock(checkout: Path, package: Path, sha256: str) -> Path:
    file = checkout / "requirements.txt"
    file.write_text(f"pebble @ file://{package} --hash=sha256:{sha256}\n")
    return file


def test_installs_by_hash_and_the_second_time_does_nothing(checkout, tmp_path, monkeypatch):
    package = wheel(tmp_path)
    file = lock(checkout, package, hashlib.sha256(package.read_bytes()).hexdigest())
    installed.ensure(file)
    there = subprocess.run(
        [installed.PYTHON, "-c", "import pebble; print(pebble.weight_ct)"], capture_output=True
    )
    assert there.stdout.strip() == b"1.000"

    monkeypatch.setattr(installed, "_install", lambda lock: pytest.fail("installed twice"))
    installed.ensure(file)


def test_a_changed_lock_is_installed_again(checkout, tmp_path, monkeypatch):
    package = wheel(tmp_path)
    file = lock(checkout, package, hashlib.sha256(package.read_bytes()).hexdigest())
    installed.ensure(file)
    file.write_text(file.read_text() + "# a new pin\n")
    seen = []
    monkeypatch.setattr(installed, "_install", seen.append)
    installed.ensure(file)
    assert seen == [file]


def test_a_package_that_differs_from_the_lock_stops_the_start(checkout, tmp_path):
    file = lock(checkout, wheel(tmp_path), "0" * 64)
    with pytest.raises(Sentence, match="differs from the one this version of the shop was tested with"):
        installed.ensure(file)
    assert not (installed.VENV / "installed-requirements").exists()


def test_no_network_is_told(checkout):
    file = checkout / "requirements.txt"
    file.write_text(f"pebble-that-is-not-here==1.0 --hash=sha256:{'0' * 64}\n")
    with pytest.raises(Sentence, match="package index could not be reached; connect to the internet"):
        installed.ensure(file)


@pytest.mark.parametrize("part", ["venv", "ensurepip"])
def test_a_python_without_venv_is_told_debians_package(checkout, monkeypatch, part):
    find_spec = installed.importlib.util.find_spec
    monkeypatch.setattr(
        installed.importlib.util, "find_spec", lambda name: None if name == part else find_spec(name)
    )
    monkeypatch.setattr(installed, "_works", lambda: False)
    with pytest.raises(Sentence, match="apt-get install python3-venv"):
        installed.ensure(checkout / "requirements.txt")


def test_a_venv_whose_python_is_gone_counts_as_none(checkout, monkeypatch, tmp_path):
    assert installed._works()
    broken = tmp_path / ".venv"
    (broken / "bin").mkdir(parents=True)
    (broken / "bin" / "python").symlink_to(tmp_path / "python-that-was-upgraded-away")
    monkeypatch.setattr(installed, "VENV", broken)
    monkeypatch.setattr(installed, "PYTHON", broken / "bin" / "python")
    assert not installed._works()


def test_a_checkout_without_write_access_is_told(checkout, monkeypatch):
    (checkout / "requirements.txt").write_text("# nothing\n")
    monkeypatch.setattr(installed.os, "access", lambda path, mode: False)
    with pytest.raises(Sentence, match="copy the checkout to a folder of your own"):
        installed.ensure(checkout / "requirements.txt")


def pins(file: Path) -> dict[str, str]:
    lines = [
        line.split(" ")[0]
        for line in file.read_text().splitlines()
        if "==" in line and not line.startswith(" ")
    ]
    return dict(line.split("==") for line in lines)


def test_what_the_tests_run_on_holds_all_that_the_shop_runs_on():
    assert pins(RUN_LOCK).items() <= pins(DEV_LOCK).items()


def test_every_pin_has_hashes():
    for file in (RUN_LOCK, DEV_LOCK):
        text = file.read_text()
        for name, version in pins(file).items():
            after = text.split(f"\n{name}=={version} ", 1)[1]
            assert after.lstrip(" \\\n").startswith("--hash=sha256:"), f"{name} in {file.name}"


def test_the_lock_holds_the_versions_that_pyproject_names():
    import tomllib

    project = tomllib.loads((installed.BASE_DIR / "pyproject.toml").read_text())["project"]
    named = dict(
        dependency.replace("[binary]", "").lower().split("==") for dependency in project["dependencies"]
    )
    assert named.items() <= pins(RUN_LOCK).items()
    dev = dict(dependency.lower().split("==") for dependency in project["optional-dependencies"]["dev"])
    assert dev.items() <= pins(DEV_LOCK).items()
