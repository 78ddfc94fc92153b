"""Answers a table of cases, one request per row; rows can have different fields.

Rows that give the same fields, with the same lists in them, are one batch; what the batches answer is put together
again in the order of the rows.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

import msgspec
import numpy as np

from dosewright.engine.base import BatchAnswer, Warn
from dosewright.engine.batch.columnwise import answer_batch
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation

__all__ = ["answer_cases"]

_OF_THE_TABLE = ("units", "answer_units")
_PROGRESS_ROWS = 2_000


def answer_cases(
    entry: Calculation[Any, Any],
    cases: Sequence[Mapping[str, Any]],
    *,
    query: bool = False,
    progress: Callable[[int], None] | None = None,
) -> BatchAnswer[Any]:
    """Answer a table.

    Parameters
    ----------
    entry : Calculation
        The calculation.
    cases : sequence of mapping
        One request a row, at least one; None means absent. ``units`` and ``answer_units`` are those of the table.
    query : bool
        Whether values are texts as in an address, where an item of a list is a text too.
    progress : callable, optional
        Told how many rows are done, now and then.

    Returns
    -------
    BatchAnswer
        A row that cannot be answered is listed in ``errors``.

    Raises
    ------
    RequestRefused
        No row can be read, or rows differ in ``units`` or ``answer_units``.
    """
    given = [{name: value for name, value in case.items() if value is not None} for case in cases]
    _refuse_different_units(given)
    varying = _varying(entry)
    groups: dict[Any, list[int]] = {}
    for row, case in enumerate(given):
        groups.setdefault(_shape(case, varying), []).append(row)
    merged = _Merged(len(given))
    done = 0
    for rows in _pieces(groups.values(), _PROGRESS_ROWS if progress else len(given)):
        try:
            answer = answer_batch(entry, _columns([given[row] for row in rows], varying), query=query)
        except RequestRefused as refusal:
            if len(groups) == 1:
                raise
            merged.refuse(refusal.faults, rows)
        else:
            merged.take(answer, rows)
        done += len(rows)
        if progress:
            progress(done)
    if not merged.answered:
        raise RequestRefused(merged.errors)
    return merged.finished()


def _refuse_different_units(cases: Sequence[Mapping[str, Any]]) -> None:
    for name in _OF_THE_TABLE:
        if any(case.get(name) != cases[0].get(name) for case in cases):
            message = f"{name} must be the same in every row of a table."
            raise RequestRefused([Fault(pointer=f"/{name}", code="rows_differ", message=message)])


def _pieces(groups: Iterable[list[int]], most: int) -> Iterator[list[int]]:
    for rows in groups:
        for start in range(0, len(rows), most):
            yield rows[start : start + most]


def _varying(entry: Calculation[Any, Any]) -> frozenset[str]:
    """Return the fields that can be a column of a batch; all others are the same for all its rows."""
    fields = reader_for(entry.request).fields
    return frozenset(field.name for field in fields if field.varies)


def _shape(case: Mapping[str, Any], varying: frozenset[str]) -> Any:
    """Return what rows of one batch have in common."""
    shared = {name: value for name, value in case.items() if name not in varying}
    return tuple(sorted(case)), msgspec.json.encode(shared, order="sorted") if shared else b""


def _columns(cases: Sequence[Mapping[str, Any]], varying: frozenset[str]) -> dict[str, Any]:
    first = cases[0]
    return {name: [case[name] for case in cases] if name in varying else value for name, value in first.items()}


class _Merged:
    """Puts the answers of several batches together."""

    def __init__(self, rows: int) -> None:
        self.answered = False
        self.errors: list[Fault] = []
        self._warnings: list[Warn] = []
        self._whole = BatchAnswer[Any](rows=rows, columns={})

    def refuse(self, faults: Iterable[Fault], rows: list[int]) -> None:
        """Add the faults of a batch as a whole; they apply to each of its rows."""
        self.errors = _joined(self.errors, [msgspec.structs.replace(fault, rows=rows) for fault in faults], _fault_key)

    def take(self, answer: BatchAnswer[Any], rows: list[int]) -> None:
        """Take a batch's answer; its row i is row ``rows[i]`` of the table."""
        self.answered = True
        whole = self._whole
        for name, column in answer.columns.items():
            # A batch of lists only has one row, which represents all of them.
            values = column if len(column) == len(rows) else [column[0]] * len(rows)
            if isinstance(column, np.ndarray):
                target = whole.columns.setdefault(name, np.full(whole.rows, np.nan))
                target[rows] = values
            else:
                target = whole.columns.setdefault(name, [None] * whole.rows)
                for row, value in zip(rows, values, strict=True):
                    target[row] = value
        whole.units |= answer.units
        whole.defaults |= answer.defaults
        whole.cautions += [caution for caution in answer.cautions if caution not in whole.cautions]
        whole.basis += [basis for basis in answer.basis if basis not in whole.basis]
        self.errors = _joined(self.errors, _placed(answer.errors, rows), _fault_key)
        self._warnings = _joined(self._warnings, _placed(answer.warnings, rows), _warning_key)

    def finished(self) -> BatchAnswer[Any]:
        """Return the answer to the table."""
        whole = self._whole
        whole.errors = self.errors
        bad = {row for fault in self.errors for row in fault.rows or ()}
        good = whole.rows - len(bad)
        whole.warnings = [
            msgspec.structs.replace(warning, rows=None) if len(set(warning.rows or ()) - bad) >= good else warning
            for warning in self._warnings
        ]
        return whole


def _placed(texts: Iterable[Any], rows: list[int]) -> list[Any]:
    """Return faults or warnings of a batch with the rows of the table instead of the batch."""
    return [
        msgspec.structs.replace(
            one, rows=rows if one.rows is None else [rows[row] for row in one.rows if row < len(rows)]
        )
        for one in texts
    ]


def _joined(known: list[Any], further: Iterable[Any], key: Callable[[Any], Any]) -> list[Any]:
    """Return records of both lists, equal ones merged."""
    by_key: dict[Any, Any] = {key(one): one for one in known}
    for one in further:
        found = by_key.get(key(one))
        rows = sorted({*(found.rows or ()), *one.rows}) if found else one.rows
        by_key[key(one)] = msgspec.structs.replace(found or one, rows=rows)
    return list(by_key.values())


def _fault_key(fault: Fault) -> tuple[str, ...]:
    return fault.pointer, fault.code, fault.message


def _warning_key(warning: Warn) -> tuple[str, ...]:
    return warning.code, warning.field, warning.message
