"""Contracts of pipe/velocity, and the pipe names that other contracts share."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Measure, Text, default
from dosewright.tables.names import MaterialName as PipeMaterial
from dosewright.tables.names import NominalSize

__all__ = ["NominalSize", "PipeMaterial", "VelocityAnswer", "VelocityRequest"]


class VelocityRequest(Request, Generic[Q]):
    """Flow and pipe: its material and nominal size, or its bore."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow elastic_modulus length static_pressure") | lower(
        "bore velocity_limit wall closing_time pressure_rating"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a warmer pipe is softer and a colder one has more surge": "water_temperature",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("wall", "wave_speed"): "a thicker wall carries a faster wave",
    }

    flow: Annotated[
        Q, Measure("flow", "Flow through the pipe.", above="0 L/min", at_most="1 m3/s", example="9 gal/min")
    ]
    material: Annotated[
        PipeMaterial | None,
        Choice("Pipe material. Sets the velocity limit and, with nominal_size, the bore."),
    ] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="3/4")] = None
    bore: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Inside diameter, instead of a nominal size.",
            at_least="1 mm",
            at_most="2 m",
            example="20 mm",
        ),
    ] = None
    velocity_limit: Annotated[
        Q | None,
        Measure(
            "velocity",
            "Velocity limit, instead of the published limit for the material.",
            at_least="0.01 m/s",
            at_most="20 m/s",
            example="5 ft/s",
        ),
    ] = None
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="12 degC"),
    ] = default("10 degC")
    wall: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Wall thickness of a pipe entered by its bore. Needed for the surge.",
            at_least="0.1 mm",
            at_most="200 mm",
            example="1.2 mm",
        ),
    ] = None
    elastic_modulus: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Modulus of elasticity of the wall, instead of the material's. Needed for the surge.",
            at_least="1 MPa",
            at_most="1000000 MPa",
            example="117000 MPa",
        ),
    ] = None
    length: Annotated[
        Q | None,
        Measure(
            "length",
            "Length of pipe from the valve back to the tank or main. Needed for the surge.",
            above="0 m",
            at_most="100000 m",
            example="40 ft",
        ),
    ] = None
    closing_time: Annotated[
        Q | None,
        Measure(
            "short_time",
            "Time in which the valve stops the flow. Default: at once.",
            at_least="0 s",
            at_most="3600 s",
            example="0.03 s",
        ),
    ] = None
    static_pressure: Annotated[
        Q | None,
        Measure(
            "pressure", "Gauge pressure before the valve closes.", at_least="0 kPa", at_most="10 MPa", example="60 psi"
        ),
    ] = None
    pressure_rating: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Pressure rating of the weakest component of the pipework.",
            above="0 kPa",
            at_most="100 MPa",
            example="150 psi",
        ),
    ] = None


class VelocityAnswer(Answer, Generic[N]):
    """Velocity and flow regime in the pipe, and whether the pipe is wide enough."""

    safer: ClassVar[Mapping[str, Safe]] = lower(
        "velocity smallest_bore wave_speed surge_pressure closing_surge_pressure peak_pressure"
    ) | {"within_limit": True}
    undirected: ClassVar[Mapping[str, str]] = {
        "describes the flow": "bore reynolds_number velocity_limit",
        "a slow closing must take longer than this time": "reflection_time",
    }

    velocity: Annotated[N, Measure("velocity", "Mean velocity over the bore.")]
    bore: Annotated[N, Measure("small_length", "Inside diameter of the pipe.")]
    reynolds_number: Annotated[N, Measure("plain", "Reynolds number.")]
    regime: Annotated[str, Text("laminar, transition or turbulent.")]
    velocity_limit: Annotated[
        N, Measure("velocity", "Velocity limit: from the request, or the published limit for the material.")
    ]
    within_limit: Annotated[bool, Flag("Whether the velocity is within the limit.")]
    smallest_bore: Annotated[N, Measure("small_length", "Smallest bore within the velocity limit.")]
    smallest_nominal_size: Annotated[
        str | None,
        Text(
            "Smallest nominal size of the material within the velocity limit; absent without a "
            "material, or if its largest size is too small."
        ),
    ]
    wave_speed: Annotated[
        N | None, Measure("velocity", "Speed of a pressure wave in the pipe; absent if wall or modulus is unknown.")
    ]
    surge_pressure: Annotated[
        N | None, Measure("pressure", "Pressure rise if a valve stops this flow at once (Joukowsky).")
    ]
    reflection_time: Annotated[
        N | None, Measure("short_time", "Closing times up to this one count as quick; absent without a length.")
    ]
    closing_surge_pressure: Annotated[
        N | None, Measure("pressure", "Pressure rise at this closing time; absent without a closing time and a length.")
    ]
    peak_pressure: Annotated[
        N | None, Measure("pressure", "Static pressure plus surge; absent without a static pressure.")
    ]
