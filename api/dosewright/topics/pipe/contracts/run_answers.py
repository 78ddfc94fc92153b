"""Answers of the calculations along a run of pipes."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N
from dosewright.engine.directions import Safe, higher, lower
from dosewright.engine.fields import Flag, Items, Measure, Text

__all__ = ["LargestFlowAnswer", "PressureDropAnswer", "SegmentDrop"]


class SegmentDrop(msgspec.Struct, Generic[N], kw_only=True):
    """What one segment of the run does, and the grade line where it ends."""

    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the segment; negative where the run falls.")]
    velocity: Annotated[N | None, Measure("velocity", "Mean velocity in the pipe.")] = None
    bore: Annotated[N | None, Measure("small_length", "Inside diameter of the pipe.")] = None
    reynolds_number: Annotated[N | None, Measure("plain", "Reynolds number in the pipe.")] = None
    regime: Annotated[str | None, Text("laminar, transition or turbulent.")] = None
    friction_factor: Annotated[N | None, Measure("plain", "Darcy friction factor of the pipe.")] = None
    loss_coefficient: Annotated[N | None, Measure("plain", "Velocity heads lost in all fittings of the segment.")] = (
        None
    )
    flow_exponent: Annotated[
        N | None,
        Measure("plain", "Power of the flow that the device's pressure drop grows with, as fitted."),
    ] = None
    fit_error: Annotated[
        N | None, Measure("share", "Largest deviation of the fitted pressure drop from a rated point.")
    ] = None
    change_at_pressure_drop: Annotated[
        N | None,
        Measure(
            "pressure",
            "Pressure drop across this cartridge, read at this flow, at which it must be changed: when it is loaded, "
            "or before, when the run no longer passes its limit.",
        ),
    ] = None
    flow: Annotated[
        N | None, Measure("flow", "Flow through the segment where the run is split; elsewhere it is the run's.")
    ] = None
    distance: Annotated[N | None, Measure("length", "Length of pipe from the start to the end of the segment.")] = None
    elevation: Annotated[
        N | None, Measure("length", "Height of the end of the segment above the start of the run.")
    ] = None
    pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure where the segment ends, if the inlet pressure was given.")
    ] = None


class PressureDropAnswer(Answer, Generic[N]):
    """Pressure drop of the whole run and of each segment, in the order asked."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("outlet_pressure loaded_outlet_pressure")
        | lower("pressure_drop loaded_pressure_drop")
        | {"within_limit": True}
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a share of the loss": "costliest_share",
    }

    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the whole run, changes of elevation included.")]
    outlet_pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure where the run ends, if the inlet pressure was given.")
    ]
    within_limit: Annotated[
        bool | None, Flag("Whether the run passes: its pressure drop is at most the limit; none without a limit.")
    ]
    loaded_pressure_drop: Annotated[
        N | None,
        Measure("pressure", "Pressure drop of the whole run once every cartridge is loaded; none without cartridges."),
    ]
    loaded_outlet_pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure where the run ends once every cartridge is loaded.")
    ]
    costliest_segment: Annotated[
        str | None, Text("Segment that loses most, e.g. segments.3; changes of elevation lose nothing.")
    ]
    costliest_share: Annotated[N | None, Measure("share", "The costliest segment's share of all losses.")]
    smallest_nominal_size: Annotated[
        str | None,
        Text(
            "Smallest nominal size, given to every pipe and fitting that names one, with which the run passes its "
            "limit and they their velocity limits; none without a limit, or where the widest does not do."
        ),
    ]
    segments: Annotated[list[SegmentDrop[N]], Items("One entry a segment, in the order asked.")]


class LargestFlowAnswer(Answer, Generic[N]):
    """The most that a run passes, and what happens along it at that flow."""

    safer: ClassVar[Mapping[str, Safe]] = higher("flow velocity_limited_flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "belongs to the flow that was found": "pressure_drop outlet_pressure costliest_share",
    }

    flow: Annotated[N, Measure("flow", "Largest flow with which the run takes no more than the pressure it may.")]
    velocity_limited_flow: Annotated[
        N | None,
        Measure(
            "flow",
            "Largest flow that keeps every pipe at its published velocity limit; none without a pipe, or above 50 L/s.",
        ),
    ]
    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the whole run at the largest flow.")]
    outlet_pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure where the run ends, if the inlet pressure was given.")
    ]
    costliest_segment: Annotated[
        str | None, Text("Segment that loses most, e.g. segments.3; changes of elevation lose nothing.")
    ]
    costliest_share: Annotated[N | None, Measure("share", "The costliest segment's share of all losses.")]
    segments: Annotated[list[SegmentDrop[N]], Items("One entry a segment, in the order asked.")]
