"""Derated flow along curves of UVT, lamp hours and sleeve fouling."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import msgspec
import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose, lamp_ageing
from dosewright.core.light.doses.laminar_draws import MANY, laminar_curve
from dosewright.core.light.field import Field
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Calculation, Views, calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv import charts
from dosewright.topics.uv.contracts.curves import (
    CurvePoint,
    DeratingCurveAnswer,
    DeratingCurveRequest,
)
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    NOT_VALIDATED,
    add_basis_of_field_model,
    field_of,
    lamp_power,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    warn_lamp,
)
from dosewright.topics.uv.unit.example import EXAMPLE_UNIT
from dosewright.topics.uv.unit.hydraulics import (
    ORGANISMS,
    hydraulics_of,
    refuse_unclear_hydraulics,
    response_of,
    warn_organism,
)
from dosewright.topics.uv.unit.target_flow import (
    NO_FLOW,
    flow_for_target,
    refuse_endless_dose,
    unmixed_flow,
    warn_where_capped,
)

__all__ = ["chamber_field", "check_chamber_fields", "derating_curve"]

_MOST_VALUES = 4_000_000  # points of all curves times rows of a batch's chunk; limited by memory

_CURVE = Basis(
    method=(
        "derated flow of uv/derated-flow at each point; proportional in lamp ageing and fouling, since every "
        "dose is proportional to output over flow"
    ),
    source="definitions; ageing exponential to the end-of-life factor, or linear between the entered points",
    validity=NOT_VALIDATED,
)
_READ_OFF = Basis(
    method=f"{MANY} or more UVTs in laminar flow: flows interpolated between those of 16 waters",
    source="polynomial through Chebyshev's points, textbook",
    validity="within 1e-6 of the flow calculated at each point",
)


def check_chamber_fields(entry: Calculation[Any, Any]) -> None:
    """Add the checks that every chamber with hydraulics must pass."""
    sizes = ("chamber_bore", "sleeve_outer_diameter", "sleeve_wall", "arc_length", "chamber_length", "opaque_ends")
    entry.check(*sizes)(refuse_impossible_chamber)
    entry.check("sleeve_transmittance", "field_model", "n_air", "n_quartz")(refuse_impossible_sleeve)
    entry.check("hydraulics", "tanks", *ORGANISMS)(refuse_unclear_hydraulics)
    entry.check("hydraulics", "tanks", *ORGANISMS, "target_dose")(refuse_endless_dose)


def chamber_field(ask: Any) -> Field:
    """Return the light of the chamber in a request, for 1 W."""
    return field_of(ask, ask.arc_length, ask.chamber_length, ask.sleeve_outer_diameter, ask.chamber_bore)


@calculation(
    "uv/derating-curve",
    views=Views(chart=charts.derating_curve),
    request=DeratingCurveRequest,
    answer=DeratingCurveAnswer,
    summary="Derated flow along UVT, lamp hours and sleeve fouling",
    example={
        **EXAMPLE_UNIT,
        "uvts": "75, 80, 85, 90, 95 %",
        "lamp_hours": "0, 3000, 6000, 9000 h",
        "sleeve_fouling_factors": "70, 85, 100 %",
        "end_of_life": "9000 h",
        "end_of_life_factor": "80 %",
        "peak_flow": "20 L/min",
    },
)
def derating_curve(ask: DeratingCurveRequest[Numbers], notes: Notes) -> DeratingCurveAnswer[Numbers]:
    """Derate the flow of a chamber along up to three curves in one call.

    Along each curve the other conditions stay as entered. The UVT curve has the aged lamp and fouled sleeve. The
    lamp-hours curve has the ageing of the lamp's own curve. The fouling curve has the entered ageing factor.
    """
    add_basis_of_field_model(ask, notes, "derated_flow")
    warn_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.add_basis(_CURVE)
    hydraulics_of(ask, notes, "derated_flow")
    warn_organism(ask, notes)
    notes.caution(*CAUTIONS)
    _refuse_too_many(ask, notes)
    if _reads_off(ask):
        notes.add_basis(_READ_OFF)
    mean = _flows(ask, unmixed=False)
    # Without hydraulics the mean dose is optimistic. Unmixed flow is the safe-side bound.
    least = _no_more(_flows(ask, unmixed=True), mean) if ask.hydraulics is None else None
    _refuse_unfound(mean, least, notes)
    _warn_where_capped(ask, mean, least, notes)
    message = (
        "No hydraulics were chosen. Plan with flow_lower_bound, the flow without mixing. The derated flow is "
        "based on the mean dose, which some of the water does not receive, so no flow margin is given."
    )
    notes.warn("plan_by_lower_bound", "flow_lower_bound", message, when=ask.hydraulics is None)
    return DeratingCurveAnswer(
        derated_flow=mean.given,
        flow_lower_bound=None if least is None else least.given,
        by_uvt=_over_uvt(ask, mean, least),
        by_lamp_hours=_over_hours(ask, mean, least),
        by_fouling=_over_fouling(ask, mean, least),
    )


class _Flows(NamedTuple):
    """Flow at the entered conditions, and at each UVT of the curve."""

    given: Any
    by_uvt: Sequence[Any]


def _refuse_unfound(mean: _Flows, least: _Flows | None, notes: Notes) -> None:
    """Reject the request if a flow has no value: a gap would not explain why."""
    for flows in (mean, least):
        if flows is not None:
            unfound = [np.isnan(flow) for flow in (flows.given, *flows.by_uvt)]
            notes.refuse("red_undefined", "dose_response", NO_FLOW, when=np.any(np.broadcast_arrays(*unfound), axis=0))


def _no_more(least: _Flows, mean: _Flows) -> _Flows:
    """Return the lower bounds, limited to the value itself where both are equal except for rounding."""
    over = [np.minimum(low, flow) for low, flow in zip(least.by_uvt, mean.by_uvt, strict=True)]
    return _Flows(np.minimum(least.given, mean.given), over)


def _warn_where_capped(ask: DeratingCurveRequest[Numbers], mean: _Flows, least: _Flows | None, notes: Notes) -> None:
    """Warn once for all flows that are based on the mean dose."""
    if ask.hydraulics == "plug_flow" or response_of(ask) is None:
        return
    most = mean
    if least is None:
        most = _flows(msgspec.structs.replace(ask, hydraulics="plug_flow"), unmixed=False)
    flows, field = (mean, "derated_flow") if least is None else (least, "flow_lower_bound")
    shares = [flow / high for flow, high in zip((flows.given, *flows.by_uvt), (most.given, *most.by_uvt), strict=True)]
    highest: Any = np.max(np.broadcast_arrays(*shares), axis=0)[()]
    warn_where_capped(ask, highest, 1.0, field, notes)


def _flows(ask: DeratingCurveRequest[Numbers], *, unmixed: bool) -> _Flows:
    """Return the flows that deliver the target dose, with the chosen hydraulics or in unmixed flow."""
    field, power, response = chamber_field(ask), lamp_power(ask), response_of(ask)
    uvts = np.array(_points(ask, "uvts"))
    flow_of = unmixed_flow if unmixed else flow_for_target

    def flow_at(uvt: Any) -> Numbers:
        absorption = dose.absorption_coefficient(uvt, CENTIMETRE)
        return flow_of(ask, field, power, absorption, ask.target_dose) / ask.safety_factor

    if (unmixed or ask.hydraulics == "laminar") and response is not None and uvts.size >= MANY:
        absorption: Any = dose.absorption_coefficient(uvts[:, None], CENTIMETRE)
        along = laminar_curve(field, power, absorption, ask.target_dose, response) / ask.safety_factor
        return _Flows(flow_at(ask.uvt), _each(along))
    if _has_rows(ask):
        return _Flows(flow_at(ask.uvt), _each(flow_at(uvts[:, None]) if uvts.size else uvts))
    given, *over = np.asarray(flow_at(np.array([ask.uvt, *uvts]))).tolist()
    return _Flows(given, over)


def _reads_off(ask: DeratingCurveRequest[Numbers]) -> bool:
    laminar = ask.hydraulics in {None, "laminar"}
    return laminar and response_of(ask) is not None and len(_points(ask, "uvts")) >= MANY


def _refuse_too_many(ask: DeratingCurveRequest[Numbers], notes: Notes) -> None:
    rows = _rows(ask)
    most = max([len(_points(ask, name)) for name in ("uvts", "lamp_hours", "sleeve_fouling_factors")])
    message = f"Curves and rows together are too many values. Request at most {_MOST_VALUES // rows} points per curve."
    notes.refuse("too_many_points", "uvts", message, when=rows * most > _MOST_VALUES)


def _point(ask: DeratingCurveRequest[Numbers], flow: Any, lower: Any, **changed: Any) -> CurvePoint[Numbers]:
    conditions: dict[str, Any] = {
        "uvt": ask.uvt,
        "lamp_hours": None,
        "lamp_ageing_factor": ask.lamp_ageing_factor,
        "sleeve_fouling_factor": ask.sleeve_fouling_factor,
    }
    spare = None if ask.peak_flow is None or lower is not None else flow - ask.peak_flow
    return CurvePoint(**(conditions | changed), derated_flow=flow, flow_lower_bound=lower, flow_margin=spare)


def _over_uvt(ask: DeratingCurveRequest[Numbers], mean: _Flows, least: _Flows | None) -> list[CurvePoint[Numbers]]:
    uvts = _points(ask, "uvts")
    lower = [None] * len(uvts) if least is None else least.by_uvt
    return [_point(ask, flow, low, uvt=uvt) for uvt, flow, low in zip(uvts, mean.by_uvt, lower, strict=True)]


def _over_hours(ask: DeratingCurveRequest[Numbers], mean: _Flows, least: _Flows | None) -> list[CurvePoint[Numbers]]:
    points: list[CurvePoint[Numbers]] = []
    for hours in _points(ask, "lamp_hours"):
        factor = _ageing(ask, hours)
        flow, lower = _in_proportion(mean, least, factor, ask.lamp_ageing_factor)
        points.append(_point(ask, flow, lower, lamp_hours=hours, lamp_ageing_factor=factor))
    return points


def _over_fouling(ask: DeratingCurveRequest[Numbers], mean: _Flows, least: _Flows | None) -> list[CurvePoint[Numbers]]:
    points: list[CurvePoint[Numbers]] = []
    for factor in _points(ask, "sleeve_fouling_factors"):
        flow, lower = _in_proportion(mean, least, factor, ask.sleeve_fouling_factor)
        points.append(_point(ask, flow, lower, sleeve_fouling_factor=factor))
    return points


def _in_proportion(mean: _Flows, least: _Flows | None, factor: Any, given: Any) -> tuple[Any, Any]:
    """Return both flows for another share of the light. They are proportional to it."""
    return mean.given * factor / given, None if least is None else least.given * factor / given


def _points(ask: Any, name: str) -> tuple[float, ...]:
    return getattr(ask, name) or ()


def _rows(ask: Any) -> int:
    values = (getattr(ask, name) for name in ask.__struct_fields__)
    return max((int(value.size) for value in values if isinstance(value, np.ndarray)), default=1)


def _has_rows(ask: Any) -> bool:
    values = (getattr(ask, name) for name in ask.__struct_fields__)
    return any(isinstance(value, np.ndarray) for value in (*values, *(response_of(ask) or ())))


def _each(flows: Any) -> list[Any]:
    """Split a curve into its values: a number per point, or one per row of a batch."""
    return [flow if flow.size > 1 else float(flow[0]) for flow in flows]


def _ageing(ask: DeratingCurveRequest[Numbers], hours: float) -> Numbers:
    times: Any = ask.ageing_hours
    factors: Any = ask.ageing_factors
    if times is not None:
        return lamp_ageing.interpolated_ageing(hours, times, factors)
    life: Any = ask.end_of_life
    left: Any = ask.end_of_life_factor
    return lamp_ageing.exponential_ageing(hours, life, left)


check_chamber_fields(derating_curve)


@derating_curve.check("lamp_hours", "end_of_life", "end_of_life_factor", "ageing_hours", "ageing_factors")
def _whole_ageing(ask: DeratingCurveRequest[Numbers], notes: Notes) -> None:
    hours, times, factors = _points(ask, "lamp_hours"), _points(ask, "ageing_hours"), _points(ask, "ageing_factors")
    if times or factors:
        if len(times) != len(factors):
            message = "ageing_hours and ageing_factors must have the same number of values."
            notes.refuse("lengths_differ", "ageing_factors", message)
        elif any(second <= first for first, second in pairwise(times)):
            notes.refuse("not_increasing", "ageing_hours", "ageing_hours must increase from value to value.")
        elif any(second > first for first, second in pairwise(factors)):
            notes.refuse("not_decreasing", "ageing_factors", "The output of a lamp does not increase with its hours.")
        elif any(not times[0] <= hour <= times[-1] for hour in hours):
            message = "lamp_hours are outside the entered ageing curve, where the output of the lamp is unknown."
            notes.refuse("outside_ageing_curve", "lamp_hours", message, allowed="hours within ageing_hours")
        return
    if not hours:
        return
    for name in ("end_of_life", "end_of_life_factor"):
        if getattr(ask, name) is None:
            message = f"lamp_hours needs an ageing curve. Enter {name}, or ageing_hours with ageing_factors."
            notes.refuse("required", name, message)
    if ask.end_of_life is not None:
        message = "lamp_hours are past the end of the lamp's life, where its output is unknown."
        notes.refuse("outside_ageing_curve", "lamp_hours", message, when=max(hours) > ask.end_of_life * (1.0 + 1e-9))
