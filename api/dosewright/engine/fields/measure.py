"""Quantities and plain numbers: a value with its unit in, SI out; in a batch, a column of them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import islice
from typing import Any, cast
from urllib.parse import unquote

import numpy as np
import numpy.typing as npt

from dosewright.engine.faults import MOST_FAULTS, Fault, more_faults
from dosewright.engine.fields.field import Alias, AnswerField, Description, Field, Reading, Refs, Structs, quoted
from dosewright.engine.fields.known import Known
from dosewright.engine.sentences import capitalised
from dosewright.quantities import KINDS, Kind, Unit, UnitProfile, Unreadable, read, shortened

__all__ = ["COLUMN_TYPES", "QUOTED_UNITS", "Measure", "MeasureField", "holds_texts", "known", "number_text"]

Floats = npt.NDArray[np.float64]
AnyArray = npt.NDArray[Any]

# Typed loosely on purpose: the entries are checked one by one.
COLUMN_TYPES: tuple[Any, ...] = (list, tuple, np.ndarray)
QUOTED_UNITS = {symbol: quoted(symbol) for kind in KINDS.values() for symbol in kind.lookup}
"""Every spelling of every unit as written in a query."""
_LONGEST_KEPT = 32
_SUFFIXES = {symbol: f"%20{text}" for symbol, text in QUOTED_UNITS.items()} | {"": ""}


@dataclass(frozen=True)
class Measure(Description):
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

        An exclusive bound is replaced by its inner neighbour, so that one comparison per side is enough.
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

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return MeasureField(name, default, self)

    def answer_field(self, name: str, hint: Any, *, optional: bool) -> AnswerField:
        """Return what an answer's field is."""
        del hint
        return AnswerField(name, self.doc, optional, kind=self.quantity)


def number_text(value: float) -> str:
    """Return a number as written in a query."""
    text = repr(value)
    if text.endswith(".0"):
        return text[:-2]
    return text.replace("e+", "e") if "e" in text else text


def known(value: float, unit: Unit) -> Known:
    """Return a number in SI that a question is to show in a unit, if the text then reads back to the same number."""
    text = number_text(float(unit.from_si(value)))
    exact = unit.to_si(float(text)) == value
    return Known(value, f"{text}{_SUFFIXES[unit.symbol]}" if exact else "")


class MeasureField(Field):
    """A quantity or a plain number."""

    __slots__ = ("highest", "kind", "lowest", "measure")

    control = "measure"
    varies = True

    def __init__(self, name: str, default: Any, measure: Measure) -> None:
        super().__init__(name, default, measure)
        self.measure = measure
        self.kind = measure.quantity
        self.lowest, self.highest = measure.interval
        if isinstance(default, (str, float, int)):
            value, unit = read(default, self.kind, None)
            self.default_text = str(default)
            self.default = unit.to_si(value)

    @property
    def placeholder(self) -> str:  # pyright: ignore[reportIncompatibleVariableOverride] - follows from the kind
        """Placeholder of a value in the help of the command line."""
        return "QUANTITY" if self.kind.symbols else "NUMBER"

    @property
    def limits(self) -> str:
        """The bounds in words."""
        return self.measure.allowed

    @property
    def allowed(self) -> str:
        """Kind, bounds and units."""
        units = f"; units: {', '.join(self.kind.symbols)}" if self.kind.symbols else ""
        return f"{self.kind.title}, {self.limits}{units}"

    @property
    def bounded(self) -> str:
        """Meaning and bounds in words."""
        return f"{self.doc} Allowed: {self.limits}."

    def help(self) -> list[str]:
        """Return the bounds as a sentence."""
        return [f"{capitalised(self.limits)}."]

    def template_notes(self) -> list[str]:
        """Return the bounds as a sentence."""
        return [f"Allowed: {self.limits}."]

    def described(self) -> dict[str, Any]:
        """Return kind, bounds and example."""
        example = {} if self.measure.example is None else {"example": self.measure.example}
        return {"kind": self.measure.kind, "allowed": self.limits, **example}

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        schema = {**refs.quantity(self.kind, batch=batch), "description": self.with_default(self.bounded)}
        if self.measure.example is not None and not batch:
            schema["examples"] = [self.measure.example]
        return schema

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a parameter of a query."""
        return {"schema": refs.text(self.kind), "description": self.bounded}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        """Return its type in the client's signatures."""
        del alias
        return "Column" if batch else "QuantityInput"

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a quantity, or a column of them in a batch."""
        if type(given) is Known:
            return self._known(given, at, reading)
        if type(given) is not str or len(given) > _LONGEST_KEPT:
            return self._read(given, at, reading)
        understood = _text_in_bounds(self, given, reading.profile)
        if understood is None:
            return self._read(given, at, reading)
        si, requested = understood
        if not reading.batch:
            reading.query_parameters.append(requested)
        return si

    def _read(self, given: Any, at: str, reading: Reading) -> Any:
        if type(given) is not str and isinstance(given, COLUMN_TYPES):
            if not reading.batch:
                self._refuse_column(given, at, reading)
                return None
            if holds_texts(given) or not len(given):
                return read_column(self, given, None, at, reading)
        try:
            value, unit = read(given, self.kind, reading.profile)
        except Unreadable as fault:
            reading.fault(at + self.name, fault.code, fault.message, given, fault.allowed)
            return None
        if not isinstance(value, float):
            if reading.batch:
                return read_column(self, value, unit, at, reading)
            self._refuse_column(given, at, reading)
            return None
        si = unit.to_si(value)
        if not self.lowest <= si <= self.highest:
            self._refuse_outside(given, at, reading)
            return None
        if not reading.batch:
            reading.query_parameters.append(self.requested(value, unit))
        return si

    def requested(self, value: float, unit: Unit) -> str:
        """Return a quantity as a parameter of a query."""
        return f"{self.name}={number_text(value)}{_SUFFIXES[unit.symbol]}"

    def _known(self, given: Known, at: str, reading: Reading) -> float | None:
        """Take a number in SI from another part of the calculation; only its bounds remain to be checked."""
        si = given.value
        shown = given.shown or f"{number_text(si)}{_SUFFIXES[self.kind.profiles['si'].symbol]}"
        if not self.lowest <= si <= self.highest:
            message = (
                f"{self.name} must be {self.measure.allowed}.{f' {self.measure.hint}' if self.measure.hint else ''}"
            )
            reading.fault(at + self.name, "out_of_range", message, unquote(shown), self.measure.allowed)
            return None
        reading.query_parameters.append(f"{self.name}={shown}")
        return si

    def _refuse_outside(self, given: object, at: str, reading: Reading) -> None:
        hint = f" {self.measure.hint}" if self.measure.hint else ""
        message = f"{self.name} must be {self.measure.allowed}.{hint}"
        reading.fault(at + self.name, "out_of_range", message, given, self.measure.allowed)

    def _refuse_column(self, given: object, at: str, reading: Reading) -> None:
        message = "Expected one value. For a list of values, use the batch of this calculation."
        reading.fault(at + self.name, "not_a_batch", message, given)

    def outside(self, si: np.ndarray[Any, np.dtype[np.float64]]) -> np.ndarray[Any, np.dtype[np.bool_]]:
        """Return which entries of an array are out of bounds; NaN is."""
        return np.logical_not((si >= self.lowest) & (si <= self.highest))


@lru_cache(maxsize=4096)
def _text_in_bounds(field: MeasureField, text: str, profile: UnitProfile | None) -> tuple[float, str] | None:
    """Return a quantity in SI and as a parameter of a query; None if its text is invalid.

    Kept, since the same few texts come again and again ("12 degC"), and reading one takes longer than looking it up.
    """
    try:
        value, unit = read(text, field.kind, profile)
    except Unreadable:
        return None
    si = unit.to_si(value)
    return (si, field.requested(value, unit)) if field.lowest <= si <= field.highest else None


def holds_texts(values: Any) -> bool:
    """Tell whether a column has anything but numbers, so that each entry is to be read with its own unit."""
    if isinstance(values, np.ndarray):
        return cast("AnyArray", values).dtype.kind not in "fiub"
    return not set(map(type, values)) <= {int, float, bool, type(None)}


def read_column(
    field: MeasureField, values: Sequence[Any] | AnyArray, unit: Unit | None, at: str, reading: Reading
) -> Floats | None:
    """Read a column.

    Parameters
    ----------
    field : quantity field reader
        Gives kind and bounds.
    values : sequence or array
        Numbers when `unit` is given; texts with units otherwise. None marks an absent value.
    unit : Unit or None
        Unit of all numbers.
    at : str
        JSON pointer of the struct that holds the field, with its closing slash.
    reading : Reading
        Takes the faults: of the whole column, or of single rows.

    Returns
    -------
    ndarray or None
        SI values, NaN in rows with errors; None where the column as a whole cannot be read.
    """
    pointer = at + field.name
    shape = np.shape(values) if isinstance(values, np.ndarray) else (len(values),)
    if len(shape) != 1 or not shape[0]:
        reading.fault(pointer, "wrong_type", "Expected a flat list with at least one value.", values)
        return None
    if unit is None:
        si = _texts(field, values, pointer, reading)
    else:
        numbers = _floats(values)
        if numbers is None:
            _refuse_entries(values, pointer, reading)
            return None
        si = cast("Floats", unit.to_si(numbers))
    if si is None:
        return None
    finite = np.isfinite(si)
    all_finite = bool(finite.all())
    if unit is not None and not all_finite:
        message = "The value is missing or not finite."
        reading.row_faults.append(_fault(pointer, "number_not_finite", message, ~finite, "a finite number"))
    outside = field.outside(si)
    if not all_finite:
        outside &= finite
    if outside.any():
        first = shortened(float(si[outside][0])) + f" {field.kind.profiles['si'].symbol}".rstrip()
        message = f"{field.name} must be {field.measure.allowed}."
        reading.row_faults.append(_fault(pointer, "out_of_range", message, outside, field.measure.allowed, first))
        si = np.where(outside, np.nan, si)
    return si


def _fault(
    pointer: str, code: str, message: str, rows: npt.NDArray[np.bool_], allowed: Any, given: str | None = None
) -> Fault:
    where = np.flatnonzero(rows).tolist()
    return Fault(pointer=pointer, code=code, message=message, given=given, allowed=allowed, rows=where)


def _refuse_entries(values: Sequence[Any] | AnyArray, pointer: str, reading: Reading) -> None:
    """Reject a column with one unit for entries other than numbers and null, and name the rows."""
    wrong = (row for row, one in enumerate(values) if _floats([one]) is None)
    rows = list(islice(wrong, MOST_FAULTS))
    first = values[rows[0]] if rows else cast("Any", values)
    where = f" Row {rows[0]} is {'text' if isinstance(first, str) else shortened(first)}." if rows else ""
    message = f"A column with one unit can only contain numbers or null.{where}"
    reading.fault(pointer, "wrong_type", message, first, "numbers or null", rows or None)


def _floats(values: Sequence[Any] | AnyArray) -> Floats | None:
    if isinstance(values, np.ndarray):
        return values.astype(np.float64, copy=False) if values.dtype.kind in "fiu" else None
    if not set(map(type, values)) <= {int, float, type(None)}:
        return None
    try:
        return np.array(values, dtype=np.float64)
    except OverflowError:
        return None


def _texts(field: MeasureField, values: Sequence[Any] | AnyArray, pointer: str, reading: Reading) -> Floats | None:
    si = np.full(len(values), np.nan)
    unreported: list[int] = []
    wrong: dict[tuple[str, str], tuple[list[int], Any, Unreadable]] = {}
    empty = np.zeros(len(values), dtype=np.bool_)
    for row, value in enumerate(values):
        if value is None:
            empty[row] = True
            continue
        try:
            number, unit = read(value, field.kind, reading.profile)
            if not isinstance(number, float):
                raise Unreadable("wrong_type", "Expected one value per row.", None)  # noqa: TRY301 - reported like the others
            si[row] = unit.to_si(number)
        except Unreadable as fault:
            if len(wrong) < MOST_FAULTS:
                # By its bare text: the search for a near name is left until all rows are read.
                wrong.setdefault((fault.code, str(fault)), ([], value, fault))[0].append(row)
            else:
                unreported.append(row)
    if empty.any():
        message = "The value is missing."
        reading.row_faults.append(_fault(pointer, "number_not_finite", message, empty, "a finite number"))
    if unreported:
        reading.row_faults.append(more_faults(unreported))
    for rows, first, fault in wrong.values():
        texts, allowed = fault.message, fault.allowed
        reading.row_faults.append(
            Fault(pointer=pointer, code=fault.code, message=texts, given=shortened(first), allowed=allowed, rows=rows)
        )
    return si
