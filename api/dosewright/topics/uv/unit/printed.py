"""How far a printed figure can be from the number behind it."""

from typing import Any

import numpy as np

from dosewright.quantities import Numbers

__all__ = ["printed_rounding"]

_FLOWS = (6.30901964e-5, 1e-3 / 60.0, 1.0 / 3600.0, 1e-3)  # gal/min, L/min, m³/h, L/s
_DOSES = (10.0,)  # mJ/cm²; a dose in J/m² has one digit more and is rounded no less
_DECIMALS = 4
_EXACT = 1e-6


def printed_rounding(flow: Numbers, dose: Numbers) -> Numbers:
    """Return how far dose times flow can be from the product of the printed figures, as a share.

    Half of the last digit printed, of the flow and of the dose. The unit is taken to be the one, of those printed on
    data sheets, in which the figure has the fewest digits. A figure with more than four decimals is taken as exact.
    """
    return _half_digit(flow, _FLOWS) + _half_digit(dose, _DOSES)


def _half_digit(value: Any, units: tuple[float, ...]) -> Any:
    """Return half of the last digit, over the value."""
    most = np.zeros_like(value, dtype=np.float64)
    for unit in units:
        figure = np.asarray(value / unit)
        half = np.zeros_like(most)
        for decimals in range(_DECIMALS, -1, -1):
            scaled = figure * 10.0**decimals
            exact = np.abs(scaled - np.round(scaled)) <= _EXACT
            half = np.where(exact, 0.5 * 10.0**-decimals / figure, half)
        most = np.maximum(most, half)
    return most[()]
