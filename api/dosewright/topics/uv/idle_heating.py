"""Heating of standing water in a lit chamber."""

from typing import Any

import numpy as np

from dosewright.core.hydraulics import annulus, vessels
from dosewright.core.water_and_air import standing_water, water
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.tables import table
from dosewright.topics.uv.contracts.water import (
    IdleHeatingAnswer,
    IdleHeatingRequest,
)

__all__ = ["idle_heating"]

_HOUR = 3600.0
_BOILING = 373.15
_HEAT = Basis(
    method="heat capacity x dT/dt = lamp power - loss x (T - air), loss = coefficient x side area of the bore",
    source="energy balance; figures of the table idle_heating, from memory",
    validity=(
        "water mixed in itself, steady air temperature; light that leaves the chamber is neglected, which "
        "overestimates the temperature"
    ),
)


def _constant(field: str) -> float:
    row = table("idle_heating").row(field=field)
    if row is None:
        raise KeyError(field)
    return float(row["value"])


_WATER = _constant("water_heat_capacity")
_STEEL = _constant("steel_heat_capacity")


@calculation(
    "uv/idle-heating",
    request=IdleHeatingRequest,
    answer=IdleHeatingAnswer,
    summary="Temperature of standing water next to a lit lamp, and the trickle flow that keeps it cool",
    example={
        "chamber_bore": "80 mm",
        "sleeve_outer_diameter": "25 mm",
        "chamber_length": "780 mm",
        "lamp_power": "40 W",
        "water_temperature": "9 degC",
        "air_temperature": "18 degC",
        "limit_temperature": "30 degC",
        "standing_time": "8 h",
        "chamber_mass": "3 kg",
    },
)
def idle_heating(ask: IdleHeatingRequest[Numbers], notes: Notes) -> IdleHeatingAnswer[Numbers]:
    """Calculate the heating of standing water in a chamber whose lamp burns, with heat loss to the air.

    The answer has the temperature after a time, the final temperature, the time to a limit, and the steady trickle flow
    that keeps the water at the limit.
    """
    notes.add_basis(_HEAT)
    bore, sleeve = 0.5 * ask.chamber_bore, 0.5 * ask.sleeve_outer_diameter
    volume = annulus.volume(bore, sleeve, ask.chamber_length)
    density = water.density(ask.water_temperature)
    capacity = _WATER * density * volume + _STEEL * ask.chamber_mass
    area = 4.0 * vessels.cylinder_volume(ask.chamber_bore, ask.chamber_length) / ask.chamber_bore
    loss = ask.heat_transfer_coefficient * area
    heat = (ask.lamp_power, loss, ask.air_temperature)
    after = standing_water.temperature_after(ask.standing_time, ask.water_temperature, *heat, capacity)
    first = standing_water.temperature_after(_HOUR, ask.water_temperature, *heat, capacity)
    final = standing_water.final_temperature(*heat)
    time, trickle, stays = _against_limit(ask, heat, capacity, density, after, notes)
    message = (
        "The water would boil within this time. Pressure, scalding and a cracked sleeve or lamp are possible. "
        "Turn the lamp off."
    )
    notes.warn("would_boil", "temperature_after", message, when=after >= _BOILING)
    message = "A lamp loses output in hot water, and standing water leaves scale on the sleeve."
    notes.warn("output_drops_when_hot", "temperature_after", message, when=after > 313.15)
    notes.caution("uvc_eyes_skin", "mains_near_water", "pressure", "local_rules")
    return IdleHeatingAnswer(
        volume=volume,
        first_hour_rise=first - ask.water_temperature,
        temperature_after=after,
        final_temperature=np.where(np.isinf(final), np.nan, final) if np.ndim(final) else _finite(final),
        time_to_limit=time,
        trickle_flow=trickle,
        stays_below_limit=stays,
    )


def _finite(value: Any) -> Any:
    return value if np.isfinite(value) else None


def _against_limit(
    ask: IdleHeatingRequest[Numbers],
    heat: tuple[Numbers, Numbers, Numbers],
    capacity: Numbers,
    density: Numbers,
    after: Numbers,
    notes: Notes,
) -> tuple[Numbers | None, Numbers | None, Any]:
    limit = ask.limit_temperature
    if limit is None:
        return None, None, None
    time = standing_water.time_to_temperature(limit, ask.water_temperature, *heat, capacity)
    trickle = standing_water.trickle_flow(limit, ask.water_temperature, *heat, _WATER * density)
    starts_above = ask.water_temperature >= limit
    below = np.logical_and(after < limit, np.logical_not(starts_above))[()]
    message = "The water is above the limit from the start. Cool it or draw it off before the lamp is lit."
    notes.warn("starts_above_limit", "water_temperature", message, when=starts_above)
    time = np.where(starts_above, 0.0, time)[()]
    message = (
        "The water passes the limit while it stands. Let it trickle, switch the lamp with the flow, or flush "
        "before use."
    )
    notes.warn("pressure_drop_above_limit", "time_to_limit", message, when=np.logical_not(below))
    return time, trickle, below


@idle_heating.check("chamber_bore", "sleeve_outer_diameter")
def _possible_chamber(ask: IdleHeatingRequest[Numbers], notes: Notes) -> None:
    message = "The sleeve must be narrower than the chamber bore. Both are diameters, and the water is between them."
    when = ask.sleeve_outer_diameter >= ask.chamber_bore
    notes.refuse("chamber_impossible", "sleeve_outer_diameter", message, when=when)
