"""The examples in the docstrings run and print what they say."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest
import rootling

WALKED = [found.name for found in pkgutil.walk_packages(rootling.__path__, "rootling.")]
NAMES = [name for name in WALKED if not name.startswith("rootling._core")]


@pytest.mark.parametrize("name", ["rootling", *NAMES])
def test_examples(name: str) -> None:
    failed, _ = doctest.testmod(importlib.import_module(name))
    assert failed == 0


def test_there_are_examples() -> None:
    finder = doctest.DocTestFinder()
    found = [test for name in NAMES for test in finder.find(importlib.import_module(name)) if test.examples]
    assert len(found) >= 20
