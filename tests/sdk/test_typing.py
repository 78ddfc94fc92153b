"""What a type checker says of the client's calls: right ones pass strictly, mistakes are seen."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from contract_walk import numbers
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations
from dosewright.engine.writing import answer_fields

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dosewright.engine.fields.field import Field
    from dosewright.engine.reading.reader import StructReader
    from dosewright.engine.registry import Calculation

HERE = Path(__file__).parents[1] / "typing"
GENERATED = "every_call.py"


@pytest.fixture(scope="module")
def errors(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[int, str]]:
    """Return the lines that the checker finds fault with, by file, from one run over all files."""
    generated = tmp_path_factory.mktemp("typing") / GENERATED
    generated.write_text(every_call(), "utf-8")
    files = [*HERE.glob("*.py"), generated]
    command = [str(Path(sys.executable).parent / "pyright"), "--outputjson", "--pythonpath", sys.executable]
    ran = subprocess.run([*command, *map(str, files)], capture_output=True, text=True, timeout=300)
    told = json.loads(ran.stdout)
    assert told["summary"]["filesAnalyzed"] == len(files), ran.stderr
    found: dict[str, dict[int, str]] = {path.name: {} for path in files}
    for one in told["generalDiagnostics"]:
        if one["severity"] != "information":
            lines = found[Path(one["file"]).name]
            lines[one["range"]["start"]["line"] + 1] = one["message"]
    return found


def every_call() -> str:
    """Return calls of every method of the three doors with the examples, items written inline and by their types."""
    structs: set[str] = set()
    sync, asynchronous = [], []
    for entry in calculations().values():
        name = f"{entry.topic}.{entry.name.replace('-', '_')}"
        plain, typed = arguments(entry, None), arguments(entry, structs)
        answer = f"{entry.answer.__name__}[float]"
        structs.add(entry.answer.__name__)
        for wait, lines in (("", sync), ("await ", asynchronous)):
            lines.append(f"answer = {wait}door.{name}({plain})")
            lines.append(f"assert_type({wait}door.{name}({typed}, units='us'), {answer})")
            lines += [f"assert_type(answer.{field}, {kind})" for field, kind in kinds_of(entry)]
            if entry.batch:
                lines.append(f"assert_type(({wait}door.{name}_batch({typed})).units, dict[str, str])")
    indent = "\n    "
    return "\n".join(
        [
            "# pyright: strict",
            "from typing import assert_type",
            "from dosewright_sdk import AsyncClient, Client, InProcess",
            f"from dosewright_sdk.types import {', '.join(sorted(structs))}",
            f"def here(door: InProcess) -> None:{indent}{indent.join(sync)}",
            f"def remote(door: Client) -> None:{indent}{indent.join(sync)}",
            f"async def with_asyncio(door: AsyncClient) -> None:{indent}{indent.join(asynchronous)}",
            "",
        ]
    )


def arguments(entry: Calculation[Any, Any], structs: set[str] | None) -> str:
    reader = reader_for(entry.request)
    return ", ".join(
        f"{field.name}={written(field, entry.example[field.name], structs)}"
        for field in reader.fields
        if field.name in entry.example
    )


def written(field: Field, value: Any, structs: set[str] | None) -> str:
    """Return an example's value as source: plain data, or built from its types, whose names are kept."""
    if structs is None or not isinstance(field, ItemsField):
        return repr(value)
    if field.many:
        return f"[{', '.join(built(field, item, structs) for item in value)}]"
    return built(field, value, structs)


def built(field: ItemsField, item: Mapping[str, Any], structs: set[str]) -> str:
    reader: StructReader = field.readers[item.get("kind", "")]  # pyright: ignore[reportAssignmentType]
    structs.add(reader.struct.__name__)
    inside = (f"{one.name}={written(one, item[one.name], structs)}" for one in reader.fields if one.name in item)
    return f"{reader.struct.__name__}({', '.join(inside)})"


def kinds_of(entry: Calculation[Any, Any]) -> list[tuple[str, str]]:
    """Return the type of each numeric field of an answer itself."""
    own = {name for name, _ in numbers(entry.answer) if "." not in name}
    return [
        (field.name, "float | None" if field.optional else "float")
        for field in answer_fields(entry.answer)
        if field.name in own
    ]


def test_right_uses_pass_strictly(errors: dict[str, dict[int, str]]) -> None:
    assert errors["uses.py"] == {}


def test_every_method_of_every_door_takes_its_example_and_answers_floats(errors: dict[str, dict[int, str]]) -> None:
    source = every_call().splitlines()
    told = [f"{source[line - 1].strip()[:200]}: {message[:300]}" for line, message in errors[GENERATED].items()]
    assert told == []


def test_mistakes_are_seen_on_their_lines_and_nowhere_else(errors: dict[str, dict[int, str]]) -> None:
    lines = (HERE / "mistakes.py").read_text("utf-8").splitlines()
    marked = {number for number, line in enumerate(lines, 1) if line.endswith("# mistake")}
    assert len(marked) > 30
    assert set(errors["mistakes.py"]) == marked
