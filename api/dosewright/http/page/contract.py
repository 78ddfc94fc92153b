"""What the page knows of each calculation: its fields, units, example and answer, taken from the contracts."""

from functools import cache
from typing import Any

import msgspec

from dosewright import __version__
from dosewright.engine.fields.field import Field, StructReads
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, calculations, find
from dosewright.engine.writing import answer_fields
from dosewright.http.openapi.document import TOPICS
from dosewright.quantities import KINDS, PROFILES

__all__ = ["contract", "contract_of"]

Plain = dict[str, Any]


@cache
def contract() -> bytes:
    """Return what the whole page is made from, as JSON: topics, kinds of quantity, and each calculation's name."""
    entries = calculations().values()
    topics = dict.fromkeys(entry.topic for entry in entries)
    return msgspec.json.encode(
        {
            "version": __version__,
            "topics": [{"name": topic, "title": TOPICS[topic]} for topic in topics],
            "kinds": {
                kind.name: {
                    "symbols": list(kind.symbols),
                    "profiles": {profile: kind.profiles[profile].symbol for profile in PROFILES},
                }
                for kind in KINDS.values()
            },
            "calculations": [{"path": entry.path, "topic": entry.topic, "summary": entry.summary} for entry in entries],
        }
    )


@cache
def contract_of(path: str) -> bytes:
    """Return what the form of one calculation is made from, as JSON: itself, and those that are sections of it.

    Raises
    ------
    KeyError
        No calculation has this path.
    """
    structs: dict[str, Plain] = {}
    found: dict[str, Plain] = {}
    waiting = [path]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = _calculation(find(name), structs)
            waiting += [field["calculation"] for field in found[name]["fields"] if field["type"] == "section"]
    return msgspec.json.encode({"calculations": found, "structs": structs})


def _calculation(entry: Calculation[Any, Any], structs: dict[str, Plain]) -> Plain:
    return {
        "path": entry.path,
        "topic": entry.topic,
        "name": entry.name,
        "summary": entry.summary,
        "description": entry.description,
        "pictured": entry.views.chart is not None,
        "example": dict(entry.example),
        "fields": _fields(reader_for(entry.request), structs),
        "answer": _answer(entry.answer, structs),
    }


def _fields(reader: StructReads, structs: dict[str, Plain]) -> list[Plain]:
    return [_field(field, structs) for field in reader.fields]


def _field(field: Field, structs: dict[str, Plain]) -> Plain:
    texts: Plain = {"name": field.name, "doc": field.doc}
    if field.required:
        texts["required"] = True
    if field.default_text is not None:
        texts["default"] = field.default_text
    if isinstance(field, ItemsField):
        texts["kinds"] = {tag: _struct(reader, structs) for tag, reader in field.readers.items()}
    return {**texts, "type": field.control, **field.described()}


def _struct(reader: StructReads, structs: dict[str, Plain]) -> str:
    """Tell a struct once, however many lists hold it, and return its name."""
    name = reader.struct.__name__
    if name not in structs:
        doc = (reader.struct.__doc__ or "").strip().split("\n\n")[0]
        structs[name] = {"doc": doc, "fields": []}
        structs[name]["fields"] = _fields(reader, structs)
    return name


def _answer(struct: type[Any], structs: dict[str, Plain]) -> list[Plain]:
    texts: list[Plain] = []
    for field in answer_fields(struct):
        one: Plain = {"name": field.name, "doc": field.doc}
        if field.kind is not None:
            one["kind"] = field.kind.name
        elif field.struct is not None:
            name = field.struct.__name__
            if name not in structs:
                structs[name] = {"fields": []}
                structs[name]["fields"] = _answer(field.struct, structs)
            one.update(struct=name, many=field.many)
        texts.append(one)
    return texts
