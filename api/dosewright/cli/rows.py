"""Rows of a CSV file as requests, and their answers as a CSV file again."""

import csv
import io
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from dosewright.engine.base import BatchAnswer
from dosewright.engine.batch.cases import answer_cases
from dosewright.engine.registry import Calculation
from dosewright.http.query import repeatable_names
from dosewright.present.csv import csv_cells, csv_writer
from dosewright.present.rows import value_table

__all__ = ["Rows", "UnreadableRows", "answer_rows", "as_csv", "read_rows"]

_HEADER = re.compile(r"\s*(?P<name>[^\[\]]*?)\s*(?:\[\s*(?P<unit>[^\[\]]*?)\s*\])?\s*")
_BARE = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_BAR = 40


class UnreadableRows(ValueError):  # noqa: N818 - shown to the caller unchanged
    """A file that is not a table of rows."""


class Rows(NamedTuple):
    """A file of rows: its header and cells unchanged, and what each column means."""

    header: list[str]
    cells: list[list[str]]
    names: list[str]
    units: list[str]


def read_rows(text: str, *, comma: bool, units_row: bool) -> Rows:
    """Read a file of rows.

    Parameters
    ----------
    text : str
        CSV with a header. A column has the name of its field and an optional unit in brackets. A list repeats it.
    comma : bool
        Decimals have a comma and cells are separated by semicolons.
    units_row : bool
        The row after the header holds units.

    Raises
    ------
    UnreadableRows
        No header, no rows, or a row of another length.
    """
    lines = [line for line in csv.reader(io.StringIO(text), delimiter=";" if comma else ",") if any(line)]
    least = 3 if units_row else 2
    if len(lines) < least:
        raise UnreadableRows("the file needs a header and at least one row")
    header, *cells = lines
    if not comma and len(header) == 1 and ";" in header[0]:
        raise UnreadableRows("the header is separated by semicolons: that needs --decimal comma")
    matches = [_HEADER.fullmatch(cell) for cell in header]
    names = [match["name"] if match else cell for match, cell in zip(matches, header, strict=True)]
    units = [(match["unit"] or "") if match else "" for match in matches]
    if units_row:
        given, *cells = cells
        units = [cell.strip() or unit for cell, unit in zip(given + [""] * len(header), units, strict=False)]
    for number, row in enumerate(cells, 1):
        if len(row) > len(header):
            raise UnreadableRows(f"row {number} has {len(row)} cells, the header {len(header)}")
    cells = [row + [""] * (len(header) - len(row)) for row in cells]
    if comma:
        _refuse_points(cells)
    return Rows(header, cells, [name.replace("-", "_") for name in names], units)


def _refuse_points(cells: Sequence[Sequence[str]]) -> None:
    for number, row in enumerate(cells, 1):
        for cell in row:
            if re.search(r"[0-9]\.[0-9]", cell):
                raise UnreadableRows(
                    f"row {number}: {cell!r} has a point, but --decimal comma needs a comma for decimals"
                )


def _requests(
    entry: Calculation[Any, Any], table: Rows, shared: Mapping[str, Any], *, comma: bool
) -> list[dict[str, Any]]:
    lists = repeatable_names(entry)
    requests: list[dict[str, Any]] = []
    for row in table.cells:
        request = dict(shared)
        for name, unit, cell in zip(table.names, table.units, row, strict=True):
            value = cell.strip()
            if not value:
                continue
            if comma:
                value = _COMMA.sub(".", value)
            if unit and _BARE.fullmatch(value):
                value = f"{value} {unit}"
            if name in lists:
                request.setdefault(name, [])
                request[name] = [*request[name], value]
            else:
                request[name] = value
        requests.append(request)
    return requests


def answer_rows(
    entry: Calculation[Any, Any], table: Rows, shared: Mapping[str, Any], *, comma: bool
) -> BatchAnswer[Any]:
    """Answer every row; on a terminal a bar shows how far it is.

    Parameters
    ----------
    entry : Calculation
        The calculation.
    table : Rows
        One request a row; an empty cell is absent.
    shared : mapping
        Inputs of all rows; a row's own cell wins.
    comma : bool
        Decimals have a comma.

    Raises
    ------
    RequestRefused
        No row can be read.
    """
    requests = _requests(entry, table, shared, comma=comma)
    bar = _bar(len(requests)) if sys.stderr.isatty() else None
    try:
        return answer_cases(entry, requests, query=True, progress=bar)
    finally:
        if bar:
            print(file=sys.stderr)


def _bar(total: int) -> Callable[[int], None]:
    def show(done: int) -> None:
        filled = _BAR * done // total
        text = f"\r[{'#' * filled}{'.' * (_BAR - filled)}] {100 * done // total:3} %  {done:,} of {total:,} rows"
        print(text, end="", file=sys.stderr, flush=True)

    return show


def as_csv(table: Rows, answer: BatchAnswer[Any], *, comma: bool) -> bytes:
    """Return the rows as they came, then their answers' columns, then what is wrong with them."""
    out = io.StringIO()
    writer = csv_writer(out, decimal_comma=comma)
    found = value_table(answer)
    taken = {*table.names, *table.header}
    names = (f"answer {name}" if _plain(name) in taken else name for name in found.head[1:])
    writer.writerow([*table.header, *names])
    for cells, (_, *values) in zip(table.cells, found.rows, strict=True):
        writer.writerow([*cells, *csv_cells(values, decimal_comma=comma)])
    return out.getvalue().encode()


def _plain(name: str) -> str:
    return name.partition(" [")[0]
