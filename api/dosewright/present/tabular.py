"""Answers as tables: rows for CSV, XML elements, or one JSON record a row."""

from collections.abc import Iterator
from typing import Any, cast
from xml.sax.saxutils import escape, quoteattr

import msgspec

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.present import rows
from dosewright.present.rows import (
    batch_rows,
    column_lists,
    faults_by_row,
    leaves,
    own_leaves,
    spoken,
    warnings_by_row,
    written_row,
)

__all__ = [
    "as_csv",
    "as_records",
    "as_xml",
    "batch_rows",
    "leaves",
    "own_leaves",
    "spoken",
    "written_row",
]


def as_csv(answer: Answer | BatchAnswer[Any], *, decimal_comma: bool) -> bytes:
    """Return comma-separated values; with a decimal comma, semicolons part the cells."""
    return rows.as_csv(answer, decimal_comma=decimal_comma).encode()


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
        elif isinstance(value, dict) and {"units", "basis", "inputs"} <= set(cast("dict[str, Any]", value)):
            # A whole answer inside another has units of its own.
            section = {
                key: one for key, one in cast("dict[str, Any]", value).items() if key not in {"inputs", "defaults"}
            }
            yield f"<{name}>{''.join(_elements(section, section.pop('units'), ''))}</{name}>"
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
    wrong, warned = faults_by_row(answer), warnings_by_row(answer)
    names = list(answer.columns)
    units = _units_told(answer.units)
    for row, values in enumerate(zip(*column_lists(answer), strict=True)):
        record = {name: None if value != value else value for name, value in zip(names, values, strict=True)}
        warnings = warned(row) if row not in wrong else ""
        yield {"row": row, **record, "units": units, "warnings": warnings, "error": wrong.get(row)}


def _units_told(units: dict[str, str]) -> str:
    return "; ".join(f"{name}: {unit}" for name, unit in units.items())
