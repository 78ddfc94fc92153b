"""The examples in the docstrings of core give the results shown."""

import doctest
import importlib
from pathlib import Path

import pytest

from dosewright import core

FOLDER = Path(core.__file__).parent
MODULES = sorted(
    ".".join(("dosewright.core", *path.relative_to(FOLDER).with_suffix("").parts)).removesuffix(".__init__")
    for path in FOLDER.rglob("*.py")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples(name: str) -> None:
    ran = doctest.testmod(importlib.import_module(name), optionflags=doctest.NORMALIZE_WHITESPACE)
    assert ran.failed == 0


def test_every_example_is_run() -> None:
    """As many examples are found as the files hold prompts: none hides where doctest does not look."""
    finder = doctest.DocTestFinder()
    found = {name: finder.find(importlib.import_module(name)) for name in MODULES}
    run = {name: sum(len(test.examples) for test in tests) for name, tests in found.items()}
    written = {name: prompts(name) for name in MODULES}
    assert run == written
    assert sum(run.values()) >= 40


def prompts(name: str) -> int:
    lines = Path(importlib.import_module(name).__file__ or "").read_text(encoding="utf-8").splitlines()
    return sum(line.lstrip().startswith(">>> ") for line in lines)
