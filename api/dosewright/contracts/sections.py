"""Sections: whole requests of other calculations, inside one that puts several together."""

from collections.abc import Mapping
from typing import Any, cast

import msgspec

from dosewright.contracts.base import as_mapping
from dosewright.contracts.field_readers import Field, Reading
from dosewright.contracts.fields import Section

__all__ = ["RawSection", "SectionField"]


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
    """Another calculation's request, passed on unread."""

    __slots__ = ("calculation", "shared")

    def __init__(self, name: str, default: Any, section: Section) -> None:
        super().__init__(name, default)
        self.calculation = section.calculation
        self.shared = frozenset(section.shared)

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Take an object, or a request built in Python."""
        if isinstance(given, msgspec.Struct):
            given = as_mapping(given)
        if not isinstance(given, Mapping):
            reading.fault(at + self.name, "wrong_type", "An object is wanted here.", given)
            return None
        return RawSection(cast("Mapping[str, Any]", given), query=reading.query)
