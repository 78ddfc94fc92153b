"""Writes a workbook as Office Open XML; the only module that knows the library for it."""

import datetime as dt
import io
import re
from typing import Any

import xlsxwriter  # pyright: ignore[reportMissingTypeStubs]

from dosewright.present.workbook.grid import Book, Cell, Formula, Sheet
from dosewright.present.workbook.looks import LOOKS, Look

__all__ = ["as_xlsx", "excel_formula"]

# Functions younger than the format carry a prefix in the file.
_YOUNG = frozenset({"WEBSERVICE", "ENCODEURL", "NUMBERVALUE"})
_TOKENS = re.compile(r'(?P<text>"(?:[^"]|"")*")|(?P<reference>\[[^\]]+\])|(?P<semicolon>;)|(?P<function>[A-Z]+)(?=\()')
_LONGEST_INLINE_LIST = 255
_LINE_POINTS = 13.5
_LISTS = "Lists"


def excel_formula(formula: str) -> str:
    """Return a formula in the format's notation."""
    return f"={_TOKENS.sub(_translated, formula)}"


def _translated(found: re.Match[str]) -> str:
    text = found[0]
    if found["reference"]:
        sheet, _, address = text[1:-1].rpartition("!")
        return f"'{sheet}'!{address}" if sheet else address
    if found["function"]:
        return f"_xlfn.{text}" if text in _YOUNG else text
    return "," if found["semicolon"] else text


def as_xlsx(book: Book) -> bytes:
    """Return a workbook's file."""
    out = io.BytesIO()
    # Nothing is guessed from a text: neither a formula, nor a number, nor a link.
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    file: Any = xlsxwriter.Workbook(out, options)
    # A fixed day, so that the same workbook has the same bytes and the same entity tag.
    file.set_properties({"title": book.title, "author": "Dosewright", "created": dt.datetime(2026, 1, 1)})  # noqa: DTZ001
    file.set_calc_mode("auto")
    formats = {name: file.add_format(_format(look)) for name, look in LOOKS.items()}
    sheets = [(sheet, file.add_worksheet(sheet.name)) for sheet in book.sheets]
    lists = _Lists(file)
    for sheet, written in sheets:
        _write(sheet, written, formats, lists)
        if sheet.chart:
            written.insert_chart(*sheet.chart.at, _chart(file, sheet))
    file.close()
    return out.getvalue()


def _format(look: Look) -> dict[str, Any]:
    made: dict[str, Any] = {
        "font_name": "Arial",
        "font_size": look.size,
        "font_color": look.colour,
        "valign": "top",
        "bold": look.bold,
        "italic": look.italic,
        "text_wrap": look.wrap,
    }
    if look.fill:
        made["bg_color"] = look.fill
    if look.border:
        made |= {"border": 1, "border_color": look.border}
    if look.text:
        made["num_format"] = "@"
    if look.number:
        made["num_format"] = "[>=1000]#,##0.0;[>=0.01]0.0000;General"
    if look.right:
        made["align"] = "right"
    return made


class _Lists:
    """A separate sheet of names, for lists too long for a cell."""

    def __init__(self, file: Any) -> None:
        self._file = file
        self._sheet: Any = None
        self._known: dict[tuple[str, ...], str] = {}

    def source(self, names: tuple[str, ...]) -> Any:
        """Return where a cell's list is found."""
        if len(",".join(names)) <= _LONGEST_INLINE_LIST:
            return list(names)
        if names not in self._known:
            if self._sheet is None:
                self._sheet = self._file.add_worksheet(_LISTS)
                self._sheet.hide()
            column = len(self._known)
            self._sheet.write_column(0, column, names)
            letter = chr(ord("A") + column)
            self._known[names] = f"={_LISTS}!${letter}$1:${letter}${len(names)}"
        return self._known[names]


def _write(sheet: Sheet, written: Any, formats: dict[str, Any], lists: _Lists) -> None:
    _lay_out(sheet, written)
    for row, first, last in sheet.merged:
        written.merge_range(row, first, row, last, "", formats[sheet.cells[row, first].look])
    hidden = {(row, column) for row, first, last in sheet.merged for column in range(first + 1, last + 1)}
    for at, cell in sheet.cells.items():
        if at not in hidden:
            _write_cell(written, at, cell, formats[cell.look])
    for (row, column), names in sheet.choices.items():
        written.data_validation(
            row, column, row, column, {"validate": "list", "source": lists.source(names), "error_type": "warning"}
        )


def _write_cell(written: Any, at: tuple[int, int], cell: Cell, look: Any) -> None:
    if isinstance(cell.content, Formula):
        written.write_formula(*at, excel_formula(cell.content.text), look, cell.content.value)
    elif not isinstance(cell.content, str):
        written.write_number(*at, cell.content, look)
    elif cell.content:
        written.write_string(*at, cell.content, look)
    else:
        written.write_blank(*at, None, look)


def _lay_out(sheet: Sheet, written: Any) -> None:
    for column, width in enumerate(sheet.widths):
        written.set_column(column, column, width)
    for row, lines in sheet.heights.items():
        written.set_row(row, lines * _LINE_POINTS)
    if sheet.landscape:
        written.set_landscape()
    written.set_paper(9)
    written.fit_to_pages(1, 0)
    if sheet.printed_columns:
        written.print_area(0, 0, sheet.rows - 1, sheet.printed_columns - 1)


def _chart(file: Any, sheet: Sheet) -> Any:
    plan = sheet.chart
    assert plan is not None  # noqa: S101 - the caller looks
    chart = file.add_chart({"type": "scatter", "subtype": "straight_with_markers"})
    chart.add_series(
        {
            "name": [sheet.name, plan.first - 1, plan.y_column],
            "categories": [sheet.name, plan.first, plan.x_column, plan.last, plan.x_column],
            "values": [sheet.name, plan.first, plan.y_column, plan.last, plan.y_column],
            "line": {"color": "#1F4E79", "width": 2},
            "marker": {"type": "circle", "size": 6, "fill": {"color": "#1F4E79"}, "border": {"color": "#1F4E79"}},
        }
    )
    chart.set_title({"name": plan.title, "name_font": {"size": 12}})
    chart.set_x_axis(
        {
            "name": plan.x_title,
            "num_format": "General",
            "major_gridlines": {"visible": True, "line": {"color": "#D0D0D0"}},
        }
    )
    chart.set_y_axis(
        {
            "name": plan.y_title,
            "num_format": "General",
            "major_gridlines": {"visible": True, "line": {"color": "#D0D0D0"}},
        }
    )
    chart.set_legend({"position": "bottom"})
    chart.set_size({"width": 560, "height": 340})
    return chart
