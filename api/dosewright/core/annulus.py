"""The annulus between sleeve and bore: its volume and how the water runs through it."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Values

__all__ = ["mean_velocity", "reynolds_number", "volume"]


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
    """
    return 2.0 * flow / (np.pi * (bore_radius + sleeve_radius) * kinematic_viscosity)
