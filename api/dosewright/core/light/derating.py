"""The flow that still delivers a target dose: from the chamber's physics, or from rated points."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless

__all__ = ["flow_for_mean_dose", "flow_from_rated_point", "interpolated_dose_flow"]


def flow_for_mean_dose(mean_fluence_rate: Values, volume: Values, mean_dose: Values) -> Values:
    """Flow at which a chamber gives a mean dose.

    Parameters
    ----------
    mean_fluence_rate : float or array
        Fluence rate averaged over the water volume. [W/m²]
    volume : float or array
        Water volume. [m³]
    mean_dose : float or array
        Mean dose; for a target on the RED, the result of `dose.mean_dose_needed`. [J/m²]

    Returns
    -------
    float or array
        mean_fluence_rate volume/mean_dose. [m³/s]

    Raises
    ------
    ValueError
        The mean dose is not above zero.

    Source
    ------
    Definition: mean dose is mean fluence rate x volume / flow, solved for the flow.
    """
    refuse_unless(mean_dose > 0.0, "mean dose must be above zero")
    return mean_fluence_rate * volume / mean_dose


def flow_from_rated_point(
    rated_flow: Values, rated_dose: Values, target_dose: Values, fluence_rate_ratio: Values, output_ratio: Values
) -> Values:
    """Flow for a target dose, scaled from one rated point.

    Parameters
    ----------
    rated_flow, rated_dose : float or array
        Flow of the rated point, and its rated dose. [m³/s], [J/m²]
    target_dose : float or array
        Required dose. [J/m²]
    fluence_rate_ratio : float or array
        Chamber average of the fluence rate in the present water, divided by that in the rated water. [-]
    output_ratio : float or array
        Present lamp ageing factor times sleeve fouling factor, divided by those of the rated point. [-]

    Returns
    -------
    float or array
        Flow. [m³/s]

    Raises
    ------
    ValueError
        A value is not above zero.

    Notes
    -----
    Dose is assumed proportional to fluence rate / flow: the same hydraulics at both flows, the same dose
    distribution about its mean, the same optics. UV-C output and sleeve transmittance cancel.

    Source
    ------
    Derived here: from dose in proportion to fluence rate over flow.
    """
    for value, name in (
        (rated_flow, "rated flow"),
        (rated_dose, "rated dose"),
        (target_dose, "target dose"),
        (fluence_rate_ratio, "fluence rate ratio"),
        (output_ratio, "output ratio"),
    ):
        refuse_unless((value > 0.0) & (value < np.inf), f"{name} must be above zero, and finite")
    return rated_flow * (rated_dose / target_dose) * fluence_rate_ratio * output_ratio


def interpolated_dose_flow(absorption: Values, rated_absorption: Array, rated_dose_flow: Array) -> Values:
    """Dose times flow at full output, between rated points.

    Parameters
    ----------
    absorption : float or array
        Absorption coefficient of the present water, base e. [1/m]
    rated_absorption : array
        Absorption coefficients of the rated points, along the last axis; in any order. [1/m]
    rated_dose_flow : array
        Dose times flow, divided by the lamp ageing and sleeve fouling factors, at each point. [W·m]

    Returns
    -------
    float or array
        Dose times flow, divided by the factors. [W·m]

    Raises
    ------
    ValueError
        Fewer than two points, two at one absorption with different products, a product that is not above zero or does
        not fall as absorption rises, or an absorption outside the points.

    Notes
    -----
    The reciprocal is linear in absorption between neighbours. It underestimates by up to about 5 % between points at a
    UVT of 70 and 95 % per cm, and overestimates by at most 0.5 %. The product itself, or its logarithm, would
    overestimate by up to 32 and 13 %, which is unsafe. Both figures are from random chambers of household size,
    calculated for Dosewright.

    Source
    ------
    Derived here: the chord and its error are in the notes.
    """
    if rated_absorption.ndim == 0 or rated_absorption.shape[-1] < 2:
        raise ValueError("at least two rated points are needed")
    given, products = np.broadcast_arrays(rated_absorption, rated_dose_flow)
    order = np.argsort(given, axis=-1)
    along = np.take_along_axis(given, order, axis=-1)
    products = np.take_along_axis(products, order, axis=-1)
    refuse_unless((products > 0.0) & (products < np.inf), "dose times flow of a rated point must be above zero")
    same = (along[..., 1:] == along[..., :-1]) & (products[..., 1:] == products[..., :-1])
    refuse_unless(
        same | (along[..., 1:] > along[..., :-1]), "two rated points of one transmittance must have one dose times flow"
    )
    refuse_unless(
        same | (products[..., 1:] < products[..., :-1]),
        "dose times flow of the rated points must fall as absorption rises",
    )
    refuse_unless(
        (absorption >= along[..., 0]) & (absorption <= along[..., -1]), "the water must be between the rated points"
    )
    reciprocals = 1.0 / products
    answer = reciprocals[..., 0]
    for index in range(along.shape[-1] - 1):
        start, height = along[..., index], reciprocals[..., index]
        width = along[..., index + 1] - start
        slope = (reciprocals[..., index + 1] - height) / np.where(width > 0.0, width, 1.0)
        answer = np.where(absorption > start, height + slope * (absorption - start), answer)
    return 1.0 / (answer if np.ndim(answer) else float(answer))
