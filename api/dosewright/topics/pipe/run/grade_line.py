"""Pressure along a run: its lowest point, air leaks, and whether the water column breaks."""

import math
from typing import Any

import numpy as np

from dosewright.core.water_and_air import moist_air
from dosewright.engine.notes import Notes
from dosewright.quantities import KINDS, Numbers
from dosewright.topics.pipe.contracts.pressure_drop import ElevationSegment, PipeSegment, RunRequest
from dosewright.topics.pipe.contracts.run_answers import SegmentDrop
from dosewright.topics.pipe.run.losses import Run

__all__ = ["breaks", "grade_line", "refuse_boiling", "warn_suction"]

_AIR = 101_325.0  # Pa, standard atmosphere; pressures of a run are gauge pressures
_LEAST_PRESSURE = 1.0  # Pa: rounding error of a zero pressure
_TRICKLE = 1e-8  # m³/s, a flow with almost no loss
_HALVINGS = 40


def grade_line(run: Run, texts: list[SegmentDrop[Numbers]], inlet_pressure: Numbers | None) -> None:
    """Fill in distance, elevation and pressure at the end of each segment."""
    here: tuple[Numbers, Numbers, Numbers | None] = (0.0, 0.0, inlet_pressure)
    for part in run.series:
        if isinstance(part, int):
            here = _step(run, texts, part, here)
            continue
        ends: list[tuple[Numbers, Numbers, Numbers | None]] = []
        for numbers in part.branches.values():
            end = here
            for number in numbers:
                end = _step(run, texts, number, end)
            ends.append(end)
        longest = ends[0][0]
        for distance, _, _ in ends[1:]:
            longest = np.maximum(longest, distance)
        here = (longest, *ends[0][1:])


def _step(
    run: Run, texts: list[SegmentDrop[Numbers]], number: int, here: tuple[Numbers, Numbers, Numbers | None]
) -> tuple[Numbers, Numbers, Numbers | None]:
    distance, elevation, pressure = here
    segment, one = run.segments[number], texts[number]
    if isinstance(segment, PipeSegment):
        distance = distance + segment.length
    elif isinstance(segment, ElevationSegment):
        elevation = elevation + segment.elevation_change
    if pressure is not None:
        pressure = pressure - one.pressure_drop
    one.distance, one.elevation, one.pressure = distance, elevation, pressure
    return distance, elevation, pressure


def warn_suction(texts: list[SegmentDrop[Numbers]], notes: Notes) -> None:
    """Warn at the lowest point of the run if its pressure is below atmospheric."""
    if any(one.pressure is None for one in texts):
        return
    pressures: list[Any] = [one.pressure for one in texts]
    lowest: Any = np.min(np.broadcast_arrays(*pressures), axis=0)[()]
    message = (
        "The pressure is lowest here, and below atmospheric. Leaks and vents draw in dirty water and air. Move "
        "the pump lower down, use wider pipes, or use less flow."
    )
    named: Any = lowest >= -_LEAST_PRESSURE
    for number, pressure in enumerate(pressures):
        # The warning is given only at the first of several points with the same lowest pressure.
        here = np.logical_and(pressure <= lowest + _LEAST_PRESSURE, np.logical_not(named))
        named = np.logical_or(named, here)
        notes.warn("below_air_pressure", f"segments.{number}.pressure", message, when=np.asarray(here)[()])


def refuse_boiling(run: Run, flow: Numbers, ask: RunRequest[Numbers], notes: Notes, *, loaded: bool) -> None:
    """Refuse a flow at which the water would boil in the run, with the largest flow that is possible."""
    if ask.inlet_pressure is None:
        return
    broken = np.asarray(breaks(run, flow, ask, loaded=loaded))[()]
    if not np.any(broken):
        return
    clogged = " with loaded cartridges" if loaded and ask.cartridges != "loaded" else ""
    message = (
        f"At this flow{clogged} the pressure falls below the vapour pressure of the water. The water column "
        f"breaks, so this flow is impossible. {_that_runs(run, flow, broken, ask, loaded=loaded)}"
    )
    notes.refuse("below_vapour_pressure", "segments", message, when=broken)


def breaks(run: Run, flow: Numbers, ask: RunRequest[Numbers], *, loaded: bool) -> Any:
    """Return whether the water column breaks at a flow. The inlet pressure must be known."""
    boiling = moist_air.saturation_pressure(ask.water_temperature) - _AIR
    return _lowest_pressure(run, flow, ask, loaded=loaded) < boiling - _LEAST_PRESSURE


def _that_runs(run: Run, flow: Numbers, broken: Any, ask: RunRequest[Numbers], *, loaded: bool) -> str:
    """Return a sentence with the largest flow at which the column does not break, by bisection in the logarithm."""
    if np.any(np.logical_and(broken, breaks(run, _TRICKLE, ask, loaded=loaded))):
        return "No flow is possible: the changes of elevation alone break the column."
    bounds: list[Any] = [np.log(np.broadcast_to(end, np.shape(broken))) for end in (_TRICKLE, flow)]
    for _ in range(_HALVINGS):
        middle: Any = 0.5 * (bounds[0] + bounds[1])
        held = np.logical_not(breaks(run, np.exp(middle)[()], ask, loaded=loaded))
        bounds = [np.where(held, middle, bounds[0]), np.where(held, bounds[1], middle)]
    unit = KINDS["flow"].profiles[ask.units or "metric"]
    most = unit.from_si(float(np.min(np.exp(bounds[0])[np.asarray(broken)])))
    return f"The largest possible flow is {math.floor(most * 100.0) / 100.0:g} {unit.symbol}."


def _lowest_pressure(run: Run, flow: Numbers, ask: RunRequest[Numbers], *, loaded: bool) -> Any:
    flows, _ = run.flows(flow, loaded=loaded)
    each = run.each(flows, run.streams(flows), loaded=loaded)
    rises = run.rises()
    texts = [
        SegmentDrop(pressure_drop=rises[number] if isinstance(segment, ElevationSegment) else each[number])
        for number, segment in enumerate(run.segments)
    ]
    grade_line(run, texts, ask.inlet_pressure)
    return np.min(np.broadcast_arrays(*[np.asarray(one.pressure) for one in texts]), axis=0)[()]
