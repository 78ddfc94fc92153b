"""Water vapour in air: saturation pressure and dew point."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["HIGHEST_TEMPERATURE", "LOWEST_TEMPERATURE", "TRIPLE_POINT", "dew_point", "saturation_pressure"]

LOWEST_TEMPERATURE: Final = 173.15
"""Lower end of the formulas [K]."""

HIGHEST_TEMPERATURE: Final = 473.15
"""Upper end of the formulas [K]."""

TRIPLE_POINT: Final = 273.16
"""Triple point of water [K]."""

# Hyland and Wexler (1983): factors of 1/T, 1, T, T², T³, T⁴ and ln T, pressure in Pa.
_Coefficients = tuple[float, float, float, float, float, float, float]
_ICE: Final[_Coefficients] = (
    -5.6745359e3,
    6.3925247,
    -9.6778430e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.4840240e-13,
    4.1635019,
)
_WATER: Final[_Coefficients] = (
    -5.8002206e3,
    1.3914993,
    -4.8640239e-2,
    4.1764768e-5,
    -1.4452093e-8,
    0.0,
    6.5459673,
)

# Newton's steps in 1/T, in which the logarithm of the pressure is nearly straight: from any start the fifth is exact.
_STEPS: Final = 8
_LOWEST_SHARE: Final = 1e-4


def _logarithm(temperature: Values, c: _Coefficients) -> Values:
    series = c[1] + temperature * (c[2] + temperature * (c[3] + temperature * (c[4] + temperature * c[5])))
    return c[0] / temperature + series + c[6] * np.log(temperature)


def _slope(temperature: Values, c: _Coefficients) -> Values:
    """Return the derivative of the logarithm with respect to 1/T."""
    series = c[2] + temperature * (2.0 * c[3] + temperature * (3.0 * c[4] + temperature * (4.0 * c[5])))
    return c[0] - temperature * (temperature * series + c[6])


def _solved(logarithm: Values, start: Values, c: _Coefficients) -> Values:
    inverse = 1.0 / start
    for _ in range(_STEPS):
        inverse = inverse + (logarithm - _logarithm(1.0 / inverse, c)) / _slope(1.0 / inverse, c)
    return 1.0 / inverse


def _chosen(over_ice: Any, ice: Values, water: Values) -> Values:
    return np.where(over_ice, ice, water)[()]


def saturation_pressure(temperature: Values) -> Values:
    """Pressure of water vapour in equilibrium with ice below, and with water above, the triple point.

    Parameters
    ----------
    temperature : float or array
        Temperature. [K]

    Returns
    -------
    float or array
        Saturation pressure. [Pa]

    Raises
    ------
    ValueError
        A temperature is outside 173.15 K to 473.15 K, or is not a number.

    Notes
    -----
    Equations (5) and (6) of the chapter, of pure water; the presence of air raises it by some 0.5 %, in vapour and
    dew alike.

    References
    ----------
    ASHRAE Handbook, Fundamentals (2017), chapter 1, after Hyland and Wexler (1983), ASHRAE Transactions 89(2A), 500.

    Examples
    --------
    >>> round(float(saturation_pressure(293.15)), 1)
    2338.8
    """
    refuse_unless(
        (temperature >= LOWEST_TEMPERATURE) & (temperature <= HIGHEST_TEMPERATURE),
        "air temperature must be within 173.15 K to 473.15 K",
    )
    over_ice = temperature < TRIPLE_POINT
    return np.exp(_chosen(over_ice, _logarithm(temperature, _ICE), _logarithm(temperature, _WATER)))


def dew_point(air_temperature: Values, relative_humidity: Values) -> Values:
    """Temperature at which the air's vapour starts to settle; below the triple point, as frost.

    Parameters
    ----------
    air_temperature : float or array
        Temperature of the air. [K]
    relative_humidity : float or array
        Share of the saturation pressure, at most 1. [1]

    Returns
    -------
    float or array
        Dew point, or frost point. [K]

    Raises
    ------
    ValueError
        A value is not a number, the relative humidity is outside 0.0001 to 1, or air or dew point leave the range of
        the formulas.

    Notes
    -----
    The temperature at which the saturation pressure equals the vapour's, solved by Newton's method. Does not depend on
    the air's pressure at a given relative humidity.

    References
    ----------
    ASHRAE Handbook, Fundamentals (2017), chapter 1: saturation pressure.

    Examples
    --------
    >>> round(float(dew_point(303.15, 0.55)) - 273.15, 1)
    20.0
    """
    refuse_unless(
        (relative_humidity >= _LOWEST_SHARE) & (relative_humidity <= 1.0),
        "relative humidity must be within 0.0001 to 1",
    )
    logarithm = np.log(saturation_pressure(air_temperature)) + np.log(relative_humidity)
    over_ice = logarithm < _logarithm(TRIPLE_POINT, _WATER)
    # Capped, so that the hair's breadth between both curves at the triple point cannot turn the order round.
    ice = np.minimum(_solved(logarithm, np.minimum(air_temperature, TRIPLE_POINT), _ICE), TRIPLE_POINT)
    found = _chosen(over_ice, ice, _solved(logarithm, np.maximum(air_temperature, TRIPLE_POINT), _WATER))
    found = np.minimum(found, air_temperature)
    refuse_unless(found >= LOWEST_TEMPERATURE, "the dew point is below 173.15 K")
    return found
