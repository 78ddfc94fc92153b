"""Pressure drop of a run of pipes, fittings, devices and changes of elevation."""

from functools import cache
from typing import Any

from dosewright.calculations.notes import Notes
from dosewright.calculations.pipe_choice import rest_once
from dosewright.calculations.pipe_run import Stream, refuse_unclear_pipes, streams_of
from dosewright.calculations.registry import calculation
from dosewright.contracts.base import Basis
from dosewright.contracts.pressure_drop import (
    DeviceSegment,
    ElevationSegment,
    FittingSegment,
    PipeSegment,
    PressureDropAnswer,
    PressureDropRequest,
    SegmentDrop,
)
from dosewright.core import friction, losses, water
from dosewright.quantities import Numbers
from dosewright.tables.fittings import fittings

__all__ = ["pressure_drop"]

# Rated points that define the flow coefficients: 1 m³/h at 1 bar and 1 US gal/min at 1 psi, of water of 1000 kg/m³.
_KV_FLOW, _KV_DROP = 1.0 / 3600.0, 1e5
_CV_FLOW, _CV_DROP = 231.0 * 0.0254**3 / 60.0, 0.45359237 * 9.80665 / 0.0254**2
_COEFFICIENT_DENSITY = 1000.0
_FAR_BELOW, _FAR_ABOVE = 0.25, 2.0

_DARCY = Basis(
    method="Darcy-Weisbach: friction factor x length / bore x density x velocity^2 / 2",
    source="laminar 64/Re; Colebrook 1939 and White from Re 4000 up, solved to rounding; water: IAPWS SR6-08(2011)",
    validity="full round pipe, steady flow, Re up to 1e8, roughness up to 0.05 of the bore; between Re 2000 and 4000 "
    "interpolated by convention",
)
_HAZEN_WILLIAMS = Basis(
    method="Hazen-Williams: head = 10.667 length x flow^1.852 / (C^1.852 bore^4.871), in SI",
    source="EPANET 2.2 User Manual, EPA/600/R-20/133, table 3.1",
    validity="turbulent water, about 5 to 25 degC, bore of about 50 mm and more",
)
_COEFFICIENT = Basis(
    method="fittings: loss coefficient x density x velocity^2 / 2",
    source="definition; the coefficient or equivalent length as given",
    validity="turbulent flow",
)
_DEVICE = Basis(
    method="devices: pressure drop grows with the square of the flow",
    source="IEC 60534-2-1:2011 for Kv and Cv; the rated point as given",
    validity="turbulent flow through the device, near its rated flow",
)
_ELEVATION = Basis(
    method="elevation: density x 9.80665 m/s2 x height",
    source="hydrostatics; standard gravity",
    validity="any",
)


@calculation(
    "pipe/pressure-drop",
    request=PressureDropRequest,
    answer=PressureDropAnswer,
    summary="Pressure drop of a run of pipes, fittings and devices",
    example={
        "flow": "9 gal/min",
        "segments": [
            {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "1"},
            {"kind": "fitting", "fitting": "elbow_90", "count": "6"},
            {"kind": "fitting", "fitting": "ball_valve_open", "count": "2"},
            {"kind": "device", "rated_flow": "12 gal/min", "rated_pressure_drop": "4 psi"},
            {"kind": "elevation", "elevation_change": "9 ft"},
        ],
        "water_temperature": "12 degC",
        "inlet_pressure": "50 psi",
    },
)
def pressure_drop(ask: PressureDropRequest[Numbers], notes: Notes) -> PressureDropAnswer[Numbers]:
    """Pressure drop of water through a run of segments in series, in total and segment by segment.

    Straight pipe by Darcy-Weisbach with the Colebrook-White friction factor, or by Hazen-Williams. Fittings by name
    (Hooper's two constants, or a published coefficient), by loss coefficient or by equivalent length. Devices by Kv,
    Cv or one rated point, with the square of the flow. A change of elevation adds its column of water. A fitting sits
    in the nearest pipe before it unless it names its own.
    """
    density = water.density(ask.water_temperature)
    streams = streams_of(ask, density, notes)
    drops: list[SegmentDrop[Numbers]] = []
    total: Any = 0.0
    for number, (segment, stream) in enumerate(zip(ask.segments, streams, strict=True)):
        if isinstance(segment, PipeSegment):
            drop = _pipe(segment, _present(stream), notes)
        elif isinstance(segment, FittingSegment):
            drop = _fitting(segment, _present(stream), f"segments.{number}", notes)
        elif isinstance(segment, DeviceSegment):
            drop = _device(ask.flow, segment, density, stream, f"segments.{number}", notes)
        else:
            drop = _elevation(segment, density, notes)
        drops.append(drop)
        total = drop.pressure_drop if number == 0 else total + drop.pressure_drop
    notes.caution("pressure", "local_rules")
    if any(isinstance(segment, DeviceSegment) for segment in ask.segments):
        notes.caution("mains_near_water")
    return PressureDropAnswer(pressure_drop=total, outlet_pressure=_outlet(ask, total, notes), segments=drops)


@pressure_drop.check("segments", "method")
def _clear_segments(ask: PressureDropRequest[Numbers], notes: Notes) -> None:
    for number, segment in enumerate(ask.segments):
        at = f"segments/{number}"
        if isinstance(segment, FittingSegment):
            _refuse_unless_one(at, ("fitting", "loss_coefficient", "equivalent_length"), segment, notes)
            message = "Give a whole number."
            notes.refuse("out_of_range", f"{at}/count", message, when=segment.count % 1.0 != 0.0, allowed="1, 2, 3 …")
        elif isinstance(segment, DeviceSegment):
            if (segment.rated_flow is None) != (segment.rated_pressure_drop is None):
                missing = "rated_flow" if segment.rated_flow is None else "rated_pressure_drop"
                message = "A rated point is a flow and the pressure drop at that flow."
                notes.refuse("required", f"{at}/{missing}", message)
            else:
                _refuse_unless_one(at, ("kv", "cv", "rated_flow"), segment, notes)
    refuse_unclear_pipes(ask.segments, ask.method, notes)


def _refuse_unless_one(at: str, names: tuple[str, ...], segment: Any, notes: Notes) -> None:
    given = [name for name in names if getattr(segment, name) is not None]
    if not given:
        notes.refuse("required", at, f"Give one of {', '.join(names)}.", allowed=list(names))
    elif len(given) > 1:
        notes.refuse("given_twice", f"{at}/{given[1]}", f"Give one of {', '.join(given)}.", allowed=list(names))


def _present(stream: Stream | None) -> Stream:
    if stream is None:
        raise LookupError("a segment without a pipe passed the checks")
    return stream


def _pipe(segment: PipeSegment[Numbers], stream: Stream, notes: Notes) -> SegmentDrop[Numbers]:
    rest_once(notes, _HAZEN_WILLIAMS if stream.friction_factor is None else _DARCY)
    return _in_stream(stream, stream.along(segment.length))


def _in_stream(stream: Stream, drop: Numbers, loss_coefficient: Numbers | None = None) -> SegmentDrop[Numbers]:
    return SegmentDrop(
        pressure_drop=drop,
        velocity=stream.velocity,
        bore=stream.pipe.bore,
        reynolds_number=stream.reynolds_number,
        regime=stream.regime,
        friction_factor=stream.friction_factor,
        loss_coefficient=loss_coefficient,
    )


@cache
def _source_of(name: str) -> Basis:
    fitting = fittings()[name]
    rule = "K1/Re + K (1 + 1 in/bore)" if fitting.k1 else "constant loss coefficient"
    return Basis(
        method=f"{name}: {rule}",
        source=fitting.source,
        validity=fitting.form or "turbulent flow",
    )


def _fitting(segment: FittingSegment[Numbers], stream: Stream, at: str, notes: Notes) -> SegmentDrop[Numbers]:
    one: Any
    constant = True
    if segment.fitting is not None:
        fitting = fittings()[segment.fitting]
        rest_once(notes, _source_of(segment.fitting))
        constant = not fitting.k1
        one = fitting.loss_coefficient
        if not constant:
            one = losses.two_constant_coefficient(
                stream.reynolds_number, stream.pipe.bore, fitting.k1, fitting.k_infinity
            )
    elif segment.loss_coefficient is not None:
        one = segment.loss_coefficient
    else:
        constant = False
        one = stream.along(segment.equivalent_length or 0.0) / stream.of_coefficient(1.0)
    if constant:
        message = "The loss coefficient is that of turbulent flow; below Reynolds number 4000 fittings lose more."
        slow = stream.reynolds_number < friction.TRANSITION_ENDS_AT
        notes.warn("coefficient_needs_turbulent_flow", f"{at}.loss_coefficient", message, when=slow)
    rest_once(notes, _COEFFICIENT)
    coefficient = one * segment.count
    return _in_stream(stream, stream.of_coefficient(coefficient), coefficient)


def _device(
    flow: Numbers,
    segment: DeviceSegment[Numbers],
    density: Numbers,
    stream: Stream | None,
    at: str,
    notes: Notes,
) -> SegmentDrop[Numbers]:
    rest_once(notes, _DEVICE)
    field = f"{at}.pressure_drop"
    relative = density / _COEFFICIENT_DENSITY
    if segment.kv is not None:
        drop = losses.device_pressure_drop(flow, segment.kv * _KV_FLOW, _KV_DROP, relative)
    elif segment.cv is not None:
        drop = losses.device_pressure_drop(flow, segment.cv * _CV_FLOW, _CV_DROP, relative)
    else:
        rated, rated_drop = segment.rated_flow, segment.rated_pressure_drop
        if rated is None or rated_drop is None:
            raise LookupError("a device without a rated point passed the checks")
        drop = losses.device_pressure_drop(flow, rated, rated_drop)
        message = (
            "The flow is far from the rated flow, and the pressure drop is scaled with its square. Cartridges, beds "
            "and membranes lose more than that below their rated flow: look for a second point on the data sheet."
        )
        far = (flow < _FAR_BELOW * rated) | (flow > _FAR_ABOVE * rated)
        notes.warn("far_from_rated_flow", field, message, when=far)
    if stream is not None:
        message = "The pipe runs below Reynolds number 4000: a device may lose more than the square of the flow says."
        slow = stream.reynolds_number < friction.TRANSITION_ENDS_AT
        notes.warn("device_needs_turbulent_flow", field, message, when=slow)
    return SegmentDrop(pressure_drop=drop)


def _elevation(segment: ElevationSegment[Numbers], density: Numbers, notes: Notes) -> SegmentDrop[Numbers]:
    rest_once(notes, _ELEVATION)
    return SegmentDrop(pressure_drop=losses.elevation_pressure(segment.elevation_change, density))


def _outlet(ask: PressureDropRequest[Numbers], total: Numbers, notes: Notes) -> Numbers | None:
    if ask.inlet_pressure is None:
        return None
    outlet = ask.inlet_pressure - total
    message = "The run takes more pressure than the inlet has: this flow cannot be delivered."
    notes.warn("not_enough_pressure", "outlet_pressure", message, when=outlet < 0.0)
    return outlet
