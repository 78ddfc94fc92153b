"""Each public function of core names its source, in its docstring: a document, or what it is without one."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from dosewright import core

KINDS = (
    "Definition",
    "Mass balance",
    "Energy balance",
    "Charge balance",
    "Derived here",
    "Textbook form",
    "Textbook method",
    "Common practice, no source",
)
"""What a function without a document says under `Source`, before a colon."""
SECTION = re.compile(r"^(Source|References)\n-+\n((?:.+\n?)+)", re.MULTILINE)
DOCUMENT = re.compile(r"\b1[89]\d\d\b|\b20\d\d\b|\bsection \d|\bchapter \d|\d-\d")


def public_functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for found in pkgutil.walk_packages(core.__path__, "dosewright.core."):
        module = importlib.import_module(found.name)
        for name, held in vars(module).items():
            if inspect.isfunction(held) and held.__module__ == found.name and not name.startswith("_"):
                yield f"{found.name.removeprefix('dosewright.core.')}.{name}", held


FUNCTIONS = dict(public_functions())


def fault_of(text: str, near: set[str]) -> str:
    """Return what is missing, and what to write; empty if nothing is. `near` names the functions beside it."""
    found = SECTION.search(text)
    if not found:
        return f"Add a section `References` with the document, or `Source` that starts with one of {KINDS}."
    head, body = found[1], " ".join(found[2].split())
    if head == "Source":
        return "" if body.startswith(tuple(f"{kind}:" for kind in KINDS)) else f"Start `Source` with one of {KINDS}."
    other = re.match(r"As for `(\w+)`", body)
    if other:
        return "" if other[1] in near else f"`{other[1]}` is no function beside it."
    return "" if DOCUMENT.search(body) else "Name the document with its year or section under `References`."


@pytest.mark.parametrize("name", FUNCTIONS)
def test_it_names_its_source(name: str) -> None:
    module = name.rpartition(".")[0]
    near = {other.rpartition(".")[2] for other in FUNCTIONS if other.rpartition(".")[0] == module and other != name}
    assert fault_of(inspect.getdoc(FUNCTIONS[name]) or "", near) == "", name


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Area.", "Add a section"),
        ("Area.\n\nSource\n------\nEverybody knows.", "Start `Source` with"),
        ("Area.\n\nReferences\n----------\nA handbook.", "Name the document with its year"),
        ("Area.\n\nReferences\n----------\nAs for `volume`.", "`volume` is no function beside it."),
    ],
)
def test_a_missing_source_is_noticed(text: str, expected: str) -> None:
    assert fault_of(text, {"area"}).startswith(expected)


def test_every_source_that_is_written_is_accepted_in_its_form() -> None:
    assert fault_of("Area.\n\nSource\n------\nDefinition: area of a circle.", set()) == ""
    assert fault_of("Area.\n\nReferences\n----------\nAs for `volume`.", {"volume"}) == ""
