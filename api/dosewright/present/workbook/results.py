"""The results of a calculation as rows and tables of a sheet, each picked out of the one answer fetched."""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from dosewright.engine.registry import find
from dosewright.engine.writing import answer_fields
from dosewright.present.workbook import selection
from dosewright.present.workbook.grid import Formula, Sheet, reference
from dosewright.present.workbook.inputs import MEANING, NAME, UNIT, VALUE

__all__ = ["Result", "put_messages", "put_result", "put_table", "results_of"]

TABLE_ROWS = 24
SECTIONS = 2
Picked = Mapping[str, tuple[str, str]]
"""Values and units of the example's answer, by name."""


class Result(NamedTuple):
    """One result: its name in an answer, its meaning, whether it is a number, the fields of a list's items."""

    name: str
    doc: str
    numeric: bool
    items: tuple["Result", ...] = ()


def results_of(answer: type[Any], before: str = "") -> Iterator[Result]:
    """Yield the results of an answer type in order; those of a part or a section have a point in the name."""
    for field in answer_fields(answer):
        name = before + field.name
        if field.struct is not None and field.many:
            items = tuple(item for item in results_of(field.struct) if not item.items)
            yield Result(name, field.doc, numeric=False, items=items)
        elif field.struct is not None:
            yield from results_of(field.struct, f"{name}.")
        elif "section" in field.schema:
            places = [f"{name}.{number}." for number in range(SECTIONS)] if field.schema.get("many") else [f"{name}."]
            for place in places:
                yield from results_of(find(field.schema["section"]).answer, place)
        else:
            counted = field.schema.get("type") in {"integer", "number"}
            yield Result(name, field.doc, numeric=field.kind is not None or counted)


def _shown(picked: Picked, name: str, *, numeric: bool) -> str | float:
    value = picked.get(name, ("", ""))[0]
    return float(value) if numeric and value else value


def put_result(sheet: Sheet, row: int, result: Result, answer: str, picked: Picked) -> None:
    """Write one result: name, value, unit, meaning."""
    name = reference(row, NAME, fixed=False)
    sheet.put(row, NAME, result.name, "name")
    pick = selection.number if result.numeric else selection.quoted_text
    shown = _shown(picked, result.name, numeric=result.numeric)
    sheet.put(row, VALUE, Formula(pick(name, answer), shown), "result" if result.numeric else "result_text")
    if result.numeric:
        unit = picked.get(result.name, ("", ""))[1]
        sheet.put(row, UNIT, Formula(selection.unit(name, answer), unit), "result_text")
    else:
        sheet.put(row, UNIT, "", "result_text")
    sheet.put(row, MEANING, result.doc, "wrapped")
    sheet.heights[row] = 1 + len(result.doc) // 92


def put_table(sheet: Sheet, result: Result, answer: str, picked: Picked) -> None:
    """Write a list of an answer as a table on a separate sheet."""
    sheet.put_title(f"{result.name}: {result.doc}", "", len(result.items))
    head = 3
    sheet.put(head, 0, "item", "head")
    sheet.put(head - 1, 0, "Counted from 1.", "tip")
    sheet.heights[head - 1] = 5
    for column, item in enumerate(result.items, 1):
        sheet.put(head - 1, column, item.doc, "tip")
        sheet.put(head, column, item.name, "head")
        first = f"{result.name}.0.{item.name}"
        unit = Formula(selection.unit(f'"{first}"', answer), picked.get(first, ("", ""))[1])
        sheet.put(head + 1, column, unit if item.numeric else "", "unit")
    sheet.put(head + 1, 0, "", "unit")
    for index in range(TABLE_ROWS):
        row = head + 2 + index
        sheet.put(row, 0, float(index + 1), "count")
        for column, item in enumerate(result.items, 1):
            full = f"{result.name}.{index}.{item.name}"
            pick = selection.number if item.numeric else selection.quoted_text
            shown = _shown(picked, full, numeric=item.numeric)
            look = "result" if item.numeric else "result_text"
            sheet.put(row, column, Formula(pick(f'"{full}"', answer), shown), look)


def put_messages(sheet: Sheet, row: int, names: list[str], answer: str, picked: Picked, look: str) -> int:
    """Write texts that are wide, one a row; returns the row after them."""
    for name in names:
        value = picked.get(name, ("", ""))[0]
        formula = Formula(selection.quoted_text(f'"{name}"', answer), value)
        sheet.put_wide(row, (NAME, MEANING), formula, look if value else "quiet", lines=2)
        row += 1
    return row
