"""Output of a lamp over its hours, as a share of the new lamp's."""

from __future__ import annotations

from typing import Any

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

__all__ = ["exponential_ageing", "hours_to_factor", "interpolated_ageing"]


def exponential_ageing(time: Values, end_of_life: Values, end_factor: Values) -> Values:
    """Lamp ageing factor, falling exponentially to a known factor at the end of life.

    Parameters
    ----------
    time : float or array
        Burning time. [s]
    end_of_life : float or array
        Burning time at the end of life. [s]
    end_factor : float or array
        Ageing factor at the end of life. [-]

    Returns
    -------
    float or array
        end_factor^(time/end_of_life). [-]

    Raises
    ------
    ValueError
        A value is not possible.

    Source
    ------
    Common practice, no source: an exponential through the end of life that the caller names.
    """
    refuse_unless(time >= 0.0, "time must be zero or more")
    refuse_unless_positive("end of life", end_of_life)
    refuse_unless((end_factor > 0.0) & (end_factor <= 1.0), "end factor must be above 0 and at most 1")
    return np.exp(np.log(end_factor) * (time / end_of_life))


def hours_to_factor(factor: Values, end_of_life: Values, end_factor: Values) -> Values:
    """Burning time to an ageing factor: the inverse of `exponential_ageing`; infinite without ageing [s].

    Source
    ------
    Derived here: `exponential_ageing` solved for the time.
    """
    refuse_unless((factor > 0.0) & (factor <= 1.0), "factor must be above 0 and at most 1")
    with np.errstate(divide="ignore", invalid="ignore"):
        return end_of_life * (np.log(factor) / np.log(end_factor))


def interpolated_ageing(time: Values, times: tuple[float, ...], factors: tuple[float, ...]) -> Values:
    """Lamp ageing factor, linear between the points of a curve.

    Parameters
    ----------
    time : float or array
        Burning time. [s]
    times, factors : tuple of float
        Rising times and the ageing factor at each. [s], [-]

    Returns
    -------
    float or array
        Share; NaN outside the points. [-]

    Source
    ------
    Textbook method: linear interpolation between the caller's points.
    """
    inside = (np.asarray(time) >= times[0]) & (np.asarray(time) <= times[-1])
    share: Any = np.where(inside, np.interp(time, times, factors), np.nan)
    return share if np.ndim(share) else float(share)
