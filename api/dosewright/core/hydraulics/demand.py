"""Peak flow of many fixtures: from fixture units by a published curve, and exactly from the chance of use."""

from __future__ import annotations

from collections.abc import Sequence
from math import prod
from typing import Final, NamedTuple

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless

__all__ = ["MOST_COMBINATIONS", "ChanceFlow", "chance_flow", "curve_flow", "draw_down_time", "in_use_probabilities"]

MOST_COMBINATIONS: Final = 200_000
"""Largest number of combinations of fixtures in use: the product of (count + 1) over all kinds."""

_AT_A_TIME: Final = 1 << 19  # combinations times cases kept in memory
_ROUNDING: Final = 1e-12  # of a probability: sums of many terms


class ChanceFlow(NamedTuple):
    """Flow that is not passed with a given probability.

    Attributes
    ----------
    flow : float or array
        The smallest such flow. [m³/s]
    probability : float or array
        Probability that the flow is at or below it. [1]
    mean_flow : float or array
        Flow on average. [m³/s]
    """

    flow: Values
    probability: Values
    mean_flow: Values


def curve_flow(fixture_units: Values, curve_units: Array, curve: Array) -> Values:
    """Flow of fixture units by a published curve, straight between its points.

    Parameters
    ----------
    fixture_units : float or array
        Water supply fixture units. [-]
    curve_units, curve : ndarray
        Points of the curve, by rising fixture units. [-], [m³/s]

    Returns
    -------
    float or array
        Flow. Below the curve it is that of the first point. In a gap it is the next flow above, or the steeper of the
        two slopes before the gap, where that is less: a bound for a curve that flattens. NaN above the curve. [m³/s]

    Source
    ------
    Derived here: straight between points of the caller's curve, with an upper bound where points are missing.

    Examples
    --------
    >>> curve_flow(15.0, np.array([10.0, 20.0]), np.array([8.0, 14.0]))
    np.float64(11.0)
    """
    known = np.isfinite(curve)
    units, flows = curve_units[known], curve[known]
    straight = np.interp(fixture_units, units, flows, right=np.nan)
    if known.all():
        return straight
    above = np.clip(np.searchsorted(units, fixture_units), 3, len(units) - 1)
    places = np.flatnonzero(known)
    slopes = np.diff(flows) / np.diff(units)
    steepest = np.maximum(slopes[above - 2], slopes[above - 3])
    bound = np.minimum(flows[above], flows[above - 1] + steepest * (fixture_units - units[above - 1]))
    in_gap = (places[above] - places[above - 1] > 1) & np.isfinite(straight)
    return np.where(in_gap, np.maximum(straight, bound), straight)[()]


def in_use_probabilities(count: int, probability: Values) -> Array:
    """Probability that none, one, … all of some fixtures are in use at once.

    Parameters
    ----------
    count : int
        Number of fixtures.
    probability : float or array of shape (cases, 1)
        Probability that one of them is in use. [1]

    Returns
    -------
    ndarray
        Over the last axis, for 0 to `count` in use. [1]

    Raises
    ------
    ValueError
        A probability is not within 0 to 1, or the count is negative.

    Notes
    -----
    The binomial distribution, built up fixture by fixture: only sums and products of numbers that are not negative, so
    that nothing cancels or overflows.

    Source
    ------
    Textbook form: the binomial distribution.

    Examples
    --------
    >>> in_use_probabilities(2, 0.5).tolist()
    [0.25, 0.5, 0.25]
    """
    refuse_unless((probability >= 0.0) & (probability <= 1.0), "probability must be within 0 to 1")
    refuse_unless(count >= 0, "count must not be negative")
    rows = np.shape(probability)[:-1] if np.ndim(probability) else ()
    chances = np.zeros((*rows, count + 1))
    chances[..., 0] = 1.0
    idle = 1.0 - probability
    for _ in range(count):
        used = chances[..., :-1] * probability
        chances = chances * idle
        chances[..., 1:] += used
    return chances


def chance_flow(
    counts: Sequence[Values], probabilities: Sequence[Values], flows: Sequence[Values], percentile: Values
) -> ChanceFlow:
    """Flow of several kinds of fixtures that is not passed with a given probability, exactly.

    Parameters
    ----------
    counts : sequence of float or array
        Number of fixtures of each kind, whole numbers. [-]
    probabilities : sequence of float or array
        Probability that a fixture of the kind is in use. [1]
    flows : sequence of float or array
        Flow of one fixture of the kind in use. [m³/s]
    percentile : float or array
        Probability with which the flow is not to be passed. [1]

    Returns
    -------
    ChanceFlow
        The smallest flow whose probability of not being passed is at least the percentile.

    Raises
    ------
    ValueError
        A count is negative or not whole, a probability or percentile is outside 0 to 1, or there are more than
        `MOST_COMBINATIONS` combinations.

    Notes
    -----
    The distribution of the sum is the convolution of the kinds' binomials. Every combination of numbers in use is
    listed with its probability and its flow, sorted by flow and added up; nothing is rounded to a grid. The fixtures
    are taken as independent, each with the same chance at any moment of the busy period.

    References
    ----------
    R. B. Hunter (1940), Methods of estimating loads in plumbing systems, National Bureau of Standards BMS 65: the same
    distribution for one kind, at 99 %.

    Examples
    --------
    >>> given = chance_flow([5.0], [0.2], [1.0], 0.99)
    >>> given.flow, round(given.probability, 5)
    (3.0, 0.99328)
    """
    refuse_unless(len(counts) > 0, "there must be a fixture")
    for count in counts:
        refuse_unless((count >= 0.0) & (np.mod(count, 1.0) == 0.0), "counts must be whole numbers")
    refuse_unless((percentile > 0.0) & (percentile < 1.0), "percentile must be between 0 and 1")
    values = [*counts, *probabilities, *flows, percentile]
    single = not any(np.ndim(value) for value in values)
    table = np.stack([np.atleast_1d(row) for row in np.broadcast_arrays(*(np.atleast_1d(v) for v in values))], axis=-1)
    kinds = len(counts)
    flow, reached = np.empty(len(table)), np.empty(len(table))
    sets, which = np.unique(table[:, :kinds], axis=0, return_inverse=True)
    for number, numbers in enumerate(sets):
        of_set = np.flatnonzero(which.reshape(-1) == number)
        each = tuple(int(count) for count in numbers)
        size = prod(count + 1 for count in each)
        refuse_unless(size <= MOST_COMBINATIONS, f"more than {MOST_COMBINATIONS} combinations of fixtures in use")
        step = max(1, _AT_A_TIME // size)
        for start in range(0, len(of_set), step):
            rows = of_set[start : start + step]
            flow[rows], reached[rows] = _of_combinations(each, table[rows, kinds:])
    mean: Values = 0.0
    for count, probability, one in zip(counts, probabilities, flows, strict=True):
        mean = mean + count * probability * one
    if single:
        return ChanceFlow(float(flow[0]), float(reached[0]), mean)
    return ChanceFlow(flow, reached, mean)


def _of_combinations(counts: tuple[int, ...], values: Array) -> tuple[Array, Array]:
    kinds = len(counts)
    probabilities, flows, percentile = values[:, :kinds], values[:, kinds : 2 * kinds], values[:, -1:]
    chance, flow = np.ones((len(values), 1)), np.zeros((len(values), 1))
    for kind, count in enumerate(counts):
        of_kind = in_use_probabilities(count, probabilities[:, kind : kind + 1])
        taken = np.arange(count + 1) * flows[:, kind : kind + 1]
        chance = (chance[:, :, None] * of_kind[:, None, :]).reshape(len(values), -1)
        flow = (flow[:, :, None] + taken[:, None, :]).reshape(len(values), -1)
    order = np.argsort(flow, axis=-1, kind="stable")
    flow = np.take_along_axis(flow, order, axis=-1)
    reached = np.cumsum(np.take_along_axis(chance, order, axis=-1), axis=-1)
    first = np.argmax(reached >= percentile - _ROUNDING, axis=-1)[:, None]
    at = np.take_along_axis(flow, first, axis=-1)
    # Combinations of the same flow are one event: the probability is that of the last of them.
    last = np.sum(flow <= at * (1.0 + _ROUNDING), axis=-1)[:, None] - 1
    return at[:, 0], np.minimum(np.take_along_axis(reached, last, axis=-1)[:, 0], 1.0)


def draw_down_time(flow: Values, pump_flow: Values, draw_down: Values) -> Values:
    """Time for which a pressure tank makes up for a pump that gives less than the flow.

    Parameters
    ----------
    flow : float or array
        Flow drawn. [m³/s]
    pump_flow : float or array
        Flow of the pump. [m³/s]
    draw_down : float or array
        Water the tank gives between cut-out and cut-in. [m³]

    Returns
    -------
    float or array
        Time from a full tank; NaN where the pump keeps up. [s]

    Raises
    ------
    ValueError
        A flow or volume is negative.

    Source
    ------
    Mass balance: the tank gives what the pump does not.

    Examples
    --------
    >>> round(float(draw_down_time(0.001, 0.0005, 0.03)), 9)
    60.0
    """
    refuse_unless((flow >= 0.0) & (pump_flow >= 0.0), "flows must not be negative")
    refuse_unless(draw_down >= 0.0, "draw-down must not be negative")
    short = flow - pump_flow
    return np.where(short > 0.0, draw_down / np.where(short > 0.0, short, 1.0), np.nan)[()]
