"""Root of a falling function, case by case, in a number of steps that each case has for itself."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from dosewright.core.arrays import Array

__all__ = ["falling_root"]


def falling_root(
    function: Callable[[Array], Array], low: Array, high: Array, steps: int, tolerance: float, miss: float
) -> Array:
    """Narrow a bracket by regula falsi (Illinois), whose steps are the same for one case as for many.

    Parameters
    ----------
    function : callable
        Falls along its argument, each case by itself.
    low, high : array
        Where it is above zero, and below.
    steps : int
        Most steps allowed. Near the root the error about squares with each step.
    tolerance : float
        Absolute value of the function at which a case is finished and no longer changes, independent of others.
    miss : float
        Absolute value of the function above which the result is not a root: a jump, or a root not yet reached.

    Returns
    -------
    array
        The root; NaN where the bracket has no root, or the steps did not reach it. Never an end of the bracket instead.

    References
    ----------
    Dowell, M., Jarratt, P. (1971), A modified regula falsi method for computing the root of an equation, BIT 11,
    168-174 (from memory).
    """
    at_low, at_high = function(low), function(high)
    crosses = (at_low >= -tolerance) & (at_high <= tolerance)
    value = np.full(np.shape(at_high), np.inf)
    middle, done = high, np.zeros(np.shape(at_high), dtype=bool)
    stayed_high = stayed_low = done
    for _ in range(steps):
        gap, before = at_low - at_high, middle
        middle = np.where(gap > 0.0, low + (high - low) * at_low / np.where(gap > 0.0, gap, 1.0), middle)
        # With an infinite end the chord is useless and bisection is used. Without a crossing the chord leads outside.
        middle = np.clip(np.where(np.isfinite(middle), middle, 0.5 * (low + high)), low, high)
        middle = np.where(done, before, middle)
        value = function(middle)
        done = abs(value) <= tolerance
        if done.all():
            break
        above = value > 0.0
        # The value at an end that stays for a second time is halved, otherwise the other end would move too slowly.
        at_high = np.where(above, np.where(stayed_high, 0.5 * at_high, at_high), value)
        at_low = np.where(above, value, np.where(stayed_low, 0.5 * at_low, at_low))
        stayed_high, stayed_low = above, ~above
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(crosses & (abs(value) <= miss), middle, np.nan)
