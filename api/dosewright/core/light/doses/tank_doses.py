"""RED of equal mixed tanks in series for any dose response, and the mean dose that a RED needs."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Array, Values, over_chunks
from dosewright.core.light.doses import dose_distribution, equivalent_dose
from dosewright.core.light.doses.dose_distribution import FINE, STREAMLINES
from dosewright.core.light.survival import DoseResponse
from dosewright.core.root import falling_root

__all__ = ["mean_dose_needed", "reduction_equivalent_dose"]

_CHUNK: Final = 1024
_BELOW: Final = 6.0  # ln(RED / mean dose) at most, with a shoulder
_ABOVE: Final = 6.9  # ln(mean dose / RED) at most: a factor of 1000, up to which the nodes are accurate to 1e-5
_FAR: Final = 30.0  # ln of the factor between the mean dose and a RED without a value
_STEPS: Final = 40
_CLOSE: Final = 1e-9  # ln(RED / target) that is close enough
_MISS: Final = 1e-6  # ln(RED / target) that is no longer a root


def reduction_equivalent_dose(mean_dose: Values, response: DoseResponse, tanks: Values) -> Values:
    """RED of separate parcels of water that pass tanks in series.

    Parameters
    ----------
    mean_dose : float or array
        Mean dose. [J/m²]
    response : DoseResponse
        Dose response of the organism.
    tanks : float or array
        Number of tanks. [-]

    Returns
    -------
    float or array
        RED; NaN where only the response's floor survives. [J/m²]

    Notes
    -----
    Accurate to 1e-5. The gamma distribution is cut off far below the survival.

    Source
    ------
    Definition: the RED of the doses of `in_tanks`.
    """

    def kernel(mean: Values, response: DoseResponse, tanks: Values) -> tuple[Array]:
        return (_red(np.asarray(mean), response, tanks),)

    return over_chunks(kernel, _CHUNK, mean_dose, response, tanks)[0]


def mean_dose_needed(target: Values, response: DoseResponse, tanks: Values) -> Values:
    """Mean dose at which tanks in series give a RED: the inverse of `reduction_equivalent_dose`.

    Parameters
    ----------
    target : float or array
        Required RED. [J/m²]
    response : DoseResponse
        Dose response of the organism.
    tanks : float or array
        Number of tanks. [-]

    Returns
    -------
    float or array
        Mean dose; NaN where none up to a thousand times the target gives it. [J/m²]

    Notes
    -----
    The RED rises with the mean dose. The root is bracketed in its logarithm and narrowed by regula falsi (Illinois).

    Source
    ------
    Derived here: `reduction_equivalent_dose` solved for the mean dose by `falling_root`.
    """

    def kernel(target: Values, response: DoseResponse, tanks: Values) -> tuple[Array]:
        required = np.log(target)
        unit = dose_distribution.in_tanks(1.0, tanks, _nodes(response))
        logs = equivalent_dose.log_shares(unit)

        def excess(log_mean: Array) -> Array:
            red = equivalent_dose.red_of_doses(np.exp(log_mean) * unit.doses, logs, response)
            # After a shoulder all can survive, and at a floor the RED has no value. A far value replaces both.
            log_red = np.log(np.maximum(np.where(np.isnan(red), 1.0, red), np.exp(log_mean - _FAR)))
            return required - np.where(np.isnan(red), log_mean + _FAR, log_red)

        start = required + np.zeros(np.shape(excess(np.asarray(required))))
        low, high = start - _BELOW, start + _ABOVE
        return (np.exp(falling_root(excess, low, high, _STEPS, _CLOSE, _MISS)),)

    return over_chunks(kernel, _CHUNK, target, response, tanks)[0]


def _nodes(response: DoseResponse) -> int:
    """Nodes that a response needs: a shoulder bends the survival more sharply."""
    return STREAMLINES if response.convex else FINE


def _red(mean: Array, response: DoseResponse, tanks: Values) -> Array:
    spread = dose_distribution.in_tanks(mean, tanks, _nodes(response))
    return equivalent_dose.reduction_equivalent_dose(spread, response)
