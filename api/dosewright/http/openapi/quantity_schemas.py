"""Schemas of quantities and of closed sets of texts.

Each thing that a person would name is a named schema, so that generated clients have one type for it: a unit, a value
with its unit, a column.
"""

from collections.abc import Iterable
from typing import Any

from dosewright.engine.sentences import capitalised
from dosewright.quantities import PROFILES, Kind

__all__ = [
    "UNITS_DOC",
    "Schema",
    "camel",
    "column_name",
    "named_texts",
    "quantity_name",
    "quantity_schemas",
    "query_name",
    "query_pattern",
    "ref",
]

Schema = dict[str, Any]

UNITS_DOC = "Unit profile: gives bare numbers their unit, and the answer its units (metric when absent)."

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"


def camel(name: str) -> str:
    """Return a name in capitals, as schemas are named."""
    return "".join(part.capitalize() for part in name.replace("-", "_").replace("/", "_").split("_"))


def ref(section: str, name: str) -> Schema:
    """Return a reference to a component."""
    return {"$ref": f"#/components/{section}/{name}"}


def quantity_name(kind: Kind) -> str:
    """Return the name of a kind of quantity's schema."""
    return "PlainNumber" if kind.dimension == "plain" else f"{camel(kind.name)}Quantity"


def _text_pattern(kind: Kind) -> str:
    if kind.dimension == "plain":
        return f"^{_NUMBER}$"
    escaped = "|".join(_escape(symbol) for symbol in kind.symbols)
    return f"^{_NUMBER} ?(?:{escaped})$"


def query_name(kind: Kind) -> str:
    """Return the name of the schema of a quantity in a query."""
    return f"{camel(kind.name)}Query"


def _query_texts(kind: Kind) -> dict[str, Schema]:
    """Return the schema of a quantity in a query, as it is written."""
    unit = (
        f"Units: {', '.join(kind.symbols)}; a bare number needs the parameter units."
        if kind.symbols
        else "A plain number."
    )
    return {
        query_name(kind): {"description": unit, "type": "string", "pattern": query_pattern(kind), "maxLength": 64},
    }


def query_pattern(kind: Kind) -> str:
    """Return the regular expression of a quantity written in a query."""
    if kind.dimension == "plain":
        return _text_pattern(kind)
    escaped = "|".join(_escape(symbol) for symbol in kind.symbols)
    return f"^{_NUMBER}(?: ?(?:{escaped}))?$"


def _escape(symbol: str) -> str:
    return "".join(f"\\{char}" if char in ".*+?^$()[]{}|\\/" else char for char in symbol)


def named_texts(texts: Iterable[str], description: str) -> Schema:
    """Return the schema of a closed set of texts, with names that a language can spell where the texts are none."""
    listed = list(texts)
    schema: Schema = {"type": "string", "enum": listed, "description": description}
    if not all(text.isascii() and text.isidentifier() for text in listed):
        # Read by generators for languages whose enumerations need identifiers.
        names = [_spelt(text) for text in listed]
        if len(set(names)) < len(names):
            raise ValueError(f"two of {listed} would be spelt alike")
        schema["x-enum-varnames"] = names
    return schema


def _spelt(text: str) -> str:
    """Return a text as an identifier: ``gal/min`` as GAL_PER_MIN, ``1-1/4`` as N_1_1_4."""
    if text in _SPELT:
        return _SPELT[text]
    over = "_" if text[0].isdigit() and text[-1].isdigit() else "_PER_"
    name = text.removeprefix("1/").replace("µ", "u").replace("/", over).replace(".", "_").replace("-", "_").upper()
    if text.startswith("1/") and over == "_PER_":
        return f"PER_{name}"
    return name if text[0].isalpha() else f"N_{text.replace('/', '_').replace('-', '_')}"


_SPELT = {"%": "PERCENT", "1": "ONE"}


def quantity_schemas(kind: Kind) -> dict[str, Schema]:
    """Return the schemas of one kind of quantity, by name: as text or object, as a column, and their parts."""
    name = quantity_name(kind)
    text: Schema = {"type": "string", "pattern": _text_pattern(kind), "maxLength": 64}
    bare: Schema = {"type": "array", "items": {"type": ["number", "null"]}, "minItems": 1}
    columns: list[Schema] = [
        ref("schemas", name),
        {"type": "array", "items": ref("schemas", name), "minItems": 1},
        bare,
    ]
    column: Schema = {"description": f"One {kind.title} for all rows, or one per row.", "anyOf": columns}
    if kind.dimension == "plain":
        forms: list[Schema] = [{"type": "number"}, text]
        number: Schema = {"title": "Plain number", "description": "A number without a unit.", "anyOf": forms}
        return {name: number, column_name(kind): column, **_query_texts(kind)}
    measured = camel(kind.dimension)
    unit = ref("schemas", f"{measured}Unit")
    profiles = ", ".join(f"{profile}: {kind.profiles[profile].symbol}" for profile in PROFILES)
    columns.append(ref("schemas", f"{measured}Values"))
    return {
        f"{measured}Unit": named_texts(kind.symbols, f"Unit of a {kind.title}."),
        f"{measured}Value": _value(f"A {kind.title}.", {"type": "number"}, unit),
        f"{measured}Values": _value(f"One {kind.title} per row, all in one unit.", bare, unit),
        name: {
            "title": capitalised(kind.title),
            "description": (
                "A text with its unit, or an object with value and unit. "
                f"A bare number needs the request's unit profile ({profiles})."
            ),
            "anyOf": [text, ref("schemas", f"{measured}Value"), {"type": "number"}],
        },
        column_name(kind): column,
        **_query_texts(kind),
    }


def _value(description: str, value: Schema, unit: Schema) -> Schema:
    return {
        "description": description,
        "type": "object",
        "properties": {"value": value, "unit": unit},
        "required": ["value", "unit"],
        "additionalProperties": False,
    }


def column_name(kind: Kind) -> str:
    """Return the name of the schema of a column of a kind of quantity."""
    return "PlainColumn" if kind.dimension == "plain" else f"{camel(kind.name)}Column"
