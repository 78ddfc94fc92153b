"""Contracts of pipe/velocity, and the names of pipes that other contracts share."""

from typing import Annotated, Generic, Literal, TypeAlias

from dosewright.contracts.base import Answer, N, Q, Request
from dosewright.contracts.fields import Choice, Flag, Measure, Text, default

__all__ = ["NominalSize", "PipeMaterial", "VelocityAnswer", "VelocityRequest"]

# Kept equal to tables/data/pipe_materials.csv by test: an editor completes these names, a table cannot be completed.
PipeMaterial: TypeAlias = Literal[
    "copper_type_k",
    "copper_type_l",
    "copper_type_m",
    "pvc_schedule_40",
    "pvc_schedule_80",
    "cpvc_schedule_40",
    "cpvc_schedule_80",
    "cpvc_sdr11",
    "pex_sdr9",
    "pe_sidr7",
    "pe_sidr9",
    "pe_sidr11_5",
    "pe_sidr15",
    "pe_sidr19",
    "pe_dr9",
    "pe_dr11",
    "pe_dr13_5",
    "steel_schedule_40",
    "steel_schedule_80",
    "galvanized_steel_schedule_40",
    "galvanized_steel_schedule_80",
]

# Kept equal to tables/data/pipe_dimensions.csv by test.
NominalSize: TypeAlias = Literal["3/8", "1/2", "5/8", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4"]


class VelocityRequest(Request, Generic[Q]):
    """Flow and pipe: its material and nominal size, or its bore."""

    flow: Annotated[
        Q, Measure("flow", "Flow through the pipe.", above="0 L/min", at_most="1 m3/s", example="9 gal/min")
    ]
    material: Annotated[
        PipeMaterial | None,
        Choice("Material of the pipe: with nominal_size it sets the bore, and it sets the velocity limit."),
    ] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="3/4")] = None
    bore: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Inside diameter, in place of a nominal size.",
            at_least="1 mm",
            at_most="2 m",
            example="20 mm",
        ),
    ] = None
    velocity_limit: Annotated[
        Q | None,
        Measure(
            "velocity",
            "Velocity to stay below, in place of the one published for the material.",
            at_least="0.01 m/s",
            at_most="20 m/s",
            example="5 ft/s",
        ),
    ] = None
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="12 degC"),
    ] = default("10 degC")


class VelocityAnswer(Answer, Generic[N]):
    """How fast the water moves, how, and whether the pipe is wide enough."""

    velocity: Annotated[N, Measure("velocity", "Mean velocity over the bore.")]
    bore: Annotated[N, Measure("small_length", "Inside diameter of the pipe.")]
    reynolds_number: Annotated[N, Measure("plain", "Reynolds number.")]
    regime: Annotated[str, Text("laminar, transition or turbulent.")]
    velocity_limit: Annotated[
        N, Measure("velocity", "Velocity to stay below: the one asked for, or the one published for the material.")
    ]
    within_limit: Annotated[bool, Flag("Whether the velocity is at or below the limit.")]
    smallest_bore: Annotated[N, Measure("small_length", "Smallest bore that keeps the velocity at the limit.")]
    smallest_nominal_size: Annotated[
        str | None,
        Text(
            "Smallest nominal size of the material that keeps below the limit; none without a material, or too small."
        ),
    ]
