"""Answers as tables: rows for CSV, an HTML table, XML elements, or one JSON record a row."""

import csv
import html
import io
from collections.abc import Callable, Iterable, Iterator
from typing import Any, cast
from xml.sax.saxutils import escape, quoteattr

import msgspec
import numpy as np

from dosewright.contracts.base import Answer, BatchAnswer
from dosewright.contracts.writing import answer_fields

__all__ = [
    "as_csv",
    "as_html",
    "as_records",
    "as_xml",
    "batch_rows",
    "leaves",
    "own_leaves",
    "spoken",
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
    plain = msgspec.to_builtins(answer)
    yield from leaves({field.name: plain[field.name] for field in answer_fields(type(answer))})


def spoken(value: Any, *, decimal_comma: bool = False) -> str:
    """Return a value as bare text: no unit, no separator of thousands."""
    if value is None or (isinstance(value, float) and value != value):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).replace(".", ",") if decimal_comma else repr(value)
    return str(value)


def as_csv(answer: Answer | BatchAnswer[Any], *, decimal_comma: bool) -> bytes:
    """Return comma-separated values; with a decimal comma, semicolons part the cells."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n", delimiter=";" if decimal_comma else ",")
    writer.writerows(written_row(row, decimal_comma=decimal_comma) for row in _rows_of(answer))
    return out.getvalue().encode()


def written_row(values: Iterable[Any], *, decimal_comma: bool) -> list[str]:
    """Return the cells of one row of comma-separated values."""
    return [_cell(value, decimal_comma=decimal_comma) for value in values]


def _cell(value: Any, *, decimal_comma: bool) -> str:
    text = spoken(value, decimal_comma=decimal_comma)
    return _harmless(text) if isinstance(value, str) else text


def as_html(answer: Answer | BatchAnswer[Any], *, decimal_comma: bool) -> bytes:
    """Return one HTML table; each number's cell also carries its value as spreadsheets read it in any locale."""
    rows = list(_rows_of(answer))
    head = "".join(f'<th scope="col">{html.escape(str(name))}</th>' for name in rows[0])
    body = "\n".join(f"<tr>{''.join(_html_cell(value, decimal_comma) for value in row)}</tr>" for row in rows[1:])
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Dosewright</title></head>\n'
        f"<body><table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody>\n</table></body></html>\n"
    ).encode()


def _html_cell(value: Any, decimal_comma: bool) -> str:  # noqa: FBT001 - a private helper of a comprehension
    if isinstance(value, (int, float)) and not isinstance(value, bool) and value == value:
        # sdval and sdnum are how LibreOffice marks a number and the language (1033: English) it is written in.
        return f'<td sdval="{value!r}" sdnum="1033;">{spoken(value, decimal_comma=decimal_comma)}</td>'
    # Format @ keeps a text a text: 3/4 would else become a date.
    return f'<td sdnum="1033;0;@">{html.escape(_harmless(spoken(value)))}</td>'


def _harmless(text: str) -> str:
    """Put a text that a spreadsheet would run as a formula behind an apostrophe."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def as_xml(answer: Answer | BatchAnswer[Any]) -> bytes:
    """Return XML without a namespace, so that //name finds a value; numbers always have a decimal point."""
    if isinstance(answer, Answer):
        plain = msgspec.to_builtins(answer)
        units = plain.pop("units")
        del plain["inputs"], plain["defaults"]
        inside = "".join(_elements(plain, units, ""))
    else:
        inside = "".join(_records_xml(answer))
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<answer>{inside}</answer>\n'.encode()


def _elements(plain: dict[str, Any], units: dict[str, str], prefix: str) -> Iterator[str]:
    for name, value in plain.items():
        if isinstance(value, list):
            items = cast("list[Any]", value)
            yield f"<{name}>"
            for number, item in enumerate(items, 1):
                inside = (
                    "".join(_elements(cast("dict[str, Any]", item), units, f"{prefix}{name}."))
                    if isinstance(item, dict)
                    else escape(spoken(item))
                )
                yield f'<item n="{number}">{inside}</item>'
            yield f"</{name}>"
        elif isinstance(value, dict):
            inner = cast("dict[str, Any]", value)
            yield f"<{name}>{''.join(_elements(inner, units, f'{prefix}{name}.'))}</{name}>"
        else:
            unit = units.get(prefix + name)
            marked = f" unit={quoteattr(unit)}" if unit else ""
            yield f"<{name}{marked}>{escape(spoken(value))}</{name}>"


def _records_xml(answer: BatchAnswer[Any]) -> Iterator[str]:
    for record in _records(answer):
        row = record.pop("row")
        inside = "".join(
            f"<value name={quoteattr(name)}>{escape(spoken(value))}</value>" for name, value in record.items()
        )
        yield f'<item n="{row}">{inside}</item>'


def as_records(answer: Answer | BatchAnswer[Any]) -> list[dict[str, Any]]:
    """Return one flat record a row (a single answer has one), columns always in the same order.

    Each record tells the units of its numbers in one text, so that a number never stands without.
    """
    if isinstance(answer, BatchAnswer):
        return list(_records(answer))
    record: dict[str, Any] = dict(own_leaves(answer))
    warnings = " ".join(warning.message for warning in answer.warnings)
    return [{**record, "units": _units_told(answer.units), "warnings": warnings}]


def _records(answer: BatchAnswer[Any]) -> Iterator[dict[str, Any]]:
    wrong, warned = _faults_by_row(answer), _warnings_by_row(answer)
    names = list(answer.columns)
    units = _units_told(answer.units)
    for row, values in enumerate(zip(*_lists(answer), strict=True)):
        record = {name: None if value != value else value for name, value in zip(names, values, strict=True)}
        warnings = warned(row) if row not in wrong else ""
        yield {"row": row, **record, "units": units, "warnings": warnings, "error": wrong.get(row)}


def _lists(answer: BatchAnswer[Any]) -> list[list[Any]]:
    return [
        cast("list[Any]", column.tolist() if isinstance(column, np.ndarray) else column)
        for column in answer.columns.values()
    ]


def _units_told(units: dict[str, str]) -> str:
    return "; ".join(f"{name}: {unit}" for name, unit in units.items())


def _faults_by_row(answer: BatchAnswer[Any]) -> dict[int, str]:
    wrong: dict[int, str] = {}
    for fault in answer.errors:
        for row in fault.rows or ():
            told = f"{fault.pointer}: {fault.message}"
            wrong[row] = f"{wrong[row]} {told}" if row in wrong else told
    return wrong


def _warnings_by_row(answer: BatchAnswer[Any]) -> Callable[[int], str]:
    told = [(warning.message, None if warning.rows is None else frozenset(warning.rows)) for warning in answer.warnings]
    return lambda row: " ".join(message for message, rows in told if rows is None or row in rows)


def _unit_of(name: str, units: dict[str, str]) -> str:
    return units.get(".".join(part for part in name.split(".") if not part.isdigit()), "")


def _rows_of(answer: Answer | BatchAnswer[Any]) -> Iterator[list[Any]]:
    return _rows(answer) if isinstance(answer, Answer) else batch_rows(answer)


def _rows(answer: Answer) -> Iterator[list[Any]]:
    yield ["field", "value", "unit"]
    for name, value in own_leaves(answer):
        yield [name, value, _unit_of(name, answer.units)]
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
    units = [_unit_of(name, answer.units) for name in answer.columns]
    headers = [f"{name} [{unit}]" if unit else name for name, unit in zip(answer.columns, units, strict=True)]
    yield ["row", *headers, "warnings", "error"]
    wrong, warned = _faults_by_row(answer), _warnings_by_row(answer)
    for row, values in enumerate(zip(*_lists(answer), strict=True)):
        yield [row, *values, warned(row) if row not in wrong else "", wrong.get(row, "")]
