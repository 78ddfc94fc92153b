"""Shock chlorination of a well and its plumbing."""

from functools import reduce
from typing import Any

import numpy as np

from dosewright.core.chlorine import chlorine, dechlorination
from dosewright.core.constants import ROUNDING
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Cases, Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import chlorine_limit
from dosewright.topics.chlorine import charts
from dosewright.topics.chlorine.contracts.shock import MeasuredAmount, ShockAnswer, ShockRequest, VesselVolume
from dosewright.topics.chlorine.neutralise import caution_agents, neutraliser_for
from dosewright.topics.chlorine.page import chlorine_page
from dosewright.topics.chlorine.treatment.hold_rules import check_rule, hold_of, rules_for, warn_concentration
from dosewright.topics.chlorine.treatment.household_measures import drops_of, measured, tablets_of
from dosewright.topics.chlorine.treatment.hypochlorite import (
    GranuleStrength,
    LiquidStrength,
    Stored,
    check_product,
    check_storage,
    stored,
    strength_of,
    warn_product,
    warn_storage,
)
from dosewright.topics.chlorine.treatment.procedure import (
    SOURCES,
    discharge_of,
    no_discharge_places,
    parts_of,
    peak_of,
    retest,
    stages_of,
    steps_of,
)
from dosewright.topics.chlorine.treatment.water import acidity_of, check_water, demand_of, warn_water
from dosewright.topics.pipe.contracts.vessels import WaterHeater
from dosewright.topics.pipe.vessels import check_vessels, volume_of, warn_vessels

__all__ = ["shock"]

Ask = ShockRequest[Numbers]
_CT_UNIT = 0.06  # kg·s/m³ in 1 mg·min/L

_DOSING = Basis(
    method="product = volume x (free chlorine + demand) / strength; amounts rounded up to common measures",
    source="mass balance; steps of measures: common practice, no source",
    validity="each vessel entered is dosed once, no other; chlorine is mixed through all; without the volume of the "
    "product (0.2 % for 50 g/L at 100 mg/L)",
)
_FLUSHING = Basis(
    method="flush volume = volume x ln(chlorine / flush residual)",
    source="dilution of one fully mixed vessel",
    validity="an estimate: pockets and dead ends take longer; test the water",
)


_CASES = Cases("free_chlorine", "mg/L", (50, 75, 100, 125, 150, 175, 200), "product_volume")


@calculation(
    "chlorine/shock",
    views=Views(chart=charts.holding, page=chlorine_page, cases=_CASES),
    request=ShockRequest,
    answer=ShockAnswer,
    summary="Shock chlorination of a well and its plumbing: how much hypochlorite, and how long to hold it",
    example={
        "vessels": [
            {"kind": "drilled_casing", "diameter": "6 in", "well_depth": "180 ft", "water_level": "45 ft"},
            {
                "kind": "pressure_tank",
                "volume": "44 gal",
                "tank": "diaphragm",
                "precharge": "38 psi",
                "system_pressure": "60 psi",
            },
            {"kind": "filter_housing", "housing_size": "4.5x10"},
            {"kind": "pipe", "material": "pex_sdr9", "nominal_size": "3/4", "length": "120 ft"},
        ],
        "product": {"kind": "listed", "name": "household_bleach_6"},
        "all_rules": True,
        "free_chlorine": "100 mg/L",
        "chlorine_demand": "1 mg/L",
        "iron": "0.8 mg/L",
        "ammonia": "0.1 mg/L",
        "raw_ph": "7.1",
        "alkalinity": "180 mg/L",
        "ph_target": "7.4",
        "water_temperature": "9 degC",
        "storage_time": "45 d",
        "storage_temperature": "20 degC",
    },
)
def shock(ask: ShockRequest[Numbers], notes: Notes) -> ShockAnswer[Numbers]:
    """Volume of a well, its tanks and pipes, the hypochlorite for them, and the hold time.

    The answer also has the share of hypochlorous acid at the water's pH, the CT achieved, the reducing agent to
    neutralise the water afterwards, and the volume of clean water to flush it out.
    """
    volumes = [volume_of(vessel) for vessel in ask.vessels]
    volume = _total(volumes)
    parts = parts_of(ask.vessels, volumes)
    hold = hold_of(ask, notes)
    demand = demand_of(ask, notes)
    dose = hold.free_chlorine + demand
    strength, aged = _strength(ask, notes)
    liquid, mass = _amounts(strength, volume, dose)
    measures = _measures(strength, liquid, mass, volume, demand)
    left = dose if ask.residual is None else ask.residual
    _refuse_more_left(left, dose, notes)
    flush_volume = dechlorination.flush_volume(volume, left, ask.flush_residual)
    _start(ask, isinstance(strength, GranuleStrength), WaterHeater in parts.kinds, notes)
    water = acidity_of(ask, volume, dose, notes)
    warn_water(ask, demand, dose, water.ph, notes)
    warn_concentration(ask, reduce(np.maximum, [amount.dose for amount in measures]), notes)
    neutraliser = neutraliser_for(ask.neutraliser, volume, left, notes)
    return ShockAnswer(
        volume=volume,
        vessels=_held(ask, volumes),
        free_chlorine=hold.free_chlorine,
        chlorine_demand=demand,
        dose=dose,
        available_chlorine_mass=dose * volume,
        **_product_fields(strength, aged, liquid, mass),
        measures=measures,
        **_acidity_fields(ask, water),
        rule=hold.rule,
        rules=rules_for(ask, hold.free_chlorine, source=parts.source is not None, plumbing=parts.plumbing is not None),
        hold_time=hold.time,
        ct_achieved=_ct(ask, hold.free_chlorine, hold.time, notes),
        neutraliser=neutraliser,
        flush_volume=flush_volume,
        stages=stages_of(parts, dose, strength, notes),
        peak_concentration=peak_of(parts, volume, dose, notes),
        steps=steps_of(ask, parts, volume, flush_volume, hold.time, water.vinegar),
        retest=retest(notes),
        discharge=discharge_of(volume, flush_volume, left, notes),
        no_discharge_places=no_discharge_places(),
    )


def _start(ask: ShockRequest[Numbers], granules: bool, heater: bool, notes: Notes) -> None:  # noqa: FBT001
    """Add the basis of the answer and the cautions."""
    warn_vessels(ask.vessels, notes)
    message = (
        "Only the well is entered, so the product is for the well alone. Add the pipes, pressure tank, water heater "
        "and filter housings that the chlorinated water fills."
    )
    notes.warn("plumbing_not_entered", "vessels", message, when=all(isinstance(one, SOURCES) for one in ask.vessels))
    warn_product(ask.product, notes, aged=ask.storage_time is not None)
    notes.add_basis(_DOSING, _FLUSHING)
    _add_cautions(granules, heater, ask.neutraliser, notes)


def _held(ask: Ask, volumes: list[Numbers]) -> list[VesselVolume[Numbers]]:
    kinds = (str(type(vessel).__struct_config__.tag) for vessel in ask.vessels)
    return [VesselVolume(kind=kind, volume=held) for kind, held in zip(kinds, volumes, strict=True)]


def _refuse_more_left(left: Numbers, dose: Numbers, notes: Notes) -> None:
    message = "The residual is higher than the dose. Check both and their units."
    notes.refuse("contradiction", "residual", message, when=left > dose * (1.0 + ROUNDING))


def _product_fields(strength: Any, aged: Any, volume: Numbers | None, mass: Numbers | None) -> dict[str, Any]:
    liquid = isinstance(strength, LiquidStrength)
    return {
        "trade_strength": chlorine.trade_share(strength.by_volume) if liquid else None,
        "available_chlorine": strength.by_mass,
        "product_volume": volume,
        "product_mass": mass,
        "product_drops": None if volume is None else drops_of(volume),
        "product_density": strength.density if liquid else None,
        "remaining_strength": None if aged is None else aged.left,
        "law_remaining_strength": None if aged is None else aged.law_left,
        "table_remaining_strength": None if aged is None else aged.table_left,
    }


def _acidity_fields(ask: Ask, water: Any) -> dict[str, Any]:
    return {
        "hypochlorous_acid_share": water.share,
        "chlorinated_ph": water.ph,
        "vinegar_volume": water.vinegar,
        "target_acid_share": water.target_share,
        "ph_before": ask.raw_ph,
        "ph_after_vinegar": water.vinegar_ph,
        "ph_after_both": water.final_ph,
    }


@shock.check("vessels")
def _(ask: Ask, notes: Notes) -> None:
    check_vessels(ask.vessels, notes)


@shock.check("product")
def _(ask: Ask, notes: Notes) -> None:
    check_product(ask.product, notes)


@shock.check("product", "storage_time", "storage_temperature")
def _(ask: Ask, notes: Notes) -> None:
    check_storage(ask.product, ask.storage_time, ask.storage_temperature, notes)


@shock.check("raw_ph", "alkalinity", "ph_target", "water_temperature")
def _(ask: Ask, notes: Notes) -> None:
    check_water(ask, notes)


@shock.check("flush_residual")
def _(ask: Ask, notes: Notes) -> None:
    limit, source = chlorine_limit("maximum_residual")
    message = f"flush_residual is above the {limit * 1e3:g} mg/L allowed in drinking water ({source}). Lower it."
    over = ask.flush_residual > limit * (1.0 + ROUNDING)
    notes.refuse("above_drinking_limit", "flush_residual", message, when=over, allowed=f"at most {limit * 1e3:g} mg/L")


@shock.check("rule", "free_chlorine", "hold_time")
def _(ask: Ask, notes: Notes) -> None:
    check_rule(ask, notes)


def _total(volumes: list[Numbers]) -> Numbers:
    return reduce(lambda total, volume: total + volume, volumes)


def _strength(ask: Ask, notes: Notes) -> tuple[LiquidStrength | GranuleStrength, Stored | None]:
    """Return the present strength, and the result of storage if it is included."""
    strength = strength_of(ask.product)
    if ask.storage_time is None or ask.storage_temperature is None or isinstance(strength, GranuleStrength):
        return strength, None
    aged = stored(strength, ask.storage_time, ask.storage_temperature)
    warn_storage(aged, notes)
    return aged.strength, aged


def _amounts(
    strength: LiquidStrength | GranuleStrength, volume: Numbers, dose: Numbers
) -> tuple[Numbers | None, Numbers | None]:
    """Return the product as a volume if it is a liquid, and as a mass if that is known."""
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
    """Round the product up in each suitable system of measures, with the chlorine that it gives."""
    amounts: list[MeasuredAmount[Numbers]] = []

    def add(system: str, text: str, added: Numbers, by: Numbers, held: Numbers | None, weighs: Numbers | None) -> None:
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
        if strength.tablet_mass is not None:
            weighs, text = tablets_of(mass, strength.tablet_mass)
            add("tablets", text, weighs, strength.by_mass, None, weighs)
        if strength.bulk_density is not None:
            held, text = measured(mass / strength.bulk_density, "us_kitchen", "volume")
            weighs = held * strength.bulk_density
            add("us_kitchen", text, weighs, strength.by_mass, held, weighs)
    return amounts


def _ct(ask: Ask, free_chlorine: Numbers, time: Numbers | None, notes: Notes) -> Numbers | None:
    if time is None:
        return None
    if ask.residual is None:
        message = (
            "CT is overestimated: it assumes that free chlorine does not fall during the hold. Enter the residual "
            "measured at the end."
        )
        notes.warn("ct_upper_bound", "ct_achieved", message)
    lasting = free_chlorine if ask.residual is None else ask.residual
    return chlorine.concentration_time(lasting, time) / _CT_UNIT


def _add_cautions(granules: bool, heater: bool, agent: str, notes: Notes) -> None:  # noqa: FBT001 - private, one caller
    notes.caution(
        "chlorine_mixing",
        "chlorine_acid",
        "chlorine_ammonia",
        "chlorine_other_hypochlorites",
        "chlorine_organics",
        "chlorine_cyanurates",
        "chlorine_handling",
        "chlorine_ventilation",
    )
    if granules:
        notes.caution("chlorine_granules")
    if heater:
        notes.caution("water_heater_hot")
    notes.caution(
        "well_gas_and_pressure",
        "chlorine_drinking",
        "carbon_filter_bypass",
        "membrane_bypass",
        "softener_resin",
        "residual_metals_taste",
        "dialysis",
        "aquaria",
        "septic_load",
        "surface_water_discharge",
    )
    caution_agents([agent], notes)
    notes.caution("mains_near_water", "well_authority", "local_rules")
