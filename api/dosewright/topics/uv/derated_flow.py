"""The flow that still delivers the target dose for this water, lamp age and sleeve."""

from typing import Any

import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import derating, dose
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Cases, Views, calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv import charts
from dosewright.topics.uv.contracts.derated_flow import DeratedFlowAnswer, DeratedFlowRequest
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    NOT_VALIDATED,
    add_basis_of_field_model,
    lamp_power,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    warn_lamp,
)
from dosewright.topics.uv.unit.data_sheet import from_data_sheet
from dosewright.topics.uv.unit.hydraulics import (
    ORGANISMS,
    hydraulics_of,
    refuse_unclear_hydraulics,
    response_of,
    warn_organism,
)
from dosewright.topics.uv.unit.peak_flow import against_peak, against_peak_from_points
from dosewright.topics.uv.unit.rated_points import check_rated_points
from dosewright.topics.uv.unit.steps import Steps, take_arrangement, take_output
from dosewright.topics.uv.unit.target_flow import (
    NO_FLOW,
    flow_for_target,
    mean_dose_needed,
    reds_add,
    refuse_endless_dose,
    unmixed_flow,
    warn_where_capped,
)
from dosewright.topics.uv.unit.water_layer import SIZES, possible_chambers, refuse_impossible_layer

__all__ = ["derated_flow"]

Ask = DeratedFlowRequest[Numbers]

_OUTSIDE = ("water_layer", "outside_diameter", "outside_length")
_HYDRAULICS = ("hydraulics", "tanks", *ORGANISMS)

_CHAMBER = Basis(
    method=(
        "flow = mean fluence rate x volume / mean dose, with the mean dose that the hydraulics need for the target"
    ),
    source="definitions",
    validity=NOT_VALIDATED,
)
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

    Without rated points: from the chamber and its UV-C output. With rated points: between them, and from there to
    darker water by the physics of the chamber; in water clearer than all of them, no more than the rated flow. An
    unknown chamber makes the flow an interval over the common range of water layers. The steps list each factor.
    Their product is the derated flow; further steps lead to the lower bound.
    """
    notes.caution(*CAUTIONS)
    if not ask.rated_points:
        return _from_chamber(ask, notes)
    found = from_data_sheet(ask, notes)
    flow, lower = found.steps.flow, found.lower.flow
    covers, flow_margin = against_peak_from_points(ask.peak_flow, flow, lower, notes)
    return DeratedFlowAnswer(
        derated_flow=flow,
        method=found.method,
        steps=found.steps.taken,
        flow_lower_bound=lower,
        lower_bound_steps=found.lower.taken,
        least_water_layer=found.least,
        most_water_layer=found.most,
        covers_peak_flow=covers,
        flow_margin=flow_margin,
    )


@derated_flow.check(*SIZES, "sleeve_wall")
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


@derated_flow.check("rated_points", "uvc_output", *SIZES)
def _enough_to_go_by(ask: Ask, notes: Notes) -> None:
    if ask.rated_points:
        return
    for name in (*SIZES, "uvc_output"):
        if getattr(ask, name) is None:
            message = f"Without rated points the chamber is calculated. Enter {name}, or a rated point."
            notes.refuse("required", name, message)


@derated_flow.check("rated_points", *SIZES, "sleeve_wall", *_OUTSIDE)
def _possible_layer(ask: Ask, notes: Notes) -> None:
    if ask.rated_points:
        refuse_impossible_layer(ask, notes)


@derated_flow.check("rated_points")
def _points_that_agree(ask: Ask, notes: Notes) -> None:
    check_rated_points(ask.rated_points or [], notes)


def _from_chamber(ask: Ask, notes: Notes) -> DeratedFlowAnswer[Numbers]:
    steps, unmixed = _flows_of_chamber(ask, notes)
    for name in (*_OUTSIDE, "lamp_power"):
        if getattr(ask, name) is not None:
            notes.warn("not_used", name, f"{name} is used only with rated points.")
    take_arrangement(steps, ask, notes)
    steps.take("safety", "Divided by the safety factor.", 1.0 / ask.safety_factor)
    lower = None
    if unmixed is not None:
        lower = Steps("derated_flow", "Derated flow.", steps.flow)
        meaning = "Water that never mixes: laminar flow instead of the mean dose."
        lower.take("mixing", meaning, np.minimum(unmixed / steps.flow, 1.0))
        # Exact, where the product of the factors could be off by rounding.
        lower.flow = lower.taken[-1].flow = np.minimum(unmixed, steps.flow)
    bound = None if lower is None else lower.flow
    covers, flow_margin = against_peak(ask.peak_flow, steps.flow, bound, notes)
    return DeratedFlowAnswer(
        derated_flow=steps.flow,
        method="chamber",
        steps=steps.taken,
        flow_lower_bound=bound,
        lower_bound_steps=[] if lower is None else lower.taken,
        least_water_layer=None,
        most_water_layer=None,
        covers_peak_flow=covers,
        flow_margin=flow_margin,
    )


def _flows_of_chamber(ask: Ask, notes: Notes) -> tuple[Steps, Numbers | None]:
    add_basis_of_field_model(ask, notes, "derated_flow")
    notes.add_basis(_CHAMBER)
    chamber = possible_chambers(ask).best
    power: Any = ask.uvc_output
    warn_lamp(power, chamber.arc_length, notes)
    absorption = dose.absorption_coefficient(ask.uvt, CENTIMETRE)
    clear = chamber.average(power, 0.0)
    here = chamber.average(power, absorption)
    steps = Steps(
        "clear_water",
        "Flow at which the mean dose meets the target in perfectly clear water, with a new lamp and a clean sleeve.",
        derating.flow_for_mean_dose(clear, chamber.volume, ask.target_dose),
    )
    steps.take("water", "Mean fluence rate in this water, divided by that in clear water.", here / clear)
    steps.take("lamp_ageing", "Lamp ageing factor.", ask.lamp_ageing_factor)
    steps.take("sleeve_fouling", "Sleeve fouling factor.", ask.sleeve_fouling_factor)
    take_output(steps, ask)
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
