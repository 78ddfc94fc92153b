"""Comma-separated values."""

import csv
import io
from collections.abc import Iterable
from typing import IO, Any

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.present.rows import harmless, plain_text, value_table

__all__ = ["as_csv", "csv_cells", "csv_writer"]


def as_csv(answer: Answer | BatchAnswer[Any], *, decimal_comma: bool = False) -> str:
    """Return an answer's values; with a decimal comma, semicolons separate the cells."""
    table = value_table(answer)
    out = io.StringIO()
    writer = csv_writer(out, decimal_comma=decimal_comma)
    writer.writerow(table.head)
    writer.writerows(csv_cells(row, decimal_comma=decimal_comma) for row in table.rows)
    return out.getvalue()


def csv_writer(out: IO[str], *, decimal_comma: bool) -> Any:
    """Return what writes lines of cells."""
    return csv.writer(out, lineterminator="\r\n", delimiter=";" if decimal_comma else ",")


def csv_cells(values: Iterable[Any], *, decimal_comma: bool) -> list[str]:
    """Return bare values as the cells of a line; no text in them is one that a spreadsheet would run."""
    return [_cell(value, decimal_comma=decimal_comma) for value in values]


def _cell(value: Any, *, decimal_comma: bool) -> str:
    text = plain_text(value, decimal_comma=decimal_comma)
    return harmless(text) if isinstance(value, str) else text
