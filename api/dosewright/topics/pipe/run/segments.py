"""The pipe of each segment of a run, and the flow through it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from dosewright.core.hydraulics import friction, losses, pipe
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.pipes import hazen_williams_validity, pipe_materials
from dosewright.topics.pipe.contracts.pressure_drop import (
    DeviceSegment,
    ElevationSegment,
    FittingSegment,
    FrictionMethod,
    PipeSegment,
    RunRequest,
)
from dosewright.topics.pipe.run.pipe_choice import add_basis_once, dimensions, published_limit, refuse_unclear_bore

__all__ = [
    "Pipe",
    "Segment",
    "Stream",
    "pipes_of",
    "refuse_unclear_pipes",
    "stream_in",
    "warn_stream",
    "warn_temperature",
]

Segment = PipeSegment[Numbers] | FittingSegment[Numbers] | DeviceSegment[Numbers] | ElevationSegment[Numbers]

_ROUGHEST = friction.HIGHEST_RELATIVE_ROUGHNESS


@dataclass(frozen=True, slots=True)
class Pipe:
    """The pipe that one or more segments sit in.

    Attributes
    ----------
    segment : int
        Number of the segment that describes it.
    material : str or None
        Material, if known.
    nominal_size : str or None
        Nominal size, if known.
    bore : float or array
        Inside diameter. [m]
    roughness : float, array or None
        Roughness of the wall. [m]
    hazen_williams_c : float, array or None
        Hazen-Williams coefficient. [-]
    """

    segment: int
    material: str | None
    nominal_size: str | None
    bore: Numbers
    roughness: Numbers | None
    hazen_williams_c: Numbers | None


def refuse_unclear_pipes(segments: Sequence[Segment], method: FrictionMethod, notes: Notes) -> None:
    """Refuse segments whose pipe is missing, conflicting, or incomplete for the method."""
    before = len(notes.faults)
    for number, segment in enumerate(segments):
        with known_only():
            if isinstance(segment, PipeSegment) or (isinstance(segment, FittingSegment) and _own_pipe(segment)):
                refuse_unclear_bore(segment, notes, f"segments/{number}/")
    if len(notes.faults) > before:
        return
    for number, (segment, inside) in enumerate(zip(segments, pipes_of(segments), strict=True)):
        with known_only():
            if isinstance(segment, (PipeSegment, FittingSegment)):
                _refuse_unfit(segment, inside, method, number, notes)


def _refuse_unfit(
    segment: PipeSegment[Numbers] | FittingSegment[Numbers],
    inside: Pipe | None,
    method: FrictionMethod,
    number: int,
    notes: Notes,
) -> None:
    at = f"segments/{number}"
    if inside is None:
        message = "This fitting has no pipe to sit in. Enter the fitting's material and nominal_size, or its bore."
        notes.refuse("required", f"{at}/bore", message)
        return
    if isinstance(segment, FittingSegment) and segment.equivalent_length is None:
        return
    field = "roughness" if method == "darcy_weisbach" else "hazen_williams_c"
    if getattr(inside, field) is None:
        field = field if isinstance(segment, PipeSegment) else "material"
        notes.refuse("required", f"{at}/{field}", f"A pipe with a bore also needs {field}, or a material.")
    elif method == "darcy_weisbach" and inside.roughness is not None:
        message = "The roughness must be at most 0.05 of the bore, where Moody's chart ends."
        too_rough = inside.roughness > _ROUGHEST * inside.bore
        notes.refuse("outside_method", f"{at}/roughness", message, when=too_rough, allowed="at most 0.05 x bore")


def _own_pipe(segment: FittingSegment[Numbers]) -> bool:
    return segment.material is not None or segment.nominal_size is not None or segment.bore is not None


def pipes_of(segments: Sequence[Segment]) -> list[Pipe | None]:
    """Return the pipe of each segment: its own, else the nearest pipe before it, else the first after it.

    In a branch, the nearest pipe before it is in the same branch, else before the split.
    """
    found: list[Pipe | None] = []
    first = _first_pipe(segments)
    nearest = outside = first
    in_branch: dict[str, Pipe | None] = {}
    before: str | None = None
    for number, segment in enumerate(segments):
        branch = segment.branch
        if before is None and branch is not None:
            outside, in_branch = nearest, {}
        if branch != before:
            nearest = outside if branch is None else in_branch.get(branch, outside)
        if isinstance(segment, PipeSegment):
            nearest = first if first is not None and first.segment == number else _pipe(number, segment)
            found.append(nearest)
        elif isinstance(segment, FittingSegment) and _own_pipe(segment):
            found.append(_pipe_of_fitting(number, segment, nearest))
        else:
            found.append(nearest)
        if branch is not None:
            in_branch[branch] = nearest
        before = branch
    return found


def _first_pipe(segments: Sequence[Segment]) -> Pipe | None:
    for number, segment in enumerate(segments):
        if isinstance(segment, PipeSegment):
            return _pipe(number, segment)
    return None


def _pipe(number: int, segment: PipeSegment[Numbers]) -> Pipe:
    material = pipe_materials()[segment.material] if segment.material else None
    roughness, coefficient = segment.roughness, segment.hazen_williams_c
    if material is not None:
        roughness = material.roughness if roughness is None else roughness
        coefficient = material.hazen_williams_c if coefficient is None else coefficient
    return Pipe(number, segment.material, segment.nominal_size, _bore(segment), roughness, coefficient)


def _pipe_of_fitting(number: int, segment: FittingSegment[Numbers], nearest: Pipe | None) -> Pipe:
    if segment.material is not None:
        material = pipe_materials()[segment.material]
        roughness, coefficient = material.roughness, material.hazen_williams_c
    else:
        roughness = nearest.roughness if nearest else None
        coefficient = nearest.hazen_williams_c if nearest else None
    return Pipe(number, segment.material, segment.nominal_size, _bore(segment), roughness, coefficient)


def _bore(segment: PipeSegment[Numbers] | FittingSegment[Numbers]) -> Numbers:
    if segment.bore is not None:
        return segment.bore
    return dimensions(segment.material or "", segment.nominal_size or "")[0]


@dataclass(slots=True)
class Stream:
    """The flow through one pipe.

    Attributes
    ----------
    pipe : Pipe
        The pipe.
    flow : float or array
        Volume flow. [m³/s]
    density : float or array
        Density of the water. [kg/m³]
    velocity : float or array
        Mean velocity. [m/s]
    reynolds_number : float or array
        Reynolds number on the bore. [-]
    friction_factor : float, array or None
        Darcy friction factor; None with Hazen-Williams, or if nothing needs it. [-]
    """

    pipe: Pipe
    flow: Numbers
    density: Numbers
    velocity: Numbers
    reynolds_number: Numbers
    friction_factor: Numbers | None

    def along(self, length: Numbers) -> Numbers:
        """Return the pressure drop along a length of the pipe [Pa]."""
        if self.friction_factor is not None:
            coefficient = losses.friction_coefficient(self.friction_factor, length, self.pipe.bore)
            return self.of_coefficient(coefficient)
        coefficient = cast("Numbers", self.pipe.hazen_williams_c)
        head = losses.hazen_williams_head_loss(self.flow, self.pipe.bore, length, coefficient)
        return losses.elevation_pressure(head, self.density)

    def of_coefficient(self, loss_coefficient: Numbers) -> Numbers:
        """Return the pressure drop of a loss coefficient [Pa]."""
        return losses.loss_pressure_drop(loss_coefficient, self.density, self.velocity)


def stream_in(inside: Pipe, flow: Numbers, density: Numbers, viscosity: Numbers, method: FrictionMethod) -> Stream:
    """Return a flow through a pipe; the viscosity is the kinematic one [m²/s]."""
    speed = pipe.velocity(flow, inside.bore)
    reynolds = pipe.reynolds_number(speed, inside.bore, viscosity)
    factor = None
    if method == "darcy_weisbach" and inside.roughness is not None:
        factor = friction.friction_factor(reynolds, inside.roughness / inside.bore)
    return Stream(inside, flow, density, speed, reynolds, factor)


def warn_stream(ask: RunRequest[Numbers], stream: Stream, notes: Notes) -> None:
    """Add basis and warnings for the flow in a pipe: its tables, its limits and their validity."""
    inside = stream.pipe
    at = f"segments.{inside.segment}"
    _add_basis_of_tables(ask, inside, at, notes)
    published_limit(inside.material, ask.water_temperature, stream.velocity, notes, f"{at}.velocity")
    if ask.method == "darcy_weisbach":
        _warn_transition(stream.reynolds_number, at, notes)
    else:
        _warn_hazen_williams(inside.bore, stream.reynolds_number, at, notes)


def _add_basis_of_tables(ask: RunRequest[Numbers], inside: Pipe, at: str, notes: Notes) -> None:
    segment = ask.segments[inside.segment]
    if inside.material is None:
        return
    material = pipe_materials()[inside.material]
    if ask.method == "darcy_weisbach" and getattr(segment, "roughness", None) is None:
        method = f"roughness {material.roughness * 1e3:g} mm"
        add_basis_once(
            notes, Basis(method=method, source=material.roughness_source, validity=f"{material.title}, clean")
        )
    if ask.method == "hazen_williams" and getattr(segment, "hazen_williams_c", None) is None:
        method = f"Hazen-Williams coefficient {material.hazen_williams_c:g}"
        add_basis_once(notes, Basis(method=method, source=material.hazen_williams_source, validity=material.title))
    if inside.nominal_size is None:
        return
    add_basis_once(notes, dimensions(inside.material, inside.nominal_size)[1])
    size = material.sizes[inside.nominal_size]
    if size.average_bore is not None:
        share = 100.0 * (1.0 - size.average_bore / size.bore)
        more = 100.0 * ((size.bore / size.average_bore) ** 5 - 1.0)
        message = (
            f"The bore is for the minimum wall. With the average wall it is {share:.1f} % smaller, and this pipe "
            f"loses up to {more:.0f} % more pressure."
        )
        notes.warn("widest_bore", f"{at}.bore", message)


def _warn_transition(reynolds: Numbers, at: str, notes: Notes) -> None:
    low, high = friction.TRANSITION_STARTS_AT, friction.TRANSITION_ENDS_AT
    message = (
        "The Reynolds number is between 2000 and 4000. The flow is unsteady and no formula is exact. By "
        "convention the friction factor is interpolated between laminar and turbulent flow."
    )
    notes.warn("transition_flow", f"{at}.friction_factor", message, when=(reynolds >= low) & (reynolds < high))


_TRUST = "The Hazen-Williams formula is commonly used only"
_MEND = "Use darcy_weisbach here."


def warn_temperature(temperature: Numbers, notes: Notes) -> None:
    """Warn if the water is colder or warmer than the range of the Hazen-Williams formula."""
    valid = hazen_williams_validity()
    low, high = valid.lowest_temperature - 273.15, valid.highest_temperature - 273.15
    message = f"{_TRUST} from {low:.0f} to {high:.0f} degC, since it does not depend on temperature. {_MEND}"
    outside = (temperature < valid.lowest_temperature) | (temperature > valid.highest_temperature)
    notes.warn("hazen_williams_outside_validity", "water_temperature", message, when=outside)


def _warn_hazen_williams(bore: Numbers, reynolds: Numbers, at: str, notes: Notes) -> None:
    code, narrowest = "hazen_williams_outside_validity", hazen_williams_validity().smallest_bore
    message = f"{_TRUST} in pipes with a bore of about {narrowest * 1000.0:.0f} mm or more. {_MEND}"
    notes.warn(code, f"{at}.bore", message, when=bore < narrowest)
    message = f"{_TRUST} in turbulent flow, from Reynolds number 4000 up. {_MEND}"
    notes.warn(code, f"{at}.reynolds_number", message, when=reynolds < friction.TRANSITION_ENDS_AT)
