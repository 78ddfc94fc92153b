"""Draws of uncertain values from standard ones, and what many draws come to."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless

__all__ = ["log_normal", "logit_normal", "summary"]


def log_normal(value: Values, relative_uncertainty: Values, normal: Array) -> Array:
    """Draws above zero with a given mean and relative standard uncertainty.

    Parameters
    ----------
    value : float or array
        Mean. [any]
    relative_uncertainty : float or array
        Standard deviation over the mean. [-]
    normal : array
        Standard normal draws. [-]

    Returns
    -------
    array
        value exp(s z - s²/2) with s² = ln(1 + relative_uncertainty²). [any]

    Source
    ------
    Textbook form: the log-normal distribution by its mean and relative standard deviation.
    """
    refuse_unless(value > 0.0, "value must be above zero")
    square = np.log1p(relative_uncertainty * relative_uncertainty)
    return value * np.exp(np.sqrt(square) * normal - 0.5 * square)


def logit_normal(value: Values, relative_uncertainty: Values, normal: Array) -> Array:
    """Draws between 0 and 1 about a share.

    Parameters
    ----------
    value : float or array
        Median. [-]
    relative_uncertainty : float or array
        Standard deviation over the value, for small ones. [-]
    normal : array
        Standard normal draws. [-]

    Returns
    -------
    array
        1/(1 + (1 - value)/value exp(-s z)) with s = relative_uncertainty/(1 - value). [-]

    Source
    ------
    Derived here: a normal draw on the logit, its scale from the slope of the logit at the share.
    """
    refuse_unless((value > 0.0) & (value < 1.0), "share must be between 0 and 1")
    scale = relative_uncertainty / (1.0 - value)
    return 1.0 / (1.0 + (1.0 - value) / value * np.exp(-scale * normal))


def summary(draws: Array, tail: float) -> tuple[float, float, float, float]:
    """Mean, standard deviation, and the draws with a given share outside them on either side.

    Parameters
    ----------
    draws : array
        One case's draws. [any]
    tail : float
        Share outside each end. [-]

    Returns
    -------
    tuple of float
        Mean, standard deviation, lower end, upper end. [any]

    Source
    ------
    Definition: mean, sample standard deviation and quantiles.
    """
    low, high = np.quantile(draws, (tail, 1.0 - tail))
    return float(np.mean(draws)), float(np.std(draws, ddof=1)), float(low), float(high)
