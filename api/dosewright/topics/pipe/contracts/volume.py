"""Contracts of pipe/volume: what a run of pipes and devices holds, and the water and time that flush it."""

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
    """Pipes and what stands between them, and how often their contents are to be exchanged."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "vessels.length vessels.bore vessels.volume vessels.chamber_bore vessels.chamber_length", "vessels.fill"
    ) | lower("vessels.sleeve_outer_diameter vessels.precharge vessels.system_pressure flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "the caller's choice": "exchanges",
    }

    vessels: Annotated[
        list[PipeRun[Q] | FilterHousing[Q] | Chamber[Q] | PressureTank[Q] | WaterHeater[Q] | PlainVolume[Q]],
        Items("Pipes, housings, chambers and tanks that hold the water.", at_least=1, at_most=200),
    ]
    exchanges: Annotated[
        Q,
        Measure("plain", "How many times the contents are to be exchanged.", above="0", at_most="1000", example="3"),
    ] = default("1")
    flow: Annotated[
        Q | None,
        Measure("flow", "Flow that flushes.", at_least="0.001 L/min", at_most="1 m3/s", example="5 gal/min"),
    ] = None


class VesselContents(msgspec.Struct, Generic[N], kw_only=True):
    """What one vessel holds."""

    volume: Annotated[N, Measure("volume", "Water it holds.")]


class VolumeAnswer(Answer, Generic[N]):
    """What the run holds, and what flushing it takes."""

    safer: ClassVar[Mapping[str, Safe]] = lower("volume flush_volume flush_time left_if_mixed left_if_laminar")
    undirected: ClassVar[Mapping[str, str]] = {
        "a longer stay is neither": "transit_time",
    }

    volume: Annotated[N, Measure("volume", "Water that all of it holds.")]
    flush_volume: Annotated[N, Measure("volume", "Water that the exchanges take.")]
    flush_time: Annotated[N | None, Measure("time", "Time that the exchanges take; none without a flow.")]
    transit_time: Annotated[N | None, Measure("time", "Time for which the water stays inside; none without a flow.")]
    left_if_mixed: Annotated[
        N,
        Measure("share", "Share of the old water left where all mixes, as in a tank; pipes push it out."),
    ]
    left_if_laminar: Annotated[
        N,
        Measure("share", "Share of the old water left in pipes whose flow is laminar: the water at the wall lags."),
    ]
    vessels: Annotated[list[VesselContents[N]], Items("One entry a vessel, in the order asked.")]
