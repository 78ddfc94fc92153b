"""Contracts of the ultraviolet topic: dose and derated flow."""

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
    FieldModel,
    Hydraulics,
    LampAndWater,
    PassageChoice,
)

__all__ = [
    "DeratedFlowAnswer",
    "DeratedFlowRequest",
    "DeratingStep",
    "DoseAnswer",
    "DoseBin",
    "DoseDistribution",
    "DosePercentile",
    "DoseRequest",
    "EnergyShares",
    "FieldModel",
    "Hydraulics",
    "RatedPoint",
]

DoseHydraulics: TypeAlias = Literal["plug_flow", "tanks_in_series", "laminar", "residence_times"]


class DoseRequest(LampAndWater[Q], Generic[Q], kw_only=True):
    """A coaxial lamp in an annular chamber, the water and its flow."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow") | lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider layer absorbs more but holds water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
        "sets the viscosity only": "water_temperature",
        "given together as one distribution": "residence_times residence_shares",
    }

    chamber_bore: Annotated[Q, BORE]
    sleeve_outer_diameter: Annotated[Q, SLEEVE]
    arc_length: Annotated[Q, ARC]
    chamber_length: Annotated[Q, CHAMBER]
    uvc_output: Annotated[Q, OUTPUT]
    flow: Annotated[Q, FLOW]
    hydraulics: Annotated[
        DoseHydraulics | None,
        Choice(
            "How water passes: plug_flow (mixed across the section, RED = mean dose), tanks_in_series, laminar "
            "(streamlines that never mix) or residence_times (measured ones); without it the bounds that laminar and "
            "plug_flow set.",
            example="tanks_in_series",
        ),
    ] = None
    residence_times: Annotated[
        Q | None,
        Series(
            Measure(
                "short_time",
                "Times that shares of the water stay, off a tracer test at this flow.",
                at_least="0 s",
                at_most="1 d",
                example="4, 6, 9 s",
            ),
            2,
            200,
        ),
    ] = None
    residence_shares: Annotated[
        Q | None,
        Series(
            Measure("plain", "Share of the water that stays for each time.", at_least="0", example="1, 2, 1"), 2, 200
        ),
    ] = None
    distribution: Annotated[bool, Flag("Answer with percentiles and a histogram of the doses too.")] = False
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="9 degC"),
    ] = default("10 degC")


class EnergyShares(msgspec.Struct, Generic[N], kw_only=True):
    """Shares of the light that leaves the lamp, each an integral of its own: their sum checks them."""

    emitted: Annotated[N, Measure("share", "Light of the aged, fouled lamp: all of it.")]
    sleeve: Annotated[N, Measure("share", "Thrown back at the sleeve's faces or absorbed in it.")]
    water: Annotated[N, Measure("share", "Taken up by the water.")]
    wall: Annotated[N, Measure("share", "Taken up by the chamber wall.")]
    ends: Annotated[N, Measure("share", "Lost through the end walls, and shone beyond them.")]
    residual: Annotated[
        N, Measure("plain", "Emitted less the sum of the others: zero but for the integrals' error, 1e-6 at most.")
    ]


class DosePercentile(msgspec.Struct, Generic[N], kw_only=True):
    """A dose that some of the water does not reach."""

    share: Annotated[N, Measure("share", "Share of the water that gets less.")]
    dose: Annotated[N, Measure("dose", "Dose.")]


class DoseBin(msgspec.Struct, Generic[N], kw_only=True):
    """One bar of the histogram."""

    start: Annotated[N, Measure("dose", "From this dose.")]
    end: Annotated[N | None, Measure("dose", "Up to this dose; absent in the last bar.")]
    share: Annotated[N, Measure("share", "Share of the water.")]


class DoseDistribution(msgspec.Struct, Generic[N], kw_only=True):
    """How uneven the dose is."""

    mean: Annotated[N, Measure("dose", "Flow-weighted mean of the distribution.")]
    least: Annotated[N, Measure("dose", "Least dose that any of the water gets.")]
    below_target: Annotated[N, Measure("share", "Share of the water that gets less than the target dose.")]
    percentiles: Annotated[list[DosePercentile[N]], Items("Percentiles, rising.", 1, 20)]
    histogram: Annotated[list[DoseBin[N]], Items("Bars of a fifth of the mean dose, the last one open.", 1, 20)]


class DoseAnswer(Answer, Generic[N]):
    """Light, time and dose in the chamber, and whether they meet the target."""

    safer: ClassVar[Mapping[str, Safe]] = higher(
        "mean_fluence_rate fluence_rate_at_sleeve fluence_rate_at_wall mean_dose",
        "reduction_equivalent_dose red_lower_bound red_upper_bound log_inactivation",
    ) | {"meets_target": True}
    undirected: ClassVar[Mapping[str, str]] = {
        "describes the chamber and the flow": (
            "absorption_coefficient absorbed_share volume residence_time reynolds_number "
        ),
        "a ratio of two outputs": "red_to_mean_dose",
    }

    mean_fluence_rate: Annotated[N, Measure("fluence_rate", "Fluence rate averaged over the water.")]
    fluence_rate_at_sleeve: Annotated[
        N, Measure("fluence_rate", "Fluence rate at the sleeve, beside the middle of the arc.")
    ]
    fluence_rate_at_wall: Annotated[
        N, Measure("fluence_rate", "Fluence rate at the chamber wall, beside the middle of the arc.")
    ]
    absorption_coefficient: Annotated[N, Measure("absorption", "Absorption coefficient of the water, base e.")]
    absorbed_share: Annotated[
        N, Measure("share", "Share of the aged, fouled lamp's UV-C output that the water takes up.")
    ]
    volume: Annotated[N, Measure("volume", "Water between sleeve and chamber wall.")]
    residence_time: Annotated[N, Measure("short_time", "Mean time the water spends in the chamber.")]
    reynolds_number: Annotated[N, Measure("plain", "Reynolds number of the annulus.")]
    regime: Annotated[str, Text("laminar, transition or turbulent.")]
    mean_dose: Annotated[
        N, Measure("dose", "Mean dose: an upper bound of the RED of a first-order organism, and no validated RED.")
    ]
    reduction_equivalent_dose: Annotated[
        N | None, Measure("dose", "RED under the named hydraulics; absent where none are named.")
    ]
    red_to_mean_dose: Annotated[
        N | None, Measure("plain", "RED over mean dose: what uneven doses cost; absent with the RED.")
    ]
    red_lower_bound: Annotated[
        N | None,
        Measure(
            "dose",
            "RED if the flow were laminar and never mixed; without an organism the least dose of a streamline; only "
            "where no hydraulics are named. Short circuits can be worse.",
        ),
    ]
    red_upper_bound: Annotated[
        N | None, Measure("dose", "RED if all water got the mean dose; only where no hydraulics are named.")
    ]
    log_inactivation: Annotated[
        N | None,
        Measure(
            "plain",
            "Log inactivation by the RED; absent without hydraulics or organism, and beyond the organism's data.",
        ),
    ]
    meets_target: Annotated[
        bool | None,
        Flag(
            "Whether the RED reaches the target dose; without hydraulics false where even the mean dose misses it, "
            "else absent."
        ),
    ]

    energy_balance: Annotated[EnergyShares[N], Part("Where the UV-C output of the aged, fouled lamp stays.")]
    dose_distribution: Annotated[
        DoseDistribution[N] | None, Part("Doses that the water gets; absent unless asked for and known.")
    ]


class RatedPoint(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """A flow the equipment is rated for, and the conditions that rating holds."""

    rated_flow: Annotated[
        Q, Measure("flow", "Rated flow.", at_least="0.01 L/min", at_most="1 m3/s", example="45 L/min")
    ]
    uvt: Annotated[Q, UVT]
    dose: Annotated[
        Q,
        Measure(
            "dose", "Dose rated at that flow and UVT.", above="0 mJ/cm2", at_most="2000 mJ/cm2", example="40 mJ/cm2"
        ),
    ]
    lamp_ageing_factor: Annotated[Q, AGEING]
    sleeve_fouling_factor: Annotated[Q, FOULING]


_CONTRADICT = "rated points that contradict each other are refused, whichever of them is wrong"
_OF_A_POINT = ("rated_flow", "uvt", "dose", "lamp_ageing_factor", "sleeve_fouling_factor")


class DeratedFlowRequest(LampAndWater[Q], Generic[Q], kw_only=True):
    """Chamber, or rated points, and the water, lamp and sleeve to derate for.

    Without rated points the chamber and its UV-C output are wanted; with one, the chamber; with more, neither.
    """

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "rated_points.uvt rated_points.lamp_ageing_factor rated_points.sleeve_fouling_factor", "peak_flow safety_factor"
    ) | lower("rated_points.rated_flow rated_points.dose uvc_output units_in_parallel units_in_series")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider layer absorbs more but holds water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        **{(f"rated_points.{name}", "refused"): _CONTRADICT for name in _OF_A_POINT},
        ("uvt", "refused"): "water clearer than two or more rated points is refused: nothing was measured there",
        ("wall_reflectance", "derated_flow"): "with a rated point it changes only a ratio",
        (
            "wall_reflectance",
            "flow_lower_bound",
        ): "with a rated point it changes only a ratio",
        ("wall_reflectance", "head_room"): "with a rated point it changes only a ratio",
        (
            "wall_reflectance",
            "covers_peak_flow",
        ): "with a rated point it changes only a ratio",
        (
            "sleeve_transmittance",
            "derated_flow",
        ): "with a rated point it changes only a ratio",
        (
            "sleeve_transmittance",
            "flow_lower_bound",
        ): "with a rated point it changes only a ratio",
        ("sleeve_transmittance", "head_room"): "with a rated point it changes only a ratio",
        (
            "sleeve_transmittance",
            "covers_peak_flow",
        ): "with a rated point it changes only a ratio",
    }

    hydraulics: PassageChoice = None
    rated_points: Annotated[
        list[RatedPoint[Q]] | None,
        Items("Rated points off the data sheet, each with the ageing and fouling it holds.", 1, 20),
    ] = None
    chamber_bore: Annotated[Q | None, BORE] = None
    sleeve_outer_diameter: Annotated[Q | None, SLEEVE] = None
    arc_length: Annotated[Q | None, ARC] = None
    chamber_length: Annotated[Q | None, CHAMBER] = None
    uvc_output: Annotated[Q | None, OUTPUT] = None
    units_in_parallel: Annotated[
        Q,
        Measure("plain", "Equal units side by side, the flow split evenly.", at_least="1", at_most="20", example="2"),
    ] = default("1")
    units_in_series: Annotated[
        Q,
        Measure("plain", "Equal units one behind the other, the water mixed between them.", at_least="1", at_most="20"),
    ] = default("1")
    safety_factor: Annotated[
        Q,
        Measure("plain", "Divides the flow last.", at_least="1", at_most="100", example="1.2"),
    ] = default("1")
    peak_flow: Annotated[
        Q | None,
        Measure("flow", "Peak flow to be covered.", at_least="0.01 L/min", at_most="1 m3/s", example="35 L/min"),
    ] = None


class DeratingStep(msgspec.Struct, Generic[N], kw_only=True):
    """One step from the first flow to the derated one."""

    name: Annotated[str, Text("What the step allows for.")]
    meaning: Annotated[str, Text("The same in words.")]
    factor: Annotated[N, Measure("plain", "What the flow before is multiplied by; 1 at the first step.")]
    flow: Annotated[N, Measure("flow", "Flow after the step.")]


class DeratedFlowAnswer(Answer, Generic[N]):
    """The flow that still delivers the target dose, and how it comes about."""

    safer: ClassVar[Mapping[str, Safe]] = higher("derated_flow flow_lower_bound head_room") | {"covers_peak_flow": True}

    derated_flow: Annotated[N, Measure("flow", "Flow that still delivers the target dose.")]
    method: Annotated[str, Text("chamber, one_rated_point or rated_points.")]
    steps: Annotated[
        list[DeratingStep[N]], Items("Start and factors in order: their product is the derated flow.", 1, 10)
    ]
    flow_lower_bound: Annotated[
        N | None,
        Measure(
            "flow",
            "Derated flow if the flow were laminar and never mixed, without an organism by the least dose of a "
            "streamline; from a chamber without named hydraulics, and from one rated point. From more rated points, "
            "what the one in the next darker water gives. With rated points it decides on the peak flow. Short "
            "circuits can be worse.",
        ),
    ]
    covers_peak_flow: Annotated[
        bool | None,
        Flag(
            "Whether the derated flow, with rated points its lower bound, covers the peak flow; absent where none is "
            "given. From a chamber without hydraulics false where even the upper bound does not cover it, else absent."
        ),
    ]
    head_room: Annotated[
        N | None,
        Measure(
            "flow",
            "Derated flow, with rated points its lower bound, less peak flow; below zero where it is short; only with "
            "hydraulics or rated points.",
        ),
    ]
