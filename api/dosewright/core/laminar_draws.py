"""Laminar flow of one chamber in water of many absorptions: worked out at a few, interpolated between them.

Draws of an uncertain UVT number in the thousands, and the light along 14 radii is a smooth function of the absorption.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from dosewright.core import dose_distribution
from dosewright.core.arrays import Array, Values
from dosewright.core.dose_distribution import Distribution
from dosewright.core.field import Field
from dosewright.core.survival import DoseResponse

__all__ = ["WIDEST", "LaminarDraws", "laminar_draws"]

WIDEST: Final = 4.0
"""Greatest span of absorption times gap that is interpolated to 1e-6."""

_KNOTS: Final = 16
_CHUNK: Final = 2048


class LaminarDraws(NamedTuple):
    """RED and flow for the target, draw by draw.

    Attributes
    ----------
    reduction_equivalent_dose : array
        NaN where only the floor of the response is left. [J/m²]
    flow : array
        Flow that gives the target; NaN where none does. [m³/s]
    """

    reduction_equivalent_dose: Array
    flow: Array


def laminar_draws(
    field: Field, power: Values, absorption: Array, flow: Values, target: float, response: DoseResponse
) -> LaminarDraws:
    """RED in laminar flow without mixing, and the flow for a target, of one chamber in many waters.

    Parameters
    ----------
    field : Field
        Lamp and chamber, the same for all draws: floats only.
    power : float or array
        UV-C output of the lamp before the sleeve. [W]
    absorption : array
        Absorption coefficient of the water, base e, one a draw. [1/m]
    flow : float or array
        Flow. [m³/s]
    target : float
        RED wanted. [J/m²]
    response : DoseResponse
        Dose response of the organism: floats only.

    Returns
    -------
    LaminarDraws
        One value a draw.

    Notes
    -----
    For spans of absorption up to `WIDEST` over the gap. Doses are proportional to power over flow; the logarithm of
    each streamline's dose, and that of the flow for the target, is the polynomial in the absorption through its values
    at 16 Chebyshev points of the span drawn.
    """
    middle, half = 0.5 * (np.max(absorption) + np.min(absorption)), 0.5 * np.ptp(absorption)
    places = np.cos(np.pi * (np.arange(_KNOTS) + 0.5) / _KNOTS)
    knots = middle + half * places
    products, shares = dose_distribution.streamline_dose_flows(field, 1.0, knots)
    logs = np.log(products)
    flows = np.log(np.asarray(dose_distribution.flow_for_laminar_dose(field, 1.0, knots, target, response)))
    here = (absorption - middle) / half if half > 0.0 else np.zeros_like(absorption)
    strength = np.broadcast_to(np.asarray(power / flow), absorption.shape)
    red, unit = np.empty_like(absorption), np.empty_like(absorption)
    for start in range(0, absorption.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        weights = _weights(places, here[part])
        light, speed = weights[0] * logs[:, :1], weights[0] * flows[0]
        for knot in range(1, _KNOTS):
            light += weights[knot] * logs[:, knot : knot + 1]
            speed += weights[knot] * flows[knot]
        spread = Distribution(np.exp(light) * strength[part], shares[:, :1], continuous=True)
        red[part] = dose_distribution.reduction_equivalent_dose(spread, response)
        unit[part] = np.exp(speed)
    return LaminarDraws(red, power * unit)


def _weights(places: Array, here: Array) -> Array:
    """Weight of each knot at each draw, by the barycentric formula of Chebyshev's points of the first kind."""
    signs = np.sin(np.pi * (np.arange(_KNOTS) + 0.5) / _KNOTS) * (-1.0) ** np.arange(_KNOTS)
    apart = here - places[:, None]
    on = apart == 0.0
    parts = signs[:, None] / np.where(on, 1.0, apart)
    parts = np.where(np.any(on, axis=0), 1.0 * on, parts)
    return parts / np.sum(parts, axis=0)
