"""Schemas of requests, single and batch, and of their items and sections, built from the contracts."""

import sys
from collections.abc import Mapping
from functools import cache
from typing import Any, Literal, get_origin

from dosewright.engine.base import Request
from dosewright.engine.fields import Items, Part
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.field import Field
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import StructReader, description_of, reader_for
from dosewright.engine.registry import Calculation, calculations, find
from dosewright.http.openapi.quantity_schemas import (
    Schema,
    camel,
    column_name,
    named_texts,
    quantity_name,
    query_name,
    query_pattern,
    ref,
)
from dosewright.quantities import Kind

__all__ = ["Refs", "request_schemas"]


def choice_name(field: ChoiceField, struct: type[Any]) -> str:
    """Return the name of a closed set of names: as the contract calls it, else after what holds it."""
    holder = _declaring(struct, field.name)
    needed: Any = Literal[field.names]
    for name, value in vars(sys.modules[holder.__module__]).items():
        if get_origin(value) is Literal and value == needed and name[0].isupper():
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

    def text(self, kind: Kind) -> Schema:
        """Return the reference to a quantity written as text."""
        return ref("schemas", query_name(kind))


def _union(field: ItemsField, note: Items | Part, *, batch: bool) -> Schema:
    """Return the schema of items of more than one kind."""
    kinds = {tag: ref("schemas", _item_name(reader, batch=batch)) for tag, reader in field.readers.items()}
    mapping = {tag: item["$ref"] for tag, item in kinds.items()}
    return {
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


def object_schema(reader: StructReader, *, batch: bool) -> Schema:
    """Return the schema of a request or of one of its items; that of a batch is described where the single one is."""
    shared = sorted({name for field in reader.fields if (name := _shared_name(reader, field, batch=batch))})
    properties: dict[str, Schema] = {}
    required: list[str] = []
    tag = reader.struct.__struct_config__.tag
    if isinstance(tag, str):
        properties["kind"] = {"type": "string", "const": tag}
        required.append("kind")
    refs = Refs(reader.struct)
    for field in reader.fields:
        if _shared_name(reader, field, batch=batch):
            continue
        schema = field.schema(refs, batch=batch)
        properties[field.name] = _undescribed(schema) if batch else schema
        if field.required:
            required.append(field.name)
    doc = (reader.struct.__doc__ or "").strip().split("\n\n")[0]
    return {
        **({} if batch else {"description": doc}),
        **({"allOf": [ref("schemas", name) for name in shared]} if shared else {}),
        "type": "object",
        "properties": properties,
        **({"required": required} if required else {}),
        # What comes from a shared schema counts only for the newer word.
        ("unevaluatedProperties" if shared else "additionalProperties"): False,
    }


def _undescribed(schema: Schema) -> Schema:
    return {name: value for name, value in schema.items() if name != "description"}


@cache
def _sections() -> Mapping[type[Any], frozenset[str]]:
    """Return the requests that are sections of another, each with the fields that the other can supply."""
    found: dict[type[Any], frozenset[str]] = {}
    for entry in calculations().values():
        for field in reader_for(entry.request).fields:
            if isinstance(field, SectionField):
                request = find(field.calculation).request
                shared = frozenset(description_of(entry.request, field.name).shared)
                found[request] = found.get(request, frozenset()) | shared
    return found


def _shared_name(reader: StructReader, field: Field, *, batch: bool) -> str:
    """Return the name of the schema that holds a field for several requests; empty where a request holds it itself.

    A field that is required in one of them and not in another stays with each.
    """
    if not issubclass(reader.struct, Request):
        return ""
    holder = _declaring(reader.struct, field.name)
    if field.required and any(
        field.name in shared for request, shared in _sections().items() if issubclass(request, holder)
    ):
        return ""
    name = holder.__name__.removeprefix("_").removesuffix("Request")
    if holder is not reader.struct:
        return f"{name}{'FieldColumns' if batch else 'Fields'}"
    return f"{name}Fields" if reader.struct in _sections() and not batch else ""


def _shared_schemas(reader: StructReader) -> dict[str, Schema]:
    """Return the schemas of a request's fields that others have too."""
    schemas: dict[str, Schema] = {}
    for batch in (False, True):
        for field in reader.fields:
            name = _shared_name(reader, field, batch=batch)
            if not name:
                continue
            holder = _declaring(reader.struct, field.name)
            doc = (holder.__doc__ or "").strip().split("\n\n")[0]
            schema = schemas.setdefault(name, {"description": doc, "type": "object", "properties": {}, "required": []})
            inner = field.schema(Refs(reader.struct), batch=batch)
            schema["properties"][field.name] = _undescribed(inner) if batch else inner
            if field.required:
                schema["required"].append(field.name)
    return {
        name: schema if schema["required"] else {key: value for key, value in schema.items() if key != "required"}
        for name, schema in schemas.items()
    }


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
        "units": ref("schemas", "UnitProfile"),
        "answer_units": ref("schemas", "UnitsByField"),
    }
    schemas: dict[str, Schema] = {}
    for struct in (reader, *_items_of(reader)):
        for field in struct.fields:
            note = description_of(struct.struct, field.name)
            if isinstance(field, ChoiceField):
                name = choice_name(field, struct.struct)
                schemas[name] = named_texts(field.names, note.doc)
            elif isinstance(field, ItemsField) and "" not in field.readers:
                name = _union_name(field, struct.struct)
                schemas[name] = _union(field, note, batch=False)
                schemas[f"{name}Columns"] = _union(field, note, batch=True)
    schemas.update(_section_schemas(reader))
    schemas.update(_shared_schemas(reader))
    for batch in (False, True):
        name = camel(entry.operation) + ("Columns" if batch else "Request")
        schema = object_schema(reader, batch=batch)
        if "allOf" in schema:
            schema["allOf"].append(ref("schemas", "AnyRequest"))
        else:
            schema["properties"].update(common)
        schemas[name] = schema
        for item in _items_of(reader):
            item_name = _item_name(item, batch=batch)
            schemas[item_name] = object_schema(item, batch=batch)
    return schemas


def section_name(struct: type[Any], field: str) -> str:
    """Return the name of a section's schema, which names its request."""
    return f"{struct.__name__.removesuffix('Request')}{camel(field)}Section"


def _section_schemas(reader: StructReader) -> dict[str, Schema]:
    """Return the schemas of a request's sections: another request's, without what is taken from elsewhere."""
    schemas: dict[str, Schema] = {}
    for field in reader.fields:
        if isinstance(field, SectionField):
            note = description_of(reader.struct, field.name)
            name = section_name(reader.struct, field.name)
            schema = object_schema(reader_for(find(note.calculation).request), batch=False)
            schema["allOf"].append(ref("schemas", "AnySection"))
            required = [inner for inner in schema.pop("required", ()) if inner not in note.shared]
            if required:
                schema["required"] = required
            schemas[name] = schema
    return schemas
