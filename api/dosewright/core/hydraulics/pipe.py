"""Flow in a full round pipe: area, velocity, Reynolds number, and the bore that a velocity needs."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["bore_area", "bore_for_velocity", "reynolds_number", "velocity"]

_QUARTER_PI: Final = 0.7853981633974483


def bore_area(bore: Values) -> Values:
    """Area of a round bore.

    Parameters
    ----------
    bore : float or array
        Inside diameter. [m]

    Returns
    -------
    float or array
        Area. [m²]

    Raises
    ------
    ValueError
        A bore is not above zero.

    Source
    ------
    Definition: area of a circle.

    Examples
    --------
    >>> round(bore_area(0.026035) * 1e6, 2)
    532.36
    """
    refuse_unless(bore > 0.0, "bore must be above zero")
    return _QUARTER_PI * bore * bore


def velocity(flow: Values, bore: Values) -> Values:
    """Mean velocity in a full round pipe.

    Parameters
    ----------
    flow : float or array
        Volume flow. [m³/s]
    bore : float or array
        Inside diameter. [m]

    Returns
    -------
    float or array
        Flow over area. [m/s]

    Raises
    ------
    ValueError
        A bore is not above zero.

    Source
    ------
    Definition: flow over cross-section.

    Examples
    --------
    >>> round(velocity(0.0005, 0.02604), 4)
    0.9389
    """
    return flow / bore_area(bore)


def reynolds_number(velocity: Values, bore: Values, kinematic_viscosity: Values) -> Values:
    """Reynolds number on the bore.

    Parameters
    ----------
    velocity : float or array
        Mean velocity. [m/s]
    bore : float or array
        Inside diameter. [m]
    kinematic_viscosity : float or array
        Kinematic viscosity of the water. [m²/s]

    Returns
    -------
    float or array
        velocity x bore / kinematic_viscosity. [-]

    Raises
    ------
    ValueError
        A viscosity is not above zero.

    Source
    ------
    Definition: velocity x bore / kinematic viscosity.

    Examples
    --------
    >>> round(reynolds_number(0.938855, 0.02604, 1.0219e-6))
    23924
    """
    refuse_unless(kinematic_viscosity > 0.0, "kinematic viscosity must be above zero")
    return velocity * (bore / kinematic_viscosity)


def bore_for_velocity(flow: Values, velocity_limit: Values) -> Values:
    """Smallest bore that keeps a flow at or below a velocity.

    Parameters
    ----------
    flow : float or array
        Volume flow. [m³/s]
    velocity_limit : float or array
        Velocity not to be passed. [m/s]

    Returns
    -------
    float or array
        Inside diameter. [m]

    Raises
    ------
    ValueError
        A velocity limit is not above zero, or a flow is negative.

    Source
    ------
    Definition: flow over cross-section, solved for the bore.

    Examples
    --------
    >>> round(float(bore_for_velocity(0.0005, 0.938855)), 5)
    0.02604
    """
    refuse_unless(velocity_limit > 0.0, "velocity limit must be above zero")
    refuse_unless(flow >= 0.0, "flow must not be negative")
    return np.sqrt(flow / (_QUARTER_PI * velocity_limit))
