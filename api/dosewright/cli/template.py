"""A file to start from, and the schema by which an editor checks it; both made from the contract."""

import json
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any, cast

from dosewright.engine.fields.field import Field
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.engine.sentences import capitalised
from dosewright.http.openapi.document import document, flat, schemas_used
from dosewright.http.openapi.quantity_schemas import camel, ref

__all__ = ["schema", "template"]

_WIDTH = 100


def template(entry: Calculation[Any, Any]) -> str:
    """Return a commented file that runs unchanged."""
    command = entry.views.command
    lines = [command.head.rstrip(), ""] if command else []
    fields = reader_for(entry.request).fields
    example = {**entry.example, **(command.filled if command else {})}
    for field in fields:
        if not isinstance(field, SectionField):
            lines += [*_field(field, example), ""]
    for field in fields:
        if isinstance(field, SectionField):
            lines += [*_section(field, example.get(field.name)), ""]
    return "\n".join(lines).rstrip() + "\n"


def _comment(text: str) -> Iterator[str]:
    yield from textwrap.wrap(text, _WIDTH, initial_indent="# ", subsequent_indent="#   ", break_on_hyphens=False)


def _section(field: SectionField, given: Any) -> Iterator[str]:
    inner = find(field.calculation)
    example: Mapping[str, Any] = inner.example if given is None else given[0] if field.at_most else given
    if given is None:
        example = {name: value for name, value in example.items() if name not in field.shared}
    yield "# " + "-" * (_WIDTH - 2)
    yield from _comment(field.doc)
    yield f"[[{field.name}]]" if field.at_most else f"[{field.name}]"
    for one in reader_for(inner.request).fields:
        if not isinstance(one, SectionField):
            yield from _field(one, example)


def _field(field: Field, example: Mapping[str, Any]) -> Iterator[str]:
    notes = [field.doc, *field.template_notes()]
    if field.default_text is not None:
        notes.append(f"Default: {field.default_text}.")
    elif not field.required:
        notes.append("Optional.")
    yield from _comment(" ".join(notes))
    if field.name in example:
        yield f"{field.name} = {_toml(example[field.name])}"
        return
    usual = field.default_text or field.example
    written = usual if usual in {"true", "false"} else _toml(usual if isinstance(usual, str) else "…")
    yield f"# {field.name} = {written}"


def _toml(value: Any) -> str:
    if isinstance(value, Mapping):
        pairs = (f"{name} = {_toml(entry)}" for name, entry in cast("Mapping[str, Any]", value).items())
        return f"{{ {', '.join(pairs)} }}"
    if isinstance(value, list):
        entries = [_toml(entry) for entry in cast("list[Any]", value)]
        return "[\n" + "".join(f"  {entry},\n" for entry in entries) + "]"
    return json.dumps(value, ensure_ascii=False)


def schema(entry: Calculation[Any, Any]) -> str:
    """Return the JSON Schema of a file."""
    command = entry.views.command
    request = ref("schemas", f"{camel(entry.operation)}Request")
    whole: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": capitalised(command.noun if command else entry.summary),
        **request,
        "$defs": schemas_used(request, flat(document()["components"]["schemas"])),
    }
    return json.dumps(whole, indent=2, ensure_ascii=False).replace("#/components/schemas/", "#/$defs/") + "\n"
