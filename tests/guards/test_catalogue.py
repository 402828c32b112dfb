"""The German catalogue is whole and compiled: what papers print is in it, and its two files say the same.

Nothing here needs the gettext tools: the compiled file is read with the standard library, the source with ``ast``.
"""

import ast
import gettext
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.utils.translation.template import templatize

from tests.messages import table_messages

FOLDER = Path(settings.LOCALE_PATHS[0]) / "de" / "LC_MESSAGES"
ROOT = settings.BASE_DIR
PLACES = re.compile(r"%\(\w+\)s")
ASKED = {"_", "gettext", "gettext_lazy", "pgettext", "pgettext_lazy"}


def read_po(path):
    """Every entry as ((context, id), text); only what our own file uses of the format."""
    found, entry, part = {}, {}, ""
    for line in [*path.read_text().splitlines(), ""]:
        if not line:
            if "msgid" in entry:
                key = (entry.get("msgctxt", ""), entry["msgid"])
                assert key not in found, f"twice: {key}"
                found[key] = entry["msgstr"]
            entry = {}
        elif not line.startswith("#"):
            word, _, quoted = line.partition(" ") if line.startswith("msg") else (part, "", line)
            part = word
            entry[part] = entry.get(part, "") + ast.literal_eval(quoted)
    return found


def read_mo(path):
    with path.open("rb") as handle:
        catalogue = gettext.GNUTranslations(handle)._catalog
    split = (key.rpartition("\x04") for key in catalogue)
    return {(context, words): catalogue[f"{context}{mark}{words}"] for context, mark, words in split}


@pytest.fixture(scope="module")
def german():
    found = read_po(FOLDER / "django.po")
    del found["", ""]
    return found


def test_the_compiled_catalogue_says_what_its_source_says(german):
    compiled = read_mo(FOLDER / "django.mo")
    compiled.pop(("", ""))
    assert compiled == german


def test_every_entry_is_translated_with_the_same_places(german):
    assert all(text.strip() for text in german.values())
    wrong = [
        words for (_context, words), text in german.items()
        if sorted(PLACES.findall(words)) != sorted(PLACES.findall(text))
    ]  # fmt: skip
    assert wrong == []


def test_every_text_of_the_tables_is_translated(german):
    assert table_messages() - set(german) == set()


def in_python(path):
    """The message ids a module asks for by name, each with its context."""
    for call in ast.walk(ast.parse(path.read_text())):
        name = getattr(getattr(call, "func", None), "id", "")
        if name in ASKED and all(isinstance(one, ast.Constant) for one in call.args):
            words = [one.value for one in call.args]
            yield tuple(words) if name.startswith("pgettext") else ("", words[0])


def in_template(path):
    for words in re.findall(
        r"gettext\(u?('(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")\)", templatize(path.read_text())
    ):
        yield ("", ast.literal_eval(words))


def asked_for():
    found = {key for path in (ROOT / "workshop").rglob("*.py") for key in in_python(path)}
    for path in (ROOT / "templates").rglob("*.html"):
        if "translate" in path.read_text():
            found |= set(in_template(path))
    return found


def test_every_text_of_the_source_is_translated(german):
    found = asked_for()
    assert len(found) > 300 and ("", "Care") in found and ("", "not tested") in found
    assert found - set(german) == set()


def test_no_entry_is_left_over(german):
    """An entry nobody asks for any more is a sentence that was changed in English alone."""
    dynamic = {("a day, as the date filter of Django spells it", "j M Y")}
    assert set(german) - asked_for() - table_messages() - dynamic == set()
