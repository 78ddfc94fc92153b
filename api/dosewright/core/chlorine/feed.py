"""Feeding a solution into running water."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

__all__ = ["feed_rate", "product_share"]


def feed_rate(flow: Values, dose: Values, strength: Values) -> Values:
    """Flow of solution that doses running water; or, for a volume of water, the volume of solution.

    Parameters
    ----------
    flow : float or array
        Flow of the water [m³/s], or its volume [m³].
    dose : float or array
        Chlorine to add to each volume [kg/m³].
    strength : float or array
        Available chlorine of the solution [kg/m³].

    Returns
    -------
    float or array
        Flow of solution [m³/s], or its volume [m³].

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Notes
    -----
    Q D/S: the flow of the solution is not added to the water's.

    Source
    ------
    Mass balance: the chlorine fed is the flow's dose.
    """
    refuse_unless_positive("flow", flow)
    refuse_unless_positive("dose", dose)
    refuse_unless_positive("strength", strength)
    return flow * dose / strength


def product_share(solution: Values, product: Values) -> Values:
    """Share of a liquid product in a solution diluted from it.

    Parameters
    ----------
    solution, product : float or array
        Available chlorine of both [kg/m³].

    Returns
    -------
    float or array
        Volume of product in a volume of solution [1].

    Raises
    ------
    ValueError
        The solution is stronger than the product, or a value is not finite and above zero.

    Source
    ------
    Mass balance: dilution keeps the chlorine.
    """
    refuse_unless_positive("solution strength", solution)
    refuse_unless_positive("product strength", product)
    share = solution / product
    # A value just above one is the rounding of a unit conversion.
    refuse_unless(share <= 1.0 + 1e-12, "a solution cannot be stronger than its product")
    return np.minimum(share, 1.0)
