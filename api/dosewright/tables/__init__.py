"""Published values as dated data files, and the one loader that reads them.

A table is ``data/<name>.csv`` (one record per row) with ``data/<name>.toml``, which describes it: ``title``,
``source``, ``section``, ``year``, ``units`` (one entry a column that has one) and ``checked`` (how the figures were
checked). Rows can have their own ``source`` and a ``status`` (``found``, ``memory`` or ``computed``).
"""

import csv
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

__all__ = ["Table", "check_names", "checks", "marked", "table"]

_DATA = files("dosewright.tables") / "data"
_CHECKS = files("dosewright.tables") / "checks"
_MARKS = {"memory": " [from memory]", "computed": " [computed]"}

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """One published table.

    Attributes
    ----------
    name : str
        File name without its ending.
    about : Mapping
        Contents of the sidecar file: title, source, section, year, units, checked.
    rows : tuple of Mapping
        The records as text, in file order.
    """

    name: str
    about: Mapping[str, Any]
    rows: tuple[Row, ...]

    def row(self, **required: str) -> Row | None:
        """Return the first row whose named columns all have the given texts, or None."""
        for row in self.rows:
            if all(row[column] == text for column, text in required.items()):
                return row
        return None


def marked(source: str, status: str) -> str:
    """Return a source, marked where its figure was recalled or computed."""
    return source + _MARKS.get(status, "")


def _rows(text: str) -> tuple[Row, ...]:
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))


@cache
def table(name: str) -> Table:
    """Load a table once and keep it.

    Raises
    ------
    FileNotFoundError
        No such table ships.
    """
    about = tomllib.loads((_DATA / f"{name}.toml").read_text(encoding="utf-8"))
    return Table(name, MappingProxyType(about), _rows((_DATA / f"{name}.csv").read_text(encoding="utf-8")))


def check_names() -> tuple[str, ...]:
    """Return the names of the check tables that ship, sorted."""
    return tuple(sorted(entry.name[:-4] for entry in _CHECKS.iterdir() if entry.name.endswith(".csv")))


@cache
def checks(name: str) -> tuple[Row, ...]:
    """Return the published check values of one topic, as text records."""
    return _rows((_CHECKS / f"{name}.csv").read_text(encoding="utf-8"))
