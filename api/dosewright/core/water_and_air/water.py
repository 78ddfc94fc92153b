"""Density and viscosity of liquid water near atmospheric pressure."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["HIGHEST_TEMPERATURE", "LOWEST_TEMPERATURE", "density", "dynamic_viscosity", "kinematic_viscosity"]

LOWEST_TEMPERATURE: Final = 273.15
"""Freezing point at atmospheric pressure [K]; the correlations reach below it, into supercooled water."""

HIGHEST_TEMPERATURE: Final = 373.15
"""Upper end of the range used here [K]; the correlations reach 383.15 K."""

# IAPWS SR6-08(2011) as published: powers of 10 K/(593 K - T) and of 10 K/(T - 232 K), and of 300 K/T.
_VOLUME_SCALE: Final = 4.6151805e-2  # R * 10 K / 0.1 MPa [m³/kg]
_A5, _A6, _A7, _A8, _A9, _A10 = 1.93763157e-2, 6.74458446e3, -2.22521604e5, 1.00231247e8, -1.63552118e9, 8.32299658e9
_B5, _B6, _B7, _B8, _B9, _B10 = (
    5.78545292e-3,
    -1.53195665e-2,
    3.11337859e-2,
    -4.23546241e-2,
    3.38713507e-2,
    -1.19946761e-2,
)
_V1, _V2, _V3, _V4 = 280.68e-6, 511.45e-6, 61.131e-6, 0.45903e-6


def _refuse_outside(temperature: Values) -> None:
    refuse_unless(
        (temperature >= LOWEST_TEMPERATURE) & (temperature <= HIGHEST_TEMPERATURE),
        "water temperature must be within 273.15 K to 373.15 K",
    )


def _specific_volume(temperature: Values) -> Values:
    a = 10.0 / (593.0 - temperature)
    b = 10.0 / (temperature - 232.0)
    a2 = a * a
    warm = a2 * a2 * (_A6 + a * (_A7 + a2 * (_A8 + a * (_A9 + a * _A10))))
    cold = b * (_B5 + b * (_B6 + b * (_B7 + b * (_B8 + b * (_B9 + b * _B10)))))
    return _VOLUME_SCALE * (_A5 + warm + cold)


def _viscosity(temperature: Values) -> Values:
    # The exponents 1.9, 7.7, 19.6 and 40 are 2 - 0.1, 8 - 0.3, 20 - 0.4 and 40: one root serves all four terms.
    r = 300.0 / temperature
    r2 = r * r
    r4 = r2 * r2
    r8 = r4 * r4
    r20 = r8 * r8 * r4
    root = np.exp(-0.1 * np.log(r))
    if isinstance(root, float):
        root = float(root)  # a numpy scalar makes every later step with it three times as dear
    root2 = root * root
    return root * (_V1 * r2 + root2 * (_V2 * r8 + root * (_V3 * r20))) + _V4 * (r20 * r20)


def density(temperature: Values) -> Values:
    """Density of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature : float or array
        Water temperature. [K]

    Returns
    -------
    float or array
        Density. [kg/m³]

    Raises
    ------
    ValueError
        A temperature is outside 273.15 K to 373.15 K, or is not a number.

    Notes
    -----
    Reciprocal of the specific volume of the release; agrees with IAPWS-95 at 0.1 MPa within 1e-7 relative. House
    pressures of up to 0.7 MPa raise the density by less than 0.03 %.

    References
    ----------
    International Association for the Properties of Water and Steam (2011), Revised Supplementary Release on Properties
    of Liquid Water at 0.1 MPa, SR6-08(2011).

    Examples
    --------
    >>> round(float(density(293.15)), 2)
    998.21
    """
    _refuse_outside(temperature)
    return 1.0 / _specific_volume(temperature)


def dynamic_viscosity(temperature: Values) -> Values:
    """Dynamic viscosity of liquid water at 0.1 MPa.

    Parameters
    ----------
    temperature : float or array
        Water temperature. [K]

    Returns
    -------
    float or array
        Dynamic viscosity. [Pa·s]

    Raises
    ------
    ValueError
        A temperature is outside 273.15 K to 373.15 K, or is not a number.

    Notes
    -----
    Sum of four powers of T/300 K, equation (7) of the release; uncertainty 1 % between 253.15 K and 383.15 K.

    References
    ----------
    International Association for the Properties of Water and Steam (2011), Revised Supplementary Release on Properties
    of Liquid Water at 0.1 MPa, SR6-08(2011).

    Examples
    --------
    >>> round(float(dynamic_viscosity(293.15)), 6)
    0.001002
    """
    _refuse_outside(temperature)
    return _viscosity(temperature)


def kinematic_viscosity(temperature: Values) -> Values:
    """Kinematic viscosity of liquid water at 0.1 MPa: dynamic viscosity over density.

    Parameters
    ----------
    temperature : float or array
        Water temperature. [K]

    Returns
    -------
    float or array
        Kinematic viscosity. [m²/s]

    Raises
    ------
    ValueError
        A temperature is outside 273.15 K to 373.15 K, or is not a number.

    References
    ----------
    International Association for the Properties of Water and Steam (2011), Revised Supplementary Release on Properties
    of Liquid Water at 0.1 MPa, SR6-08(2011).

    Examples
    --------
    >>> round(float(kinematic_viscosity(293.15)) * 1e6, 4)
    1.0034
    """
    _refuse_outside(temperature)
    return _viscosity(temperature) * _specific_volume(temperature)
