"""Opens spreadsheets in a running LibreOffice and reports what their cells hold.

Runs under the system's own interpreter, the one that has the ``uno`` module, so it uses the
standard library only. One JSON request a line comes in on standard input
(``{"document": url, "rows": 2, "columns": 3}``), one JSON grid a line goes out.
"""

from __future__ import annotations

import json
import sys
import time

import uno  # type: ignore[import-not-found]
from com.sun.star.beans import PropertyValue  # type: ignore[import-not-found]
from com.sun.star.connection import NoConnectException  # type: ignore[import-not-found]

UPDATE_LINKS_UNASKED = 3  # com.sun.star.document.UpdateDocMode.FULL_UPDATE
KINDS = {1: "number", 2: "text", 4: "error"}  # com.sun.star.sheet.FormulaResult
START_SECONDS = 60


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


def read_document(desktop, request):
    """Load one document with its links updated, recalculate all of it, return its first sheet's cells."""
    options = (option("Hidden", value=True), option("UpdateDocMode", UPDATE_LINKS_UNASKED))
    document = desktop.loadComponentFromURL(request["document"], "_blank", 0, options)
    try:
        document.calculateAll()
        sheet = document.Sheets.getByIndex(0)
        return [
            [read_cell(sheet.getCellByPosition(column, row)) for column in range(request["columns"])]
            for row in range(request["rows"])
        ]
    finally:
        document.close(True)  # noqa: FBT003 UNO takes no keywords


def main():
    """Answer requests until standard input closes."""
    desktop = connect(sys.argv[1])
    for line in sys.stdin:
        print(json.dumps(read_document(desktop, json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
