"""Contact time: published regressions, segments in sequence, and what reaches a target."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dosewright.core.arrays import Array, Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive
from dosewright.core.constants import CELSIUS_ZERO, ROUNDING

__all__ = [
    "LAMINAR_T10",
    "RowSolution",
    "contact_time",
    "profiling_regression",
    "residual_for_rows",
    "rising_root",
    "smith_regression",
]

LAMINAR_T10: Final = 0.5 / 0.9**0.5
"""T10 over the mean time in laminar pipe flow without mixing: F(t) = 1 - (T/2t)^2 is a tenth at this share."""

_HALVINGS: Final = 64

_WARM: Final = 12.5


def smith_regression(log: Values, temperature: Values, ph: Values, residual: Values) -> Values:
    """CT for Giardia by free chlorine, after Smith, Clark and others.

    Parameters
    ----------
    log : float or array
        Log inactivation [1].
    temperature : float or array
        Water temperature [K].
    ph : float or array
        pH [1].
    residual : float or array
        Free chlorine [kg/m³].

    Returns
    -------
    float or array
        CT [mg·min/L].

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Notes
    -----
    0.2828 pH^2.69 C^0.15 0.933^(t - 5) L, C in mg/L, t in °C. Over the 588 cells of the regulation's table, 0.5 to
    25 °C, pH 6 to 9, 0.4 to 3 mg/L, its error is from 11 % below to 8 % above, and it is below in nearly half of them.

    References
    ----------
    Smith, D. B., Clark, R. M., Pierce, B. K., Regli, S., 1995. An empirical model for interpolating C·t values for
    chlorine inactivation of Giardia lamblia. Aqua 44(5), 203-211. Digits read second hand.
    """
    for name, value in (("log", log), ("temperature", temperature), ("pH", ph), ("residual", residual)):
        refuse_unless_positive(name, value)
    celsius = temperature - CELSIUS_ZERO
    cold = np.exp(np.log(0.933) * (celsius - 5.0))
    return 0.2828 * np.power(ph, 2.69) * np.power(residual * 1e3, 0.15) * cold * log


def profiling_regression(log: Values, temperature: Values, ph: Values, residual: Values) -> Values:
    """CT for Giardia by free chlorine, after the EPA's manual on disinfection profiling and benchmarking.

    Parameters
    ----------
    log, temperature, ph, residual : float or array
        As for `smith_regression`.

    Returns
    -------
    float or array
        CT [mg·min/L].

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Notes
    -----
    Below 12.5 °C 0.353 L (12.006 + exp(2.46 - 0.073 t + 0.125 C + 0.389 pH)), from there on
    0.361 L (-2.261 + exp(2.69 - 0.065 t + 0.111 C + 0.361 pH)); C in mg/L, t in °C. It is above every one of the 588
    cells, by up to 17 %.

    References
    ----------
    EPA, 2020. Disinfection profiling and benchmarking: technical guidance manual. EPA 815-R-20-003, appendix; also in
    the manuals of 1999 and 2003. Digits from memory.
    """
    for name, value in (("log", log), ("temperature", temperature), ("pH", ph), ("residual", residual)):
        refuse_unless_positive(name, value)
    celsius, milligrams = temperature - CELSIUS_ZERO, residual * 1e3
    cold = 0.353 * log * (12.006 + np.exp(2.46 - 0.073 * celsius + 0.125 * milligrams + 0.389 * ph))
    warm = 0.361 * log * (-2.261 + np.exp(2.69 - 0.065 * celsius + 0.111 * milligrams + 0.361 * ph))
    chosen: Values = np.where(celsius < _WARM, cold, warm)[()]
    return chosen


def contact_time(volume: Values, baffling_factor: Values, flow: Values) -> Values:
    """Time that 90 % of the water stays at least (T10), from a baffling factor.

    Parameters
    ----------
    volume : float or array
        Water in the segment at its lowest [m³].
    baffling_factor : float or array
        Baffling factor, above 0 and at most 1 [1].
    flow : float or array
        Highest flow [m³/s].

    Returns
    -------
    float or array
        Contact time [s].

    Raises
    ------
    ValueError
        A value is out of range.

    Source
    ------
    Definition: the baffling factor is T10 over the mean time, volume / flow.
    """
    refuse_unless((volume >= 0.0) & (volume < np.inf), "volume must be finite and at least 0")
    refuse_unless((baffling_factor > 0.0) & (baffling_factor <= 1.0), "baffling factor must be above 0 and at most 1")
    refuse_unless_positive("flow", flow)
    return volume * baffling_factor / flow


class RowSolution(NamedTuple):
    """The residual that reaches a target under the guidance's rule.

    Attributes
    ----------
    residual : float or array
        Lowest residual above which the target is always met, up to the table's end; not a number without one [kg/m³].
    reached : bool or array of bool
        Whether that residual exists.
    """

    residual: Values
    reached: NDArray[np.bool_] | np.bool_


def residual_for_rows(marks: Array, needed: list[Values]) -> RowSolution:
    """Lowest residual above which a target is always met, where the required CT rises in steps with the residual.

    Parameters
    ----------
    marks : array
        Residuals of the table's rows, rising [kg/m³].
    needed : list of float or array
        For each row the residual required if its CT applied everywhere, not falling from row to row [kg/m³].

    Returns
    -------
    RowSolution
        The solution.

    Notes
    -----
    A row applies to residuals above the row before it. Just above a mark the required CT steps up, so a residual that
    is enough at the mark can be too low just above it. The residual in the answer is enough, and so is every larger
    residual in the table.

    Source
    ------
    Derived here: row by row, with the rule of the notes.
    """
    # Where no CT is required, a residual of zero is enough.
    answer: Values = 0.0 * needed[0]
    reached: NDArray[np.bool_] | np.bool_ = np.isfinite(answer)
    start = 0.0
    for mark, need in zip(marks, needed, strict=True):
        falls_short = need > start
        fits = need <= mark * (1.0 + ROUNDING)
        answer = np.where(falls_short, np.where(fits, need, np.nan), answer)
        reached = np.where(falls_short, fits, reached)
        start = float(mark)
    found: Values = np.asarray(answer)[()]
    return RowSolution(found, np.asarray(reached)[()])


def rising_root(function: Callable[[Values], Values], low: Values, high: Values) -> Values:
    """Smallest argument at which a rising function reaches one.

    Parameters
    ----------
    function : callable
        Elementwise and not falling.
    low, high : float or array
        Bounds of the root.

    Returns
    -------
    float or array
        The upper end of the last of 64 halvings.

    Source
    ------
    Textbook method: halving the bracket.
    """
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        over = function(middle) >= 1.0
        low, high = np.where(over, low, middle)[()], np.where(over, middle, high)[()]
    return high
