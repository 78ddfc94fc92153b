"""Writes what people read of an answer as text for a terminal."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from dosewright.present.answer_tables import AnswerView, Table

__all__ = ["WIDTH", "as_text", "wrapped"]

WIDTH = 100
"""Characters on a line."""
_NARROWEST = 12  # of a column of words that must wrap


def as_text(view: AnswerView) -> str:
    """Return remarks and tables as lines."""
    blocks = [
        view.heading,
        _marked("! Warning: ", view.remarks.warnings),
        _marked("* Caution: ", view.remarks.cautions),
        _marked("x Row at fault: ", view.remarks.errors),
        *(_table_text(part) for table in view.tables for part in _parts(table)),
        _marked("- ", view.remarks.notes),
    ]
    return "\n\n".join(block for block in blocks if block)


def wrapped(text: str, indent: str = "  ", first: str = "") -> str:
    """Return a paragraph on lines that fit a terminal."""
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)


def _marked(mark: str, texts: Iterable[str]) -> str:
    return "\n".join(wrapped(mark + text) for text in texts)


def _breadth(header: Sequence[str], rows: Sequence[Sequence[str]], column: int) -> int:
    return max(len(header[column]) if header else 0, *(len(row[column]) for row in rows), 0)


def _widths(table: Table) -> list[int]:
    """Return the width of each column: where all are too wide together, the widest words give way."""
    columns = range(len(table.numeric))
    widths = [_breadth(table.head, table.rows, column) for column in columns]
    words = [
        max((len(word) for cells in [table.head, *table.rows] if cells for word in cells[column].split()), default=0)
        for column in columns
    ]
    while sum(widths) + 2 * (len(widths) - 1) > WIDTH:
        wide = [column for column in columns if widths[column] > max(words[column], _NARROWEST)]
        if not wide:
            break
        widths[max(wide, key=lambda column: widths[column])] -= 1
    return widths


def _parts(table: Table) -> Iterator[Table]:
    """Yield a table in parts that fit a terminal, each with the first column."""
    widths, count = _widths(table), len(table.numeric)
    start = 1
    while start < count or start == 1:
        end, width = start, sum(widths[:1])
        while end < count and (end == start or width + 2 + widths[end] <= WIDTH):
            width += 2 + widths[end]
            end += 1
        part = [*range(min(count, 1)), *range(start, end)]
        header, *rows = ([cells[index] for index in part] if cells else [] for cells in [table.head, *table.rows])
        yield Table(table.caption if start == 1 else "", header, rows, [table.numeric[index] for index in part])
        start = max(end, start + 1)


def _table_text(table: Table) -> str:
    lines = [table.caption] if table.caption else []
    widths = _widths(table)
    for cells in ([table.head] if table.head else []) + list(table.rows):
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
