"""How a shock chlorination goes: two stages, the steps in order, the water to discharge, and the samples afterwards."""

from functools import reduce
from typing import Any, NamedTuple

import numpy as np

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.quantities import Numbers
from dosewright.tables import Row, table
from dosewright.tables.chlorination import chlorine_limit, retest_rule
from dosewright.topics.chlorine.contracts.shock import (
    ChlorinationStage,
    ChlorinationStep,
    Discharge,
    NoDischargePlace,
    Retest,
    ShockRequest,
)
from dosewright.topics.chlorine.treatment.household_measures import measured, tablets_of
from dosewright.topics.chlorine.treatment.hypochlorite import GranuleStrength, LiquidStrength
from dosewright.topics.pipe.contracts.vessels import (
    Cistern,
    DeadLeg,
    DrilledCasing,
    DugWell,
    GravelPack,
    PressureTank,
    WaterHeater,
    WellScreen,
)
from dosewright.topics.pipe.vessels import AnyVessel

__all__ = [
    "SOURCES",
    "Parts",
    "discharge_of",
    "no_discharge_places",
    "parts_of",
    "peak_of",
    "retest",
    "stages_of",
    "steps_of",
]

_HOUR = 3600.0
SOURCES = (DrilledCasing, DugWell, WellScreen, GravelPack, Cistern)

_STAGES = Basis(
    method="product divided between well and plumbing by volume; the second stage replaces what the house draws",
    source="mass balance; at least 10 gal of solution down the well: COMAR 26.04.04.24 D(2)",
    validity="the well is mixed by circulation and the house is filled from it",
)
_RETEST = Basis(
    method="two consecutive clear samples, at least 24 h apart, the first a week after the flushing",
    source="COMAR 26.04.04.30 D(1)(a); Allegany County Health Department, disinfection procedure, step 6",
    validity="where these rules are law; elsewhere a published example",
)


class Parts(NamedTuple):
    """Water in the source and in the plumbing.

    Attributes
    ----------
    source, plumbing : float, array or None
        Volumes; None if there is none [m³].
    kinds : set of type
        Kinds of the vessels.
    """

    source: Numbers | None
    plumbing: Numbers | None
    kinds: frozenset[type[Any]]


def parts_of(vessels: list[AnyVessel], volumes: list[Numbers]) -> Parts:
    """Return the water in the well or cistern, and the water in tanks and pipes."""

    def held(*, source: bool) -> Numbers | None:
        chosen = [
            volume for vessel, volume in zip(vessels, volumes, strict=True) if isinstance(vessel, SOURCES) == source
        ]
        return reduce(lambda total, volume: total + volume, chosen) if chosen else None

    return Parts(held(source=True), held(source=False), frozenset(type(vessel) for vessel in vessels))


def stages_of(
    parts: Parts, dose: Numbers, strength: LiquidStrength | GranuleStrength, notes: Notes
) -> list[ChlorinationStage[Numbers]]:
    """Return the product for the well, then for the plumbing."""
    notes.add_basis(_STAGES)
    stages = [("well", parts.source), ("plumbing", parts.plumbing)]
    return [_stage(name, volume, dose, strength) for name, volume in stages if volume is not None]


def _stage(
    name: str, volume: Numbers, dose: Numbers, strength: LiquidStrength | GranuleStrength
) -> ChlorinationStage[Numbers]:
    slurry, _ = chlorine_limit("dilution_water")
    if isinstance(strength, GranuleStrength):
        mass = volume * dose / strength.by_mass
        metric, customary = measured(mass, "metric", "mass").text, measured(mass, "trade", "mass").text
        if strength.tablet_mass is not None:
            metric = tablets_of(mass, strength.tablet_mass).text
        liquid = None
    else:
        liquid = volume * dose / strength.by_volume
        mass = None if strength.density is None else liquid * strength.density
        metric, customary = measured(liquid, "metric", "volume").text, measured(liquid, "us_kitchen", "volume").text
    return ChlorinationStage(
        stage=name,
        volume=volume,
        product_volume=liquid,
        product_mass=mass,
        metric=metric,
        customary=customary,
        dilution_water=slurry,
    )


def peak_of(parts: Parts, volume: Numbers, dose: Numbers, notes: Notes) -> Numbers | None:
    """Return the chlorine in the well after both stages, before the house draws any."""
    if parts.source is None:
        return None
    peak = dose * volume / parts.source
    limit, source = chlorine_limit("highest_slurry_dose")
    message = (
        f"With both stages together, the well is above {limit * 1e3:g} mg/L ({source}). Add the second stage in "
        "portions, and draw each one into the plumbing before the next."
    )
    notes.warn("well_overdosed", "peak_concentration", message, when=peak > limit)
    return peak


def _present(parts: Parts) -> set[str]:
    """Return the conditions of the steps that these vessels meet."""
    both = parts.source is not None and parts.plumbing is not None
    return {
        "",
        *(("well",) if parts.source is not None else ("no_well",)),
        *(("both",) if both else ()),
        *(("plumbing",) if parts.plumbing is not None else ()),
        *(("heater",) if WaterHeater in parts.kinds else ()),
        *(("tank",) if PressureTank in parts.kinds else ()),
        *(("dead_leg",) if DeadLeg in parts.kinds else ()),
    }


def steps_of(
    ask: ShockRequest[Numbers],
    parts: Parts,
    volume: Numbers,
    flush_volume: Numbers,
    hold_time: Numbers | None,
    vinegar: Numbers | None,
) -> list[ChlorinationStep[Numbers]]:
    """Return the steps for these vessels in order, with volume and time."""
    slurry, _ = chlorine_limit("dilution_water")
    wait, _ = retest_rule("wait")
    volumes: dict[str, Numbers | None] = {
        "vinegar": vinegar,
        "slurry_well": slurry,
        "slurry_plumbing": slurry,
        "pour_vessels": slurry,
        "neutralise": volume,
        "flush": flush_volume,
    }
    durations: dict[str, Numbers | None] = {"circulate": _HOUR, "hold": hold_time, "sample": wait}
    there = _present(parts)
    if ask.ph_target is not None:
        there.add("acid")
    return [
        ChlorinationStep(
            step=row["step"],
            action=_does(row, vinegar),
            volume=volumes.get(row["step"]),
            duration=durations.get(row["step"]),
        )
        for row in table("chlorination_steps").rows
        if row["needs"] in there
    ]


def _does(row: Row, vinegar: Numbers | None) -> Any:
    """Return the text of a step; if no vinegar is needed, its step says so."""
    if row["step"] != "vinegar" or vinegar is None:
        return row["action"]
    needed = np.asarray(vinegar) > 0.0
    texts = ("Add no vinegar: the pH stays at or below the target without it.", row["action"])
    return label(needed.astype(np.intp) if needed.ndim else int(needed), texts)


def retest(notes: Notes) -> Retest[Numbers]:
    """Return when to sample, and how many clear samples are required."""
    notes.add_basis(_RETEST)
    wait, _ = retest_rule("wait")
    apart, _ = retest_rule("apart")
    required, _ = retest_rule("clear_samples")
    return Retest(
        first_sample_after=wait,
        sample_interval=apart,
        clear_samples=required,
        earliest_clear=wait + (required - 1.0) * apart,
    )


def discharge_of(volume: Numbers, flush_volume: Numbers, left: Numbers, notes: Notes) -> Discharge[Numbers]:
    """Return the water to discharge after the hold."""
    limit, source = chlorine_limit("aquatic_acute")
    notes.add_basis(
        Basis(
            method=f"dilution = chlorine left / {limit * 1e3:g} mg/L",
            source=f"{source} [from memory]",
            validity="fresh water, one hour; many authorities allow less, or none",
        )
    )
    return Discharge(volume=volume + flush_volume, chlorine_mass=left * volume, dilution=left / limit)


def no_discharge_places() -> list[NoDischargePlace]:
    """Return the places where the water must not go."""
    return [NoDischargePlace(place=row["place"], reason=row["reason"]) for row in table("discharge_places").rows]
