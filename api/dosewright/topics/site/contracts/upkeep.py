"""Contracts of the upkeep schedule."""

import datetime as dt
from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Day, Flag, Items, Measure, Text, default

__all__ = ["CarbonBed", "Cartridge", "UpkeepAnswer", "UpkeepEvent", "UpkeepRequest"]

CartridgePurpose: TypeAlias = Literal["sediment", "carbon", "other"]

_PRICE = "in the caller's own currency"


class Cartridge(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="cartridge"
):
    """A filter cartridge, changed by volume, time or pressure drop, whichever comes first."""

    purpose: Annotated[CartridgePurpose, Choice("What the cartridge removes.", example="sediment")]
    rated_volume: Annotated[
        Q | None,
        Measure("volume", "Rated volume of water.", above="0 L", at_most="100000 m3", example="15000 gal"),
    ] = None
    interval: Annotated[
        Q | None,
        Measure("interval", "Longest time in use.", at_least="1 d", at_most="3650 d", example="180 d"),
    ] = None
    clean_pressure_drop: Annotated[
        Q | None, Measure("pressure", "Pressure drop when new.", at_least="0 kPa", at_most="1 MPa", example="2 psi")
    ] = None
    pressure_drop_now: Annotated[
        Q | None,
        Measure(
            "pressure", "Pressure drop measured at the same flow.", at_least="0 kPa", at_most="1 MPa", example="4 psi"
        ),
    ] = None
    pressure_drop_limit: Annotated[
        Q | None,
        Measure("pressure", "Pressure drop at which it is changed.", above="0 kPa", at_most="1 MPa", example="10 psi"),
    ] = None
    volume_passed: Annotated[
        Q | None,
        Measure("volume", "Volume passed since it was new.", above="0 L", at_most="100000 m3", example="4000 gal"),
    ] = None
    price: Annotated[
        Q | None, Measure("plain", f"Price of one, {_PRICE}.", at_least="0", at_most="1000000", example="14")
    ] = None


class CarbonBed(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="carbon_bed"
):
    """A bed of granular carbon, changed after a number of bed volumes."""

    bed_volume: Annotated[
        Q, Measure("volume", "Volume of the carbon bed.", above="0 L", at_most="100 m3", example="28 L")
    ]
    bed_volumes: Annotated[
        Q,
        Measure(
            "plain",
            "Bed volumes of water it treats, from its data sheet.",
            above="0",
            at_most="1000000",
            example="8000",
        ),
    ]
    price: Annotated[
        Q | None, Measure("plain", f"Price of the carbon, {_PRICE}.", at_least="0", at_most="1000000", example="160")
    ] = None


class UpkeepRequest(Request, Generic[Q], kw_only=True):
    """Date of installation, water use, water quality, media and prices."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "daily_use hardness iron manganese peak_flow lamp_hours_per_day unit_power energy_price",
        "lamp_price water_test_price media.price media.clean_pressure_drop media.pressure_drop_now",
        "media.volume_passed",
    ) | lower(
        "lamp_life lamp_interval sleeve_interval water_test_interval media.rated_volume",
        "media.interval media.pressure_drop_limit media.bed_volume media.bed_volumes derated_flow",
        "lamp_ageing_factor lamp_end_factor",
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "length of the calendar": "years",
    }

    installed: Annotated[dt.date, Day("Day of installation, with a new lamp and new cartridges.", example="2026-05-04")]
    daily_use: Annotated[
        Q,
        Measure("daily_flow", "Average water use.", above="0 L/d", at_most="1000 m3/h", example="180 gal/d"),
    ]
    years: Annotated[
        Q, Measure("plain", "Length of the schedule in years.", at_least="0.5", at_most="15", example="2")
    ] = default("2")
    lamp_life: Annotated[
        Q,
        Measure(
            "running_time",
            "Life of the lamp in hours of operation.",
            at_least="500 h",
            at_most="30000 h",
            example="9000 h",
        ),
    ] = default("9000 h")
    lamp_interval: Annotated[
        Q,
        Measure("interval", "Maximum days between lamp changes.", at_least="30 d", at_most="1100 d"),
    ] = default("365 d")
    lamp_hours_per_day: Annotated[
        Q,
        Measure("running_time", "Hours a day the lamp is on.", above="0 h", at_most="24 h", example="24 h"),
    ] = default("24 h")
    lamp_end_factor: Annotated[
        Q,
        Measure(
            "share",
            "Lamp ageing factor at the end of the lamp's life.",
            at_least="20 %",
            at_most="100 %",
            example="80 %",
        ),
    ] = default("80 %")
    hardness: Annotated[
        Q | None,
        Measure("hardness", "Hardness at the chamber, as CaCO3.", at_least="0 gpg", at_most="150 gpg", example="6 gpg"),
    ] = None
    iron: Annotated[
        Q | None,
        Measure("concentration", "Iron at the chamber.", at_least="0 mg/L", at_most="100 mg/L", example="0.1 mg/L"),
    ] = None
    manganese: Annotated[
        Q | None,
        Measure(
            "concentration", "Manganese at the chamber.", at_least="0 mg/L", at_most="50 mg/L", example="0.02 mg/L"
        ),
    ] = None
    sleeve_interval: Annotated[
        Q | None,
        Measure(
            "interval",
            "Days between sleeve cleanings. It replaces the value of the table.",
            at_least="7 d",
            at_most="730 d",
            example="180 d",
        ),
    ] = None
    water_test_interval: Annotated[
        Q, Measure("interval", "Days between water tests.", at_least="30 d", at_most="1100 d")
    ] = default("365 d")
    media: Annotated[
        list[Cartridge[Q] | CarbonBed[Q]] | None, Items("Cartridges and carbon beds to be changed.", 1, 20)
    ] = None
    derated_flow: Annotated[
        Q | None,
        Measure(
            "flow",
            "Derated flow of the unit, calculated with lamp_ageing_factor; its lower bound where it has one.",
            above="0 L/min",
            at_most="1 m3/s",
            example="10 gal/min",
        ),
    ] = None
    lamp_ageing_factor: Annotated[
        Q | None,
        Measure(
            "share",
            "Lamp ageing factor used for derated_flow.",
            at_least="1 %",
            at_most="100 %",
            example="80 %",
        ),
    ] = None
    peak_flow: Annotated[
        Q | None, Measure("flow", "Peak flow of the house.", above="0 L/min", at_most="1 m3/s", example="8 gal/min")
    ] = None
    hydraulics_unknown: Annotated[
        bool,
        Flag("Whether the unit's hydraulics are not known: no event then reports the peak flow as covered."),
    ] = False
    lamp_price: Annotated[
        Q | None, Measure("plain", f"Price of a lamp, {_PRICE}.", at_least="0", at_most="1000000", example="95")
    ] = None
    water_test_price: Annotated[
        Q | None, Measure("plain", f"Price of a water test, {_PRICE}.", at_least="0", at_most="1000000", example="40")
    ] = None
    unit_power: Annotated[
        Q | None, Measure("power", "Electric power of the unit.", above="0 W", at_most="10 kW", example="60 W")
    ] = None
    energy_price: Annotated[
        Q | None, Measure("plain", f"Price of a kilowatt hour, {_PRICE}.", at_least="0", at_most="1000", example="0.18")
    ] = None


class UpkeepEvent(msgspec.Struct, Generic[N], kw_only=True):
    """One task on one day."""

    day: Annotated[str, Text("Due date, as year-month-day.")]
    task: Annotated[
        Literal["change_lamp", "clean_sleeve", "test_water", "change_sediment", "change_carbon", "change_cartridge"],
        Text("Stable name of the task."),
    ]
    meaning: Annotated[str, Text("Task in words.")]
    due_by_measure: Annotated[
        Literal["hours", "days", "volume", "pressure_drop", "bed_volumes"],
        Text("Measure that makes the task due, the first one reached."),
    ]
    lamp_ageing_factor: Annotated[N, Measure("share", "Lamp ageing factor on this day, before any lamp change.")]
    derated_flow: Annotated[N | None, Measure("flow", "Derated flow on this day, before any lamp change.")]
    covers_peak_flow: Annotated[
        bool | None, Text("Whether the derated flow covers the peak flow; with hydraulics_unknown false or absent.")
    ]
    price: Annotated[N | None, Measure("plain", "Price; absent unless entered.")]


class UpkeepAnswer(Answer, Generic[N]):
    """Tasks by date, and the average cost of a year."""

    safer: ClassVar[Mapping[str, Safe]] = higher("sleeve_interval") | lower("yearly_energy yearly_cost")

    events: Annotated[list[UpkeepEvent[N]], Items("Tasks by date.")]
    sleeve_interval: Annotated[N, Measure("interval", "Days between sleeve cleanings.")]
    lamp_due_by: Annotated[Literal["hours", "days"], Text("What ends the use of a lamp first.")]
    yearly_energy: Annotated[N | None, Measure("energy", "Electric energy a year; absent without unit_power.")]
    yearly_cost: Annotated[
        N | None, Measure("plain", "Average cost a year over the schedule, of everything with a price.")
    ]
