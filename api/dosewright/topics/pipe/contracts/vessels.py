"""Vessels whose water is chlorinated or flushed: wells, tanks, housings, chambers, pipes."""

from typing import Annotated, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Q
from dosewright.engine.fields import Choice, Measure, default
from dosewright.tables.names import HousingSize
from dosewright.topics.pipe.contracts.velocity import NominalSize, PipeMaterial

__all__ = [
    "Chamber",
    "Cistern",
    "DeadLeg",
    "DrilledCasing",
    "DugWell",
    "FilterHousing",
    "GravelPack",
    "HousingSize",
    "PipeRun",
    "PlainVolume",
    "PressureTank",
    "TankKind",
    "WaterHeater",
    "WellScreen",
]

TankKind: TypeAlias = Literal["diaphragm", "air_over_water"]


class DrilledCasing(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="drilled_casing"
):
    """Standing water in a drilled well: its height, or the depths of the well and of its static water level."""

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
            "Static water level, as depth below the measuring point. Negative if the water is above it.",
            at_least="-100 m",
            at_most="1000 m",
            example="45 ft",
        ),
    ] = None


class DugWell(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="dug_well"):
    """Standing water in a round dug or bored well: its height, or well depth and static water level."""

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
            "Static water level, as depth below the measuring point. Negative if the water is above it.",
            at_least="-100 m",
            at_most="200 m",
            example="11 ft",
        ),
    ] = None


class WellScreen(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="well_screen"
):
    """Screened length below the casing, or open hole in rock, if its diameter differs from the casing's."""

    diameter: Annotated[
        Q,
        Measure(
            "small_length", "Inside diameter of the screen or hole.", at_least="10 mm", at_most="2 m", example="5 in"
        ),
    ]
    length: Annotated[
        Q, Measure("length", "Length below the water level.", at_least="1 cm", at_most="1000 m", example="20 ft")
    ]


class GravelPack(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="gravel_pack"
):
    """Gravel between the screen and the wall of the hole. Its pores contain water too."""

    borehole_diameter: Annotated[
        Q,
        Measure("small_length", "Diameter of the hole.", at_least="20 mm", at_most="3 m", example="10 in"),
    ]
    screen_outer_diameter: Annotated[
        Q,
        Measure(
            "small_length", "Outside diameter of screen or casing.", at_least="10 mm", at_most="2 m", example="5.6 in"
        ),
    ]
    length: Annotated[
        Q,
        Measure(
            "length", "Length of the pack below the water level.", at_least="1 cm", at_most="1000 m", example="25 ft"
        ),
    ]
    porosity: Annotated[
        Q, Measure("share", "Porosity of the pack.", at_least="5 %", at_most="60 %", example="35 %")
    ] = default("40 %")


class Cistern(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="cistern"):
    """Cistern or storage tank: its water volume; or depth and diameter; or depth, length and width."""

    volume: Annotated[
        Q | None, Measure("volume", "Volume of the water.", at_least="1 L", at_most="100000 m3", example="1500 gal")
    ] = None
    water_depth: Annotated[
        Q | None, Measure("length", "Depth of the water.", at_least="1 cm", at_most="50 m", example="5 ft")
    ] = None
    diameter: Annotated[
        Q | None,
        Measure("length", "Inside diameter of a round tank.", at_least="10 cm", at_most="100 m", example="6 ft"),
    ] = None
    length: Annotated[
        Q | None,
        Measure("length", "Inside length of a rectangular tank.", at_least="10 cm", at_most="100 m", example="8 ft"),
    ] = None
    width: Annotated[
        Q | None,
        Measure("length", "Inside width of a rectangular tank.", at_least="10 cm", at_most="100 m", example="6 ft"),
    ] = None


class PressureTank(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pressure_tank"
):
    """Pressure tank with an air cushion: its share of water, or its pressures."""

    volume: Annotated[
        Q, Measure("volume", "Volume of the whole tank.", at_least="10 mL", at_most="1000 m3", example="80 gal")
    ]
    fill: Annotated[
        Q | None,
        Measure(
            "share",
            "Share of the tank that is water. Default without pressures: 100 %.",
            above="0 %",
            at_most="100 %",
            example="40 %",
        ),
    ] = None
    tank: Annotated[
        TankKind | None,
        Choice(
            "diaphragm: a diaphragm or bladder with its own air. air_over_water: a plain tank.",
            example="diaphragm",
        ),
    ] = None
    precharge: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Gauge pressure of its air when the tank is empty of water.",
            at_least="0 kPa",
            at_most="1500 kPa",
            example="28 psi",
        ),
    ] = None
    system_pressure: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Highest gauge pressure of the system, when the tank is fullest.",
            at_least="0 kPa",
            at_most="1500 kPa",
            example="50 psi",
        ),
    ] = None


class WaterHeater(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="water_heater"
):
    """Storage water heater."""

    volume: Annotated[
        Q, Measure("volume", "Volume of the water.", at_least="10 mL", at_most="1000 m3", example="40 gal")
    ]


class FilterHousing(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="filter_housing"
):
    """Filter housing without its cartridge: its volume, or the nominal size of its cartridge."""

    volume: Annotated[
        Q | None, Measure("volume", "Volume of the water.", at_least="10 mL", at_most="1000 m3", example="1.5 L")
    ] = None
    housing_size: Annotated[
        HousingSize | None, Choice("Nominal diameter and length of its cartridge in inches.", example="4.5x10")
    ] = None


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
    """Run of pipe: its length, with either its material and nominal size or its bore."""

    length: Annotated[Q, Measure("length", "Length of the run.", at_least="1 cm", at_most="100000 m", example="60 ft")]
    material: Annotated[PipeMaterial | None, Choice("Material and series of the pipe.")] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="3/4")] = None
    bore: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Inside diameter, instead of material and nominal size.",
            at_least="1 mm",
            at_most="2 m",
            example="20 mm",
        ),
    ] = None


class DeadLeg(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="dead_leg"):
    """Dead leg, a pipe without flow: its length, with either its material and nominal size or its bore."""

    length: Annotated[Q, Measure("length", "Length of the leg.", at_least="1 cm", at_most="10000 m", example="6 ft")]
    material: Annotated[PipeMaterial | None, Choice("Material and series of the pipe.", example="copper_type_l")] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="1/2")] = None
    bore: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Inside diameter, instead of material and nominal size.",
            at_least="1 mm",
            at_most="2 m",
            example="13 mm",
        ),
    ] = None


class PlainVolume(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="plain_volume"
):
    """Any other vessel of known volume."""

    volume: Annotated[
        Q, Measure("volume", "Volume of the water.", at_least="1 mL", at_most="100000 m3", example="200 L")
    ]
