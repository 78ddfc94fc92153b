"""Rated points from a data sheet: whether they agree, and what they support in this water."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.arrays import Array
from dosewright.core.constants import CENTIMETRE
from dosewright.core.hydraulics import annulus
from dosewright.core.light import derating, dose
from dosewright.core.light.field import Field
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.ultraviolet import plausible_limit, uv_default
from dosewright.topics.uv.contracts.derated_flow import RatedPoint
from dosewright.topics.uv.unit.printed import printed_rounding

__all__ = ["Rated", "Supported", "check_rated_points", "rated_of", "supported", "warn_far_scaling", "warn_rated_flow"]

Point = RatedPoint[Numbers]


class Rated(NamedTuple):
    """A rated point with its factors.

    Attributes
    ----------
    rated_flow, uvt, dose, ageing, fouling : float or array
        [m³/s], [-], [J/m²], [-], [-]
    """

    rated_flow: Numbers
    uvt: Numbers
    dose: Numbers
    ageing: Numbers
    fouling: Numbers

    @property
    def product(self) -> Numbers:
        """Dose times flow of a new lamp in a clean sleeve [W m]."""
        return self.dose * self.rated_flow / (self.ageing * self.fouling)

    def surely(self, ageing: Numbers, fouling: Numbers) -> Numbers:
        """Return dose times flow with these factors, never more than at the rated point [W m]."""
        kept = np.minimum(ageing / self.ageing, 1.0) * np.minimum(fouling / self.fouling, 1.0)
        return self.dose * self.rated_flow * kept


class Supported(NamedTuple):
    """What the rated points support in this water, before what is darker than all of them is scaled.

    Attributes
    ----------
    point : Rated
        The rated point in the next clearer water; where there is none, in the clearest.
    share : float or array
        Dose times flow over the factors, in this water or the darkest rated, over that point's. [-]
    darker_share : float or array
        The same of the rated points in water as dark or darker, over that in this water. [-]
    sure_share : float or array
        What remains of that where ageing and fouling credit no more than at the rated points. [-]
    lowest_uvt, highest_uvt, fastest : float or array
        Of all points. [-], [-], [m³/s]
    """

    point: Rated
    share: Numbers
    darker_share: Numbers
    sure_share: Numbers
    lowest_uvt: Numbers
    highest_uvt: Numbers
    fastest: Numbers


def rated_of(points: Sequence[Point]) -> list[Rated]:
    """Return the points with their factors: without them, the end of lamp life and a clean sleeve."""
    end = 0.01 * float(uv_default("lamp_ageing_factor").removesuffix(" %"))
    return [
        Rated(
            point.rated_flow,
            point.uvt,
            point.dose,
            end if point.lamp_ageing_factor is None else point.lamp_ageing_factor,
            1.0 if point.sleeve_fouling_factor is None else point.sleeve_fouling_factor,
        )
        for point in points
    ]


def check_rated_points(points: Sequence[Point], notes: Notes) -> None:
    """Refuse points that contradict each other: at one UVT, or between two."""
    rated = rated_of(points)
    for second, point in enumerate(rated):
        for first, other in enumerate(rated[:second]):
            same = point.uvt == other.uvt
            apart = abs(point.product - other.product)
            rounding = sum(one.product * printed_rounding(one.rated_flow, one.dose) for one in (point, other))
            message = (
                f"rated_points/{first} and rated_points/{second} are at one UVT, so dose x flow, divided by the ageing "
                "and fouling factors, must be the same. The two differ by more than their figures can be rounded. "
                "Check both."
            )
            field = f"rated_points/{second}/dose"
            notes.refuse("rated_points_contradict", field, message, when=same & (apart > rounding))
            rises = (point.uvt - other.uvt) * (point.product - other.product) <= 0.0
            message = (
                "Dose x flow, divided by the ageing and fouling factors, must rise with UVT from point to point. "
                "Check the figures, and the factors of each point."
            )
            field = f"rated_points/{second}/rated_flow"
            notes.refuse("rated_points_contradict", field, message, when=rises & np.logical_not(same))


def _least_of_its_water(rated: Array, products: Array) -> Array:
    """Return for each point the least product of all points at its UVT."""
    same = rated[..., :, None] == rated[..., None, :]
    return np.min(np.where(same, products[..., None, :], np.inf), axis=-1)


def supported(points: Sequence[Rated], uvt: Numbers, ageing: Numbers, fouling: Numbers) -> Supported:
    """Return what rated points that agree support: interpolated between them, never above the clearest."""
    rated = _along([dose.absorption_coefficient(point.uvt, CENTIMETRE) for point in points])
    own = _along([point.product for point in points])
    sure = _along([point.surely(ageing, fouling) for point in points])
    products, sure = (_least_of_its_water(rated, one) for one in np.broadcast_arrays(own, sure))
    clearest, darkest = np.min(rated, axis=-1), np.max(rated, axis=-1)
    within = np.clip(dose.absorption_coefficient(uvt, CENTIMETRE), clearest, darkest)
    many = (rated, products) if len(points) > 1 else (np.repeat(rated, 2, axis=-1), np.repeat(products, 2, axis=-1))
    here = derating.interpolated_dose_flow(within, *many)
    this = np.expand_dims(within, -1)
    next_clearer = np.max(np.where(rated <= this, rated, -np.inf), axis=-1)
    point = _picked(points, (rated == np.expand_dims(next_clearer, -1)) & (products == own))
    darker, surely = (np.max(np.where(rated >= this, one, 0.0), axis=-1) for one in (products, sure))
    darker = np.minimum(darker, here)
    uvts = _along([point.uvt for point in points])
    fastest = np.max(_along([point.rated_flow for point in points]), axis=-1)
    plain = [
        _plain(value)
        for value in (
            here / point.product,
            darker / here,
            np.minimum(surely / (darker * ageing * fouling), 1.0),
            np.min(uvts, axis=-1),
            np.max(uvts, axis=-1),
            fastest,
        )
    ]
    return Supported(point, *plain)


def _picked(points: Sequence[Rated], which: Array) -> Rated:
    first = np.argmax(which, axis=-1)

    def pick(values: Sequence[Numbers]) -> Numbers:
        along = _along(values)
        along = np.broadcast_to(along, np.broadcast_shapes(along.shape, which.shape))
        return _plain(np.take_along_axis(along, first[..., None], axis=-1)[..., 0])

    return Rated(*(pick(values) for values in zip(*points, strict=True)))


def _plain(value: Any) -> Any:
    return value if np.ndim(value) else float(value)


def warn_far_scaling(share: Numbers, notes: Notes, *, when: Any = True) -> None:
    """Warn if the water is so much darker than the rated water that the mean no longer represents the RED."""
    least = plausible_limit("darker_water_share")
    message = (
        f"The mean fluence rate in this water is below {least:.0%} of that in the rated water. In darker water "
        "the light is less even, and the RED falls faster than the mean that scales the flow. The derated flow "
        "is overestimated. Ask the maker for a rated point near this UVT, or treat the water to make it clearer."
    )
    notes.warn("scaled_to_darker_water", "uvt", message, when=np.logical_and(share < least, when)[()])


def warn_rated_flow(rated_flow: Numbers, number: int, chamber: Field, notes: Notes) -> None:
    """Warn if the rated flow is too high for a chamber of these sizes."""
    velocity = annulus.mean_velocity(rated_flow, chamber.bore_radius, chamber.sleeve_radius)
    stay = dose.residence_time(chamber.volume, rated_flow)
    fastest, shortest = plausible_limit("rated_velocity"), plausible_limit("rated_residence_time")
    check = "Check its unit, and whether flow and chamber are of the same UV unit."
    message = (
        f"The water would pass the sleeve at more than {fastest:g} m/s, above any limit published for pipes. No "
        f"such chamber can have this rated flow. {check}"
    )
    field = f"rated_points.{number}.rated_flow"
    notes.warn("rated_flow_too_fast", field, message, when=velocity > fastest)
    message = f"The water would stay for less than {shortest:g} s, too short for any rated dose. {check}"
    notes.warn("rated_residence_time_too_short", field, message, when=stay < shortest)


def _along(values: Sequence[Numbers]) -> Any:
    """Stack one value per point along a last axis."""
    return np.stack(np.broadcast_arrays(*values), axis=-1)
