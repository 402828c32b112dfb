"""The two pages of words keep up with the code: every variable, command, floor and picture they should name is there."""

import re
from pathlib import Path

import pytest

from tests.guards.test_floors import FLOORS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def variables():
    found = set()
    for path in (ROOT / "workshop").rglob("*.py"):
        found |= set(re.findall(r"\"(WORKSHOP_[A-Z_]+|DATABASE_URL)\"", path.read_text()))
    return sorted(found)


def commands():
    return sorted(
        path.stem
        for path in (ROOT / "workshop").glob("*/management/commands/*.py")
        if path.stem != "__init__"
    )


@pytest.mark.parametrize("name", variables())
def test_every_variable_is_explained(name):
    assert f"`{name}`" in DEVELOPERS


@pytest.mark.parametrize("name", [*commands(), "up", "test", "check_all"])
def test_every_command_is_explained(name):
    assert re.search(rf"manage\.py {name}\b", DEVELOPERS)


@pytest.mark.parametrize("room", sorted(FLOORS))
def test_every_room_that_is_there_has_its_floor_in_words(room):
    if (ROOT / "workshop" / room).exists():
        assert f"`{room}/`" in DEVELOPERS


def test_the_readme_opens_with_the_job_then_the_two_commands():
    paragraphs = [part for part in README.split("\n\n") if part and not part.startswith("#")]
    assert 200 < len(paragraphs[0]) < 1200
    assert README.index("manage.py up --demo") < README.index("![")
    assert "manage.py test" in README


def test_every_picture_the_readme_shows_is_there_and_small():
    shown = re.findall(r"!\[([^\]]+)\]\(([^)]+)\)", README)
    assert len(shown) >= 4
    for words, place in shown:
        assert words
        assert (ROOT / place).stat().st_size < 150_000, place
