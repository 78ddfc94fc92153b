"""Names are written once: those in tables in the data files, all others in one place of the code."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import get_args

import pytest

import table_names
from dosewright.tables import names

SOURCES = Path(names.__file__).parents[1]
GENERATED = Path(names.__file__)


def listed(path: Path) -> list[tuple[str, frozenset[str]]]:
    """Every closed list of texts in a module, with its place."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "Literal":
            parts = node.slice.elts if isinstance(node.slice, ast.Tuple) else [node.slice]
            texts = frozenset(part.value for part in parts if isinstance(part, ast.Constant))
            if len(texts) > 1:
                found.append((f"{path.relative_to(SOURCES)}:{node.lineno}", texts))
    return found


WRITTEN = [one for path in sorted(SOURCES.rglob("*.py")) if path != GENERATED for one in listed(path)]


def test_the_code_has_closed_lists_to_check() -> None:
    assert len(WRITTEN) > 20


@pytest.mark.parametrize("name", table_names.COLUMNS)
def test_names_of_a_table_are_generated_and_typed_nowhere(name: str) -> None:
    column = table_names.COLUMNS[name]
    generated = get_args(getattr(names, name))
    assert generated == table_names.names_of(column)
    assert len(generated) > 1
    message = f"{name} is in tables/data/{column.table}.csv: import it from dosewright.tables.names"
    assert [place for place, texts in WRITTEN if texts == set(generated)] == [], message


def test_no_closed_list_is_typed_twice() -> None:
    places: dict[frozenset[str], list[str]] = {}
    for place, texts in WRITTEN:
        places.setdefault(texts, []).append(place)
    assert {tuple(sorted(texts)): where for texts, where in places.items() if len(where) > 1} == {}
