"""Component schemas of the OpenAPI document, built from the contracts."""

from collections.abc import Mapping
from typing import Any

from dosewright.calculations.registry import Calculation
from dosewright.contracts.field_readers import MISSING, ChoiceField, Field, FlagField, ItemsField, MeasureField
from dosewright.contracts.fields import Items, Part
from dosewright.contracts.reading import StructReader, note_of, reader_for
from dosewright.contracts.writing import answer_fields
from dosewright.quantities import PROFILES, Kind

__all__ = [
    "UNITS_DOC",
    "Schema",
    "answer_schemas",
    "bounded",
    "camel",
    "column",
    "quantity",
    "quantity_name",
    "query_pattern",
    "ref",
    "request_schemas",
    "shared_schemas",
]

Schema = dict[str, Any]

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


def query_pattern(kind: Kind) -> str:
    """Return the pattern of a quantity in a query, where it may be bare beside a unit profile."""
    if kind.dimension == "plain":
        return _text_pattern(kind)
    escaped = "|".join(_escape(symbol) for symbol in kind.symbols)
    return f"^{_NUMBER}(?: ?(?:{escaped}))?$"


def _escape(symbol: str) -> str:
    return "".join(f"\\{char}" if char in ".*+?^$()[]{}|\\/" else char for char in symbol)


def quantity(kind: Kind) -> Schema:
    """Return the schema of one quantity, as it may be written."""
    if kind.dimension == "plain":
        forms: list[Schema] = [{"type": "number"}, {"type": "string", "pattern": _text_pattern(kind), "maxLength": 64}]
        return {"title": "Plain number", "description": "A number without a unit.", "anyOf": forms}
    profiles = ", ".join(f"{profile}: {kind.profiles[profile].symbol}" for profile in PROFILES)
    return {
        "title": kind.title[0].upper() + kind.title[1:],
        "description": (
            "A text with its unit, or a value and unit apart. "
            f"A bare number needs the request's unit profile ({profiles})."
        ),
        "anyOf": [
            {"type": "string", "pattern": _text_pattern(kind), "maxLength": 64},
            {
                "type": "object",
                "properties": {"value": {"type": "number"}, "unit": {"type": "string", "enum": list(kind.symbols)}},
                "required": ["value", "unit"],
                "additionalProperties": False,
            },
            {"type": "number"},
        ],
    }


def column(kind: Kind) -> Schema:
    """Return the schema of a quantity in a batch."""
    name = quantity_name(kind)
    number_or_null = {"type": ["number", "null"]}
    forms: list[Schema] = [
        ref("schemas", name),
        {"type": "array", "items": ref("schemas", name), "minItems": 1},
        {"type": "array", "items": number_or_null, "minItems": 1},
    ]
    if kind.dimension != "plain":
        forms.append(
            {
                "type": "object",
                "properties": {
                    "value": {"type": "array", "items": number_or_null, "minItems": 1},
                    "unit": {"type": "string", "enum": list(kind.symbols)},
                },
                "required": ["value", "unit"],
                "additionalProperties": False,
            }
        )
    return {"description": f"One {kind.title} for all rows, or one a row.", "anyOf": forms}


def bounded(field: MeasureField) -> str:
    """Return a quantity's meaning and bounds in words."""
    return f"{field.measure.doc} Allowed: {field.measure.allowed}."


def _field_schema(field: Field, struct: type[Any], *, batch: bool) -> Schema:
    note = note_of(struct, field.name)
    if isinstance(field, MeasureField):
        name = quantity_name(field.kind) + ("Column" if batch else "")
        schema: Schema = {**ref("schemas", name), "description": bounded(field)}
        if field.measure.example is not None and not batch:
            schema["examples"] = [field.measure.example]
    elif isinstance(field, ChoiceField):
        schema = _choice(field, batch=batch)
        schema["description"] = note.doc
    elif isinstance(field, FlagField):
        schema = {"type": "boolean", "description": note.doc}
        return schema if field.default in {MISSING, None} else {**schema, "default": field.default}
    elif isinstance(field, ItemsField):
        schema = _items(field, note, batch=batch)
    else:
        raise TypeError(f"no schema for {field.name!r}")
    if field.default_text:
        schema["default"] = field.default_text
    return schema


def _choice(field: ChoiceField, *, batch: bool) -> Schema:
    one: Schema = {"type": "string", "enum": list(field.names)}
    return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]} if batch else one


def _items(field: ItemsField, note: Items | Part, *, batch: bool) -> Schema:
    kinds = {tag: ref("schemas", _item_name(reader, batch=batch)) for tag, reader in field.readers.items()}
    one: Schema = next(iter(kinds.values()))
    if "" not in kinds:
        mapping = {tag: item["$ref"] for tag, item in kinds.items()}
        one = {"oneOf": list(kinds.values()), "discriminator": {"propertyName": "kind", "mapping": mapping}}
    if isinstance(note, Part):
        return {**one, "description": note.doc}
    bounds = {"minItems": note.at_least, "maxItems": note.at_most}
    return {"type": "array", "items": one, **bounds, "description": note.doc}


def _item_name(reader: Any, *, batch: bool) -> str:
    return reader.struct.__name__ + ("Columns" if batch else "")


def object_schema(reader: StructReader, *, batch: bool, title: str) -> Schema:
    """Return the schema of a request or of one of its items."""
    properties: dict[str, Schema] = {}
    required: list[str] = []
    tag = reader.struct.__struct_config__.tag
    if isinstance(tag, str):
        properties["kind"] = {"type": "string", "const": tag}
        required.append("kind")
    for field in reader.fields:
        properties[field.name] = _field_schema(field, reader.struct, batch=batch)
        if field.default is MISSING:
            required.append(field.name)
    schema: Schema = {
        "title": title,
        "description": (reader.struct.__doc__ or "").strip().split("\n\n")[0],
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
    }
    return {**schema, "required": required} if required else schema


def _items_of(reader: StructReader) -> list[StructReader]:
    found: list[StructReader] = []
    for field in reader.fields:
        if isinstance(field, ItemsField):
            for inner in field.readers.values():
                if isinstance(inner, StructReader):
                    found += [inner, *_items_of(inner)]
    return found


def request_schemas(entry: Calculation[Any, Any]) -> dict[str, Schema]:
    """Return the schemas of a calculation's request, single and batch, and of its items."""
    reader = reader_for(entry.request)
    common = {
        "units": {"type": "string", "enum": list(PROFILES), "description": UNITS_DOC},
        "answer_units": {
            "type": "object",
            "additionalProperties": {"type": "string"},
            "description": "Units of single fields of the answer, by name.",
        },
    }
    schemas: dict[str, Schema] = {}
    for batch in (False, True):
        name = camel(entry.operation) + ("Columns" if batch else "Request")
        schema = object_schema(reader, batch=batch, title=name)
        schema["properties"].update(common)
        schemas[name] = schema
        for item in _items_of(reader):
            item_name = _item_name(item, batch=batch)
            schemas[item_name] = object_schema(item, batch=batch, title=item_name)
    return schemas


def _answer_properties(struct: type[Any], schemas: dict[str, Schema]) -> dict[str, Schema]:
    properties: dict[str, Schema] = {}
    for field in answer_fields(struct):
        if field.kind is not None:
            schema: Schema = {"type": ["number", "null"] if field.optional else "number"}
        elif field.struct is not None:
            name = field.struct.__name__
            inner = _answer_properties(field.struct, schemas)
            schemas[name] = {"title": name, "type": "object", "properties": inner, "required": list(inner)}
            schema = {"type": "array", "items": ref("schemas", name)} if field.many else ref("schemas", name)
            if field.optional:
                schema = {"anyOf": [schema, {"type": "null"}]}
        else:
            schema = dict(field.schema)
        properties[field.name] = {**schema, "description": field.doc}
    return properties


def answer_schemas(entry: Calculation[Any, Any]) -> dict[str, Schema]:
    """Return the schemas of a calculation's answer and of its items."""
    schemas: dict[str, Schema] = {}
    own = _answer_properties(entry.answer, schemas)
    name = f"{camel(entry.operation)}Answer"
    schemas[name] = {
        "title": name,
        "description": (entry.answer.__doc__ or "").strip(),
        "type": "object",
        "properties": {**own, **_ENVELOPE},
        "required": [*own, *_ENVELOPE],
    }
    return schemas


UNITS_DOC = "Unit profile: gives bare numbers their unit, and the answer its units (metric when absent)."

_ENVELOPE: dict[str, Schema] = {
    "units": {
        "type": "object",
        "additionalProperties": {"type": "string"},
        "description": "Unit of each numeric field; a field of list items is named list.field.",
    },
    "warnings": {"type": "array", "items": ref("schemas", "Warning"), "description": "What to look at."},
    "cautions": {"type": "array", "items": ref("schemas", "Caution"), "description": "Dangers in the work."},
    "basis": {"type": "array", "items": ref("schemas", "Basis"), "description": "Methods, sources, validity."},
    "inputs": {
        "type": "object",
        "additionalProperties": True,
        "description": "What was understood, after defaults, in SI.",
    },
    "defaults": {
        "type": "object",
        "additionalProperties": {"type": "string"},
        "description": "Each default that was used.",
    },
    "question": {"type": ["string", "null"], "description": "Path and query that ask the same again."},
    "version": {"type": "string", "description": "Version that answered."},
}


def _texts(**fields: str) -> Schema:
    properties = {name: {"type": "string", "description": doc} for name, doc in fields.items()}
    return {"type": "object", "properties": properties, "required": list(fields)}


def shared_schemas() -> Mapping[str, Schema]:
    """Return the schemas that all calculations share."""
    rows = {"type": "array", "items": {"type": "integer"}, "description": "Rows of a batch concerned, from 0."}
    warning = _texts(code="Stable name.", field="Field concerned.", message="What it is and what follows.")
    warning["properties"]["rows"] = rows
    fault = _texts(pointer="JSON pointer to the value.", code="Stable name.", message="What is wrong, how to mend it.")
    fault["properties"].update(
        given={"type": "string", "description": "What was sent, shortened."},
        allowed={
            "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}],
            "description": "What would be accepted.",
        },
        rows=rows,
    )
    problem = _texts(type="Names the kind of problem.", title="The kind in words.", detail="What is wrong this time.")
    problem["properties"].update(
        status={"type": "integer", "description": "HTTP status."},
        errors={"type": "array", "items": ref("schemas", "Fault"), "description": "Every fault."},
        request_id={"type": "string", "description": "Finds the request in the logs."},
    )
    problem["required"] = ["type", "title", "status", "detail"]
    batch: dict[str, Schema] = {
        "rows": {"type": "integer", "description": "Number of rows."},
        "columns": {
            "type": "object",
            "additionalProperties": {
                "type": "array",
                "items": {"type": ["number", "string", "boolean", "null"]},
            },
            "description": "One column a field; null in a row at fault.",
        },
        **{name: _ENVELOPE[name] for name in ("units", "warnings", "cautions", "basis", "defaults", "version")},
        "errors": {"type": "array", "items": ref("schemas", "Fault"), "description": "Rows at fault, and why."},
    }
    return {
        "Warning": {**warning, "title": "Warning"},
        "Caution": {**_texts(code="Stable name.", message="The danger and what to do."), "title": "Caution"},
        "Basis": {
            **_texts(method="Method.", source="Where it is published.", validity="Where it holds."),
            "title": "Basis",
        },
        "Fault": {**fault, "title": "Fault"},
        "Problem": {**problem, "title": "Problem"},
        "BatchAnswer": {"title": "BatchAnswer", "type": "object", "properties": batch, "required": list(batch)},
    }
