"""Root of a falling function, case by case, in a fixed number of steps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from dosewright.core.arrays import Array

__all__ = ["falling_root"]


def falling_root(function: Callable[[Array], Array], low: Array, high: Array, steps: int) -> Array:
    """Narrow a bracket by regula falsi (Illinois), whose steps are the same for one case as for many.

    Parameters
    ----------
    function : callable
        Falls along its argument, each case by itself.
    low, high : array
        Where it is above zero, and below.
    steps : int
        How many; the error about squares from step to step once it is small.

    Returns
    -------
    array
        The root; an end of the bracket where it holds none.
    """
    at_low, at_high = function(low), function(high)
    middle = high
    for _ in range(steps):
        gap = at_low - at_high
        middle = np.where(gap > 0.0, low + (high - low) * at_low / np.where(gap > 0.0, gap, 1.0), middle)
        # Where an end is infinite the chord tells nothing, and halving does; without a crossing it leads outside.
        middle = np.clip(np.where(np.isfinite(middle), middle, 0.5 * (low + high)), low, high)
        value = function(middle)
        above = value > 0.0
        # The end that stays put counts half, or the other would crawl.
        at_high = np.where(above, 0.5 * at_high, value)
        at_low = np.where(above, value, 0.5 * at_low)
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return middle
