"""Structs inside a request: a list of items distinguished by their kind, or one part."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast, get_args

import msgspec

from dosewright.engine.base import as_mapping
from dosewright.engine.faults import pointer_to
from dosewright.engine.fields.field import (
    MISSING,
    Alias,
    AnswerField,
    Description,
    Field,
    Reading,
    Refs,
    StructReads,
    Structs,
    members_of,
    strip_none,
)
from dosewright.engine.fields.unread import UNREAD
from dosewright.quantities import shortened
from dosewright.quantities.spelling import meant

__all__ = ["Items", "ItemsField", "Part", "item_texts"]

_TOP = "/"  # place of the fields of the request itself


@dataclass(frozen=True)
class Items(Description):
    """A list of structs, distinguished by their ``kind`` where there is more than one type.

    In a query each item is one repeated parameter, written ``kind;name:value;name:value``. A list inside an item is
    numbered: ``kind;points.0.flow:value;points.1.flow:value``.
    """

    doc: str
    at_least: int = 1
    at_most: int = 200
    example: tuple[dict[str, Any], ...] = ()

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        return ItemsField(name, default, self, _readers(get_args(hint)[0], structs))

    def answer_field(self, name: str, hint: Any, *, optional: bool) -> AnswerField:
        """Return what an answer's field is."""
        inner, _ = strip_none(hint)
        struct = members_of(get_args(inner)[0])[0]
        return AnswerField(name, self.doc, optional, struct=struct, many=True)


@dataclass(frozen=True)
class Part(Description):
    """One struct inside another, written in a query as ``name:value;name:value``."""

    doc: str
    example: dict[str, Any] | None = None

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        return ItemsField(name, default, self, _readers(hint, structs))

    def answer_field(self, name: str, hint: Any, *, optional: bool) -> AnswerField:
        """Return what an answer's field is."""
        inner, _ = strip_none(hint)
        struct = members_of(inner)[0]
        return AnswerField(name, self.doc, optional, struct=struct, many=False)


def _readers(hint: Any, structs: Structs) -> dict[str, StructReads]:
    """Return the reader of each struct by its tag."""
    tags = ((struct.__struct_config__.tag, struct) for struct in members_of(hint))
    return {tag if isinstance(tag, str) else "": structs(struct) for tag, struct in tags}


class ItemsField(Field):
    """A list of structs, or one struct."""

    __slots__ = ("items", "many", "readers", "repeats")

    control = "items"
    placeholder = "ITEM"

    def __init__(self, name: str, default: Any, note: "Items | Part", readers: Mapping[str, StructReads]) -> None:
        super().__init__(name, default, note)
        self.many = self.repeats = isinstance(note, Items)
        self.items = note if isinstance(note, Items) else Items("", 1, 1)
        self.readers = readers

    @property
    def structs(self) -> Sequence[StructReads]:
        """Readers of the structs inside."""
        return tuple(self.readers.values())

    def help(self) -> list[str]:
        """Return how an item of each kind is written."""
        forms = ((kind, ";".join(f"{name}:…" for name in _names(one))) for kind, one in self.readers.items())
        return [f'"{kind};{named}"' if kind else f'"{named}"' for kind, named in forms]

    def template_notes(self) -> list[str]:
        """Return the fields of an item of each kind."""
        return [
            f"{kind or 'Fields'}: {', '.join(_listed(field) for field in one.fields)}."
            for kind, one in self.readers.items()
        ]

    def described(self) -> dict[str, Any]:
        """Return how many items are allowed."""
        return {"many": self.many, "low": self.items.at_least, "high": self.items.at_most}

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        one = refs.items(self, batch=batch)
        if not self.many:
            return {**one, "description": self.doc}
        bounds = {"minItems": self.items.at_least, "maxItems": self.items.at_most}
        return {"type": "array", "items": one, **bounds, "description": self.doc}

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a parameter of a query."""
        del refs
        if not self.many:
            return {"schema": {"type": "string"}, "description": f"{self.doc} Written name:value;name:value."}
        bounds = {"minItems": self.items.at_least, "maxItems": self.items.at_most}
        items = {"type": "array", "items": {"type": "string"}, **bounds}
        written = f"{self.doc} One parameter per item, written kind;name:value;name:value."
        if any(field.structs for reader in self.structs for field in reader.fields):
            written += " A list inside an item is numbered: list.0.name:value."
        return {"schema": items, "style": "form", "explode": True, "description": written}

    def query_text(self, value: Any) -> Any:
        """Return an example value as written in a query."""
        return [_item_text(item) for item in value] if self.many else _item_text(value)

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        """Return its type in the client's signatures."""
        del alias
        held = "[Column]" if batch else "[QuantityInput]"
        kinds = " | ".join(
            one.struct.__name__ + (held if getattr(one.struct, "__parameters__", ()) else "") for one in self.structs
        )
        return f"Sequence[{kinds} | Mapping[str, object]]" if self.many else f"{kinds} | Mapping[str, object]"

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a list of structs, or one struct."""
        here = at + self.name
        if reading.query and at != _TOP:
            given = self._inner(given, here, reading)
            if given is None:
                return None
        if not self.many:
            return self._item(given, here + "/", reading)
        if reading.query and isinstance(given, str):
            given = [given]
        if not isinstance(given, (list, tuple)):
            reading.fault(here, "wrong_type", "Expected a list.", given)
            return None
        entries = cast("Sequence[Any]", given)
        low, high = self.items.at_least, self.items.at_most
        if not low <= len(entries) <= high:
            message = f"The list {self.name} takes {low} to {high} items, but {len(entries)} were received."
            reading.fault(here, "out_of_range", message, None, f"{low} to {high} items")
        # Of a list that is too long, so many are read as a good one has: their faults come in the same answer.
        items = [self._item(entry, f"{here}/{index}/", reading) for index, entry in enumerate(entries[:high])]
        return items if low <= len(entries) <= high else None

    def _inner(self, given: Any, here: str, reading: Reading) -> Any:
        """Return a list or part inside an item of a query: its names come with a point before them."""
        if not isinstance(given, Mapping):
            start = f"{self.name}.0" if self.many else self.name
            message = f"{self.name} holds more than one value: write {start}.name:value."
            reading.fault(here, "item_form", message, given, "name:value")
            return None
        numbered = cast("Mapping[str, Any]", given)
        if not self.many:
            return numbered
        if not all(number.isascii() and number.isdigit() for number in numbered):
            message = f"{self.name} is a list: write {self.name}.0.name:value;{self.name}.1.name:value."
            reading.fault(here, "item_form", message)
            return None
        return [numbered[number] for number in sorted(numbered, key=int)]

    def _item(self, entry: Any, at: str, reading: Reading) -> Any:
        if isinstance(entry, msgspec.Struct):
            entry = as_mapping(entry)
        elif reading.query and isinstance(entry, str):
            entry = self._parse(entry, at, reading)
            if entry is None:
                return UNREAD
        if not isinstance(entry, Mapping):
            reading.fault(at[:-1], "wrong_type", "Expected an object.", entry)
            return UNREAD
        raw = cast("Mapping[str, Any]", entry)
        tag = ""
        reader = self.readers.get("")
        if reader is None:
            tag = raw.get("kind", MISSING)
            reader = self.readers.get(tag) if isinstance(tag, str) else None
            if reader is None:
                self._unknown_kind(tag, at, reading)
                self._whatever_kind(raw, at, reading)
                return UNREAD
        inner, reading.query_parameters = reading.query_parameters, []
        item = reader.read(raw, at, reading)
        pieces, reading.query_parameters = reading.query_parameters, inner
        if not reading.batch:
            reading.query_parameters += self._question(tag, pieces, at)
        return item

    def _question(self, tag: str, pieces: list[str], at: str) -> list[str]:
        """Return an item as one parameter of a query, or as parts of the item that holds it."""
        place = at[:-1].split("/")
        if len(place) > (3 if self.many else 2):
            start = ".".join(place[-2:] if self.many else place[-1:])
            return [f"{start}.{piece}" for piece in ([f"kind={tag}", *pieces] if tag else pieces)]
        parts = [piece.replace("=", ":", 1) for piece in pieces]
        return [f"{self.name}={';'.join([tag, *parts] if tag else parts)}"]

    def _unknown_kind(self, tag: Any, at: str, reading: Reading) -> None:
        allowed = list(self.readers)
        if tag is MISSING:
            reading.fault(at + "kind", "required", "Each item needs a kind.", None, allowed)
            return
        hint = meant(tag, allowed) if isinstance(tag, str) else ""
        message = f"Unknown kind.{hint} Its other fields are checked only for what no kind takes."
        reading.fault(at + "kind", "unknown_choice", message, tag, allowed)

    def _whatever_kind(self, raw: Mapping[str, Any], at: str, reading: Reading) -> None:
        """Add the faults of an item of unknown kind that every kind shares."""
        names = sorted({name for reader in self.readers.values() for name in reader.known})
        for name, given in raw.items():
            if name == "kind" or given is None:
                continue
            takers = [field for reader in self.readers.values() for field in reader.fields if field.name == name]
            if not takers:
                message = f"{shortened(name)!r} is an unknown field for every kind.{meant(str(name), names)}"
                reading.fault(pointer_to(at, str(name)), "unknown_field", message, allowed=names)
                continue
            trials = [self._trial(field, given, at, reading) for field in takers]
            if all(trial.faults or trial.row_faults for trial in trials):
                reading.faults.extend(trials[0].faults)
                reading.row_faults.extend(trials[0].row_faults)

    @staticmethod
    def _trial(field: Field, given: Any, at: str, reading: Reading) -> Reading:
        trial = Reading(batch=reading.batch, query=reading.query)
        trial.profile = reading.profile
        field.read(given, at, trial)
        return trial

    def _parse(self, text: str, at: str, reading: Reading) -> dict[str, Any] | None:
        raw: dict[str, Any] = {}
        for index, part in enumerate(text.split(";")):
            name, colon, value = part.partition(":")
            name = name.strip()
            if index == 0 and not colon and "" not in self.readers:
                raw["kind"] = name
            elif not colon or not _put(raw, name.split(".") if self._holds(name) else [name], value.strip()):
                message = "Write an item as kind;name:value;name:value, each name once."
                reading.fault(at[:-1], "item_form", message, part, "name:value")
                return None
        return raw

    def _holds(self, name: str) -> bool:
        """Return whether a name with points belongs to a list or part inside an item."""
        start, point, _ = name.partition(".")
        fields = (field for reader in self.structs for field in reader.fields) if point else ()
        return any(field.name == start and isinstance(field, ItemsField) for field in fields)


def _put(raw: dict[str, Any], path: Sequence[str], value: str) -> bool:
    """Put a value at the place that its name gives; return whether that place was free."""
    inside = raw
    for step in path[:-1]:
        held = inside.setdefault(step, {})
        if not isinstance(held, dict):
            return False
        inside = cast("dict[str, Any]", held)
    if path[-1] in inside:
        return False
    inside[path[-1]] = value
    return True


def _names(reader: StructReads) -> Iterator[str]:
    """Yield the names of an item's fields as a query writes them."""
    for field in reader.fields:
        if not isinstance(field, ItemsField):
            yield field.name
            continue
        for kind, inner in field.readers.items():
            start = f"{field.name}.0" if field.many else field.name
            yield from (f"{start}.{name}" for name in (["kind"] if kind else []))
            yield from (f"{start}.{name}" for name in _names(inner))


def _listed(field: Field) -> str:
    """Return a field's name, with those inside it where it holds items."""
    inside = dict.fromkeys(name for reader in field.structs for name in (one.name for one in reader.fields))
    return f"{field.name} ({', '.join(inside)})" if inside else field.name


def item_texts(item: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of an item by their names in a query, those of lists and parts inside it with points."""
    found: dict[str, Any] = {}
    for name, value in item.items():
        inside = enumerate(cast("list[Any]", value)) if isinstance(value, list) else [("", value)]
        for number, entry in inside:
            start = f"{name}.{number}".rstrip(".")
            if isinstance(entry, Mapping):
                inner = item_texts(cast("Mapping[str, Any]", entry))
                found.update({f"{start}.{key}": held for key, held in inner.items()})
            else:
                found[start] = entry
    return found


def _item_text(item: Mapping[str, Any]) -> str:
    parts = [f"{name}:{value}" for name, value in item_texts(item).items() if name != "kind"]
    return ";".join([item["kind"], *parts] if "kind" in item else parts)
