"""Contracts of the condensation check."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text, default
from dosewright.tables.names import InsulationName
from dosewright.tables.site import default_text
from dosewright.topics.pipe.contracts.velocity import NominalSize, PipeMaterial

__all__ = [
    "ChamberSurface",
    "CondensationAnswer",
    "CondensationRequest",
    "InsulationName",
    "PipeSurface",
    "SurfaceState",
]


_DIAMETER = Measure(
    "small_length", "Outside diameter without insulation.", at_least="3 mm", at_most="1 m", example="89 mm"
)
_THICKNESS = Measure(
    "small_length",
    "Thickness of the insulation on it; 0 for none.",
    at_least="0 mm",
    at_most="300 mm",
    example="9 mm",
)
_HEIGHT = Measure(
    "length",
    "Height, if it is upright. Without a height it is assumed to be horizontal.",
    at_least="5 cm",
    at_most="10 m",
    example="0.9 m",
)


class PipeSurface(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pipe"):
    """A pipe with its insulation: material and nominal size, or outside diameter."""

    material: Annotated[PipeMaterial | None, Choice("Material and series of the pipe.")] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="3/4")] = None
    outer_diameter: Annotated[Q | None, _DIAMETER] = None
    insulation_thickness: Annotated[Q, _THICKNESS] = default("0 mm")
    height: Annotated[Q | None, _HEIGHT] = None


class ChamberSurface(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="chamber"
):
    """A UV chamber or other round vessel with its insulation."""

    outer_diameter: Annotated[Q, _DIAMETER]
    insulation_thickness: Annotated[Q, _THICKNESS] = default("0 mm")
    height: Annotated[Q | None, _HEIGHT] = None


class CondensationRequest(Request, Generic[Q]):
    """Room air, water, and the surfaces of pipes and vessels."""

    worse: ClassVar[Mapping[str, Direction]] = higher("relative_humidity margin insulation_conductivity") | lower(
        "water_temperature surfaces.insulation_thickness emittance film_coefficient"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "raises both the dew point and the surface temperature": "air_temperature",
        "curvature and height change the air film in both directions": "surfaces.outer_diameter surfaces.height",
    }

    air_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the room.", at_least="-20 degC", at_most="60 degC", example="75 degF"),
    ]
    relative_humidity: Annotated[
        Q,
        Measure(
            "share",
            "Relative humidity of the room.",
            at_least="1 %",
            at_most="100 %",
            example="70 %",
            hint="For a humidity of 0.7, write 70 %.",
        ),
    ]
    water_temperature: Annotated[
        Q,
        Measure(
            "temperature",
            "Lowest temperature of the water inside, running or not.",
            at_least="0 degC",
            at_most="60 degC",
            example="50 degF",
        ),
    ]
    surfaces: Annotated[list[PipeSurface[Q] | ChamberSurface[Q]], Items("Pipes and vessels that could sweat.", 1, 50)]
    insulation: Annotated[InsulationName, Choice("Insulation material. It sets the conductivity.")] = "elastomeric_foam"
    insulation_conductivity: Annotated[
        Q | None,
        Measure(
            "conductivity",
            "Conductivity from the insulation's data sheet. It replaces the material's value.",
            at_least="0.005 W/(m.K)",
            at_most="1 W/(m.K)",
            example="0.036 W/(m.K)",
        ),
    ] = None
    emittance: Annotated[
        Q,
        Measure(
            "share",
            "Emittance of the insulation's outer surface: about 90 % for anything but bare metal.",
            at_least="2 %",
            at_most="100 %",
            example="90 %",
        ),
    ] = default(default_text("emittance"))
    film_coefficient: Annotated[
        Q | None,
        Measure(
            "heat_transfer",
            "Heat transfer coefficient outside. It replaces the calculation for still air and radiation.",
            at_least="0.5 W/(m2.K)",
            at_most="100 W/(m2.K)",
            example="8 W/(m2.K)",
        ),
    ] = None
    margin: Annotated[
        Q,
        Measure(
            "temperature_difference",
            "Required margin of the surface temperature above the dew point.",
            at_least="0 K",
            at_most="20 K",
            example="1 K",
        ),
    ] = default(default_text("condensation_margin"))


class SurfaceState(msgspec.Struct, Generic[N], kw_only=True):
    """Result for one surface."""

    kind: Annotated[str, Text("Kind of surface, in the order of the request.")]
    outer_diameter: Annotated[N, Measure("small_length", "Outside diameter without insulation.")]
    surface_temperature: Annotated[
        N, Measure("temperature", "Temperature of the outer surface, with its present insulation.")
    ]
    sweats: Annotated[bool, Flag("Whether the outer surface is at or below the dew point.")]
    margin_ok: Annotated[bool, Flag("Whether the outer surface is above the dew point by at least the margin.")]
    sweats_bare: Annotated[bool, Flag("Whether it sweats without insulation.")]
    required_insulation_thickness: Annotated[
        N | None,
        Measure(
            "small_length",
            "Minimum insulation that keeps the margin; 0 if none is needed, absent if 0.5 m is not enough.",
        ),
    ]


class CondensationAnswer(Answer, Generic[N]):
    """Dew point of the room, and which surfaces sweat."""

    safer: ClassVar[Mapping[str, Safe]] = higher("highest_dry_humidity") | lower("dew_point") | {"sweats": False}

    dew_point: Annotated[N, Measure("temperature", "Dew point of the room; frost point below freezing.")]
    highest_dry_humidity: Annotated[
        N | None,
        Measure(
            "share",
            "Relative humidity above which a bare surface sweats; absent if the water is not colder than the air.",
        ),
    ]
    sweats: Annotated[bool, Flag("Whether any surface sweats with its present insulation.")]
    surfaces: Annotated[list[SurfaceState[N]], Items("Each surface, in the order of the request.")]
