"""Opens spreadsheets in a running LibreOffice and reports what their cells hold.

Runs under the system's own interpreter, the one that has the ``uno`` module, so it uses the
standard library only. One JSON request a line comes in on standard input, one JSON answer a line goes out:
``{"document": url, "rows": 2, "columns": 3}`` is answered with the first sheet's cells;
``{"link": url, "source": "HTML_1", ...}`` with those of a new sheet linked to that address;
``{"document": url, "sheets": true, "set": [["Sheet", "B4", "text or number"]], "pdf": url}`` with all used cells of
every sheet by its name, after some cells were set; the recalculated document is also printed where `pdf` names a file.
"""

from __future__ import annotations

import json
import sys
import time

import uno  # type: ignore[import-not-found]
from com.sun.star.beans import PropertyValue  # type: ignore[import-not-found]
from com.sun.star.connection import NoConnectException  # type: ignore[import-not-found]
from com.sun.star.table import CellAddress  # type: ignore[import-not-found]

UPDATE_LINKS_UNASKED = 3  # com.sun.star.document.UpdateDocMode.FULL_UPDATE
KINDS = {1: "number", 2: "text", 4: "error"}  # com.sun.star.sheet.FormulaResult
START_SECONDS = 60
ALLOW_SECONDS = 5
NOT_YET_ALLOWED = 540
ERRORS = 4  # com.sun.star.sheet.FormulaResult.ERROR
ANYTHING = 1 | 2 | 4 | 16  # com.sun.star.sheet.CellFlags: VALUE, DATETIME, STRING, FORMULA
EMPTY = {"kind": "empty", "text": "", "value": None, "error": 0}
CSV = "Text - txt - csv (StarCalc)"
COMMA_UTF8_ENGLISH = "44,34,76,1,,1033,false,true"


def option(name, value):
    """Return one load option in the form LibreOffice takes."""
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def connect(pipe):
    """Wait for the office process that listens on this pipe, and return its desktop."""
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
    deadline = time.monotonic() + START_SECONDS
    while True:
        try:
            context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            return context.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", context)
        except NoConnectException:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.1)


def read_cell(cell):
    """Return kind, text, value and error number of one cell after recalculation."""
    error = cell.getError()
    kind = cell.Type.value.lower()
    if kind == "formula":
        kind = "error" if error else KINDS[cell.FormulaResultType2]
    elif kind == "value":
        kind = "number"
    return {"kind": kind, "text": cell.String, "value": cell.Value if kind == "number" else None, "error": error}


def read_range(cells):
    """Return all cells of a range: the contents at one call, then one more for each number and for each in doubt."""
    filled = in_use(cells)
    rows = cells.getDataArray()
    return [
        [read_one(cells, column, row, held) if (column, row) in filled else EMPTY for column, held in enumerate(across)]
        for row, across in enumerate(rows)
    ]


def in_use(cells):
    """Return the places, by column and row within the range, of the cells that hold anything."""
    at = cells.RangeAddress
    return {
        (column - at.StartColumn, row - at.StartRow)
        for block in cells.queryContentCells(ANYTHING).RangeAddresses
        for row in range(block.StartRow, block.EndRow + 1)
        for column in range(block.StartColumn, block.EndColumn + 1)
    }


def read_one(cells, column, row, held):
    """Return one cell whose contents are known; only an error and an empty text hang on more than they say."""
    if held and isinstance(held, str):
        return {"kind": "text", "text": held, "value": None, "error": 0}
    cell = cells.getCellByPosition(column, row)
    if isinstance(held, float):
        return {"kind": "number", "text": cell.String, "value": held, "error": 0}
    return read_cell(cell)


def read_block(sheet, rows, columns):
    """Return the cells in the first rows and columns of a sheet."""
    return read_range(sheet.getCellRangeByPosition(0, 0, columns - 1, rows - 1))


def link(document, url, source):
    """Link the first sheet to a table at an address, as the dialogue for external data does."""
    at = CellAddress()
    at.Sheet, at.Column, at.Row = 0, 0, 0
    if source == "CSV":
        document.AreaLinks.insertAtPosition(at, url, "CSV_all", CSV, COMMA_UTF8_ENGLISH)
    else:
        document.AreaLinks.insertAtPosition(at, url, source, "calc_HTML_WebQuery", "")
    for index in range(document.AreaLinks.Count):
        document.AreaLinks.getByIndex(index).refresh()


def waits_for_permission(document):
    """Tell whether a formula was calculated before the office had allowed the document its links."""
    for index in range(document.Sheets.Count):
        sheet = document.Sheets.getByIndex(index)
        for block in sheet.queryFormulaCells(ERRORS).RangeAddresses:
            if sheet.getCellByPosition(block.StartColumn, block.StartRow).getError() == NOT_YET_ALLOWED:
                return True
    return False


def recalculate(document):
    """Recalculate all; the office allows the links of a document it trusts a moment after it has loaded it."""
    document.calculateAll()
    deadline = time.monotonic() + ALLOW_SECONDS
    while waits_for_permission(document) and time.monotonic() < deadline:
        time.sleep(0.05)
        document.calculateAll()


def used_cells(sheet):
    """Return all cells of a sheet that are in use."""
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)  # noqa: FBT003 UNO takes no keywords
    end = cursor.RangeAddress
    return read_block(sheet, end.EndRow + 1, end.EndColumn + 1)


def read_document(desktop, request):
    """Load one document with its links updated, recalculate all of it, return what was asked of it."""
    options = (option("Hidden", value=True), option("UpdateDocMode", UPDATE_LINKS_UNASKED))
    document = desktop.loadComponentFromURL(request.get("document", "private:factory/scalc"), "_blank", 0, options)
    try:
        if "link" in request:
            link(document, request["link"], request["source"])
        document.enableAutomaticCalculation(False)  # noqa: FBT003 else each change asks for all it touches
        for sheet, address, content in request.get("set", ()):
            cell = document.Sheets.getByName(sheet).getCellRangeByName(address)
            if isinstance(content, str):
                cell.String = content
            else:
                cell.Value = content
        recalculate(document)
        if "pdf" in request:
            document.storeToURL(request["pdf"], (option("FilterName", "calc_pdf_Export"),))
        if "sheets" in request:
            return {name: used_cells(document.Sheets.getByName(name)) for name in document.Sheets.ElementNames}
        return read_block(document.Sheets.getByIndex(0), request["rows"], request["columns"])
    finally:
        document.close(True)  # noqa: FBT003 UNO takes no keywords


def main():
    """Answer requests until standard input closes; then stop the office, which a killed run would leave behind."""
    desktop = connect(sys.argv[1])
    for line in sys.stdin:
        print(json.dumps(read_document(desktop, json.loads(line))), flush=True)
    desktop.terminate()


if __name__ == "__main__":
    main()
