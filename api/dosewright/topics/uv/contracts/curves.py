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

_HOURS = Measure("running_time", "Burning time.", at_least="0 h", at_most="100000 h", example="0, 3000, 9000 h")
_LIFE = Measure(
    "running_time",
    "Burning time at the end of the lamp's life.",
    at_least="100 h",
    at_most="100000 h",
    example="9000 h",
)
_END = Measure("share", "Share of the output left at the end of life.", at_least="1 %", at_most="100 %", example="80 %")
_PEAK = Measure("flow", "Peak flow to be covered.", at_least="0.01 L/min", at_most="1 m3/s", example="35 L/min")


class _Chamber(LampAndWater[Q], Generic[Q], kw_only=True):
    """A chamber, its lamp, the water and how it passes."""

    worse: ClassVar[Mapping[str, Direction]] = lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider layer absorbs more but holds water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
    }

    chamber_bore: Annotated[Q, BORE]
    sleeve_outer_diameter: Annotated[Q, SLEEVE]
    arc_length: Annotated[Q, ARC]
    chamber_length: Annotated[Q, CHAMBER]
    uvc_output: Annotated[Q, OUTPUT]
    hydraulics: PassageChoice = None


class DeratingCurveRequest(_Chamber[Q], Generic[Q], kw_only=True):
    """A chamber and the points of one, two or three curves; each curve keeps the other conditions as they are."""

    worse: ClassVar[Mapping[str, Direction]] = higher("safety_factor peak_flow") | lower(
        "end_of_life end_of_life_factor"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a point of the curve": "uvts lamp_hours sleeve_fouling_factors ageing_hours ageing_factors",
    }

    uvts: Annotated[Q | None, Series(UVT, 1, 200)] = None
    lamp_hours: Annotated[Q | None, Series(_HOURS, 1, 200)] = None
    sleeve_fouling_factors: Annotated[Q | None, Series(FOULING, 1, 200)] = None
    end_of_life: Annotated[Q | None, _LIFE] = None
    end_of_life_factor: Annotated[Q | None, _END] = None
    ageing_hours: Annotated[Q | None, Series(_HOURS, 2, 50)] = None
    ageing_factors: Annotated[Q | None, Series(AGEING, 2, 50)] = None
    safety_factor: Annotated[
        Q, Measure("plain", "Divides the flow last.", at_least="1", at_most="100", example="1.2")
    ] = default("1")
    peak_flow: Annotated[Q | None, _PEAK] = None


_LOWER_FLOW = Measure(
    "flow",
    "The same if the flow were laminar and never mixed; only where no hydraulics are named. Short circuits can be "
    "worse.",
)


class CurvePoint(msgspec.Struct, Generic[N], kw_only=True):
    """One point of a curve: the conditions, and the flow that still delivers the target dose."""

    uvt: Annotated[N, Measure("share", "UVT.")]
    lamp_hours: Annotated[N | None, Measure("running_time", "Burning time; absent where it is not what varies.")]
    lamp_ageing_factor: Annotated[N, Measure("share", "Lamp ageing factor.")]
    sleeve_fouling_factor: Annotated[N, Measure("share", "Sleeve fouling factor.")]
    derated_flow: Annotated[N, Measure("flow", "Flow that still delivers the target dose.")]
    flow_lower_bound: Annotated[N | None, _LOWER_FLOW]
    head_room: Annotated[
        N | None,
        Measure("flow", "Derated flow less peak flow; absent where no peak flow is given, or no hydraulics are named."),
    ]


class DeratingCurveAnswer(Answer, Generic[N]):
    """The derated flow as asked, and along each curve; a curve that was not asked for is empty."""

    safer: ClassVar[Mapping[str, Safe]] = higher("derated_flow flow_lower_bound")

    derated_flow: Annotated[N, Measure("flow", "Flow at the conditions as given.")]
    flow_lower_bound: Annotated[N | None, _LOWER_FLOW]
    over_uvt: Annotated[list[CurvePoint[N]], Items("Along the UVT.", 0, 200)]
    over_lamp_hours: Annotated[list[CurvePoint[N]], Items("Along the burning time of the lamp.", 0, 200)]
    over_fouling: Annotated[list[CurvePoint[N]], Items("Along the sleeve fouling factor.", 0, 200)]


class LimitsRequest(_Chamber[Q], Generic[Q], kw_only=True):
    """A chamber, a flow it must treat, and a target dose: what may get worse before it fails."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow") | lower("end_of_life end_of_life_factor")

    flow: Annotated[Q, FLOW]
    end_of_life: Annotated[Q | None, _LIFE] = None
    end_of_life_factor: Annotated[Q | None, _END] = None


_UNMIXED = "Where no hydraulics are named, that of unmixed laminar flow."
_LIMIT = "at_value: the lowest value is given; never_fails: met down to 1 %; fails_immediately: missed even at 100 %."
_OPTIMISTIC = "The same by the mean dose, which is optimistic; only where no hydraulics are named."


class LimitsAnswer(Answer, Generic[N]):
    """How far each condition may fall while the target dose is still met, all others as given."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher(
            "dose_at_flow dose_lower_bound highest_flow highest_flow_lower_bound head_room", "lamp_hours_left_from_new"
        )
        | lower(
            "lowest_uvt lowest_lamp_ageing_factor lowest_sleeve_fouling_factor optimistic_lowest_uvt",
            "optimistic_lowest_lamp_ageing_factor optimistic_lowest_sleeve_fouling_factor",
        )
        | {"meets_target": True}
    )

    dose_at_flow: Annotated[N, Measure("dose", "RED at the flow; the mean dose where no hydraulics are named.")]
    dose_lower_bound: Annotated[
        N | None,
        Measure(
            "dose",
            "RED if the flow were laminar and never mixed; without an organism the least dose of a streamline; only "
            "where no hydraulics are named. Short circuits can be worse.",
        ),
    ]
    meets_target: Annotated[
        bool | None,
        Flag(
            "Whether that dose reaches the target; without hydraulics false where even the mean dose misses it, else "
            "absent."
        ),
    ]
    highest_flow: Annotated[N, Measure("flow", "Flow that just meets the target.")]
    highest_flow_lower_bound: Annotated[
        N | None, Measure("flow", "The same for dose_lower_bound; only where no hydraulics are named.")
    ]
    head_room: Annotated[
        N | None, Measure("flow", "Highest flow less the flow, below zero where it is too much; only with hydraulics.")
    ]
    lowest_uvt: Annotated[N | None, Measure("share", f"UVT that just meets it. {_UNMIXED}")]
    uvt_limit: Annotated[str, Text(_LIMIT)]
    lowest_lamp_ageing_factor: Annotated[N | None, Measure("share", f"Ageing factor that just meets it. {_UNMIXED}")]
    lamp_ageing_limit: Annotated[str, Text(_LIMIT)]
    lowest_sleeve_fouling_factor: Annotated[
        N | None, Measure("share", f"Fouling factor that just meets it. {_UNMIXED}")
    ]
    sleeve_fouling_limit: Annotated[str, Text(_LIMIT)]
    optimistic_lowest_uvt: Annotated[N | None, Measure("share", _OPTIMISTIC)]
    optimistic_lowest_lamp_ageing_factor: Annotated[N | None, Measure("share", _OPTIMISTIC)]
    optimistic_lowest_sleeve_fouling_factor: Annotated[N | None, Measure("share", _OPTIMISTIC)]
    lamp_hours_left_from_new: Annotated[
        N | None,
        Measure(
            "running_time",
            "Burning time of a new lamp until it fails; absent without end_of_life or where it never does.",
        ),
    ]


UncertainField: TypeAlias = Literal[
    "uvt",
    "uvc_output",
    "lamp_ageing_factor",
    "sleeve_fouling_factor",
    "sleeve_transmittance",
    "flow",
]


class StandardSpread(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="standard"
):
    """A standard uncertainty of one input."""

    of: Annotated[UncertainField, Choice("Which input.")]
    uncertainty: Annotated[
        Q,
        Measure("share", "Standard uncertainty over the value.", above="0 %", at_most="50 %", example="2 %"),
    ]


class RangeSpread(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="range"):
    """A range of one input in which every value is as likely."""

    of: Annotated[UncertainField, Choice("Which input.")]
    low: Annotated[
        Q, Measure("share", "Least value over the value given.", above="0 %", at_most="100 %", example="90 %")
    ]
    high: Annotated[
        Q, Measure("share", "Greatest value over the value given.", at_least="100 %", at_most="1000 %", example="110 %")
    ]


class UncertaintyRequest(_Chamber[Q], Generic[Q], kw_only=True):
    """A chamber and flow as for a dose, and what is uncertain about them."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "describes the uncertainty, not the situation": (
            "spreads.uncertainty spreads.low spreads.high draws seed coverage "
        ),
    }

    flow: Annotated[Q, FLOW]
    spreads: Annotated[list[StandardSpread[Q] | RangeSpread[Q]], Items("Uncertain inputs, each once.", 1, 6)]
    draws: Annotated[Q, Measure("plain", "Random draws.", at_least="100", at_most="100000")] = default("10000")
    seed: Annotated[Q, Measure("plain", "Seed of the draws.", at_least="0", at_most="4294967295")] = default("1")
    coverage: Annotated[
        Q, Measure("share", "Share of the draws within the interval.", at_least="50 %", at_most="99.9 %")
    ] = default("95 %")


class DoseInterval(msgspec.Struct, Generic[N], kw_only=True):
    """A dose and its interval."""

    value: Annotated[N, Measure("dose", "At the values as given.")]
    mean: Annotated[N, Measure("dose", "Mean of the draws.")]
    standard_uncertainty: Annotated[N, Measure("dose", "Standard deviation of the draws.")]
    low: Annotated[N, Measure("dose", "Lower end of the interval.")]
    high: Annotated[N, Measure("dose", "Upper end of the interval.")]


class FlowInterval(msgspec.Struct, Generic[N], kw_only=True):
    """A flow and its interval."""

    value: Annotated[N, Measure("flow", "At the values as given.")]
    mean: Annotated[N, Measure("flow", "Mean of the draws.")]
    standard_uncertainty: Annotated[N, Measure("flow", "Standard deviation of the draws.")]
    low: Annotated[N, Measure("flow", "Lower end of the interval.")]
    high: Annotated[N, Measure("flow", "Upper end of the interval.")]


class UncertaintyAnswer(Answer, Generic[N]):
    """Dose and derated flow with the intervals that the uncertain inputs leave."""

    safer: ClassVar[Mapping[str, Safe]] = higher(
        "mean_dose.value reduction_equivalent_dose.value derated_flow.value target_met_share"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a width, not a level": "linear_relative_uncertainty",
    }

    mean_dose: Annotated[DoseInterval[N], Part("Mean dose.")]
    reduction_equivalent_dose: Annotated[DoseInterval[N] | None, Part("RED; absent without hydraulics.")]
    derated_flow: Annotated[FlowInterval[N], Part("Flow that still delivers the target dose.")]
    target_met_share: Annotated[
        N | None, Measure("share", "Share of the draws that meet the target, by the RED; only with named hydraulics.")
    ]
    linear_relative_uncertainty: Annotated[
        N,
        Measure("plain", "Relative standard uncertainty of the mean dose by linear propagation, a check on the draws."),
    ]


class FieldModelsRequest(LampAndSleeve[Q], Generic[Q], kw_only=True):
    """A chamber whose light is worked out by every model."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow") | lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider layer absorbs more but holds water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
    }

    chamber_bore: Annotated[Q, BORE]
    sleeve_outer_diameter: Annotated[Q, SLEEVE]
    arc_length: Annotated[Q, ARC]
    chamber_length: Annotated[Q, CHAMBER]
    uvc_output: Annotated[Q, OUTPUT]
    flow: Annotated[Q | None, FLOW] = None


class ModelResult(msgspec.Struct, Generic[N], kw_only=True):
    """What one field model says."""

    model: Annotated[str, Text("Name of the field model.")]
    mean_fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate averaged over the water.")]
    fluence_rate_at_sleeve: Annotated[N, Measure("fluence_rate", "At the sleeve, beside the middle of the arc.")]
    fluence_rate_at_wall: Annotated[N, Measure("fluence_rate", "At the wall, beside the middle of the arc.")]
    ratio: Annotated[N, Measure("plain", "Mean fluence rate over that of the field_model asked for.")]
    mean_dose: Annotated[N | None, Measure("dose", "Mean dose; absent without a flow.")]
    sleeve: Annotated[N, Measure("share", "Light that stays in the sleeve.")]
    water: Annotated[N, Measure("share", "Light that the water takes up.")]
    wall: Annotated[N, Measure("share", "Light that the wall takes up.")]
    ends: Annotated[N, Measure("share", "Light that is lost at the ends.")]


class FieldModelsAnswer(Answer, Generic[N]):
    """The field models side by side."""

    safer: ClassVar[Mapping[str, Safe]] = higher("mean_fluence_rate")

    mean_fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate averaged over the water, by field_model.")]
    models: Annotated[list[ModelResult[N]], Items("One entry a model.", 4, 4)]


class FluenceMapRequest(LampAndSleeve[Q], Generic[Q], kw_only=True):
    """A chamber whose light is mapped."""

    worse: ClassVar[Mapping[str, Direction]] = lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider layer absorbs more but holds water longer": "chamber_bore sleeve_outer_diameter chamber_length",
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
                "Distances from the axis; without them 7 from sleeve to bore.",
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
                "Distances from the middle of the chamber; without them 9 from there to an end.",
                at_least="0 mm",
                at_most="5 m",
                example="0, 200, 390 mm",
            ),
            1,
            100,
        ),
    ] = None


class MapPoint(msgspec.Struct, Generic[N], kw_only=True):
    """The light at one place."""

    radius: Annotated[N, Measure("small_length", "Distance from the axis.")]
    position: Annotated[N, Measure("small_length", "Distance from the middle of the chamber, to either end.")]
    fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate.")]


class FluenceMapAnswer(Answer, Generic[N]):
    """The field (r, z) of half the chamber; the other half is its mirror image."""

    safer: ClassVar[Mapping[str, Safe]] = higher("mean_fluence_rate")

    mean_fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate averaged over the water.")]
    points: Annotated[list[MapPoint[N]], Items("Radius by radius, place by place.", 1, 6000)]
