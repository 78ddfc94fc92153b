"""Gathers the columns of a batch answer, chunk by chunk.

Written for a million rows: numbers go straight into their column; texts and flags are kept as small codes until the
end; what is one and the same in all rows is kept once.
"""

import math
from collections.abc import Mapping
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from dosewright.engine.notes import Labels
from dosewright.engine.writing import columns_of
from dosewright.quantities import Unit

__all__ = ["Columns", "Rows", "span_of"]

Rows = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]


def span_of(rows: Rows) -> slice | Rows:
    """Return consecutive rows as a slice, which copies nothing; others as they are."""
    if rows.size and rows[-1] - rows[0] == rows.size - 1:
        return slice(int(rows[0]), int(rows[-1]) + 1)
    return rows


# A column of mostly one text is a repeated list with exceptions, several times faster than looking up each row.
_SAMPLE = 1024
_FEW = 6
_BYTE = 256


class Columns:
    """The columns of a batch answer.

    Parameters
    ----------
    rows : int
        Number of rows.
    units : Mapping
        Unit of each numeric field.
    """

    def __init__(self, rows: int, units: Mapping[str, Unit]) -> None:
        self._rows = rows
        self._units = units
        self._order: dict[str, None] = {}
        self._same: dict[str, float] = {}
        self._numbers: dict[str, npt.NDArray[np.float64]] = {}
        self._texts: dict[str, _Texts] = {}
        self._started = False

    def __bool__(self) -> bool:
        return bool(self._order)

    def keep(self, given: Any, chunk: Rows, refused: Mask) -> list[tuple[str, Rows]]:
        """Write a chunk's results; return the names and rows of numbers beyond any finite one, which become NaN."""
        select = ~refused if refused.any() else None
        rows = chunk if select is None else chunk[select]
        where = span_of(rows)
        unbounded: list[tuple[str, Rows]] = []
        missing = dict.fromkeys(self._order)
        for name, value, unit, optional in columns_of(given, self._units):
            missing.pop(name, None)
            if self._started and unit is not None and name not in self._order:
                # Rows before this one have no such number: answers differ by the names in their requests.
                self._numbers[name] = np.full(self._rows, np.nan)
            self._order.setdefault(name)
            if unit is None:
                if name not in self._texts:
                    self._texts[name] = _Texts(self._rows, began=not self._started)
                self._texts[name].keep(value, where, select)
                continue
            wrong = self._keep_number(name, value, unit, where, select, optional=optional)
            if wrong is not None:
                found = rows[np.broadcast_to(wrong, rows.shape)]
                self._column(name)[found] = np.nan
                unbounded.append((name, found))
        for name in missing:
            if name in self._texts:
                self._texts[name].keep(None, where, select)
            else:
                self._column(name)[where] = np.nan
        self._started = True
        return unbounded

    def _keep_number(
        self, name: str, value: Any, unit: Unit, where: slice | Rows, select: Mask | None, *, optional: bool
    ) -> Any:
        """Write numbers; return which are beyond any finite one, or None."""
        if value is None or isinstance(value, (float, int)) or np.ndim(value) == 0:
            number = np.nan if value is None else float(unit.from_si(value))
            self._keep_same(name, number, where)
            return None if math.isfinite(number) or (optional and math.isnan(number)) else True
        column = self._column(name)
        if select is None and isinstance(where, slice) and not unit.offset:
            convert, scale = (np.divide, unit.factor) if unit.divisor == 1.0 else (np.multiply, unit.divisor)
            values = convert(value, scale, out=column[where])
        else:
            values = unit.from_si(value)
            values = values if select is None else values[select]
            column[where] = values
        finite = np.isfinite(values)
        if finite.all():
            return None
        wrong = np.isinf(values) if optional else ~finite
        return wrong if wrong.any() else None

    def _keep_same(self, name: str, value: float, where: slice | Rows) -> None:
        known = self._same.setdefault(name, value) if name not in self._numbers else None
        if known is None or not (known == value or (math.isnan(known) and math.isnan(value))):
            self._column(name)[where] = value

    def _column(self, name: str) -> npt.NDArray[np.float64]:
        column = self._numbers.get(name)
        if column is None:
            same = self._same.pop(name, None)
            column = np.empty(self._rows) if same is None else np.full(self._rows, same)
            self._numbers[name] = column
        return column

    def finished(self, bad: Mask) -> dict[str, Any]:
        """Return the columns, with NaN or None in the rows with errors."""
        return {name: self._finished(name, bad) for name in self._order}

    def _finished(self, name: str, bad: Mask) -> Any:
        if name in self._texts:
            return self._texts[name].finished(bad)
        if name in self._same and not bad.any():
            return np.broadcast_to(np.float64(self._same[name]), self._rows)
        column = self._column(name)
        column[bad] = np.nan
        return column


class _Texts:
    """A column of texts or flags: one code a row into the values met so far; one for all while they are all the same.

    `began` is True if no earlier rows lack this column.
    """

    def __init__(self, rows: int, *, began: bool) -> None:
        self._rows = rows
        self._known: dict[Any, int] = {None: 0}
        self._same: int | None = None if began else 0
        self._codes: npt.NDArray[Any] | None = None

    def keep(self, value: Any, where: slice | Rows, select: Mask | None) -> None:
        """Write one value for all rows, or one a row."""
        if isinstance(value, Labels):
            self._keep_each(self._coded(value.names), value.codes, where, select)
        elif isinstance(value, np.ndarray):
            flags = cast("npt.NDArray[Any]", value)
            if flags.dtype.kind == "b":
                self._keep_each(self._coded((False, True)), flags.view(np.uint8), where, select)
            else:
                self._write(self._coded(flags.tolist()), where, select)
        else:
            self._keep_same(self._coded((value,))[0], where)

    def _keep_each(self, coded: list[int], index: npt.NDArray[Any], where: slice | Rows, select: Mask | None) -> None:
        if select is not None:
            index = index[select]
        lowest = int(index.min())
        if lowest == int(index.max()):
            self._keep_same(coded[lowest], where)
        elif coded == list(range(coded[0], coded[0] + len(coded))):  # as names are that were met here first
            self._write(np.add(index, coded[0], dtype=np.int32), where, None)
        else:
            self._write(np.array(coded).take(index), where, None)

    def _keep_same(self, code: int, where: slice | Rows) -> None:
        if self._codes is None and self._same in (None, code):
            self._same = code
        else:
            self._write(code, where, None)

    def _write(self, codes: Any, where: slice | Rows, select: Mask | None) -> None:
        wide = np.int32 if len(self._known) > _BYTE else np.uint8
        if self._codes is None:
            self._codes = np.full(self._rows, self._same or 0, dtype=wide)
        elif self._codes.dtype != wide:
            self._codes = self._codes.astype(wide)
        self._codes[where] = codes if select is None else np.asarray(codes)[select]

    def _coded(self, values: Any) -> list[int]:
        codes: list[int] = []
        for value in values:
            # As a key True equals 1, but no column holds both.
            plain = cast("Any", value).item() if isinstance(value, np.generic) else value
            codes.append(self._known.setdefault(plain, len(self._known)))
        return codes

    def finished(self, bad: Mask) -> list[Any]:
        """Return the column as a list."""
        values = list(self._known)
        if self._codes is None:
            column = [values[self._same or 0]] * self._rows
            for row in np.flatnonzero(bad).tolist():
                column[row] = None
            return column
        codes = self._codes
        codes[bad] = 0
        usual = int(np.bincount(codes[:: 1 + codes.size // _SAMPLE]).argmax()) if codes.size else 0
        unusual = np.flatnonzero(codes != usual)
        if unusual.size > codes.size // _FEW or len(values) > _BYTE:
            return np.array(values, dtype=object)[codes].tolist()
        column = [values[usual]] * codes.size
        exceptions = codes[unusual]
        for code in np.flatnonzero(np.bincount(exceptions)).tolist():
            value = values[code]
            for row in unusual[exceptions == code].data:  # sooner done than by a list of as many numbers
                column[row] = value
        return column
