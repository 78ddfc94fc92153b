"""Answer for a run at a flow: each segment with its grade line, warnings and basis."""

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from dosewright.core.hydraulics import friction
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.quantities import Numbers
from dosewright.tables.fittings import fittings
from dosewright.topics.pipe.contracts.pressure_drop import (
    DeviceSegment,
    ElevationSegment,
    FittingSegment,
    PipeSegment,
    RunRequest,
)
from dosewright.topics.pipe.contracts.run_answers import SegmentDrop
from dosewright.topics.pipe.run.grade_line import grade_line, refuse_boiling, warn_suction
from dosewright.topics.pipe.run.losses import DeviceLaw, Run, fitting_coefficient, rated_points
from dosewright.topics.pipe.run.pipe_choice import add_basis_once
from dosewright.topics.pipe.run.ratings import warn_rating
from dosewright.topics.pipe.run.segments import Stream, warn_stream, warn_temperature

__all__ = ["Report", "costliest", "report"]

_FAR_BELOW, _FAR_ABOVE = 0.25, 2.0
_POOR_FIT = 0.1
_CLEARLY = 1.0 + 1e-9  # equal branches have the same loss except for rounding; the first is named

_DARCY = Basis(
    method="Darcy-Weisbach: friction factor x length / bore x density x velocity^2 / 2",
    source="laminar 64/Re; Colebrook 1939 and White from Re 4000 up, solved to 1e-12; water: IAPWS SR6-08(2011)",
    validity=(
        "full round pipe, steady flow, Re up to 1e8, roughness up to 0.05 of the bore; between Re 2000 and "
        "4000 interpolated by convention"
    ),
)
_HAZEN_WILLIAMS = Basis(
    method="Hazen-Williams: head = 10.667 length x flow^1.852 / (C^1.852 bore^4.871), in SI",
    source="EPANET 2.2 User Manual, EPA/600/R-20/133, table 3.1",
    validity="turbulent water, about 5 to 25 degC, bore of about 50 mm and more",
)
_COEFFICIENT = Basis(
    method="fittings: loss coefficient x density x velocity^2 / 2",
    source="definition; the coefficient or equivalent length as entered",
    validity="turbulent flow",
)
_DEVICE = Basis(
    method="devices: pressure drop proportional to the square of the flow",
    source="IEC 60534-2-1:2011 for Kv and Cv; the rated point as entered",
    validity="turbulent flow through the device, near its rated flow",
)
_FITTED = Basis(
    method="devices: pressure drop = a x flow^n, least squares on the logarithms of the rated points",
    source="the rated points as entered",
    validity="between the lowest and the highest rated flow",
)
_LOADED = Basis(
    method="loaded cartridge: pressure drop as new, times the ratio of loaded to new pressure drop at the rated flow",
    source="common practice, no source; the loaded pressure drop as entered",
    validity="the same cartridge and water, near the rated flow",
)
_ELEVATION = Basis(
    method="elevation: density x 9.80665 m/s2 x height",
    source="hydrostatics; standard gravity",
    validity="any",
)
_SPLIT = Basis(
    method="parallel branches: the flows that add up to the total and have the same pressure drop",
    source="continuity and one pressure per point; solved to 1e-13",
    validity="steady flow, every branch open; losses at the split and the junction only if entered",
)


@dataclass(slots=True)
class Report:
    """A run at one flow, in SI.

    Attributes
    ----------
    segments : list of SegmentDrop
        The answer of each segment.
    pressure_drop : float or array
        Of the whole run, changes of elevation included. [Pa]
    each : list of float or array
        Loss of each segment. [Pa]
    lost : float or array
        Loss of the whole run. [Pa]
    """

    segments: list[SegmentDrop[Numbers]]
    pressure_drop: Numbers
    each: list[Numbers]
    lost: Numbers


def report(run: Run, flow: Numbers, ask: RunRequest[Numbers], notes: Notes) -> Report:
    """Return a run at a flow, and add its warnings and basis."""
    loaded = ask.cartridges == "loaded"
    flows, unsplit = run.flows(flow, loaded=loaded)
    message = "The flow cannot be split. Every branch must have a pressure loss that rises with the flow."
    notes.refuse("no_split", "segments", message, when=unsplit)
    streams = run.streams(flows)
    each = run.each(flows, streams, loaded=loaded)
    rises = run.rises()
    if ask.method == "hazen_williams":
        warn_temperature(ask.water_temperature, notes)
    noted: set[int] = set()
    segments: list[SegmentDrop[Numbers]] = []
    for number, (segment, stream) in enumerate(zip(run.segments, streams, strict=True)):
        if stream is not None and id(stream) not in noted:
            noted.add(id(stream))
            warn_stream(ask, stream, notes)
        texts = _reported(run, number, stream, flows[number], each[number], notes)
        if isinstance(segment, ElevationSegment):
            texts.pressure_drop = rises[number]
        if segment.branch is not None:
            texts.flow = flows[number]
        segments.append(texts)
    grade_line(run, segments, ask.inlet_pressure)
    refuse_boiling(run, flow, ask, notes, loaded=ask.cartridges == "loaded")
    warn_suction(segments, notes)
    _warn_ratings(run, ask, notes)
    notes.caution("pressure", "local_rules")
    if run.laws:
        notes.caution("mains_near_water")
    if any(not isinstance(part, int) for part in run.series):
        add_basis_once(notes, _SPLIT)
    if loaded:
        add_basis_once(notes, _LOADED)
    return Report(segments, run.total([texts.pressure_drop for texts in segments]), each, run.total(each))


def _warn_ratings(run: Run, ask: RunRequest[Numbers], notes: Notes) -> None:
    """Warn of pipes above their ratings; without an inlet pressure only the temperature is checked."""
    # The static pressure is higher than that at any flow: inlet pressure plus the fall of the run.
    lowest = run.lowest_points()
    words: set[tuple[str | None, str | None]] = set()
    for number, inside in enumerate(run.pipes):
        if inside is None or inside.segment != number or (inside.material, inside.nominal_size) in words:
            continue
        if not np.ndim(lowest):
            words.add((inside.material, inside.nominal_size))
        highest = None if ask.inlet_pressure is None else ask.inlet_pressure + lowest
        pipe = (inside.material, inside.nominal_size)
        warn_rating(pipe, ask.water_temperature, highest, f"segments.{number}.pressure", notes)


def _reported(
    run: Run, number: int, stream: Stream | None, flow: Numbers, lost: Numbers, notes: Notes
) -> SegmentDrop[Numbers]:
    segment, at = run.segments[number], f"segments.{number}"
    if isinstance(segment, ElevationSegment):
        add_basis_once(notes, _ELEVATION)
        return SegmentDrop(pressure_drop=lost)
    if isinstance(segment, DeviceSegment):
        return _device(segment, run.laws[number], stream, flow, lost, at, notes)
    if stream is None:
        raise LookupError("a segment without a pipe passed the checks")
    if isinstance(segment, PipeSegment):
        add_basis_once(notes, _HAZEN_WILLIAMS if stream.friction_factor is None else _DARCY)
        return _in_stream(stream, lost)
    return _fitting(segment, stream, lost, at, notes)


def _in_stream(stream: Stream, lost: Numbers, loss_coefficient: Numbers | None = None) -> SegmentDrop[Numbers]:
    return SegmentDrop(
        pressure_drop=lost,
        velocity=stream.velocity,
        bore=stream.pipe.bore,
        reynolds_number=stream.reynolds_number,
        regime=label(friction.flow_regime(stream.reynolds_number), friction.REGIMES),
        friction_factor=stream.friction_factor,
        loss_coefficient=loss_coefficient,
    )


@cache
def _source_of(name: str) -> Basis:
    fitting = fittings()[name]
    rule = "K1/Re + K (1 + 1 in/bore)" if fitting.k1 else "constant loss coefficient"
    return Basis(method=f"{name}: {rule}", source=fitting.source, validity=fitting.form or "turbulent flow")


def _fitting(
    segment: FittingSegment[Numbers], stream: Stream, lost: Numbers, at: str, notes: Notes
) -> SegmentDrop[Numbers]:
    constant = segment.loss_coefficient is not None
    if segment.fitting is not None:
        add_basis_once(notes, _source_of(segment.fitting))
        constant = not fittings()[segment.fitting].k1
    if constant:
        message = "The loss coefficient is for turbulent flow. Below Reynolds number 4000 fittings lose more."
        slow = stream.reynolds_number < friction.TRANSITION_ENDS_AT
        notes.warn("coefficient_needs_turbulent_flow", f"{at}.loss_coefficient", message, when=slow)
    add_basis_once(notes, _COEFFICIENT)
    return _in_stream(stream, lost, fitting_coefficient(segment, stream) * segment.count)


def _device(
    segment: DeviceSegment[Numbers],
    law: DeviceLaw,
    stream: Stream | None,
    flow: Numbers,
    lost: Numbers,
    at: str,
    notes: Notes,
) -> SegmentDrop[Numbers]:
    field = f"{at}.pressure_drop"
    texts: SegmentDrop[Numbers] = SegmentDrop(pressure_drop=lost)
    if law.fit is not None:
        add_basis_once(notes, _FITTED)
        texts.flow_exponent, texts.fit_error = law.fit.exponent, law.fit.largest_deviation
        _warn_fit(segment, law.fit.exponent, law.fit.largest_deviation, flow, at, notes)
        return texts
    add_basis_once(notes, _DEVICE)
    for rated, _ in rated_points(segment):
        message = (
            "The flow is far from the rated flow, and the pressure drop is scaled with its square. Below the "
            "rated flow, cartridges, beds and membranes lose more than that. Enter a second point from the data "
            "sheet."
        )
        far = (flow < _FAR_BELOW * rated) | (flow > _FAR_ABOVE * rated)
        notes.warn("far_from_rated_flow", field, message, when=far)
    if stream is not None:
        message = (
            "The pipe runs below Reynolds number 4000. A device can lose more than the square of the flow predicts."
        )
        slow = stream.reynolds_number < friction.TRANSITION_ENDS_AT
        notes.warn("device_needs_turbulent_flow", field, message, when=slow)
    return texts


def _warn_fit(
    segment: DeviceSegment[Numbers], exponent: Numbers, error: Numbers, flow: Numbers, at: str, notes: Notes
) -> None:
    flows = [rated for rated, _ in rated_points(segment)]
    low, high = flows[0], flows[0]
    for rated in flows[1:]:
        low, high = np.minimum(low, rated), np.maximum(high, rated)
    message = "The flow is outside the rated points. The fitted power law is extrapolated."
    notes.warn("outside_rated_points", f"{at}.pressure_drop", message, when=(flow < low) | (flow > high))
    message = "The power law differs from a rated point by more than 10 %. Check the points."
    notes.warn("poor_fit", f"{at}.fit_error", message, when=error > _POOR_FIT)
    message = (
        "The fitted exponent of the flow is outside 1 to 2, which is implausible for a bed or an open "
        "device. Check the points."
    )
    notes.warn("unusual_exponent", f"{at}.flow_exponent", message, when=(exponent < 0.99) | (exponent > 2.01))


def costliest(given: Report) -> tuple[Any, Numbers]:
    """Return the segment with the largest loss, and its share of all losses; none without losses."""
    most: Any = given.each[0]
    nothing = len(given.each)
    some = np.greater(most, 0.0)
    index: Any = 0 if np.all(some) else np.where(some, 0, nothing)[()]
    for number, lost in enumerate(given.each[1:], 1):
        above = (lost > most * _CLEARLY) | ((index == nothing) & (lost > 0.0))
        index, most = np.where(above, number, index)[()], np.where(above, lost, most)[()]
    names = [*(f"segments.{number}" for number in range(nothing)), None]
    # If one segment has the whole loss, as the only pipe of a run does, the share is one value for all rows.
    share = 1.0 if np.all(some) and np.all(most == given.lost) else np.divide(most, given.lost)
    return label(index, names), share
