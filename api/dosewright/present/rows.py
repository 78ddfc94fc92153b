"""Answers as rows of single values: the layout that every tabular form shares."""

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from typing import Any, cast

import msgspec
import numpy as np

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.engine.writing import ENVELOPE, answer_fields

__all__ = [
    "as_csv",
    "batch_rows",
    "column_lists",
    "faults_by_row",
    "harmless",
    "leaves",
    "own_leaves",
    "own_rows",
    "rows_of",
    "spoken",
    "unit_of",
    "warnings_by_row",
    "written_row",
]

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def leaves(value: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """Yield the single values in plain data, each under its path."""
    if isinstance(value, dict):
        for key, inner in cast("dict[str, Any]", value).items():
            yield from leaves(inner, f"{name}.{key}" if name else key)
    elif isinstance(value, list):
        for index, inner in enumerate(cast("list[Any]", value)):
            yield from leaves(inner, f"{name}.{index}")
    else:
        yield name, value


def own_leaves(answer: Answer) -> Iterator[tuple[str, Any]]:
    """Yield the single values of an answer's own fields, without what all answers share."""
    for name, value, _ in own_rows(answer):
        yield name, value


def own_rows(answer: Answer) -> Iterator[tuple[str, Any, str]]:
    """Yield name, value and unit of each single value of an answer's own fields, and of its sections' own."""
    plain = msgspec.to_builtins(answer)
    sections = {field.name for field in answer_fields(type(answer)) if "section" in field.schema}
    own = {field.name: plain[field.name] for field in answer_fields(type(answer))}
    yield from _own_rows(own, answer.units, sections, "")


def _own_rows(
    own: dict[str, Any], units: dict[str, str], sections: set[str], at: str
) -> Iterator[tuple[str, Any, str]]:
    for name, value in own.items():
        if name not in sections or value is None:
            for leaf, one in leaves(value, name):
                yield at + leaf, one, unit_of(leaf, units)
        elif isinstance(value, list):
            for number, section in enumerate(cast("list[Any]", value)):
                yield from _section_rows(section, f"{at}{name}.{number}.")
        else:
            yield from _section_rows(value, f"{at}{name}.")


def _section_rows(section: dict[str, Any], at: str) -> Iterator[tuple[str, Any, str]]:
    """Yield the rows of a whole answer inside another; what all answers share is told once, by the outer one."""
    inner = {name: value for name, value in section.items() if name not in ENVELOPE}
    nested = {name for name, value in inner.items() if _is_answer(value)}
    yield from _own_rows(inner, section["units"], nested, at)


def _is_answer(value: Any) -> bool:
    return isinstance(value, dict) and {"units", "basis", "inputs"} <= set(cast("dict[str, Any]", value))


def spoken(value: Any, *, decimal_comma: bool = False) -> str:
    """Return a value as bare text: no unit, no separator of thousands."""
    if value is None or (isinstance(value, float) and value != value):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).replace(".", ",") if decimal_comma else repr(value)
    return str(value)


def as_csv(answer: Answer | BatchAnswer[Any], *, decimal_comma: bool = False) -> str:
    """Return comma-separated values; with a decimal comma, semicolons part the cells."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n", delimiter=";" if decimal_comma else ",")
    writer.writerows(written_row(row, decimal_comma=decimal_comma) for row in rows_of(answer))
    return out.getvalue()


def written_row(values: Iterable[Any], *, decimal_comma: bool) -> list[str]:
    """Return the cells of one row of comma-separated values."""
    return [_cell(value, decimal_comma=decimal_comma) for value in values]


def _cell(value: Any, *, decimal_comma: bool) -> str:
    text = spoken(value, decimal_comma=decimal_comma)
    return harmless(text) if isinstance(value, str) else text


def harmless(text: str) -> str:
    """Put a text that a spreadsheet would run as a formula behind an apostrophe."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def faults_by_row(answer: BatchAnswer[Any]) -> dict[int, str]:
    """Return what is wrong with each row at fault, in one text."""
    wrong: dict[int, str] = {}
    for fault in answer.errors:
        for row in fault.rows or ():
            told = f"{fault.pointer}: {fault.message}"
            wrong[row] = f"{wrong[row]} {told}" if row in wrong else told
    return wrong


def warnings_by_row(answer: BatchAnswer[Any]) -> Callable[[int], str]:
    """Return a function that tells what to look at in a row."""
    told = [(warning.message, None if warning.rows is None else frozenset(warning.rows)) for warning in answer.warnings]
    return lambda row: " ".join(message for message, rows in told if rows is None or row in rows)


def unit_of(name: str, units: dict[str, str]) -> str:
    """Return the unit of a column or field, whose name may number an item."""
    return units.get(".".join(part for part in name.split(".") if not part.isdigit()), "")


def rows_of(answer: Answer | BatchAnswer[Any]) -> Iterator[list[Any]]:
    """Return an answer's rows, the first of which names the columns."""
    return batch_rows(cast("BatchAnswer[Any]", answer)) if hasattr(answer, "columns") else _rows(cast("Answer", answer))


def _rows(answer: Answer) -> Iterator[list[Any]]:
    yield ["field", "value", "unit"]
    for row in own_rows(answer):
        yield list(row)
    for index, warning in enumerate(answer.warnings):
        yield [f"warnings.{index}", warning.message, ""]
    for index, caution in enumerate(answer.cautions):
        yield [f"cautions.{index}", caution.message, ""]
    for name, value in leaves(msgspec.to_builtins(answer.basis), "basis"):
        yield [name, value, ""]
    yield ["question", answer.question, ""]
    yield ["version", answer.version, ""]


def batch_rows(answer: BatchAnswer[Any]) -> Iterator[list[Any]]:
    """Yield a header with units, then the rows of a batch: number, values, what is wrong."""
    units = [unit_of(name, answer.units) for name in answer.columns]
    headers = [f"{name} [{unit}]" if unit else name for name, unit in zip(answer.columns, units, strict=True)]
    yield ["row", *headers, "warnings", "error"]
    wrong, warned = faults_by_row(answer), warnings_by_row(answer)
    for row, values in enumerate(zip(*column_lists(answer), strict=True)):
        yield [row, *values, warned(row) if row not in wrong else "", wrong.get(row, "")]


def column_lists(answer: BatchAnswer[Any]) -> list[list[Any]]:
    """Return the columns of a batch as lists."""
    return [
        cast("list[Any]", column.tolist() if isinstance(column, np.ndarray) else column)
        for column in answer.columns.values()
    ]
