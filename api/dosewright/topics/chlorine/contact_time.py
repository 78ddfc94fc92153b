"""CT required and achieved, and the residual, flow, volume or time to solve for."""

from functools import reduce
from typing import cast

import numpy as np

from dosewright.core.constants import ROUNDING
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.present.rounding import number
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import chlorine_limit
from dosewright.topics.chlorine.contact.required import (
    Conditions,
    Required,
    check_table,
    guidance_ct,
    required_ct,
    table_of,
    warn_table,
)
from dosewright.topics.chlorine.contact.segments import (
    NOTHING,
    Stay,
    Unknown,
    check_segments,
    conditions_of,
    unknowns_of,
    warn_segments,
)
from dosewright.topics.chlorine.contact.solver import (
    Solved,
    ct_of,
    flow_to_meet,
    residual_to_meet,
    solve,
    time_in,
    total,
)
from dosewright.topics.chlorine.contracts.contact_time import ContactAnswer, ContactRequest, ContactSegment
from dosewright.topics.chlorine.page import chlorine_page

__all__ = ["contact_time"]

Ask = ContactRequest[Numbers]

_CREDITED = {"giardia": 3.0, "virus": 4.0, "cryptosporidium": 3.0}

_RATIO = Basis(
    method="inactivation ratio = sum over segments of residual x contact time / CT required; log = 3 x the ratio for "
    "3 log (virus: 4 log)",
    source="40 CFR 141.534; for viruses the EPA manual on disinfection profiling [from memory]",
    validity="residual at the end of each segment, at the highest flow, lowest temperature and highest pH of the day",
)


@calculation(
    "chlorine/contact-time",
    views=Views(page=chlorine_page),
    request=ContactRequest,
    answer=ContactAnswer,
    summary="CT required and achieved in tanks and pipes, or the residual, flow, volume or time required",
    example={
        "organism": "giardia",
        "log_inactivation": "1",
        "water_temperature": "9 degC",
        "ph": "7.4",
        "residual": "0.8 mg/L",
        "flow": "5 gal/min",
        "segments": [
            {"kind": "tank", "volume": "300 gal", "baffling": "poor"},
            {
                "kind": "pipe",
                "length": "150 ft",
                "material": "pvc_schedule_40",
                "nominal_size": "1",
                "residual": "0.6 mg/L",
            },
        ],
    },
)
def contact_time(ask: ContactRequest[Numbers], notes: Notes) -> ContactAnswer[Numbers]:
    """Inactivation ratio of disinfected water from the published CT, through tanks and pipes in sequence.

    Omit one value to solve for it at a ratio of 1: the residual, the flow, the volume of a tank or the time of a
    measured section. Between cells the guidance's rule is used: the next colder temperature, the next higher pH and
    residual; or linear interpolation on request. Values outside the table are rejected. A regression is used only on
    request, and its deviation from the table is reported.
    """
    unknown = next(iter(unknowns_of(ask)), NOTHING)
    solved = solve(ask, unknown, notes)
    times = [time_in(stay, solved.flow) for stay in solved.stays]
    conditions = [conditions_of(ask, segment, solved.residual) for segment in ask.segments]
    required = [required_ct(ask, ask.log_inactivation, at) for at in conditions]
    achieved = [ct_of(at.residual, time) for at, time in zip(conditions, times, strict=True)]
    ratio = total([ct / needed.ct for ct, needed in zip(achieved, required, strict=True)])
    ct_achieved, time = total(achieved), total(times)
    table_ct = _guidance(ask, conditions, achieved)
    ct_required = _mean(required, ct_achieved, ratio)
    deviation = None if table_ct is None else ct_required / table_ct - 1.0
    log = _log_achieved(ask, conditions, achieved, ratio, notes)
    _warn(ask, unknown, solved, ratio, required, notes)
    _warn_deviation(ask, deviation, notes)
    return ContactAnswer(
        sufficient=cast("bool", ratio >= 1.0 - ROUNDING),
        inactivation_ratio=ratio,
        log_inactivation_achieved=log,
        log_inactivation_credited=np.minimum(log, _CREDITED[ask.organism]),
        ct_required=ct_required,
        ct_achieved=ct_achieved,
        solved_for=unknown.name,
        residual=solved.residual,
        flow=solved.flow,
        contact_time=time,
        residual_to_meet=solved.residual if unknown.name == "residual" else residual_to_meet(ask, solved),
        flow_to_meet=flow_to_meet(ask, solved),
        contact_time_to_meet=time / ratio,
        ct_required_table=table_ct,
        deviation_from_table=deviation,
        segments=[
            _segment(str(type(segment).__struct_config__.tag), stay, at, needed, solved.flow)
            for segment, stay, at, needed in zip(ask.segments, solved.stays, conditions, required, strict=True)
        ],
    )


@contact_time.check("disinfectant", "organism", "log_inactivation", "method")
def _(ask: Ask, notes: Notes) -> None:
    check_table(ask, notes)


@contact_time.check(
    "disinfectant", "organism", "log_inactivation", "method", "segments", "residual", "flow", "ph", "water_temperature"
)
def _(ask: Ask, notes: Notes) -> None:
    if not any(fault.code in {"no_table", "not_applicable"} for fault, _ in notes.faults):
        check_segments(ask, notes)


def _mean(required: list[Required], achieved: Numbers, ratio: Numbers) -> Numbers:
    """Return the CT required: of the one segment, or of several the value that gives the ratio."""
    return required[0].ct if len(required) == 1 else achieved / ratio


def _guidance(ask: Ask, conditions: list[Conditions], achieved: list[Numbers]) -> Numbers | None:
    """Return the CT of the guidance's cells, if a regression or interpolation was requested."""
    if ask.method == "table" and ask.interpolation == "guidance":
        return None
    cells = [guidance_ct(ask, ask.log_inactivation, at) for at in conditions]
    ratios = [ct / cell.ct for ct, cell in zip(achieved, cells, strict=True)]
    return _mean(cells, total(achieved), total(ratios))


def _log_achieved(
    ask: Ask, conditions: list[Conditions], achieved: list[Numbers], ratio: Numbers, notes: Notes
) -> Numbers:
    """Return the log inactivation; at least the required one if the CT is sufficient, and less if it is not."""
    credited = _CREDITED[ask.organism]
    whole = [required_ct(ask, credited, at) for at in conditions]
    by_whole = credited * total([ct / needed.ct for ct, needed in zip(achieved, whole, strict=True)])
    required = ask.log_inactivation
    met = ratio >= 1.0 - ROUNDING
    log = np.where(met, np.maximum(by_whole, required), np.minimum(by_whole, required * ratio))[()]
    message = f"The result is above the {credited:g} log that the rule credits. Report it as at least {credited:g} log."
    notes.warn("log_above_credit", "log_inactivation_achieved", message, when=log > credited * (1.0 + ROUNDING))
    return log


def _segment(
    kind: str, stay: Stay, at: Conditions, required: Required, flow: Numbers | None
) -> ContactSegment[Numbers]:
    time = time_in(stay, flow)
    achieved = ct_of(at.residual, time)
    return ContactSegment(
        kind=kind,
        volume=stay.volume,
        baffling_factor=stay.baffling_factor,
        residence_time=None if stay.volume is None or flow is None else stay.volume / flow,
        contact_time=time,
        residual=at.residual,
        ct_achieved=achieved,
        ct_required=required.ct,
        inactivation_ratio=achieved / required.ct,
        cell=required.cell,
        status=required.status,
    )


def _warn(ask: Ask, unknown: Unknown, solved: Solved, ratio: Numbers, required: list[Required], notes: Notes) -> None:
    recalled = reduce(np.logical_or, [needed.recalled for needed in required])
    warn_table(ask, recalled, notes)
    notes.add_basis(_RATIO)
    warn_segments(ask, solved.flow, notes)
    value = "below 1" if np.ndim(ratio) else f"{number(float(ratio), 'down')}, below the required 1"
    message = f"The inactivation ratio is {value}. Increase the contact time or the residual, or reduce the flow."
    notes.warn("not_sufficient", "inactivation_ratio", message, when=ratio < 1.0 - ROUNDING)
    if ask.disinfectant == "free_chlorine" and solved.residual is not None:
        limit, source = chlorine_limit("maximum_residual")
        message = f"The residual is above the {limit * 1e3:g} mg/L allowed in drinking water ({source})."
        notes.warn("above_drinking_limit", "residual", message, when=solved.residual > limit * (1.0 + ROUNDING))
    if unknown.name == "residual" and ask.method == "table" and ask.interpolation == "guidance":
        message = (
            "This is the lowest residual from which every larger one in the table also meets the target. The CT "
            "required steps up just above each row, so a smaller residual at the top of its row can also meet it."
        )
        notes.warn("residual_stepwise", "residual", message, when=np.bool_(len(table_of(ask).residuals) > 1))
    if unknown.name == "residual" and ask.method != "table":
        message = "This is the lowest residual for which the regression is valid; it is more than enough."
        notes.warn("residual_at_lowest", "residual", message, when=ratio > 1.0 + ROUNDING)
    if ask.disinfectant == "chloramine" and ask.organism == "virus":
        message = (
            "This table is valid only if chlorine is added before ammonia. Preformed chloramine needs a higher CT."
        )
        notes.warn("chloramine_order", "disinfectant", message)
    notes.caution("ct_credit", "dialysis", "aquaria", "local_rules")


def _warn_deviation(ask: Ask, deviation: Numbers | None, notes: Notes) -> None:
    if deviation is None:
        return
    message = (
        "The requested method requires less CT than the guidance's cell. A health officer will use the cell "
        "(ct_required_table)."
    )
    notes.warn("below_table", "deviation_from_table", message, when=deviation < -ROUNDING)
    if ask.method != "table":
        message = "A regression is used in place of the table, as requested. The table comes first."
        notes.warn("regression_requested", "method", message)
