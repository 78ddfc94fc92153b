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
    """A lamp on the axis of an annular chamber, the water and its flow."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow") | lower("uvc_output")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider gap absorbs more but keeps the water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
        "affects the viscosity only": "water_temperature",
        "entered together as one distribution": "residence_times residence_shares",
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
            "How the water mixes in the chamber. plug_flow: mixed across the section, so RED = mean dose. "
            "tanks_in_series: equal mixed tanks. laminar: streamlines that never mix. residence_times: a "
            "measured distribution. If omitted, the answer gives lower and upper bounds from laminar and "
            "plug_flow.",
            example="tanks_in_series",
        ),
    ] = None
    residence_times: Annotated[
        Q | None,
        Series(
            Measure(
                "short_time",
                "Residence times from a tracer test at this flow.",
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
        Series(Measure("plain", "Share of the water at each residence time.", at_least="0", example="1, 2, 1"), 2, 200),
    ] = None
    distribution: Annotated[bool, Flag("Include percentiles and a histogram of the doses in the answer.")] = False
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="9 degC"),
    ] = default("10 degC")


class EnergyShares(msgspec.Struct, Generic[N], kw_only=True):
    """Where the light of the lamp goes, as shares. Each share is integrated separately, so their sum checks them."""

    emitted_share: Annotated[N, Measure("share", "Light of the aged, fouled lamp: 100 %.")]
    sleeve: Annotated[N, Measure("share", "Reflected at the sleeve's faces or absorbed in the sleeve.")]
    water: Annotated[N, Measure("share", "Absorbed by the water.")]
    wall: Annotated[N, Measure("share", "Absorbed by the chamber wall.")]
    end_loss: Annotated[N, Measure("share", "Lost through the end walls or emitted past them.")]
    residual: Annotated[
        N,
        Measure(
            "plain", "Emitted share minus the sum of the others: the numerical error of the integrals, at most 1e-6."
        ),
    ]


class DosePercentile(msgspec.Struct, Generic[N], kw_only=True):
    """A dose and the share of the water that receives less."""

    share: Annotated[N, Measure("share", "Share of the water that receives less than this dose.")]
    dose: Annotated[N, Measure("dose", "Dose.")]


class DoseBin(msgspec.Struct, Generic[N], kw_only=True):
    """One bar of the dose histogram."""

    start: Annotated[N, Measure("dose", "Lower end of the bar.")]
    end: Annotated[N | None, Measure("dose", "Upper end of the bar; absent in the last, open bar.")]
    share: Annotated[N, Measure("share", "Share of the water.")]


class DoseDistribution(msgspec.Struct, Generic[N], kw_only=True):
    """Distribution of the dose over the water."""

    mean: Annotated[N, Measure("dose", "Flow-weighted mean dose.")]
    least: Annotated[N, Measure("dose", "Lowest dose that any water receives.")]
    below_target: Annotated[N, Measure("share", "Share of the water that receives less than the target dose.")]
    percentiles: Annotated[list[DosePercentile[N]], Items("Percentiles, in rising order.", 1, 20)]
    histogram: Annotated[list[DoseBin[N]], Items("Bars one fifth of the mean dose wide. The last bar is open.", 1, 20)]


class DoseAnswer(Answer, Generic[N]):
    """Fluence rate, residence time and dose in the chamber, and whether they meet the target."""

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
    fluence_rate_at_sleeve: Annotated[N, Measure("fluence_rate", "Fluence rate at the sleeve, at mid-arc.")]
    fluence_rate_at_wall: Annotated[N, Measure("fluence_rate", "Fluence rate at the chamber wall, at mid-arc.")]
    absorption_coefficient: Annotated[N, Measure("absorption", "Absorption coefficient of the water, base e.")]
    absorbed_share: Annotated[
        N, Measure("share", "Share of the aged, fouled lamp's UV-C output that the water absorbs.")
    ]
    volume: Annotated[N, Measure("volume", "Volume of water between sleeve and chamber wall.")]
    residence_time: Annotated[N, Measure("short_time", "Mean residence time of the water in the chamber.")]
    reynolds_number: Annotated[N, Measure("plain", "Reynolds number in the annulus.")]
    regime: Annotated[str, Text("laminar, transition or turbulent.")]
    mean_dose: Annotated[
        N, Measure("dose", "Mean dose: an upper bound of the RED of a first-order organism. It is not a validated RED.")
    ]
    reduction_equivalent_dose: Annotated[
        N | None, Measure("dose", "RED with the chosen hydraulics; absent without hydraulics.")
    ]
    red_to_mean_dose: Annotated[
        N | None, Measure("plain", "RED divided by mean dose: the loss from uneven doses. Absent without a RED.")
    ]
    red_lower_bound: Annotated[
        N | None,
        Measure(
            "dose",
            "RED of laminar flow that never mixes; without an organism, the lowest dose of a streamline. Given "
            "only without hydraulics. Short circuits can be worse.",
        ),
    ]
    red_upper_bound: Annotated[
        N | None, Measure("dose", "RED if all water received the mean dose. Given only without hydraulics.")
    ]
    log_inactivation: Annotated[
        N | None,
        Measure(
            "plain",
            "Log inactivation from the RED; absent without hydraulics or organism, or outside the organism's data.",
        ),
    ]
    meets_target: Annotated[
        bool | None,
        Flag(
            "Whether the RED reaches the target dose. Without hydraulics: false if even the mean dose is too low, "
            "otherwise absent."
        ),
    ]

    energy_balance: Annotated[EnergyShares[N], Part("Where the UV-C output of the aged, fouled lamp goes.")]
    dose_distribution: Annotated[
        DoseDistribution[N] | None, Part("Distribution of the doses; absent unless requested and known.")
    ]


class RatedPoint(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """A rated flow of the unit, and the conditions of that rating."""

    rated_flow: Annotated[
        Q, Measure("flow", "Rated flow.", at_least="0.01 L/min", at_most="1 m3/s", example="45 L/min")
    ]
    uvt: Annotated[Q, UVT]
    dose: Annotated[
        Q,
        Measure(
            "dose", "Rated dose at that flow and UVT.", above="0 mJ/cm2", at_most="2000 mJ/cm2", example="40 mJ/cm2"
        ),
    ]
    lamp_ageing_factor: Annotated[Q, AGEING]
    sleeve_fouling_factor: Annotated[Q, FOULING]


_CONTRADICT = "rated points that contradict each other are rejected, whichever is wrong"
_OF_A_POINT = ("rated_flow", "uvt", "dose", "lamp_ageing_factor", "sleeve_fouling_factor")


class DeratedFlowRequest(LampAndWater[Q], Generic[Q], kw_only=True):
    """Chamber or rated points, with the water, lamp and sleeve to derate for.

    Without rated points the chamber and its UV-C output are required. With one, the chamber is
    required. With two or more, neither is required.
    """

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "rated_points.uvt rated_points.lamp_ageing_factor rated_points.sleeve_fouling_factor", "peak_flow safety_factor"
    ) | lower("rated_points.rated_flow rated_points.dose uvc_output units_in_parallel units_in_series")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider gap absorbs more but keeps the water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        **{(f"rated_points.{name}", "refused"): _CONTRADICT for name in _OF_A_POINT},
        ("uvt", "refused"): "water clearer than two or more rated points is rejected: nothing was measured there",
        ("wall_reflectance", "derated_flow"): "with a rated point it affects only a ratio",
        (
            "wall_reflectance",
            "flow_lower_bound",
        ): "with a rated point it affects only a ratio",
        ("wall_reflectance", "flow_margin"): "with a rated point it affects only a ratio",
        (
            "wall_reflectance",
            "covers_peak_flow",
        ): "with a rated point it affects only a ratio",
        (
            "sleeve_transmittance",
            "derated_flow",
        ): "with a rated point it affects only a ratio",
        (
            "sleeve_transmittance",
            "flow_lower_bound",
        ): "with a rated point it affects only a ratio",
        ("sleeve_transmittance", "flow_margin"): "with a rated point it affects only a ratio",
        (
            "sleeve_transmittance",
            "covers_peak_flow",
        ): "with a rated point it affects only a ratio",
    }

    hydraulics: PassageChoice = None
    rated_points: Annotated[
        list[RatedPoint[Q]] | None,
        Items("Rated points from the data sheet, each with its own lamp ageing and sleeve fouling factors.", 1, 20),
    ] = None
    chamber_bore: Annotated[Q | None, BORE] = None
    sleeve_outer_diameter: Annotated[Q | None, SLEEVE] = None
    arc_length: Annotated[Q | None, ARC] = None
    chamber_length: Annotated[Q | None, CHAMBER] = None
    uvc_output: Annotated[Q | None, OUTPUT] = None
    units_in_parallel: Annotated[
        Q,
        Measure(
            "plain",
            "Number of equal units side by side. The flow is split evenly.",
            at_least="1",
            at_most="20",
            example="2",
        ),
    ] = default("1")
    units_in_series: Annotated[
        Q,
        Measure(
            "plain",
            "Number of equal units one after the other. The water mixes between them.",
            at_least="1",
            at_most="20",
        ),
    ] = default("1")
    safety_factor: Annotated[
        Q,
        Measure("plain", "Safety factor: the flow is divided by it last.", at_least="1", at_most="100", example="1.2"),
    ] = default("1")
    peak_flow: Annotated[
        Q | None,
        Measure(
            "flow", "Peak flow that the unit must cover.", at_least="0.01 L/min", at_most="1 m3/s", example="35 L/min"
        ),
    ] = None


class DeratingStep(msgspec.Struct, Generic[N], kw_only=True):
    """One step from the first flow to the derated flow."""

    name: Annotated[str, Text("What this step accounts for.")]
    meaning: Annotated[str, Text("Description of the step.")]
    factor: Annotated[N, Measure("plain", "Factor applied to the flow of the step before; 1 at the first step.")]
    flow: Annotated[N, Measure("flow", "Flow after this step.")]


class DeratedFlowAnswer(Answer, Generic[N]):
    """The flow that still delivers the target dose, and the steps to it."""

    safer: ClassVar[Mapping[str, Safe]] = higher("derated_flow flow_lower_bound flow_margin") | {
        "covers_peak_flow": True
    }

    derated_flow: Annotated[N, Measure("flow", "Flow that still delivers the target dose.")]
    method: Annotated[str, Text("Method: chamber, one_rated_point or rated_points.")]
    steps: Annotated[
        list[DeratingStep[N]], Items("First flow and factors in order. Their product is the derated flow.", 1, 10)
    ]
    flow_lower_bound: Annotated[
        N | None,
        Measure(
            "flow",
            "Safe-side bound of the derated flow. From a chamber without hydraulics, or from one rated point: "
            "laminar flow that never mixes; without an organism, the lowest dose of a streamline. From two or "
            "more rated points: the flow by the point in the next darker water. With rated points, this bound "
            "decides whether the peak flow is covered. Short circuits can be worse.",
        ),
    ]
    covers_peak_flow: Annotated[
        bool | None,
        Flag(
            "Whether the derated flow covers the peak flow; with rated points, whether its lower bound does. "
            "Absent without a peak flow. From a chamber without hydraulics: false where even the upper bound is "
            "too small, otherwise absent."
        ),
    ]
    flow_margin: Annotated[
        N | None,
        Measure(
            "flow",
            "Derated flow minus peak flow; with rated points, its lower bound minus peak flow. Negative if the "
            "unit is too small. Given only with hydraulics or rated points.",
        ),
    ]
