"""Volumes of the vessels a request lists, and what is refused of them."""

from collections.abc import Sequence

import numpy as np

from dosewright.calculations.notes import Notes
from dosewright.calculations.pipe_contents import bore_of, check_pipe, note_pipes
from dosewright.contracts.base import Basis
from dosewright.contracts.vessels import (
    Chamber,
    DrilledCasing,
    DugWell,
    FilterHousing,
    PipeRun,
    PlainVolume,
    PressureTank,
    WaterHeater,
)
from dosewright.core import vessels as core
from dosewright.quantities import Numbers

__all__ = ["GEOMETRY", "AnyVessel", "check_vessels", "note_vessels", "volume_of"]

AnyVessel = (
    DrilledCasing[Numbers]
    | DugWell[Numbers]
    | PressureTank[Numbers]
    | WaterHeater[Numbers]
    | FilterHousing[Numbers]
    | Chamber[Numbers]
    | PipeRun[Numbers]
    | PlainVolume[Numbers]
)

GEOMETRY = Basis(
    method="volumes of cylinders and rings from inside dimensions; drop pipe, pump and cable in the well not taken off",
    source="geometry",
    validity="round vessels, full over the length or height given",
)


def volume_of(vessel: AnyVessel) -> Numbers:
    """Return the water a vessel holds [m³]."""
    match vessel:
        case DrilledCasing() | DugWell():
            return core.cylinder_volume(vessel.diameter, _water_column(vessel))
        case PressureTank():
            return core.water_held(vessel.volume, vessel.fill)
        case Chamber():
            return core.annulus_volume(vessel.chamber_bore, vessel.sleeve_outer_diameter, vessel.chamber_length)
        case PipeRun():
            return core.cylinder_volume(bore_of(vessel), vessel.length)
        case WaterHeater() | FilterHousing() | PlainVolume():
            return vessel.volume


def _water_column(well: DrilledCasing[Numbers] | DugWell[Numbers]) -> Numbers:
    if well.water_column is not None:
        return well.water_column
    if well.well_depth is None or well.water_level is None:
        raise ValueError("a well needs its water column, or its depth and water level")
    return core.standing_water(well.well_depth, well.water_level)


def check_vessels(vessels: Sequence[AnyVessel], notes: Notes) -> None:
    """Refuse vessels whose fields do not go together."""
    for index, vessel in enumerate(vessels):
        at = f"vessels/{index}"
        match vessel:
            case DrilledCasing() | DugWell():
                _check_well(vessel, at, notes)
            case PipeRun():
                check_pipe(vessel, at, notes)
            case Chamber():
                message = "The sleeve must fit inside the chamber: its outside diameter is below the chamber bore."
                wide = vessel.sleeve_outer_diameter >= vessel.chamber_bore
                notes.refuse("out_of_range", f"{at}/sleeve_outer_diameter", message, when=wide)
            case _:
                pass


def _check_well(well: DrilledCasing[Numbers] | DugWell[Numbers], at: str, notes: Notes) -> None:
    depth, level = well.well_depth, well.water_level
    if well.water_column is not None:
        if depth is not None or level is not None:
            message = "Give the water column, or the well depth and the water level, not both."
            notes.refuse("too_many_given", f"{at}/water_column", message)
        return
    if depth is None or level is None:
        missing = (
            "water_column" if depth is None and level is None else "well_depth" if depth is None else "water_level"
        )
        message = "Give the height of the standing water (water_column), or well_depth and water_level."
        notes.refuse("required", f"{at}/{missing}", message)
        return
    message = "The water level must lie above the bottom of the well."
    notes.refuse("out_of_range", f"{at}/water_level", message, when=level >= depth)


def note_vessels(vessels: Sequence[AnyVessel], notes: Notes) -> None:
    """Say which tables the volumes rest on, and what of them deserves a look."""
    notes.rest_on(GEOMETRY)
    note_pipes([vessel for vessel in vessels if isinstance(vessel, PipeRun)], notes)
    for index, vessel in enumerate(vessels):
        if isinstance(vessel, PressureTank):
            full = np.asarray(vessel.fill >= 1.0)
            message = "The pressure tank is counted full; its air cushion takes a part, so that the dose errs high."
            notes.warn("tank_counted_full", f"vessels.{index}.fill", message, when=full if full.ndim else bool(full))
