"""Contracts of the pipe topic."""

from typing import Annotated, Generic, Literal, TypeAlias

from dosewright.contracts.base import Answer, N, Q, Request
from dosewright.contracts.fields import Measure, Text, default

__all__ = ["PipeMaterial", "VelocityAnswer", "VelocityRequest"]

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
]


class VelocityRequest(Request, Generic[Q]):
    """Flow and bore of a pipe."""

    flow: Annotated[
        Q, Measure("flow", "Flow through the pipe.", above="0 L/min", at_most="1 m3/s", example="9 gal/min")
    ]
    bore: Annotated[Q, Measure("small_length", "Inside diameter.", at_least="1 mm", at_most="2 m", example="20 mm")]
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="12 degC"),
    ] = default("10 degC")


class VelocityAnswer(Answer, Generic[N]):
    """How fast the water moves, and how."""

    velocity: Annotated[N, Measure("velocity", "Mean velocity over the bore.")]
    reynolds_number: Annotated[N, Measure("plain", "Reynolds number.")]
    regime: Annotated[str, Text("laminar, transition or turbulent.")]
