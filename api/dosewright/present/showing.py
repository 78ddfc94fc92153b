"""How answers show themselves: a table in a terminal and in a notebook, plain data, CSV, a data frame.

Nothing here runs until it is asked for, so an answer costs no more for being able to show itself. Warnings and cautions
come before the numbers: they are what must not be missed.
"""

import html
import importlib
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple, cast

import msgspec
import numpy as np

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.engine.shown import FrameLibrary, set_renderer
from dosewright.engine.writing import answer_fields
from dosewright.present.rows import as_csv, column_lists, faults_by_row, own_leaves, unit_of, warnings_by_row

__all__: list[str] = []

_WIDTH = 100
_MOST_ROWS = 20
_DIGITS = 6
_NARROWEST = 12  # of a column of words that must wrap
_LONGEST = 1000


class _Table(NamedTuple):
    """A table of texts; columns of numbers are aligned at their right."""

    title: str
    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    numeric: Sequence[bool]


class _Remarks(NamedTuple):
    """What is told beside the numbers, in the order it is told."""

    warnings: Sequence[str]
    cautions: Sequence[str]
    errors: Sequence[str]
    notes: Sequence[str]


class _Renderer:
    """Renders answers; see :class:`~dosewright.engine.shown.Renderer`."""

    def text(self, answer: Answer | BatchAnswer[Any]) -> str:
        """Return tables for a terminal."""
        view = _view(answer)
        blocks = [
            view.heading,
            _marked("! Warning: ", view.remarks.warnings),
            _marked("* Caution: ", view.remarks.cautions),
            _marked("x Row at fault: ", view.remarks.errors),
            *(_as_text(part) for table in view.tables for part in _parts(table)),
            _marked("- ", view.remarks.notes),
        ]
        return "\n\n".join(block for block in blocks if block)

    def html(self, answer: Answer | BatchAnswer[Any]) -> str:
        """Return tables for a notebook."""
        view = _view(answer)
        inside = [f"<p><strong>{html.escape(view.heading)}</strong></p>"]
        inside += [_note("Warning", "#b25b00", text) for text in view.remarks.warnings]
        inside += [_note("Caution", "#b00020", text) for text in view.remarks.cautions]
        inside += [_note("Row at fault", "#b00020", text) for text in view.remarks.errors]
        inside += [_as_html(table) for table in view.tables]
        notes = "".join(f"<li>{html.escape(text)}</li>" for text in view.remarks.notes)
        inside.append(f"<details><summary>Method, sources, defaults</summary><ul>{notes}</ul></details>")
        return f"<div>{''.join(inside)}</div>"

    def csv(self, answer: Answer | BatchAnswer[Any], *, decimal_comma: bool) -> str:
        """Return comma-separated values."""
        return as_csv(answer, decimal_comma=decimal_comma)

    def frame(self, answer: Answer | BatchAnswer[Any], library: FrameLibrary | None) -> Any:
        """Return a data frame with an answer's values, or with a batch's rows and their warnings and errors."""
        if not isinstance(answer, BatchAnswer):
            return _frame({name: [value] for name, value in own_leaves(answer)}, answer, library)
        wrong, warned = faults_by_row(answer), warnings_by_row(answer)
        told = ["" if row in wrong else warned(row) for row in range(answer.rows)]
        faults = [wrong.get(row) for row in range(answer.rows)]
        return _frame({**answer.columns, "warnings": told, "error": faults}, answer, library)


set_renderer(_Renderer())


class _View(NamedTuple):
    """What is shown of an answer."""

    heading: str
    remarks: _Remarks
    tables: Iterable[_Table]


def _view(answer: Answer | BatchAnswer[Any]) -> _View:
    if isinstance(answer, BatchAnswer):
        return _batch_view(answer)
    remarks = _Remarks([warning.message for warning in answer.warnings], _cautions(answer), [], _notes(answer))
    return _View(_first_line(type(answer)), remarks, _tables(answer))


def _tables(answer: Answer) -> Iterator[_Table]:
    plain = msgspec.to_builtins(answer)
    single = [field for field in answer_fields(type(answer)) if not isinstance(plain[field.name], (list, dict))]
    rows = [(field.name, _number(plain[field.name]), answer.units.get(field.name, ""), field.doc) for field in single]
    yield _Table("", ("", "value", "unit", "meaning"), rows, (False, True, False, False))
    for field in answer_fields(type(answer)):
        value: Any = plain[field.name]
        if value and isinstance(value, (list, dict)):
            items = cast("list[Any]", [value] if isinstance(value, dict) else value)
            yield _items_table(field.name, items, answer.units)


def _batch_view(batch: BatchAnswer[Any]) -> _View:
    wrong = len(faults_by_row(batch))
    warnings = [f"{warning.message}{_rows_told(warning.rows)}" for warning in batch.warnings]
    errors = [f"{fault.pointer}: {fault.message}{_rows_told(fault.rows)}" for fault in batch.errors]
    heading = f"{batch.rows} row{'s' * (batch.rows != 1)}, {wrong} at fault"
    return _View(heading, _Remarks(warnings, _cautions(batch), errors, _notes(batch)), _batch_tables(batch))


def _batch_tables(batch: BatchAnswer[Any]) -> Iterator[_Table]:
    names = list(batch.columns)
    header = ["row", *(_with_unit(name, unit_of(name, batch.units)) for name in names)]
    columns = column_lists(batch)
    numeric = [True, *(isinstance(column, np.ndarray) for column in batch.columns.values())]
    rows = [[str(row), *(_number(column[row]) for column in columns)] for row in range(min(batch.rows, _MOST_ROWS))]
    yield _Table("", header, rows, numeric)
    if batch.rows > _MOST_ROWS:
        yield _Table(f"and {batch.rows - _MOST_ROWS} rows more", (), (), ())


def _first_line(struct: type[Any]) -> str:
    return (struct.__doc__ or struct.__name__).strip().splitlines()[0]


def _number(value: Any) -> str:
    if value is None or (isinstance(value, float) and value != value):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.{_DIGITS}g}"
    if isinstance(value, (list, dict)):
        held = cast("list[Any] | dict[str, Any]", value)
        if isinstance(held, list) and not any(isinstance(entry, (list, dict)) for entry in held):
            return ", ".join(_number(entry) for entry in held)
        return f"({len(held)} {'entry' if len(held) == 1 else 'entries'})"
    text = str(value)
    return text if len(text) <= _LONGEST else f"({len(text)} characters)"  # a drawing, to be written to a file


def _with_unit(name: str, unit: str) -> str:
    return f"{name} [{unit}]" if unit else name


def _items_table(name: str, items: list[Any], units: dict[str, str]) -> _Table:
    if not isinstance(items[0], dict):
        return _Table(name, (), [[_number(item)] for item in items], (False,))
    mappings = cast("list[dict[str, Any]]", items)
    fields = [field for field in mappings[0] if any(item.get(field) is not None for item in mappings)]
    header = [_with_unit(field, units.get(f"{name}.{field}", "")) for field in fields]
    rows = [[_number(item.get(field)) for field in fields] for item in mappings]
    numeric = [any(isinstance(item.get(field), float) for item in mappings) for field in fields]
    return _Table(name, header, rows, numeric)


def _cautions(answer: Answer | BatchAnswer[Any]) -> list[str]:
    return [caution.message for caution in answer.cautions]


def _notes(answer: Answer | BatchAnswer[Any]) -> list[str]:
    notes = [f"{basis.method}: {basis.source}. Valid: {basis.validity}" for basis in answer.basis]
    defaults = ", ".join(f"{name} {value}" for name, value in answer.defaults.items())
    notes += [f"Defaults used: {defaults}."] if defaults else []
    return [*notes, f"Dosewright {answer.version}"]


def _rows_told(rows: Sequence[int] | None) -> str:
    if rows is None:
        return ""
    shown = ", ".join(str(row) for row in rows[:10])
    return f" (row{'s' * (len(rows) > 1)} {shown}{', …' * (len(rows) > 10)})"


def _marked(mark: str, texts: Iterable[str]) -> str:
    return "\n".join(textwrap.fill(mark + text, _WIDTH, subsequent_indent="  ") for text in texts)


def _breadth(header: Sequence[str], rows: Sequence[Sequence[str]], column: int) -> int:
    return max(len(header[column]) if header else 0, *(len(row[column]) for row in rows), 0)


def _widths(table: _Table) -> list[int]:
    """Return the width of each column: where all are too wide together, the widest words give way."""
    columns = range(len(table.numeric))
    widths = [_breadth(table.header, table.rows, column) for column in columns]
    words = [
        max((len(word) for cells in [table.header, *table.rows] if cells for word in cells[column].split()), default=0)
        for column in columns
    ]
    while sum(widths) + 2 * (len(widths) - 1) > _WIDTH:
        wide = [column for column in columns if widths[column] > max(words[column], _NARROWEST)]
        if not wide:
            break
        widths[max(wide, key=lambda column: widths[column])] -= 1
    return widths


def _parts(table: _Table) -> Iterator[_Table]:
    """Yield a table in parts that fit a terminal, each with the first column."""
    widths, count = _widths(table), len(table.numeric)
    start = 1
    while start < count or start == 1:
        end, width = start, sum(widths[:1])
        while end < count and (end == start or width + 2 + widths[end] <= _WIDTH):
            width += 2 + widths[end]
            end += 1
        part = [*range(min(count, 1)), *range(start, end)]
        header, *rows = ([cells[index] for index in part] if cells else [] for cells in [table.header, *table.rows])
        yield _Table(table.title if start == 1 else "", header, rows, [table.numeric[index] for index in part])
        start = max(end, start + 1)


def _as_text(table: _Table) -> str:
    lines = [table.title] if table.title else []
    widths = _widths(table)
    for cells in ([table.header] if table.header else []) + list(table.rows):
        wrapped = [
            [cell] if len(cell) <= width else textwrap.wrap(cell, width, break_long_words=False)
            for cell, width in zip(cells, widths, strict=True)
        ]
        for number in range(max((len(cell) for cell in wrapped), default=0)):
            parts = [cell[number] if number < len(cell) else "" for cell in wrapped]
            aligned = [
                part.rjust(width) if numeric else part.ljust(width)
                for part, width, numeric in zip(parts, widths, table.numeric, strict=True)
            ]
            lines.append("  ".join(aligned).rstrip())
    return "\n".join(lines)


def _as_html(table: _Table) -> str:
    title = f"<caption>{html.escape(table.title)}</caption>" if table.title else ""
    if not table.rows:
        return f"<p>{html.escape(table.title)}</p>"

    def cells(texts: Sequence[str], tag: str) -> str:
        return "".join(
            f'<{tag} style="text-align:{"right" if numeric else "left"}">{html.escape(text)}</{tag}>'
            for text, numeric in zip(texts, table.numeric, strict=True)
        )

    head = f"<thead><tr>{cells(table.header, 'th')}</tr></thead>" if table.header else ""
    body = "".join(f"<tr>{cells(row, 'td')}</tr>" for row in table.rows)
    return f"<table>{title}{head}<tbody>{body}</tbody></table>"


def _note(kind: str, colour: str, text: str) -> str:
    style = f"border-left:4px solid {colour};padding:2px 8px;margin:4px 0"
    return f'<p role="note" style="{style}"><strong>{kind}:</strong> {html.escape(text)}</p>'


def _frame(columns: dict[str, Any], answer: Answer | BatchAnswer[Any], library: FrameLibrary | None) -> Any:
    name, module = _frame_library(library)
    if name == "polars":
        frame: Any = module.DataFrame(columns, strict=False)
        return frame.fill_nan(None)
    frame = module.DataFrame(columns)
    frame.attrs = {
        "units": dict(answer.units),
        "warnings": [warning.message for warning in answer.warnings],
        "cautions": _cautions(answer),
    }
    return frame


def _frame_library(wanted: FrameLibrary | None) -> tuple[str, Any]:
    for name in (wanted,) if wanted else ("pandas", "polars"):
        try:
            return name, importlib.import_module(name)
        except ModuleNotFoundError:
            continue
    named = wanted or "pandas or polars"
    raise ModuleNotFoundError(f"to_frame needs {named}, which is not installed: pip install {wanted or 'pandas'}")
