"""Darcy friction factor of a round pipe, from laminar to fully rough flow."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dosewright.core.arrays import Values, refuse_unless

__all__ = [
    "HIGHEST_RELATIVE_ROUGHNESS",
    "HIGHEST_REYNOLDS_NUMBER",
    "REGIMES",
    "TRANSITION_ENDS_AT",
    "TRANSITION_STARTS_AT",
    "flow_regime",
    "friction_factor",
    "laminar_annulus_constant",
]

TRANSITION_STARTS_AT: Final = 2000.0
"""Reynolds number below which the flow is taken as laminar. [-]"""

TRANSITION_ENDS_AT: Final = 4000.0
"""Reynolds number from which the flow is taken as turbulent. [-]"""

HIGHEST_REYNOLDS_NUMBER: Final = 1e8
"""End of Moody's chart. [-]"""

HIGHEST_RELATIVE_ROUGHNESS: Final = 0.05
"""End of Moody's chart: roughness over bore. [-]"""

REGIMES: Final = ("laminar", "transition", "turbulent")
"""Names of the codes that `flow_regime` gives."""

# With u = ln(10)/2 / sqrt(f) and s = r + u the Colebrook-White equation reads s + ln s = z, z = r + ln(Re * _SMOOTH),
# r = Re e/D * _ROUGH.
_HALF_LN_10: Final = 1.151292546497022842
_SMOOTH: Final = _HALF_LN_10 / 2.51
_ROUGH: Final = _HALF_LN_10 / (3.7 * 2.51)
# First guess of ln s: _HIGH - _FALL/(z + _SHIFT), fitted for the smallest error after the next step.
_HIGH: Final = 5.387
_FALL: Final = 105.81
_SHIFT: Final = 21.73


def flow_regime(reynolds_number: Values) -> int | NDArray[np.int8]:
    """Tell laminar, transition and turbulent flow apart.

    Parameters
    ----------
    reynolds_number : float or array
        Reynolds number on the bore. [-]

    Returns
    -------
    int or array
        Index into `REGIMES`: 0 below 2000, 1 from there to below 4000, 2 from 4000. [-]

    Source
    ------
    Common practice, no source: laminar below 2000, turbulent from 4000.

    Examples
    --------
    >>> REGIMES[flow_regime(2300.0)]
    'transition'
    """
    started, ended = reynolds_number >= TRANSITION_STARTS_AT, reynolds_number >= TRANSITION_ENDS_AT
    if isinstance(reynolds_number, float):
        return int(started) + int(ended)
    return np.add(started, ended, dtype=np.int8)


def _turbulent(reynolds_number: Values, relative_roughness: Values) -> Values:
    # In place, and u apart from s: on a million rows memory costs more than arithmetic, and in rough pipe u is the
    # small difference of large numbers.
    u = np.log(reynolds_number * _SMOOTH)
    s = reynolds_number * (relative_roughness * _ROUGH)
    s += u
    off = s + _SHIFT
    off = _HIGH - _FALL / off
    s -= off
    u = u - off
    off -= np.log(s)
    # The step s q (w - q/2)/((1 + s) (w - q)), w = (1 + s) (1 + s + 2 q/3), has an error of order q^4.
    p = 1.0 + s
    w = off * (2.0 / 3.0)
    w += p
    w *= p
    s *= off
    p *= w - off
    off *= 0.5
    w -= off
    s *= w
    s /= p
    u += s
    root = _HALF_LN_10 / u
    root *= root
    return root


def _below_turbulent(reynolds_number: Values, turbulent_end: Values) -> Values:
    # Shares of exactly 0 and 1 at the ends: a laminar case keeps its own value to the bit.
    span = TRANSITION_ENDS_AT - TRANSITION_STARTS_AT
    share = np.maximum((reynolds_number - TRANSITION_STARTS_AT) / span, 0.0)
    laminar_end = 64.0 / np.minimum(reynolds_number, TRANSITION_STARTS_AT)
    return (1.0 - share) * laminar_end + share * turbulent_end


def friction_factor(reynolds_number: Values, relative_roughness: Values) -> Values:
    """Darcy friction factor of a round pipe.

    Parameters
    ----------
    reynolds_number : float or array
        Reynolds number on the bore. [-]
    relative_roughness : float or array
        Absolute roughness of the wall over the bore. [-]

    Returns
    -------
    float or array
        Darcy friction factor (four times Fanning's). [-]

    Raises
    ------
    ValueError
        A Reynolds number is not above zero or passes 1e8, or a relative roughness is outside 0 to 0.05: the range of
        Moody's chart.

    Notes
    -----
    Below Re 2000 laminar, 64/Re. From Re 4000 up the Colebrook-White equation,
    1/sqrt(f) = -2 log10(e/(3.7 D) + 2.51/(Re sqrt(f))), as s + ln s = z by one fourth-order step (Fritsch, Shafer and
    Crowley) from a start so close that it is within 3e-13, relative, anywhere in the range. It is always one step: a
    case gives the same bits alone and among others.

    Between Re 2000 and 4000 the flow is unsteady and no formula is exact. By convention the friction factor runs
    straight in Re from the laminar value at 2000 to the turbulent one at 4000.

    References
    ----------
    C. F. Colebrook (1939), Turbulent flow in pipes, with particular reference to the transition region between the
    smooth and rough pipe laws, Journal of the Institution of Civil Engineers 11(4), 133-156,
    doi:10.1680/ijoti.1939.13150.
    F. N. Fritsch, R. E. Shafer, W. P. Crowley (1973), Solution of the transcendental equation w e^w = x, Communications
    of the ACM 16(2), 123-124 (from memory).
    L. F. Moody (1944), Friction factors for pipe flow, Transactions of the ASME 66(8), 671-684.

    Examples
    --------
    >>> round(float(friction_factor(1e5, 1e-4)), 8)
    0.01851387
    """
    refuse_unless(
        (reynolds_number > 0.0) & (reynolds_number <= HIGHEST_REYNOLDS_NUMBER),
        "Reynolds number must be above 0 and not above 1e8",
    )
    refuse_unless(
        (relative_roughness >= 0.0) & (relative_roughness <= HIGHEST_RELATIVE_ROUGHNESS),
        "relative roughness must be within 0 to 0.05",
    )
    turbulent = reynolds_number >= TRANSITION_ENDS_AT
    if turbulent is True or np.all(turbulent):
        return _turbulent(reynolds_number, relative_roughness)
    factor = _turbulent(np.maximum(reynolds_number, TRANSITION_ENDS_AT), relative_roughness)
    if not isinstance(factor, np.ndarray):
        return _below_turbulent(reynolds_number, factor)
    slow = np.broadcast_to(reynolds_number, factor.shape)
    rows = np.nonzero(slow < TRANSITION_ENDS_AT)
    factor[rows] = _below_turbulent(slow[rows], factor[rows])
    return factor


def laminar_annulus_constant(radius_ratio: Values) -> Values:
    """Darcy friction factor times Reynolds number of laminar flow between two concentric cylinders.

    Parameters
    ----------
    radius_ratio : float or array
        Inner over outer radius. [-]

    Returns
    -------
    float or array
        f Re, both on the hydraulic diameter (outer less inner diameter); 64 for a pipe, 96 for a narrow gap. [-]

    Raises
    ------
    ValueError
        A ratio is not between 0 and 1.

    Notes
    -----
    64 (1 - k)² / (1 + k² + (1 - k²)/ln k), exact for fully developed flow. The difference loses digits as the gap
    closes: 1e-10 relative at a ratio of 0.99, 1e-4 at 0.9999.

    References
    ----------
    F. M. White, Fluid Mechanics, section 6.8 and table 6.3.

    Examples
    --------
    >>> round(float(laminar_annulus_constant(0.1)), 2)
    89.37
    """
    refuse_unless((radius_ratio > 0.0) & (radius_ratio < 1.0), "radius ratio must be between 0 and 1")
    square = radius_ratio * radius_ratio
    gap = 1.0 - radius_ratio
    return 64.0 * gap * gap / (1.0 + square + (1.0 - square) / np.log(radius_ratio))
