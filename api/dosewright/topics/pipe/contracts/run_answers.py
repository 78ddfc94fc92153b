"""Answers of the calculations along a run of pipes."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N
from dosewright.engine.directions import Safe, higher, lower
from dosewright.engine.fields import Flag, Items, Measure, Text

__all__ = ["LargestFlowAnswer", "PressureDropAnswer", "SegmentDrop"]


class SegmentDrop(msgspec.Struct, Generic[N], kw_only=True):
    """Flow and losses in one segment of the run, and the grade line at its end."""

    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the segment; negative if the run falls.")]
    velocity: Annotated[N | None, Measure("velocity", "Mean velocity in the pipe.")] = None
    bore: Annotated[N | None, Measure("small_length", "Inside diameter of the pipe.")] = None
    reynolds_number: Annotated[N | None, Measure("plain", "Reynolds number in the pipe.")] = None
    regime: Annotated[str | None, Text("laminar, transition or turbulent.")] = None
    friction_factor: Annotated[N | None, Measure("plain", "Darcy friction factor of the pipe.")] = None
    loss_coefficient: Annotated[
        N | None, Measure("plain", "Sum of the loss coefficients of the segment's fittings, in velocity heads.")
    ] = None
    flow_exponent: Annotated[
        N | None,
        Measure("plain", "Exponent of the flow in the fitted power law of the device's pressure drop."),
    ] = None
    fit_error: Annotated[
        N | None, Measure("share", "Largest deviation of the fitted pressure drop from a rated point.")
    ] = None
    change_at_pressure_drop: Annotated[
        N | None,
        Measure(
            "pressure",
            "Change this cartridge when the pressure drop across it, at this flow, reaches this value: when it "
            "is loaded, or earlier if the run would exceed its limit.",
        ),
    ] = None
    flow: Annotated[
        N | None, Measure("flow", "Flow through this segment if the run splits; otherwise the flow of the run.")
    ] = None
    distance: Annotated[
        N | None, Measure("length", "Length of pipe from the start of the run to the end of the segment.")
    ] = None
    elevation: Annotated[N | None, Measure("length", "Height of the segment's end above the start of the run.")] = None
    pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure at the end of the segment, if inlet_pressure was given.")
    ] = None


class PressureDropAnswer(Answer, Generic[N]):
    """Pressure drop of the whole run and of each segment, in the order of the request."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("outlet_pressure loaded_outlet_pressure")
        | lower("pressure_drop loaded_pressure_drop")
        | {"within_limit": True}
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a share of the loss": "largest_loss_share",
    }

    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the whole run, changes of elevation included.")]
    outlet_pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure at the end of the run, if inlet_pressure was given.")
    ]
    within_limit: Annotated[
        bool | None, Flag("Whether the pressure drop of the run is within its limit; absent without a limit.")
    ]
    loaded_pressure_drop: Annotated[
        N | None,
        Measure("pressure", "Pressure drop of the whole run with every cartridge loaded; absent without cartridges."),
    ]
    loaded_outlet_pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure at the end of the run with every cartridge loaded.")
    ]
    largest_loss_segment: Annotated[
        str | None, Text("Segment with the largest loss, e.g. segments.3. Changes of elevation do not count as a loss.")
    ]
    largest_loss_share: Annotated[N | None, Measure("share", "Share of all losses in that segment.")]
    smallest_nominal_size: Annotated[
        str | None,
        Text(
            "Smallest nominal size for the whole run that meets its pressure limit and the velocity limits of "
            "its pipes. Every pipe and fitting with a nominal size takes this size. Absent without a limit, or "
            "if the largest size is too small."
        ),
    ]
    segments: Annotated[list[SegmentDrop[N]], Items("One entry per segment, in the order of the request.")]


class LargestFlowAnswer(Answer, Generic[N]):
    """The largest flow through a run, and what happens along the run at that flow."""

    safer: ClassVar[Mapping[str, Safe]] = higher("flow velocity_limited_flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "belongs to the calculated flow": "pressure_drop outlet_pressure largest_loss_share",
    }

    flow: Annotated[N, Measure("flow", "Largest flow at which the pressure drop is within the limit.")]
    velocity_limited_flow: Annotated[
        N | None,
        Measure(
            "flow",
            "Largest flow that keeps every pipe within its published velocity limit; absent without a pipe, or "
            "above 50 L/s.",
        ),
    ]
    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the whole run at the largest flow.")]
    outlet_pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure at the end of the run, if inlet_pressure was given.")
    ]
    largest_loss_segment: Annotated[
        str | None, Text("Segment with the largest loss, e.g. segments.3. Changes of elevation do not count as a loss.")
    ]
    largest_loss_share: Annotated[N | None, Measure("share", "Share of all losses in that segment.")]
    segments: Annotated[list[SegmentDrop[N]], Items("One entry per segment, in the order of the request.")]
