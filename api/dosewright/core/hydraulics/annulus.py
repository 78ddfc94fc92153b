"""The annulus between sleeve and bore: its volume and how the water runs through it."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["THINNEST_GAP", "laminar_profile", "mean_velocity", "reynolds_number", "volume"]

THINNEST_GAP: Final = 1e-3
"""Gap over bore radius below which the laminar profile loses its digits, and is rejected. [-]"""


def volume(bore_radius: Values, sleeve_radius: Values, length: Values) -> Values:
    """Volume between sleeve and bore.

    Parameters
    ----------
    bore_radius, sleeve_radius : float or array
        Radius of the chamber bore, outer radius of the sleeve. [m]
    length : float or array
        Wetted length. [m]

    Returns
    -------
    float or array
        Volume. [m³]

    Source
    ------
    Definition: geometry of two concentric cylinders.

    Examples
    --------
    >>> round(volume(0.036, 0.012, 0.4) * 1e3, 3)
    1.448
    """
    return np.pi * ((bore_radius - sleeve_radius) * (bore_radius + sleeve_radius)) * length


def mean_velocity(flow: Values, bore_radius: Values, sleeve_radius: Values) -> Values:
    """Flow over cross-section.

    Parameters
    ----------
    flow : float or array
        Flow. [m³/s]
    bore_radius, sleeve_radius : float or array
        Radius of the chamber bore, outer radius of the sleeve. [m]

    Returns
    -------
    float or array
        Mean axial velocity. [m/s]

    Source
    ------
    Definition: flow over cross-section.
    """
    return flow / (np.pi * ((bore_radius - sleeve_radius) * (bore_radius + sleeve_radius)))


def reynolds_number(flow: Values, bore_radius: Values, sleeve_radius: Values, kinematic_viscosity: Values) -> Values:
    """Reynolds number of the annulus, on its hydraulic diameter 2 (bore_radius - sleeve_radius).

    Parameters
    ----------
    flow : float or array
        Flow. [m³/s]
    bore_radius, sleeve_radius : float or array
        Radius of the chamber bore, outer radius of the sleeve. [m]
    kinematic_viscosity : float or array
        Of the water. [m²/s]

    Returns
    -------
    float or array
        Reynolds number, 2 flow/(pi (bore_radius + sleeve_radius) kinematic_viscosity). [-]

    Source
    ------
    Definition: velocity x hydraulic diameter / kinematic viscosity.
    """
    return 2.0 * flow / (np.pi * (bore_radius + sleeve_radius) * kinematic_viscosity)


def laminar_profile(radius: Values, bore_radius: Values, sleeve_radius: Values) -> Values:
    """Axial velocity of fully developed laminar flow, over its mean.

    Parameters
    ----------
    radius : float or array
        Distance from the axis, from sleeve to bore. [m]
    bore_radius, sleeve_radius : float or array
        Radius of the chamber bore, outer radius of the sleeve. [m]

    Returns
    -------
    float or array
        Velocity over mean velocity. [-]

    Raises
    ------
    ValueError
        The gap is below a thousandth of the bore radius, or the sleeve no narrower than the bore.

    Notes
    -----
    2 (1 - (r/R)² - m ln(R/r))/(1 + k² - m) with k = sleeve/bore and m = (1 - k²)/ln(1/k): zero at both walls, 1 on
    average over the section, largest at R sqrt(m/2).

    References
    ----------
    Bird, R. B., Stewart, W. E., Lightfoot, E. N. (2002), Transport Phenomena, 2nd ed., section 2.4, flow through an
    annulus (from memory); the normalisation was derived here.
    """
    ratio = sleeve_radius / bore_radius
    refuse_unless((ratio > 0.0) & (ratio <= 1.0 - THINNEST_GAP), "gap must be at least a thousandth of the bore radius")
    slope = (1.0 - ratio) * (1.0 + ratio) / -np.log(ratio)
    place = radius / bore_radius
    return 2.0 * (1.0 - place * place + slope * np.log(place)) / (1.0 + ratio * ratio - slope)
