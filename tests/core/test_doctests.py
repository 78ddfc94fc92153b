"""The examples in the docstrings of core give the results shown."""

import doctest
import importlib
import pkgutil

import pytest

from dosewright import core

MODULES = sorted(found.name for found in pkgutil.walk_packages(core.__path__, "dosewright.core.") if not found.ispkg)


@pytest.mark.parametrize("name", MODULES)
def test_examples(name: str) -> None:
    ran = doctest.testmod(importlib.import_module(name), optionflags=doctest.NORMALIZE_WHITESPACE)
    assert ran.failed == 0


def test_there_are_examples() -> None:
    finder = doctest.DocTestFinder()
    examples = [test for name in MODULES for test in finder.find(importlib.import_module(name)) if test.examples]
    assert len(examples) >= 10
