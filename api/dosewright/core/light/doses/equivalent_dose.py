"""The one dose with the same effect as a distribution of doses."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Array, sum_over_nodes
from dosewright.core.light.doses.dose_distribution import Distribution
from dosewright.core.light.survival import DoseResponse, dose_for_log_survival, log_survival

__all__ = ["log_mean_survival", "log_shares", "red_of_doses", "reduction_equivalent_dose"]


def log_mean_survival(distribution: Distribution, response: DoseResponse) -> Array:
    """Natural logarithm of the share of organisms that survives, over the whole flow.

    Notes
    -----
    The largest term is factored out before summing, so that even a very small result keeps its digits.

    Source
    ------
    Definition: mean survival, weighted by the flow.
    """
    return _log_mean_survival(distribution.doses, log_shares(distribution), response)


def log_shares(distribution: Distribution) -> Array:
    """Natural logarithm of the shares; minus infinity for a share of zero.

    Source
    ------
    Definition: natural logarithm.
    """
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(distribution.shares))


def _log_mean_survival(doses: Array, shares: Array, response: DoseResponse) -> Array:
    logs = shares + log_survival(doses, response)
    greatest = np.max(logs, axis=0)
    return greatest + np.log(sum_over_nodes(np.exp(logs - greatest)))


def reduction_equivalent_dose(distribution: Distribution, response: DoseResponse) -> Array:
    """Return the one dose with the same survival as the distribution (RED), for each case.

    Parameters
    ----------
    distribution : Distribution
        Doses and shares.
    response : DoseResponse
        Dose response of the organism.

    Returns
    -------
    array
        RED; NaN where only the response's floor survives. [J/m²]

    Notes
    -----
    The RED is at or below the mean dose if survival is convex over the doses that occur (first order, two groups). A
    shoulder can raise it above the mean dose.

    Source
    ------
    Definition: RED is the one dose with the mean survival of the distribution.
    """
    return red_of_doses(distribution.doses, log_shares(distribution), response)


def red_of_doses(doses: Array, logs: Array, response: DoseResponse) -> Array:
    """As `reduction_equivalent_dose`, of doses and `log_shares`: for roots in what the doses are multiplied by.

    Source
    ------
    Definition: as for `reduction_equivalent_dose`.
    """
    return np.asarray(dose_for_log_survival(np.minimum(_log_mean_survival(doses, logs, response), 0.0), response))
