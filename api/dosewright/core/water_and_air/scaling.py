"""Calcium carbonate: does the water deposit scale on a sleeve."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

__all__ = [
    "HIGHEST_TEMPERATURE",
    "LOWEST_TEMPERATURE",
    "langelier_index",
    "ryznar_index",
    "saturation_ph",
]

LOWEST_TEMPERATURE: Final = 273.15
"""Freezing point [K]."""

HIGHEST_TEMPERATURE: Final = 363.15
"""Upper end of the range used here [K]."""

_PER_MG_PER_L: Final = 1000.0  # mg/L in 1 kg/m³


def saturation_ph(
    calcium_hardness: Values, alkalinity: Values, total_dissolved_solids: Values, temperature: Values
) -> Values:
    """Return the pH at which the water would be in equilibrium with calcium carbonate.

    Parameters
    ----------
    calcium_hardness : float or array
        Calcium as CaCO₃. [mg/L]
    alkalinity : float or array
        Total alkalinity as CaCO₃. [mg/L]
    total_dissolved_solids : float or array
        Total dissolved solids. [kg/m³]
    temperature : float or array
        Water temperature. [K]

    Returns
    -------
    float or array
        Saturation pH. [1]

    Raises
    ------
    ValueError
        A concentration is not finite and above zero, or a temperature is outside 273.15 K to 363.15 K.

    Notes
    -----
    pHs = (9.3 + A + B) - (C + D), with A = (log10 TDS - 1)/10, B = 34.55 - 13.12 log10 T, C = log10 Ca - 0.4 and
    D = log10 of the alkalinity, in mg/L and as CaCO₃. A chart's line, good to some tenths: complexes and the share of
    the alkalinity that is not carbonate are left out.

    References
    ----------
    Langelier (1936), Journal AWWA 28, 1500; in the form of the chart's equation printed by corrosion-doctors.org,
    Langelier index calculation.

    Examples
    --------
    >>> round(float(saturation_ph(150.0, 34.0, 0.320, 298.15)), 1)
    8.2
    """
    refuse_unless_positive("calcium hardness", calcium_hardness)
    refuse_unless_positive("alkalinity", alkalinity)
    refuse_unless_positive("total dissolved solids", total_dissolved_solids)
    refuse_unless(
        (temperature >= LOWEST_TEMPERATURE) & (temperature <= HIGHEST_TEMPERATURE),
        "water temperature must be within 273.15 K to 363.15 K",
    )
    solids = 0.1 * (np.log10(total_dissolved_solids * _PER_MG_PER_L) - 1.0)
    # The printed form adds 273 to degrees Celsius.
    warmth = 34.55 - 13.12 * np.log10(temperature - 0.15)
    return 9.3 + solids + warmth - (np.log10(calcium_hardness) - 0.4) - np.log10(alkalinity)


def langelier_index(ph: Values, saturation: Values) -> Values:
    """Langelier's saturation index: above zero the water can deposit scale, below zero it can dissolve it.

    Parameters
    ----------
    ph : float or array
        pH of the water. [1]
    saturation : float or array
        Saturation pH. [1]

    Returns
    -------
    float or array
        Index. [1]

    References
    ----------
    Langelier (1936), Journal AWWA 28, 1500.
    """
    return ph - saturation


def ryznar_index(ph: Values, saturation: Values) -> Values:
    """Ryznar's stability index: the lower, the more scale was seen.

    Parameters
    ----------
    ph : float or array
        pH of the water. [1]
    saturation : float or array
        Saturation pH. [1]

    Returns
    -------
    float or array
        Index. [1]

    References
    ----------
    Ryznar (1944), Journal AWWA 36, 472.
    """
    return 2.0 * saturation - ph
