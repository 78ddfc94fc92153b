"""Runs a calculation over columns: the same body over arrays, in chunks, bad rows kept apart.

Rows are cut into chunks that stay in cache. Columns of names (a material a row) split the rows into groups of equal
names, so that a calculation's body sees one name at a time and arrays of numbers only.
"""

from collections.abc import Iterator, Mapping
from typing import Any, cast

import msgspec
import numpy as np
import numpy.typing as npt

from dosewright.engine.base import Basis, BatchAnswer, Caution, Request, Warn, as_mapping
from dosewright.engine.batch.columns import Columns, Rows, span_of
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.fields.choice import Category
from dosewright.engine.fields.field import Reading
from dosewright.engine.fields.unread import UNREAD
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.engine.run import compute, refuse_faults
from dosewright.engine.writing import answer_fields, not_finite, unit_faults, units_for
from dosewright.quantities import Unit

__all__ = ["answer_batch", "run_batch", "without_columns"]

CHUNK_ROWS = 65_536
# Enough to isolate every row that cannot be computed in batches of usual size; beyond it, its neighbours fail too.
_MOST_RETRIES = 256


def run_batch(path: str, request: Request | Mapping[str, Any]) -> BatchAnswer[Any]:
    """Answer a batch by the calculation's path.

    Parameters
    ----------
    path : str
        Topic and name.
    request : Request or mapping
        As for a single request; any quantity can be a column: a list of texts with units, a list of numbers under a
        unit profile, or a value-and-unit pair whose value is a list or array. A name can be a list of names. Single
        values serve all rows.

    Returns
    -------
    BatchAnswer
        Columns; rows with errors are NaN or None and are listed in ``errors``.

    Raises
    ------
    KeyError
        No calculation has this path.
    RequestRefused
        The request as a whole cannot be read: an unknown field, columns of different length, a wrong unit.
    """
    return answer_batch(find(path), request)


def answer_batch(
    entry: Calculation[Any, Any], request: Request | Mapping[str, Any], *, query: bool = False
) -> BatchAnswer[Any]:
    """Answer a batch; see :func:`run_batch`. With `query`, items of lists, parts and flags can be texts."""
    if not entry.batch:
        raise RequestRefused(
            [Fault(pointer="", code="no_batch", message=f"{entry.path} answers one request at a time.")]
        )
    raw = as_mapping(request) if isinstance(request, Request) else request
    reading = Reading(batch=True, query=query)
    ask = reader_for(entry.request).read(raw, "/", reading)
    lengths = dict(_lengths(ask))
    rows = next(iter(lengths.values()), 1)
    for name, length in lengths.items():
        if length != rows:
            message = f"Columns must be of one length: {name} has {length} rows, {next(iter(lengths))} has {rows}."
            reading.fault(f"/{name}", "rows_differ", message)
    if reading.faults or any(unit_faults(entry.answer, ask.answer_units)):
        refuse_faults(entry, without_columns(ask), reading, Notes())
    units = units_for(entry.answer, reading.profile, ask.answer_units)
    collector = _Collector(rows, units.units, reading)
    collector.bad_rows(reading.row_faults)
    good = np.flatnonzero(~collector.bad) if collector.bad.any() else np.arange(rows)
    named = any(isinstance(column, Category) for _, column in _columns_in(ask, ""))
    for chunk, part in _chunks(ask, good):
        try:
            _answer_chunk(entry, reading, part, chunk, collector)
        except RequestRefused as refusal:
            if not named:
                raise
            # A fault of the whole group belongs to one combination of names, and to the rows that have it.
            reading.faults.clear()
            collector.refuse_all(refusal.faults, chunk)
    return BatchAnswer(
        rows=rows,
        columns=collector.columns.finished(collector.bad) if collector.columns else _blank(entry, rows),
        units=units.symbols,
        errors=collector.errors,
        warnings=collector.merged_warnings(),
        cautions=collector.cautions,
        basis=collector.basis,
        defaults=reading.defaults,
    )


def _answer_chunk(
    entry: Calculation[Any, Any], reading: Reading, part: Any, chunk: Rows, collector: "_Collector"
) -> None:
    """Check and compute one chunk; rows that fail a check are omitted, then those that fail in the body are blanked."""
    notes = Notes()
    notes.take_words(reading)
    refuse_faults(entry, part, reading, notes)
    refused = collector.refuse(notes, chunk)
    if refused.any():
        keep = np.flatnonzero(~refused)
        chunk, part = chunk[keep], _take(part, keep)
        if not chunk.size:
            return
    _compute_rows(entry, part, chunk, collector)


def _compute_rows(entry: Calculation[Any, Any], part: Any, chunk: Rows, collector: "_Collector") -> None:
    """Compute rows; where the body cannot take one of them, each half is tried, so that the others are answered."""
    notes = Notes()
    notes.take_words(collector.reading)
    try:
        given = compute(entry, part, notes)
    except RequestRefused as refusal:
        if not collector.may_retry(chunk):
            collector.refuse_all(refusal.faults, chunk)
            return
        middle = chunk.size // 2
        for rows in (slice(0, middle), slice(middle, None)):
            _compute_rows(entry, _take(part, rows), chunk[rows], collector)
        return
    whole = [fault for fault, when in notes.faults if np.ndim(when) == 0]
    if whole:
        raise RequestRefused(whole)
    refused = collector.refuse(notes, chunk)
    if not refused.all():
        collector.keep(given, chunk, refused)
        collector.hear(notes, chunk)


def _blank(entry: Calculation[Any, Any], rows: int) -> dict[str, Any]:
    """Return the columns of a batch in which no row could be answered."""
    return {
        field.name: [None] * rows if field.kind is None else np.full(rows, np.nan)
        for field in answer_fields(entry.answer)
        if field.struct is None
    }


class _Collector:
    """Gathers columns, faults and warnings of all chunks."""

    def __init__(self, rows: int, units: Mapping[str, Unit], reading: Reading) -> None:
        self.rows = rows
        self.reading = reading
        self.bad = np.zeros(rows, dtype=bool)
        self.retries = 0
        self.columns = Columns(rows, units)
        self.errors: list[Fault] = []
        self.cautions: list[Caution] = []
        self.basis: list[Basis] = []
        self.warnings: dict[tuple[str, str, str], list[npt.NDArray[np.intp]]] = {}

    def bad_rows(self, faults: list[Fault]) -> None:
        """Take the faults found while reading."""
        for fault in faults:
            self.bad[fault.rows or []] = True
        self.errors.extend(faults)

    def refuse(self, notes: Notes, chunk: Rows) -> npt.NDArray[np.bool_]:
        """Record the rows that fail in checks or body; return which rows of the chunk they are."""
        refused = np.zeros(chunk.shape, dtype=bool)
        for fault, when in notes.faults:
            mask = np.broadcast_to(np.asarray(when), chunk.shape)
            refused |= mask
            where = cast("list[int]", chunk[mask].tolist())
            self._add(msgspec.structs.replace(fault, rows=where))
        self.bad[chunk[refused]] = True
        return refused

    def may_retry(self, chunk: Rows) -> bool:
        """Tell whether rows that cannot be computed together are to be halved; not without end in one batch."""
        if chunk.size == 1:
            return False
        self.retries += 1
        return self.retries <= _MOST_RETRIES

    def refuse_all(self, faults: tuple[Fault, ...], chunk: Rows) -> None:
        """Take faults that concern every row of a chunk."""
        self.bad[chunk] = True
        for fault in faults:
            self._add(msgspec.structs.replace(fault, rows=cast("list[int]", chunk.tolist())))

    def _add(self, fault: Fault) -> None:
        for index, known in enumerate(self.errors):
            if (known.pointer, known.code, known.message) == (fault.pointer, fault.code, fault.message):
                merged = sorted([*(known.rows or []), *(fault.rows or [])])
                self.errors[index] = msgspec.structs.replace(known, rows=merged)
                return
        self.errors.append(fault)

    def keep(self, given: Any, chunk: Rows, refused: npt.NDArray[np.bool_]) -> None:
        """Write a chunk's results into the columns."""
        for name, rows in self.columns.keep(given, chunk, refused):
            self.bad[rows] = True
            self._add(not_finite(name, cast("list[int]", rows.tolist())))

    def hear(self, notes: Notes, chunk: Rows) -> None:
        """Collect the notes of a chunk; cautions and methods of all chunks are added once."""
        self.cautions.extend(caution for caution in notes.cautions if caution not in self.cautions)
        self.basis.extend(basis for basis in notes.basis if basis not in self.basis)
        for warning, when in notes.warnings:
            rows = chunk[np.flatnonzero(when)] if isinstance(when, np.ndarray) and when.ndim else chunk
            self.warnings.setdefault((warning.code, warning.field, warning.message), []).append(rows)

    def merged_warnings(self) -> list[Warn]:
        """Return each warning once, with its rows where it does not hold in all good ones."""
        good = self.rows - int(np.count_nonzero(self.bad))
        merged: list[Warn] = []
        for (code, field, message), parts in self.warnings.items():
            rows = np.concatenate(parts)
            if np.any(rows[1:] <= rows[:-1]):
                rows = np.unique(rows)
            rows = rows[~self.bad[rows]]
            if not rows.size:
                continue
            named = None if rows.size >= good else cast("list[int]", rows.tolist())
            merged.append(Warn(code=code, field=field, message=message, rows=named))
        return merged


def _columns_in(value: Any, name: str) -> Iterator[tuple[str, Any]]:
    if value is UNREAD:
        return
    if isinstance(value, (np.ndarray, Category)):
        yield name, value
    elif isinstance(value, msgspec.Struct):
        for inner in value.__struct_fields__:
            yield from _columns_in(getattr(value, inner), f"{name}/{inner}" if name else inner)
    elif isinstance(value, list):
        for index, item in enumerate(cast("list[Any]", value)):
            yield from _columns_in(item, f"{name}/{index}")


def _lengths(ask: Any) -> Iterator[tuple[str, int]]:
    for name, column in _columns_in(ask, ""):
        yield name, len(column.codes if isinstance(column, Category) else column)


def without_columns(ask: Any) -> Any:
    """Mark every column as unread, so that checks between single values are still reported with the other faults."""
    for name in {name.partition("/")[0] for name, _ in _columns_in(ask, "")}:
        setattr(ask, name, UNREAD)
    return ask


def _chunks(ask: Any, good: Rows) -> Iterator[tuple[Rows, Any]]:
    for rows in _groups(ask, good):
        for start in range(0, len(rows), CHUNK_ROWS):
            chunk = rows[start : start + CHUNK_ROWS]
            yield chunk, _take(ask, span_of(chunk))


def _groups(ask: Any, good: Rows) -> Iterator[Rows]:
    """Split rows so that within a group every column of names is one name."""
    categories = [column for _, column in _columns_in(ask, "") if isinstance(column, Category)]
    if not categories or not good.size:
        yield good
        return
    key = np.zeros(good.shape, dtype=np.intp)
    for category in categories:
        _, key = np.unique(key * len(category.names) + category.codes[good], return_inverse=True)
    for group in range(int(key.max()) + 1):
        yield good[key == group]


def _take(value: Any, rows: Any) -> Any:
    """Return a request with only some rows of its columns."""
    if isinstance(value, np.ndarray):
        return cast("Any", value[rows])
    if isinstance(value, Category):
        codes = value.codes[rows]
        return value.names[int(codes[0])] if codes.size else value.names[0]
    if isinstance(value, msgspec.Struct):
        return type(value)(**{name: _take(getattr(value, name), rows) for name in value.__struct_fields__})
    if isinstance(value, list):
        return [_take(item, rows) for item in cast("list[Any]", value)]
    return value
