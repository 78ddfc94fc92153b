"""Amounts rounded up to the marks of household measures."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless
from dosewright.core.constants import ROUNDING

__all__ = ["round_up_to_step"]

# An amount this share of a step above a mark is treated as that mark: it is the rounding of a unit conversion.


def round_up_to_step(amount: Values, least: Array, step: Array) -> Values:
    """Round amounts up to the next mark of a measure whose marks grow coarser with the amount.

    Parameters
    ----------
    amount : float or array
        Required amount, at least 0 [any unit].
    least : array
        Smallest amount at which each step is used, rising from 0 [same unit].
    step : array
        Distance between marks from there on, one for each entry of `least` [same unit].

    Returns
    -------
    float or array
        The smallest mark that is at least the amount (within 1e-9 of a step), the first one for tiny amounts
        [same unit].

    Raises
    ------
    ValueError
        An amount is below zero or not finite, or `least` does not rise from 0.

    Notes
    -----
    Where each `least` is a whole number of the steps on both its sides, a larger amount never rounds to a smaller mark.

    Source
    ------
    Definition: the next mark at or above an amount.
    """
    if least[0] != 0.0 or not (least[1:] > least[:-1]).all():
        raise ValueError("the starts of the steps must rise from 0")
    refuse_unless((amount >= 0.0) & (amount < np.inf), "amount must be finite and at least 0")
    size = step[least.searchsorted(amount, side="right") - 1]
    return np.maximum(np.ceil(amount / size - ROUNDING), np.where(amount > 0.0, 1.0, 0.0)[()]) * size
