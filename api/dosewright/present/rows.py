"""Answers as rows of bare values: what every form for machines is made of."""

import re
from collections.abc import Callable, Iterator
from typing import Any, cast

import msgspec
import numpy as np

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.engine.writing import ENVELOPE, answer_fields
from dosewright.present.blocks import Table

__all__ = [
    "column_lists",
    "faults_by_row",
    "harmless",
    "is_answer",
    "leaves",
    "own_leaves",
    "own_rows",
    "plain_text",
    "records",
    "unit_of",
    "value_table",
    "warnings_by_row",
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
    """Yield the rows of a whole answer inside another; fields that all answers share are in the outer one."""
    inner = {name: value for name, value in section.items() if name not in ENVELOPE}
    nested = {name for name, value in inner.items() if is_answer(value)}
    yield from _own_rows(inner, section["units"], nested, at)


def is_answer(value: Any) -> bool:
    """Tell whether plain data is a whole answer."""
    return isinstance(value, dict) and {"units", "basis", "inputs"} <= set(cast("dict[str, Any]", value))


def plain_text(value: Any, *, decimal_comma: bool = False) -> str:
    """Return a value as bare text: no unit, no separator of thousands."""
    if value is None or (isinstance(value, float) and value != value):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).replace(".", ",") if decimal_comma else repr(value)
    return str(value)


def harmless(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run as a formula."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def faults_by_row(answer: BatchAnswer[Any]) -> dict[int, str]:
    """Return the errors of each row, in one text."""
    wrong: dict[int, str] = {}
    for fault in answer.errors:
        for row in fault.rows or ():
            texts = f"{fault.pointer}: {fault.message}"
            wrong[row] = f"{wrong[row]} {texts}" if row in wrong else texts
    return wrong


def warnings_by_row(answer: BatchAnswer[Any]) -> Callable[[int], str]:
    """Return a function that gives the warnings of a row."""
    texts = [
        (warning.message, None if warning.rows is None else frozenset(warning.rows)) for warning in answer.warnings
    ]
    return lambda row: " ".join(message for message, rows in texts if rows is None or row in rows)


def unit_of(name: str, units: dict[str, str]) -> str:
    """Return the unit of a column or field, whose name can contain the number of an item."""
    return units.get(".".join(part for part in name.split(".") if not part.isdigit()), "")


def value_table(answer: Answer | BatchAnswer[Any]) -> Table:
    """Return an answer's values by name, or a batch's rows, with their notes."""
    if hasattr(answer, "columns"):
        return _batch_table(cast("BatchAnswer[Any]", answer))
    return Table("", ("field", "value", "unit"), _rows(cast("Answer", answer)))


_IN_ITEM = re.compile(r"\.\d+\.")


def _rows(answer: Answer) -> Iterator[tuple[str, Any, str]]:
    for name, value, unit in own_rows(answer):
        # An absent text of a list item is left out: a plan must fit a spreadsheet's cell of 32,767 characters.
        if value is not None or unit or not _IN_ITEM.search(name):
            yield name, value, unit
    for index, warning in enumerate(answer.warnings):
        yield f"warnings.{index}", warning.message, ""
    for index, caution in enumerate(answer.cautions):
        yield f"cautions.{index}", caution.message, ""
    for name, value in leaves(msgspec.to_builtins(answer.basis), "basis"):
        yield name, value, ""
    yield "question", answer.question, ""
    yield "version", answer.version, ""


def _batch_table(answer: BatchAnswer[Any]) -> Table:
    """Return a batch's rows, numbered, with their values and errors; the head has the units."""
    units = [unit_of(name, answer.units) for name in answer.columns]
    names = [f"{name} [{unit}]" if unit else name for name, unit in zip(answer.columns, units, strict=True)]
    wrong, warned = faults_by_row(answer), warnings_by_row(answer)
    rows = (
        (row, *values, warned(row) if row not in wrong else "", wrong.get(row, ""))
        for row, values in enumerate(zip(*column_lists(answer), strict=True))
    )
    return Table("", ("row", *names, "warnings", "error"), rows)


def records(answer: Answer | BatchAnswer[Any]) -> Iterator[dict[str, Any]]:
    """Yield one flat record a row (a single answer has one), columns always in the same order.

    Each record lists the units of its numbers in one text, so that no number is without its unit.
    """
    units = "; ".join(f"{name}: {unit}" for name, unit in answer.units.items())
    if isinstance(answer, Answer):
        warnings = " ".join(warning.message for warning in answer.warnings)
        yield {**dict(own_leaves(answer)), "units": units, "warnings": warnings}
        return
    wrong, warned = faults_by_row(answer), warnings_by_row(answer)
    names = list(answer.columns)
    for row, values in enumerate(zip(*column_lists(answer), strict=True)):
        record = {name: None if value != value else value for name, value in zip(names, values, strict=True)}
        warnings = warned(row) if row not in wrong else ""
        yield {"row": row, **record, "units": units, "warnings": warnings, "error": wrong.get(row)}


def column_lists(answer: BatchAnswer[Any]) -> list[list[Any]]:
    """Return the columns of a batch as lists."""
    return [
        cast("list[Any]", column.tolist() if isinstance(column, np.ndarray) else column)
        for column in answer.columns.values()
    ]
