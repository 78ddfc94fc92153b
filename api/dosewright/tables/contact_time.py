"""CT tables and baffling factors, in SI but for CT itself, which stays in mg·min/L as the tables have it."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from dosewright.tables import Row, table

__all__ = ["BafflingFactor", "CtTable", "baffling_factors", "ct_table", "ct_table_names"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CtTable:
    """One table of CT values, over log, temperature, pH and residual.

    Attributes
    ----------
    name : str
        As the source numbers it.
    source : str
        Its place in the source.
    logs, temperatures, phs, residuals : ndarray
        Axes; an axis of one mark is one the table does not have. [1, K, 1, kg/m³]
    lowest_ph, highest_ph : float or None
        pH between which the table holds; None if not stated.
    proportional : bool
        Whether other logs are the cell times logs over its own.
    values : ndarray
        CT by log, temperature, pH and residual. [mg·min/L]
    recalled : ndarray
        Whether the digits of each cell are recalled, not read.
    cells : tuple of str
        Each cell in words, in flat order.
    """

    name: str
    source: str
    logs: Floats
    temperatures: Floats
    phs: Floats
    residuals: Floats
    lowest_ph: float | None
    highest_ph: float | None
    proportional: bool
    values: Floats
    recalled: npt.NDArray[np.bool_]
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BafflingFactor:
    """One class of baffling.

    Attributes
    ----------
    title : str
        Name in words.
    factor : float
        Baffling factor. [1]
    source : str
        Its place in the source.
    """

    title: str
    factor: float
    source: str


def ct_table_names() -> tuple[tuple[str, str], ...]:
    """Return each disinfectant and organism there is a table for."""
    others = dict.fromkeys((row["disinfectant"], row["organism"]) for row in _basis())
    return (("free_chlorine", "giardia"), *others)


@cache
def ct_table(disinfectant: str, organism: str) -> CtTable:
    """Return the table for a disinfectant and an organism.

    Raises
    ------
    LookupError
        There is none.
    """
    if (disinfectant, organism) == ("free_chlorine", "giardia"):
        about = table("ct_giardia_chlorine").about
        return _built("tables 1.1 to 1.6", about, table("ct_giardia_chlorine").rows, (None, 9.0), proportional=True)
    rows = [row for row in _basis() if (row["disinfectant"], row["organism"]) == (disinfectant, organism)]
    if not rows:
        raise LookupError(f"no table for {organism} by {disinfectant}")
    lows = [row["ph"].partition("-")[0] for row in rows if "-" in row["ph"]]
    bounds = (float(lows[0]), max(_ph(row) for row in rows)) if lows else (None, None)
    return _built(rows[0]["table"], table("ct_other").about, rows, bounds, proportional=False)


def _basis() -> list[Row]:
    return [row for row in table("ct_other").rows if row["use"] == "basis"]


def _ph(row: Row) -> float:
    """Return the pH of a row: the upper end of its range, or 0 where the table names none."""
    return float(row["ph"].partition("-")[2] or row["ph"] or 0.0)


def _built(
    name: str,
    about: Mapping[str, Any],
    rows: tuple[Row, ...] | list[Row],
    bounds: tuple[float | None, float | None],
    *,
    proportional: bool,
) -> CtTable:
    keys = [
        (float(row["log"]), float(row["water_temperature"]), _ph(row), float(row.get("residual", "0"))) for row in rows
    ]
    axes = [sorted({key[place] for key in keys}) for place in range(4)]
    shape = tuple(len(axis) for axis in axes)
    values = np.full(shape, np.nan)
    recalled = np.zeros(shape, dtype=bool)
    for key, row in zip(keys, rows, strict=True):
        where = tuple(axis.index(part) for axis, part in zip(axes, key, strict=True))
        values[where] = float(row["ct"])
        recalled[where] = row["status"] == "memory"
    if np.isnan(values).any() or len(rows) != values.size:
        raise ValueError(f"table {name} has gaps, or cells twice")
    return CtTable(
        name=name,
        source=str(about["source"]),
        logs=np.array(axes[0]),
        temperatures=np.array(axes[1]) + 273.15,
        phs=np.array(axes[2]),
        residuals=np.array(axes[3]) * 1e-3,
        lowest_ph=bounds[0],
        highest_ph=bounds[1],
        proportional=proportional,
        values=values,
        recalled=recalled,
        cells=tuple(_words(axes, index, name) for index in np.ndindex(*shape)),
    )


def _words(axes: list[list[float]], index: tuple[int, ...], name: str) -> str:
    log, temperature, ph, residual = (axis[place] for axis, place in zip(axes, index, strict=True))
    colder = " or colder" if index[1] == 0 else ""
    parts = [f"{name}: {log:g} log, {temperature:g} degC{colder}"]
    if len(axes[2]) > 1:
        parts.append(f"pH {ph:g}")
    if len(axes[3]) > 1:
        parts.append(f"{residual:g} mg/L")
    return ", ".join(parts)


@cache
def baffling_factors() -> Mapping[str, BafflingFactor]:
    """Return every class of baffling by its name."""
    return MappingProxyType(
        {
            row["name"]: BafflingFactor(
                title=row["title"],
                factor=float(row["factor"]),
                source=f"{row['source']}, {row['section']}" if row["section"] else row["source"],
            )
            for row in table("baffling_factors").rows
        }
    )
