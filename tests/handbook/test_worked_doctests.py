"""The worked example in a docstring is a promise: each one in the handbook is run."""

import doctest
import importlib
import pkgutil

import pytest

from workshop import handbook

CHAPTERS = [
    m.name for m in pkgutil.walk_packages(handbook.__path__, "workshop.handbook.") if ".tables." not in m.name
]


@pytest.mark.parametrize("name", CHAPTERS)
def test_examples_in_docstrings_hold(name):
    found = doctest.testmod(importlib.import_module(name))
    assert found.failed == 0


def test_there_are_examples_to_run():
    finder = doctest.DocTestFinder()
    examples = sum(len(t.examples) for name in CHAPTERS for t in finder.find(importlib.import_module(name)))
    assert examples >= 4
