"""Sections: whole requests of other calculations, inside one that puts several together."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, cast

import msgspec

from dosewright.engine.base import as_mapping
from dosewright.engine.fields.field_readers import Field, Reading
from dosewright.engine.fields.fields import Section
from dosewright.engine.unread import UNREAD

__all__ = ["RawSection", "SectionField", "sections_of"]


class RawSection:
    """A section as it was given, for the calculation that will read it.

    Attributes
    ----------
    raw : Mapping
        The section's fields.
    query : bool
        Whether they come from a query, where all values are texts.
    """

    __slots__ = ("query", "raw")

    def __init__(self, raw: Mapping[str, Any], *, query: bool) -> None:
        self.raw = raw
        self.query = query


class SectionField(Field):
    """Another calculation's request, or a list of them, passed on unread."""

    __slots__ = ("at_most", "calculation", "shared")

    def __init__(self, name: str, default: Any, section: Section) -> None:
        super().__init__(name, default)
        self.calculation = section.calculation
        self.shared = frozenset(section.shared)
        self.at_most = section.at_most

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
            reading.fault(at + self.name, "wrong_type", "A list is wanted here.", given)
            return None
        entries = cast("Sequence[Any]", given)
        if not 1 <= len(entries) <= self.at_most:
            message = f"The list {self.name} takes 1 to {self.at_most} items, {len(entries)} were given."
            reading.fault(at + self.name, "out_of_range", message, None, f"1 to {self.at_most} items")
        # The first ones of a list that is too long are kept, for their faults.
        kept = enumerate(entries[: self.at_most])
        return [self._one(entry, f"{at}{self.name}/{number}", reading) for number, entry in kept] or None

    @staticmethod
    def _one(given: Any, pointer: str, reading: Reading) -> Any:
        if isinstance(given, msgspec.Struct):
            given = as_mapping(given)
        if not isinstance(given, Mapping):
            reading.fault(pointer, "wrong_type", "An object is wanted here.", given)
            return UNREAD
        return RawSection(cast("Mapping[str, Any]", given), query=reading.query)


def sections_of(field: Field, value: Any) -> Iterator[tuple[str, RawSection]]:
    """Yield the sections that a field holds and that could be read, each under its place in the request."""
    if isinstance(field, SectionField) and value is not None and value is not UNREAD:
        if field.at_most:
            yield from ((f"{field.name}/{number}", entry) for number, entry in enumerate(value) if entry is not UNREAD)
        else:
            yield field.name, value
