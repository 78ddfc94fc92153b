"""Fixtures with their units, flow and use, and the published curves from fixture units to flow, in SI."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from dosewright.tables import Row, marked, table

__all__ = ["DemandCurve", "Fixture", "Sourced", "demand_curve", "demand_curves", "fixtures"]


@dataclass(frozen=True, slots=True)
class Sourced:
    """A published value and its place in the source."""

    value: float
    source: str


@dataclass(frozen=True, slots=True)
class Fixture:
    """One kind of fixture; a value that is not published is None.

    Attributes
    ----------
    key, title : str
        Name in requests, and in words.
    fixture_units : Sourced or None
        Water supply fixture units, hot and cold together. [-]
    flow : Sourced or None
        Flow in use. [m³/s]
    probability : Sourced or None
        Share of the busiest hour in use. [1]
    """

    key: str
    title: str
    fixture_units: Sourced | None
    flow: Sourced | None
    probability: Sourced | None


@dataclass(frozen=True, slots=True)
class DemandCurve:
    """Published flow over fixture units, NaN where it was not read.

    Attributes
    ----------
    fixture_units, flow : ndarray
        Points, by rising fixture units. [-], [m³/s]
    source : str
        Its place in the source.
    """

    fixture_units: npt.NDArray[np.float64]
    flow: npt.NDArray[np.float64]
    source: str


def _sourced(row: Row, column: str, prefix: str) -> Sourced | None:
    if not row[column]:
        return None
    return Sourced(float(row[column]), marked(row[f"{prefix}_source"], row[f"{prefix}_status"]))


@cache
def fixtures() -> Mapping[str, Fixture]:
    """Return every fixture by its key."""
    return MappingProxyType(
        {
            row["fixture"]: Fixture(
                key=row["fixture"],
                title=row["title"],
                fixture_units=_sourced(row, "fixture_units", "units"),
                flow=_sourced(row, "flow", "flow"),
                probability=_sourced(row, "probability", "probability"),
            )
            for row in table("fixtures").rows
        }
    )


@cache
def demand_curves() -> tuple[tuple[str, str], ...]:
    """Return the curves there are, as pairs of curve and system."""
    return tuple(dict.fromkeys((row["curve"], row["system"]) for row in table("demand_curves").rows))


@cache
def demand_curve(curve: str, system: str) -> DemandCurve:
    """Return one curve.

    Raises
    ------
    KeyError
        No such curve, or it has no such system.
    """
    rows = [row for row in table("demand_curves").rows if (row["curve"], row["system"]) == (curve, system)]
    if not rows:
        raise KeyError((curve, system))
    recalled = any(row["status"] == "memory" for row in rows)
    return DemandCurve(
        fixture_units=np.array([float(row["fixture_units"]) for row in rows]),
        flow=np.array([float(row["flow"] or "nan") for row in rows]),
        source=marked(f"{rows[0]['source']}, {rows[0]['section']}", "memory" if recalled else "found"),
    )
