"""Checks of a run before it is calculated, and its pressure limit."""

from collections.abc import Sequence
from itertools import combinations
from typing import Any

import numpy as np

from dosewright.core.hydraulics.flow_split import FLATTEST, STEEPEST
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.pipe.contracts.pressure_drop import DeviceSegment, ElevationSegment, FittingSegment, RunRequest
from dosewright.topics.pipe.run.losses import Group, rated_points, series_of
from dosewright.topics.pipe.run.segments import Segment, refuse_unclear_pipes

__all__ = ["allowed_drop", "refuse_unclear_limit", "refuse_unclear_segments"]

_SAME_HEIGHT = 1e-6  # m


def refuse_unclear_segments(ask: RunRequest[Numbers], notes: Notes) -> None:
    """Refuse segments with missing, conflicting or impossible fields."""
    for number, segment in enumerate(ask.segments):
        with known_only():
            _refuse_unclear_segment(segment, f"segments/{number}", notes)
    with known_only():
        refuse_unclear_pipes(ask.segments, ask.method, notes)
    _refuse_uneven_branches(ask.segments, notes)


def _refuse_unclear_segment(segment: Segment, at: str, notes: Notes) -> None:
    if isinstance(segment, FittingSegment):
        _refuse_unless_one(at, ("fitting", "loss_coefficient", "equivalent_length"), segment, notes)
        message = "Enter a whole number."
        notes.refuse("not_whole", f"{at}/count", message, when=segment.count % 1.0 != 0.0, allowed="1, 2, 3 …")
    elif isinstance(segment, DeviceSegment):
        _refuse_unclear_device(segment, at, notes)


def _refuse_unclear_device(device: DeviceSegment[Numbers], at: str, notes: Notes) -> None:
    _refuse_unless_one(at, ("kv", "cv", "rated_points"), device, notes)
    points = rated_points(device)
    if len(points) > 1:
        _refuse_unfit_points(points, at, notes)
        if device.branch is not None:
            _refuse_undivided(points, at, notes)
    if device.loaded_pressure_drop is not None:
        if not points:
            message = "A loaded cartridge needs its rated point too. Enter rated_points."
            notes.refuse("required", f"{at}/rated_points", message)
            return
        message = "A loaded cartridge loses at least as much pressure as the new one, and the new one more than zero."
        wrong = (device.loaded_pressure_drop < points[0][1]) | (points[0][1] <= 0.0)
        notes.refuse("contradiction", f"{at}/loaded_pressure_drop", message, when=wrong)


def _refuse_unfit_points(points: list[tuple[Numbers, Numbers]], at: str, notes: Notes) -> None:
    for number, (_, drop) in enumerate(points):
        field = f"rated_points/{number}/pressure_drop"
        message = "With more than one rated point, each pressure drop must be above zero."
        notes.refuse("rated_points_contradict", f"{at}/{field}", message, when=drop <= 0.0, allowed="above 0")
    for (_, (flow, drop)), (number, (other, more)) in combinations(enumerate(points), 2):
        message = "Rated points must have different flows, and a higher pressure drop at a higher flow."
        field = f"rated_points/{number}/rated_flow"
        notes.refuse("rated_points_contradict", f"{at}/{field}", message, when=(flow - other) * (drop - more) <= 0.0)


def _refuse_undivided(points: list[tuple[Numbers, Numbers]], at: str, notes: Notes) -> None:
    """Refuse a device curve so flat or steep that its branch has no flow, or all the flow."""
    (low, less), (high, more) = points[0], points[0]
    for flow, drop in points[1:]:
        below, above = flow < low, flow > high
        low, less = np.where(below, flow, low), np.where(below, drop, less)
        high, more = np.where(above, flow, high), np.where(above, drop, more)
    with np.errstate(all="ignore"):
        exponent = (np.log(more) - np.log(less)) / (np.log(high) - np.log(low))
    message = (
        "In parallel branches, a device whose pressure drop is almost constant, or very steep, leaves its branch "
        "without flow or with all the flow. Check the rated points."
    )
    allowed = f"a pressure drop that increases with a power of the flow between {FLATTEST:g} and {STEEPEST:g}"
    wrong = (exponent < FLATTEST) | (exponent > STEEPEST)
    field = f"{at}/rated_points/1/pressure_drop"
    notes.refuse("rated_points_contradict", field, message, when=wrong, allowed=allowed)


def _refuse_unless_one(at: str, names: tuple[str, ...], segment: Any, notes: Notes) -> None:
    given = [name for name in names if getattr(segment, name) is not None]
    if not given:
        notes.refuse("required", at, f"Enter one of {', '.join(names)}.", allowed=list(names))
    elif len(given) > 1:
        notes.refuse(
            "conflicting_inputs", f"{at}/{given[1]}", f"Enter only one of {', '.join(given)}.", allowed=list(names)
        )


def _refuse_uneven_branches(segments: Sequence[Segment], notes: Notes) -> None:
    for group in series_of(segments):
        if not isinstance(group, Group):
            continue
        first = next(iter(group.branches.values()))[0]
        if len(group.branches) < 2:
            message = "A single branch is not a split. Add a second branch in parallel, or omit branch."
            notes.refuse("required", f"segments/{first}/branch", message)
        heights: list[Any] = []
        for numbers in group.branches.values():
            climbed: Any = 0.0
            for number in numbers:
                segment = segments[number]
                if isinstance(segment, ElevationSegment):
                    climbed = climbed + segment.elevation_change
            heights.append(climbed)
        for height in heights[1:]:
            message = "Branches start and end at the same points, so each must have the same change of elevation."
            notes.refuse(
                "contradiction", f"segments/{first}/branch", message, when=abs(height - heights[0]) > _SAME_HEIGHT
            )


def refuse_unclear_limit(ask: RunRequest[Numbers], notes: Notes) -> None:
    """Refuse a required outlet pressure without an inlet pressure."""
    if ask.required_outlet_pressure is not None and ask.inlet_pressure is None:
        message = "required_outlet_pressure needs inlet_pressure."
        notes.refuse("required", "inlet_pressure", message)


def allowed_drop(ask: RunRequest[Numbers]) -> Numbers | None:
    """Return the allowed pressure drop of the run [Pa]; of two limits, the lower."""
    allowed = ask.pressure_drop_limit
    if ask.inlet_pressure is None or ask.required_outlet_pressure is None:
        return allowed
    left = ask.inlet_pressure - ask.required_outlet_pressure
    return left if allowed is None else np.minimum(allowed, left)
