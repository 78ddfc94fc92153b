"""The equivalent dose of laminar flow, and the flow that reaches one."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Array, Values, over_chunks, sum_over_nodes
from dosewright.core.light.doses.dose_distribution import (
    Distribution,
    in_laminar_flow,
    least_dose_flow,
    streamline_dose_flows,
)
from dosewright.core.light.doses.equivalent_dose import log_shares, red_of_doses, reduction_equivalent_dose
from dosewright.core.light.field import Field
from dosewright.core.light.survival import DoseResponse
from dosewright.core.root import falling_root

__all__ = ["flow_for_laminar_dose", "laminar_dose"]

_CHUNK: Final = 256
_CLOSE: Final = 1e-9  # ln of a RED over its target that is near enough
_FAR: Final = 20.0  # in the logarithm of a dose: far below any mean dose
_MISS: Final = 1e-6  # of a dose: a root farther off than this is none
_ROOT_STEPS: Final = 20


def laminar_dose(
    field: Field, power: Values, absorption: Values, flow: Values, response: DoseResponse | None
) -> tuple[Values, Values]:
    """RED in laminar flow without mixing, and the least dose of any streamline, in chunks.

    Parameters
    ----------
    field, power, absorption
        As in `streamline_dose_flows`.
    flow : float or array
        Flow. [m³/s]
    response : DoseResponse, optional
        Dose response of the organism; without one the RED is the least dose, that of an endlessly sensitive organism.

    Returns
    -------
    tuple of float or array
        [J/m²], [J/m²]

    Source
    ------
    Definition: the RED of the doses of `in_laminar_flow`.
    """

    def kernel(
        field: Field, power: Values, absorption: Values, flow: Values, response: DoseResponse | None
    ) -> tuple[Array, ...]:
        spread = in_laminar_flow(field, power, absorption, flow)
        least = least_dose_flow(field, power, absorption) / flow
        return (least if response is None else reduction_equivalent_dose(spread, response)), least

    red, least = over_chunks(kernel, _CHUNK, field, power, absorption, flow, response)
    return red, least


def flow_for_laminar_dose(
    field: Field, power: Values, absorption: Values, target: Values, response: DoseResponse | None
) -> Values:
    """Flow at which unmixed laminar flow gives a RED.

    Parameters
    ----------
    field, power, absorption
        As in `streamline_dose_flows`.
    target : float or array
        Required RED. [J/m²]
    response : DoseResponse, optional
        Dose response of the organism; without one, the lowest dose of a streamline meets the target. With a shoulder
        or a tail, the smaller of RED and mean dose is used.

    Returns
    -------
    float or array
        Flow; NaN where no flow gives it. [m³/s]

    Notes
    -----
    The RED falls as the flow rises, and is between the lowest and the highest dose of a streamline. The root is
    bracketed in the logarithm of the flow and narrowed by regula falsi (Illinois), whose steps are the same for one
    case as for many.

    Source
    ------
    Derived here: the root by `falling_root`.
    """

    def kernel(
        field: Field, power: Values, absorption: Values, target: Values, response: DoseResponse | None
    ) -> tuple[Array]:
        if response is None:
            return (least_dose_flow(field, power, absorption) / target,)
        products, shares = streamline_dose_flows(field, power, absorption)
        required, logs = np.log(target), log_shares(Distribution(products, shares, continuous=True))

        log_mean = np.log(sum_over_nodes(products * shares))

        def excess(log_flow: Array) -> Array:
            red = red_of_doses(products / np.exp(log_flow), logs, response)
            # After a shoulder all can survive, and at a floor the RED has no value. A far value replaces both,
            # so that a target there has no root.
            mean = log_mean - log_flow
            log_red = np.log(np.maximum(np.where(np.isnan(red), 1.0, red), np.exp(mean - _FAR)))
            return np.where(np.isnan(red), mean + _FAR, np.minimum(log_red, mean)) - required

        low, high = np.log(np.min(products, axis=0)) - required, log_mean - required
        return (np.exp(falling_root(excess, low, high, _ROOT_STEPS, _CLOSE, _MISS)),)

    return over_chunks(kernel, _CHUNK, field, power, absorption, target, response)[0]
