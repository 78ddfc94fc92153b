"""Component schemas of the OpenAPI document, built from the contracts.

What a person would name has a name of its own here, so that generated clients have one type for it: a unit, a closed
set of names, a value with its unit, a column.
"""

import sys
from collections.abc import Iterable, Mapping
from typing import Any, Literal, get_origin

from dosewright.calculations.registry import Calculation, find
from dosewright.contracts.field_readers import (
    MISSING,
    ChoiceField,
    DayField,
    Field,
    FlagField,
    ItemsField,
    MeasureField,
)
from dosewright.contracts.fields import Items, Part
from dosewright.contracts.reading import StructReader, note_of, reader_for
from dosewright.contracts.sections import SectionField
from dosewright.contracts.sentences import capitalised
from dosewright.contracts.series import SeriesField
from dosewright.contracts.writing import answer_fields
from dosewright.quantities import PROFILES, Kind

__all__ = [
    "UNITS_DOC",
    "Schema",
    "answer_schemas",
    "bounded",
    "camel",
    "choice_name",
    "named_texts",
    "quantity_name",
    "quantity_schemas",
    "query_pattern",
    "ref",
    "request_schemas",
    "series_doc",
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


def named_texts(title: str, texts: Iterable[str], description: str) -> Schema:
    """Return the schema of a closed set of texts, with names that a language can spell where the texts are none."""
    listed = list(texts)
    schema: Schema = {"title": title, "type": "string", "enum": listed, "description": description}
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
    """Return the schemas of one kind of quantity, by name: as it may be written, as a column, and what they hold."""
    name = quantity_name(kind)
    text: Schema = {"type": "string", "pattern": _text_pattern(kind), "maxLength": 64}
    bare: Schema = {"type": "array", "items": {"type": ["number", "null"]}, "minItems": 1}
    columns: list[Schema] = [
        ref("schemas", name),
        {"type": "array", "items": ref("schemas", name), "minItems": 1},
        bare,
    ]
    column: Schema = {"description": f"One {kind.title} for all rows, or one a row.", "anyOf": columns}
    if kind.dimension == "plain":
        forms: list[Schema] = [{"type": "number"}, text]
        number: Schema = {"title": "Plain number", "description": "A number without a unit.", "anyOf": forms}
        return {name: number, _column_name(kind): column}
    measured = camel(kind.dimension)
    unit = ref("schemas", f"{measured}Unit")
    profiles = ", ".join(f"{profile}: {kind.profiles[profile].symbol}" for profile in PROFILES)
    columns.append(ref("schemas", f"{measured}Values"))
    return {
        f"{measured}Unit": named_texts(f"{measured}Unit", kind.symbols, f"Unit of a {kind.title}."),
        f"{measured}Value": _value(f"{measured}Value", f"A {kind.title}.", {"type": "number"}, unit),
        f"{measured}Values": _value(f"{measured}Values", f"One {kind.title} a row, all in one unit.", bare, unit),
        name: {
            "title": capitalised(kind.title),
            "description": (
                "A text with its unit, or a value and unit apart. "
                f"A bare number needs the request's unit profile ({profiles})."
            ),
            "anyOf": [text, ref("schemas", f"{measured}Value"), {"type": "number"}],
        },
        _column_name(kind): column,
    }


def _value(title: str, description: str, value: Schema, unit: Schema) -> Schema:
    return {
        "title": title,
        "description": description,
        "type": "object",
        "properties": {"value": value, "unit": unit},
        "required": ["value", "unit"],
        "additionalProperties": False,
    }


def _column_name(kind: Kind) -> str:
    return "PlainColumn" if kind.dimension == "plain" else f"{camel(kind.name)}Column"


def choice_name(field: ChoiceField, struct: type[Any]) -> str:
    """Return the name of a closed set of names: as the contract calls it, else after what holds it."""
    holder = _declaring(struct, field.name)
    wanted: Any = Literal[field.names]
    for name, value in vars(sys.modules[holder.__module__]).items():
        if get_origin(value) is Literal and value == wanted and name[0].isupper():
            return name
    return holder.__name__.removeprefix("_") + camel(field.name)


def _defaulted(text: str, field: Field) -> str:
    # Told in words: with a schema's default, generated clients demand the field, or send it unasked, and the answer
    # could no longer tell which defaults were used.
    return f"{text} Default: {field.default_text}." if field.default_text else text


def bounded(field: MeasureField) -> str:
    """Return a quantity's meaning and bounds in words."""
    return f"{field.measure.doc} Allowed: {field.measure.allowed}."


def series_doc(field: SeriesField) -> str:
    """Return a series' meaning, length and bounds in words."""
    length = f"{field.series.at_least} to {field.series.at_most} values"
    return f"{field.series.measure.doc} {length}, each {field.series.measure.allowed}."


def series(field: SeriesField) -> Schema:
    """Return the schema of a series, as it may be written."""
    kind = field.value.kind
    bounds = {"minItems": field.series.at_least, "maxItems": field.series.at_most}
    forms: list[Schema] = [
        {"type": "array", "items": ref("schemas", quantity_name(kind)), **bounds},
        {"type": "string", "maxLength": 64 * field.series.at_most},
    ]
    if kind.dimension != "plain":
        forms.append(ref("schemas", f"{camel(kind.dimension)}Values"))
    return {"anyOf": forms}


def _field_schema(field: Field, struct: type[Any], *, batch: bool) -> Schema:
    note = note_of(struct, field.name)
    if isinstance(field, MeasureField):
        name = _column_name(field.kind) if batch else quantity_name(field.kind)
        schema: Schema = {**ref("schemas", name), "description": _defaulted(bounded(field), field)}
        if field.measure.example is not None and not batch:
            schema["examples"] = [field.measure.example]
        return schema
    if isinstance(field, ChoiceField):
        return {**_choice(choice_name(field, struct), batch=batch), "description": _defaulted(note.doc, field)}
    if isinstance(field, SectionField):
        section = ref("schemas", section_name(struct, field.name))
        if field.at_most:
            section = {"type": "array", "items": section, "minItems": 1, "maxItems": field.at_most}
        return {**section, "description": note.doc}
    if isinstance(field, DayField):
        return {"type": "string", "format": "date", "description": _defaulted(note.doc, field)}
    if isinstance(field, FlagField):
        return {"type": "boolean", "description": _defaulted(note.doc, field)}
    if isinstance(field, SeriesField):
        return {**series(field), "description": _defaulted(series_doc(field), field)}
    if isinstance(field, ItemsField):
        return _items(field, struct, batch=batch)
    raise TypeError(f"no schema for {field.name!r}")


def _choice(name: str, *, batch: bool) -> Schema:
    one = ref("schemas", name)
    return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]} if batch else one


def _items(field: ItemsField, struct: type[Any], *, batch: bool) -> Schema:
    note: Items | Part = note_of(struct, field.name)
    one = ref("schemas", _union_name(field, struct) + ("Columns" if batch else ""))
    if isinstance(note, Part):
        return {**one, "description": note.doc}
    bounds = {"minItems": note.at_least, "maxItems": note.at_most}
    return {"type": "array", "items": one, **bounds, "description": note.doc}


def _union(field: ItemsField, note: Items | Part, name: str, *, batch: bool) -> Schema:
    """Return the schema of items of more than one kind."""
    kinds = {tag: ref("schemas", _item_name(reader, batch=batch)) for tag, reader in field.readers.items()}
    mapping = {tag: item["$ref"] for tag, item in kinds.items()}
    return {
        "title": name,
        "description": note.doc,
        "oneOf": list(kinds.values()),
        "discriminator": {"propertyName": "kind", "mapping": mapping},
    }


def _union_name(field: ItemsField, struct: type[Any]) -> str:
    """Return the name of what a field of items holds: its only kind, or after the contract that declares the field.

    It must not depend on other calculations: adding one would rename a type of clients.
    """
    if "" in field.readers:
        return field.readers[""].struct.__name__
    holder = _declaring(struct, field.name).__name__.removeprefix("_").removesuffix("Request")
    return f"{holder}{camel(field.name.removesuffix('s'))}Input"


def _declaring(struct: type[Any], field: str) -> type[Any]:
    """Return the class, the struct itself or one it is made from, that declares a field."""
    return next(one for one in struct.__mro__ if field in vars(one).get("__annotations__", {}))


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
        "units": {**ref("schemas", "UnitProfile"), "description": UNITS_DOC},
        "answer_units": {**ref("schemas", "UnitsByField"), "description": "Units of single fields of the answer."},
    }
    schemas: dict[str, Schema] = {}
    for struct in (reader, *_items_of(reader)):
        for field in struct.fields:
            note = note_of(struct.struct, field.name)
            if isinstance(field, ChoiceField):
                name = choice_name(field, struct.struct)
                schemas[name] = named_texts(name, field.names, note.doc)
            elif isinstance(field, ItemsField) and "" not in field.readers:
                name = _union_name(field, struct.struct)
                schemas[name] = _union(field, note, name, batch=False)
                schemas[f"{name}Columns"] = _union(field, note, f"{name}Columns", batch=True)
    schemas.update(_section_schemas(reader))
    for batch in (False, True):
        name = camel(entry.operation) + ("Columns" if batch else "Request")
        schema = object_schema(reader, batch=batch, title=name)
        schema["properties"].update(common)
        schemas[name] = schema
        for item in _items_of(reader):
            item_name = _item_name(item, batch=batch)
            schemas[item_name] = object_schema(item, batch=batch, title=item_name)
    return schemas


def section_name(struct: type[Any], field: str) -> str:
    """Return the name of a section's schema, which tells the request it stands in."""
    return f"{struct.__name__.removesuffix('Request')}{camel(field)}Section"


def _section_schemas(reader: StructReader) -> dict[str, Schema]:
    """Return the schemas of a request's sections: another request's, less what is taken from elsewhere."""
    schemas: dict[str, Schema] = {}
    for field in reader.fields:
        if isinstance(field, SectionField):
            note = note_of(reader.struct, field.name)
            name = section_name(reader.struct, field.name)
            schema = object_schema(reader_for(find(note.calculation).request), batch=False, title=name)
            schema["required"] = [inner for inner in schema.get("required", ()) if inner not in note.shared]
            schemas[name] = schema
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
        elif "section" in field.schema:
            schema = ref("schemas", f"{camel(field.schema['section'])}Answer")
            if field.schema["many"]:
                schema = {"type": "array", "items": schema}
            if field.optional:
                schema = {"anyOf": [schema, {"type": "null"}]}
        else:
            schema = _or_null(field.schema) if field.optional else dict(field.schema)
        properties[field.name] = {**schema, "description": field.doc}
    return properties


def answer_schemas(entry: Calculation[Any, Any]) -> dict[str, Schema]:
    """Return the schemas of a calculation's answer, single and batch, and of its items."""
    schemas: dict[str, Schema] = {}
    own = _answer_properties(entry.answer, schemas)
    name = camel(entry.operation)
    doc = (entry.answer.__doc__ or "").strip()
    schemas[f"{name}Answer"] = {
        "title": f"{name}Answer",
        "description": doc,
        "type": "object",
        "properties": {**own, **_ENVELOPE},
        "required": [*own, *_ENVELOPE],
    }
    columns = _answer_columns(entry.answer)
    schemas[f"{name}AnswerColumns"] = {
        "title": f"{name}AnswerColumns",
        "description": "One column a field; fields of list items are named list.index.field.",
        "type": "object",
        "properties": columns,
        "required": list(columns),
        "additionalProperties": {"type": "array", "items": {"type": ["number", "string", "boolean", "null"]}},
    }
    properties = {"rows": _ROWS, "columns": ref("schemas", f"{name}AnswerColumns"), **_BATCH_ENVELOPE}
    schemas[f"{name}BatchAnswer"] = {
        "title": f"{name}BatchAnswer",
        "description": f"{doc} One entry a row; null in a row at fault.",
        "type": "object",
        "properties": properties,
        "required": list(properties),
    }
    return schemas


def _answer_columns(struct: type[Any]) -> dict[str, Schema]:
    columns: dict[str, Schema] = {}
    for field in answer_fields(struct):
        if field.struct is None:
            items: Schema = {"type": ["number", "null"]} if field.kind is not None else _or_null(field.schema)
            columns[field.name] = {"type": "array", "items": items, "description": field.doc}
    return columns


def _or_null(schema: Mapping[str, Any]) -> Schema:
    told: Any = schema.get("anyOf", (schema,))
    kinds = [kind for kind in told if kind != {"type": "null"}]
    if len(kinds) == 1 and isinstance(kinds[0].get("type"), str) and "enum" not in kinds[0]:
        return {**kinds[0], "type": [kinds[0]["type"], "null"]}
    return {"anyOf": [*kinds, {"type": "null"}]}


UNITS_DOC = "Unit profile: gives bare numbers their unit, and the answer its units (metric when absent)."

_ENVELOPE: dict[str, Schema] = {
    "units": {
        **ref("schemas", "UnitsByField"),
        "description": "Unit of each numeric field; a field of list items is named list.field.",
    },
    "warnings": {"type": "array", "items": ref("schemas", "Warn"), "description": "What to look at."},
    "cautions": {"type": "array", "items": ref("schemas", "Caution"), "description": "Dangers in the work."},
    "basis": {"type": "array", "items": ref("schemas", "Basis"), "description": "Methods, sources, validity."},
    "inputs": {**ref("schemas", "Inputs"), "description": "What was understood, after defaults, in SI."},
    "defaults": {**ref("schemas", "DefaultsUsed"), "description": "Each default that was used."},
    "question": {"type": ["string", "null"], "description": "Path and query that ask the same again."},
    "version": {"type": "string", "description": "Version that answered."},
}
_ROWS: Schema = {"type": "integer", "description": "Number of rows."}
_BATCH_ENVELOPE: dict[str, Schema] = {
    **{name: _ENVELOPE[name] for name in ("units", "warnings", "cautions", "basis", "defaults", "version")},
    "errors": {"type": "array", "items": ref("schemas", "Fault"), "description": "Rows at fault, and why."},
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
    texts: Schema = {"type": "object", "additionalProperties": {"type": "string"}}
    return {
        "UnitProfile": named_texts("UnitProfile", PROFILES, UNITS_DOC),
        "UnitsByField": {"title": "UnitsByField", **texts, "description": "Units by the name of the field."},
        "DefaultsUsed": {"title": "DefaultsUsed", **texts, "description": "Defaults by the name of the field."},
        "Inputs": {
            "title": "Inputs",
            "type": "object",
            "additionalProperties": True,
            "description": "Inputs by the name of the field.",
        },
        "Warn": {**warning, "title": "Warn", "description": "Something in an answer to look at."},
        "Caution": {
            **_texts(code="Stable name.", message="The danger and what to do."),
            "title": "Caution",
            "description": "A danger to people or property in the work.",
        },
        "Basis": {
            **_texts(method="Method.", source="Where it is published.", validity="Where it holds."),
            "title": "Basis",
            "description": "A method, where it is published, and where it holds.",
        },
        "Fault": {**fault, "title": "Fault", "description": "One fault of a request."},
        "Problem": {**problem, "title": "Problem", "description": "Why a request was refused (RFC 9457)."},
    }
