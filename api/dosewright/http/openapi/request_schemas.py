"""Schemas of requests, single and batch, and of their items and sections, built from the contracts."""

import sys
from typing import Any, Literal, get_origin

from dosewright.engine.fields import Items, Part
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import StructReader, note_of, reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.http.openapi.quantity_schemas import (
    UNITS_DOC,
    Schema,
    camel,
    column_name,
    named_texts,
    quantity_name,
    query_pattern,
    ref,
)
from dosewright.quantities import Kind

__all__ = ["Refs", "request_schemas"]


def choice_name(field: ChoiceField, struct: type[Any]) -> str:
    """Return the name of a closed set of names: as the contract calls it, else after what holds it."""
    holder = _declaring(struct, field.name)
    wanted: Any = Literal[field.names]
    for name, value in vars(sys.modules[holder.__module__]).items():
        if get_origin(value) is Literal and value == wanted and name[0].isupper():
            return name
    return holder.__name__.removeprefix("_") + camel(field.name)


class Refs:
    """References to the shared schemas that the fields of one struct use."""

    def __init__(self, struct: type[Any]) -> None:
        self._struct = struct

    def quantity(self, kind: Kind, *, batch: bool) -> Schema:
        """Return the reference to a quantity of a kind, or to a column of them."""
        return ref("schemas", column_name(kind) if batch else quantity_name(kind))

    def values(self, kind: Kind) -> Schema:
        """Return the reference to a list of values with one unit."""
        return ref("schemas", f"{camel(kind.dimension)}Values")

    def choice(self, field: ChoiceField) -> Schema:
        """Return the reference to a closed set of names."""
        return ref("schemas", choice_name(field, self._struct))

    def items(self, field: ItemsField, *, batch: bool) -> Schema:
        """Return the reference to one item of a list."""
        return ref("schemas", _union_name(field, self._struct) + ("Columns" if batch else ""))

    def section(self, field: SectionField) -> Schema:
        """Return the reference to a section's request."""
        return ref("schemas", section_name(self._struct, field.name))

    def pattern(self, kind: Kind) -> str:
        """Return the regular expression of a quantity written as text."""
        return query_pattern(kind)


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
    refs = Refs(reader.struct)
    for field in reader.fields:
        properties[field.name] = field.schema(refs, batch=batch)
        if field.required:
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
