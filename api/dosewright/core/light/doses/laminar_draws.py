"""Laminar flow of one chamber in many waters, and sleeves: a few calculated, all interpolated.

There are thousands of draws of uncertain inputs, and the light along 14 radii is a smooth function of the absorption
in water and quartz.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from dosewright.core.arrays import Array, Values
from dosewright.core.light.doses import dose_distribution, equivalent_dose, laminar_dose
from dosewright.core.light.field import Field
from dosewright.core.light.survival import DoseResponse

__all__ = ["MANY", "LaminarDraws", "laminar_curve", "laminar_draws"]

MANY: Final = 32
"""Number of waters along a curve above which interpolation is faster."""

# Spans up to which each number of knots is accurate to 1e-6: of absorption times gap and of its logarithm; of
# absorption times wall.
_WATER: Final = ((0.1, 1.5, 6), (0.5, 2.5, 8), (2.0, 4.0, 12), (4.0, 6.0, 16))
_QUARTZ: Final = ((0.0, 1), (0.1, 3), (0.8, 4))
# Added to absorption times arc before its logarithm is taken: in clear water the light of far parts of the arc makes
# the dose fall the steeper, the longer the arc.
_NEAR: Final = 8.0
_CHUNK: Final = 256


class LaminarDraws(NamedTuple):
    """RED and flow for the target, draw by draw.

    Attributes
    ----------
    reduction_equivalent_dose : array
        NaN where only the floor of the response is left. [J/m²]
    flow : array
        Flow that gives the target; NaN where none does. [m³/s]
    """

    reduction_equivalent_dose: Values
    flow: Values


class _Axis(NamedTuple):
    """Chebyshev's points over the span of some draws.

    Attributes
    ----------
    knots : array
        Their values.
    here : array
        Each draw between -1 and 1.
    """

    knots: Array
    here: Array


def laminar_draws(
    field: Field, power: Values, absorption: Values, flow: Values, target: float, response: DoseResponse
) -> LaminarDraws:
    """RED in laminar flow without mixing, and the flow for a target, of one chamber in many waters.

    Parameters
    ----------
    field : Field
        Lamp and chamber, the same for all draws but for `passed` and what the sleeve absorbs.
    power : float or array
        UV-C output of the lamp before the sleeve. [W]
    absorption : float or array
        Absorption coefficient of the water, base e. [1/m]
    flow : float or array
        Flow. [m³/s]
    target : float
        Required RED. [J/m²]
    response : DoseResponse
        Dose response of the organism: floats only.

    Returns
    -------
    LaminarDraws
        One value a draw.

    Notes
    -----
    Doses are proportional to power over flow. The logarithm of each streamline's dose, and that of the flow for the
    target, is a polynomial through its values at Chebyshev's points: 6 to 16 of them in ln(8 + absorption arc) of the
    water, and 3 or 4 in the absorption of the quartz, which scales the light except for its slant. Spans too
    wide for 1e-6 are calculated draw by draw.

    Source
    ------
    Derived here: interpolation at Chebyshev's points, as the notes say.
    """
    power, field = power * field.passed, field._replace(passed=1.0)
    quartz: Values = 0.0 if field.sleeve is None else field.sleeve.absorption
    knots = _knots_needed(field, absorption, quartz)
    shape = np.broadcast_shapes(*(np.shape(value) for value in (power, absorption, flow, quartz)))
    if knots is None or not shape:
        light = (field, power, absorption)
        return LaminarDraws(
            laminar_dose.laminar_dose(*light, flow, response)[0],
            laminar_dose.flow_for_laminar_dose(*light, target, response),
        )
    arc = field.arc_length
    waters = _axis(np.broadcast_to(_place(absorption, arc), shape), knots[0])
    glasses = _axis(np.broadcast_to(np.asarray(quartz), shape), knots[1])
    grid = _absorption_at(waters.knots, arc)
    if field.sleeve is not None:
        each = np.repeat(glasses.knots, grid.size) if knots[1] > 1 else float(glasses.knots[0])
        field, grid = field._replace(sleeve=field.sleeve._replace(absorption=each)), np.tile(grid, knots[1])
    products, shares = dose_distribution.streamline_dose_flows(field, 1.0, grid)
    logs, log_shares = np.log(products), np.log(shares[:, :1])
    flows = np.log(np.asarray(laminar_dose.flow_for_laminar_dose(field, 1.0, grid, target, response)))
    strength = np.broadcast_to(np.asarray(power / flow), shape)
    red, unit = np.empty(shape), np.empty(shape)
    for start in range(0, red.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        rows, columns = _weights(glasses.here[part], knots[1]), _weights(waters.here[part], knots[0])
        weights = (rows[:, None] * columns).reshape(grid.size, -1)
        light, speed = weights[0] * logs[:, :1], weights[0] * flows[0]
        term = np.empty_like(light)
        for knot in range(1, grid.size):
            light += np.multiply(weights[knot], logs[:, knot : knot + 1], out=term)
            speed += weights[knot] * flows[knot]
        red[part] = equivalent_dose.red_of_doses(np.exp(light) * strength[part], log_shares, response)
        unit[part] = np.exp(speed)
    return LaminarDraws(red, power * unit)


def laminar_curve(field: Field, power: Values, absorption: Array, target: Values, response: DoseResponse) -> Values:
    """Flow at which unmixed laminar flow gives a RED, along a curve of waters that is one for all rows of a batch.

    Parameters
    ----------
    field, power, target, response
        As in `laminar_dose.flow_for_laminar_dose`: floats, or one value a row.
    absorption : array
        Absorption coefficients of the water, base e: (water, 1). [1/m]

    Returns
    -------
    array
        Flow: (water, row), or (water, 1). [m³/s]

    Notes
    -----
    As `laminar_draws`, always with the most knots, so that each row comes out as it would alone; rows whose span is too
    wide are calculated water by water.

    Source
    ------
    Derived here: as for `laminar_draws`.
    """
    deepest, longest, count = _WATER[-1]
    arc = field.arc_length
    places = _place(absorption, arc)
    low, high = np.min(places, axis=0), np.max(places, axis=0)
    middle, half = 0.5 * (high + low), 0.5 * (high - low)
    grid = _absorption_at(middle + half * _places(count)[:, None], arc)
    logs = np.log(np.asarray(laminar_dose.flow_for_laminar_dose(field, power, grid, target, response)))
    weights = _weights((places - middle) / np.where(half > 0.0, half, 1.0), count)
    along = weights[0] * logs[0]
    for knot in range(1, count):
        along = along + weights[knot] * logs[knot]
    near = (
        (_depth(field, absorption) <= deepest)
        & (high - low <= longest)
        & (half > 0.0)
        & np.all(np.isfinite(logs), axis=0)
    )
    if np.all(near):
        return np.exp(along)
    return np.where(near, np.exp(along), laminar_dose.flow_for_laminar_dose(field, power, absorption, target, response))


def _knots_needed(field: Field, absorption: Values, quartz: Values) -> tuple[int, int] | None:
    """Return the number of knots in water and quartz for 1e-6, or None if more than the largest number is needed."""
    deep, long = _depth(field, absorption), np.ptp(_place(absorption, field.arc_length))
    wall = 0.0 if field.sleeve is None else field.sleeve.wall * np.ptp(quartz)
    water = next((count for most, farthest, count in _WATER if deep <= most and long <= farthest), None)
    glass = next((count for most, count in _QUARTZ if wall <= most), None)
    return None if water is None or glass is None else (water, glass)


def _place(absorption: Values, arc: Values) -> Array:
    """Place of a water along its axis."""
    return np.log(_NEAR + absorption * arc)


def _absorption_at(place: Array, arc: Values) -> Array:
    """Absorption of the water at a place: the inverse of `_place`."""
    return np.maximum((np.exp(place) - _NEAR) / arc, 0.0)


def _depth(field: Field, absorption: Values) -> Values:
    """Span of the absorption times the water's depth; light reflected by the bore crosses the gap twice."""
    crossings = 1.0 if field.wall_reflectance is None else 2.0
    return np.ptp(absorption) * (field.bore_radius - field.sleeve_radius) * crossings


def _axis(values: Array, count: int) -> _Axis:
    middle, half = 0.5 * (np.max(values) + np.min(values)), 0.5 * np.ptp(values)
    here = (values - middle) / half if half > 0.0 else np.zeros_like(values)
    return _Axis(middle + half * _places(count), here)


def _places(count: int) -> Array:
    return np.cos(np.pi * (np.arange(count) + 0.5) / count)


def _weights(here: Array, count: int) -> Array:
    """Weight of each knot at each draw, by the barycentric formula of Chebyshev's points of the first kind."""
    signs = np.sin(np.pi * (np.arange(count) + 0.5) / count) * (-1.0) ** np.arange(count)
    knots = (-1, *(1,) * here.ndim)
    apart = here - _places(count).reshape(knots)
    on = apart == 0.0
    parts = signs.reshape(knots) / np.where(on, 1.0, apart)
    parts = np.where(np.any(on, axis=0), 1.0 * on, parts)
    total = parts[0]
    for knot in range(1, count):
        total = total + parts[knot]
    return parts / total
