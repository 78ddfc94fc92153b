"""Contracts of the ultraviolet topic: derating curves, limits, uncertainty, the field and its models."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Part, Series, Text, default
from dosewright.topics.uv.contracts.lamp import (
    AGEING,
    ARC,
    BORE,
    CHAMBER,
    FLOW,
    FOULING,
    OUTPUT,
    SLEEVE,
    UVT,
    LampAndSleeve,
    LampAndWater,
    PassageChoice,
)

__all__ = [
    "CurvePoint",
    "DeratingCurveAnswer",
    "DeratingCurveRequest",
    "DoseInterval",
    "FieldModelsAnswer",
    "FieldModelsRequest",
    "FlowInterval",
    "FluenceMapAnswer",
    "FluenceMapRequest",
    "LimitsAnswer",
    "LimitsRequest",
    "MapPoint",
    "ModelResult",
    "RangeSpread",
    "StandardSpread",
    "UncertaintyAnswer",
    "UncertaintyRequest",
]

_HOURS = Measure("running_time", "Lamp hours.", at_least="0 h", at_most="100000 h", example="0, 3000, 9000 h")
_LIFE = Measure(
    "running_time", "Lamp hours at the end of the lamp's life.", at_least="100 h", at_most="100000 h", example="9000 h"
)
_END = Measure("share", "Lamp ageing factor at the end of life.", at_least="1 %", at_most="100 %", example="80 %")
_PEAK = Measure("flow", "Peak flow to cover.", at_least="0.01 L/min", at_most="1 m3/s", example="35 L/min")


class _Chamber(LampAndWater[Q], Generic[Q], kw_only=True):
    """A chamber, its lamp, the water and its hydraulics."""

    worse: ClassVar[Mapping[str, Direction]] = lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider gap absorbs more but keeps the water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
    }

    chamber_bore: Annotated[Q, BORE]
    sleeve_outer_diameter: Annotated[Q, SLEEVE]
    arc_length: Annotated[Q, ARC]
    chamber_length: Annotated[Q, CHAMBER]
    uvc_output: Annotated[Q, OUTPUT]
    hydraulics: PassageChoice = None


class DeratingCurveRequest(_Chamber[Q], Generic[Q], kw_only=True):
    """A chamber and the points of one, two or three curves. Each curve keeps the other conditions as entered."""

    worse: ClassVar[Mapping[str, Direction]] = higher("safety_factor peak_flow") | lower(
        "end_of_life end_of_life_factor"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a point of the curve": "uvts lamp_hours sleeve_fouling_factors ageing_hours ageing_factors"
    }

    uvts: Annotated[Q | None, Series(UVT, 1, 200)] = None
    lamp_hours: Annotated[Q | None, Series(_HOURS, 1, 200)] = None
    sleeve_fouling_factors: Annotated[Q | None, Series(FOULING, 1, 200)] = None
    end_of_life: Annotated[Q | None, _LIFE] = None
    end_of_life_factor: Annotated[Q | None, _END] = None
    ageing_hours: Annotated[Q | None, Series(_HOURS, 2, 50)] = None
    ageing_factors: Annotated[Q | None, Series(AGEING, 2, 50)] = None
    safety_factor: Annotated[
        Q,
        Measure("plain", "Safety factor: the flow is divided by it last.", at_least="1", at_most="100", example="1.2"),
    ] = default("1")
    peak_flow: Annotated[Q | None, _PEAK] = None


_LOWER_FLOW = Measure(
    "flow", "Flow if the water were laminar and never mixed; only without hydraulics. Short circuits can be worse."
)


class CurvePoint(msgspec.Struct, Generic[N], kw_only=True):
    """One point of a curve: the conditions, and the flow that still delivers the target dose."""

    uvt: Annotated[N, Measure("share", "UVT.")]
    lamp_hours: Annotated[N | None, Measure("running_time", "Lamp hours; absent on the other curves.")]
    lamp_ageing_factor: Annotated[N, Measure("share", "Lamp ageing factor.")]
    sleeve_fouling_factor: Annotated[N, Measure("share", "Sleeve fouling factor.")]
    derated_flow: Annotated[N, Measure("flow", "Flow that still delivers the target dose.")]
    flow_lower_bound: Annotated[N | None, _LOWER_FLOW]
    flow_margin: Annotated[
        N | None, Measure("flow", "Derated flow minus peak flow; absent without a peak flow or without hydraulics.")
    ]


class DeratingCurveAnswer(Answer, Generic[N]):
    """The derated flow at the entered conditions and along each requested curve; other curves are empty."""

    safer: ClassVar[Mapping[str, Safe]] = higher("derated_flow flow_lower_bound")

    derated_flow: Annotated[N, Measure("flow", "Flow at the entered conditions.")]
    flow_lower_bound: Annotated[N | None, _LOWER_FLOW]
    by_uvt: Annotated[list[CurvePoint[N]], Items("Points of the UVT curve.", 0, 200)]
    by_lamp_hours: Annotated[list[CurvePoint[N]], Items("Points of the lamp-hours curve.", 0, 200)]
    by_fouling: Annotated[list[CurvePoint[N]], Items("Points of the sleeve-fouling curve.", 0, 200)]


class LimitsRequest(_Chamber[Q], Generic[Q], kw_only=True):
    """A chamber, the flow it must treat, and a target dose. The answer says how far conditions can fall."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow") | lower("end_of_life end_of_life_factor")

    flow: Annotated[Q, FLOW]
    end_of_life: Annotated[Q | None, _LIFE] = None
    end_of_life_factor: Annotated[Q | None, _END] = None


_UNMIXED = "Without hydraulics, the limit for laminar flow that never mixes."
_LIMIT = (
    "at_value: the lowest value is given. never_fails: the target is met down to 1 %. fails_immediately: "
    "the target is missed even at 100 %."
)
_OPTIMISTIC = "The same limit from the mean dose, which is optimistic. Given only without hydraulics."


class LimitsAnswer(Answer, Generic[N]):
    """How far each condition can fall while the target dose is still met, with the others as entered."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("dose_at_flow dose_lower_bound highest_flow highest_flow_lower_bound flow_margin", "lamp_hours_to_limit")
        | lower(
            "lowest_uvt lowest_lamp_ageing_factor lowest_sleeve_fouling_factor optimistic_lowest_uvt",
            "optimistic_lowest_lamp_ageing_factor optimistic_lowest_sleeve_fouling_factor",
        )
        | {"meets_target": True}
    )

    dose_at_flow: Annotated[N, Measure("dose", "RED at this flow; the mean dose without hydraulics.")]
    dose_lower_bound: Annotated[
        N | None,
        Measure(
            "dose",
            "RED of laminar flow that never mixes; without an organism, the lowest dose of a streamline. Given "
            "only without hydraulics. Short circuits can be worse.",
        ),
    ]
    meets_target: Annotated[
        bool | None,
        Flag(
            "Whether that dose reaches the target. Without hydraulics: false if even the mean dose is too low, "
            "otherwise absent."
        ),
    ]
    highest_flow: Annotated[N, Measure("flow", "Flow that just meets the target.")]
    highest_flow_lower_bound: Annotated[
        N | None, Measure("flow", "Highest flow from dose_lower_bound. Given only without hydraulics.")
    ]
    flow_margin: Annotated[
        N | None,
        Measure("flow", "Highest flow minus this flow; negative if this flow is too high. Given only with hydraulics."),
    ]
    lowest_uvt: Annotated[N | None, Measure("share", f"UVT that just meets the target. {_UNMIXED}")]
    uvt_limit: Annotated[str, Text(_LIMIT)]
    lowest_lamp_ageing_factor: Annotated[
        N | None, Measure("share", f"Ageing factor that just meets the target. {_UNMIXED}")
    ]
    lamp_ageing_limit: Annotated[str, Text(_LIMIT)]
    lowest_sleeve_fouling_factor: Annotated[
        N | None, Measure("share", f"Fouling factor that just meets the target. {_UNMIXED}")
    ]
    sleeve_fouling_limit: Annotated[str, Text(_LIMIT)]
    optimistic_lowest_uvt: Annotated[N | None, Measure("share", _OPTIMISTIC)]
    optimistic_lowest_lamp_ageing_factor: Annotated[N | None, Measure("share", _OPTIMISTIC)]
    optimistic_lowest_sleeve_fouling_factor: Annotated[N | None, Measure("share", _OPTIMISTIC)]
    lamp_hours_to_limit: Annotated[
        N | None,
        Measure(
            "running_time",
            "Lamp hours from a new lamp until the target is missed; absent without end_of_life, or if it is "
            "never missed.",
        ),
    ]


UncertainField: TypeAlias = Literal[
    "uvt", "uvc_output", "lamp_ageing_factor", "sleeve_fouling_factor", "sleeve_transmittance", "flow"
]


class StandardSpread(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="standard"
):
    """Standard uncertainty of one input."""

    of: Annotated[UncertainField, Choice("Which input.")]
    uncertainty: Annotated[
        Q, Measure("share", "Relative standard uncertainty.", above="0 %", at_most="50 %", example="2 %")
    ]


class RangeSpread(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="range"):
    """Range of one input. Every value in it is equally likely."""

    of: Annotated[UncertainField, Choice("Which input.")]
    low: Annotated[Q, Measure("share", "Lowest value / input's value.", above="0 %", at_most="100 %", example="90 %")]
    high: Annotated[
        Q, Measure("share", "Highest value / input's value.", at_least="100 %", at_most="1000 %", example="110 %")
    ]


class UncertaintyRequest(_Chamber[Q], Generic[Q], kw_only=True):
    """A chamber and flow as for uv/dose, and the uncertainty of its inputs."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "describes the uncertainty, not the situation": (
            "spreads.uncertainty spreads.low spreads.high draws seed coverage "
        )
    }

    flow: Annotated[Q, FLOW]
    spreads: Annotated[list[StandardSpread[Q] | RangeSpread[Q]], Items("Uncertain inputs, one entry each.", 1, 6)]
    draws: Annotated[Q, Measure("plain", "Random draws.", at_least="100", at_most="100000")] = default("10000")
    seed: Annotated[Q, Measure("plain", "Seed of the random draws.", at_least="0", at_most="4294967295")] = default("1")
    coverage: Annotated[
        Q, Measure("share", "Share of the draws inside the interval.", at_least="50 %", at_most="99.9 %")
    ] = default("95 %")


class DoseInterval(msgspec.Struct, Generic[N], kw_only=True):
    """A dose and its interval."""

    value: Annotated[N, Measure("dose", "At the entered values.")]
    mean: Annotated[N, Measure("dose", "Mean of the draws.")]
    standard_uncertainty: Annotated[N, Measure("dose", "Standard deviation of the draws.")]
    low: Annotated[N, Measure("dose", "Lower end of the interval.")]
    high: Annotated[N, Measure("dose", "Upper end of the interval.")]


class FlowInterval(msgspec.Struct, Generic[N], kw_only=True):
    """A flow and its interval."""

    value: Annotated[N, Measure("flow", "At the entered values.")]
    mean: Annotated[N, Measure("flow", "Mean of the draws.")]
    standard_uncertainty: Annotated[N, Measure("flow", "Standard deviation of the draws.")]
    low: Annotated[N, Measure("flow", "Lower end of the interval.")]
    high: Annotated[N, Measure("flow", "Upper end of the interval.")]


class UncertaintyAnswer(Answer, Generic[N]):
    """Dose and derated flow, with the intervals that follow from the uncertain inputs."""

    safer: ClassVar[Mapping[str, Safe]] = higher(
        "mean_dose.value reduction_equivalent_dose.value derated_flow.value target_met_share"
    )
    undirected: ClassVar[Mapping[str, str]] = {"a width, not a level": "linear_relative_uncertainty"}

    mean_dose: Annotated[DoseInterval[N], Part("Mean dose.")]
    reduction_equivalent_dose: Annotated[DoseInterval[N] | None, Part("RED; absent without hydraulics.")]
    derated_flow: Annotated[FlowInterval[N], Part("Flow that still delivers the target dose.")]
    target_met_share: Annotated[
        N | None, Measure("share", "Share of the draws whose RED meets the target. Given only with hydraulics.")
    ]
    linear_relative_uncertainty: Annotated[
        N,
        Measure("plain", "Relative standard uncertainty of the mean dose by linear propagation. It checks the draws."),
    ]


class FieldModelsRequest(LampAndSleeve[Q], Generic[Q], kw_only=True):
    """A chamber whose light is calculated with every field model."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow") | lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider gap absorbs more but keeps the water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
    }

    chamber_bore: Annotated[Q, BORE]
    sleeve_outer_diameter: Annotated[Q, SLEEVE]
    arc_length: Annotated[Q, ARC]
    chamber_length: Annotated[Q, CHAMBER]
    uvc_output: Annotated[Q, OUTPUT]
    flow: Annotated[Q | None, FLOW] = None


class ModelResult(msgspec.Struct, Generic[N], kw_only=True):
    """The result of one field model."""

    model: Annotated[str, Text("Name of the field model.")]
    mean_fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate averaged over the water.")]
    fluence_rate_at_sleeve: Annotated[N, Measure("fluence_rate", "Fluence rate at the sleeve, at mid-arc.")]
    fluence_rate_at_wall: Annotated[N, Measure("fluence_rate", "Fluence rate at the wall, at mid-arc.")]
    ratio: Annotated[N, Measure("plain", "Mean fluence rate, divided by that of field_model.")]
    mean_dose: Annotated[N | None, Measure("dose", "Mean dose; absent without a flow.")]
    sleeve: Annotated[N, Measure("share", "Share of the light lost in the sleeve.")]
    water: Annotated[N, Measure("share", "Share of the light absorbed by the water.")]
    wall: Annotated[N, Measure("share", "Share of the light absorbed by the wall.")]
    end_loss: Annotated[N, Measure("share", "Share of the light lost at the ends.")]


class FieldModelsAnswer(Answer, Generic[N]):
    """The field models side by side."""

    safer: ClassVar[Mapping[str, Safe]] = higher("mean_fluence_rate")

    mean_fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate averaged over the water, by field_model.")]
    models: Annotated[list[ModelResult[N]], Items("One entry per model.", 4, 4)]


class FluenceMapRequest(LampAndSleeve[Q], Generic[Q], kw_only=True):
    """A chamber whose light is mapped."""

    worse: ClassVar[Mapping[str, Direction]] = lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider gap absorbs more but keeps the water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
        "a place in the chamber": "radii positions",
    }

    chamber_bore: Annotated[Q, BORE]
    sleeve_outer_diameter: Annotated[Q, SLEEVE]
    arc_length: Annotated[Q, ARC]
    chamber_length: Annotated[Q, CHAMBER]
    uvc_output: Annotated[Q, OUTPUT]
    radii: Annotated[
        Q | None,
        Series(
            Measure(
                "small_length",
                "Distances from the axis. Default: 7 from sleeve to bore.",
                above="0 mm",
                at_most="500 mm",
                example="13, 20, 40 mm",
            ),
            1,
            60,
        ),
    ] = None
    positions: Annotated[
        Q | None,
        Series(
            Measure(
                "small_length",
                "Distances from the middle of the chamber. Default: 9 from the middle to an end.",
                at_least="0 mm",
                at_most="5 m",
                example="0, 200, 390 mm",
            ),
            1,
            100,
        ),
    ] = None


class MapPoint(msgspec.Struct, Generic[N], kw_only=True):
    """Fluence rate at one place."""

    radius: Annotated[N, Measure("small_length", "Distance from the axis.")]
    position: Annotated[N, Measure("small_length", "Distance from the middle of the chamber, towards either end.")]
    fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate.")]


class FluenceMapAnswer(Answer, Generic[N]):
    """Fluence rate (r, z) in half the chamber. The other half is its mirror image."""

    safer: ClassVar[Mapping[str, Safe]] = higher("mean_fluence_rate")

    mean_fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate averaged over the water.")]
    points: Annotated[list[MapPoint[N]], Items("One entry per radius and position, radius by radius.", 1, 6000)]
