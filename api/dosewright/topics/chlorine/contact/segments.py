"""Segments that disinfected water runs through: how long it stays in each, and which value to solve for."""

from functools import reduce
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.chlorine.contact_time import LAMINAR_T10
from dosewright.core.hydraulics import friction, pipe, vessels
from dosewright.core.water_and_air import water
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.sentences import listed
from dosewright.quantities import Numbers
from dosewright.tables.contact_time import baffling_factors
from dosewright.topics.chlorine.contact.required import Conditions, check_conditions, needs_ph
from dosewright.topics.chlorine.contracts.contact_time import ContactPipe, ContactRequest, ContactTank, MeasuredContact
from dosewright.topics.pipe.run.pipe_contents import bore_of, check_pipe, warn_pipes

__all__ = [
    "NOTHING",
    "AnySegment",
    "Stay",
    "Unknown",
    "all_turbulent",
    "check_segments",
    "conditions_of",
    "limit_to_laminar",
    "stays_of",
    "unknowns_of",
    "warn_segments",
]

AnySegment = ContactTank[Numbers] | ContactPipe[Numbers] | MeasuredContact[Numbers]

_SHORT_PIPE = 40.0
_LAMINAR = Basis(
    method="laminar pipe: T10 = mean time / (2 sqrt(0.9)) = 0.527 of the mean time",
    source="parabolic velocity profile without mixing, textbook: F(t) = 1 - (T/2t)^2",
    validity="Reynolds numbers below 4000, with the transition treated as laminar; on the safe side for short pipes",
)


class Unknown(NamedTuple):
    """A value to solve for.

    Attributes
    ----------
    name : str
        residual, flow, volume or contact_time.
    pointer : str
        Its place in the request, without the first slash.
    segment : int
        Number of the segment; -1 if it belongs to none.
    """

    name: str
    pointer: str
    segment: int = -1


NOTHING = Unknown("nothing", "")


class Stay(NamedTuple):
    """Residence of the water in a segment.

    Attributes
    ----------
    volume, baffling_factor : float, array or None
        Of a tank or pipe; the volume is None if it is solved for [m³, 1].
    time : float, array or None
        Measured contact time; None if it is solved for or depends on the flow [s].
    """

    volume: Numbers | None
    baffling_factor: Numbers | None
    time: Numbers | None

    @property
    def by_flow(self) -> bool:
        """Whether the contact time depends on the flow."""
        return self.baffling_factor is not None


def unknowns_of(ask: ContactRequest[Numbers]) -> list[Unknown]:
    """Return every omitted value."""
    found: list[Unknown] = []
    if ask.residual is None and any(segment.residual is None for segment in ask.segments):
        found.append(Unknown("residual", "residual"))
    if ask.flow is None and not all(isinstance(segment, MeasuredContact) for segment in ask.segments):
        found.append(Unknown("flow", "flow"))
    for number, segment in enumerate(ask.segments):
        if isinstance(segment, ContactTank) and segment.volume is None:
            found.append(Unknown("volume", f"segments/{number}/volume", number))
        elif isinstance(segment, MeasuredContact) and segment.contact_time is None:
            found.append(Unknown("contact_time", f"segments/{number}/contact_time", number))
    return found


def check_segments(ask: ContactRequest[Numbers], notes: Notes) -> None:
    """Reject segments with conflicting fields, two values to solve for, and conditions outside the table."""
    with known_only():
        unknowns = unknowns_of(ask)
        if len(unknowns) > 1:
            names = listed(unknown.pointer.replace("/", ".") for unknown in unknowns)
            message = f"Only one value can be solved for, but {names} are missing. Enter all but one."
            notes.refuse("too_many_unknown", unknowns[1].pointer, message)
    with known_only():
        if needs_ph(ask) and ask.ph is None and any(segment.ph is None for segment in ask.segments):
            notes.refuse("required", "ph", "The table depends on pH, or is valid only in a range of pH. Enter ph.")
    with known_only():
        check_conditions(ask, ask.ph, ask.water_temperature, ask.residual, "", notes)
    for number, segment in enumerate(ask.segments):
        at = f"segments/{number}"
        with known_only():
            check_conditions(ask, segment.ph, segment.water_temperature, segment.residual, f"{at}/", notes)
        with known_only():
            if isinstance(segment, ContactPipe):
                check_pipe(segment, at, notes)
            elif isinstance(segment, ContactTank):
                _check_tank(segment, at, notes)


def _check_tank(tank: ContactTank[Numbers], at: str, notes: Notes) -> None:
    if tank.baffling is None and tank.baffling_factor is None:
        message = "Enter baffling, or baffling_factor from a tracer study."
        notes.refuse("required", f"{at}/baffling", message, allowed=list(baffling_factors()))
    elif tank.baffling is not None and tank.baffling_factor is not None:
        message = "Enter baffling or baffling_factor, but not both."
        notes.refuse("too_many", f"{at}/baffling_factor", message)


def conditions_of(
    ask: ContactRequest[Numbers], segment: AnySegment, residual: Numbers | None, looked_up: Numbers | None = None
) -> Conditions:
    """Return the conditions of a segment.

    Values of the segment come before those of the request; `residual` is the one solved for, `looked_up` a trial one.
    """
    ph = ask.ph if segment.ph is None else segment.ph
    temperature = ask.water_temperature if segment.water_temperature is None else segment.water_temperature
    chosen = next((given for given in (looked_up, segment.residual, residual) if given is not None), None)
    if chosen is None:
        raise LookupError("a segment without a residual passed the checks")
    # If the table does not depend on pH, any value is correct.
    return Conditions(chosen, 7.0 if ph is None else ph, temperature)


def stays_of(ask: ContactRequest[Numbers], flow: Numbers | None = None) -> list[Stay]:
    """Return the residence in each segment at a flow; without a flow, as if pipes were turbulent."""
    return [_stay(ask, segment, flow) for segment in ask.segments]


def all_turbulent(ask: ContactRequest[Numbers], flow: Numbers) -> Any:
    """Return whether the flow in every pipe is certainly turbulent: neither laminar nor in transition."""
    pipes = [segment for segment in ask.segments if isinstance(segment, ContactPipe)]
    return reduce(np.logical_and, [_is_turbulent(ask, one, flow) for one in pipes], np.bool_(len(pipes) >= 0))


def limit_to_laminar(segment: AnySegment, stay: Stay, where: Any) -> Stay:
    """Return the residence in a pipe with the credit limited to that of laminar flow, where a flag is set."""
    if not isinstance(segment, ContactPipe) or stay.baffling_factor is None:
        return stay
    limited = np.minimum(stay.baffling_factor, LAMINAR_T10)
    return stay._replace(baffling_factor=np.where(where, limited, stay.baffling_factor)[()])


def _is_turbulent(ask: ContactRequest[Numbers], segment: ContactPipe[Numbers], flow: Numbers) -> Any:
    bore = bore_of(segment)
    temperature = ask.water_temperature if segment.water_temperature is None else segment.water_temperature
    reynolds = pipe.reynolds_number(pipe.velocity(flow, bore), bore, water.kinematic_viscosity(temperature))
    return reynolds >= friction.TRANSITION_ENDS_AT


def _stay(ask: ContactRequest[Numbers], segment: AnySegment, flow: Numbers | None) -> Stay:
    if isinstance(segment, MeasuredContact):
        return Stay(None, None, segment.contact_time)
    if isinstance(segment, ContactPipe):
        volume = vessels.cylinder_volume(bore_of(segment), segment.length)
        whole = Stay(volume, segment.baffling_factor, None)
        if flow is None:
            return whole
        return limit_to_laminar(segment, whole, np.logical_not(_is_turbulent(ask, segment, flow)))
    factor = segment.baffling_factor
    if factor is None:
        if segment.baffling is None:
            raise LookupError("a tank without baffling passed the checks")
        factor = baffling_factors()[segment.baffling].factor
    return Stay(segment.volume, factor, None)


def warn_segments(ask: ContactRequest[Numbers], flow: Numbers | None, notes: Notes) -> None:
    """Add the basis of the contact times, and warn where they are uncertain."""
    classes = dict.fromkeys(s.baffling for s in ask.segments if isinstance(s, ContactTank) and s.baffling is not None)
    for name in classes:
        baffling = baffling_factors()[name]
        notes.add_basis(
            Basis(
                method=f"contact time = volume x {baffling.factor:g} / flow ({baffling.title})",
                source=baffling.source,
                validity="by description; a tracer study at the highest flow comes first",
            )
        )
    if classes:
        message = (
            "The baffling factor is chosen by description; a tracer study comes first. A tank with one opening for "
            "inlet and outlet gives no contact time: leave it out."
        )
        notes.warn("baffling_by_description", "segments.baffling_factor", message)
    pipes = [segment for segment in ask.segments if isinstance(segment, ContactPipe)]
    warn_pipes(pipes, notes)
    for number, segment in enumerate(ask.segments):
        if isinstance(segment, ContactPipe):
            if flow is not None:
                _warn_laminar(ask, segment, flow, number, notes)
            short = segment.length < _SHORT_PIPE * bore_of(segment)
            message = (
                f"The pipe is shorter than {_SHORT_PIPE:g} times its bore, so it is hardly plug flow (common practice, "
                "no source). Enter a smaller baffling_factor."
            )
            plug = np.logical_and(short, segment.baffling_factor >= 1.0)
            notes.warn("pipe_short", f"segments.{number}.baffling_factor", message, when=plug)


def _warn_laminar(
    ask: ContactRequest[Numbers], segment: ContactPipe[Numbers], flow: Numbers, number: int, notes: Notes
) -> None:
    used = segment.baffling_factor > LAMINAR_T10
    field = f"segments.{number}.baffling_factor"
    laminar: Any = np.logical_and(used, np.logical_not(_is_turbulent(ask, segment, flow)))
    message = (
        "The flow in this pipe is laminar or in transition, not plug flow. The fastest tenth of the water stays for "
        f"{LAMINAR_T10:.3f} of the mean time, and only that is credited."
    )
    notes.warn("pipe_laminar", field, message, when=laminar[()])
    if np.any(laminar):
        notes.add_basis(_LAMINAR)
