"""Derated flow along curves, and how far each condition may fall before a flow fails its target."""

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np

from dosewright.core.arrays import Array
from dosewright.core.light import dose, dose_distribution, lamp_ageing
from dosewright.core.light.field import Field
from dosewright.core.light.laminar_draws import MANY, laminar_curve
from dosewright.core.root import falling_root
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.engine.registry import Calculation, Views, calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv import charts
from dosewright.topics.uv.contracts.curves import (
    CurvePoint,
    DeratingCurveAnswer,
    DeratingCurveRequest,
    LimitsAnswer,
    LimitsRequest,
)
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    NOT_VALIDATED,
    ONLY_A_MISS,
    field_of,
    hear_lamp,
    lamp_power,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    rest_on_field_model,
)
from dosewright.topics.uv.unit.hydraulics import (
    ORGANISMS,
    hear_organism,
    hear_target_between,
    hydraulics_of,
    refuse_unclear_hydraulics,
    response_of,
)
from dosewright.topics.uv.unit.target_flow import (
    NO_FLOW,
    credited_dose,
    flow_for_target,
    red_in_tanks,
    refuse_endless_dose,
    unmixed_flow,
)

__all__ = ["check_chamber_fields", "derating_curve", "limits"]

_PER_CENTIMETRE = 0.01  # path of a UVT [m]
_DIMMEST = 460.517018598809137  # absorption at a UVT of 1 % per cm [1/m]
_LIMIT_NAMES = ("at_value", "never_fails", "fails_immediately")
_STEPS = 24
_CLOSE = 1e-10  # ln of a dose over its target that is near enough
_BEYOND = 30.0  # ln of what stands for a RED over its target that a floor puts beyond any number
_MOST_VALUES = 4_000_000  # points of all curves times rows of a batch's chunk: what memory bounds

_CURVE = Basis(
    method="derated flow of uv/derated-flow at each point; lamp hours and fouling scale it in proportion, since every "
    "dose is proportional to output over flow",
    source="definitions; ageing exponential to the end-of-life factor, or straight between the points given",
    validity=NOT_VALIDATED,
)
_READ_OFF = Basis(
    method=f"{MANY} or more UVTs in laminar flow: flows read off between those of 16 waters",
    source="polynomial through Chebyshev's points, textbook",
    validity="within 1e-6 of the flow worked out at each point",
)
_LIMITS = Basis(
    method="root of RED = target in one condition, the others as given; in ageing and fouling by proportion",
    source="definitions; regula falsi in the absorption coefficient",
    validity="one condition at a time: two that fall together fail earlier; " + NOT_VALIDATED,
)


def check_chamber_fields(entry: Calculation[Any, Any]) -> None:
    """Add the conditions that every chamber with hydraulics must meet."""
    sizes = ("chamber_bore", "sleeve_outer_diameter", "sleeve_wall", "arc_length", "chamber_length", "opaque_ends")
    entry.check(*sizes)(refuse_impossible_chamber)
    entry.check("sleeve_transmittance", "field_model", "n_air", "n_quartz")(refuse_impossible_sleeve)
    entry.check("hydraulics", "tanks", *ORGANISMS)(refuse_unclear_hydraulics)
    entry.check("hydraulics", "tanks", *ORGANISMS, "target_dose")(refuse_endless_dose)


def _field(ask: Any) -> Field:
    return field_of(ask, ask.arc_length, ask.chamber_length, ask.sleeve_outer_diameter, ask.chamber_bore)


_EXAMPLE = {
    "chamber_bore": "80 mm",
    "sleeve_outer_diameter": "25 mm",
    "arc_length": "720 mm",
    "chamber_length": "780 mm",
    "uvc_output": "17 W",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "85 %",
    "uvt": "88 %",
    "target_dose": "40 mJ/cm2",
    "hydraulics": "tanks_in_series",
    "tanks": "3",
    "inactivation_rate": "0.12 cm2/mJ",
}


@calculation(
    "uv/derating-curve",
    views=Views(chart=charts.derating_curve),
    request=DeratingCurveRequest,
    answer=DeratingCurveAnswer,
    summary="Derated flow along UVT, lamp hours and sleeve fouling",
    example={
        **_EXAMPLE,
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

    Along each curve the other conditions stay as given: over UVT the aged lamp and fouled sleeve, over lamp hours the
    ageing of the lamp's own curve, over fouling the ageing as given.
    """
    rest_on_field_model(ask, notes, "derated_flow")
    hear_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.rest_on(_CURVE)
    hydraulics_of(ask, notes, "derated_flow")
    hear_organism(ask, notes)
    notes.caution(*CAUTIONS)
    field, power = _field(ask), lamp_power(ask)
    rows = _rows(ask)
    most = max([len(_points(ask, name)) for name in ("uvts", "lamp_hours", "sleeve_fouling_factors")])
    if rows * most > _MOST_VALUES:
        message = (
            f"Curves and rows together are too many values: ask for {_MOST_VALUES // rows} points or fewer a curve."
        )
        notes.refuse("too_many_points", "uvts", message)

    def flow_at(uvt: Any) -> Numbers:
        absorption = dose.absorption_coefficient(uvt, _PER_CENTIMETRE)
        return flow_for_target(ask, field, power, absorption, ask.target_dose) / ask.safety_factor

    uvts, response = np.array(_points(ask, "uvts")), response_of(ask)
    if ask.hydraulics == "laminar" and response is not None and uvts.size >= MANY:
        notes.rest_on(_READ_OFF)
        absorption: Any = dose.absorption_coefficient(uvts[:, None], _PER_CENTIMETRE)
        along = laminar_curve(field, power, absorption, ask.target_dose, response) / ask.safety_factor
        base, over = flow_at(ask.uvt), _each(along)
    elif _has_rows(ask):
        base, over = flow_at(ask.uvt), _each(flow_at(uvts[:, None]) if uvts.size else uvts)
    else:
        base, *over = np.asarray(flow_at(np.array([ask.uvt, *uvts]))).tolist()
    notes.refuse(
        "red_undefined",
        "dose_response",
        NO_FLOW,
        when=np.isnan(base),
    )

    def point(flow: Numbers, **changed: Any) -> CurvePoint[Numbers]:
        conditions: dict[str, Any] = {
            "uvt": ask.uvt,
            "lamp_hours": None,
            "lamp_ageing_factor": ask.lamp_ageing_factor,
            "sleeve_fouling_factor": ask.sleeve_fouling_factor,
        }
        spare = None if ask.peak_flow is None else flow - ask.peak_flow
        return CurvePoint(**(conditions | changed), derated_flow=flow, head_room=spare)

    over_uvt = [point(flow, uvt=uvt) for uvt, flow in zip(_points(ask, "uvts"), over, strict=True)]
    over_hours: list[CurvePoint[Numbers]] = []
    for hours in _points(ask, "lamp_hours"):
        factor = _ageing(ask, hours)
        flow = base * factor / ask.lamp_ageing_factor
        over_hours.append(point(flow, lamp_hours=hours, lamp_ageing_factor=factor))
    over_fouling = [
        point(base * factor / ask.sleeve_fouling_factor, sleeve_fouling_factor=factor)
        for factor in _points(ask, "sleeve_fouling_factors")
    ]
    return DeratingCurveAnswer(
        derated_flow=base, over_uvt=over_uvt, over_lamp_hours=over_hours, over_fouling=over_fouling
    )


def _points(ask: Any, name: str) -> tuple[float, ...]:
    return getattr(ask, name) or ()


def _rows(ask: Any) -> int:
    values = (getattr(ask, name) for name in ask.__struct_fields__)
    return max((int(value.size) for value in values if isinstance(value, np.ndarray)), default=1)


def _has_rows(ask: Any) -> bool:
    values = (getattr(ask, name) for name in ask.__struct_fields__)
    return any(isinstance(value, np.ndarray) for value in (*values, *(response_of(ask) or ())))


def _each(flows: Any) -> list[Any]:
    """Take a curve apart: a number a point, or one a row of a batch."""
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
            message = "ageing_hours and ageing_factors must have as many values as each other."
            notes.refuse("lengths_differ", "ageing_factors", message)
        elif any(second <= first for first, second in pairwise(times)):
            notes.refuse("not_rising", "ageing_hours", "ageing_hours must rise from value to value.")
        elif any(second > first for first, second in pairwise(factors)):
            notes.refuse("not_falling", "ageing_factors", "A lamp's output does not rise with its hours.")
        elif any(not times[0] <= hour <= times[-1] for hour in hours):
            message = "lamp_hours lie outside the ageing curve given, where nothing is known of the lamp."
            notes.refuse("outside_ageing_curve", "lamp_hours", message, allowed="hours within ageing_hours")
        return
    if not hours:
        return
    for name in ("end_of_life", "end_of_life_factor"):
        if getattr(ask, name) is None:
            message = f"lamp_hours needs an ageing curve: give {name}, or ageing_hours with ageing_factors."
            notes.refuse("required", name, message)
    if ask.end_of_life is not None:
        message = "lamp_hours go past the end of the lamp's life, where its output is not known."
        notes.refuse("outside_ageing_curve", "lamp_hours", message, when=max(hours) > ask.end_of_life * (1.0 + 1e-9))


@calculation(
    "uv/limits",
    request=LimitsRequest,
    answer=LimitsAnswer,
    summary="What UVT, ageing and fouling a flow can stand, and its dose",
    example={**_EXAMPLE, "flow": "15 L/min", "end_of_life": "9000 h", "end_of_life_factor": "80 %"},
)
def limits(ask: LimitsRequest[Numbers], notes: Notes) -> LimitsAnswer[Numbers]:
    """Turn the derating round: how far UVT, lamp and sleeve may fall before this flow misses the target.

    Each limit keeps the other conditions as given. A limit that even the best condition does not meet is absent.
    """
    rest_on_field_model(ask, notes, "dose_at_flow")
    hear_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.rest_on(_LIMITS)
    hydraulics_of(ask, notes, "dose_at_flow")
    hear_organism(ask, notes)
    notes.caution(*CAUTIONS)
    field = _field(ask)
    power = lamp_power(ask)
    absorption = dose.absorption_coefficient(ask.uvt, _PER_CENTIMETRE)
    here = _red(ask, field, power, absorption)
    highest = flow_for_target(ask, field, power, absorption, ask.target_dose)
    message = "The RED has no value: so few organisms survive that only those no dose inactivates are left."
    notes.refuse("red_undefined", "dose_response", message, when=np.isnan(here))
    notes.refuse("red_undefined", "dose_response", NO_FLOW, when=np.isnan(highest))
    share = ask.flow / highest
    missed: Any = here < ask.target_dose
    lower = lower_flow = None
    met: Any = here >= ask.target_dose
    if ask.hydraulics is None:
        lower = _unmixed_red(ask, field, power, absorption)
        lower_flow = unmixed_flow(ask, field, power, absorption, ask.target_dose)
        met = ONLY_A_MISS[1 * missed]
        hear_target_between(here, lower, ask.target_dose, "dose_lower_bound", notes)
    message = "The dose at this flow misses the target: less flow, clearer water or a larger chamber is needed."
    notes.warn("target_missed", "dose_at_flow", message, when=missed)
    if ask.hydraulics is not None:
        notes.warn("calculated_not_validated", "meets_target", f"The target is met by {NOT_VALIDATED}.", when=met)
    # Where no hydraulics are named the unmixed flow decides, and what the mean dose would allow stands beside it.
    sure = share if lower_flow is None else ask.flow / lower_flow
    red = _red if ask.hydraulics is not None else _unmixed_red
    ageing = _at_most_one(ask.lamp_ageing_factor * sure)
    uvt, uvt_limit = _lowest_uvt(ask, field, power, red)
    open_ended = ask.hydraulics is None
    hours = None
    if ask.end_of_life is not None and ask.end_of_life_factor is not None:
        time = lamp_ageing.hours_to_factor(_or_one(ageing), ask.end_of_life, ask.end_of_life_factor)
        known = np.isfinite(time) & np.isfinite(ageing)
        hours = np.where(known, time, np.nan) if np.ndim(known) else (time if known else None)
        message = (
            "That is past the end of the lamp's life, where its output is not known: replace it then all the same."
        )
        notes.warn("past_end_of_life", "lamp_hours_left_from_new", message, when=known & (time > ask.end_of_life))
    return LimitsAnswer(
        dose_at_flow=here,
        dose_lower_bound=lower,
        meets_target=met,
        highest_flow=highest,
        highest_flow_lower_bound=lower_flow,
        head_room=None if open_ended else highest - ask.flow,
        lowest_uvt=uvt,
        uvt_limit=uvt_limit,
        lowest_lamp_ageing_factor=ageing,
        lamp_ageing_limit=_limit_of(ask.lamp_ageing_factor * sure),
        lowest_sleeve_fouling_factor=_at_most_one(ask.sleeve_fouling_factor * sure),
        sleeve_fouling_limit=_limit_of(ask.sleeve_fouling_factor * sure),
        optimistic_lowest_uvt=_lowest_uvt(ask, field, power, _red)[0] if open_ended else None,
        optimistic_lowest_lamp_ageing_factor=_at_most_one(ask.lamp_ageing_factor * share) if open_ended else None,
        optimistic_lowest_sleeve_fouling_factor=_at_most_one(ask.sleeve_fouling_factor * share) if open_ended else None,
        lamp_hours_left_from_new=hours,
    )


check_chamber_fields(limits)


@limits.check("end_of_life", "end_of_life_factor")
def _both_of_ageing(ask: LimitsRequest[Numbers], notes: Notes) -> None:
    if (ask.end_of_life is None) != (ask.end_of_life_factor is None):
        missing = "end_of_life" if ask.end_of_life is None else "end_of_life_factor"
        notes.refuse("required", missing, "end_of_life and end_of_life_factor make the ageing curve together.")


def _at_most_one(share: Numbers) -> Any:
    return np.where(share <= 1.0, share, np.nan) if np.ndim(share) else (share if share <= 1.0 else float("nan"))


def _limit_of(share: Numbers) -> Any:
    return label(np.where(share <= 1.0, 0, 2)[()], _LIMIT_NAMES)


def _or_one(share: Any) -> Any:
    return np.where(np.isnan(share), 1.0, share) if np.ndim(share) else (1.0 if np.isnan(share) else share)


def _red(ask: Any, field: Field, power: Numbers, absorption: Numbers) -> Numbers:
    """RED under the named hydraulics at the flow, or the mean dose."""
    response = response_of(ask)
    if ask.hydraulics == "laminar" and response is not None:
        red = dose_distribution.laminar_dose(field, power, absorption, ask.flow, response)[0]
        return red if response.convex else credited_dose(red, _mean(ask, field, power, absorption))
    mean = _mean(ask, field, power, absorption)
    if ask.hydraulics == "tanks_in_series" and response is not None and ask.tanks is not None:
        return credited_dose(red_in_tanks(mean, response, ask.tanks), mean)
    return mean


def _mean(ask: Any, field: Field, power: Numbers, absorption: Numbers) -> Numbers:
    return dose.mean_dose(field.average(power, absorption), dose.residence_time(field.volume, ask.flow))


def _unmixed_red(ask: Any, field: Field, power: Numbers, absorption: Numbers) -> Numbers:
    """RED of unmixed laminar flow, no more than the mean dose."""
    response = response_of(ask)
    red = dose_distribution.laminar_dose(field, power, absorption, ask.flow, response)[0]
    return red if response is None or response.convex else credited_dose(red, _mean(ask, field, power, absorption))


def _lowest_uvt(
    ask: LimitsRequest[Numbers], field: Field, power: Numbers, red: Callable[..., Numbers]
) -> tuple[Any, Any]:
    """Return the UVT at which the target is just met, and whether there is one."""
    goal = np.log(ask.target_dose)

    def excess(absorption: Array) -> Array:
        single = absorption.ndim == 0
        above = np.asarray(np.log(red(ask, field, power, float(absorption) if single else absorption)) - goal)
        return np.where(np.isnan(above), _BEYOND, above)

    shape = np.shape(excess(np.asarray(0.0)))
    low, high = np.zeros(shape), np.full(shape, _DIMMEST)
    clear_meets, dark_misses = excess(low) >= 0.0, excess(high) <= 0.0
    crosses = clear_meets & dark_misses
    limit = label(np.where(crosses, 0, np.where(clear_meets, 1, 2))[()], _LIMIT_NAMES)
    root = falling_root(excess, low, high, _STEPS, _CLOSE)
    uvt = dose.transmittance(root, _PER_CENTIMETRE)
    found: Any = np.where(crosses, uvt, np.nan)
    return (found if np.ndim(found) else float(found)), limit
