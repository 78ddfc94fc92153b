"""The lowest UVT, lamp ageing and sleeve fouling at which a chamber still meets its target."""

from collections.abc import Callable
from typing import Any

import numpy as np

from dosewright.core.arrays import Array
from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose, lamp_ageing
from dosewright.core.light.doses import laminar_dose
from dosewright.core.light.field import Field
from dosewright.core.root import falling_root
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.curves import (
    LimitsAnswer,
    LimitsRequest,
)
from dosewright.topics.uv.derating_curve import chamber_field, check_chamber_fields
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    NOT_VALIDATED,
    ONLY_A_MISS,
    add_basis_of_field_model,
    lamp_power,
    warn_lamp,
)
from dosewright.topics.uv.unit.example import EXAMPLE_UNIT
from dosewright.topics.uv.unit.hydraulics import (
    hydraulics_of,
    response_of,
    warn_organism,
    warn_target_between,
)
from dosewright.topics.uv.unit.target_flow import (
    NO_FLOW,
    credited_dose,
    flow_for_target,
    red_in_tanks,
    unmixed_flow,
    warn_where_capped,
)

__all__ = ["limits"]

_DIMMEST = 460.517018598809137  # absorption at a UVT of 1 % per cm [1/m]
_LIMIT_NAMES = ("at_value", "never_fails", "fails_immediately")
_STEPS = 60
_CLOSE = 1e-10  # ln(dose / target) that is close enough
_MISS = 1e-6  # ln(dose / target) that is no longer a root
_NO_ROOT = (
    "No UVT just meets the target. With this dose response, the RED jumps from above the target to below it "
    "where only the floor is left. Enter a lower target, or a response without a floor."
)
_BEYOND = 30.0  # ln(RED / target) used where a floor makes the RED infinite
_LIMITS = Basis(
    method=(
        "root of RED = target in one condition, the others as entered; proportional in lamp ageing and sleeve fouling"
    ),
    source="definitions; regula falsi in the absorption coefficient",
    validity="one condition at a time: two that fall together fail earlier; " + NOT_VALIDATED,
)

_Both = tuple[Numbers, Numbers | None]


@calculation(
    "uv/limits",
    request=LimitsRequest,
    answer=LimitsAnswer,
    summary="Lowest UVT, lamp ageing and sleeve fouling for a flow, and its dose",
    example={**EXAMPLE_UNIT, "flow": "15 L/min", "end_of_life": "9000 h", "end_of_life_factor": "80 %"},
)
def limits(ask: LimitsRequest[Numbers], notes: Notes) -> LimitsAnswer[Numbers]:
    """Calculate how far UVT, lamp and sleeve can fall before this flow misses the target.

    Each limit keeps the other conditions as entered. If even the best condition misses the target, the limit is absent.
    """
    _start(ask, notes)
    field, power = chamber_field(ask), lamp_power(ask)
    absorption = dose.absorption_coefficient(ask.uvt, CENTIMETRE)
    here = _red(ask, field, power, absorption)
    highest = flow_for_target(ask, field, power, absorption, ask.target_dose)
    share = ask.flow / highest
    missed: Any = here < ask.target_dose
    lower = lower_flow = None
    met: Any = here >= ask.target_dose
    if ask.hydraulics is None:
        lower = np.minimum(_unmixed_red(ask, field, power, absorption), here)
        lower_flow = np.minimum(unmixed_flow(ask, field, power, absorption, ask.target_dose), highest)
        met = ONLY_A_MISS[1 * missed]
        warn_target_between(here, lower, ask.target_dose, "dose_lower_bound", notes)
    _look_at_both(ask, field, (here, lower), (highest, lower_flow), notes)
    _warn_dose(ask, missed, met, notes)
    # Without hydraulics the unmixed flow decides; the limit by the mean dose is given in addition.
    sure = share if lower_flow is None else ask.flow / lower_flow
    red = _red if ask.hydraulics is not None else _unmixed_red
    ageing = _at_most_one(ask.lamp_ageing_factor * sure)
    uvt, uvt_limit = _lowest_uvt(ask, field, power, red, notes)
    open_ended = ask.hydraulics is None
    return LimitsAnswer(
        dose_at_flow=here,
        dose_lower_bound=lower,
        meets_target=met,
        highest_flow=highest,
        highest_flow_lower_bound=lower_flow,
        flow_margin=None if open_ended else highest - ask.flow,
        lowest_uvt=uvt,
        uvt_limit=uvt_limit,
        lowest_lamp_ageing_factor=ageing,
        lamp_ageing_limit=_limit_of(ask.lamp_ageing_factor * sure),
        lowest_sleeve_fouling_factor=_at_most_one(ask.sleeve_fouling_factor * sure),
        sleeve_fouling_limit=_limit_of(ask.sleeve_fouling_factor * sure),
        optimistic_lowest_uvt=_optimistic_uvt(ask, field, power, uvt, notes),
        optimistic_lowest_lamp_ageing_factor=_at_most_one(ask.lamp_ageing_factor * share) if open_ended else None,
        optimistic_lowest_sleeve_fouling_factor=_at_most_one(ask.sleeve_fouling_factor * share) if open_ended else None,
        lamp_hours_to_limit=_hours_left(ask, ageing, notes),
    )


def _start(ask: LimitsRequest[Numbers], notes: Notes) -> None:
    """Add the basis of the answer, and the warnings about its inputs."""
    add_basis_of_field_model(ask, notes, "dose_at_flow")
    warn_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.add_basis(_LIMITS)
    hydraulics_of(ask, notes, "dose_at_flow")
    warn_organism(ask, notes)
    notes.caution(*CAUTIONS)


def _look_at_both(ask: LimitsRequest[Numbers], field: Field, doses: _Both, flows: _Both, notes: Notes) -> None:
    """Refuse a dose or flow without a value, and warn of one that is limited to the mean dose."""
    _refuse_undefined(doses, flows, notes)
    _warn_where_capped(ask, field, doses, flows, notes)


def _refuse_undefined(doses: _Both, flows: _Both, notes: Notes) -> None:
    message = "The RED has no value: the only surviving organisms are those that no dose inactivates."
    for values, why in ((doses, message), (flows, NO_FLOW)):
        unfound = np.broadcast_arrays(*(np.isnan(value) for value in values if value is not None))
        notes.refuse("red_undefined", "dose_response", why, when=np.any(unfound, axis=0))


def _warn_where_capped(ask: LimitsRequest[Numbers], field: Field, doses: _Both, flows: _Both, notes: Notes) -> None:
    """Warn if dose or flow is limited to the mean dose. Each has its lower bound, if there is one."""
    average = field.average(lamp_power(ask), dose.absorption_coefficient(ask.uvt, CENTIMETRE)) * field.volume
    for (value, lower), most, names in (
        (doses, average / ask.flow, ("dose_at_flow", "dose_lower_bound")),
        (flows, average / ask.target_dose, ("highest_flow", "highest_flow_lower_bound")),
    ):
        if lower is not None:
            warn_where_capped(ask, lower, most, names[1], notes)
        else:
            warn_where_capped(ask, value, most, names[0], notes)


def _hours_left(ask: LimitsRequest[Numbers], ageing: Any, notes: Notes) -> Any:
    """Return the hours from a new lamp to the lowest ageing factor, if its curve is known."""
    if ask.end_of_life is None or ask.end_of_life_factor is None:
        return None
    time = lamp_ageing.hours_to_factor(_or_one(ageing), ask.end_of_life, ask.end_of_life_factor)
    known = np.isfinite(time) & np.isfinite(ageing)
    message = (
        "These lamp hours are past the end of the lamp's life, where its output is unknown. Replace the "
        "lamp at the end of its life."
    )
    notes.warn("past_end_of_life", "lamp_hours_to_limit", message, when=known & (time > ask.end_of_life))
    return np.where(known, time, np.nan) if np.ndim(known) else (time if known else None)


def _warn_dose(ask: LimitsRequest[Numbers], missed: Any, met: Any, notes: Notes) -> None:
    message = (
        "The dose at this flow is below the target. Reduce the flow, make the water clearer, or use a larger chamber."
    )
    notes.warn("target_missed", "dose_at_flow", message, when=missed)
    if ask.hydraulics is not None:
        notes.warn("calculated_not_validated", "meets_target", f"The target is met by {NOT_VALIDATED}.", when=met)


@limits.check("end_of_life", "end_of_life_factor")
def _both_of_ageing(ask: LimitsRequest[Numbers], notes: Notes) -> None:
    if (ask.end_of_life is None) != (ask.end_of_life_factor is None):
        missing = "end_of_life" if ask.end_of_life is None else "end_of_life_factor"
        notes.refuse("required", missing, "The ageing curve needs both end_of_life and end_of_life_factor.")


def _optimistic_uvt(ask: LimitsRequest[Numbers], field: Field, power: Numbers, sure: Any, notes: Notes) -> Any:
    """Return the limit by the mean dose, never above the safe limit by rounding."""
    if ask.hydraulics is not None:
        return None
    by_mean: Any = _lowest_uvt(ask, field, power, _red, notes)[0]
    least = np.where(np.greater(by_mean, sure), np.asarray(sure, dtype=np.float64), by_mean)
    return least[()]


def _at_most_one(share: Numbers) -> Any:
    return np.where(share <= 1.0, share, np.nan) if np.ndim(share) else (share if share <= 1.0 else float("nan"))


def _limit_of(share: Numbers) -> Any:
    return label(np.where(share <= 1.0, 0, 2)[()], _LIMIT_NAMES)


def _or_one(share: Any) -> Any:
    return np.where(np.isnan(share), 1.0, share) if np.ndim(share) else (1.0 if np.isnan(share) else share)


def _red(ask: Any, field: Field, power: Numbers, absorption: Numbers) -> Numbers:
    """RED with the chosen hydraulics at this flow, or the mean dose."""
    response = response_of(ask)
    if ask.hydraulics == "laminar" and response is not None:
        red = laminar_dose.laminar_dose(field, power, absorption, ask.flow, response)[0]
        return red if response.convex else credited_dose(red, _mean(ask, field, power, absorption))
    mean = _mean(ask, field, power, absorption)
    if ask.hydraulics == "tanks_in_series" and response is not None and ask.tanks is not None:
        return credited_dose(red_in_tanks(mean, response, ask.tanks), mean)
    return mean


def _mean(ask: Any, field: Field, power: Numbers, absorption: Numbers) -> Numbers:
    return dose.mean_dose(field.average(power, absorption), dose.residence_time(field.volume, ask.flow))


def _unmixed_red(ask: Any, field: Field, power: Numbers, absorption: Numbers) -> Numbers:
    """RED of unmixed laminar flow, at most the mean dose."""
    response = response_of(ask)
    red = laminar_dose.laminar_dose(field, power, absorption, ask.flow, response)[0]
    return red if response is None or response.convex else credited_dose(red, _mean(ask, field, power, absorption))


def _lowest_uvt(
    ask: LimitsRequest[Numbers], field: Field, power: Numbers, red: Callable[..., Numbers], notes: Notes
) -> tuple[Any, Any]:
    """Return the UVT that just meets the target, and whether one exists; add a fault if it was not located."""
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
    root = falling_root(excess, low, high, _STEPS, _CLOSE, _MISS)
    unfound = np.isnan(root)
    notes.refuse("red_undefined", "dose_response", _NO_ROOT, when=(crosses & unfound)[()])
    uvt = dose.transmittance(np.where(unfound, 0.0, root), CENTIMETRE)
    found: Any = np.where(crosses & ~unfound, uvt, np.nan)
    return (found if np.ndim(found) else float(found)), limit


check_chamber_fields(limits)
