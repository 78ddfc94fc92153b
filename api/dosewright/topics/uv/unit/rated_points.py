"""Rated points from a data sheet: whether they agree, and interpolation between them."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.hydraulics import annulus
from dosewright.core.light import derating, dose
from dosewright.core.light.field import Field
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.ultraviolet import plausible_limit
from dosewright.topics.uv.contracts.unit import RatedPoint

__all__ = ["Interpolated", "between_points", "check_rated_points", "warn_far_scaling", "warn_rated_flow"]

Point = RatedPoint[Numbers]


class Interpolated(NamedTuple):
    """The rated point in the next clearer water, and the share of its dose times flow in this water.

    Attributes
    ----------
    rated_flow, dose, lamp_ageing_factor, sleeve_fouling_factor : float or array
        Of that point. [m³/s], [J/m²], [-], [-]
    share : float or array
        Dose times flow over the factors, in this water over that point's. [-]
    darker_share : float or array
        The same of the rated point in the next darker water, which this water does not fall below. [-]
    """

    rated_flow: Numbers
    dose: Numbers
    lamp_ageing_factor: Numbers
    sleeve_fouling_factor: Numbers
    share: Numbers
    darker_share: Numbers


def _dose_flow(point: Point) -> Numbers:
    return point.dose * point.rated_flow / (point.lamp_ageing_factor * point.sleeve_fouling_factor)


def check_rated_points(points: Sequence[Point], uvt: Numbers, notes: Notes) -> None:
    """Refuse points at one UVT, points that contradict each other, and water outside two or more points."""
    if len(points) < 2:
        return
    for second, point in enumerate(points):
        for other in points[:second]:
            same = point.uvt == other.uvt
            message = "Two rated points have the same UVT. Keep the one for the target dose."
            notes.refuse("rated_points_contradict", f"rated_points/{second}/uvt", message, when=same)
            rises = (point.uvt - other.uvt) * (_dose_flow(point) - _dose_flow(other)) <= 0.0
            message = (
                "Dose x flow, divided by the ageing and fouling factors, must rise with UVT from point to point. "
                "Check the figures, and the factors of each point."
            )
            field = f"rated_points/{second}/rated_flow"
            notes.refuse("rated_points_contradict", field, message, when=rises & np.logical_not(same))
    lowest: Any = points[0].uvt
    highest: Any = points[0].uvt
    for point in points[1:]:
        lowest, highest = np.minimum(lowest, point.uvt), np.maximum(highest, point.uvt)
    message = (
        "The UVT is outside the rated points, where nothing is known of the unit. Ask the maker for a point "
        "there, or enter one rated point and the chamber."
    )
    outside = (uvt < lowest) | (uvt > highest)
    allowed = "a UVT between the lowest and the highest of the rated points"
    notes.refuse("outside_rated_points", "uvt", message, when=outside, allowed=allowed)


def between_points(points: Sequence[Point], uvt: Numbers) -> Interpolated:
    """Interpolate between rated points that agree."""
    absorption = dose.absorption_coefficient(uvt, CENTIMETRE)
    rated = _along([dose.absorption_coefficient(point.uvt, CENTIMETRE) for point in points])
    products = _along([_dose_flow(point) for point in points])
    here = derating.interpolated_dose_flow(absorption, rated, products)
    this = np.expand_dims(absorption, -1)
    nearest = np.argmax(np.where(rated <= this, rated, -np.inf), axis=-1)
    darker = np.argmin(np.where(rated >= this, rated, np.inf), axis=-1)

    def of_nearest(values: Any, which: Any = nearest) -> Any:
        shape = np.broadcast_shapes(values.shape, (*which.shape, 1))
        picked = np.take_along_axis(np.broadcast_to(values, shape), which[..., None], axis=-1)[..., 0]
        return picked if picked.ndim else float(picked)

    return Interpolated(
        of_nearest(_along([point.rated_flow for point in points])),
        of_nearest(_along([point.dose for point in points])),
        of_nearest(_along([point.lamp_ageing_factor for point in points])),
        of_nearest(_along([point.sleeve_fouling_factor for point in points])),
        here / of_nearest(products),
        np.minimum(of_nearest(products, darker), here) / of_nearest(products),
    )


def warn_far_scaling(share: Numbers, notes: Notes) -> None:
    """Warn if the water is so much darker than the rated water that the mean no longer represents the RED."""
    least = plausible_limit("darker_water_share")
    message = (
        f"The mean fluence rate in this water is below {least:.0%} of that in the rated water. In darker water "
        "the light is less even, and the RED falls faster than the mean that scales the flow. The derated flow "
        "is overestimated. Ask the maker for a rated point near this UVT, or treat the water to make it clearer."
    )
    notes.warn("scaled_to_darker_water", "uvt", message, when=share < least)


def warn_rated_flow(point: Point, chamber: Field, notes: Notes) -> None:
    """Warn if the rated flow is too high for a chamber of these sizes."""
    velocity = annulus.mean_velocity(point.rated_flow, chamber.bore_radius, chamber.sleeve_radius)
    stay = dose.residence_time(chamber.volume, point.rated_flow)
    fastest, shortest = plausible_limit("rated_velocity"), plausible_limit("rated_residence_time")
    check = "Check its unit, and whether flow and chamber are of the same UV unit."
    message = (
        f"The water would pass the sleeve at more than {fastest:g} m/s, above any limit published for pipes. No "
        f"such chamber can have this rated flow. {check}"
    )
    field = "rated_points.0.rated_flow"
    notes.warn("rated_flow_too_fast", field, message, when=velocity > fastest)
    message = f"The water would stay for less than {shortest:g} s, too short for any rated dose. {check}"
    notes.warn("rated_residence_time_too_short", field, message, when=stay < shortest)


def _along(values: Sequence[Numbers]) -> Any:
    """Stack one value per point along a last axis."""
    return np.stack(np.broadcast_arrays(*values), axis=-1)
