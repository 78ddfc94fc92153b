"""A calculation as a workbook: one sheet to ask and read, one for each list, one of cases with a chart."""

import csv
import io
from typing import Any

from dosewright import __version__
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.registry import Calculation, Cases, find
from dosewright.engine.run import answer
from dosewright.present.csv import as_csv
from dosewright.present.workbook import selection
from dosewright.present.workbook.grid import Book, Chart, Formula, Sheet, reference
from dosewright.present.workbook.inputs import MEANING, NAME, PIECE, UNIT, VALUE, Input, inputs_of, put_input, put_items
from dosewright.present.workbook.results import Picked, put_messages, put_result, put_table, results_of
from dosewright.quantities import PROFILES

__all__ = ["DEFAULT_ADDRESS", "book_of"]

DEFAULT_ADDRESS = "http://127.0.0.1:8254"
MAIN, ANSWER, CASES, ABOUT = "Calculation", "Answer", "Cases", "About"
_LONGEST_ADDRESS = 2048
_ROW_ADDRESS, _ROW_UNITS, _ROW_STATE, _ROW_INPUTS = 3, 4, 5, 7
_SPARE_MESSAGES = 3
_LONGEST_SHEET_NAME = 31
# How CSV guards a text that a spreadsheet would run; picked out by text functions it needs no guard.
_GUARDED = ((",'-", ",-"), (',""\'-', ',""-'))
_PLAIN_ANSWER = "[Answer!$A$6]"
_RAW_ANSWER = "[Answer!$A$4]"
_ASKED = "[Answer!$A$2]"
_PERMIT = (
    "A calculation is not a permit, a certificate or a validated dose. Local plumbing, electrical, well and health "
    "rules, the makers' instructions and licensed practice come first."
)


def book_of(path: str, address: str = DEFAULT_ADDRESS) -> Book:
    """Return the workbook of a calculation, filled with its example.

    Parameters
    ----------
    path : str
        Topic and name.
    address : str
        Where the service answers.

    Raises
    ------
    KeyError
        No calculation has this path.
    """
    return _Layout(find(path), address.rstrip("/")).book()


class _Layout:
    """Writes the sheets of one workbook."""

    def __init__(self, entry: Calculation[Any, Any], address: str) -> None:
        self.entry = entry
        self.address = address
        self.example = {**entry.example, "units": "metric"}
        text = as_csv(answer(entry, self.example)).replace("\r", "")
        self.text = text.replace(",'-", ",-").replace(",\"'-", ',"-')
        self.picked: Picked = {name: (value, unit) for name, value, unit in csv.reader(io.StringIO(self.text))}
        self.main = Sheet(MAIN, (30, 20, 14, 76, 34), landscape=True)
        self.lists: list[Sheet] = []
        self.pieces: dict[str, str] = {}
        self.requested = ""

    def book(self) -> Book:
        """Return the whole workbook."""
        self._head()
        row = self._inputs()
        row = self._results(row)
        self._messages(row)
        self._state()
        sheets = [self.main, *self.lists]
        cases = self.entry.views.cases
        if cases:
            sheets.append(self._cases(cases))
        return Book(self.entry.summary, [*sheets, self._answer(), self._about()])

    def _head(self) -> None:
        sheet = self.main
        sheet.put_title(self.entry.summary, _PERMIT, MEANING)
        sheet.heights[1] = 2
        sheet.printed_columns = PIECE
        sheet.put(_ROW_ADDRESS, NAME, "Service address", "name")
        sheet.put_wide(_ROW_ADDRESS, (VALUE, UNIT), self.address, "input_text")
        texts = "Where the service answers. The document must be allowed to fetch: see About."
        sheet.put(_ROW_ADDRESS, MEANING, texts, "wrapped")
        sheet.put(_ROW_UNITS, NAME, "Units of the results", "name")
        sheet.put(_ROW_UNITS, VALUE, "metric", "input_text")
        sheet.put(_ROW_UNITS, MEANING, "us, metric or si.", "wrapped")
        sheet.choices[_ROW_UNITS, VALUE] = PROFILES

    def _state(self) -> None:
        warned, cautioned = selection.count("warnings", _PLAIN_ANSWER), selection.count("cautions", _PLAIN_ANSWER)
        texts = f'"Answered. Warnings: "&{warned}&"; cautions: "&{cautioned}&". Read them below."'
        no_answer = '"No answer. Check that the service runs at this address and that fetching is allowed (see About)."'
        long = f'"The address has more than {_LONGEST_ADDRESS} characters: give fewer inputs."'
        state = (
            f"IF(LEN({_ASKED})>{_LONGEST_ADDRESS};{long};IF(ISERROR({_RAW_ANSWER});{no_answer};"
            f'IF(LEFT({_RAW_ANSWER};6)="ERROR:";{_RAW_ANSWER};{texts})))'
        )
        counts = [sum(name.startswith(start) for name in self.picked) for start in ("warnings.", "cautions.")]
        shown = f"Answered. Warnings: {counts[0]}; cautions: {counts[1]}. Read them below."
        self.main.put(_ROW_STATE, NAME, "State", "name")
        self.main.put_wide(_ROW_STATE, (VALUE, MEANING), Formula(state, shown), "state", lines=2)

    def _inputs(self) -> int:
        sheet = self.main
        for column, text in enumerate(("Input", "Value", "Unit", "Meaning", "In the address")):
            sheet.put(_ROW_INPUTS, column, text, "head")
        row = _ROW_INPUTS + 1
        for entry in inputs_of(self.entry, self.entry.example):
            if isinstance(entry.field, ItemsField):
                self._list(row, entry)
            else:
                self.requested += put_input(sheet, row, entry)
            self.pieces[entry.name] = reference(row, PIECE, MAIN)
            row += 1
        return row + 1

    def _sheet_name(self, of: str, suffix: str = "") -> str:
        """Return a name that is short enough and not taken."""
        name = f"{of.replace('.', ' ')}{suffix}"
        if len(name) <= _LONGEST_SHEET_NAME:
            return name
        suffix = f" {len(self.lists) + 1}{suffix}"
        return f"{name[: _LONGEST_SHEET_NAME - len(suffix)]}{suffix}"

    def _list(self, row: int, entry: Input) -> None:
        name = self._sheet_name(entry.name)
        sheet = Sheet(name, (), landscape=True)
        formula, shown = put_items(sheet, entry)
        columns = max(column for _, column in sheet.cells)
        sheet.widths = [*[22.0] * columns, 40.0]
        self.lists.append(sheet)
        self.main.put(row, NAME, entry.name, "name")
        self.main.put_wide(row, (VALUE, UNIT), f"see the sheet {name}", "note")
        self.main.put(row, MEANING, entry.doc, "wrapped")
        self.main.put(row, PIECE, Formula(formula, shown), "small")
        self.requested += shown

    def _results(self, row: int) -> int:
        for column, text in enumerate(("Result", "Value", "Unit", "Meaning")):
            self.main.put(row, column, text, "head")
        row += 1
        for result in results_of(self.entry.answer):
            if result.items:
                name = self._sheet_name(result.name, " results")
                sheet = Sheet(name, (8.0, *[22.0] * len(result.items)), landscape=True)
                put_table(sheet, result, _PLAIN_ANSWER, self.picked)
                self.lists.append(sheet)
                self.main.put(row, NAME, result.name, "name")
                self.main.put_wide(row, (VALUE, UNIT), f"see the sheet {name}", "note")
                self.main.put(row, MEANING, result.doc, "wrapped")
            else:
                put_result(self.main, row, result, _PLAIN_ANSWER, self.picked)
            row += 1
        return row + 1

    def _messages(self, row: int) -> None:
        for title, start, look in (("Warnings", "warnings", "warning"), ("Cautions", "cautions", "caution")):
            self.main.put_wide(row, (NAME, MEANING), title, "head")
            count = sum(name.startswith(f"{start}.") for name in self.picked) + _SPARE_MESSAGES
            names = [f"{start}.{index}" for index in range(count)]
            row = 1 + put_messages(self.main, row + 1, names, _PLAIN_ANSWER, self.picked, look)
        self.main.put(row, NAME, "Method", "head")
        self.main.put_wide(row, (VALUE, MEANING), "Source; where it holds", "head")
        count = sum(name.endswith(".method") and name.startswith("basis.") for name in self.picked)
        for index in range(count + _SPARE_MESSAGES):
            row += 1
            self._basis(row, f"basis.{index}")
        row += 2
        self.main.put(row, NAME, "Version", "name")
        pick = selection.quoted_text('"version"', _PLAIN_ANSWER)
        self.main.put(row, VALUE, Formula(pick, __version__), "result_text")

    def _basis(self, row: int, name: str) -> None:
        method, source, holds = (
            self.picked.get(f"{name}.{part}", ("", ""))[0] for part in ("method", "source", "validity")
        )
        parts = [selection.quoted_text(f'"{name}.{part}"', _PLAIN_ANSWER) for part in ("source", "validity")]
        self.main.put(row, NAME, Formula(selection.quoted_text(f'"{name}.method"', _PLAIN_ANSWER), method), "wrapped")
        shown = f"{source}; {holds}" if method else ""
        both = f'{parts[0]}&IF({parts[1]}="";"";"; "&{parts[1]})'
        self.main.put_wide(row, (VALUE, MEANING), Formula(both, shown), "wrapped")
        self.main.heights[row] = max(1 + len(method) // 32, 1 + len(shown) // 125)

    def _address(self, without: str = "") -> str:
        """Return a formula of the address, without one input's part."""
        pieces = "&".join(piece for name, piece in self.pieces.items() if name != without)
        base, units = reference(_ROW_ADDRESS, VALUE, MAIN), reference(_ROW_UNITS, VALUE, MAIN)
        return f'{base}&"/v1/{self.entry.path}?units="&{units}&{pieces}'

    def _answer(self) -> Sheet:
        sheet = Sheet(ANSWER, (140,))
        requested = f"{self.address}/v1/{self.entry.path}?units=metric{self.requested}&format=csv&errors=text"
        sheet.put(0, 0, "Asked", "head")
        sheet.put(1, 0, Formula(f'{self._address()}&"&format=csv&errors=text"', requested), "small")
        sheet.put(2, 0, "Answered: fetched once, every result is picked out of it", "head")
        sheet.put(3, 0, Formula(f"WEBSERVICE({_ASKED})", self.text), "raw")
        sheet.put(
            4, 0, "The same with plain line ends, and no apostrophe before a text that begins with a minus", "head"
        )
        plain = f'SUBSTITUTE({_RAW_ANSWER};CHAR(13);"")'
        for guarded, bare in _GUARDED:
            plain = f'SUBSTITUTE({plain};"{guarded}";"{bare}")'
        sheet.put(5, 0, Formula(plain, self.text), "raw")
        return sheet

    def _cases(self, cases: Cases) -> Sheet:
        sheet = Sheet(CASES, (18, 24, 4, 12, 12, 12, 12, 12, 12), landscape=True)
        note = f"All other inputs as on the sheet {MAIN}. Each row asks the service once."
        sheet.put_title(f"{cases.result} over {cases.field}".replace("_", " "), note, 8)
        sheet.put(3, 0, f"{cases.field} [{cases.unit}]" if cases.unit else cases.field, "head")
        unit_name = f'"{cases.result}"'
        shown_unit = self.picked[cases.result][1]
        head = Formula(
            f'"{cases.result} ["&{selection.unit(unit_name, _PLAIN_ANSWER)}&"]"', f"{cases.result} [{shown_unit}]"
        )
        sheet.put(3, 1, head, "head")
        for row, value in enumerate(cases.values, 4):
            cell = reference(row, 0, fixed=False)
            requested = f'"&{cases.field}="&ENCODEURL({_number(cell)}&" {cases.unit}")'
            fetched = f'WEBSERVICE({self._address(cases.field)}&{requested}&"&pick={cases.result}")'
            sheet.put(row, 0, float(value), "input")
            sheet.put(
                row, 1, Formula(f'IFERROR(NUMBERVALUE({fetched};".";",");"")', self._case(cases, value)), "result"
            )
        last = 3 + len(cases.values)
        sheet.chart = Chart(
            title=f"{cases.result} over {cases.field}".replace("_", " "),
            x_title=f"{cases.field} [{cases.unit}]".replace("_", " "),
            y_title=f"{cases.result} [{shown_unit}]".replace("_", " "),
            x_column=0,
            y_column=1,
            first=4,
            last=last,
            at=(3, 3),
        )
        return sheet

    def _case(self, cases: Cases, value: float) -> str | float:
        try:
            found = answer(self.entry, {**self.example, cases.field: f"{value} {cases.unit}"})
        except RequestRefused:
            return ""
        return float(getattr(found, cases.result))

    def _about(self) -> Sheet:
        sheet = Sheet(ABOUT, (110,))
        sheet.put_title(f"Dosewright {__version__}: {self.entry.summary}", "", 0)
        for row, line in enumerate(_ABOUT, 2):
            sheet.put(row, 0, line, "wrapped")
            sheet.heights[row] = 1 + len(line) // 105
        sheet.put(len(_ABOUT) + 3, 0, self.entry.description, "wrapped")
        sheet.heights[len(_ABOUT) + 3] = 1 + len(self.entry.description) // 100
        return sheet


def _number(cell: str) -> str:
    return f'SUBSTITUTE({cell}&"";",";".")'


_ABOUT = (
    "Yellow cells are yours to fill; the numbers in them are an invented example. All else the service calculates.",
    "An empty input takes its default (see the column Meaning). Choose each unit from the cell's list.",
    "LibreOffice: allow the update of links when the bar above the sheet offers it. File, Reload asks again.",
    "WEBSERVICE in Excel for Windows: allow the content. Excel for Mac or in a browser has none: query data there.",
    "Google Sheets has no WEBSERVICE: import the CSV address on the sheet Answer, from a service on the open web.",
    "A decimal comma works: numbers are sent and read with a decimal point in every locale.",
    "Guides: add /guides to the service address. Each field, unit and source: add /docs.",
)
