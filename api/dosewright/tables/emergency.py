"""Published amounts and times for emergency disinfection of a small volume, in SI."""

from functools import cache

import numpy as np
import numpy.typing as npt

from dosewright.tables import table

__all__ = ["GALLON", "emergency_doses", "emergency_rule"]

GALLON = 0.003785411784
"""United States gallon, which the drops are published for [m³]."""

_SIZES = {"mL": 1e-6, "min": 60.0, "%": 0.01, "m": 1.0, "1": 1.0}
_ICE = 273.15


@cache
def emergency_doses() -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return strengths of bleach, rising [share of mass], and the drops for a gallon at each."""
    rows = [row for row in table("emergency_doses").rows if row["use"] == "amount"]
    return (
        np.array([float(row["strength"]) / 100.0 for row in rows]),
        np.array([float(row["drops"]) for row in rows]),
    )


@cache
def emergency_rule(name: str) -> float:
    """Return a figure in SI.

    Raises
    ------
    LookupError
        No such figure.
    """
    row = table("emergency_rules").row(name=name)
    if row is None:
        raise LookupError(f"table emergency_rules has no {name}")
    value = float(row["value"])
    return value + _ICE if row["unit"] == "degC" else value * _SIZES[row["unit"]]
