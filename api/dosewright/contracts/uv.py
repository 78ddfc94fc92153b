"""Contracts of the ultraviolet topic."""

from typing import Annotated, Generic, Literal, TypeAlias

import msgspec

from dosewright.contracts.base import Answer, N, Q, Request
from dosewright.contracts.fields import Choice, Flag, Items, Measure, Text, default
from dosewright.tables.ultraviolet import uv_default

__all__ = [
    "DeratedFlowAnswer",
    "DeratedFlowRequest",
    "DeratingStep",
    "DoseAnswer",
    "DoseRequest",
    "FieldModel",
    "Hydraulics",
    "RatedPoint",
]

FieldModel: TypeAlias = Literal["refracted_line", "line_source"]
Hydraulics: TypeAlias = Literal["plug_flow", "tanks_in_series"]

_BORE = Measure("small_length", "Inside diameter of the chamber.", at_least="10 mm", at_most="1 m", example="80 mm")
_SLEEVE = Measure(
    "small_length", "Outer diameter of the quartz sleeve.", at_least="4 mm", at_most="300 mm", example="25 mm"
)
_ARC = Measure(
    "small_length",
    "Lit length of the lamp, centred in the chamber.",
    at_least="20 mm",
    at_most="3 m",
    example="720 mm",
)
_CHAMBER = Measure(
    "small_length",
    "Wetted length of the chamber, at least the arc length.",
    at_least="20 mm",
    at_most="10 m",
    example="780 mm",
)
_OUTPUT = Measure(
    "power",
    "UV-C output (254 nm) of the new lamp before the sleeve, warmed up in this water.",
    above="0 W",
    at_most="2 kW",
    example="17 W",
    hint="UV-C watts are wanted, about a third of a low-pressure lamp's electric power.",
)
_UVT = Measure(
    "share",
    "Transmittance of the water at 254 nm over 1 cm (UVT).",
    at_least="1 %",
    at_most="100 %",
    example="88 %",
    hint="UVT is a percentage per centimetre: for a transmittance of 0.75 write 75 %.",
)
_AGEING = Measure(
    "share",
    "Share of the new lamp's output that is left (lamp ageing factor).",
    at_least="1 %",
    at_most="100 %",
    example="80 %",
)
_FOULING = Measure(
    "share",
    "Share of the light that the deposit on the sleeve lets through (sleeve fouling factor).",
    at_least="1 %",
    at_most="100 %",
    example="85 %",
)
_TARGET = Measure("dose", "Dose wanted, a RED.", above="0 mJ/cm2", at_most="2000 mJ/cm2", example="40 mJ/cm2")


class _LampAndWater(Request, Generic[Q], kw_only=True):
    """What both calculations ask of lamp, sleeve, water and hydraulics."""

    uvt: Annotated[Q, _UVT]
    lamp_ageing_factor: Annotated[Q, _AGEING] = default(uv_default("lamp_ageing_factor"))
    sleeve_fouling_factor: Annotated[Q, _FOULING] = default(uv_default("sleeve_fouling_factor"))
    target_dose: Annotated[Q, _TARGET] = default(uv_default("target_dose"))
    sleeve_transmittance: Annotated[
        Q,
        Measure(
            "share",
            "Share of 254 nm light that passes one wall of the clean sleeve, dry in air, off its data sheet; "
            "refracted_line takes the losses at both faces out of it.",
            at_least="1 %",
            at_most="100 %",
            example="90 %",
        ),
    ] = default(uv_default("sleeve_transmittance"))
    sleeve_wall: Annotated[
        Q,
        Measure("small_length", "Wall of the quartz sleeve.", at_least="0.1 mm", at_most="20 mm", example="1.5 mm"),
    ] = default(uv_default("sleeve_wall"))
    hydraulics: Annotated[
        Hydraulics | None,
        Choice(
            "How water passes: plug_flow (mixed across the section, RED = mean dose) or tanks_in_series; "
            "without it the mean dose is an upper bound of the RED.",
            example="tanks_in_series",
        ),
    ] = None
    tanks: Annotated[
        Q | None,
        Measure("plain", "Number of equal mixed tanks in series.", at_least="0.5", at_most="1000", example="3"),
    ] = None
    inactivation_rate: Annotated[
        Q | None,
        Measure(
            "inactivation_rate",
            "First-order inactivation rate constant of the organism, base e (2.303 times the base-10 one).",
            at_least="0.0001 cm2/mJ",
            at_most="10 cm2/mJ",
            example="0.12 cm2/mJ",
        ),
    ] = None
    field_model: Annotated[
        FieldModel,
        Choice(
            "How light spreads: refracted_line (bent and weakened at the sleeve) or line_source (straight rays, "
            "optimistic by 8 to 50 %)."
        ),
    ] = "refracted_line"
    n_air: Annotated[
        Q, Measure("plain", "Refractive index of the air in the sleeve at 254 nm.", at_least="1", at_most="1.01")
    ] = default(uv_default("n_air"))
    n_quartz: Annotated[
        Q, Measure("plain", "Refractive index of the sleeve at 254 nm.", at_least="1.3", at_most="1.8")
    ] = default(uv_default("n_quartz"))
    n_water: Annotated[
        Q, Measure("plain", "Refractive index of the water at 254 nm.", at_least="1.3", at_most="1.5")
    ] = default(uv_default("n_water"))


class DoseRequest(_LampAndWater[Q], Generic[Q], kw_only=True):
    """A coaxial lamp in an annular chamber, the water and its flow."""

    chamber_bore: Annotated[Q, _BORE]
    sleeve_outer_diameter: Annotated[Q, _SLEEVE]
    arc_length: Annotated[Q, _ARC]
    chamber_length: Annotated[Q, _CHAMBER]
    uvc_output: Annotated[Q, _OUTPUT]
    flow: Annotated[
        Q,
        Measure("flow", "Flow through the chamber.", at_least="0.01 L/min", at_most="1 m3/s", example="30 L/min"),
    ]
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="9 degC"),
    ] = default("10 degC")


class DoseAnswer(Answer, Generic[N]):
    """Light, time and dose in the chamber, and whether they meet the target."""

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
    mean_dose: Annotated[N, Measure("dose", "Mean dose: an upper bound of the RED of a first-order organism.")]
    reduction_equivalent_dose: Annotated[
        N | None, Measure("dose", "RED under the named hydraulics; absent where none are named.")
    ]
    log_inactivation: Annotated[
        N | None,
        Measure("plain", "Log inactivation by the RED; absent without hydraulics or inactivation_rate."),
    ]
    meets_target: Annotated[
        bool | None,
        Flag(
            "Whether the RED reaches the target dose; without hydraulics false where even the mean dose misses it, "
            "else absent."
        ),
    ]


class RatedPoint(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """A flow the equipment is rated for, and the conditions that rating holds."""

    rated_flow: Annotated[
        Q, Measure("flow", "Rated flow.", at_least="0.01 L/min", at_most="1 m3/s", example="45 L/min")
    ]
    uvt: Annotated[Q, _UVT]
    dose: Annotated[
        Q,
        Measure(
            "dose", "Dose rated at that flow and UVT.", above="0 mJ/cm2", at_most="2000 mJ/cm2", example="40 mJ/cm2"
        ),
    ]
    lamp_ageing_factor: Annotated[Q, _AGEING]
    sleeve_fouling_factor: Annotated[Q, _FOULING]


class DeratedFlowRequest(_LampAndWater[Q], Generic[Q], kw_only=True):
    """Chamber, or rated points, and the water, lamp and sleeve to derate for.

    Without rated points the chamber and its UV-C output are wanted; with one, the chamber; with more, neither.
    """

    rated_points: Annotated[
        list[RatedPoint[Q]] | None,
        Items("Rated points off the data sheet, each with the ageing and fouling it holds.", 1, 20),
    ] = None
    chamber_bore: Annotated[Q | None, _BORE] = None
    sleeve_outer_diameter: Annotated[Q | None, _SLEEVE] = None
    arc_length: Annotated[Q | None, _ARC] = None
    chamber_length: Annotated[Q | None, _CHAMBER] = None
    uvc_output: Annotated[Q | None, _OUTPUT] = None
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

    derated_flow: Annotated[N, Measure("flow", "Flow that still delivers the target dose.")]
    method: Annotated[str, Text("chamber, one_rated_point or rated_points.")]
    steps: Annotated[
        list[DeratingStep[N]], Items("Start and factors in order: their product is the derated flow.", 1, 10)
    ]
    covers_peak_flow: Annotated[
        bool | None, Flag("Whether the derated flow covers the peak flow; absent where none is given.")
    ]
    head_room: Annotated[N | None, Measure("flow", "Derated flow less peak flow, below zero where it is not covered.")]
