"""What people read of an answer: a heading, remarks and tables of rounded texts, for a terminal, a notebook and a page.

Warnings and cautions come before the numbers: they are what must not be missed.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple, cast

import msgspec
import numpy as np

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.engine.registry import find
from dosewright.engine.writing import AnswerField, answer_fields
from dosewright.present.blocks import Table
from dosewright.present.rounding import TABLE_DIGITS, Side, in_readable_units, number, sides_of
from dosewright.present.rows import column_lists, faults_by_row, unit_of
from dosewright.present.wording import in_words

__all__ = ["AnswerView", "Remarks", "cautions_of", "sources_table", "values_table", "view_of"]

_MOST_ROWS = 20
_BATCH_DIGITS = 6  # a batch does not know its calculation, so its numbers have no side to be rounded to
_LONGEST = 1000


class Remarks(NamedTuple):
    """The notes of an answer, in the order they are shown."""

    warnings: Sequence[str]
    cautions: Sequence[str]
    errors: Sequence[str]
    notes: Sequence[str]


class AnswerView(NamedTuple):
    """What is shown of an answer."""

    heading: str
    remarks: Remarks
    tables: Iterable[Table]


def view_of(answer: Answer | BatchAnswer[Any]) -> AnswerView:
    """Return what is shown of an answer, or of the answer to a batch."""
    if isinstance(answer, BatchAnswer):
        return _batch_view(answer)
    heading = (type(answer).__doc__ or type(answer).__name__).strip().splitlines()[0]
    warnings = [warning.message for warning in answer.warnings]
    plain = msgspec.to_builtins(answer)
    remarks = Remarks(warnings, cautions_of(answer), [], [*_notes(answer), _rounded_to(TABLE_DIGITS)])
    return AnswerView(heading, remarks, _tables(type(answer), plain, answer.units, ""))


def cautions_of(answer: Answer | BatchAnswer[Any]) -> list[str]:
    """Return the dangers in the work."""
    return [caution.message for caution in answer.cautions]


def values_table(
    answer: msgspec.Struct,
    caption: str,
    shown: Callable[[AnswerField, Any, str], str | None],
    units: Mapping[str, str] | None = None,
    at: str = "",
) -> Iterator[Table]:
    """Yield the values of an answer, or of a part of it, by their meaning in the contract; nothing where there is none.

    Parameters
    ----------
    answer : Struct
        An answer with its units, or a part of one.
    caption : str
        What the values are.
    shown : callable
        Returns how a value of a field in a unit reads, or None where it is left out.
    units : mapping
        Units of the answer that a part belongs to.
    at : str
        Path of the part, ending in a point.
    """
    symbols = answer.units if isinstance(answer, Answer) else units or {}
    rows: list[tuple[str, str, str]] = []
    for field in answer_fields(type(answer)):
        text = shown(field, getattr(answer, field.name), symbols.get(at + field.name, ""))
        if text is not None:
            rows.append((in_words(field.name), text, field.doc.replace("_", " ")))
    if rows:
        yield Table(caption, ("Value", "Amount", "What it is"), rows)


def sources_table(answers: Iterable[Answer]) -> Table:
    """Return the methods that answers use, each once."""
    rows = dict.fromkeys((one.method, one.source, one.validity) for answer in answers for one in answer.basis)
    caption = "Methods, where they are published, and where they hold"
    return Table(caption, ("Method", "Source", "Holds for"), tuple(rows), small=True)


def _notes(answer: Answer | BatchAnswer[Any]) -> list[str]:
    notes = [f"{basis.method}: {basis.source}. Valid: {basis.validity}" for basis in answer.basis]
    defaults = ", ".join(f"{name} {value}" for name, value in answer.defaults.items())
    notes += [f"Defaults used: {defaults}."] if defaults else []
    return [*notes, f"Dosewright {answer.version}"]


def _rounded_to(digits: int) -> str:
    return f"Numbers are rounded to {digits} significant figures, to the less safe side; JSON and CSV hold all digits"


def _tables(struct: type[Any], plain: dict[str, Any], units: Mapping[str, str], at: str) -> Iterator[Table]:
    """Yield the single values, then each list, part and section of an answer or of a section of it."""
    sides, fields = sides_of(struct), answer_fields(struct)
    single = [field for field in fields if not isinstance(plain.get(field.name), (list, dict))]
    rows: list[tuple[str, ...]] = []
    for field in single:
        text, unit = _value(plain.get(field.name), units.get(field.name, ""), sides.get(field.name))
        rows.append((field.name, text, unit, field.doc))
    yield Table(at, ("", "value", "unit", "meaning"), rows, numeric=(False, True, False, False))
    for field in fields:
        value: Any = plain.get(field.name)
        if value and isinstance(value, (list, dict)):
            many = cast("list[Any]", value if isinstance(value, list) else [value])
            yield from _inner_tables(field, many, units, f"{at}.{field.name}" if at else field.name)


def _inner_tables(field: AnswerField, values: list[Any], units: Mapping[str, str], title: str) -> Iterator[Table]:
    if "section" not in field.schema:
        yield _items_table(field, values, units, title)
        return
    # A whole answer inside another names its own units.
    struct = find(field.schema["section"]).answer
    for index, section in enumerate(values):
        yield from _tables(struct, section, section["units"], f"{title}.{index}" if len(values) > 1 else title)


def _items_table(field: AnswerField, items: list[Any], units: Mapping[str, str], title: str) -> Table:
    if not isinstance(items[0], dict):
        return Table(title, (), [[_text(item)] for item in items])
    mappings = cast("list[dict[str, Any]]", items)
    names = [name for name in mappings[0] if any(item.get(name) is not None for item in mappings)]
    sides: Mapping[str, Side] = sides_of(field.struct) if field.struct else {}
    columns = [
        _column(
            name,
            [item.get(name) for item in mappings],
            units.get(f"{field.name}.{name}", ""),
            (sides.get(name), TABLE_DIGITS),
        )
        for name in names
    ]
    numeric = [any(isinstance(item.get(name), float) for item in mappings) for name in names]
    rows = [list(cells) for cells in zip(*(cells for _, cells in columns), strict=True)]
    return Table(title, [header for header, _ in columns], rows, numeric=numeric)


def _column(name: str, values: Sequence[Any], unit: str, rule: tuple[Side | None, int]) -> tuple[str, list[str]]:
    """Return a column's header and cells; each long time has its own unit, other units are in the header."""
    side, digits = rule
    read = [_value(value, unit, side, digits) for value in values]
    if any(own != unit for _, own in read):
        return name, [f"{text} {own}" if text != "–" else text for text, own in read]
    return f"{name} [{unit}]" if unit else name, [text for text, _ in read]


def _value(value: Any, unit: str, side: Side | None, digits: int = TABLE_DIGITS) -> tuple[str, str]:
    """Return a value as people read it, with its unit."""
    if not isinstance(value, float) or value != value:
        return _text(value), unit
    read, unit = in_readable_units(value, unit)
    return number(read, side, digits), unit


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float) and value != value):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return number(value, None, TABLE_DIGITS)
    if isinstance(value, (list, dict)):
        held = cast("list[Any] | dict[str, Any]", value)
        if isinstance(held, list) and not any(isinstance(entry, (list, dict)) for entry in held):
            return ", ".join(_text(entry) for entry in held)
        return f"({len(held)} {'entry' if len(held) == 1 else 'entries'})"
    text = str(value)
    return text if len(text) <= _LONGEST else f"({len(text)} characters)"  # a drawing, to be written to a file


def _batch_view(batch: BatchAnswer[Any]) -> AnswerView:
    wrong = len(faults_by_row(batch))
    warnings = [f"{warning.message}{_rows_named(warning.rows)}" for warning in batch.warnings]
    errors = [f"{fault.pointer}: {fault.message}{_rows_named(fault.rows)}" for fault in batch.errors]
    heading = f"{batch.rows} row{'s' * (batch.rows != 1)}, {wrong} with errors"
    return AnswerView(heading, Remarks(warnings, cautions_of(batch), errors, _notes(batch)), _batch_tables(batch))


def _batch_tables(batch: BatchAnswer[Any]) -> Iterator[Table]:
    shown = min(batch.rows, _MOST_ROWS)
    columns = [
        _column(name, values[:shown], unit_of(name, batch.units), (None, _BATCH_DIGITS))
        for name, values in zip(batch.columns, column_lists(batch), strict=True)
    ]
    header = ["row", *(title for title, _ in columns)]
    numeric = [True, *(isinstance(column, np.ndarray) for column in batch.columns.values())]
    rows = [[str(row), *(cells[row] for _, cells in columns)] for row in range(shown)]
    yield Table("", header, rows, numeric=numeric)
    if batch.rows > _MOST_ROWS:
        yield Table(f"and {batch.rows - _MOST_ROWS} rows more", (), ())


def _rows_named(rows: Sequence[int] | None) -> str:
    if rows is None:
        return ""
    shown = ", ".join(str(row) for row in rows[:10])
    return f" (row{'s' * (len(rows) > 1)} {shown}{', …' * (len(rows) > 10)})"
