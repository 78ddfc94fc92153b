"""What a contract says of each field: kind of quantity, bounds, meaning, example."""

import math
import types
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Union, get_args, get_origin

from dosewright.quantities import KINDS, Kind, read

__all__ = [
    "Choice",
    "Day",
    "Flag",
    "Items",
    "Measure",
    "Part",
    "Section",
    "Series",
    "Text",
    "default",
    "members_of",
    "strip_none",
]


def default(value: Any) -> Any:
    """Give a quantity field its default as a text with a unit, e.g. ``default("10 degC")``.

    The type checker sees any type, since the field's own type is the caller's or the calculation's.
    """
    return value


@dataclass(frozen=True)
class Measure:
    """A quantity, or a plain number.

    Attributes
    ----------
    kind : str
        Name in ``tables/data/quantity_kinds.csv``, or ``plain``.
    doc : str
        Meaning, in one or two sentences.
    example : str, optional
        A value as a caller would write it. Requests need one.
    above, at_least, below, at_most : str, optional
        Bounds, written as quantities.
    hint : str
        Added to the message of a value out of bounds.
    """

    kind: str
    doc: str
    example: str | None = None
    above: str | None = None
    at_least: str | None = None
    below: str | None = None
    at_most: str | None = None
    hint: str = ""

    @cached_property
    def quantity(self) -> Kind:
        """The kind of quantity, resolved at import so that a misspelt one fails early."""
        return KINDS[self.kind]

    def bound(self, text: str | None) -> float | None:
        """Return a bound in the SI profile's unit."""
        if text is None:
            return None
        value, unit = read(text, self.quantity, None)
        return float(unit.to_si(value))

    @cached_property
    def interval(self) -> tuple[float, float]:
        """The least and the greatest number allowed, in the SI profile's unit.

        A bound that is itself outside stands as its neighbour inside, so that one comparison a side serves.
        """
        lowest, highest = self.bound(self.at_least), self.bound(self.at_most)
        above, below = self.bound(self.above), self.bound(self.below)
        if above is not None:
            lowest = math.nextafter(above, math.inf)
        if below is not None:
            highest = math.nextafter(below, -math.inf)
        return -math.inf if lowest is None else lowest, math.inf if highest is None else highest

    @cached_property
    def allowed(self) -> str:
        """The bounds in words."""
        parts = [
            f"{word} {text}"
            for word, text in (
                ("above", self.above),
                ("at least", self.at_least),
                ("below", self.below),
                ("at most", self.at_most),
            )
            if text is not None
        ]
        return " and ".join(parts) or "any finite number"


@dataclass(frozen=True)
class Series:
    """A list of quantities that belongs to one question: the points of a curve, a distribution.

    The field's type is ``Q``; a calculation gets a tuple of SI values, the same for all rows of a batch.
    """

    measure: Measure
    at_least: int = 1
    at_most: int = 200

    @property
    def doc(self) -> str:
        """Meaning."""
        return self.measure.doc


@dataclass(frozen=True)
class Choice:
    """One of a closed set of names: the field's type is a ``Literal`` of them."""

    doc: str
    example: str | None = None


@dataclass(frozen=True)
class Flag:
    """Yes or no."""

    doc: str
    example: bool | None = None


@dataclass(frozen=True)
class Day:
    """A calendar day, written as ISO 8601 has it: 2026-05-31. The field's type is ``datetime.date``."""

    doc: str
    example: str | None = None


@dataclass(frozen=True)
class Text:
    """A text in an answer."""

    doc: str


@dataclass(frozen=True)
class Items:
    """A list of structs, told apart by their ``kind`` where there is more than one type.

    In a query each item is one repeated parameter, written ``kind;name:value;name:value``.
    """

    doc: str
    at_least: int = 1
    at_most: int = 200
    example: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True)
class Section:
    """Another calculation's whole request inside one that puts several together; in an answer, its whole answer.

    In a query each of its fields is a parameter of its own, with the section's name before a point:
    ``water_test.uvt=85 %``.

    Attributes
    ----------
    doc : str
        Meaning.
    calculation : str
        Path of the calculation asked, e.g. ``uv/derated-flow``.
    shared : tuple of str
        Fields that may be left out, since they are taken from elsewhere in the request.
    at_most : int
        0 for one section; else a list of so many at most, told apart in a query by a number: ``equipment.0.uvt``.
    """

    doc: str
    calculation: str
    shared: tuple[str, ...] = ()
    at_most: int = 0


@dataclass(frozen=True)
class Part:
    """One struct inside another, written in a query as ``name:value;name:value``."""

    doc: str
    example: dict[str, Any] | None = None


def strip_none(hint: Any) -> tuple[Any, bool]:
    """Return a type without None, and whether None was in it."""
    if get_origin(hint) in {Union, types.UnionType}:
        rest = [arg for arg in get_args(hint) if arg is not type(None)]
        if len(rest) < len(get_args(hint)):
            return (rest[0] if len(rest) == 1 else Union[tuple(rest)]), True  # noqa: UP007 - built at run time
    return hint, False


def members_of(hint: Any) -> list[type[Any]]:
    """Return the struct types of a union, or of one type, without their type arguments."""
    members = get_args(hint) if get_origin(hint) in {Union, types.UnionType} else (hint,)
    return [get_origin(member) or member for member in members]
