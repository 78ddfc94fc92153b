"""Shares of the water below a dose, and the dose that a share of it misses."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from dosewright.core.arrays import Array, Values, sum_over_nodes
from dosewright.core.light.doses.dose_distribution import Distribution

__all__ = ["percentile", "share_below"]

_PARTS: Final = np.linspace(0.0, 1.0, 129)[:, None]


def percentile(distribution: Distribution, share: float) -> Array:
    """Dose that a share of the water stays below, of each case [J/m²].

    Source
    ------
    Definition: percentile; between samples straight in the logarithm of the dose.
    """
    doses, below = _sorted(distribution)
    if not distribution.continuous:
        reached = below + 1e-12 >= share
        return np.take_along_axis(doses, np.argmax(reached, axis=0)[None], axis=0)[0]
    count = np.sum(below < share, axis=0)
    upper = np.clip(count, 1, below.shape[0] - 1)[None]
    left, right = (np.take_along_axis(below, at, axis=0)[0] for at in (upper - 1, upper))
    first, second = (np.log(np.take_along_axis(doses, at, axis=0)[0]) for at in (upper - 1, upper))
    part = np.clip((share - left) / np.where(right > left, right - left, 1.0), 0.0, 1.0)
    return np.exp(first + part * (second - first))


def share_below(distribution: Distribution, dose: Values) -> Array:
    """Share of the water that receives less than a dose, for each case [-].

    Notes
    -----
    Of a curve: the share of the way between neighbouring samples on which the logarithm of the dose lies below,
    straight between them, and along a parabola on either side of the least.

    Source
    ------
    Definition: share below a dose; the parabola next to the least was derived here.
    """
    if not distribution.continuous:
        return sum_over_nodes(distribution.shares * (distribution.doses < dose))
    heights = np.log(distribution.doses) - np.log(dose)
    passed = np.cumsum(distribution.shares, axis=0) - 0.5 * distribution.shares
    middle = np.clip(np.argmin(heights, axis=0), 1, len(heights) - 2)
    at = np.arange(len(heights) - 1)[:, None]
    beside = (at == middle - 1) | (at == middle)
    straight = np.where(beside, 0.0, _below(heights) * np.diff(passed, axis=0))
    ends = passed[0] * (heights[0] < 0.0) + (1.0 - passed[-1]) * (heights[-1] < 0.0)
    return sum_over_nodes(straight) + ends + _below_at_least(heights, passed, middle[None])


def _below(heights: Array) -> Array:
    """Share of the way between neighbours on which a straight line is below zero."""
    one, other = heights[:-1], heights[1:]
    low, high = np.minimum(one, other), np.maximum(one, other)
    crossing = -low / np.where(high > low, high - low, 1.0)
    return np.where(high < 0.0, 1.0, np.where(low < 0.0, crossing, 0.0))


def _below_at_least(heights: Array, passed: Array, middle: npt.NDArray[np.intp]) -> Array:
    """Share below zero between the neighbours of the least sample, along the parabola through the three."""
    left, here, right = (np.take_along_axis(heights, middle + step, axis=0) for step in (-1, 0, 1))
    start, at, end = (np.take_along_axis(passed, middle + step, axis=0) for step in (-1, 0, 1))
    places = start + (end - start) * _PARTS
    parabola = (
        left * (places - at) * (places - end) / ((start - at) * (start - end))
        + here * (places - start) * (places - end) / ((at - start) * (at - end))
        + right * (places - start) * (places - at) / ((end - start) * (end - at))
    )
    return sum_over_nodes(_below(parabola) * np.diff(places, axis=0))


def _sorted(distribution: Distribution) -> tuple[Array, Array]:
    """Doses in rising order, and the share of the water at or below each (to its middle where doses are samples)."""
    order = np.argsort(distribution.doses, axis=0, kind="stable")
    doses = np.take_along_axis(distribution.doses, order, axis=0)
    shares = np.take_along_axis(np.broadcast_to(distribution.shares, distribution.doses.shape), order, axis=0)
    below = np.cumsum(shares, axis=0)
    return doses, below - 0.5 * shares if distribution.continuous else below
