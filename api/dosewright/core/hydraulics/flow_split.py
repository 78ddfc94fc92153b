"""Flow from pressure: the flow that loses so much, and the split of a flow between branches side by side.

Both work on logarithms, where a loss over flow is nearly a straight line: a secant then closes in within a few steps.
Rows that are done stay as they are, so that a case gives the same bits alone and among others.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless

__all__ = ["FLATTEST", "STEEPEST", "Loss", "flow_for_loss", "split_flow"]

Loss = Callable[[Any], Values]
"""Pressure lost at a flow, float or array: above zero and rising with it. [m³/s] to [Pa]"""

_CLOSE: Final = 1e-13  # of the loss, relative
_MOST_STEPS: Final = 100
FLATTEST, STEEPEST = 0.1, 10.0
"""Exponents of a branch's loss between which the split always converges; outside them it can fail."""

_LEAST_SLOPE, _GREATEST_SLOPE = 0.25, 8.0  # that a step takes, on logarithms
_COMMON_STEPS: Final = 12


def _rows(*values: Values) -> tuple[Array, ...]:
    return tuple(np.array(row, dtype=np.float64) for row in np.broadcast_arrays(*(np.atleast_1d(v) for v in values)))


def _given_back(flow: Array, *values: Values) -> Values:
    return flow if any(np.ndim(value) for value in values) else float(flow[0])


def flow_for_loss(loss: Loss, target: Values, lowest: float, highest: float, like: Values = 0.0) -> Values:
    """Flow at which a loss reaches a target.

    Parameters
    ----------
    loss : callable
        Loss over flow, rising. Given arrays of one entry a case.
    target : float or array
        Loss to be reached. [Pa]
    lowest, highest : float
        Bounds of the search. [m³/s]
    like : float or array
        Anything of the shape that the loss comes in, where that is wider than the target's.

    Returns
    -------
    float or array
        The flow; NaN where the target is not reached between the two flows. [m³/s]

    Raises
    ------
    ValueError
        The range is empty.

    Notes
    -----
    Secant on logarithms, kept within a bracket that shrinks at every step; exact to about 1e-13 relative.

    Source
    ------
    Textbook method: the secant method, in logarithms and within a bracket.

    Examples
    --------
    >>> round(float(flow_for_loss(lambda flow: 3.0 * flow * flow, 12.0, 1e-3, 1e3)), 12)
    2.0
    """
    refuse_unless(0.0 < lowest < highest, "the highest flow must be above the lowest, and both above zero")
    with np.errstate(divide="ignore", invalid="ignore"):
        return _given_back(_sought(loss, _rows(target, like)[0], lowest, highest), target, like)


def _sought(loss: Loss, required: Array, lowest: float, highest: float) -> Array:
    low, high = np.full(required.shape, np.log(lowest)), np.full(required.shape, np.log(highest))
    aim = np.log(required)
    off_low, off_high = np.log(loss(np.exp(low))) - aim, np.log(loss(np.exp(high))) - aim
    reached = (off_low <= 0.0) & (off_high >= 0.0)
    x, y = np.where(off_low == 0.0, low, high), np.where(off_low == 0.0, off_low, off_high)
    slope = np.clip((off_high - off_low) / (high - low), _LEAST_SLOPE, _GREATEST_SLOPE)
    done = ~reached | (np.abs(y) <= _CLOSE)
    for _ in range(_MOST_STEPS):
        if done.all():
            break
        high, low = np.where(y > 0.0, x, high), np.where(y < 0.0, x, low)
        guess = x - y / slope
        guess = np.where((guess > low) & (guess < high), guess, 0.5 * (low + high))
        guess = np.where(done, x, guess)
        off = np.log(loss(np.exp(guess))) - aim
        moved = guess != x
        run = np.where(moved, guess - x, 1.0)
        slope = np.where(moved, np.clip((off - y) / run, _LEAST_SLOPE, _GREATEST_SLOPE), slope)
        x, y = guess, np.where(done, y, off)
        done = done | (np.abs(y) <= _CLOSE) | ~moved
    return np.where(reached & done, np.exp(x), np.nan)


def split_flow(flow: Values, losses: Sequence[Loss], like: Values = 0.0) -> tuple[Values, ...]:
    """Split a flow between branches that start and end together, so that all lose the same.

    Parameters
    ----------
    flow : float or array
        Flow of all branches. [m³/s]
    losses : sequence of callable
        Loss over flow of each branch, rising. Given arrays of one entry a case.
    like : float or array
        Anything of the shape that the losses come in, where that is wider than the flow's.

    Returns
    -------
    tuple of float or array
        Flow of each branch; NaN without a solution, for example if a branch has no loss, or if the losses are so
        flat that the flow of a branch would be too small for a number. [m³/s]

    Raises
    ------
    ValueError
        There is no branch, or a flow is not above zero.

    Notes
    -----
    Each branch is taken as a power law through its last two points; the common loss of these laws is solved for, and
    so on until the branches' losses agree to about 1e-13.

    Source
    ------
    Mass balance: the flows add up, and all branches lose the same; the iteration was derived here.

    Examples
    --------
    >>> [round(part, 12) for part in split_flow(3.0, [lambda flow: flow * flow, lambda flow: 4.0 * flow * flow])]
    [2.0, 1.0]
    """
    refuse_unless(len(losses) > 0, "there must be a branch")
    refuse_unless(flow > 0.0, "flow must be above zero")
    with np.errstate(divide="ignore", invalid="ignore"):
        return tuple(_given_back(part, flow, like) for part in _split(_rows(flow, like)[0], losses))


def _split(whole: Array, losses: Sequence[Loss]) -> list[Array]:
    count = len(losses)
    parts = [whole / count for _ in losses]
    power = [np.full(whole.shape, 2.0) for _ in losses]
    lost = [np.log(loss(part)) for loss, part in zip(losses, parts, strict=True)]
    done = np.zeros(whole.shape, dtype=bool)
    agree = starved = done
    for _ in range(_MOST_STEPS):
        agree = _spread(lost) <= _CLOSE
        shares = _shared(whole, parts, lost, power)
        for share in shares:
            starved = starved | ~(agree | (share > 0.0))
        done = agree | starved | ~np.isfinite(_spread(lost))
        if done.all():
            break
        for index, part in enumerate(shares):
            step = np.where(done, 0.0, np.log(part / parts[index]))
            parts[index] = np.where(done, parts[index], part)
            now = np.log(losses[index](parts[index]))
            moved = np.abs(step) > _CLOSE
            run = np.where(moved, step, 1.0)
            power[index] = np.where(
                moved, np.clip((now - lost[index]) / run, _LEAST_SLOPE, _GREATEST_SLOPE), power[index]
            )
            lost[index] = np.where(done, lost[index], now)
    return [np.where(agree, part, np.nan) for part in parts]


def _spread(lost: Sequence[Array]) -> Array:
    low = high = lost[0]
    for one in lost[1:]:
        low, high = np.minimum(low, one), np.maximum(high, one)
    return high - low


def _shared(whole: Array, parts: Sequence[Array], lost: Sequence[Array], power: Sequence[Array]) -> list[Array]:
    """Return the flows at the common loss of power laws through the present points, scaled to make up the whole."""
    common = lost[0]
    for one in lost[1:]:
        common = common + one
    common = common / len(lost)
    made: list[Array] = []
    for _ in range(_COMMON_STEPS):
        made = [part * np.exp((common - one) / n) for part, one, n in zip(parts, lost, power, strict=True)]
        total, slope = made[0], made[0] / power[0]
        for one, n in zip(made[1:], power[1:], strict=True):
            total, slope = total + one, slope + one / n
        common = common - np.log(total / whole) * total / slope
    total = made[0]
    for one in made[1:]:
        total = total + one
    return [one * (whole / total) for one in made]
