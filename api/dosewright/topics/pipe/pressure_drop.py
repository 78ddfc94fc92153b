"""Pressure drop of a run at a flow: its grade line, its limit, and the smallest size that meets the limit."""

from typing import Any

import msgspec
import numpy as np

from dosewright.core.constants import ROUNDING
from dosewright.core.hydraulics.friction import HIGHEST_RELATIVE_ROUGHNESS
from dosewright.engine.notes import Notes, label
from dosewright.engine.registry import Cases, Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.pipes import pipe_materials
from dosewright.topics.pipe import charts
from dosewright.topics.pipe.contracts.pressure_drop import (
    DeviceSegment,
    FittingSegment,
    PipeSegment,
    PressureDropRequest,
)
from dosewright.topics.pipe.contracts.run_answers import PressureDropAnswer
from dosewright.topics.pipe.run.checks import allowed_drop, refuse_unclear_limit, refuse_unclear_segments
from dosewright.topics.pipe.run.grade_line import breaks, refuse_boiling
from dosewright.topics.pipe.run.losses import Run
from dosewright.topics.pipe.run.pipe_choice import limit_of
from dosewright.topics.pipe.run.report import Report, costliest, report

__all__ = ["pressure_drop"]


_CASES = Cases("flow", "gal/min", (2, 4, 6, 8, 10, 12, 14, 16), "pressure_drop")


@calculation(
    "pipe/pressure-drop",
    views=Views(chart=charts.grade_line, cases=_CASES),
    request=PressureDropRequest,
    answer=PressureDropAnswer,
    summary="Pressure drop of a run of pipes, fittings, devices and branches, and its grade line",
    example={
        "flow": "9 gal/min",
        "segments": [
            {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "1"},
            {"kind": "fitting", "fitting": "elbow_90", "count": "6"},
            {"kind": "fitting", "fitting": "ball_valve_open", "count": "2"},
            {"kind": "device", "rated_points": [{"rated_flow": "12 gal/min", "pressure_drop": "4 psi"}]},
            {"kind": "elevation", "elevation_change": "9 ft"},
        ],
        "water_temperature": "12 degC",
        "inlet_pressure": "50 psi",
        "required_outlet_pressure": "20 psi",
    },
)
def pressure_drop(ask: PressureDropRequest[Numbers], notes: Notes) -> PressureDropAnswer[Numbers]:
    """Calculate the pressure drop of water through a run, in total and segment by segment, with its grade line.

    Straight pipe by Darcy-Weisbach with the Colebrook-White friction factor, or by Hazen-Williams. Fittings by name
    (Hooper's two constants, or a published coefficient), by loss coefficient or by equivalent length. Devices by Kv,
    Cv, one rated point (square of the flow) or several (fitted power law); cartridges clean or loaded. A change of
    elevation adds its column of water. A fitting sits in the nearest pipe before it unless it has its own. Segments
    with a branch are in parallel, and the flow splits so that all branches have the same loss.

    With a limit (a pressure drop, or a required outlet pressure), the answer shows whether the run is within it, the
    smallest nominal size that is, and when each cartridge must be changed.
    """
    run = Run(ask)
    given = report(run, ask.flow, ask, notes)
    loaded = _loaded(run, ask, given)
    if loaded is not None and ask.cartridges == "clean":
        refuse_boiling(run, ask.flow, ask, notes, loaded=True)
    allowed = allowed_drop(ask)
    _warn_changes(run, ask, given, allowed, notes)
    segment, share = costliest(given)
    outlet = _outlet(ask, given.pressure_drop, notes)
    within: Any = None if allowed is None else given.pressure_drop <= allowed
    if within is not None:
        message = "The pressure drop of the run is above its limit. Use wider pipes or less flow."
        notes.warn("pressure_drop_above_limit", "pressure_drop", message, when=np.logical_not(within))
    return PressureDropAnswer(
        pressure_drop=given.pressure_drop,
        outlet_pressure=outlet,
        within_limit=within,
        loaded_pressure_drop=loaded,
        loaded_outlet_pressure=None if loaded is None or ask.inlet_pressure is None else ask.inlet_pressure - loaded,
        largest_loss_segment=segment,
        largest_loss_share=share,
        smallest_nominal_size=None if allowed is None else _smallest_size(ask, allowed),
        segments=given.segments,
    )


@pressure_drop.check("segments", "method")
def _clear_segments(ask: PressureDropRequest[Numbers], notes: Notes) -> None:
    refuse_unclear_segments(ask, notes)


@pressure_drop.check("inlet_pressure", "required_outlet_pressure")
def _clear_limit(ask: PressureDropRequest[Numbers], notes: Notes) -> None:
    refuse_unclear_limit(ask, notes)


def _loaded(run: Run, ask: PressureDropRequest[Numbers], given: Report) -> Numbers | None:
    if not any(isinstance(s, DeviceSegment) and s.loaded_pressure_drop is not None for s in ask.segments):
        return None
    if ask.cartridges == "loaded":
        return given.pressure_drop
    return run.losses(ask.flow, loaded=True) + run.total(run.rises())


def _warn_changes(
    run: Run, ask: PressureDropRequest[Numbers], given: Report, allowed: Numbers | None, notes: Notes
) -> None:
    """Set the pressure drop at which each cartridge must be changed: when loaded, or when the run reaches its limit."""
    for number, segment in enumerate(ask.segments):
        if not isinstance(segment, DeviceSegment) or segment.loaded_pressure_drop is None:
            continue
        texts = given.segments[number]
        flow = ask.flow if texts.flow is None else texts.flow
        clean = run.laws[number].clean(flow)
        loaded = clean * run.laws[number].loading
        if allowed is None or segment.branch is not None:
            texts.change_at_pressure_drop = loaded
            continue
        left = allowed - (given.pressure_drop - given.each[number])
        texts.change_at_pressure_drop = np.where(left < clean, np.nan, np.minimum(loaded, left))[()]
        field = f"segments.{number}.change_at_pressure_drop"
        message = "The run exceeds its pressure limit even with this cartridge new. Use wider pipes or less flow."
        notes.warn("no_room_to_load", field, message, when=left < clean)
        message = "The run reaches its pressure limit before this cartridge is loaded. Change the cartridge early."
        notes.warn("change_early", field, message, when=(left >= clean) & (left < loaded))


def _outlet(ask: PressureDropRequest[Numbers], total: Numbers, notes: Notes) -> Numbers | None:
    if ask.inlet_pressure is None:
        return None
    outlet = ask.inlet_pressure - total
    message = "The run needs all the pressure at the inlet, or more. This flow cannot be delivered."
    # A remainder within the rounding error counts as no pressure left.
    left_over = ROUNDING * (np.abs(ask.inlet_pressure) + np.abs(total))
    notes.warn("not_enough_pressure", "outlet_pressure", message, when=outlet <= left_over)
    return outlet


def _named(segment: Any) -> bool:
    return isinstance(segment, (PipeSegment, FittingSegment)) and segment.nominal_size is not None


def _smallest_size(ask: PressureDropRequest[Numbers], allowed: Numbers) -> Any:
    """Return the smallest nominal size that is within the limit when every pipe and fitting with a size has it."""
    materials: set[str] = {getattr(segment, "material", "") for segment in ask.segments if _named(segment)}
    if not materials:
        return None
    offered = [pipe_materials()[material].sizes for material in sorted(materials)]
    names = [name for name in offered[0] if all(name in sizes for sizes in offered)]
    index: Any = len(names)
    for number, name in enumerate(names):
        index = np.where((index == len(names)) & _passes(ask, name, allowed), number, index)
        if np.all(index <= number):  # every row has its smallest size
            break
    return label(index[()] if names else 0, [*names, None])


def _passes(ask: PressureDropRequest[Numbers], name: str, allowed: Numbers) -> Any:
    fits: Any = True
    segments: list[Any] = []
    for segment in ask.segments:
        if not _named(segment):
            segments.append(segment)
            continue
        resized: Any = msgspec.structs.replace(segment, nominal_size=name)
        roughness = getattr(segment, "roughness", None)
        if roughness is not None:
            most = HIGHEST_RELATIVE_ROUGHNESS * pipe_materials()[resized.material].sizes[name].bore
            fits = fits & (roughness <= most)
            resized.roughness = np.minimum(roughness, most)
        segments.append(resized)
    run = Run(ask, segments)
    loaded = ask.cartridges == "loaded"
    flows, unsplit = run.flows(ask.flow, loaded=loaded)
    streams = run.streams(flows)
    for segment, stream in zip(segments, streams, strict=True):
        if _named(segment) and stream is not None:
            fits = fits & (stream.velocity <= limit_of(stream.pipe.material, ask.water_temperature))
    taken = run.total(run.each(flows, streams, loaded=loaded)) + run.total(run.rises())
    holds = True if ask.inlet_pressure is None else np.logical_not(breaks(run, ask.flow, ask, loaded=loaded))
    return fits & (taken <= allowed) & np.logical_not(unsplit) & holds
