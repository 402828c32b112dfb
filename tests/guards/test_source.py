"""What the source must not hold: inline script and style, trust in strange text, addresses of other hosts, shared notes."""

import re
from pathlib import Path

import pytest
from django.core.management import call_command

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
#: Paper templates are turned into PDFs by our own locked renderer and never served as pages.
PAGES = [path for path in TEMPLATES if "papers" not in path.parts or "pdf" not in path.parts]
PYTHON = sorted((ROOT / "workshop").rglob("*.py"))

#: The places that may call text safe, each because it builds markup from parts it has escaped itself.
SAFE = {
    "workshop/common/icons.py", "workshop/common/templatetags/furniture.py", "workshop/common/say.py",
}  # fmt: skip


def name_of(path):
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("path", PAGES, ids=name_of)
def test_pages_hold_no_inline_script_or_style(path):
    text = path.read_text()
    printed = "papers" in path.parts
    assert not re.search(r"<script(?![^>]*\bsrc=)", text), "inline script"
    assert not re.search(r"\son[a-z]+=[\"']", text), "inline handler"
    assert printed or not re.search(r"\sstyle\s*=|<style", text), "inline style"
    assert "|safe" not in text and "autoescape off" not in text


def test_nothing_is_loaded_from_another_host():
    for path in [*TEMPLATES, *(ROOT / "workshop").rglob("*.css"), *(ROOT / "workshop").rglob("*.js")]:
        found = re.findall(r"""(?:src|href|url)\s*[=(]\s*["']?(?:https?:)?//[^\s"')]+""", path.read_text())
        assert not [link for link in found if "w3.org" not in link and "a " in link], (path, found)
        loaded = re.findall(
            r"""<(?:script|link|img|iframe)[^>]+(?:src|href)=["'](?:https?:)?//""", path.read_text()
        )
        assert not loaded, path


def test_strange_text_is_trusted_nowhere():
    guilty = [
        name_of(path)
        for path in PYTHON
        if "mark_safe" in path.read_text() and name_of(path) not in SAFE
        and "templatetags" not in path.parts
    ]  # fmt: skip
    assert not guilty


def test_the_product_never_reads_the_shared_notes():
    for path in [*PYTHON, *TEMPLATES, *(ROOT / "tests").rglob("*.py")]:
        if path != Path(__file__):
            assert "../shared" not in path.read_text() and "/work/shared" not in path.read_text(), path


def test_every_top_level_entry_is_one_of_the_house():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "manage.py",
        "pyproject.toml",
        "workshop",
        "templates",
        "tests",
        "fixtures",
    }
    there = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert there <= allowed


@pytest.mark.django_db
def test_no_migration_is_missing():
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)
