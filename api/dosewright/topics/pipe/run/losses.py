"""Losses of a run at any flow: segments in series, parallel branches, devices by their rated points."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import reduce
from typing import Any

import numpy as np

from dosewright.core.hydraulics import devices, losses
from dosewright.core.hydraulics.flow_split import Loss, split_flow
from dosewright.core.water_and_air import water
from dosewright.quantities import Numbers
from dosewright.tables.fittings import fittings
from dosewright.topics.pipe.contracts.pressure_drop import (
    DeviceSegment,
    ElevationSegment,
    FittingSegment,
    FrictionMethod,
    PipeSegment,
    RunRequest,
)
from dosewright.topics.pipe.run.segments import Pipe, Segment, Stream, pipes_of, stream_in

__all__ = ["DeviceLaw", "Group", "Run", "fitting_coefficient", "rated_points", "series_of"]

# Rated points that define the flow coefficients: 1 m³/h at 1 bar and 1 US gal/min at 1 psi, of water of 1000 kg/m³.
_KV_FLOW, _KV_DROP = 1.0 / 3600.0, 1e5
_CV_FLOW, _CV_DROP = 231.0 * 0.0254**3 / 60.0, 0.45359237 * 9.80665 / 0.0254**2
_COEFFICIENT_DENSITY = 1000.0


def rated_points(device: DeviceSegment[Numbers]) -> list[tuple[Numbers, Numbers]]:
    """Return the rated points of a device: flow [m³/s] and pressure drop [Pa]."""
    return [(point.rated_flow, point.pressure_drop) for point in device.rated_points or ()]


@dataclass(frozen=True, slots=True)
class DeviceLaw:
    """Pressure drop of a device as a function of the flow.

    Attributes
    ----------
    clean : callable
        Pressure drop as new [Pa] at a flow [m³/s].
    loading : float or array
        Pressure drop of the loaded cartridge, divided by that of the new one. [1]
    fit : PowerLaw or None
        The fitted curve, where there is more than one rated point.
    """

    clean: Callable[[Numbers], Numbers]
    loading: Numbers = 1.0
    fit: devices.PowerLaw | None = None


def _device_law(device: DeviceSegment[Numbers], density: Numbers) -> DeviceLaw:
    relative = density / _COEFFICIENT_DENSITY
    if device.kv is not None:
        kv = device.kv * _KV_FLOW
        return DeviceLaw(lambda flow: losses.device_pressure_drop(flow, kv, _KV_DROP, relative))
    if device.cv is not None:
        cv = device.cv * _CV_FLOW
        return DeviceLaw(lambda flow: losses.device_pressure_drop(flow, cv, _CV_DROP, relative))
    points = rated_points(device)
    rated, drop = points[0]
    loading = 1.0 if device.loaded_pressure_drop is None else device.loaded_pressure_drop / drop
    if len(points) == 1:
        return DeviceLaw(lambda flow: losses.device_pressure_drop(flow, rated, drop), loading)
    fit = devices.fit_power_law([flow for flow, _ in points], [drop for _, drop in points])
    return DeviceLaw(lambda flow: devices.power_law_pressure_drop(flow, fit), loading, fit)


def fitting_coefficient(fitting: FittingSegment[Numbers], stream: Stream) -> Numbers:
    """Return the loss coefficient of one of the fittings [-]."""
    if fitting.fitting is not None:
        row = fittings()[fitting.fitting]
        if not row.k1:
            return row.loss_coefficient
        return losses.two_constant_coefficient(stream.reynolds_number, stream.pipe.bore, row.k1, row.k_infinity)
    if fitting.loss_coefficient is not None:
        return fitting.loss_coefficient
    return stream.along(fitting.equivalent_length or 0.0) / stream.of_coefficient(1.0)


@dataclass(frozen=True, slots=True)
class Group:
    """Parallel branches: the segment numbers of each branch."""

    branches: dict[str, list[int]] = field(default_factory=dict[str, list[int]])


def series_of(segments: Sequence[Segment]) -> list[int | Group]:
    """Return the sequence along the flow: single segments, and groups of branches."""
    series: list[int | Group] = []
    for number, segment in enumerate(segments):
        if segment.branch is None:
            series.append(number)
            continue
        if not series or isinstance(series[-1], int):
            series.append(Group())
        group: Any = series[-1]
        group.branches.setdefault(segment.branch, []).append(number)
    return series


def _total(terms: Sequence[Numbers]) -> Numbers:
    return reduce(lambda total, term: total + term, terms)


class Run:
    """A run of segments, prepared to calculate its losses at any flow.

    Attributes
    ----------
    segments : sequence
        The segments.
    pipes : list of Pipe or None
        The pipe each segment sits in.
    laws : dict of int to DeviceLaw
        The devices among them.
    series : list
        Segments and groups, one after the other.
    density, viscosity : float or array
        Of the water. [kg/m³], [m²/s]
    """

    def __init__(self, ask: RunRequest[Numbers], segments: Sequence[Segment] | None = None) -> None:
        self.segments = ask.segments if segments is None else segments
        self.method: FrictionMethod = ask.method
        self.density = water.density(ask.water_temperature)
        self.viscosity = water.kinematic_viscosity(ask.water_temperature)
        self.pipes: list[Pipe | None] = pipes_of(self.segments)
        self.series = series_of(self.segments)
        self.laws = {
            number: _device_law(segment, self.density)
            for number, segment in enumerate(self.segments)
            if isinstance(segment, DeviceSegment)
        }

    def streams(self, flows: Sequence[Numbers]) -> list[Stream | None]:
        """Return the flow in the pipe of each segment, one stream per pipe and branch; `flows` is each segment's."""
        known: dict[tuple[int, int], Stream] = {}
        return [self._stream(number, flow, known) for number, flow in enumerate(flows)]

    def _stream(self, number: int, flow: Numbers, known: dict[tuple[int, int], Stream]) -> Stream | None:
        inside = self.pipes[number]
        if inside is None:
            return None
        key = (inside.segment, id(flow))
        if key not in known:
            known[key] = stream_in(inside, flow, self.density, self.viscosity, self.method)
        return known[key]

    def loss(self, number: int, flow: Numbers, stream: Stream | None, *, loaded: bool) -> Numbers:
        """Return the loss of a segment [Pa]; 0 for a change of elevation."""
        segment = self.segments[number]
        if isinstance(segment, ElevationSegment):
            return 0.0
        if isinstance(segment, DeviceSegment):
            law = self.laws[number]
            return law.clean(flow) * law.loading if loaded else law.clean(flow)
        if stream is None:
            raise LookupError("a segment without a pipe passed the checks")
        if isinstance(segment, PipeSegment):
            return stream.along(segment.length)
        return stream.of_coefficient(fitting_coefficient(segment, stream) * segment.count)

    def _in_series(self, members: Sequence[int], *, loaded: bool) -> Loss:
        def loss(flow: Numbers) -> Numbers:
            known: dict[tuple[int, int], Stream] = {}
            return _total([self.loss(n, flow, self._stream(n, flow, known), loaded=loaded) for n in members])

        return loss

    def flows(self, flow: Numbers, *, loaded: bool = False) -> tuple[list[Numbers], Any]:
        """Return the flow through each segment [m³/s], and where no split was possible."""
        found: list[Numbers] = [flow] * len(self.segments)
        unsplit: Any = False
        for group in self.series:
            if isinstance(group, int):
                continue
            members = list(group.branches.values())
            branches = [self._in_series(numbers, loaded=loaded) for numbers in members]
            shape_of = _total([branch(flow) for branch in branches])
            parts = split_flow(flow, branches, shape_of)
            for numbers, part in zip(members, parts, strict=True):
                missing = np.isnan(part)
                unsplit = unsplit | missing
                share = np.where(missing, flow / len(members), part)[()]
                for number in numbers:
                    found[number] = share
        return found, unsplit

    def losses(self, flow: Numbers, *, loaded: bool = False) -> Numbers:
        """Return the loss of the whole run [Pa], without changes of elevation."""
        flows, _ = self.flows(flow, loaded=loaded)
        return self.total(self.each(flows, self.streams(flows), loaded=loaded))

    def each(self, flows: Sequence[Numbers], streams: Sequence[Stream | None], *, loaded: bool) -> list[Numbers]:
        """Return the loss of each segment [Pa]."""
        return [
            self.loss(number, flow, stream, loaded=loaded)
            for number, (flow, stream) in enumerate(zip(flows, streams, strict=True))
        ]

    def total(self, each: Sequence[Numbers]) -> Numbers:
        """Add up a value of each segment along the run; in a group, along its first branch."""
        terms: list[Numbers] = []
        for part in self.series:
            numbers = [part] if isinstance(part, int) else next(iter(part.branches.values()))
            terms += [each[number] for number in numbers]
        return _total(terms)

    def rises(self) -> list[Numbers]:
        """Return the pressure drop from each segment's change of elevation [Pa]."""
        return [
            losses.elevation_pressure(segment.elevation_change, self.density)
            if isinstance(segment, ElevationSegment)
            else 0.0
            for segment in self.segments
        ]

    def lowest_points(self) -> Numbers:
        """Return how much higher the static pressure is at the lowest point of the run than at its inlet [Pa]."""
        here: Numbers = 0.0
        gained: Numbers = 0.0
        for rise in self.rises():
            here = here - rise
            gained = np.maximum(gained, here)
        return gained
