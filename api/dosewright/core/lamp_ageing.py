"""Output of a lamp as it ages."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["ageing_factor"]


def ageing_factor(burning_time: Values, lamp_life: Values, end_factor: Values) -> Values:
    """Share of a new lamp's output that is left, falling exponentially to a stated share at the end of its life.

    Parameters
    ----------
    burning_time : float or ndarray
        Time burned since the lamp was new [s]; at least 0.
    lamp_life : float or ndarray
        Time at which the end factor is reached [s]; above 0.
    end_factor : float or ndarray
        Share left then [-]; above 0, at most 1.

    Returns
    -------
    float or ndarray
        Lamp ageing factor [-].

    Raises
    ------
    ValueError
        A value outside its range.

    Notes
    -----
    ``end_factor ** (burning_time / lamp_life)``; beyond the lamp's life the curve goes on falling, which no data sheet
    promises.
    """
    refuse_unless(np.greater_equal(burning_time, 0.0), "burning_time must be at least 0")
    refuse_unless(np.greater(lamp_life, 0.0), "lamp_life must be above 0")
    refuse_unless(np.greater(end_factor, 0.0) & np.less_equal(end_factor, 1.0), "end_factor must be above 0, at most 1")
    return np.exp(np.log(end_factor) * burning_time / lamp_life)
