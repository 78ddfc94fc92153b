"""Pressure along a run: where it is lowest, whether air is drawn in, and whether the water column holds."""

from typing import Any, cast

import numpy as np

from dosewright.core.water_and_air import moist_air
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.pipe.contracts.pressure_drop import ElevationSegment, PipeSegment, RunRequest, SegmentDrop
from dosewright.topics.pipe.run.losses import Run

__all__ = ["grade_line", "note_suction", "refuse_boiling"]

_AIR = 101_325.0  # Pa, standard atmosphere; pressures of a run are above that of the air
_LEAST_PRESSURE = 1.0  # Pa: what arithmetic leaves of a pressure that is zero
_TRICKLE = 1e-8  # m³/s, a flow that loses next to nothing
_HALVINGS = 40


def grade_line(run: Run, told: list[SegmentDrop[Numbers]], inlet_pressure: Numbers | None) -> None:
    """Fill in distance, elevation and pressure at the end of each segment."""
    here: tuple[Numbers, Numbers, Numbers | None] = (0.0, 0.0, inlet_pressure)
    for part in run.series:
        if isinstance(part, int):
            here = _step(run, told, part, here)
            continue
        ends: list[tuple[Numbers, Numbers, Numbers | None]] = []
        for numbers in part.branches.values():
            end = here
            for number in numbers:
                end = _step(run, told, number, end)
            ends.append(end)
        longest = ends[0][0]
        for distance, _, _ in ends[1:]:
            longest = np.maximum(longest, distance)
        here = (longest, *ends[0][1:])


def _step(
    run: Run, told: list[SegmentDrop[Numbers]], number: int, here: tuple[Numbers, Numbers, Numbers | None]
) -> tuple[Numbers, Numbers, Numbers | None]:
    distance, elevation, pressure = here
    segment, one = run.segments[number], told[number]
    if isinstance(segment, PipeSegment):
        distance = distance + segment.length
    elif isinstance(segment, ElevationSegment):
        elevation = elevation + segment.elevation_change
    if pressure is not None:
        pressure = pressure - one.pressure_drop
    one.distance, one.elevation, one.pressure = distance, elevation, pressure
    return distance, elevation, pressure


def note_suction(told: list[SegmentDrop[Numbers]], notes: Notes) -> None:
    """Warn at the lowest point of the run where it lies below the pressure of the air."""
    if any(one.pressure is None for one in told):
        return
    pressures: list[Any] = [one.pressure for one in told]
    lowest: Any = np.min(np.broadcast_arrays(*pressures), axis=0)[()]
    message = (
        "Here the pressure is lowest, and below that of the air: dirty water and air are drawn in through any leak, "
        "and vents open. Pump from lower down, widen the run, or take less flow."
    )
    for number, pressure in enumerate(pressures):
        at_lowest = np.logical_and(pressure <= lowest + _LEAST_PRESSURE, lowest < -_LEAST_PRESSURE)
        if number:  # the first of the lowest points speaks for those behind it at the same pressure
            at_lowest = np.logical_and(at_lowest, pressures[number - 1] > lowest + _LEAST_PRESSURE)
        notes.warn("below_air_pressure", f"segments.{number}.pressure", message, when=np.asarray(at_lowest)[()])


def refuse_boiling(
    run: Run, flow: Numbers, told: list[SegmentDrop[Numbers]], ask: RunRequest[Numbers], notes: Notes
) -> None:
    """Refuse a flow at which the pressure would fall below that at which water boils, and say which flow can run."""
    if any(one.pressure is None for one in told):
        return
    boiling = moist_air.saturation_pressure(ask.water_temperature) - _AIR
    lowest: Any = np.min(np.broadcast_arrays(*[np.asarray(one.pressure) for one in told]), axis=0)[()]
    broken = np.asarray(lowest < boiling - _LEAST_PRESSURE)[()]
    if not np.any(broken):
        return
    most = "" if np.ndim(broken) or np.ndim(flow) else _that_runs(run, float(flow), float(boiling), ask)
    message = (
        "At this flow the pressure falls below that at which water boils at its temperature: the column of water "
        f"breaks, and this flow cannot run.{most}"
    )
    notes.refuse("below_vapour_pressure", "segments", message, when=broken)


def _that_runs(run: Run, flow: float, boiling: float, ask: RunRequest[Numbers]) -> str:
    """Say the largest flow at which the water column holds, by halving in the logarithm."""
    low, high = np.log(_TRICKLE), np.log(flow)
    if _lowest_pressure(run, _TRICKLE, ask) < boiling:
        return " No flow can run: the changes of elevation alone break it."
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _lowest_pressure(run, float(np.exp(middle)), ask) >= boiling else (low, middle)
    return f" The largest flow that can run is {np.exp(low) * 60000.0:.3g} L/min."


def _lowest_pressure(run: Run, flow: float, ask: RunRequest[Numbers]) -> float:
    loaded = ask.cartridges == "loaded"
    flows, _ = run.flows(flow, loaded=loaded)
    each = run.each(flows, run.streams(flows), loaded=loaded)
    rises = run.rises()
    told = [
        SegmentDrop(pressure_drop=rises[number] if isinstance(segment, ElevationSegment) else each[number])
        for number, segment in enumerate(run.segments)
    ]
    grade_line(run, told, ask.inlet_pressure)
    return float(min(cast("float", one.pressure) for one in told))
