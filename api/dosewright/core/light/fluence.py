"""Fluence rate of a finite line lamp on the axis of an annular chamber: at a point, along a line, over the chamber.

Two models share the integrals and differ only in their rays. Without a sleeve the rays are straight (the plain line
source: the power is that which enters the water). With a sleeve they are refracted, weakened and absorbed (the
refracted line: the power is that which the lamp emits). Neither includes light reflected by the chamber.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.light.lamp_integrals import (
    along_line,
    at_point,
    over_cases,
    over_chamber,
    over_chamber_and_beside_arc,
)
from dosewright.core.light.optics import SleeveOptics

__all__ = [
    "ChamberFluenceRates",
    "absorbed_share",
    "chamber_average",
    "chamber_fluence_rates",
    "chamber_shares",
    "fluence_rate",
    "line_average",
]


class ChamberFluenceRates(NamedTuple):
    """Fluence rates of one chamber.

    Attributes
    ----------
    average : float or array
        Averaged over the water. [W/m²]
    at_sleeve, at_wall : float or array
        At the sleeve and at the bore, at mid-arc. [W/m²]
    """

    average: Values
    at_sleeve: Values
    at_wall: Values


def chamber_average(
    power: Values,
    absorption: Values,
    arc_length: Values,
    chamber_length: Values,
    sleeve_radius: Values,
    bore_radius: Values,
    sleeve: SleeveOptics | None = None,
) -> Values:
    """Fluence rate averaged over the water of the chamber.

    Parameters
    ----------
    power : float or array
        UV-C output: with a sleeve, emitted by the lamp; without, entering the water. [W]
    absorption : float or array
        Absorption coefficient of the water at 254 nm, base e. [1/m]
    arc_length : float or array
        Arc length of the lamp, centred in the chamber. [m]
    chamber_length : float or array
        Wetted length of the chamber, at least the arc length. [m]
    sleeve_radius, bore_radius : float or array
        Outer radius of the sleeve, radius of the chamber bore. [m]
    sleeve : SleeveOptics, optional
        Sleeve of the refracted model; absent for the plain line source.

    Returns
    -------
    float or array
        Chamber average of the fluence rate. [W/m²]

    Raises
    ------
    ValueError
        A value is not a number or not possible, or the chamber is shorter than the arc.

    Notes
    -----
    Absorbed power is the integral of absorption times fluence rate over the water, and a ray loses 1 - exp(-a s) on a
    water path s. So the threefold integral over chamber and lamp becomes one over the angle at the lamp, whose sum over
    the lamp points is in closed form. A lamp from u0 to u1 off the end wall ahead is one from 0 to u1 less one from 0
    to u0, each smooth on two pieces: rays that cross the whole water, and rays that the end wall cuts short.
    Gauss-Legendre, even in x with the tangent at the lamp as sinh x for straight rays, in the tangent of half the angle
    for refracted ones, is accurate to 1e-6 for arcs of 5 cm to 3 m, chambers up to ten times as long, sleeve to bore
    0.1 to 0.9 and water from 1 % per cm to perfectly clear. More nodes extend this to bores of 200 times the sleeve.

    References
    ----------
    Blatchley, E. R. (1997), Numerical modelling of UV intensity: application to collimated-beam reactors and
    continuous-flow systems, Water Research 31(9), for the line source (from memory). The reduction to one integral and
    the refracted form were derived for Dosewright and are checked against the threefold integral.

    Examples
    --------
    >>> average = chamber_average(10.0, 10.536, 0.40, 0.40, 0.012, 0.036)
    >>> round(average, 2)
    181.18
    """
    _refuse_chamber(power, absorption, arc_length, chamber_length, sleeve_radius, bore_radius, sleeve)
    chamber = (absorption, arc_length, chamber_length, sleeve_radius, bore_radius)
    return power * over_cases(over_chamber, sleeve_radius, sleeve, chamber, bore_radius)[0]


def chamber_fluence_rates(
    power: Values,
    absorption: Values,
    arc_length: Values,
    chamber_length: Values,
    sleeve_radius: Values,
    bore_radius: Values,
    sleeve: SleeveOptics | None = None,
) -> ChamberFluenceRates:
    """Chamber average and, from the same rays, the fluence rates at the sleeve and at the wall.

    Parameters
    ----------
    power, absorption, arc_length, chamber_length, sleeve_radius, bore_radius : float or array
        As in `chamber_average`. [W], [1/m], [m], [m], [m], [m]
    sleeve : SleeveOptics, optional
        Sleeve of the refracted model; absent for the plain line source.

    Returns
    -------
    ChamberFluenceRates
        The three fluence rates. [W/m²]

    Raises
    ------
    ValueError
        A value is not a number or not possible, or the chamber is shorter than the arc.

    Notes
    -----
    The value at the wall is accurate to 1e-6 up to an absorption times gap of 30 (below 1e-13 of the light).

    References
    ----------
    As for `chamber_average`.
    """
    _refuse_chamber(power, absorption, arc_length, chamber_length, sleeve_radius, bore_radius, sleeve)
    chamber = (absorption, arc_length, chamber_length, sleeve_radius, bore_radius)
    rates = over_cases(over_chamber_and_beside_arc, sleeve_radius, sleeve, chamber, bore_radius)
    average, at_sleeve, at_wall = rates[:3]
    return ChamberFluenceRates(power * average, power * at_sleeve, power * at_wall)


def chamber_shares(
    absorption: Values,
    arc_length: Values,
    chamber_length: Values,
    sleeve_radius: Values,
    bore_radius: Values,
    sleeve: SleeveOptics | None = None,
) -> tuple[Values, ...]:
    """Fluence rates of unit power, and the shares absorbed by water, sleeve, bore and ends.

    Parameters
    ----------
    absorption, arc_length, chamber_length, sleeve_radius, bore_radius : float or array
        As in `chamber_average`. [1/m], [m], [m], [m], [m]
    sleeve : SleeveOptics, optional
        Sleeve of the refracted model; absent for the plain line source.

    Returns
    -------
    tuple of float or array
        Chamber average, at the sleeve, at the wall [1/m²]; shares of water, sleeve, bore, ends. [-]

    Raises
    ------
    ValueError
        A value is not a number or not possible, or the chamber is shorter than the arc.

    References
    ----------
    As for `chamber_average`.
    """
    _refuse_chamber(1.0, absorption, arc_length, chamber_length, sleeve_radius, bore_radius, sleeve)
    chamber = (absorption, arc_length, chamber_length, sleeve_radius, bore_radius)
    return over_cases(over_chamber_and_beside_arc, sleeve_radius, sleeve, chamber, bore_radius)


def line_average(
    power: Values,
    absorption: Values,
    arc_length: Values,
    chamber_length: Values,
    sleeve_radius: Values,
    radius: Values,
    sleeve: SleeveOptics | None = None,
) -> Values:
    """Fluence rate averaged along the chamber at one distance from its axis.

    Parameters
    ----------
    power, absorption, arc_length, chamber_length, sleeve_radius : float or array
        As in `chamber_average`. [W], [1/m], [m], [m], [m]
    radius : float or array
        Distance from the axis, at least the sleeve's outer radius. [m]
    sleeve : SleeveOptics, optional
        Sleeve of the refracted model; absent for the plain line source.

    Returns
    -------
    float or array
        Average of the fluence rate from end wall to end wall. [W/m²]

    Raises
    ------
    ValueError
        A value is not a number or not possible, or the chamber is shorter than the arc.

    Notes
    -----
    Times the residence time it is the dose of a straight stream at that radius.

    References
    ----------
    Blatchley, E. R. (1997), Numerical modelling of UV intensity: application to collimated-beam reactors and
    continuous-flow systems, Water Research 31(9), for the line source (from memory). The reduction to one integral
    was derived here.
    """
    _refuse_nonsense(power, absorption, arc_length, sleeve_radius, sleeve)
    _refuse_inside_sleeve(radius, sleeve_radius)
    _refuse_short_chamber(chamber_length, arc_length)
    line = (absorption, arc_length, chamber_length, sleeve_radius, radius)
    return power * over_cases(along_line, sleeve_radius, sleeve, line)[0]


def fluence_rate(
    power: Values,
    absorption: Values,
    arc_length: Values,
    sleeve_radius: Values,
    radius: Values,
    position: Values = 0.0,
    sleeve: SleeveOptics | None = None,
) -> Values:
    """Fluence rate at one point of the water.

    Parameters
    ----------
    power, absorption, arc_length, sleeve_radius : float or array
        As in `chamber_average`. [W], [1/m], [m], [m]
    radius : float or array
        Distance from the axis, at least the sleeve's outer radius. [m]
    position : float or array
        Distance along the axis from the middle of the arc. [m]
    sleeve : SleeveOptics, optional
        Sleeve of the refracted model; absent for the plain line source.

    Returns
    -------
    float or array
        Fluence rate. [W/m²]

    Raises
    ------
    ValueError
        A value is not a number or not possible.

    Notes
    -----
    Light of a point lamp element on a small sphere, summed over the arc: with straight rays the integral of
    power/(4 pi arc) exp(-a s)/distance², s being the share (radius - sleeve)/radius of the distance. It includes light
    from all sides; a flat sensor on the wall reads less.

    References
    ----------
    Blatchley, E. R. (1997), Numerical modelling of UV intensity: application to collimated-beam reactors and
    continuous-flow systems, Water Research 31(9), for the line source (from memory). The substitution was derived
    here.
    """
    _refuse_nonsense(power, absorption, arc_length, sleeve_radius, sleeve)
    _refuse_inside_sleeve(radius, sleeve_radius)
    refuse_unless(np.isfinite(position), "position must be a finite number")
    point = (absorption, arc_length, position, sleeve_radius, radius)
    return power * over_cases(at_point, sleeve_radius, sleeve, point)[0]


def absorbed_share(mean_fluence_rate: Values, absorption: Values, volume: Values, power: Values) -> Values:
    """Share of the power that the water in the chamber absorbs; the rest goes to the walls or the sleeve.

    Parameters
    ----------
    mean_fluence_rate : float or array
        Chamber average of the fluence rate. [W/m²]
    absorption : float or array
        Absorption coefficient of the water, base e. [1/m]
    volume : float or array
        Water volume. [m³]
    power : float or array
        The power used for the fluence rate. [W]

    Returns
    -------
    float or array
        absorption mean_fluence_rate volume/power. [-]

    Source
    ------
    Definition: absorption x fluence rate, over the volume, is the power taken up.
    """
    return absorption * mean_fluence_rate * volume / power


def _refuse_nonsense(
    power: Values, absorption: Values, arc_length: Values, sleeve_radius: Values, sleeve: SleeveOptics | None
) -> None:
    refuse_unless((power >= 0.0) & (power < np.inf), "power must be zero or more, and finite")
    refuse_unless((absorption >= 0.0) & (absorption < np.inf), "absorption must be zero or more, and finite")
    refuse_unless((arc_length > 0.0) & (arc_length < np.inf), "arc length must be above zero, and finite")
    refuse_unless((sleeve_radius > 0.0) & (sleeve_radius < np.inf), "sleeve radius must be above zero, and finite")
    if sleeve is not None:
        sleeve.refuse_nonsense(sleeve_radius)


def _refuse_chamber(
    power: Values,
    absorption: Values,
    arc_length: Values,
    chamber_length: Values,
    sleeve_radius: Values,
    bore_radius: Values,
    sleeve: SleeveOptics | None,
) -> None:
    _refuse_nonsense(power, absorption, arc_length, sleeve_radius, sleeve)
    refuse_unless(
        (bore_radius > sleeve_radius) & (bore_radius < np.inf), "chamber bore must be wider than the sleeve, and finite"
    )
    _refuse_short_chamber(chamber_length, arc_length)


def _refuse_short_chamber(chamber_length: Values, arc_length: Values) -> None:
    refuse_unless(
        (chamber_length >= arc_length) & (chamber_length < np.inf),
        "chamber length must be at least the arc length, and finite",
    )


def _refuse_inside_sleeve(radius: Values, sleeve_radius: Values) -> None:
    refuse_unless((radius >= sleeve_radius) & (radius < np.inf), "radius must be at least the sleeve's, and finite")
