"""A plan's file to start from, and the schema by which an editor checks it; both made from the contract."""

import json
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any, cast

from dosewright.engine.fields.field_readers import MISSING, ChoiceField, Field, FlagField, ItemsField, MeasureField
from dosewright.engine.fields.sections import SectionField
from dosewright.engine.fields.series import SeriesField
from dosewright.engine.reading import note_of, reader_for
from dosewright.engine.registry import find
from dosewright.http.openapi.document import document, schemas_used
from dosewright.http.openapi.quantity_schemas import ref

__all__ = ["schema", "template"]

_PLAN = "site/plan"
_WIDTH = 100
_HEAD = """\
# The whole installation, for: dosewright plan FILE --pdf plan.pdf
#
# The values here are invented: put those of the site in their place, and delete the parts that are not known. What is
# missing is named in the plan; nothing is assumed silently. A line behind # is an input that may be given.
# Quantities carry their unit. An editor checks this file by the schema that `dosewright plan --schema` writes.
"""


def template() -> str:
    """Return a commented file that runs as it stands."""
    entry = find(_PLAN)
    lines = [_HEAD.rstrip(), ""]
    fields = reader_for(entry.request).fields
    for field in fields:
        if not isinstance(field, SectionField):
            lines += [*_field(field, note_of(entry.request, field.name), entry.example), ""]
    for field in fields:
        if isinstance(field, SectionField):
            lines += [*_section(field, note_of(entry.request, field.name), entry.example.get(field.name)), ""]
    return "\n".join(lines).rstrip() + "\n"


def _comment(text: str) -> Iterator[str]:
    yield from textwrap.wrap(text, _WIDTH, initial_indent="# ", subsequent_indent="#   ", break_on_hyphens=False)


def _section(field: SectionField, note: Any, given: Any) -> Iterator[str]:
    inner = find(field.calculation)
    example: Mapping[str, Any] = inner.example if given is None else given[0] if field.at_most else given
    if given is None:
        example = {name: value for name, value in example.items() if name not in note.shared}
    yield "# " + "-" * (_WIDTH - 2)
    yield from _comment(note.doc)
    yield f"[[{field.name}]]" if field.at_most else f"[{field.name}]"
    for one in reader_for(inner.request).fields:
        if not isinstance(one, SectionField):
            yield from _field(one, note_of(inner.request, one.name), example)


def _field(field: Field, note: Any, example: Mapping[str, Any]) -> Iterator[str]:
    told = [note.measure.doc if isinstance(field, SeriesField) else note.doc]
    if isinstance(field, MeasureField):
        told.append(f"Allowed: {field.measure.allowed}.")
    elif isinstance(field, ChoiceField):
        told.append(f"One of: {', '.join(field.names)}.")
    elif isinstance(field, ItemsField):
        told += [
            f"{kind or 'Fields'}: {', '.join(one.name for one in reader.fields)}."
            for kind, reader in field.readers.items()
        ]
    if field.default_text is not None:
        told.append(f"Default: {field.default_text}.")
    elif field.default is not MISSING:
        told.append("May be left out.")
    yield from _comment(" ".join(told))
    if field.name in example:
        yield f"{field.name} = {_toml(example[field.name])}"
    else:
        usual = field.default_text or (field.measure.example if isinstance(field, MeasureField) else None)
        yield f"# {field.name} = {usual if isinstance(field, FlagField) else _toml(usual or '…')}"


def _toml(value: Any) -> str:
    if isinstance(value, Mapping):
        pairs = (f"{name} = {_toml(entry)}" for name, entry in cast("Mapping[str, Any]", value).items())
        return f"{{ {', '.join(pairs)} }}"
    if isinstance(value, list):
        entries = [_toml(entry) for entry in cast("list[Any]", value)]
        return "[\n" + "".join(f"  {entry},\n" for entry in entries) + "]"
    return json.dumps(value, ensure_ascii=False)


def schema() -> str:
    """Return the JSON Schema of a plan's file."""
    request = ref("schemas", "SitePlanRequest")
    whole: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A plan of a whole installation",
        **request,
        "$defs": schemas_used(request, document()["components"]["schemas"]),
    }
    return json.dumps(whole, indent=2, ensure_ascii=False).replace("#/components/schemas/", "#/$defs/") + "\n"
