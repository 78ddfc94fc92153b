"""A series: a short list of quantities that belongs to one question, such as the points of a curve."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, cast

import numpy as np

from dosewright.engine.fields.field import Alias, Description, Field, Reading, Refs, Structs, quoted
from dosewright.engine.fields.known import Known
from dosewright.engine.fields.measure import Measure, MeasureField, number_text
from dosewright.quantities import Quantity, Unit, Unreadable, read, shortened

__all__ = ["Series", "SeriesField"]

_BARE = re.compile(r"[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?")


@dataclass(frozen=True)
class Series(Description):
    """A list of quantities that belongs to one question: the points of a curve, a distribution.

    The field's type is ``Q``; a calculation gets a tuple of SI values, the same for all rows of a batch.
    """

    measure: Measure
    at_least: int = 1
    at_most: int = 200

    doc: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "doc", self.measure.doc)

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return SeriesField(name, default, self)


class SeriesField(Field):
    """A list of quantities of one kind; read into a tuple of SI values.

    It is a list of quantities, one text separated by commas or semicolons (a unit after the last applies to all), or
    a value-and-unit pair with a list of values. In a query the parameter can also be repeated. In a batch one
    series serves all rows.
    """

    __slots__ = ("series", "value")

    control = "series"
    placeholder = "QUANTITIES"
    repeats = True

    def __init__(self, name: str, default: Any, series: Series) -> None:
        super().__init__(name, default, series)
        self.series = series
        self.value = MeasureField(name, None, series.measure)

    @property
    def allowed(self) -> str:
        """How many values, and the range of each."""
        return f"{self._count}, each {self.value.allowed}"

    @property
    def limits(self) -> str:
        """The range of each value, in words."""
        return f"each {self.value.limits}"

    @property
    def _count(self) -> str:
        return f"{self.series.at_least} to {self.series.at_most} values"

    @property
    def bounded(self) -> str:
        """Meaning, length and bounds in words."""
        return f"{self.doc} {self._count}, each {self.value.limits}."

    def described(self) -> dict[str, Any]:
        """Return kind, bounds and example of a value."""
        return self.value.described()

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        del batch
        kind, bounds = self.value.kind, {"minItems": self.series.at_least, "maxItems": self.series.at_most}
        forms: list[dict[str, Any]] = [
            {"type": "array", "items": refs.quantity(kind, batch=False), **bounds},
            {"type": "string", "maxLength": 64 * self.series.at_most},
        ]
        if kind.dimension != "plain":
            forms.append(refs.values(kind))
        return {"anyOf": forms, "description": self.with_default(self.bounded)}

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a parameter of a query."""
        del refs
        written = f"{self.bounded} Separate the values by commas, with a unit after the last or after each."
        return {"schema": {"type": "string"}, "description": written}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        """Return its type in the client's signatures."""
        del alias, batch
        return "Column"

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read the whole series; each entry's fault is reported with its place."""
        here = at + self.name
        values: list[float] = []
        units: list[Unit] = []
        requested: list[float] = []
        before = len(reading.faults)
        try:
            entries = list(_entries(given))
        except Unreadable as fault:
            reading.fault(here, fault.code, fault.message, given, fault.allowed)
            return None
        low, high = self.series.at_least, self.series.at_most
        if not low <= len(entries) <= high:
            message = f"{self.name} takes {low} to {high} values, but {len(entries)} were received."
            reading.fault(here, "out_of_range", message, None, f"{low} to {high} values")
        for index, entry in enumerate(entries[:high]):
            try:
                if type(entry) is Known:
                    value, unit = entry.value, self.value.kind.profiles["si"]
                else:
                    value, unit = read(entry, self.value.kind, reading.profile)
                if not isinstance(value, float):
                    raise Unreadable("wrong_type", "Expected a number.", None)  # noqa: TRY301 - reported like the others
            except Unreadable as fault:
                reading.fault(f"{here}/{index}", fault.code, fault.message, entry, fault.allowed)
                continue
            si = float(unit.to_si(value))
            if not self.value.lowest <= si <= self.value.highest:
                allowed = self.series.measure.allowed
                reading.fault(f"{here}/{index}", "out_of_range", f"Each value must be {allowed}.", entry, allowed)
                continue
            values.append(si)
            units.append(unit)
            requested.append(value)
        if len(reading.faults) > before:
            return None
        if not reading.batch:
            reading.query_parameters.append(f"{self.name}={quoted_series(requested, units)}")
        return tuple(values)


def quoted_series(values: Sequence[float], units: Sequence[Unit]) -> str:
    """Return a series as written in a query: one unit after the last value, or one after each."""
    symbols = [unit.symbol for unit in units]
    if len(set(symbols)) == 1:
        symbols[:-1] = [""] * (len(symbols) - 1)
    return ",".join(
        number_text(value) + (f"%20{quoted(symbol)}" if symbol else "")
        for value, symbol in zip(values, symbols, strict=True)
    )


def _entries(given: Any) -> Iterator[Any]:
    """Yield the single quantities of a series.

    Raises
    ------
    Unreadable
        It is no list and no text.
    """
    if isinstance(given, str):
        yield from _parted(given)
    elif isinstance(given, (Mapping, Quantity)):
        pair: Mapping[str, Any] = (
            {"value": given.value, "unit": given.unit}
            if isinstance(given, Quantity)
            else cast("Mapping[str, Any]", given)
        )
        if set(pair) != {"value", "unit"}:
            raise Unreadable("quantity_form", "Expected an object with exactly a list of values and a unit.", None)
        for number in _list_of(pair["value"]):
            yield {"value": number, "unit": pair["unit"]}
    else:
        entries = _list_of(given)
        if len(entries) > 1 and all(isinstance(entry, str) for entry in entries):
            yield from _parted(",".join(entries))
        else:
            for entry in entries:
                yield from (_parted(entry) if isinstance(entry, str) else [entry])


def _list_of(given: Any) -> list[Any]:
    if isinstance(given, np.ndarray):
        flat: Any = np.ravel(cast("Any", given))
        return [*flat.tolist()]
    if isinstance(given, (list, tuple)):
        return [*cast("Sequence[Any]", given)]
    raise Unreadable("wrong_type", f"Expected a list of quantities, not {shortened(given)}.", None)


def _parted(text: str) -> list[str]:
    parts = [part.strip() for part in text.split(";" if ";" in text else ",")]
    last = _BARE.match(parts[-1])
    unit = parts[-1][last.end() :].strip() if last else ""
    return [f"{part} {unit}" if unit and _BARE.fullmatch(part) else part for part in parts]
