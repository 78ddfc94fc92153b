"""Emergency disinfection of a small volume of water with household bleach."""

from typing import Any

import numpy as np

from dosewright.core.chlorine.emergency import drops_per_volume
from dosewright.core.measures import round_up_to_step
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables import table
from dosewright.tables.chlorination import chlorine_limit
from dosewright.tables.emergency import GALLON, emergency_doses, emergency_rule
from dosewright.topics.chlorine.contracts.emergency import (
    EmergencyAnswer,
    EmergencyLimit,
    EmergencyRequest,
    EmergencyStep,
)
from dosewright.topics.chlorine.contracts.hypochlorite import Liquid
from dosewright.topics.chlorine.page import chlorine_page
from dosewright.topics.chlorine.treatment.hypochlorite import LiquidStrength, strength_of

__all__ = ["emergency"]

Ask = EmergencyRequest[Numbers]

_QUARTER_TEASPOON = 1.23223039843750e-6  # m³: a quarter of the teaspoon in the table of units
_ROUNDING = 1e-9

_AMOUNT = Basis(
    method="drops = published drops per gallon at the bleach's strength x gallons, doubled for cloudy or very cold "
    "water, rounded up",
    source="CDC, Make Water Safe (leaflet); for 1 %: US EPA 810/F-93-002 (1993)",
    validity="plain household bleach of 1 to 9 % NaOCl; bacteria and viruses, not parasites, not chemicals; "
    "between two published strengths, interpolated at nearly the same chlorine",
)
_DROP = Basis(
    method="a drop is 0.05 mL",
    source="dropper of the United States Pharmacopeia, chapter 1101 [from memory]",
    validity="leaflets imply 0.05 to 0.077 mL; larger drops give more chlorine",
)
_WAIT = Basis(
    method="wait 30 min; 60 min if the water is cloudy or very cold",
    source="CDC, Make Water Safe (leaflet); Washington State Department of Health 331-115, as a utility repeats it",
    validity="very cold is below 10 degC: common practice, no source",
)
_BOIL = Basis(
    method="rolling boil for 1 min; 3 min above 1000 m",
    source="US EPA, Emergency Disinfection of Drinking Water (leaflet, about 2017)",
    validity="the leaflet prints 5,000 ft (1,000 meters); the lower height is used",
)


@calculation(
    "chlorine/emergency",
    views=Views(page=chlorine_page),
    request=EmergencyRequest,
    answer=EmergencyAnswer,
    summary="Drops of household bleach for a litre, a gallon or a bucket of water",
    example={
        "volume": "1 gal",
        "bleach_strength": "6 %",
        "clarity": "clear",
        "water_temperature": "18 degC",
        "altitude": "250 m",
    },
)
def emergency(ask: EmergencyRequest[Numbers], notes: Notes) -> EmergencyAnswer[Numbers]:
    """Bleach for a small volume of water in an emergency, and how long to wait before drinking it.

    Boil the water if you can. Bleach kills bacteria and viruses; it does not reliably kill parasites and removes no
    chemicals.
    """
    needs_more = _needs_more(ask, notes)
    drops, bleach = _bleach(ask, needs_more)
    dose = bleach * _available_chlorine(ask.bleach_strength) / ask.volume
    wait = np.where(needs_more, emergency_rule("cold_wait"), emergency_rule("wait"))[()]
    boil = _boil(ask, notes)
    notes.add_basis(_AMOUNT, _DROP, _WAIT, _BOIL)
    _warn(dose, notes)
    again = emergency_rule("repeat_wait")
    return EmergencyAnswer(
        drops=drops,
        quarter_teaspoons=_quarter_teaspoons(bleach),
        bleach_volume=bleach,
        drop_volume=emergency_rule("drop"),
        dose=dose,
        wait_time=wait,
        repeat_wait_time=again,
        boil_time=boil,
        steps=_steps({"boil": boil, "wait": wait, "smell": again}),
        not_removed=[
            EmergencyLimit(hazard=row["hazard"], reason=row["reason"]) for row in table("emergency_limits").rows
        ],
    )


@emergency.check("bleach_strength")
def _(ask: Ask, notes: Notes) -> None:
    weakest, strongest = emergency_rule("weakest"), emergency_rule("strongest")
    span = f"{weakest * 100:g} to {strongest * 100:g} %"
    message = f"Published amounts are for household bleach of {span} NaOCl. Use such bleach, or boil the water."
    beyond = np.logical_or(
        ask.bleach_strength < weakest * (1.0 - _ROUNDING), ask.bleach_strength > strongest * (1.0 + _ROUNDING)
    )
    notes.refuse("outside_method", "bleach_strength", message, when=beyond[()], allowed=span)


@emergency.check("chemicals_suspected")
def _(ask: Ask, notes: Notes) -> None:
    message = "Neither bleach nor boiling removes chemicals. Do not drink this water; use other water."
    notes.refuse("not_applicable", "chemicals_suspected", message, when=ask.chemicals_suspected)


def _needs_more(ask: Ask, notes: Notes) -> Any:
    """Return whether the water is cloudy or very cold; an unknown temperature is assumed to be very cold."""
    if ask.water_temperature is None:
        message = (
            "No water temperature: the water is assumed to be very cold, with twice the bleach and the longer wait. "
            "Enter water_temperature."
        )
        notes.warn("temperature_not_given", "water_temperature", message)
        return True
    return np.logical_or(ask.clarity == "cloudy", ask.water_temperature < emergency_rule("cold"))[()]


def _bleach(ask: Ask, needs_more: Any) -> tuple[Numbers, Numbers]:
    """Return the drops, and their volume."""
    strengths, published = emergency_doses()
    factor = np.where(needs_more, emergency_rule("more_for_poor_water"), 1.0)[()]
    each = drops_per_volume(ask.bleach_strength, strengths, published)
    drops = round_up_to_step(each * (ask.volume / GALLON) * factor, np.array([0.0]), np.array([1.0]))
    return drops, drops * emergency_rule("drop")


def _available_chlorine(strength: Numbers) -> Numbers:
    what = strength_of(Liquid[Numbers](sodium_hypochlorite=strength))
    if not isinstance(what, LiquidStrength):
        raise TypeError("bleach is a liquid")
    return what.by_volume


def _quarter_teaspoons(bleach: Numbers) -> Numbers | None:
    """Return quarter teaspoons rounded up; none below one, which would be several times too much."""
    counts = round_up_to_step(bleach / _QUARTER_TEASPOON, np.array([0.0]), np.array([1.0]))
    enough = bleach >= _QUARTER_TEASPOON * (1.0 - _ROUNDING)
    if np.ndim(enough) == 0:
        return counts if enough else None
    return np.where(enough, counts, np.nan)


def _boil(ask: Ask, notes: Notes) -> Numbers:
    if ask.altitude is None:
        message = "No altitude: the longer boiling time is used. Enter altitude for a shorter one where it applies."
        notes.warn("altitude_not_given", "altitude", message)
        return emergency_rule("boil_high")
    high = ask.altitude > emergency_rule("altitude")
    return np.where(high, emergency_rule("boil_high"), emergency_rule("boil"))[()]


def _steps(durations: dict[str, Numbers]) -> list[EmergencyStep[Numbers]]:
    return [
        EmergencyStep(step=row["step"], action=row["action"], duration=durations.get(row["step"]))
        for row in table("emergency_steps").rows
    ]


def _warn(dose: Numbers, notes: Notes) -> None:
    message = (
        "Boil the water instead if you can. Bleach does not reliably kill Cryptosporidium, Giardia and other cysts."
    )
    notes.warn("boil_if_possible", "boil_time", message)
    message = "Bleach gets weaker with age. Use a fresh bottle, or enter its present strength (chlorine/product)."
    notes.warn("strength_decreases", "bleach_strength", message)
    limit, source = chlorine_limit("maximum_residual")
    message = (
        f"The dose is above the {limit * 1e3:g} mg/L allowed in drinking water ({source}), as published emergency "
        "amounts are. Use this water only until you have other water."
    )
    notes.warn("above_drinking_limit", "dose", message, when=dose > limit)
    notes.caution("emergency_water", "chlorine_mixing", "chlorine_handling", "dialysis", "aquaria", "local_rules")
