"""Quantities at the edge: texts with units in, SI floats or arrays out, and back.

A caller's text is split into a number and a symbol, and the symbol is looked up in a closed list; nothing is ever
evaluated.
"""

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, Protocol, TypeAlias, cast, runtime_checkable

import msgspec
import numpy as np
import numpy.typing as npt

from dosewright.quantities.spelling import in_own_words, nearest
from dosewright.quantities.units import DIMENSION_OF, KINDS, PROFILES, Kind, Unit, UnitProfile

__all__ = [
    "KINDS",
    "PROFILES",
    "Column",
    "FrameColumn",
    "Kind",
    "Numbers",
    "PintQuantity",
    "Quantity",
    "QuantityInput",
    "Unit",
    "UnitProfile",
    "Unreadable",
    "from_pint",
    "read",
    "shortened",
]

Numbers: TypeAlias = float | npt.NDArray[np.float64]

_LONGEST_TEXT = 64
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?")


class Quantity(msgspec.Struct, frozen=True):
    """A value with its unit.

    Attributes
    ----------
    value : float, or a sequence or array of floats in a batch
        The number.
    unit : str
        A unit symbol of the field's dimension, e.g. ``gal/min``.
    """

    value: Any
    unit: str


@runtime_checkable
class PintQuantity(Protocol):
    """What is used of a pint quantity; pint itself is never imported."""

    @property
    def magnitude(self) -> Any:
        """The number."""
        ...

    @property
    def dimensionality(self) -> Any:
        """Base dimensions and their powers."""
        ...

    def to_base_units(self) -> Any:
        """Return the same quantity in SI base units."""
        ...


class FrameColumn(Protocol):
    """A column of a data frame, as pandas and polars have it; neither is ever imported."""

    def to_numpy(self) -> Any:
        """Return its values as an array."""
        ...


QuantityInput: TypeAlias = str | float | Quantity | Mapping[str, object] | PintQuantity
Column: TypeAlias = QuantityInput | Sequence[float] | Sequence[str] | npt.NDArray[np.float64] | FrameColumn


class Unreadable(ValueError):  # noqa: N818 - it is reported to the caller as a fault with its code
    """A value that is not a quantity of the expected kind: code, message and what is allowed."""

    def __init__(
        self, code: str, message: str, allowed: str | list[str] | None = None, misspelt: tuple[str, Kind] | None = None
    ) -> None:
        super().__init__(message)
        self.code = code
        self.allowed = allowed
        self._message = message
        self._misspelt = misspelt

    @classmethod
    def not_finite(cls) -> "Unreadable":
        """Return the fault of a number that is infinite or not a number."""
        return cls("number_not_finite", "The number must be finite.", "a finite number")

    @property
    def message(self) -> str:
        """What is wrong; the search for a near name is left until somebody reads it."""
        if self._misspelt is None:
            return self._message
        symbol, kind = self._misspelt
        words = in_own_words(symbol, kind.symbols)
        guess = words[0] if words else nearest(symbol, tuple(kind.lookup))
        return f"{self._message} Did you mean {guess!r}?" if guess else self._message


def shortened(value: object) -> str:
    """Return what was given, short enough to repeat in a message."""
    if isinstance(value, Quantity):
        value = {"value": value.value, "unit": value.unit}
    if isinstance(value, Mapping):
        pair = cast("Mapping[str, object]", value)
        if set(pair) == {"value", "unit"}:
            return shortened(f"{shortened(pair['value'])} {shortened(pair['unit'])}")
        return "an object"
    if isinstance(value, str):
        text = value
    elif isinstance(value, (int, float)) and abs(value) < 1e300:
        text = repr(float(value)) if isinstance(value, float) else repr(value)
    elif isinstance(value, (list, tuple, np.ndarray)):
        text = "a list" if len(cast("Any", value)) else "an empty list"
    elif value is None:
        text = "null"
    elif isinstance(value, int):
        text = "a number too large to read"
    elif isinstance(value, (bytes, bytearray, memoryview)):
        text = "binary data"
    else:
        text = str(value) if isinstance(value, float) else type(value).__name__
    return text if len(text) <= _LONGEST_TEXT else f"{text[:40]}… ({len(text)} characters)"


def _number(text: str) -> float:
    if not _NUMBER.fullmatch(text):
        if re.fullmatch(r"[+-]?[0-9.,]*,[0-9.,]*", text):
            raise Unreadable(
                "decimal_comma",
                f"{text!r} has a comma, which could mark decimals or thousands. Write a point for decimals "
                "and nothing for thousands. In an address, decimal=comma makes commas mark decimals.",
                "a number such as 2.5 or 2500",
            )
        raise Unreadable(
            "number_unreadable", f"{text!r} is not a number.", "digits 0-9, an optional point, an optional exponent"
        )
    number = float(text)
    if not math.isfinite(number):
        raise Unreadable("number_not_finite", f"{text!r} is too large for a number.", "a finite number")
    return number


def _unit(symbol: str, kind: Kind) -> Unit:
    unit = kind.lookup.get(symbol)
    if unit is not None:
        return unit
    if len(symbol) > _LONGEST_TEXT:
        symbol = f"{symbol[:40]}…"
    allowed = list(kind.symbols)
    if kind.dimension == "plain":
        message = f"This is a plain number: remove {symbol!r}."
        raise Unreadable("unit_not_allowed", message, "a number without a unit")
    dimension = DIMENSION_OF.get(symbol)
    if dimension is not None:
        message = f"{symbol!r} is a unit of {dimension.replace('_', ' ')}, but {kind.title} is required."
        raise Unreadable("unit_wrong_dimension", message, allowed)
    message = f"{symbol!r} is not a known unit of {kind.title}."
    raise Unreadable("unit_unknown", message, allowed, misspelt=(symbol, kind))


def _read_text(text: str, kind: Kind, profile: UnitProfile | None) -> tuple[float, Unit]:
    if len(text) > _LONGEST_TEXT:
        raise _too_long(text, kind)
    number, _, symbol = text.partition(" ")
    # The common spelling is "9 gal/min"; everything else takes the longer road below.
    unit = kind.lookup.get(symbol) if symbol else None
    if unit is not None and _NUMBER.fullmatch(number):
        value = float(number)
        if value - value == 0.0:
            return value, unit
    stripped = text.strip()
    head = _NUMBER.match(stripped)
    number, symbol = (stripped[: head.end()], stripped[head.end() :]) if head else (stripped, "")
    if not head or symbol[:1] in {",", "."} or (symbol[:1].isdigit()):
        number, _, symbol = stripped.partition(" ")
    value = _number(number)
    symbol = symbol.strip()
    if symbol:
        return value, _unit(symbol, kind)
    if profile is None:
        raise _unitless(kind, stripped)
    return value, kind.profiles[profile]


def _too_long(text: str, kind: Kind) -> Unreadable:
    message = f"A quantity is at most {_LONGEST_TEXT} characters, this has {len(text)}."
    return Unreadable("text_too_long", message, _example(kind))


def _example(kind: Kind) -> str:
    return f"a number and a unit, one of: {', '.join(kind.symbols)}" if kind.symbols else "a number without a unit"


def _unitless_column(kind: Kind) -> Unreadable:
    symbol = kind.profiles["metric"].symbol
    return Unreadable(
        "unit_missing",
        f'These numbers have no unit. Give the column as {{"value": […], "unit": "{symbol}"}}, write the unit with '
        f'each ("9 {symbol}"), or name a unit profile for the whole request (units: us, metric or si).',
        list(kind.symbols),
    )


def _unitless(kind: Kind, given: str) -> Unreadable:
    symbol = kind.profiles["metric"].symbol
    return Unreadable(
        "unit_missing",
        f'{given!r} has no unit. Write it with the value ("{given} {symbol}"), or as '
        f'{{"value": {given}, "unit": "{symbol}"}}, or name a unit profile for the whole request '
        "(units: us, metric or si).",
        list(kind.symbols),
    )


def _read_pair(value: object, symbol: object, kind: Kind) -> tuple[Any, Unit]:
    if not isinstance(symbol, str) or not (symbol or kind.dimension == "plain"):
        raise Unreadable("unit_missing", "The unit must be a string.", list(kind.symbols))
    unit = _unit(symbol.strip(), kind)
    if isinstance(value, str):
        if len(value) > _LONGEST_TEXT:
            raise _too_long(value, kind)
        return _number(value.strip()), unit
    return _plain(value), unit


def _plain(value: object) -> Any:
    if isinstance(value, bool) or value is None:
        shown = "null" if value is None else str(value).lower()
        raise Unreadable("number_unreadable", f"{shown} is not a number.", "a number")
    if isinstance(value, (int, float, np.number)):
        try:
            number = float(cast("float", value))
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise Unreadable.not_finite()
        return number
    if isinstance(value, (list, tuple, np.ndarray)):
        return cast("Any", value)
    raise Unreadable("number_unreadable", f"{shortened(value)} is not a number.", "a number")


_LENGTH, _TIME, _MASS = "[length]", "[time]", "[mass]"
# What pint's base units come to, by dimensions. A symbol that several kinds share is valid for each of them.
_OF_BASE_UNITS: dict[frozenset[tuple[str, float]], str] = {
    frozenset(dimensions.items()): symbol
    for symbol, dimensions in (
        ("m3/s", {_LENGTH: 3.0, _TIME: -1.0}),
        ("m", {_LENGTH: 1.0}),
        ("m3", {_LENGTH: 3.0}),
        ("kg", {_MASS: 1.0}),
        ("Pa", {_MASS: 1.0, _LENGTH: -1.0, _TIME: -2.0}),
        ("m/s", {_LENGTH: 1.0, _TIME: -1.0}),
        ("K", {"[temperature]": 1.0}),
        ("J/m2", {_MASS: 1.0, _TIME: -2.0}),
        ("W/m2", {_MASS: 1.0, _TIME: -3.0}),
        ("W", {_MASS: 1.0, _LENGTH: 2.0, _TIME: -3.0}),
        ("J", {_MASS: 1.0, _LENGTH: 2.0, _TIME: -2.0}),
        ("kg/m3", {_MASS: 1.0, _LENGTH: -3.0}),
        ("kg.s/m3", {_MASS: 1.0, _LENGTH: -3.0, _TIME: 1.0}),
        ("s", {_TIME: 1.0}),
        ("1/m", {_LENGTH: -1.0}),
        ("1/m3", {_LENGTH: -3.0}),
        ("W/(m.K)", {_MASS: 1.0, _LENGTH: 1.0, _TIME: -3.0, "[temperature]": -1.0}),
        ("W/(m2.K)", {_MASS: 1.0, _TIME: -3.0, "[temperature]": -1.0}),
        ("m2/J", {_MASS: -1.0, _TIME: 2.0}),
        ("1", dict[str, float]()),
    )
}


def from_pint(value: PintQuantity) -> Quantity:
    """Return a pint quantity as value and unit, in base units.

    Raises
    ------
    Unreadable
        No field here has its dimensions.
    """
    dimensions = {str(name): float(power) for name, power in dict(value.dimensionality).items()}
    symbol = _OF_BASE_UNITS.get(frozenset(dimensions.items()))
    if symbol is None:
        raise Unreadable("unit_wrong_dimension", f"No field has the dimensions {dimensions}.")
    return Quantity(value.to_base_units().magnitude, symbol)


def read(value: object, kind: Kind, profile: UnitProfile | None) -> tuple[Any, Unit]:
    """Read a quantity of a kind.

    Parameters
    ----------
    value : str, float, Quantity, mapping with value and unit, or pint quantity
        The value received. In a batch the number can be a sequence or array.
    kind : Kind
        What it must be.
    profile : {"us", "metric", "si"} or None
        Gives a bare number its unit; with None a bare number is a fault, except for plain numbers.

    Returns
    -------
    tuple of (value, Unit)
        The number as given (a float; a sequence is passed through unread) and its unit.

    Raises
    ------
    Unreadable
        With a code, a message that explains how to fix it, and what is allowed.
    """
    if kind.dimension == "plain":
        profile = "si"
    if isinstance(value, str):
        return _read_text(value, kind, profile)
    if isinstance(value, Quantity):
        return _read_pair(value.value, value.unit, kind)
    if isinstance(value, Mapping):
        pair = cast("Mapping[str, object]", value)
        if set(pair) != {"value", "unit"}:
            raise Unreadable("quantity_form", "Expected an object with exactly a value and a unit.", _example(kind))
        return _read_pair(pair["value"], pair["unit"], kind)
    if hasattr(value, "to_base_units") and isinstance(value, PintQuantity):
        given = from_pint(value)
        return _read_pair(given.value, given.unit, kind)
    number = _plain(value)
    if profile is None:
        raise _unitless(kind, f"{number:.15g}") if isinstance(number, float) else _unitless_column(kind)
    return number, kind.profiles[profile]
