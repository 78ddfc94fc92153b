"""Calculations of the chlorine topic."""

from functools import reduce

import numpy as np

from dosewright.calculations.holding import check_rule, hold_of, note_concentration
from dosewright.calculations.hypochlorite import (
    GranuleStrength,
    LiquidStrength,
    check_product,
    note_product,
    strength_of,
)
from dosewright.calculations.measuring import System, measured
from dosewright.calculations.neutralising import neutraliser_for
from dosewright.calculations.notes import Notes
from dosewright.calculations.registry import calculation
from dosewright.calculations.speciation import MORRIS
from dosewright.calculations.vessels import check_vessels, note_vessels, volume_of
from dosewright.contracts.base import Basis
from dosewright.contracts.chlorine import (
    BatchDoseAnswer,
    BatchDoseRequest,
    MeasuredAmount,
    VesselVolume,
)
from dosewright.core import chlorine, dechlorination, hypochlorous
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import chlorine_limit

__all__ = ["batch"]

Ask = BatchDoseRequest[Numbers]

_CT_UNIT = 0.06  # kg·s/m³ in 1 mg·min/L

_DOSING = Basis(
    method="product = volume x (free chlorine + demand) / strength; amounts rounded up to common measures",
    source="mass balance; steps of measures: common practice, no source",
    validity="chlorine mixed through all vessels; the product's own volume left out (0.2 % for 50 g/L at 100 mg/L)",
)
_FLUSHING = Basis(
    method="flush volume = volume x ln(chlorine / flush residual)",
    source="dilution of one fully mixed vessel",
    validity="an estimate: pockets and dead ends take longer; a test of the water decides",
)


@calculation(
    "chlorine/batch",
    request=BatchDoseRequest,
    answer=BatchDoseAnswer,
    summary="Hypochlorite for a well and its plumbing, and how long to hold it",
    example={
        "vessels": [
            {"kind": "drilled_casing", "diameter": "6 in", "well_depth": "180 ft", "water_level": "45 ft"},
            {"kind": "pressure_tank", "volume": "44 gal", "fill": "40 %"},
            {"kind": "pipe", "material": "pex_sdr9", "nominal_size": "3/4", "length": "120 ft"},
        ],
        "product": {"kind": "listed", "name": "household_bleach_6"},
        "free_chlorine": "100 mg/L",
        "chlorine_demand": "3 mg/L",
        "ph": "7.4",
        "water_temperature": "9 degC",
    },
)
def batch(ask: BatchDoseRequest[Numbers], notes: Notes) -> BatchDoseAnswer[Numbers]:
    """Volume of a well, its tanks and pipes, the hypochlorite they take, and the time to hold it.

    Also how the free chlorine divides at the water's pH, the CT reached, what neutralises the water afterwards and how
    much clean water washes it out.
    """
    volumes = [volume_of(vessel) for vessel in ask.vessels]
    volume = _total(volumes)
    hold = hold_of(ask, notes)
    dose = hold.free_chlorine + ask.chlorine_demand
    strength = strength_of(ask.product)
    liquid, mass = _amounts(strength, volume, dose)
    measures = _measures(strength, liquid, mass, volume, ask.chlorine_demand)
    left = dose if ask.residual is None else ask.residual
    note_vessels(ask.vessels, notes)
    note_product(ask.product, notes)
    notes.rest_on(_DOSING)
    _note_water(ask, notes)
    note_concentration(ask, reduce(np.maximum, [amount.dose for amount in measures]), notes)
    share = _hypochlorous_acid_share(ask, notes)
    neutraliser = neutraliser_for(ask.neutraliser, volume, left, notes)
    notes.rest_on(_FLUSHING)
    _note_cautions(isinstance(strength, GranuleStrength), notes)
    return BatchDoseAnswer(
        volume=volume,
        vessels=[
            VesselVolume(kind=str(type(vessel).__struct_config__.tag), volume=held)
            for vessel, held in zip(ask.vessels, volumes, strict=True)
        ],
        free_chlorine=hold.free_chlorine,
        dose=dose,
        available_chlorine_mass=dose * volume,
        trade_strength=chlorine.trade_share(strength.by_volume) if isinstance(strength, LiquidStrength) else None,
        available_chlorine=strength.by_mass,
        product_density=strength.density if isinstance(strength, LiquidStrength) else None,
        product_volume=liquid,
        product_mass=mass,
        measures=measures,
        hypochlorous_acid_share=share,
        rule=hold.rule,
        hold_time=hold.time,
        ct_achieved=_ct(ask, hold.free_chlorine, hold.time, notes),
        neutraliser=neutraliser,
        flush_volume=dechlorination.flush_volume(volume, left, ask.flush_residual),
    )


@batch.check("vessels")
def _(ask: Ask, notes: Notes) -> None:
    check_vessels(ask.vessels, notes)


@batch.check("product")
def _(ask: Ask, notes: Notes) -> None:
    check_product(ask.product, notes)


@batch.check("rule", "free_chlorine")
def _(ask: Ask, notes: Notes) -> None:
    check_rule(ask, notes)


def _total(volumes: list[Numbers]) -> Numbers:
    return reduce(lambda total, volume: total + volume, volumes)


def _amounts(
    strength: LiquidStrength | GranuleStrength, volume: Numbers, dose: Numbers
) -> tuple[Numbers | None, Numbers | None]:
    """Return the product as a volume, where it is a liquid, and as a mass, where that is known."""
    if isinstance(strength, GranuleStrength):
        return None, chlorine.product_quantity(volume, dose, strength.by_mass)
    liquid = chlorine.product_quantity(volume, dose, strength.by_volume)
    return liquid, None if strength.density is None else liquid * strength.density


def _measures(
    strength: LiquidStrength | GranuleStrength,
    liquid: Numbers | None,
    mass: Numbers | None,
    volume: Numbers,
    demand: Numbers,
) -> list[MeasuredAmount[Numbers]]:
    """Round the product up in each system of measures that suits it, and say what that gives."""
    amounts: list[MeasuredAmount[Numbers]] = []

    def add(
        system: System, text: str, added: Numbers, by: Numbers, held: Numbers | None, weighs: Numbers | None
    ) -> None:
        dose = chlorine.chlorine_produced(added, by, volume)
        amounts.append(
            MeasuredAmount(
                system=system,
                measure=text,
                product_volume=held,
                product_mass=weighs,
                dose=dose,
                free_chlorine=dose - demand,
            )
        )

    if isinstance(strength, LiquidStrength) and liquid is not None:
        for system in ("metric", "us_kitchen", "trade"):
            held, text = measured(liquid, system, "volume")
            weighs = None if strength.density is None else held * strength.density
            add(system, text, held, strength.by_volume, held, weighs)
    elif isinstance(strength, GranuleStrength) and mass is not None:
        for system in ("metric", "trade"):
            weighs, text = measured(mass, system, "mass")
            add(system, text, weighs, strength.by_mass, None, weighs)
        if strength.bulk_density is not None:
            held, text = measured(mass / strength.bulk_density, "us_kitchen", "volume")
            weighs = held * strength.bulk_density
            add("us_kitchen", text, weighs, strength.by_mass, held, weighs)
    return amounts


def _hypochlorous_acid_share(ask: Ask, notes: Notes) -> Numbers | None:
    if ask.ph is None:
        notes.warn("ph_not_given", "ph", "Without the pH, the share of hypochlorous acid is not known.")
        return None
    notes.rest_on(MORRIS)
    known = hypochlorous.speciation_known(ask.ph, ask.water_temperature)
    message = "The share of hypochlorous acid is known from 5 to 35 degC and from pH 5: none is given beyond."
    notes.warn("speciation_out_of_range", "hypochlorous_acid_share", message, when=np.logical_not(known))
    if np.ndim(known) == 0:
        return hypochlorous.hypochlorous_acid_share(ask.ph, ask.water_temperature) if known else None
    ph = np.where(known, ask.ph, hypochlorous.LOWEST_PH)
    temperature = np.where(known, ask.water_temperature, hypochlorous.LOWEST_TEMPERATURE)
    return np.where(known, hypochlorous.hypochlorous_acid_share(ph, temperature), np.nan)


def _ct(ask: Ask, free_chlorine: Numbers, time: Numbers | None, notes: Notes) -> Numbers | None:
    if time is None:
        return None
    if ask.residual is None:
        message = (
            "CT takes the free chlorine as lasting the whole hold; it falls. Give the residual measured at the end."
        )
        notes.warn("ct_upper_bound", "ct_achieved", message)
    lasting = free_chlorine if ask.residual is None else ask.residual
    return chlorine.concentration_time(lasting, time) / _CT_UNIT


def _note_water(ask: Ask, notes: Notes) -> None:
    """Say what of the water deserves a look: its demand, its pH, and a residual above what was added."""
    message = "No chlorine demand is counted: iron, manganese, sulfide, ammonia and organic matter take chlorine up."
    notes.warn("demand_not_counted", "chlorine_demand", message, when=ask.chlorine_demand <= 0.0)
    if ask.ph is None:
        return
    (low, _), (high, source) = chlorine_limit("lowest_ph"), chlorine_limit("highest_ph")
    message = (
        f"Above pH {high:g} ({source}) hypochlorous acid gives way to hypochlorite ion, which disinfects slowly: hold "
        "longer, or have the pH corrected; never add acid to the chlorine itself."
    )
    notes.warn("ph_high", "ph", message, when=ask.ph > high)
    message = f"Below pH {low:g} ({source}) the water is corrosive, and chlorine gas can leave it."
    notes.warn("ph_low", "ph", message, when=ask.ph < low)


def _note_cautions(granules: bool, notes: Notes) -> None:  # noqa: FBT001 - private, one caller
    notes.caution("chlorine_mixing", "chlorine_handling")
    if granules:
        notes.caution("chlorine_granules")
    notes.caution(
        "chlorine_drinking",
        "carbon_filter_bypass",
        "membrane_bypass",
        "softener_resin",
        "septic_load",
        "surface_water_discharge",
        "mains_near_water",
        "well_authority",
        "local_rules",
    )
