"""Pressure lost along pipes and at fittings, devices and rises."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.constants import STANDARD_GRAVITY

__all__ = [
    "device_pressure_drop",
    "elevation_pressure",
    "equivalent_length_coefficient",
    "friction_coefficient",
    "hazen_williams_head_loss",
    "loss_pressure_drop",
    "two_constant_coefficient",
]

_INCH: Final = 0.0254


def friction_coefficient(friction_factor: Values, length: Values, bore: Values) -> Values:
    """Loss coefficient of straight pipe: friction factor x length / bore.

    Parameters
    ----------
    friction_factor : float or array
        Darcy friction factor. [-]
    length : float or array
        Length of pipe, or the equivalent length of a fitting. [m]
    bore : float or array
        Inside diameter. [m]

    Returns
    -------
    float or array
        Velocity heads lost. [-]

    Raises
    ------
    ValueError
        A length is negative or a bore not above zero.

    Source
    ------
    Definition: the Darcy-Weisbach equation.

    Examples
    --------
    >>> friction_coefficient(0.02, 32.0, 0.02)
    32.0
    """
    refuse_unless(length >= 0.0, "length must not be negative")
    refuse_unless(bore > 0.0, "bore must be above zero")
    return friction_factor * (length / bore)


def equivalent_length_coefficient(friction_factor: Values, length_ratio: Values) -> Values:
    """Loss coefficient of a fitting with an equivalent length in bores of straight pipe.

    Parameters
    ----------
    friction_factor : float or array
        Darcy friction factor of the pipe the fitting sits in. [-]
    length_ratio : float or array
        Equivalent length over bore. [-]

    Returns
    -------
    float or array
        Velocity heads lost. [-]

    Raises
    ------
    ValueError
        A length ratio is negative.

    References
    ----------
    Crane Co., Flow of Fluids through Valves, Fittings, and Pipe, Technical Paper 410, chapter 2.

    Examples
    --------
    >>> equivalent_length_coefficient(0.02, 240.0)
    4.8
    """
    refuse_unless(length_ratio >= 0.0, "length ratio must not be negative")
    return friction_factor * length_ratio


def two_constant_coefficient(reynolds_number: Values, bore: Values, k1: Values, k_infinity: Values) -> Values:
    """Loss coefficient of a fitting from Hooper's two constants.

    Parameters
    ----------
    reynolds_number : float or array
        Reynolds number in the pipe. [-]
    bore : float or array
        Inside diameter. [m]
    k1 : float or array
        Coefficient at a Reynolds number of 1. [-]
    k_infinity : float or array
        Coefficient of a large fitting at a large Reynolds number. [-]

    Returns
    -------
    float or array
        Velocity heads lost. [-]

    Raises
    ------
    ValueError
        A Reynolds number or bore is not above zero.

    Notes
    -----
    K = k1/Re + k_infinity (1 + 1 in/bore).

    References
    ----------
    W. B. Hooper (1981), The two-K method predicts head losses in pipe fittings, Chemical Engineering 88(17), 96-100.

    Examples
    --------
    >>> round(two_constant_coefficient(1e4, 0.0508, 1500.0, 4.0), 2)
    6.15
    """
    refuse_unless(reynolds_number > 0.0, "Reynolds number must be above zero")
    refuse_unless(bore > 0.0, "bore must be above zero")
    return k1 / reynolds_number + k_infinity * (1.0 + _INCH / bore)


def loss_pressure_drop(loss_coefficient: Values, density: Values, velocity: Values) -> Values:
    """Pressure drop of a loss coefficient: K x density x velocity² / 2.

    Parameters
    ----------
    loss_coefficient : float or array
        Velocity heads lost. [-]
    density : float or array
        Density of the water. [kg/m³]
    velocity : float or array
        Mean velocity in the bore that the coefficient refers to. [m/s]

    Returns
    -------
    float or array
        Pressure drop. [Pa]

    Source
    ------
    Definition: the loss coefficient.

    Examples
    --------
    >>> loss_pressure_drop(10.0, 1000.0, 3.0)
    45000.0
    """
    return loss_coefficient * (0.5 * density * velocity * velocity)


def hazen_williams_head_loss(flow: Values, bore: Values, length: Values, coefficient: Values) -> Values:
    """Head lost along straight pipe by the Hazen-Williams formula.

    Parameters
    ----------
    flow : float or array
        Volume flow. [m³/s]
    bore : float or array
        Inside diameter. [m]
    length : float or array
        Length of pipe. [m]
    coefficient : float or array
        Hazen-Williams coefficient C. [-]

    Returns
    -------
    float or array
        Head lost. [m of water]

    Raises
    ------
    ValueError
        A flow or length is negative, or a bore or coefficient not above zero.

    Notes
    -----
    10.667 L Q^1.852 / (C^1.852 D^4.871), in SI. An empirical formula for turbulent water near room temperature,
    commonly given as 5 °C to 25 °C, in pipes of about 50 mm and more (common practice, no source). It has no
    viscosity, and measured C changes with Reynolds number and bore (Liou 1998).

    References
    ----------
    L. A. Rossman et al. (2020), EPANET 2.2 User Manual, EPA/600/R-20/133, table 3.1 (4.727 in feet and seconds).
    C. P. Liou (1998), Limitations and proper use of the Hazen-Williams equation, Journal of Hydraulic Engineering
    124(9), 951-954, doi:10.1061/(ASCE)0733-9429(1998)124:9(951).

    Examples
    --------
    >>> round(float(hazen_williams_head_loss(0.0005, 0.02604, 30.0, 145.0)), 4)
    1.2771
    """
    refuse_unless(flow >= 0.0, "flow must not be negative")
    refuse_unless(length >= 0.0, "length must not be negative")
    refuse_unless(bore > 0.0, "bore must be above zero")
    refuse_unless(coefficient > 0.0, "Hazen-Williams coefficient must be above zero")
    return np.power(flow / coefficient, 1.852) * (10.667 * length / np.power(bore, 4.871))


def device_pressure_drop(
    flow: Values, rated_flow: Values, rated_pressure_drop: Values, relative_density: Values = 1.0
) -> Values:
    """Pressure drop of a device from one rated point: it grows with the square of the flow.

    Parameters
    ----------
    flow : float or array
        Volume flow. [m³/s]
    rated_flow : float or array
        Flow of the rated point. [m³/s]
    rated_pressure_drop : float or array
        Pressure drop at the rated flow. [Pa]
    relative_density : float or array
        Density of the water over that of the rating. [-]

    Returns
    -------
    float or array
        Pressure drop. [Pa]

    Raises
    ------
    ValueError
        A flow or rated drop is negative, or a rated flow not above zero.

    Notes
    -----
    Valid for turbulent flow through an open device. A valve's flow coefficient is also a point: Kv is the flow in m³/h
    at 1 bar, Cv the flow in US gal/min at 1 psi, of water of 1000 kg/m³. Beds and cartridges, where the flow is partly
    laminar, lose more than the square predicts below the rated flow, and less above it.

    References
    ----------
    IEC 60534-2-1:2011, Industrial-process control valves, flow capacity: sizing equations for incompressible fluids.

    Examples
    --------
    >>> device_pressure_drop(0.0005, 0.001, 20000.0)
    5000.0
    """
    refuse_unless(flow >= 0.0, "flow must not be negative")
    refuse_unless(rated_flow > 0.0, "rated flow must be above zero")
    refuse_unless(rated_pressure_drop >= 0.0, "rated pressure drop must not be negative")
    ratio = flow / rated_flow
    return relative_density * rated_pressure_drop * (ratio * ratio)


def elevation_pressure(elevation_change: Values, density: Values) -> Values:
    """Pressure given up to a rise: density x gravity x height.

    Parameters
    ----------
    elevation_change : float or array
        Height of the outlet above the inlet; negative for a fall. [m]
    density : float or array
        Density of the water. [kg/m³]

    Returns
    -------
    float or array
        Pressure drop; negative where the run falls. [Pa]

    Source
    ------
    Definition: hydrostatic pressure.

    Examples
    --------
    >>> round(elevation_pressure(10.0, 1000.0), 1)
    98066.5
    """
    return density * (STANDARD_GRAVITY * elevation_change)
