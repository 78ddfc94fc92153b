"""The flow that still delivers the target dose for this water, lamp age and sleeve."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import derating, dose
from dosewright.core.light.doses import laminar_dose
from dosewright.core.light.field import Field
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Cases, Views, calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv import charts
from dosewright.topics.uv.contracts.unit import DeratedFlowAnswer, DeratedFlowRequest, DeratingStep, RatedPoint
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    NOT_VALIDATED,
    add_basis_of_field_model,
    add_basis_of_lamp,
    field_of,
    lamp_power,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    warn_lamp,
)
from dosewright.topics.uv.unit.hydraulics import (
    ORGANISMS,
    hydraulics_of,
    refuse_unclear_hydraulics,
    response_of,
    warn_organism,
)
from dosewright.topics.uv.unit.peak_flow import UNMIXED, against_peak, against_peak_from_points
from dosewright.topics.uv.unit.rated_points import (
    Interpolated,
    between_points,
    check_rated_points,
    warn_far_scaling,
    warn_rated_flow,
)
from dosewright.topics.uv.unit.target_flow import (
    NO_FLOW,
    flow_for_target,
    mean_dose_needed,
    reds_add,
    refuse_endless_dose,
    unmixed_flow,
    warn_where_capped,
)

__all__ = ["derated_flow"]

Ask = DeratedFlowRequest[Numbers]
Point = RatedPoint[Numbers]

_SIZES = ("chamber_bore", "sleeve_outer_diameter", "arc_length", "chamber_length")
_HYDRAULICS = ("hydraulics", "tanks", *ORGANISMS)

_SCALED = (
    "a scaled flow is calculated, never validated: certificate and treatment credit apply only at the conditions "
    "that they state"
)

_CHAMBER = Basis(
    method=(
        "flow = mean fluence rate x volume / mean dose, with the mean dose that the hydraulics need for the target"
    ),
    source="definitions",
    validity=NOT_VALIDATED,
)
_ONE_POINT = Basis(
    method=(
        "rated flow x rated dose / target dose x ratio of mean fluence rates in both waters x ratio of the "
        "present ageing and fouling factors to the rated ones"
    ),
    source="proportions, derived for Dosewright: UV-C output and sleeve transmittance cancel",
    validity="same hydraulics, and same dose distribution about its mean, at both flows; " + _SCALED,
)
_POINTS = Basis(
    method="1/(dose x flow / factors), linear in absorbance between neighbouring rated points",
    source="derived for Dosewright and tested on 400 random chambers",
    validity="between the points only; error from 5 % low to 0.5 % high for points at a UVT of 70 and 95 %; " + _SCALED,
)
_DARKER_POINT = Basis(
    method="lower bound between rated points: dose x flow / factors of the rated point in the next darker water",
    source="definition: clearer water allows at least as much flow",
    validity="same hydraulics at both flows; " + _SCALED,
)


class _Steps:
    """The steps from the first flow to the derated flow."""

    def __init__(self, name: str, meaning: str, flow: Numbers) -> None:
        self.flow = flow
        self.taken: list[DeratingStep[Numbers]] = [DeratingStep(name=name, meaning=meaning, factor=1.0, flow=flow)]

    def take(self, name: str, meaning: str, factor: Numbers) -> None:
        """Multiply the flow."""
        self.flow = self.flow * factor
        self.taken.append(DeratingStep(name=name, meaning=meaning, factor=factor, flow=self.flow))


_CASES = Cases("uvt", "%", (70, 74, 78, 82, 86, 90, 94, 98), "derated_flow")


@calculation(
    "uv/derated-flow",
    views=Views(chart=charts.derated_flow, cases=_CASES),
    request=DeratedFlowRequest,
    answer=DeratedFlowAnswer,
    summary="Flow that still delivers the target dose, and whether it covers the peak flow",
    example={
        "rated_points": [
            {
                "rated_flow": "45 L/min",
                "uvt": "95 %",
                "dose": "40 mJ/cm2",
                "lamp_ageing_factor": "80 %",
                "sleeve_fouling_factor": "100 %",
            }
        ],
        "chamber_bore": "80 mm",
        "sleeve_outer_diameter": "25 mm",
        "arc_length": "720 mm",
        "chamber_length": "780 mm",
        "uvt": "88 %",
        "lamp_ageing_factor": "80 %",
        "sleeve_fouling_factor": "85 %",
        "target_dose": "40 mJ/cm2",
        "safety_factor": "1.1",
        "peak_flow": "30 L/min",
    },
)
def derated_flow(ask: Ask, notes: Notes) -> DeratedFlowAnswer[Numbers]:
    """Derate the flow of an ultraviolet unit for this water, lamp age and sleeve, by one of three methods.

    Without rated points: from the chamber and its UV-C output. With one rated point: from that point, scaled by the
    physics of its chamber. With more: between the points only; a UVT outside them is rejected. The steps list each
    factor. Their product is the derated flow.
    """
    points = ask.rated_points or []
    lower = sure_share = None
    if not points:
        method = "chamber"
        steps, lower = _from_chamber(ask, notes)
    elif len(points) == 1:
        method = "one_rated_point"
        steps, sure_share = _from_one_point(ask, points[0], notes)
    else:
        method = "rated_points"
        steps, sure_share = _between_points(ask, points, notes)
    _take_arrangement(steps, ask, notes)
    steps.take("safety", "Divided by the safety factor.", 1.0 / ask.safety_factor)
    if points:
        _warn_scaling_up(ask, points, steps.flow / ask.units_in_parallel, notes)
    notes.caution(*CAUTIONS)
    if sure_share is not None:
        lower = steps.flow * sure_share
        covers, flow_margin = against_peak_from_points(ask.peak_flow, steps.flow, lower, notes)
    else:
        lower = None if lower is None else np.minimum(lower, steps.flow)
        covers, flow_margin = against_peak(ask.peak_flow, steps.flow, lower, notes)
    return DeratedFlowAnswer(
        derated_flow=steps.flow,
        method=method,
        steps=steps.taken,
        flow_lower_bound=lower,
        covers_peak_flow=covers,
        flow_margin=flow_margin,
    )


@derated_flow.check(*_SIZES, "sleeve_wall")
def _possible_chamber(ask: Ask, notes: Notes) -> None:
    refuse_impossible_chamber(ask, notes)


@derated_flow.check("sleeve_transmittance", "field_model", "n_air", "n_quartz")
def _possible_sleeve(ask: Ask, notes: Notes) -> None:
    refuse_impossible_sleeve(ask, notes)


@derated_flow.check(*_HYDRAULICS)
def _clear_hydraulics(ask: Ask, notes: Notes) -> None:
    refuse_unclear_hydraulics(ask, notes)


@derated_flow.check(*_HYDRAULICS, "target_dose", "rated_points", "units_in_series")
def _reachable_target(ask: Ask, notes: Notes) -> None:
    refuse_endless_dose(ask, notes)


@derated_flow.check(*_HYDRAULICS, "rated_points", "units_in_series")
def _series_that_adds(ask: Ask, notes: Notes) -> None:
    response = response_of(ask)
    uneven = ask.hydraulics in {"laminar", "tanks_in_series"}
    if not uneven or response is None or reds_add(response) or ask.rated_points:
        return
    message = (
        "The REDs of units in series add only for a first-order organism without a floor. With a shoulder or a "
        "tail, the effect in the second unit depends on the first."
    )
    notes.refuse("not_supported", "units_in_series", message, when=ask.units_in_series > 1.0, allowed="1")


@derated_flow.check("units_in_parallel", "units_in_series")
def _whole_units(ask: Ask, notes: Notes) -> None:
    for name in ("units_in_parallel", "units_in_series"):
        number = getattr(ask, name)
        with known_only():
            broken = number != np.floor(number)
            notes.refuse("not_whole", name, f"{name} must be a whole number.", when=broken, allowed="1, 2, 3, …")


@derated_flow.check("rated_points", "uvc_output", *_SIZES)
def _enough_to_go_by(ask: Ask, notes: Notes) -> None:
    points = ask.rated_points or []
    if len(points) > 1:
        return
    required = _SIZES if points else (*_SIZES, "uvc_output")
    why = "One rated point is scaled by its chamber" if points else "Without rated points the chamber is calculated"
    for name in required:
        if getattr(ask, name) is None:
            message = f"{why}. Enter {name}, or two or more rated points."
            notes.refuse("required", name, message)


@derated_flow.check("rated_points", "uvt")
def _points_in_order(ask: Ask, notes: Notes) -> None:
    check_rated_points(ask.rated_points or [], ask.uvt, notes)


def _chamber_of(ask: Ask) -> Field:
    sizes: Any = [getattr(ask, name) for name in ("arc_length", "chamber_length", *_SIZES[1::-1])]
    return field_of(ask, *sizes)


def _from_chamber(ask: Ask, notes: Notes) -> tuple[_Steps, Numbers | None]:
    add_basis_of_field_model(ask, notes, "derated_flow")
    notes.add_basis(_CHAMBER)
    chamber = _chamber_of(ask)
    power: Any = ask.uvc_output
    warn_lamp(power, chamber.arc_length, notes)
    absorption = dose.absorption_coefficient(ask.uvt, CENTIMETRE)
    clear = chamber.average(power, 0.0)
    here = chamber.average(power, absorption)
    steps = _Steps(
        "clear_water",
        "Flow at which the mean dose meets the target in perfectly clear water, with a new lamp and a clean sleeve.",
        derating.flow_for_mean_dose(clear, chamber.volume, ask.target_dose),
    )
    steps.take("water", "Mean fluence rate in this water, divided by that in clear water.", here / clear)
    steps.take("lamp_ageing", "Lamp ageing factor.", ask.lamp_ageing_factor)
    steps.take("sleeve_fouling", "Sleeve fouling factor.", ask.sleeve_fouling_factor)
    _take_output(steps, ask)
    hydraulics = hydraulics_of(ask, notes, "derated_flow")
    warn_organism(ask, notes)
    target = ask.target_dose / ask.units_in_series
    aged: Any = lamp_power(ask)  # pyright: ignore[reportArgumentType] - a check requires the output
    if hydraulics == "laminar":
        flow = flow_for_target(ask, chamber, aged, absorption, target)
        share = flow / (steps.flow * ask.units_in_series)
    else:
        share = target / mean_dose_needed(ask, target)
    meaning = (
        "Effect of the hydraulics: flow at which the RED meets the target, divided by the flow at which "
        "the mean dose does."
    )
    steps.take("hydraulics", meaning, share)
    notes.refuse("red_undefined", "dose_response", NO_FLOW, when=np.isnan(share))
    if hydraulics is not None:
        warn_where_capped(ask, share, 1.0, "derated_flow", notes)
        return steps, None
    unmixed = unmixed_flow(ask, chamber, aged, absorption, target, ask.units_in_series)
    notes.refuse("red_undefined", "dose_response", NO_FLOW, when=np.isnan(unmixed))
    warn_where_capped(ask, unmixed, steps.flow * ask.units_in_series, "flow_lower_bound", notes)
    return steps, unmixed * ask.units_in_parallel / ask.safety_factor


def _averages(chamber: Field, *uvts: Numbers) -> list[Numbers]:
    """Chamber averages in several waters, all in one chamber, since the rays are the same."""
    absorptions = [np.atleast_1d(dose.absorption_coefficient(uvt, CENTIMETRE)) for uvt in uvts]
    if any(isinstance(value, np.ndarray) for value in (*chamber, *(chamber.sleeve or ()))):
        averages: Any = [chamber.average(1.0, absorption) for absorption in absorptions]
    else:
        together: Any = chamber.average(1.0, np.concatenate(absorptions))
        averages = np.split(together, np.cumsum([absorption.size for absorption in absorptions])[:-1])
    return [
        one if isinstance(uvt, np.ndarray) or one.size > 1 else float(one[0])
        for one, uvt in zip(averages, uvts, strict=True)
    ]


def _from_one_point(ask: Ask, point: Point, notes: Notes) -> tuple[_Steps, Numbers]:
    add_basis_of_field_model(ask, notes, "derated_flow")
    notes.add_basis(_ONE_POINT, UNMIXED)
    _warn_unused(ask, ("uvc_output", *_HYDRAULICS), "The rated point replaces it.", notes)
    chamber = _chamber_of(ask)
    requested, rated = _averages(chamber, ask.uvt, point.uvt)
    message = (
        "The water is clearer than the rated water. Scaling up is optimistic: the gain is calculated and the "
        "dose distribution is unknown. Do not exceed the rated flow."
    )
    notes.warn("scaled_to_clearer_water", "uvt", message, when=ask.uvt > point.uvt)
    warn_far_scaling(requested / rated, notes)
    warn_rated_flow(point, chamber, notes)
    steps = _Steps("rated_flow", "Flow of the rated point.", point.rated_flow)
    steps.take("target_dose", "Rated dose divided by target dose.", point.dose / ask.target_dose)
    steps.take("water", "Mean fluence rate in this water, divided by that in the rated water.", requested / rated)
    _take_factors(steps, ask, point.lamp_ageing_factor, point.sleeve_fouling_factor)
    return steps, _unmixed_share(chamber, ask.uvt, point.uvt, requested / rated)


def _unmixed_share(chamber: Field, uvt: Numbers, rated_uvt: Numbers, mixed: Numbers) -> Numbers:
    """Share of the flow that remains if the water never mixes. Then the lowest dose falls, not the mean dose."""
    waters: list[Any] = [dose.absorption_coefficient(water, CENTIMETRE) for water in (uvt, rated_uvt)]
    here: Any
    if any(isinstance(value, np.ndarray) for value in (*waters, *chamber, *(chamber.sleeve or ()))):
        here, there = (laminar_dose.flow_for_laminar_dose(chamber, 1.0, water, 1.0, None) for water in waters)
    else:  # both waters at once
        both: Any = laminar_dose.flow_for_laminar_dose(chamber, 1.0, np.array(waters), 1.0, None)
        here, there = both.tolist()
    return np.minimum(here / there / mixed, 1.0)


def _between_points(ask: Ask, points: Sequence[Point], notes: Notes) -> tuple[_Steps, Numbers]:
    notes.add_basis(_POINTS, _DARKER_POINT)
    add_basis_of_lamp(notes)
    _warn_unused(ask, (*_SIZES, "uvc_output", *_HYDRAULICS), "The rated points replace it.", notes)
    found: Interpolated = between_points(points, ask.uvt)
    steps = _Steps("rated_flow", "Flow of the rated point in the next clearer water.", found.rated_flow)
    steps.take("target_dose", "Rated dose divided by target dose.", found.dose / ask.target_dose)
    steps.take(
        "water", "Dose x flow in this water, divided by that in the rated water, from the rated points.", found.share
    )
    _take_factors(steps, ask, found.lamp_ageing_factor, found.sleeve_fouling_factor)
    return steps, found.darker_share / found.share


def _take_factors(steps: _Steps, ask: Ask, rated_ageing: Numbers, rated_fouling: Numbers) -> None:
    meaning = "Lamp ageing factor, divided by that of the rated point."
    steps.take("lamp_ageing", meaning, ask.lamp_ageing_factor / rated_ageing)
    meaning = "Sleeve fouling factor, divided by that of the rated point."
    steps.take("sleeve_fouling", meaning, ask.sleeve_fouling_factor / rated_fouling)
    _take_output(steps, ask)


def _take_output(steps: _Steps, ask: Ask) -> None:
    if ask.output_factor is not None:
        steps.take("output", "Output factor: output while warming up or in this water.", ask.output_factor)


def _take_arrangement(steps: _Steps, ask: Ask, notes: Notes) -> None:
    """Account for several units: units in series share the target, parallel units share the flow."""
    meaning = "Units in series: each gives its share of the target. The water mixes between them."
    steps.take("units_in_series", meaning, ask.units_in_series)
    steps.take("units_in_parallel", "Parallel units: the flow is split evenly.", ask.units_in_parallel)
    message = (
        "Doses of units in series add only if the water mixes between them and each keeps its hydraulics. One "
        "failed unit must close the line."
    )
    notes.warn("units_in_series", "units_in_series", message, when=ask.units_in_series > 1.0)
    message = (
        "Parallel units share the flow evenly only with equal pipes or balancing valves. The unit with the most "
        "flow gives the lowest dose."
    )
    notes.warn("units_in_parallel", "units_in_parallel", message, when=ask.units_in_parallel > 1.0)


def _warn_unused(ask: Ask, names: Sequence[str], why: str, notes: Notes) -> None:
    for name in names:
        if getattr(ask, name) is not None:
            notes.warn("not_used", name, f"{name} is not used here. {why}")


def _warn_scaling_up(ask: Ask, points: Sequence[Point], flow: Numbers, notes: Notes) -> None:
    """Warn if a factor or the flow is above the rated conditions."""
    first = points[0]
    fastest, least_aged, least_fouled = first.rated_flow, first.lamp_ageing_factor, first.sleeve_fouling_factor
    for point in points[1:]:
        fastest = np.maximum(fastest, point.rated_flow)
        least_aged = np.minimum(least_aged, point.lamp_ageing_factor)
        least_fouled = np.minimum(least_fouled, point.sleeve_fouling_factor)
    message = (
        "This factor is better than that of a rated point, so the flow is scaled up. A rated point is often for "
        "the end of lamp life already. Make sure that ageing is counted only once."
    )
    notes.warn("above_rated_factor", "lamp_ageing_factor", message, when=ask.lamp_ageing_factor > least_aged)
    notes.warn("above_rated_factor", "sleeve_fouling_factor", message, when=ask.sleeve_fouling_factor > least_fouled)
    message = (
        "This is above every rated flow. Hydraulics, pressure and dose were never tested there. Do not "
        "exceed the rated flow."
    )
    notes.warn("above_rated_flow", "derated_flow", message, when=flow > fastest)
