"""Contracts of pipe/volume: contents of a run of pipes and devices, and the water and time to flush it."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Items, Measure, default
from dosewright.topics.pipe.contracts.vessels import (
    Chamber,
    FilterHousing,
    PipeRun,
    PlainVolume,
    PressureTank,
    WaterHeater,
)

__all__ = ["VesselContents", "VolumeAnswer", "VolumeRequest"]


class VolumeRequest(Request, Generic[Q]):
    """Pipes and devices of the run, and how many volume changes to flush."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "vessels.length vessels.bore vessels.volume vessels.chamber_bore vessels.chamber_length", "vessels.fill"
    ) | lower("vessels.sleeve_outer_diameter vessels.precharge vessels.system_pressure flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "the caller's choice": "volume_changes",
    }

    vessels: Annotated[
        list[PipeRun[Q] | FilterHousing[Q] | Chamber[Q] | PressureTank[Q] | WaterHeater[Q] | PlainVolume[Q]],
        Items("Pipes, housings, chambers and tanks of the run.", at_least=1, at_most=200),
    ]
    volume_changes: Annotated[
        Q,
        Measure("plain", "Number of volume changes.", above="0", at_most="1000", example="3"),
    ] = default("1")
    flow: Annotated[
        Q | None,
        Measure("flow", "Flushing flow.", at_least="0.001 L/min", at_most="1 m3/s", example="5 gal/min"),
    ] = None


class VesselContents(msgspec.Struct, Generic[N], kw_only=True):
    """Contents of one vessel."""

    volume: Annotated[N, Measure("volume", "Volume of the water.")]


class VolumeAnswer(Answer, Generic[N]):
    """Contents of the run, and the water and time to flush it."""

    safer: ClassVar[Mapping[str, Safe]] = lower(
        "volume flush_volume flush_time remaining_if_mixed remaining_if_laminar"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a longer stay is neither safer nor less safe": "transit_time",
    }

    volume: Annotated[N, Measure("volume", "Volume of water in the whole run.")]
    flush_volume: Annotated[N, Measure("volume", "Water needed for the volume changes.")]
    flush_time: Annotated[N | None, Measure("time", "Time needed for the volume changes; absent without a flow.")]
    transit_time: Annotated[N | None, Measure("time", "Residence time of the water in the run; absent without a flow.")]
    remaining_if_mixed: Annotated[
        N,
        Measure("share", "Share of the old water that remains if everything mixes, as in a tank. Pipes push it out."),
    ]
    remaining_if_laminar: Annotated[
        N,
        Measure(
            "share", "Share of the old water that remains in pipes with laminar flow, where the water at the wall lags."
        ),
    ]
    vessels: Annotated[list[VesselContents[N]], Items("One entry per vessel, in the order of the request.")]
