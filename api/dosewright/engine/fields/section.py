"""Sections: whole requests of other calculations, inside one that puts several together."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

import msgspec

from dosewright.engine.base import as_mapping
from dosewright.engine.fields.field import Alias, AnswerField, Description, Field, Reading, Refs, Structs
from dosewright.engine.fields.unread import UNREAD

__all__ = ["RawSection", "Section", "SectionField", "sections_of"]


@dataclass(frozen=True)
class Section(Description):
    """Another calculation's whole request inside one that puts several together; in an answer, its whole answer.

    In a query each of its fields is a separate parameter, with the section's name before a point:
    ``water_test.uvt=85 %``.

    Attributes
    ----------
    doc : str
        Meaning.
    calculation : str
        Path of the calculation, e.g. ``uv/derated-flow``.
    shared : tuple of str
        Fields that can be omitted, since they are taken from elsewhere in the request.
    at_most : int
        0 for one section; otherwise the maximum length of a list, numbered in a query: ``equipment.0.uvt``.
    """

    doc: str
    calculation: str
    shared: tuple[str, ...] = ()
    at_most: int = 0

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return SectionField(name, default, self)

    def answer_field(self, name: str, hint: Any, *, optional: bool) -> AnswerField:
        """Return what an answer's field is: a whole answer, already in its units, so nothing looks inside."""
        del hint
        return AnswerField(name, self.doc, optional, schema={"section": self.calculation, "many": bool(self.at_most)})


class RawSection:
    """A section as it was given, for the calculation that will read it.

    Attributes
    ----------
    raw : Mapping
        The section's fields.
    query : bool
        Whether they come from a query, where all values are texts.
    ran : any
        Where the same section was answered already: that run, so that it is not computed twice.
    """

    __slots__ = ("query", "ran", "raw")

    def __init__(self, raw: Mapping[str, Any], *, query: bool, ran: Any = None) -> None:
        self.raw = raw
        self.query = query
        self.ran = ran


class SectionField(Field):
    """Another calculation's request, or a list of them, passed on unread."""

    __slots__ = ("at_most", "calculation", "shared")

    control = "section"

    def __init__(self, name: str, default: Any, section: Section) -> None:
        super().__init__(name, default, section)
        self.calculation = section.calculation
        self.shared = frozenset(section.shared)
        self.at_most = section.at_most

    def described(self) -> dict[str, Any]:
        """Return the calculation, what it shares, and how many are allowed."""
        return {
            "many": bool(self.at_most),
            "calculation": self.calculation,
            "shared": sorted(self.shared),
            "high": self.at_most,
        }

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        del batch
        section = refs.section(self)
        if self.at_most:
            section = {"type": "array", "items": section, "minItems": 1, "maxItems": self.at_most}
        return {**section, "description": self.doc}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        """Return its type in the client's signatures."""
        del batch
        one = f"{alias.request(self.calculation)}[QuantityInput] | Mapping[str, object]"
        return f"Sequence[{one}]" if self.at_most else one

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Take an object, or a request built in Python; or a list of them."""
        if not self.at_most:
            return self._one(given, at + self.name, reading)
        if reading.query and isinstance(given, Mapping):
            numbered = cast("Mapping[str, Any]", given)
            if not all(number.isascii() and number.isdigit() for number in numbered):
                message = f"{self.name} is a list: write {self.name}.0.field, {self.name}.1.field."
                reading.fault(at + self.name, "item_form", message)
                return None
            given = [numbered[number] for number in sorted(numbered, key=int)]
        if not isinstance(given, (list, tuple)):
            reading.fault(at + self.name, "wrong_type", "Expected a list.", given)
            return None
        entries = cast("Sequence[Any]", given)
        if not 1 <= len(entries) <= self.at_most:
            message = f"The list {self.name} takes 1 to {self.at_most} items, but {len(entries)} were received."
            reading.fault(at + self.name, "out_of_range", message, None, f"1 to {self.at_most} items")
        # The first ones of a list that is too long are kept, for their faults.
        kept = enumerate(entries[: self.at_most])
        return [self._one(entry, f"{at}{self.name}/{number}", reading) for number, entry in kept] or None

    @staticmethod
    def _one(given: Any, pointer: str, reading: Reading) -> Any:
        if isinstance(given, RawSection):
            return given
        if isinstance(given, msgspec.Struct):
            given = as_mapping(given)
        if not isinstance(given, Mapping):
            reading.fault(pointer, "wrong_type", "Expected an object.", given)
            return UNREAD
        return RawSection(cast("Mapping[str, Any]", given), query=reading.query)


def sections_of(field: Field, value: Any) -> Iterator[tuple[str, RawSection]]:
    """Yield the sections that a field holds and that could be read, each under its place in the request."""
    if isinstance(field, SectionField) and value is not None and value is not UNREAD:
        if field.at_most:
            yield from ((f"{field.name}/{number}", entry) for number, entry in enumerate(value) if entry is not UNREAD)
        else:
            yield field.name, value
