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
        How many at most; the error about squares from step to step once it is small.
    tolerance : float
        Value of the function, either way, at which a case is done and stays where it is, whatever the others still do.
    miss : float
        Value of the function, either way, beyond which what was found is no root: a jump, or one not yet reached.

    Returns
    -------
    array
        The root; NaN where the bracket holds none, or none was found: never an end of it in place of one.
    """
    at_low, at_high = function(low), function(high)
    crosses = (at_low >= -tolerance) & (at_high <= tolerance)
    value = np.full(np.shape(at_high), np.inf)
    middle, done = high, np.zeros(np.shape(at_high), dtype=bool)
    stayed_high = stayed_low = done
    for _ in range(steps):
        gap, before = at_low - at_high, middle
        middle = np.where(gap > 0.0, low + (high - low) * at_low / np.where(gap > 0.0, gap, 1.0), middle)
        # Where an end is infinite the chord tells nothing, and halving does; without a crossing it leads outside.
        middle = np.clip(np.where(np.isfinite(middle), middle, 0.5 * (low + high)), low, high)
        middle = np.where(done, before, middle)
        value = function(middle)
        done = abs(value) <= tolerance
        if done.all():
            break
        above = value > 0.0
        # An end that stays put for a second time counts half, or the other would crawl.
        at_high = np.where(above, np.where(stayed_high, 0.5 * at_high, at_high), value)
        at_low = np.where(above, value, np.where(stayed_low, 0.5 * at_low, at_low))
        stayed_high, stayed_low = above, ~above
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(crosses & (abs(value) <= miss), middle, np.nan)
