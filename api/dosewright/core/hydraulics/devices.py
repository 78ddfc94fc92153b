"""Pressure drop of a device over flow, from the points its data sheet gives."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["PowerLaw", "fit_power_law", "power_law_pressure_drop"]


class PowerLaw(NamedTuple):
    """Pressure drop that grows with a power of the flow.

    Attributes
    ----------
    flow, pressure_drop : float or array
        A point on the curve: the geometric means of the points fitted. [m³/s], [Pa]
    exponent : float or array
        Power of the flow. [-]
    largest_deviation : float or array
        Largest deviation of the curve from a point, relative to the point. [1]
    """

    flow: Values
    pressure_drop: Values
    exponent: Values
    largest_deviation: Values


def fit_power_law(flows: Sequence[Values], pressure_drops: Sequence[Values]) -> PowerLaw:
    """Fit a power law through two or more points of flow and pressure drop.

    Parameters
    ----------
    flows : sequence of float or array
        Flow of each point, not all the same. [m³/s]
    pressure_drops : sequence of float or array
        Pressure drop at each flow. [Pa]

    Returns
    -------
    PowerLaw
        The curve, and how far it misses the worst point.

    Raises
    ------
    ValueError
        Fewer than two points, a flow or pressure drop not above zero, or all flows the same.

    Notes
    -----
    Least squares on the logarithms, each point of equal weight. Open turbulent devices have exponents near 2, beds and
    cartridges, where part of the flow is laminar, between 1 and 2.

    Source
    ------
    Textbook method: least squares on logarithms.

    Examples
    --------
    >>> law = fit_power_law([1.0, 2.0, 4.0], [5.0, 10.0, 20.0])
    >>> round(float(law.exponent), 12), round(float(law.largest_deviation), 12)
    (1.0, 0.0)
    """
    refuse_unless(len(flows) == len(pressure_drops) and len(flows) > 1, "a power law needs two points or more")
    for flow, drop in zip(flows, pressure_drops, strict=True):
        refuse_unless(flow > 0.0, "flows must be above zero")
        refuse_unless(drop > 0.0, "pressure drops must be above zero")
    x = [np.log(flow) for flow in flows]
    y = [np.log(drop) for drop in pressure_drops]
    middle_x, middle_y = _sum(x) / len(x), _sum(y) / len(y)
    spread = _sum([(one - middle_x) * (one - middle_x) for one in x])
    refuse_unless(spread > 0.0, "the flows must not all be the same")
    exponent = _sum([(a - middle_x) * (b - middle_y) for a, b in zip(x, y, strict=True)]) / spread
    worst: Values = 0.0
    for a, b in zip(x, y, strict=True):
        worst = np.maximum(worst, np.abs(np.expm1(middle_y + exponent * (a - middle_x) - b)))
    return PowerLaw(np.exp(middle_x), np.exp(middle_y), exponent, worst)


def _sum(terms: Sequence[Values]) -> Values:
    total = terms[0]
    for term in terms[1:]:
        total = total + term
    return total


def power_law_pressure_drop(flow: Values, law: PowerLaw) -> Values:
    """Pressure drop of a device by its power law.

    Parameters
    ----------
    flow : float or array
        Volume flow. [m³/s]
    law : PowerLaw
        The curve.

    Returns
    -------
    float or array
        Pressure drop. [Pa]

    Raises
    ------
    ValueError
        A flow is negative.

    Source
    ------
    Definition: the law that `fit_power_law` fits.

    Examples
    --------
    >>> law = fit_power_law([1.0, 2.0], [5.0, 20.0])
    >>> round(float(power_law_pressure_drop(3.0, law)), 9)
    45.0
    """
    refuse_unless(flow >= 0.0, "flow must not be negative")
    return law.pressure_drop * np.power(flow / law.flow, law.exponent)
