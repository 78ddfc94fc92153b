"""Readers of single fields: a raw value in, an SI value, a name, a flag or a list out."""

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from typing import Any, Protocol, cast
from urllib.parse import quote

import msgspec
import numpy as np

from dosewright.engine.base import as_mapping
from dosewright.engine.faults import MOST_FAULTS, Fault, more_faults
from dosewright.engine.fields.columns import holds_texts, read_column
from dosewright.engine.fields.fields import Items, Measure
from dosewright.engine.unread import UNREAD
from dosewright.quantities import KINDS, UnitProfile, Unreadable, read, spoken
from dosewright.quantities.spelling import meant

__all__ = [
    "MISSING",
    "QUOTED_UNITS",
    "Category",
    "ChoiceField",
    "DayField",
    "Field",
    "FlagField",
    "ItemsField",
    "MeasureField",
    "Reading",
    "number_text",
    "quoted",
]

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
MISSING: Any = object()
# Typed loosely on purpose: what is inside is looked at one by one.
_COLUMNS: tuple[Any, ...] = (list, tuple, np.ndarray)


class Category:
    """A column of names in a batch: one code a row into a short list of names."""

    __slots__ = ("codes", "names")

    def __init__(self, codes: np.ndarray[Any, np.dtype[np.intp]], names: tuple[str, ...]) -> None:
        self.codes = codes
        self.names = names


class Reading:
    """One request being read: the profile in force, the faults found, the question it makes.

    Attributes
    ----------
    batch : bool
        Whether quantities may be columns.
    query : bool
        Whether values come from a query, where list items are texts.
    faults : list of Fault
        Faults of the whole request, in field order.
    row_faults : list of Fault
        Faults of single rows of a batch.
    asked : list of str
        The request as query parameters, quoted.
    defaults : dict of str to str
        Defaults used.
    """

    __slots__ = ("asked", "batch", "defaults", "faults", "profile", "query", "row_faults")

    def __init__(self, *, batch: bool = False, query: bool = False) -> None:
        self.batch = batch
        self.query = query
        self.profile: UnitProfile | None = None
        self.faults: list[Fault] = []
        self.row_faults: list[Fault] = []
        self.asked: list[str] = []
        self.defaults: dict[str, str] = {}

    def fault(self, pointer: str, code: str, message: str, given: object = MISSING, allowed: Any = None) -> None:
        """Note a fault of the whole request."""
        if self.full:
            return
        shown = None if given is MISSING else spoken(given)
        self.faults.append(Fault(pointer=pointer, code=code, message=message, given=shown, allowed=allowed))
        if self.full:
            self.faults.append(more_faults())

    @property
    def full(self) -> bool:
        """Whether as many faults were found as are told at once."""
        return len(self.faults) >= MOST_FAULTS


class Field:
    """Reads one field. ``default`` is MISSING where the field is required."""

    __slots__ = ("default", "default_text", "name", "pointer")

    def __init__(self, name: str, default: Any) -> None:
        self.name = name
        self.default = default
        self.default_text = str(default).lower() if isinstance(default, (str, bool)) else None

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a value; None and a fault where it cannot be read."""
        raise NotImplementedError


def quoted(text: str) -> str:
    """Return a text as it stands in a query."""
    return quote(text, safe="/")


class StructReads(Protocol):
    """What an item's reader offers."""

    struct: type[Any]
    known: frozenset[str]
    fields: tuple["Field", ...]

    def read(self, raw: Mapping[str, Any], at: str, reading: "Reading") -> Any:
        """Read a struct."""
        ...


QUOTED_UNITS = {symbol: quoted(symbol) for kind in KINDS.values() for symbol in kind.lookup}
"""Every spelling of every unit as it stands in a query."""
_SUFFIXES = {symbol: f"%20{text}" for symbol, text in QUOTED_UNITS.items()} | {"": ""}


def number_text(value: float) -> str:
    """Return a number as it stands in a query."""
    text = repr(value)
    if text.endswith(".0"):
        return text[:-2]
    return text.replace("e+", "e") if "e" in text else text


class MeasureField(Field):
    """A quantity or a plain number."""

    __slots__ = ("highest", "kind", "lowest", "measure")

    def __init__(self, name: str, default: Any, measure: Measure) -> None:
        super().__init__(name, default)
        self.measure = measure
        self.kind = measure.quantity
        self.lowest, self.highest = measure.interval
        if isinstance(default, (str, float, int)):
            value, unit = read(default, self.kind, None)
            self.default_text = str(default)
            self.default = unit.to_si(value)

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a quantity, or a column of them in a batch."""
        if type(given) is not str and isinstance(given, _COLUMNS):
            if not reading.batch:
                self._refuse_column(given, at, reading)
                return None
            if holds_texts(given):
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
            hint = f" {self.measure.hint}" if self.measure.hint else ""
            message = f"{self.name} must be {self.measure.allowed}.{hint}"
            reading.fault(at + self.name, "out_of_range", message, given, self.measure.allowed)
            return None
        if not reading.batch:
            reading.asked.append(f"{self.name}={number_text(value)}{_SUFFIXES[unit.symbol]}")
        return si

    def _refuse_column(self, given: object, at: str, reading: Reading) -> None:
        message = "A list of values is for the batch of this calculation; here one value is wanted."
        reading.fault(at + self.name, "not_a_batch", message, given)

    def outside(self, si: np.ndarray[Any, np.dtype[np.float64]]) -> np.ndarray[Any, np.dtype[np.bool_]]:
        """Tell which entries of an array are out of bounds; what is not a number is."""
        return np.logical_not((si >= self.lowest) & (si <= self.highest))


class ChoiceField(Field):
    """One of a closed set of names."""

    __slots__ = ("asked", "names")

    def __init__(self, name: str, default: Any, names: tuple[str, ...]) -> None:
        super().__init__(name, default)
        self.names = names
        self.asked = {name: f"{self.name}={quoted(name)}" for name in names}

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a name, or a column of names in a batch."""
        if isinstance(given, str):
            if given in self.names:
                if not reading.batch:
                    reading.asked.append(self.asked[given])
                return given
            message = f"{spoken(given)!r} is not one of the names allowed here.{meant(given, self.names)}"
            reading.fault(at + self.name, "unknown_choice", message, given, list(self.names))
            return None
        if reading.batch and isinstance(given, _COLUMNS):
            return self._column(cast("Sequence[Any]", given), at, reading)
        reading.fault(at + self.name, "wrong_type", "A text is wanted here.", given, list(self.names))
        return None

    def _column(self, given: Sequence[Any], at: str, reading: Reading) -> Category | None:
        index = {name: code for code, name in enumerate(self.names)}
        try:
            codes = np.fromiter((index.get(name, -1) for name in given), dtype=np.intp, count=len(given))
        except TypeError:
            reading.fault(at + self.name, "wrong_type", "A list of texts is wanted here.", given, list(self.names))
            return None
        self._refuse_names(given, np.flatnonzero(codes < 0).tolist(), at, reading)
        return Category(codes, self.names)

    def _refuse_names(self, given: Sequence[Any], bad: list[int], at: str, reading: Reading) -> None:
        """Tell each unknown name once, with its rows and what it may have meant."""
        rows: dict[str, list[int]] = {}
        for row in bad:
            shown = spoken(given[row]) if len(rows) < MOST_FAULTS else ""
            rows.setdefault(shown if shown in rows or len(rows) < MOST_FAULTS - 1 else "", []).append(row)
        for shown, where in rows.items():
            message = f"{shown!r} is not one of the names allowed here.{meant(shown, self.names)}"
            reading.row_faults.append(
                Fault(
                    pointer=at + self.name,
                    code="unknown_choice",
                    message=message if shown else "Not one of the names allowed here.",
                    given=shown or None,
                    allowed=list(self.names),
                    rows=where,
                )
            )


class FlagField(Field):
    """True or false."""

    __slots__ = ()

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read true or false."""
        value = {"true": True, "false": False}.get(given) if reading.query and isinstance(given, str) else given
        if not isinstance(value, bool):
            reading.fault(at + self.name, "wrong_type", "True or false is wanted here.", given, ["true", "false"])
            return None
        if not reading.batch:
            reading.asked.append(f"{self.name}={'true' if value else 'false'}")
        return value


class DayField(Field):
    """A calendar day."""

    __slots__ = ()

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a day; the same for all rows of a batch."""
        if isinstance(given, dt.date) and not isinstance(given, dt.datetime):
            day = given
        elif isinstance(given, str) and _DAY.fullmatch(given):
            try:
                day = dt.date.fromisoformat(given)
            except ValueError as error:
                reading.fault(at + self.name, "out_of_range", f"There is no such day: {error}.", given, "a day")
                return None
        else:
            message = "A day is wanted here, written as year-month-day: 2026-05-31."
            reading.fault(at + self.name, "wrong_type", message, given, "YYYY-MM-DD")
            return None
        if not reading.batch:
            reading.asked.append(f"{self.name}={day.isoformat()}")
        return day


class ItemsField(Field):
    """A list of structs, or one struct."""

    __slots__ = ("items", "many", "readers")

    def __init__(self, name: str, default: Any, items: Items | None, readers: Mapping[str, StructReads]) -> None:
        super().__init__(name, default)
        self.items = items or Items("", 1, 1)
        self.many = items is not None
        self.readers = readers

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a list of structs, or one struct."""
        here = at + self.name
        if not self.many:
            return self._item(given, here + "/", reading)
        if reading.query and isinstance(given, str):
            given = [given]
        if not isinstance(given, (list, tuple)):
            reading.fault(here, "wrong_type", "A list is wanted here.", given)
            return None
        entries = cast("Sequence[Any]", given)
        low, high = self.items.at_least, self.items.at_most
        if not low <= len(entries) <= high:
            message = f"The list {self.name} takes {low} to {high} items, {len(entries)} were given."
            reading.fault(here, "out_of_range", message, None, f"{low} to {high} items")
        # Of a list that is too long, so many are read as a good one has: their faults come in the same answer.
        items = [self._item(entry, f"{here}/{index}/", reading) for index, entry in enumerate(entries[:high])]
        return items if low <= len(entries) <= high else None

    def _item(self, entry: Any, at: str, reading: Reading) -> Any:
        if isinstance(entry, msgspec.Struct):
            entry = as_mapping(entry)
        elif reading.query and isinstance(entry, str):
            entry = self._parse(entry, at, reading)
            if entry is None:
                return UNREAD
        if not isinstance(entry, Mapping):
            reading.fault(at[:-1], "wrong_type", "An object is wanted here.", entry)
            return UNREAD
        raw = cast("Mapping[str, Any]", entry)
        tag = ""
        reader = self.readers.get("")
        if reader is None:
            tag = raw.get("kind", MISSING)
            reader = self.readers.get(tag) if isinstance(tag, str) else None
            if reader is None:
                self._unknown_kind(tag, at, reading)
                return UNREAD
        inner, reading.asked = reading.asked, []
        item = reader.read(raw, at, reading)
        pieces, reading.asked = [part.replace("=", ":", 1) for part in reading.asked], inner
        if not reading.batch:
            reading.asked.append(f"{self.name}={';'.join([tag, *pieces] if tag else pieces)}")
        return item

    def _unknown_kind(self, tag: Any, at: str, reading: Reading) -> None:
        allowed = list(self.readers)
        if tag is MISSING:
            reading.fault(at + "kind", "required", "Each item names its kind.", None, allowed)
            return
        hint = meant(tag, allowed) if isinstance(tag, str) else ""
        reading.fault(at + "kind", "unknown_choice", f"Not a kind known here.{hint}", tag, allowed)

    def _parse(self, text: str, at: str, reading: Reading) -> dict[str, Any] | None:
        raw: dict[str, Any] = {}
        for index, part in enumerate(text.split(";")):
            name, colon, value = part.partition(":")
            name = name.strip()
            if index == 0 and not colon and "" not in self.readers:
                raw["kind"] = name
            elif not colon or name in raw:
                message = "Write an item as kind;name:value;name:value, each name once."
                reading.fault(at[:-1], "item_form", message, part, "name:value")
                return None
            else:
                raw[name] = value.strip()
        return raw
