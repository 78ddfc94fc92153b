"""Schemas of requests, single and batch, and of their items and sections, built from the contracts."""

import sys
from typing import Any, Literal, get_origin

from dosewright.engine.fields.field_readers import (
    MISSING,
    ChoiceField,
    DayField,
    Field,
    FlagField,
    ItemsField,
    MeasureField,
)
from dosewright.engine.fields.fields import Items, Part
from dosewright.engine.fields.laboratory import LABORATORY_PATTERN, LaboratoryField
from dosewright.engine.fields.sections import SectionField
from dosewright.engine.fields.series import SeriesField
from dosewright.engine.reading import StructReader, note_of, reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.http.openapi.quantity_schemas import (
    UNITS_DOC,
    Schema,
    camel,
    column_name,
    named_texts,
    quantity_name,
    ref,
)

__all__ = ["bounded", "choice_name", "request_schemas", "series_doc"]


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
        return _measure(field, batch=batch)
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


def _measure(field: MeasureField, *, batch: bool) -> Schema:
    name = column_name(field.kind) if batch else quantity_name(field.kind)
    schema: Schema = {**ref("schemas", name), "description": _defaulted(bounded(field), field)}
    if isinstance(field, LaboratoryField):
        units = ", ".join(f"{profile}: {unit.symbol}" for profile, unit in field.kind.profiles.items() if unit.symbol)
        bare = f" A bare number needs the request's unit profile ({units})." if units else ""
        schema = {"anyOf": _laboratory(name, batch=batch), "description": f"{schema['description']}{bare}"}
    if field.measure.example is not None and not batch:
        schema["examples"] = [field.measure.example]
    return schema


def _laboratory(name: str, *, batch: bool) -> list[Schema]:
    word: Schema = {"type": "string", "pattern": LABORATORY_PATTERN, "maxLength": 64}
    columns: list[Schema] = [{"type": "array", "items": word, "minItems": 1}] if batch else []
    return [ref("schemas", name), word, *columns]


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
