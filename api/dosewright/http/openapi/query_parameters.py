"""Parameters of an address: a calculation's fields as they are written in a query."""

from collections.abc import Mapping
from typing import Any

import msgspec

from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.http.openapi.quantity_schemas import Schema, camel, ref
from dosewright.http.openapi.request_schemas import Refs

__all__ = ["query_parameters", "shared_parameters"]


def query_parameters(entry: Calculation[Any, Any]) -> list[Schema]:
    """Return a calculation's fields as parameters."""
    reader = reader_for(entry.request)
    parameters: list[Schema] = []
    refs = Refs(reader.struct)
    for field in reader.fields:
        if isinstance(field, SectionField):
            parameters.append(_section_parameter(field, entry.example.get(field.name)))
            continue
        parameter: Schema = {"name": field.name, "in": "query"}
        if field.required:
            parameter["required"] = True
        if field.name in entry.example:
            parameter["example"] = field.query_text(entry.example[field.name])
        parameter.update(field.query_schema(refs))
        if not isinstance(field, ItemsField):
            # Its meaning and bounds are those of the body's member; a list has its own notation.
            parameter.pop("description", None)
        parameters.append(parameter)
    return parameters


def _section_parameter(field: SectionField, example: Any) -> Schema:
    """Return a section as one object, whose members are separate parameters, named section.field."""
    at = f"{field.name}.{'0.' if field.at_most else ''}"
    number = r"\.[0-9]+" if field.at_most else ""
    texts: Schema = {
        "type": "object",
        "propertyNames": {"pattern": rf"^{field.name}{number}\.[a-z]"},
        "additionalProperties": {"type": ["string", "array"], "items": {"type": "string"}},
    }
    counted = " Its entries are numbered from 0." if field.at_most else ""
    parameter: Schema = {
        "name": field.name,
        "in": "query",
        "style": "form",
        "explode": True,
        "schema": texts,
        "description": (f"{field.doc} One parameter per field of {field.calculation}, named {at}field.{counted}"),
    }
    if example:
        parameter["example"] = _section_example(field, example)
    return parameter


def _section_example(field: SectionField, value: Any) -> dict[str, Any]:
    entries = enumerate(value) if field.at_most else [("", value)]
    inner = {one.name: one for one in reader_for(find(field.calculation).request).fields}
    texts: dict[str, Any] = {}
    for number, entry in entries:
        at = f"{field.name}.{number}." if field.at_most else f"{field.name}."
        for name, given in entry.items():
            one = inner[name]
            if isinstance(one, SectionField):
                texts.update({f"{at}{key}": text for key, text in _section_example(one, given).items()})
            else:
                text = one.query_text(given)
                texts[f"{at}{name}"] = str(text).lower() if isinstance(text, bool) else text
    return texts


def shared_parameters(paths: Mapping[str, Schema]) -> dict[str, Schema]:
    """Put a reference where several addresses have the same parameter; returns what the references name."""
    lists: list[list[Schema]] = [
        path["get"]["parameters"] for path in paths.values() if "parameters" in path.get("get", ())
    ]
    alike: dict[str, dict[bytes, list[tuple[list[Schema], int]]]] = {}
    for parameters in lists:
        for index, one in enumerate(parameters):
            if "name" in one:
                places = alike.setdefault(one["name"], {}).setdefault(msgspec.json.encode(one), [])
                places.append((parameters, index))
    shared: dict[str, Schema] = {}
    for field, variants in alike.items():
        # Only one of the variants can have the field's name; which one must not depend on the order.
        places = max(sorted(variants.items()), key=lambda variant: len(variant[1]))[1]
        if len(places) > 1:
            parameters, index = places[0]
            shared[f"Query{camel(field)}"] = parameters[index]
            for parameters, index in places:
                parameters[index] = ref("parameters", f"Query{camel(field)}")
    return shared
