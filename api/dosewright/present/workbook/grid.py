"""A workbook before it is a file: sheets of cells, with formulas.

A formula has ``;`` between arguments and its references in brackets: ``[B5]``,
``[$B$5]``, ``[Answer!$A$3]``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

__all__ = ["Book", "Cell", "Chart", "Formula", "Sheet", "column_name", "reference"]


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula, and what it gives for the example, so that a sheet is readable before it was ever calculated."""

    text: str
    value: str | float


@dataclass(frozen=True, slots=True)
class Cell:
    """Content and look of a cell; looks are named in :mod:`looks`."""

    content: str | float | Formula
    look: str = "plain"


@dataclass(frozen=True, slots=True)
class Chart:
    """A line through the points of two columns of its sheet, below each other from `first` to `last` row."""

    title: str
    x_title: str
    y_title: str
    x_column: int
    y_column: int
    first: int
    last: int
    at: tuple[int, int]


@dataclass(slots=True)
class Sheet:
    """One sheet.

    Attributes
    ----------
    cells : dict of (row, column) to Cell
        Counted from 0.
    widths : sequence of float
        Width of each column, in characters.
    heights : dict of row to float
        Rows that hold several lines, in lines.
    merged : list of (row, first column, last column)
        Cells joined across columns.
    choices : dict of (row, column) to names
        Cells that take one of a list.
    printed_columns : int
        How many columns are printed; 0 for all.
    """

    name: str
    widths: Sequence[float]
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict[tuple[int, int], Cell])
    heights: dict[int, float] = field(default_factory=dict[int, float])
    merged: list[tuple[int, int, int]] = field(default_factory=list[tuple[int, int, int]])
    choices: dict[tuple[int, int], tuple[str, ...]] = field(default_factory=dict[tuple[int, int], tuple[str, ...]])
    chart: Chart | None = None
    landscape: bool = False
    printed_columns: int = 0

    @property
    def rows(self) -> int:
        """How many rows are in use."""
        return max(row for row, _ in self.cells) + 1

    def put_title(self, text: str, note: str, last: int) -> None:
        """Write a sheet's title and a note below it, up to a column."""
        self.put(0, 0, text, "title")
        self.heights[0] = 1.6
        self.put_wide(1, (0, last), note, "note")

    def put(self, row: int, column: int, content: str | float | Formula, look: str = "plain") -> None:
        """Write a cell."""
        self.cells[row, column] = Cell(content, look)

    def put_wide(self, row: int, columns: tuple[int, int], content: str | Formula, look: str, lines: float = 1) -> None:
        """Write a text across columns, over several lines."""
        first, last = columns
        self.put(row, first, content, look)
        for column in range(first + 1, last + 1):
            self.put(row, column, "", look)
        if last > first:
            self.merged.append((row, first, last))
        if lines > 1:
            self.heights[row] = max(lines, self.heights.get(row, 1))


@dataclass(slots=True)
class Book:
    """All sheets of one file, the first one in front."""

    title: str
    sheets: list[Sheet]


def column_name(column: int) -> str:
    """Return a column's letters."""
    name = ""
    while column >= 0:
        column, letter = divmod(column, 26)
        name = chr(ord("A") + letter) + name
        column -= 1
    return name


def reference(row: int, column: int, sheet: str = "", *, fixed: bool = True) -> str:
    """Return a reference to a cell as a formula here writes it."""
    sign = "$" if fixed else ""
    there = f"{sheet}!" if sheet else ""
    return f"[{there}{sign}{column_name(column)}{sign}{row + 1}]"
