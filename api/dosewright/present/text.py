"""Writes tables and paragraphs as text for a terminal."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import TypeAlias

from dosewright.present.answer_tables import AnswerView
from dosewright.present.blocks import Table

__all__ = ["WIDTH", "as_text", "table_text", "wrapped"]

WIDTH = 100
"""Characters on a line."""
_NARROWEST = 12  # of a column of words that must wrap
_GAP = 2  # between columns
_Lines: TypeAlias = list[list[str]]


def as_text(view: AnswerView) -> str:
    """Return remarks and tables as lines."""
    blocks = [
        view.heading,
        _marked("! Warning: ", view.remarks.warnings),
        _marked("* Caution: ", view.remarks.cautions),
        _marked("x Row with errors: ", view.remarks.errors),
        *(table_text(table) for table in view.tables),
        _marked("- ", view.remarks.notes),
    ]
    return "\n\n".join(block for block in blocks if block)


def wrapped(text: str, indent: str = "  ", first: str = "") -> str:
    """Return a paragraph on lines that fit a terminal."""
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)


def _marked(mark: str, texts: Iterable[str]) -> str:
    return "\n".join(wrapped(mark + text) for text in texts)


def table_text(table: Table, *, whole: bool = False) -> str:
    """Return a table as lines that fit a terminal: cells wrap, and what is too wide follows in parts.

    A `whole` one keeps each row on one line, however long, so that it can be searched.
    """
    lines = [list(row) for row in [table.head, *table.rows] if row]
    count = len(lines[0]) if lines else 0
    numeric = list(table.numeric) or [False] * count
    if whole:
        return _block(table.caption, lines, numeric, _breadths(lines))
    columns = enumerate(_columns(lines))
    parts = [_part("" if at else table.caption, lines, numeric, kept) for at, kept in columns]
    return "\n\n".join(parts) or table.caption


def _part(title: str, lines: _Lines, numeric: list[bool], columns: Sequence[int]) -> str:
    kept = [[line[column] for column in columns] for line in lines]
    return _block(title, kept, [numeric[column] for column in columns], _widths(kept))


def _breadths(lines: _Lines) -> list[int]:
    return [max(map(len, column)) for column in zip(*lines, strict=True)]


def _widths(lines: _Lines) -> list[int]:
    """Return the width of each column: where all are too wide together, the widest words are wrapped."""
    widths = _breadths(lines)
    words = [_longest_word(column) for column in zip(*lines, strict=True)]
    while sum(widths) + _GAP * (len(widths) - 1) > WIDTH:
        wide = [column for column, width in enumerate(widths) if width > max(words[column], _NARROWEST)]
        if not wide:
            break
        widths[max(wide, key=lambda column: widths[column])] -= 1
    return widths


def _longest_word(cells: Iterable[str]) -> int:
    return max((len(word) for cell in cells for word in cell.split()), default=0)


def _columns(lines: _Lines) -> Iterator[Sequence[int]]:
    """Yield the columns of each part of a table that fits a terminal; the first is in each."""
    widths = _widths(lines)
    count, start = len(widths), 1
    while start < count or (start == 1 and count):
        end, width = start, widths[0]
        while end < count and (end == start or width + _GAP + widths[end] <= WIDTH):
            width += _GAP + widths[end]
            end += 1
        yield [0, *range(start, end)]
        start = max(end, start + 1)


def _block(title: str, lines: _Lines, numeric: list[bool], widths: list[int]) -> str:
    written = [title] if title else []
    for cells in lines:
        folded = [
            [cell] if len(cell) <= width else textwrap.wrap(cell, width, break_long_words=False)
            for cell, width in zip(cells, widths, strict=True)
        ]
        for number in range(max(map(len, folded))):
            parts = [cell[number] if number < len(cell) else "" for cell in folded]
            aligned = [
                part.rjust(width) if right else part.ljust(width)
                for part, width, right in zip(parts, widths, numeric, strict=True)
            ]
            written.append((" " * _GAP).join(aligned).rstrip())
    return "\n".join(written)
