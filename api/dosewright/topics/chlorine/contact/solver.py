"""Solution for an omitted residual, flow, volume or time at an inactivation ratio of 1."""

from functools import reduce
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.chlorine import contact_time as core
from dosewright.core.constants import ROUNDING
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.chlorine.contact.required import Conditions, required_ct, table_of
from dosewright.topics.chlorine.contact.segments import (
    Stay,
    Unknown,
    all_turbulent,
    conditions_of,
    limit_to_laminar,
    stays_of,
)
from dosewright.topics.chlorine.contracts.contact_time import ContactRequest

__all__ = ["Solved", "ct_of", "flow_to_meet", "residual_to_meet", "solve", "time_in", "total"]

Ask = ContactRequest[Numbers]

_CT_UNIT = 0.06  # kg·s/m³ in 1 mg·min/L


class Solved(NamedTuple):
    """Residual, flow and residence in the segments, complete.

    Attributes
    ----------
    residual : float, array or None
        None if each segment has its own [kg/m³].
    flow : float, array or None
        None if no segment depends on it [m³/s].
    stays : list of Stay
        One for each segment.
    """

    residual: Numbers | None
    flow: Numbers | None
    stays: list[Stay]


def total(values: list[Numbers]) -> Numbers:
    """Return the sum, added in order."""
    return reduce(lambda so_far, value: so_far + value, values)


def ct_of(residual: Numbers, time: Numbers) -> Numbers:
    """Return residual times contact time [mg·min/L]."""
    return residual * time / _CT_UNIT


def time_in(stay: Stay, flow: Numbers | None) -> Numbers:
    """Return the contact time in a segment [s]."""
    if stay.time is not None:
        return stay.time
    return core.contact_time(_present(stay.volume), _present(stay.baffling_factor), _present(flow))


def solve(ask: Ask, unknown: Unknown, notes: Notes) -> Solved:
    """Solve for the omitted value; reject a request without a solution."""
    stays = stays_of(ask, ask.flow)
    if unknown.name == "residual":
        solution = _residual(ask, stays, ask.flow)
        _refuse_unreached(ask, solution, notes)
        # A rejected row still runs through the rest, with any residual in the table.
        held = np.where(solution.reached, solution.residual, float(table_of(ask).residuals[-1]))[()]
        return Solved(held, ask.flow, stays)
    if unknown.name == "flow":
        by_flow, fixed = _shares(ask, ask.residual, stays)
        mixed = all_turbulent(ask, by_flow / np.where(fixed >= 1.0, np.nan, 1.0 - fixed)[()])
        stays = [
            limit_to_laminar(one, stay, np.logical_not(mixed)) for one, stay in zip(ask.segments, stays, strict=True)
        ]
        by_flow, fixed = _shares(ask, ask.residual, stays)
        free = fixed >= 1.0
        message = "The measured sections alone meet the target, so the flow has no limit. Enter a flow."
        notes.refuse("not_needed", "flow", message, when=free)
        flow = by_flow / np.where(free, 1.0, 1.0 - fixed)[()]
        return Solved(ask.residual, _reported(flow, flow > 0.0, "flow", notes), stays)
    if unknown.name == "nothing":
        return Solved(ask.residual, ask.flow, stays)
    return Solved(ask.residual, ask.flow, _filled_in(ask, unknown, stays, notes))


def flow_to_meet(ask: Ask, solved: Solved) -> Numbers | None:
    """Return the highest flow that meets the target; None, or not a number, if there is no limit."""
    if not any(stay.by_flow for stay in solved.stays):
        return None
    by_flow, fixed = _shares(ask, solved.residual, solved.stays)
    flow = by_flow / np.where(fixed >= 1.0, np.nan, 1.0 - fixed)[()]
    # A lower flow can be laminar where the present one is not: then only the laminar credit is safe.
    laminar = [
        limit_to_laminar(segment, stay, np.bool_(1)) for segment, stay in zip(ask.segments, solved.stays, strict=True)
    ]
    by_laminar, _ = _shares(ask, solved.residual, laminar)
    flow = np.where(all_turbulent(ask, flow), flow, flow * by_laminar / by_flow)[()]
    return None if np.ndim(flow) == 0 and np.isnan(flow) else flow


def residual_to_meet(ask: Ask, solved: Solved) -> Numbers | None:
    """Return the residual that meets the target; None, or not a number, if none in the table does."""
    if all(segment.residual is not None for segment in ask.segments):
        return None
    solution = _residual(ask, solved.stays, solved.flow)
    if np.ndim(solution.reached) == 0:
        return solution.residual if solution.reached else None
    return np.where(solution.reached, solution.residual, np.nan)


def _present(value: Numbers | None) -> Numbers:
    if value is None:
        raise LookupError("a second value left out passed the checks")
    return value


def _per_second(ask: Ask, at: Conditions) -> Numbers:
    """Return the inactivation ratio per second in a segment [1/s]."""
    return ct_of(at.residual, 1.0) / required_ct(ask, ask.log_inactivation, at).ct


def _shares(ask: Ask, residual: Numbers | None, stays: list[Stay]) -> tuple[Numbers, Numbers]:
    """Return the ratio at unit flow of the segments that depend on it [m³/s], and that of the others [1]."""
    by_flow: Any = 0.0
    fixed: Any = 0.0
    for segment, stay in zip(ask.segments, stays, strict=True):
        rate = _per_second(ask, conditions_of(ask, segment, residual))
        if stay.time is None:
            by_flow = by_flow + rate * (_present(stay.volume) * _present(stay.baffling_factor))
        else:
            fixed = fixed + rate * stay.time
    return by_flow, fixed


def _filled_in(ask: Ask, unknown: Unknown, stays: list[Stay], notes: Notes) -> list[Stay]:
    """Return the residences with the volume or time that gives a ratio of 1."""
    rates = [_per_second(ask, conditions_of(ask, segment, ask.residual)) for segment in ask.segments]
    others: Any = 0.0
    for number, (rate, stay) in enumerate(zip(rates, stays, strict=True)):
        if number != unknown.segment:
            others = others + rate * time_in(stay, ask.flow)
    time = np.maximum(1.0 - others, 0.0) / rates[unknown.segment]
    message = "The other segments alone meet the target. This one is not needed."
    notes.warn("not_needed", unknown.pointer.replace("/", "."), message, when=others >= 1.0)
    stay = stays[unknown.segment]
    if unknown.name == "contact_time":
        filled = stay._replace(time=time)
    else:
        volume = time * _present(ask.flow) / _present(stay.baffling_factor)
        filled = stay._replace(volume=_reported(volume, volume < np.inf, unknown.pointer, notes))
    return [filled if number == unknown.segment else stay for number, stay in enumerate(stays)]


def _reported(found: Numbers, determined: Any, pointer: str, notes: Notes) -> Numbers:
    """Reject a solution that overflows; the rest of that row continues with 1."""
    message = "The solution overflowed: a residual, volume or baffling factor is close to 0. Check the units."
    missed = np.logical_not(determined)
    notes.refuse("outside_method", pointer, message, when=missed)
    return np.where(missed, 1.0, found)[()]


def _residual(ask: Ask, stays: list[Stay], flow: Numbers | None) -> core.RowSolution:
    """Return the residual that meets the target, if the table has one.

    Segments with a given residual keep it; the others have one common residual.
    """
    shared: list[tuple[Any, Numbers]] = []
    left: Any = 1.0
    for segment, stay in zip(ask.segments, stays, strict=True):
        time = time_in(stay, flow)
        if segment.residual is None:
            shared.append((segment, time))
        else:
            left = left - _per_second(ask, conditions_of(ask, segment, None)) * time
    left = np.maximum(left, 0.0)

    def ratio(residual: Numbers, row: Numbers) -> Numbers:
        """Return the ratio of the others at a residual, with the CT required at a row's residual."""
        times = [
            ct_of(residual, time) / required_ct(ask, ask.log_inactivation, conditions_of(ask, segment, None, row)).ct
            for segment, time in shared
        ]
        return total(times)

    marks = table_of(ask).residuals
    if len(marks) == 1:
        found = left / ratio(1.0, 1.0)
        return core.RowSolution(found, np.isfinite(found))
    if ask.method == "table" and ask.interpolation == "guidance":
        return core.residual_for_rows(marks, [left / ratio(1.0, float(mark)) for mark in marks])
    high = float(marks[-1])
    low = 0.0 if ask.method == "table" else float(marks[0])
    found = core.rising_root(lambda residual: 1.0 - left + ratio(residual, residual), low, high)
    if ask.method != "table":
        # Below its first residual a regression was not compared with the table, and is not used.
        found = np.where(ratio(low, low) >= left, low, found)[()]
    reached = ratio(high, high) >= left - ROUNDING
    return core.RowSolution(found, np.asarray(reached)[()])


def _refuse_unreached(ask: Ask, solution: core.RowSolution, notes: Notes) -> None:
    highest = float(table_of(ask).residuals[-1]) * 1e3
    message = (
        f"No residual in the table meets the target: its highest is {highest:g} mg/L. Increase the volume, improve the "
        "baffling or reduce the flow."
    )
    missed = np.logical_not(solution.reached)
    notes.refuse("out_of_table", "residual", message, when=missed, allowed=f"at most {highest:g} mg/L")
