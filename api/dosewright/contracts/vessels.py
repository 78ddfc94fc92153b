"""Vessels that hold water to be chlorinated or flushed: wells, tanks, housings, chambers, pipes."""

from typing import Annotated, Generic

import msgspec

from dosewright.contracts.base import Q
from dosewright.contracts.fields import Choice, Measure, default
from dosewright.contracts.pipe import NominalSize, PipeMaterial

__all__ = [
    "Chamber",
    "DrilledCasing",
    "DugWell",
    "FilterHousing",
    "PipeRun",
    "PlainVolume",
    "PressureTank",
    "WaterHeater",
]


class DrilledCasing(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="drilled_casing"
):
    """Standing water in a drilled well: its height, or the depth of the well and of the resting water level."""

    diameter: Annotated[
        Q,
        Measure("small_length", "Inside diameter of the casing.", at_least="10 mm", at_most="2 m", example="6 in"),
    ]
    water_column: Annotated[
        Q | None,
        Measure("length", "Height of the standing water.", at_least="1 cm", at_most="1000 m", example="120 ft"),
    ] = None
    well_depth: Annotated[
        Q | None,
        Measure(
            "length",
            "Depth of the well below the measuring point.",
            at_least="1 cm",
            at_most="1000 m",
            example="180 ft",
        ),
    ] = None
    water_level: Annotated[
        Q | None,
        Measure(
            "length",
            "Depth of the resting water below the measuring point; negative where it stands above.",
            at_least="-100 m",
            at_most="1000 m",
            example="45 ft",
        ),
    ] = None


class DugWell(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="dug_well"):
    """Standing water in a round dug or bored well: its height, or well depth and resting water level."""

    diameter: Annotated[
        Q, Measure("length", "Inside diameter of the lining.", at_least="10 cm", at_most="20 m", example="4 ft")
    ]
    water_column: Annotated[
        Q | None,
        Measure("length", "Height of the standing water.", at_least="1 cm", at_most="200 m", example="12 ft"),
    ] = None
    well_depth: Annotated[
        Q | None,
        Measure(
            "length", "Depth of the well below the measuring point.", at_least="1 cm", at_most="200 m", example="25 ft"
        ),
    ] = None
    water_level: Annotated[
        Q | None,
        Measure(
            "length",
            "Depth of the resting water below the measuring point; negative where it stands above.",
            at_least="-100 m",
            at_most="200 m",
            example="11 ft",
        ),
    ] = None


class PressureTank(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pressure_tank"
):
    """Pressure tank, of which the air cushion takes a part."""

    volume: Annotated[
        Q, Measure("volume", "Volume of the whole tank.", at_least="10 mL", at_most="1000 m3", example="80 gal")
    ]
    fill: Annotated[
        Q, Measure("share", "Share of the tank that holds water.", above="0 %", at_most="100 %", example="40 %")
    ] = default("100 %")


class WaterHeater(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="water_heater"
):
    """Storage water heater."""

    volume: Annotated[Q, Measure("volume", "Water it holds.", at_least="10 mL", at_most="1000 m3", example="40 gal")]


class FilterHousing(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="filter_housing"
):
    """Filter housing, its cartridge taken out."""

    volume: Annotated[Q, Measure("volume", "Water it holds.", at_least="10 mL", at_most="1000 m3", example="1.5 L")]


class Chamber(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="chamber"):
    """UV chamber: the ring between its bore and the lamp's sleeve."""

    chamber_bore: Annotated[
        Q, Measure("small_length", "Inside diameter of the chamber.", at_least="5 mm", at_most="2 m", example="89 mm")
    ]
    sleeve_outer_diameter: Annotated[
        Q,
        Measure("small_length", "Outside diameter of the sleeve.", at_least="1 mm", at_most="1 m", example="23 mm"),
    ]
    chamber_length: Annotated[
        Q, Measure("small_length", "Inside length.", at_least="1 mm", at_most="5 m", example="900 mm")
    ]


class PipeRun(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pipe"):
    """Run of pipe: its material and nominal size, or its bore; and its length."""

    length: Annotated[Q, Measure("length", "Length of the run.", at_least="1 cm", at_most="100000 m", example="60 ft")]
    material: Annotated[PipeMaterial | None, Choice("Material and series of the pipe.")] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="3/4")] = None
    bore: Annotated[
        Q | None, Measure("small_length", "Inside diameter, instead.", at_least="1 mm", at_most="2 m", example="20 mm")
    ] = None


class PlainVolume(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="plain_volume"
):
    """Any other vessel of known volume."""

    volume: Annotated[Q, Measure("volume", "Water it holds.", at_least="1 mL", at_most="100000 m3", example="200 L")]
