"""Distribution of the doses over the water.

A distribution is doses and shares of the flow, streamlines along the first axis and cases along the second.
"""

from __future__ import annotations

from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless, sum_over_nodes
from dosewright.core.hydraulics import annulus
from dosewright.core.light.field import Field

__all__ = [
    "FINE",
    "STREAMLINES",
    "Distribution",
    "from_residence_times",
    "in_laminar_flow",
    "in_tanks",
    "least_dose_flow",
    "single_dose",
    "streamline_dose_flows",
]

STREAMLINES: Final = 64
"""Streamlines of a laminar chamber, and nodes of a tanks-in-series distribution."""

FINE: Final = 512
"""Streamlines or nodes between which percentiles are interpolated."""

_LINES: Final = 14  # radii at which the light along the chamber is integrated; its logarithm is a polynomial between
_ZOOMS: Final = 2  # rounds of the search for the lowest dose
_ZOOM: Final = np.linspace(0.0, 1.0, 17)[:, None]
_NO_LIGHT: Final = 1e-14  # share of the direct light below which the reflected is lost in rounding
_ON_KNOT: Final = 1e-12  # a place this close to a knot is treated as the knot


class Distribution(NamedTuple):
    """Doses and the shares of the flow that receive them.

    Attributes
    ----------
    doses, shares : array
        (streamline, case); the shares of a case sum to 1. [J/m²], [-]
    continuous : bool
        Whether the doses are samples of a curve, between which percentiles are interpolated.
    """

    doses: Array
    shares: Array
    continuous: bool


def _interpolation(points: Array, targets: Array) -> Array:
    """Weights that turn values at points into the polynomial's values at targets: (target, point)."""
    apart = points[:, None] - points[None, :]
    np.fill_diagonal(apart, 1.0)
    barycentric = 1.0 / np.prod(apart, axis=1)
    parts = barycentric / (targets[:, None] - points[None, :])
    return parts / np.sum(parts, axis=1, keepdims=True)


# Chebyshev's points in the root of the logarithm of the radius over the sleeve's: at the sleeve the light of straight
# rays falls off as steeply as x ln x.
_KNOTS: Final = 0.5 - 0.5 * np.cos(np.pi * (np.arange(_LINES) + 0.5) / _LINES)


@cache
def _places(count: int) -> tuple[Array, Array, Array]:
    """Places of the streamlines between sleeve and bore, their weights, and the interpolation weights of the knots."""
    points, weights = np.polynomial.legendre.leggauss(count)
    places = 0.5 * (points + 1.0)
    return places[:, None], 0.5 * weights[:, None], _interpolation(_KNOTS, np.sqrt(places))


_WEIGHTS: Final = 1.0 / np.prod(_KNOTS[:, None] - _KNOTS[None, :] + np.eye(_LINES), axis=1)
"""Barycentric weights of the knots."""


def _light_at_knots(field: Field, power: Values, absorption: Values, span: Values) -> tuple[Array, ...]:
    """Logarithm of r E(r) / sleeve radius at the knots, separately for direct and reflected light: (knot, case).

    Each is smooth. Their sum curves near the wall, more than a polynomial can follow.
    """
    knots = np.asarray((_KNOTS * _KNOTS)[:, None] * span)
    radii = field.sleeve_radius * np.exp(knots)
    direct = np.asarray(field._replace(wall_reflectance=None).line(power, absorption, radii))
    if field.wall_reflectance is None:
        return (np.log(direct) + knots,)
    both = np.asarray(field.line(power, absorption, radii))
    return np.log(direct) + knots, np.log(np.maximum(both - direct, _NO_LIGHT * direct)) + knots


def _between_knots(logs: Array, between: Array, places: Array) -> Array:
    rates = between[:, :1] * logs[0]
    for knot in range(1, _LINES):
        rates = rates + between[:, knot : knot + 1] * logs[knot]
    return np.exp(rates - places)


def least_dose_flow(field: Field, power: Values, absorption: Values) -> Array:
    """Lowest dose times flow of any streamline, also between the nodes, for each case [W·m].

    Notes
    -----
    The lowest of the nodes, then of 17 places between its neighbours, twice; then a parabola through the last three.

    Source
    ------
    Derived here: search between the nodes, as the notes say.
    """
    at, _, _ = _places(STREAMLINES)
    span = np.log(field.bore_radius / field.sleeve_radius)
    logs = _light_at_knots(field, power, absorption, span)

    def log_product(places: Array) -> Array:
        apart = np.sqrt(places) - _KNOTS[:, None, None]
        parts = _WEIGHTS[:, None, None] / np.where(np.abs(apart) < _ON_KNOT, _ON_KNOT, apart)
        total = np.sum(parts, axis=0)
        light: Any = 0.0
        for part in logs:
            light = light + np.exp(np.sum(parts * part[:, None, :], axis=0) / total - places * span)
        radius = field.sleeve_radius * np.exp(places * span)
        return np.log(light) - np.log(annulus.laminar_profile(radius, field.bore_radius, field.sleeve_radius))

    places: Array = at + np.zeros_like(logs[0][:1])
    values = log_product(places)
    for _ in range(_ZOOMS):
        middle = np.clip(np.argmin(values, axis=0), 1, len(values) - 2)[None]
        low, high = (np.take_along_axis(places, middle + step, axis=0) for step in (-1, 1))
        places = low + (high - low) * _ZOOM
        values = log_product(places)
    middle = np.clip(np.argmin(values, axis=0), 1, len(values) - 2)[None]
    left, here, right = (np.take_along_axis(values, middle + step, axis=0)[0] for step in (-1, 0, 1))
    bend = left - 2.0 * here + right
    drop = np.where(bend > 0.0, (left - right) ** 2 / (8.0 * np.where(bend > 0.0, bend, 1.0)), 0.0)
    return np.exp(np.minimum(here - drop, np.min(values, axis=0))) * field.volume


def streamline_dose_flows(
    field: Field, power: Values, absorption: Values, streamlines: int = STREAMLINES
) -> tuple[Array, Array]:
    """Dose times flow of each streamline of unmixed laminar flow, and its share of the flow.

    Parameters
    ----------
    field : Field
        Lamp and chamber.
    power : float or array
        UV-C output of the lamp before the sleeve. [W]
    absorption : float or array
        Absorption coefficient of the water, base e. [1/m]
    streamlines : int
        How many.

    Returns
    -------
    tuple of array
        (streamline, case), the case axis of length 1 for floats. [W·m], [-]

    Raises
    ------
    ValueError
        A value is impossible, or the gap is too thin for the profile.

    Notes
    -----
    A streamline at radius r receives the fluence rate averaged along it, E(r), for the time length/u(r). The light is
    integrated at 14 radii and the logarithm of r E(r) interpolated between them in the root of
    ln(r/sleeve); the streamlines lie at Gauss-Legendre nodes in ln r.

    Source
    ------
    Derived here: the profile is that of `annulus.laminar_profile`.
    """
    at, weights, between = _places(streamlines)
    span = np.log(field.bore_radius / field.sleeve_radius)
    logs = _light_at_knots(field, power, absorption, span)
    places = np.asarray(at * span)
    rates = _between_knots(logs[0], between, places)
    for part in logs[1:]:
        rates = rates + _between_knots(part, between, places)
    radius = field.sleeve_radius * np.exp(places)
    velocity = annulus.laminar_profile(radius, field.bore_radius, field.sleeve_radius)
    section = (field.bore_radius - field.sleeve_radius) * (field.bore_radius + field.sleeve_radius)
    shares = weights * (2.0 * span * radius * radius * velocity / section)
    return rates * field.volume / velocity, shares + 0.0 * rates


def in_laminar_flow(
    field: Field, power: Values, absorption: Values, flow: Values, streamlines: int = STREAMLINES
) -> Distribution:
    """Doses in laminar flow without any mixing; arguments as in `streamline_dose_flows`, flow in m³/s.

    Source
    ------
    Derived here: from `streamline_dose_flows`.
    """
    products, shares = streamline_dose_flows(field, power, absorption, streamlines)
    return Distribution(products / flow, shares, continuous=True)


def in_tanks(mean_dose: Values, tanks: Values, nodes: int = STREAMLINES) -> Distribution:
    """Doses in equal mixed tanks in series, for separate parcels of water.

    Parameters
    ----------
    mean_dose : float or array
        Mean dose. [J/m²]
    tanks : float or array
        Number of tanks, any number above zero. [-]
    nodes : int
        Nodes of the distribution.

    Returns
    -------
    Distribution
        A gamma distribution of shape `tanks`.

    Raises
    ------
    ValueError
        A value is not possible.

    Notes
    -----
    With t = exp(u - exp(-u)) the density falls off doubly exponentially on both sides in u, where evenly spaced nodes
    integrate it to the last digits; dividing by their sum spares the gamma function.

    Source
    ------
    Textbook form: times in equal tanks in series follow a gamma distribution; the nodes were derived here.
    """
    refuse_unless((tanks > 0.0) & (tanks < np.inf), "number of tanks must be above zero, and finite")
    refuse_unless((mean_dose >= 0.0) & (mean_dose < np.inf), "mean dose must be zero or more")
    # In many tanks the survivors lie far down the tail; in few the tail is so long that nodes would lie too far apart.
    depth = np.clip(18.0 * tanks, 40.0, 90.0) / tanks
    swing = np.sqrt(2.0 * depth)
    # At most this far from the middle is the density above exp(-40) of its peak, for 5 tanks and more exp(-90).
    low = _inner(np.log(np.maximum(1.0 - swing, 1e-300)) * (swing < 0.9) + (-1.0 - depth) * (swing >= 0.9))
    high = _inner(np.log1p(swing + depth))
    places = np.arange(nodes)[:, None] / (nodes - 1.0)
    u = np.asarray(low + (high - low) * places)
    bent = np.exp(-u)
    logs = u - bent
    times = np.exp(logs)
    density = np.exp(tanks * (logs - times + 1.0)) * (1.0 + bent)
    return Distribution(mean_dose * times, density / sum_over_nodes(density), continuous=True)


def _inner(logarithm: Any) -> Array:
    """Solve u - exp(-u) = logarithm: from below, on a concave rising curve, Newton's steps never overshoot."""
    u = np.where(np.asarray(logarithm) > 0.0, 0.0, 0.0 - np.log1p(np.maximum(0.0 - np.asarray(logarithm), 0.0)))
    for _ in range(8):
        bent = np.exp(-u)
        u = u + (logarithm - u + bent) / (1.0 + bent)
    return u


def from_residence_times(mean_fluence_rate: Values, times: Array, shares: Array) -> Distribution:
    """Doses of water with known residence times in a chamber mixed across its section.

    Parameters
    ----------
    mean_fluence_rate : float or array
        Chamber average. [W/m²]
    times, shares : array
        Residence times, and the share of the water that stays for each. [s], [-]

    Returns
    -------
    Distribution
        Fluence rate times time.

    Raises
    ------
    ValueError
        Times and shares differ in number, are negative, or the shares sum to zero.

    Source
    ------
    Definition: fluence rate x time.
    """
    if times.shape != shares.shape or times.ndim != 1:
        raise ValueError("times and shares must be of one length")
    refuse_unless((times >= 0.0) & (times < np.inf), "residence times must be zero or more")
    refuse_unless((shares >= 0.0) & (shares < np.inf), "shares must be zero or more")
    total = np.sum(shares)
    refuse_unless(total > 0.0, "shares must not all be zero")
    doses = np.asarray(mean_fluence_rate * times[:, None])
    return Distribution(doses, shares[:, None] / total + 0.0 * doses, continuous=False)


def single_dose(dose: Values) -> Distribution:
    """All the water receives one dose.

    Source
    ------
    Definition: a distribution of one dose.
    """
    doses = np.atleast_1d(np.asarray(dose, dtype=np.float64))[None, :]
    return Distribution(doses, np.ones_like(doses), continuous=False)
