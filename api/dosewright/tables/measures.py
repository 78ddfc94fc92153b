"""Measures that a person has to hand, and the steps amounts are rounded up to."""

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from dosewright.tables import table

__all__ = ["MeasureSystem", "MeasureUnit", "measure_system"]


@dataclass(frozen=True, slots=True)
class MeasureUnit:
    """One unit of a system of measures.

    Attributes
    ----------
    symbol, title : str
        As in the table of units, and in words.
    least, fraction : float
        Smallest count for which it is used, and the smallest part of it that is counted out. [of the unit]
    """

    symbol: str
    title: str
    least: float
    fraction: float


@dataclass(frozen=True, slots=True)
class MeasureSystem:
    """The measures of one system for volume or for mass.

    Attributes
    ----------
    units : tuple of MeasureUnit
        Largest first.
    step_unit : str
        Unit of the steps, as in the table of units.
    least, step : ndarray
        Amount from which each step is used, and the step. [step unit]
    """

    units: tuple[MeasureUnit, ...]
    step_unit: str
    least: npt.NDArray[np.float64]
    step: npt.NDArray[np.float64]


@cache
def measure_system(system: str, dimension: str) -> MeasureSystem:
    """Return the measures of a system (metric, us_kitchen, trade) for volume or mass."""
    steps = [row for row in table("measure_steps").rows if (row["system"], row["dimension"]) == (system, dimension)]
    units = [row for row in table("measures").rows if (row["system"], row["dimension"]) == (system, dimension)]
    return MeasureSystem(
        units=tuple(
            MeasureUnit(row["unit"], row["title"], float(row["least"]), float(row["fraction"])) for row in units
        ),
        step_unit=steps[0]["unit"],
        least=np.array([float(row["least"]) for row in steps]),
        step=np.array([float(row["step"]) for row in steps]),
    )
