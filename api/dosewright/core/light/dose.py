"""Absorption of water, dose, and what a first-order organism makes of a mixed chamber."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = [
    "MOST_EXPONENT",
    "absorption_coefficient",
    "log_inactivation",
    "mean_dose",
    "mean_dose_needed",
    "reduction_equivalent_dose",
    "residence_time",
    "transmittance",
]

MOST_EXPONENT: Final = 700.0
"""Greatest rate x RED over tanks whose exponential is a number."""

_LN_10: Final = 2.302585092994045684


def absorption_coefficient(transmittance: Values, path_length: Values) -> Values:
    """Absorption coefficient of water from its transmittance over a path.

    Parameters
    ----------
    transmittance : float or array
        Share of 254 nm light left after the path; UVT when the path is 1 cm. [-]
    path_length : float or array
        Path of the measurement. [m]

    Returns
    -------
    float or array
        Absorption coefficient, base e. [1/m]

    Raises
    ------
    ValueError
        The transmittance is not above 0 and at most 1, or the path is not above zero.

    Notes
    -----
    -ln(transmittance)/path_length: ln 10 times the absorbance (base 10) per length.

    Source
    ------
    Definition: the absorption coefficient of the Beer-Lambert law.

    Examples
    --------
    >>> round(float(absorption_coefficient(0.95, 0.01)), 3)
    5.129
    """
    refuse_unless((transmittance > 0.0) & (transmittance <= 1.0), "transmittance must be above 0 and at most 1")
    refuse_unless((path_length > 0.0) & (path_length < np.inf), "path length must be above zero, and finite")
    return (0.0 - np.log(transmittance)) / path_length


def transmittance(absorption: Values, path_length: Values) -> Values:
    """Share of light left after a path.

    Parameters
    ----------
    absorption : float or array
        Absorption coefficient, base e. [1/m]
    path_length : float or array
        Length of the path. [m]

    Returns
    -------
    float or array
        exp(-absorption path_length). [-]

    Source
    ------
    Definition: the Beer-Lambert law.
    """
    return np.exp(-absorption * path_length)


def residence_time(volume: Values, flow: Values) -> Values:
    """Mean time that water spends in a volume.

    Parameters
    ----------
    volume : float or array
        Water volume. [m³]
    flow : float or array
        Flow. [m³/s]

    Returns
    -------
    float or array
        volume/flow. [s]

    Raises
    ------
    ValueError
        The flow is not above zero.

    Source
    ------
    Definition: volume over flow.
    """
    refuse_unless(flow > 0.0, "flow must be above zero")
    return volume / flow


def mean_dose(mean_fluence_rate: Values, residence_time: Values) -> Values:
    """Flow-weighted mean dose of a chamber.

    Parameters
    ----------
    mean_fluence_rate : float or array
        Fluence rate averaged over the water volume. [W/m²]
    residence_time : float or array
        Mean residence time. [s]

    Returns
    -------
    float or array
        Mean dose. [J/m²]

    Notes
    -----
    Exact for steady axial flow of any velocity profile without mixing, and for complete mixing.

    Source
    ------
    Definition: fluence rate x time; that it is exact for unmixed flow was derived here.
    """
    return mean_fluence_rate * residence_time


def reduction_equivalent_dose(mean_dose: Values, inactivation_rate: Values, tanks: Values) -> Values:
    """Reduction equivalent dose (RED) of a first-order organism in equal mixed tanks in series.

    Parameters
    ----------
    mean_dose : float or array
        Mean dose of the chamber. [J/m²]
    inactivation_rate : float or array
        First-order inactivation rate of the organism, base e. [m²/J]
    tanks : float or array
        Number of tanks, any number above zero: 1 is one mixed tank, many approach plug flow. [-]

    Returns
    -------
    float or array
        (tanks/rate) ln(1 + rate mean_dose/tanks), never above the mean dose. [J/m²]

    Raises
    ------
    ValueError
        Rate or tanks are not above zero, or the mean dose is below zero.

    Source
    ------
    Mass balance: of each of equal mixed tanks in series, first order; RED was derived here from it.

    Examples
    --------
    >>> round(float(reduction_equivalent_dose(524.58, 0.012, 4.0)), 2)
    315.12
    """
    _refuse_tanks(inactivation_rate, tanks)
    refuse_unless(mean_dose >= 0.0, "mean dose must be zero or more")
    scale = tanks / inactivation_rate
    return scale * np.log1p(mean_dose / scale)


def mean_dose_needed(reduction_equivalent_dose: Values, inactivation_rate: Values, tanks: Values) -> Values:
    """Mean dose that tanks in series need for a RED: the inverse of `reduction_equivalent_dose`.

    Parameters
    ----------
    reduction_equivalent_dose : float or array
        Required RED. [J/m²]
    inactivation_rate : float or array
        First-order inactivation rate of the organism, base e. [m²/J]
    tanks : float or array
        Number of tanks, any number above zero. [-]

    Returns
    -------
    float or array
        (tanks/rate) (exp(rate RED/tanks) - 1). [J/m²]

    Raises
    ------
    ValueError
        Rate or tanks are not above zero, the RED is below zero, or no finite dose reaches it.

    Source
    ------
    Derived here: `reduction_equivalent_dose` solved for the mean dose.
    """
    _refuse_tanks(inactivation_rate, tanks)
    refuse_unless(reduction_equivalent_dose >= 0.0, "reduction equivalent dose must be zero or more")
    scale = tanks / inactivation_rate
    exponent = reduction_equivalent_dose / scale
    refuse_unless(
        exponent < MOST_EXPONENT, "these tanks would need an infinite mean dose for this reduction equivalent dose"
    )
    return scale * np.expm1(exponent)


def log_inactivation(dose: Values, inactivation_rate: Values) -> Values:
    """Log inactivation (base 10) of a first-order organism by a dose.

    Parameters
    ----------
    dose : float or array
        Dose that all the water receives, or RED of this organism. [J/m²]
    inactivation_rate : float or array
        First-order inactivation rate, base e. [m²/J]

    Returns
    -------
    float or array
        rate dose/ln 10. [-]

    Source
    ------
    Definition: first-order inactivation, in base 10.
    """
    return inactivation_rate * dose / _LN_10


def _refuse_tanks(inactivation_rate: Values, tanks: Values) -> None:
    refuse_unless((inactivation_rate > 0.0) & (inactivation_rate < np.inf), "inactivation rate must be above zero")
    refuse_unless((tanks > 0.0) & (tanks < np.inf), "number of tanks must be above zero, and finite")
