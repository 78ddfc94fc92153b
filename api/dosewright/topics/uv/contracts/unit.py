"""Contracts of the ultraviolet topic: dose of one chamber."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Part, Series, Text, default
from dosewright.topics.uv.contracts.lamp import (
    ARC,
    BORE,
    CHAMBER,
    FLOW,
    OUTPUT,
    SLEEVE,
    FieldModel,
    Hydraulics,
    LampAndWater,
)

__all__ = [
    "DoseAnswer",
    "DoseBin",
    "DoseDistribution",
    "DosePercentile",
    "DoseRequest",
    "EnergyShares",
    "FieldModel",
    "Hydraulics",
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
