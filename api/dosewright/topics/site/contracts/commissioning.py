"""Contracts of the start-up."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Flag, Items, Measure, Section, Text, default
from dosewright.topics.chlorine.contracts.shock import ShockRequest

__all__ = ["CarbonFilter", "CommissioningAnswer", "CommissioningRequest", "CommissioningStep"]


class CarbonFilter(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """A carbon filter, to be flushed of fines before use."""

    bed_volume: Annotated[
        Q, Measure("volume", "Volume of carbon in the filter.", above="0 L", at_most="10 m3", example="28 L")
    ]
    flush_bed_volumes: Annotated[
        Q,
        Measure("plain", "Bed volumes to flush to waste; the maker's figure comes first.", at_least="1", at_most="100"),
    ] = default("10")


class CommissioningRequest(Request, Generic[Q], kw_only=True):
    """Pressures, flows, carbon filters, and the chlorination."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "working_pressure line_volume carbon_filters.bed_volume carbon_filters.flush_bed_volumes",
        "line_volume_changes leak_check_time lamp_warm_up first_sample_after second_sample_after",
    ) | lower("flush_flow")

    flush_flow: Annotated[
        Q,
        Measure("flow", "Flow at which lines are flushed.", above="0 L/min", at_most="1 m3/s", example="6 gal/min"),
    ]
    working_pressure: Annotated[
        Q,
        Measure("pressure", "Highest working pressure.", at_least="50 kPa", at_most="2 MPa", example="60 psi"),
    ]
    chlorination: Annotated[
        ShockRequest[Q] | None, Section("Shock chlorination of everything downstream.", "chlorine/shock")
    ] = None
    carbon_filters: Annotated[list[CarbonFilter[Q]] | None, Items("Carbon filters in the train.", 1, 10)] = None
    line_volume: Annotated[
        Q | None,
        Measure(
            "volume", "Volume of water in the train and its pipes.", above="0 L", at_most="10 m3", example="12 gal"
        ),
    ] = None
    line_volume_changes: Annotated[
        Q, Measure("plain", "How many times a flush replaces the water in the line.", at_least="1", at_most="100")
    ] = default("3")
    leak_check_time: Annotated[
        Q, Measure("time", "How long the run is held at working pressure.", at_least="5 min", at_most="24 h")
    ] = default("30 min")
    lamp_warm_up: Annotated[
        Q, Measure("time", "Warm-up time of the lamp, from its data sheet.", at_least="0.1 min", at_most="60 min")
    ] = default("5 min")
    first_sample_after: Annotated[
        Q,
        Measure("interval", "Days from the end of the flush to the first sample.", at_least="0.5 d", at_most="60 d"),
    ] = default("7 d")
    second_sample_after: Annotated[
        Q, Measure("interval", "Days from the first sample to the second.", at_least="0.5 d", at_most="90 d")
    ] = default("1 d")
    discharge_neutralised: Annotated[
        bool, Flag("Whether the flushed water is collected and neutralised before it leaves the site.")
    ] = False


class CommissioningStep(msgspec.Struct, Generic[N], kw_only=True):
    """One step of the checklist."""

    number: Annotated[int, Text("Number of the step.")]
    step: Annotated[str, Text("Stable name of the step.")]
    title: Annotated[str, Text("Title of the step.")]
    action: Annotated[str, Text("What to do.")]
    amount: Annotated[str | None, Text("Amount of product in cups, quarts or litres, where one is measured out.")]
    volume: Annotated[N | None, Measure("volume", "Water dosed, flushed or neutralised.")]
    duration: Annotated[N | None, Measure("time", "Minimum time it takes; for a sample, the minimum wait before it.")]
    pressure: Annotated[N | None, Measure("pressure", "Pressure during the step.")]
    mass: Annotated[N | None, Measure("small_mass", "Mass of reducing agent.")]
    after: Annotated[str | None, Text("Step that must be finished first.")]
    risk: Annotated[str, Text("What can go wrong.")]
    caution: Annotated[str, Text("Danger in this step, and how to avoid it.")]


class CommissioningAnswer(Answer, Generic[N]):
    """Steps in order, and the minimum time they take."""

    safer: ClassVar[Mapping[str, Safe]] = lower("working_time days_to_second_sample")

    steps: Annotated[list[CommissioningStep[N]], Items("Steps in order.")]
    working_time: Annotated[N, Measure("running_time", "Minimum time of all steps up to switching on the lamp.")]
    days_to_second_sample: Annotated[N, Measure("interval", "Minimum time from the start to the second sample.")]
