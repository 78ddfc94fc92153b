"""Volumes of the vessels in a request, and the checks of their sizes."""

from collections.abc import Sequence

import numpy as np

from dosewright.core.hydraulics import vessels as core
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import housing_volumes
from dosewright.topics.pipe.contracts.vessels import (
    Chamber,
    Cistern,
    DeadLeg,
    DrilledCasing,
    DugWell,
    FilterHousing,
    GravelPack,
    PipeRun,
    PlainVolume,
    PressureTank,
    WaterHeater,
    WellScreen,
)
from dosewright.topics.pipe.run.pipe_contents import bore_of, check_pipe, warn_pipes

__all__ = ["GEOMETRY", "AnyVessel", "check_vessels", "volume_of", "warn_vessels"]

AnyVessel = (
    DrilledCasing[Numbers]
    | DugWell[Numbers]
    | WellScreen[Numbers]
    | GravelPack[Numbers]
    | Cistern[Numbers]
    | PressureTank[Numbers]
    | WaterHeater[Numbers]
    | FilterHousing[Numbers]
    | Chamber[Numbers]
    | PipeRun[Numbers]
    | DeadLeg[Numbers]
    | PlainVolume[Numbers]
)

GEOMETRY = Basis(
    method=(
        "volumes of cylinders and rings from inside dimensions; drop pipe, pump and cable in the well not subtracted"
    ),
    source="geometry",
    validity="round vessels, full over the length or height entered",
)
_GAS_LAW = Basis(
    method="water in a pressure tank = volume x (1 - (precharge + 101.325 kPa) / (system pressure + 101.325 kPa))",
    source="Boyle's law; standard atmosphere",
    validity="mass and temperature of the air constant, at sea level; a plain tank starts full of air and loses none",
)
_PORES = Basis(
    method="water in a gravel pack = ring between hole and screen x porosity",
    source="geometry; porosity of gravel 25 to 40 %: Freeze and Cherry, Groundwater (1979), table 2.4 [from memory]",
    validity="the highest porosity by default, so that the dose is overestimated; nothing outside the hole included",
)


def volume_of(vessel: AnyVessel) -> Numbers:
    """Return the volume of water in a vessel [m³]."""
    match vessel:
        case DrilledCasing() | DugWell():
            return core.cylinder_volume(vessel.diameter, _water_column(vessel))
        case WellScreen():
            return core.cylinder_volume(vessel.diameter, vessel.length)
        case GravelPack():
            return core.pore_volume(
                vessel.borehole_diameter, vessel.screen_outer_diameter, vessel.length, vessel.porosity
            )
        case Cistern():
            return _cistern(vessel)
        case PressureTank():
            return _in_tank(vessel)
        case Chamber():
            return core.annulus_volume(vessel.chamber_bore, vessel.sleeve_outer_diameter, vessel.chamber_length)
        case PipeRun() | DeadLeg():
            return core.cylinder_volume(bore_of(vessel), vessel.length)
        case FilterHousing():
            return _in_housing(vessel)
        case WaterHeater() | PlainVolume():
            return vessel.volume


def _water_column(well: DrilledCasing[Numbers] | DugWell[Numbers]) -> Numbers:
    if well.water_column is not None:
        return well.water_column
    if well.well_depth is None or well.water_level is None:
        raise ValueError("a well needs its water column, or its depth and water level")
    return core.standing_water(well.well_depth, well.water_level)


def _cistern(cistern: Cistern[Numbers]) -> Numbers:
    if cistern.volume is not None:
        return cistern.volume
    if cistern.water_depth is None:
        raise ValueError("a cistern needs its volume, or the depth of its water")
    if cistern.diameter is not None:
        return core.cylinder_volume(cistern.diameter, cistern.water_depth)
    if cistern.length is None or cistern.width is None:
        raise ValueError("a cistern needs its diameter, or its length and width")
    return core.box_volume(cistern.length, cistern.width, cistern.water_depth)


def _in_tank(tank: PressureTank[Numbers]) -> Numbers:
    if tank.fill is not None:
        return core.water_held(tank.volume, tank.fill)
    if tank.system_pressure is None:
        return tank.volume
    # A plain tank traps the air it was full of.
    precharge = 0.0 if tank.precharge is None else tank.precharge
    return core.water_behind_air(tank.volume, precharge, tank.system_pressure)


def _in_housing(housing: FilterHousing[Numbers]) -> Numbers:
    if housing.volume is not None:
        return housing.volume
    if housing.housing_size is None:
        raise ValueError("a housing needs its volume or its size")
    return housing_volumes()[housing.housing_size]


def check_vessels(vessels: Sequence[AnyVessel], notes: Notes) -> None:
    """Refuse vessels with missing or conflicting fields."""
    for index, vessel in enumerate(vessels):
        with known_only():
            _check_vessel(vessel, f"vessels/{index}", notes)


def _check_vessel(vessel: AnyVessel, at: str, notes: Notes) -> None:
    match vessel:
        case DrilledCasing() | DugWell():
            _check_well(vessel, at, notes)
        case PipeRun() | DeadLeg():
            check_pipe(vessel, at, notes)
        case PressureTank():
            _check_tank(vessel, at, notes)
        case Cistern():
            _check_cistern(vessel, at, notes)
        case FilterHousing():
            _check_housing(vessel, at, notes)
        case GravelPack():
            message = (
                "The screen must fit inside the hole: its outside diameter must be smaller than the hole's diameter."
            )
            wide = vessel.screen_outer_diameter >= vessel.borehole_diameter
            notes.refuse("contradiction", f"{at}/screen_outer_diameter", message, when=wide)
        case Chamber():
            message = (
                "The sleeve must fit inside the chamber: its outside diameter must be smaller than the chamber bore."
            )
            wide = vessel.sleeve_outer_diameter >= vessel.chamber_bore
            notes.refuse("contradiction", f"{at}/sleeve_outer_diameter", message, when=wide)
        case _:
            pass


def _check_well(well: DrilledCasing[Numbers] | DugWell[Numbers], at: str, notes: Notes) -> None:
    depth, level = well.well_depth, well.water_level
    if well.water_column is not None:
        if depth is not None or level is not None:
            message = "Enter the water column, or the well depth and the water level, not both."
            notes.refuse("too_many", f"{at}/water_column", message)
        return
    if depth is None or level is None:
        missing = (
            "water_column" if depth is None and level is None else "well_depth" if depth is None else "water_level"
        )
        message = "Enter the height of the standing water (water_column), or well_depth and water_level."
        notes.refuse("required", f"{at}/{missing}", message)
        return
    message = "The water level must be above the bottom of the well."
    notes.refuse("contradiction", f"{at}/water_level", message, when=level >= depth)


def _check_tank(tank: PressureTank[Numbers], at: str, notes: Notes) -> None:
    if tank.fill is not None and (tank.precharge is not None or tank.system_pressure is not None):
        message = "Enter the share of water (fill), or the pressures, not both."
        notes.refuse("too_many", f"{at}/fill", message)
        return
    if tank.system_pressure is None:
        if tank.precharge is not None:
            message = "The precharge needs the system pressure too."
            notes.refuse("required", f"{at}/system_pressure", message)
        return
    if tank.precharge is None:
        if tank.tank != "air_over_water":
            message = (
                "A diaphragm tank needs its precharge. If the tank has air over water, set tank to air_over_water."
            )
            notes.refuse("required", f"{at}/precharge", message)
            return
        message = "At zero system pressure, this rule gives no water in a tank with air over water. Enter fill instead."
        notes.refuse("contradiction", f"{at}/system_pressure", message, when=tank.system_pressure <= 0.0)
        return
    message = "The system pressure must be above the precharge. Otherwise the tank contains no water."
    notes.refuse("contradiction", f"{at}/system_pressure", message, when=tank.system_pressure <= tank.precharge)


def _check_cistern(cistern: Cistern[Numbers], at: str, notes: Notes) -> None:
    sizes = [name for name in ("water_depth", "diameter", "length", "width") if getattr(cistern, name) is not None]
    if cistern.volume is not None:
        if sizes:
            notes.refuse("too_many", f"{at}/{sizes[0]}", "Enter the volume of the water, or its sizes, not both.")
    elif cistern.diameter is not None and len(sizes) > 2:
        notes.refuse("too_many", f"{at}/diameter", "Enter the diameter, or length and width, not both.")
    elif sizes not in (["water_depth", "diameter"], ["water_depth", "length", "width"]):
        message = "Enter the volume; or water_depth and diameter; or water_depth, length and width."
        required = ("volume",) if not sizes else ("water_depth",) if "water_depth" not in sizes else ("length", "width")
        missing = next(name for name in (*required, "diameter") if name not in sizes)
        notes.refuse("required", f"{at}/{missing}", message)


def _check_housing(housing: FilterHousing[Numbers], at: str, notes: Notes) -> None:
    if housing.volume is not None and housing.housing_size is not None:
        notes.refuse("too_many", f"{at}/housing_size", "Enter the volume, or the nominal size, not both.")
    elif housing.volume is None and housing.housing_size is None:
        message = "Enter the volume, or the nominal size of its cartridge."
        notes.refuse("required", f"{at}/volume", message, allowed=list(housing_volumes()))


def warn_vessels(vessels: Sequence[AnyVessel], notes: Notes) -> None:
    """Add the tables that the volumes are based on, and warnings about the vessels."""
    notes.add_basis(GEOMETRY)
    warn_pipes([vessel for vessel in vessels if isinstance(vessel, (PipeRun, DeadLeg))], notes)
    if any(isinstance(vessel, PressureTank) and vessel.system_pressure is not None for vessel in vessels):
        notes.add_basis(_GAS_LAW)
    if any(isinstance(vessel, GravelPack) for vessel in vessels):
        notes.add_basis(_PORES)
    for index, vessel in enumerate(vessels):
        match vessel:
            case PressureTank():
                _warn_tank(vessel, index, notes)
            case FilterHousing(housing_size=str()):
                message = (
                    "The housing's volume is that of a common housing (common practice, no source). Makers "
                    "differ by 20 %. If the volume matters, measure it: fill the housing from a jug."
                )
                notes.warn("housing_volume_assumed", f"vessels.{index}.volume", message)
            case DeadLeg():
                message = (
                    "Chlorine does not reach a dead leg by itself. Open its end, or cut it off and cap it at the "
                    "branch."
                )
                notes.warn("dead_leg", f"vessels.{index}.length", message)
            case _:
                pass


def _warn_tank(tank: PressureTank[Numbers], index: int, notes: Notes) -> None:
    if tank.fill is None and tank.system_pressure is None:
        full: np.bool_ | np.ndarray[tuple[int, ...], np.dtype[np.bool_]] = np.isfinite(1.0)
    else:
        full = np.asarray(False if tank.fill is None else tank.fill >= 1.0)
    message = (
        "The pressure tank is assumed full. Its air cushion takes some of the space, so the dose is overestimated."
    )
    notes.warn("tank_assumed_full", f"vessels.{index}.fill", message, when=full if np.ndim(full) else bool(full))
    if tank.system_pressure is not None and tank.precharge is None:
        message = (
            "The water slowly absorbs the air of a plain tank. The tank then contains more water than calculated "
            "here. Enter fill, or assume a full tank."
        )
        notes.warn("air_dissolves", f"vessels.{index}.tank", message)
    if tank.tank == "diaphragm":
        message = (
            "Chlorine enters a diaphragm tank only with fresh water. Drain it first, then fill it with the dosed water."
        )
        notes.warn("drain_tank_first", f"vessels.{index}.tank", message)
