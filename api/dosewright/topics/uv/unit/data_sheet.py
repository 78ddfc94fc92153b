"""The derated flow from the rated points of a data sheet, and its lower bound."""

from collections.abc import Sequence
from math import pi
from typing import Any, NamedTuple

import numpy as np

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.quantities import Numbers
from dosewright.tables.ultraviolet import chamber_range
from dosewright.topics.uv.unit.chamber import add_basis_of_field_model, add_basis_of_lamp
from dosewright.topics.uv.unit.deciding_layer import warn_deciding_layer
from dosewright.topics.uv.unit.hydraulics import ORGANISMS
from dosewright.topics.uv.unit.peak_flow import UNMIXED
from dosewright.topics.uv.unit.rated_points import (
    Rated,
    Supported,
    rated_of,
    supported,
    warn_far_scaling,
    warn_rated_flow,
)
from dosewright.topics.uv.unit.steps import Steps, take_arrangement, take_output
from dosewright.topics.uv.unit.water_layer import (
    SIZES,
    Chambers,
    WaterShares,
    chamber_known,
    possible_chambers,
    shares_in_water,
)

__all__ = ["SheetFlows", "from_data_sheet"]

_NAMES = ("one_rated_point", "rated_points", "data_sheet")
_HYDRAULICS = ("hydraulics", "tanks", *ORGANISMS)
_WITHOUT_SCALING = (*SIZES, "water_layer", "outside_diameter", "outside_length")
_SCALED = (
    "a scaled flow is calculated, never validated: certificate and treatment credit apply only at the conditions "
    "that they state"
)
_ONE_POINT = Basis(
    method=(
        "in water darker than the rated points: rated flow x rated dose / target dose x ratio of mean fluence rates in "
        "both waters x ratio of the present ageing and fouling factors to the rated ones"
    ),
    source="proportions, derived for Dosewright: UV-C output and sleeve transmittance cancel",
    validity="same hydraulics, and same dose distribution about its mean, at both flows; " + _SCALED,
)
_POINTS = Basis(
    method="1/(dose x flow / factors), linear in absorbance between neighbouring rated points",
    source="derived for Dosewright and tested on 400 random chambers",
    validity="between the points; error from 5 % low to 0.5 % high for points at a UVT of 70 and 95 %; " + _SCALED,
)
_SURE = Basis(
    method="lower bound from rated points: dose x flow of the rated points in water as dark or darker; ageing, fouling "
    "and flow never better than at the rated points; in water clearer than all of them, the rated flow there",
    source="definition: clearer water allows at least as much flow",
    validity="same hydraulics at both flows; " + _SCALED,
)


def _layers_basis() -> Basis:
    sleeve, wall = chamber_range("sleeve_outer_diameter"), chamber_range("chamber_wall")
    return Basis(
        method="unknown chamber: both ends of the range of water layers, sleeves and arcs; derated flow from the "
        "thinnest layer, lower bound from the thickest",
        source=f"table uv_chambers: {sleeve.source}; {wall.source}",
        validity="one lamp on the axis of a round chamber with a sleeve of 20 to 30 mm; an unknown chamber is at most "
        "4 in wide outside. The sleeve, arc and chamber length change the flow by less than 2 %",
    )


class SheetFlows(NamedTuple):
    """What a data sheet gives.

    Attributes
    ----------
    method : str or Labels
        How.
    steps, lower : Steps
        To the derated flow, and from there to its lower bound.
    least, most : float or array or None
        Thinnest and thickest water layer; NaN where the flow does not depend on it. [m]
    """

    method: Any
    steps: Steps
    lower: Steps
    least: Numbers | None
    most: Numbers | None


def from_data_sheet(ask: Any, notes: Notes) -> SheetFlows:
    """Derate the rated points: interpolate between them, and scale to darker water by the physics of the chamber."""
    points = rated_of(ask.rated_points)
    _warn_assumed(ask, points, notes)
    at = supported(points, ask.uvt, ask.lamp_ageing_factor, ask.sleeve_fouling_factor)
    alone = at.lowest_uvt == at.highest_uvt
    darker = ask.uvt < at.lowest_uvt
    scaled = np.logical_or(alone, darker)
    shares = WaterShares(1.0, 1.0, 1.0)
    chambers = None
    notes.add_basis(_SURE)
    if np.any(scaled):
        chambers = possible_chambers(ask)
        shares = _scale(ask, at, chambers, darker, notes)
    if not np.all(scaled):
        notes.add_basis(_POINTS)
        add_basis_of_lamp(notes)
    why = "The rated points replace it."
    _warn_unused(ask, ("uvc_output", *_HYDRAULICS), why, notes)
    _warn_unused(ask, _WITHOUT_SCALING, why, notes, when=np.logical_not(scaled))
    steps = _steps(ask, at, shares, notes)
    lower = _lower_steps(ask, at, shares, steps)
    _warn_conditions(ask, points, at, steps, notes)
    warn_deciding_layer(ask, at, chambers, shares, lower, darker, notes)
    index = np.where(scaled, 0 if chamber_known(ask) else 2, 1)
    method = label(index if np.ndim(scaled) else int(index), _NAMES)
    if chambers is None:
        return SheetFlows(method, steps, lower, None, None)
    least, most = (np.where(darker, one, np.nan) for one in (chambers.least, chambers.most))
    if not np.ndim(least):
        return SheetFlows(method, steps, lower, *((float(least), float(most)) if darker else (None, None)))
    return SheetFlows(method, steps, lower, least, most)


def _scale(ask: Any, at: Supported, chambers: Chambers, darker: Any, notes: Notes) -> WaterShares:
    add_basis_of_field_model(ask, notes, "derated_flow")
    notes.add_basis(_ONE_POINT, UNMIXED)
    if chamber_known(ask):
        for number, point in enumerate(ask.rated_points):
            warn_rated_flow(point.rated_flow, number, chambers.best, notes)
    elif not chambers.exact:
        notes.add_basis(_layers_basis())
    found = shares_in_water(chambers, ask.uvt, at.lowest_uvt)
    if np.ndim(darker):
        found = WaterShares(*(np.where(darker, one, 1.0) for one in found))
    elif not darker:
        found = WaterShares(1.0, 1.0, 1.0)
    warn_far_scaling(found.worst_mixed, notes)
    return found


def _steps(ask: Any, at: Supported, shares: WaterShares, notes: Notes) -> Steps:
    steps = Steps(
        "rated_flow", "Flow of the rated point in the next clearer water, or else the clearest.", at.point.rated_flow
    )
    steps.take("target_dose", "Rated dose divided by target dose.", at.point.dose / ask.target_dose)
    meaning = (
        "Dose x flow in this water, divided by that in the rated water: from the rated points or, in darker water, "
        "from the mean fluence rates. With an unknown chamber, for its thinnest water layer."
    )
    steps.take("water", meaning, at.share * shares.best_mixed)
    meaning = "Lamp ageing factor, divided by that of the rated point."
    steps.take("lamp_ageing", meaning, ask.lamp_ageing_factor / at.point.ageing)
    meaning = "Sleeve fouling factor, divided by that of the rated point."
    steps.take("sleeve_fouling", meaning, ask.sleeve_fouling_factor / at.point.fouling)
    take_output(steps, ask)
    take_arrangement(steps, ask, notes)
    steps.take("safety", "Divided by the safety factor.", 1.0 / ask.safety_factor)
    return steps


def _lower_steps(ask: Any, at: Supported, shares: WaterShares, steps: Steps) -> Steps:
    lower = Steps("derated_flow", "Derated flow.", steps.flow)
    meaning = "Thickest possible water layer: its mean fluence rates, divided by those of the thinnest."
    lower.take("water_layer", meaning, shares.worst_mixed / shares.best_mixed)
    meaning = "Water that never mixes: the lowest dose of a streamline instead of the mean."
    lower.take("mixing", meaning, shares.worst_unmixed / shares.worst_mixed)
    meaning = "Rated points in water as dark or darker, instead of the line between the points."
    lower.take("darker_point", meaning, at.darker_share)
    meaning = "No credit for ageing and fouling factors above those of the rated points."
    lower.take("rated_factors", meaning, at.sure_share)
    meaning = "No flow above the highest rated flow."
    lower.take("highest_rated_flow", meaning, np.minimum(most_flow(ask, at) / lower.flow, 1.0))
    return lower


def most_flow(ask: Any, at: Supported) -> Numbers:
    """Return the highest rated flow of all parallel units [m³/s]."""
    return at.fastest * ask.units_in_parallel


def _warn_unused(ask: Any, names: Sequence[str], why: str, notes: Notes, *, when: Any = True) -> None:
    for name in names:
        if getattr(ask, name) is not None:
            notes.warn("not_used", name, f"{name} is not used here. {why}", when=when)


def _warn_assumed(ask: Any, points: Sequence[Rated], notes: Notes) -> None:
    """Say which ageing of the rated points is assumed, and check the points by the lamp's power."""
    for number, point in enumerate(ask.rated_points):
        if point.lamp_ageing_factor is None:
            message = (
                f"The data sheet does not say for which lamp age this point is rated. The end of lamp life is assumed, "
                f"with a lamp ageing factor of {points[number].ageing:.0%}. If the point is rated for a new lamp, "
                "enter 100 %: the flow is then lower."
            )
            notes.warn("rated_ageing_assumed", f"rated_points.{number}.lamp_ageing_factor", message)
    if ask.lamp_power is None:
        return
    share = chamber_range("uvc_efficiency").high
    reach = 0.5 * pi * possible_chambers(ask).most  # mean path of rays from a long lamp, in clear water
    message = (
        f"At this rated flow and dose the lamp would give more UV-C than {share:.0%} of its electrical power, the most "
        "of a low-pressure lamp. Check flow, dose, lamp_power and the number of lamps."
    )
    for number, point in enumerate(points):
        impossible = point.dose * point.rated_flow > share * ask.lamp_power * reach * point.ageing * point.fouling
        notes.warn("rated_point_impossible", f"rated_points.{number}.dose", message, when=impossible)


def _warn_conditions(ask: Any, points: Sequence[Rated], at: Supported, steps: Steps, notes: Notes) -> None:
    """Warn if a factor, the flow or the UVT is above the rated conditions."""
    message = (
        "The water is clearer than every rated point. Only the rated flow in the clearest rated water is credited: "
        "more was never tested."
    )
    notes.warn("scaled_to_clearer_water", "uvt", message, when=ask.uvt > at.highest_uvt)
    least_aged, least_fouled = points[0].ageing, points[0].fouling
    for point in points[1:]:
        least_aged, least_fouled = np.minimum(least_aged, point.ageing), np.minimum(least_fouled, point.fouling)
    message = (
        "This factor is better than that of a rated point, so the derated flow is scaled up; its lower bound is not. A "
        "rated point is often for the end of lamp life already. Make sure that ageing is counted only once."
    )
    notes.warn("above_rated_factor", "lamp_ageing_factor", message, when=ask.lamp_ageing_factor > least_aged)
    notes.warn("above_rated_factor", "sleeve_fouling_factor", message, when=ask.sleeve_fouling_factor > least_fouled)
    message = (
        "This is above every rated flow. Hydraulics, pressure and dose were never tested there. Do not "
        "exceed the rated flow."
    )
    notes.warn("above_rated_flow", "derated_flow", message, when=steps.flow > most_flow(ask, at))
