"""Writes what follows from the register: the typed calls of the clients, and the OpenAPI document.

For contributors: ``python sdk/generate.py`` from a checkout; ``--check`` only tells whether the files are
current.
"""

import argparse
import json
import subprocess
import sys
import textwrap
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, cast

import msgspec

import dosewright.topics  # noqa: F401 # pyright: ignore[reportUnusedImport] - registers the calculations
from dosewright.engine.fields import MISSING
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.field import Field
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, calculations, find
from dosewright.engine.writing import answer_fields

__all__ = ["calls_source", "digest", "main"]

_ROOT = Path(__file__).resolve().parents[1]
_WIDTH = 116


def main() -> int:
    """Write the files, or compare them; returns the exit status."""
    parser = argparse.ArgumentParser(prog="python sdk/generate.py", description=__doc__)
    parser.add_argument("--check", action="store_true", help="write nothing; fail if a file is not current")
    parser.add_argument("--release", action="store_true", help="keep the document's digest as the released contract")
    arguments = parser.parse_args()
    only_check = arguments.check
    if arguments.release:
        document = json.loads((_ROOT / "openapi" / "openapi.json").read_bytes())
        (_ROOT / "openapi" / "released.json").write_bytes(msgspec.json.encode(digest(document)) + b"\n")
    stale = [path for path, text in _files() if not path.exists() or path.read_text(encoding="utf-8") != text]
    if not only_check:
        for path, text in _files():
            path.write_text(text, encoding="utf-8")
    for path in stale:
        print(f"{'stale' if only_check else 'written'}: {path.relative_to(_ROOT)}")
    return 1 if stale and only_check else 0


_WORDS = frozenset({"description", "summary", "example", "examples", "title"})


def digest(part: Any, *, names: bool = False) -> Any:
    """Return a document without its words and examples, which break no client; `names` says that keys are names."""
    if isinstance(part, list):
        return [digest(inner) for inner in cast("list[Any]", part)]
    if not isinstance(part, dict):
        return part
    members = cast("dict[str, Any]", part)
    return {
        key: digest(inner, names=key in ("properties", "schemas", "paths"))
        for key, inner in members.items()
        if names or key not in _WORDS
    }


def _files() -> Iterator[tuple[Path, str]]:
    from dosewright.http.openapi.document import document  # noqa: PLC0415 - only contributors need the server extra

    yield _ROOT / "sdk" / "dosewright_sdk" / "_calls.py", calls_source()
    yield _ROOT / "sdk" / "dosewright_sdk" / "types.py", types_source()
    text = msgspec.json.encode(document()).decode()
    yield _ROOT / "openapi" / "openapi.json", text + "\n"


def calls_source() -> str:
    """Return the source of ``_calls.py``."""
    entries = list(calculations().values())
    topics = sorted({entry.topic for entry in entries})
    names = _ChoiceNames(entries)
    parts = [_HEAD]
    parts += [_imports(entries), "\n", names.source(), "\n"]
    for asynchronous in (False, True):
        for topic in topics:
            of_topic = [entry for entry in entries if entry.topic == topic]
            parts.append(_topic_class(topic, of_topic, names, asynchronous=asynchronous))
        parts.append(_all_topics(topics, asynchronous=asynchronous))
    return _formatted("".join(parts))


def types_source() -> str:
    """Return the source of ``types.py``."""
    entries = list(calculations().values())
    names = _ChoiceNames(entries)
    structs: dict[str, set[str]] = {}
    for entry in entries:
        answers = [entry.answer, *_answer_structs(entry.answer)]
        items = [struct for field in reader_for(entry.request).fields for struct in _item_structs(field)]
        for struct in [*answers, *items]:
            structs.setdefault(struct.__module__, set()).add(struct.__name__)
    structs["dosewright_sdk._calls"] = set(names.aliases.values())
    _refuse_namesakes(structs)
    imports = "".join(f"from {module} import {', '.join(sorted(structs[module]))}\n" for module in sorted(structs))
    exported = "".join(f'    "{name}",\n' for name in sorted(set[str]().union(*structs.values())))
    return _formatted(f"{_TYPES_HEAD}{imports}\n__all__ = [\n{exported}]\n")


def _refuse_namesakes(structs: dict[str, set[str]]) -> None:
    """Raise where two modules name different types alike: one would hide the other, here and in the document."""
    seen: dict[str, str] = {}
    for module, names in structs.items():
        for name in names:
            if name in seen:
                raise ValueError(f"{name} stands in {seen[name]} and in {module}: give one another name")
            seen[name] = module


_TYPES_HEAD = '''"""Every type a call takes or answers with. Generated by ``python sdk/generate.py``; do not edit."""

'''


def _answer_structs(struct: type[Any]) -> list[type[Any]]:
    found: list[type[Any]] = []
    for field in answer_fields(struct):
        if field.struct is not None:
            found += [field.struct, *_answer_structs(field.struct)]
    return found


def _formatted(source: str) -> str:
    """Return source as the project's formatter leaves it, so that what is written is also what is checked in."""
    command = [sys.executable, "-m", "ruff", "format", "--line-length", "120", "-"]
    return subprocess.run(command, input=source, capture_output=True, text=True, check=True).stdout  # noqa: S603


_HEAD = '''"""Typed calls, one method a calculation. Generated by ``python sdk/generate.py``; do not edit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal, Protocol, TypeAlias

from dosewright_sdk._keywords import checked

'''

_CALLERS = '''

class Caller(Protocol):
    """What sends a call and brings its answer."""

    def single(self, path: str, answer: Any, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation."""
        ...

    def batch(self, path: str, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation over columns."""
        ...


class AsyncCaller(Protocol):
    """As :class:`Caller`, for asyncio."""

    async def single(self, path: str, answer: Any, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation."""
        ...

    async def batch(self, path: str, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation over columns."""
        ...
'''


def _imports(entries: Iterable[Calculation[Any, Any]]) -> str:
    wanted: dict[str, set[str]] = {"dosewright.engine.base": {"BatchAnswer"}}
    for entry in entries:
        wanted.setdefault(entry.answer.__module__, set()).add(entry.answer.__name__)
        for field in reader_for(entry.request).fields:
            for struct in _item_structs(field):
                wanted.setdefault(struct.__module__, set()).add(struct.__name__)
    wanted["dosewright.quantities"] = {"Column", "QuantityInput", "UnitProfile"}
    lines: list[str] = []
    for module in sorted(wanted):
        line = f"from {module} import {', '.join(sorted(wanted[module]))}"
        if len(line) > _WIDTH:
            inside = "".join(f"    {name},\n" for name in sorted(wanted[module]))
            line = f"from {module} import (\n{inside})"
        lines.append(line)
    inside = "\n".join(lines).replace("\n", "\n    ")
    return f"if TYPE_CHECKING:\n    from datetime import date\n\n    {inside}\n"


def _item_structs(field: Field) -> list[type[Any]]:
    if isinstance(field, SectionField):
        return [find(field.calculation).request]
    if not isinstance(field, ItemsField):
        return []
    structs: list[type[Any]] = []
    for reader in field.readers.values():
        structs.append(reader.struct)
        for inner in reader.fields:
            structs += _item_structs(inner)
    return structs


class _ChoiceNames:
    """Gives each set of names in the requests an alias of its own."""

    def __init__(self, entries: Iterable[Calculation[Any, Any]]) -> None:
        self.aliases: dict[tuple[str, ...], str] = {}
        for entry in entries:
            for field in reader_for(entry.request).fields:
                if isinstance(field, ChoiceField) and field.names not in self.aliases:
                    alias = "".join(part.capitalize() for part in field.name.split("_"))
                    if alias in self.aliases.values():
                        alias = "".join(part.capitalize() for part in f"{entry.operation}_{field.name}".split("_"))
                    self.aliases[field.names] = alias

    def source(self) -> str:
        """Return the aliases as source."""
        lines = [_literal(alias, names) for names, alias in self.aliases.items()]
        return "".join(lines) + _CALLERS

    def names(self, names: tuple[str, ...]) -> str:
        """Return the alias of a set of names."""
        return self.aliases[names]

    def request(self, path: str) -> str:
        """Return the name of the request type of a calculation."""
        return find(path).request.__name__


def _literal(alias: str, names: Iterable[str]) -> str:
    quoted = [f'"{name}"' for name in names]
    line = f"{alias}: TypeAlias = Literal[{', '.join(quoted)}]\n"
    if len(line) <= _WIDTH:
        return line
    inside = "".join(f"    {name},\n" for name in quoted)
    return f"{alias}: TypeAlias = Literal[\n{inside}]\n"


def _annotation(field: Field, names: _ChoiceNames, *, batch: bool) -> str:
    kind = field.annotation(names, batch=batch)
    return kind if field.required else f"{kind} | None = None"


def _topic_class(
    topic: str, entries: Iterable[Calculation[Any, Any]], names: _ChoiceNames, *, asynchronous: bool
) -> str:
    prefix, caller = ("Async", "AsyncCaller") if asynchronous else ("", "Caller")
    methods = "".join(
        _method(entry, names, asynchronous=asynchronous, batch=batch)
        for entry in entries
        for batch in (False, True)
        if entry.batch or not batch
    )
    return f'''

class {prefix}{topic.capitalize()}Calls:
    """Calculations of the {topic} topic."""

    def __init__(self, caller: {caller}) -> None:
        self._caller = caller
{methods}'''


def _method(entry: Calculation[Any, Any], names: _ChoiceNames, *, asynchronous: bool, batch: bool) -> str:
    fields = sorted(reader_for(entry.request).fields, key=lambda field: field.default is not MISSING)
    name = entry.name.replace("-", "_") + ("_batch" if batch else "")
    parameters = [f"        {field.name}: {_annotation(field, names, batch=batch)}," for field in fields]
    parameters += [
        "        units: UnitProfile | None = None,",
        "        answer_units: Mapping[str, str] | None = None,",
    ]
    answer = f"{entry.answer.__name__}[float]"
    returned = f"BatchAnswer[{_column_names(entry)}]" if batch else answer
    start = "    async def" if asynchronous else "    def"
    wait = "await " if asynchronous else ""
    batched = ', "batch"' if batch else ""
    payload = [f'            "{field.name}": {field.name},' for field in fields]
    payload += ['            "units": units,', '            "answer_units": answer_units,']
    call = f'batch("{entry.path}", payload)' if batch else f'single("{entry.path}", {answer}, payload)'
    return "\n".join(
        [
            "",
            f'    @checked("{entry.path}"{batched})',
            f"{start} {name}(",
            "        self,",
            "        *,",
            *parameters,
            f"    ) -> {returned}:",
            _docstring(entry, fields, batch=batch),
            # A call loads its own contract, so that importing the client loads none.
            *([] if batch else [f"        from {entry.answer.__module__} import {entry.answer.__name__}", ""]),
            "        payload: dict[str, Any] = {",
            *payload,
            "        }",
            f"        return {wait}self._caller.{call}",
            "",
        ]
    )


def _column_names(entry: Calculation[Any, Any]) -> str:
    own = [f'"{field.name}"' for field in answer_fields(entry.answer) if field.struct is None]
    if not own:
        return "str"
    inside = ", ".join(own)
    if len(inside) < 70:
        return f"Literal[{inside}]"
    lines = "".join(f"            {name},\n" for name in own)
    return f"\n        Literal[\n{lines}        ]\n    "


def _docstring(entry: Calculation[Any, Any], fields: Iterable[Field], *, batch: bool) -> str:
    first = f"{entry.summary}, over columns." if batch else f"{entry.summary}."
    lines = ["", "Parameters", "----------"]
    for field in fields:
        lines.append(field.name)
        text = field.with_default(f"{field.doc} Allowed: {field.limits}." if field.limits else field.doc)
        lines += textwrap.wrap(text, _WIDTH - 12, initial_indent="    ", subsequent_indent="    ")
    lines += ["units", "    Unit profile of bare numbers and of the answer."]
    lines += ["answer_units", "    Units of single answer fields.", "", "Raises", "------", "InvalidRequestError"]
    lines += ["    With every fault found."]
    body = "\n".join(f"        {line}".rstrip() for line in lines)
    return f'        """{first}\n{body}\n        """'


def _all_topics(topics: Iterable[str], *, asynchronous: bool) -> str:
    prefix, caller = ("Async", "AsyncCaller") if asynchronous else ("", "Caller")
    lines = "".join(f"        self.{topic} = {prefix}{topic.capitalize()}Calls(caller)\n" for topic in topics)
    return f'''

class {prefix}Topics:
    """All calculations, by topic."""

    def __init__(self, caller: {caller}) -> None:
{lines}'''


if __name__ == "__main__":
    sys.exit(main())
