"""Charts of the pipe topic."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from dosewright.engine.base import Answer
from dosewright.present.picture.chart import Axis, Chart, Level, Line, Mark, Values, with_unit
from dosewright.present.picture.curve_points import unit_for, unit_of
from dosewright.topics.pipe.contracts.run_answers import LargestFlowAnswer, PressureDropAnswer

__all__ = ["grade_line"]

_MOST_NAMED = 12


def grade_line(answer: PressureDropAnswer[float] | LargestFlowAnswer[float]) -> Chart:
    """Pressure along the run, segment by segment, and the grade line, which excludes elevation."""
    unit = unit_of(answer, "pressure_drop", "pressure")
    segments = answer.inputs["segments"]
    drop_unit = unit_of(answer, "segments.pressure_drop", "pressure")
    drops = unit.from_si(drop_unit.to_si(np.array([segment.pressure_drop for segment in answer.segments])))
    inlet = answer.inputs.get("inlet_pressure")
    start = 0.0 if inlet is None else unit.from_si(inlet)
    rises = np.array([segment["kind"] == "elevation" for segment in segments])
    branches = [segment.get("branch") for segment in segments]
    places, pressure = _along(branches, start, drops)
    lines = [Line(places, pressure, "pressure", dots=True)]
    if rises.any():
        _, grade = _along(branches, start, np.where(rises, 0.0, drops))
        lines.append(Line(places, grade, "grade line: pressure without changes of elevation", "second"))
    names = [_name(answer, segment) for segment in segments]
    largest = int(np.argmax(drops))
    end = with_unit(pressure[-1], unit.symbol)
    texts = f"from {with_unit(start, unit.symbol)} at the inlet to {end} at the outlet"
    if inlet is None:
        texts = f"by {with_unit(pressure[-1], unit.symbol)} from inlet to outlet"
    return Chart(
        title="Pressure along the run",
        description=f"The pressure changes {texts}. The largest drop is {with_unit(drops[largest], unit.symbol)}, "
        f"in segment {largest + 1} of {len(segments)} ({names[largest].replace(chr(10), ' ')}).",
        x=Axis("segment of the run, in order", low=0.0, high=float(len(segments)), ticks=_ticks(names)),
        y=Axis("gauge pressure" if inlet is not None else "pressure relative to the inlet", unit.symbol),
        lines=tuple(lines),
        marks=(
            Mark(0.0, start, with_unit(start, unit.symbol), "note"),
            Mark(float(len(segments)), float(pressure[-1]), end, "note"),
        ),
        levels=(Level(0.0, "no pressure left"),) if inlet is not None and np.nanmin(pressure) < 0.25 * start else (),
    )


def _along(branches: Sequence[str | None], start: float, drops: Values) -> tuple[Values, Values]:
    """Return places and pressures along the run. Each branch starts at the split."""
    places, pressures = [0.0], [start]
    split, before = start, None
    ends: dict[str, float] = {}
    for number, (branch, drop) in enumerate(zip(branches, drops.tolist(), strict=True)):
        here = pressures[-1]
        if branch is not None and before is None:
            split, ends = here, {}
        elif branch is not None and branch != before:
            here = ends.get(branch, split)
            places += [float(number), float(number)]
            pressures += [float("nan"), here]
        before = branch
        places.append(number + 1.0)
        pressures.append(here - drop)
        if branch is not None:
            ends[branch] = here - drop
    return np.array(places), np.array(pressures)


def _ticks(names: list[str]) -> tuple[tuple[float, str], ...]:
    """Return a label under the middle of each segment; in long runs, only the number of some segments."""
    if len(names) <= _MOST_NAMED:
        return tuple((number + 0.5, name) for number, name in enumerate(names))
    every = -(-len(names) // _MOST_NAMED)
    return tuple((number + 0.5, str(number + 1)) for number in range(0, len(names), every))


def _name(answer: Answer, segment: Mapping[str, Any]) -> str:
    branch = f"\nbranch {segment['branch']}" if segment.get("branch") else ""
    return f"{_plain_name(answer, segment)}{branch}"


def _plain_name(answer: Answer, segment: Mapping[str, Any]) -> str:
    length = unit_for(answer, "length")
    kind = segment["kind"]
    if kind == "pipe":
        return f"pipe\n{with_unit(length.from_si(segment['length']), length.symbol)}"
    if kind == "elevation":
        change = length.from_si(segment["elevation_change"])
        return f"{'rise' if change >= 0 else 'fall'}\n{with_unit(abs(change), length.symbol)}"
    if kind == "fitting":
        return f"{segment['count']:.0f} ×\n{segment.get('fitting', 'fitting').replace('_', ' ')}"
    return "device"
