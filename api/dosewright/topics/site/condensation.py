"""Sweating of pipes and chamber, and the insulation that stops it."""

from typing import Any

import numpy as np

from dosewright.core.water_and_air import moist_air, surface_heat
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.present.rounding import in_profile
from dosewright.quantities import Numbers
from dosewright.tables.pipes import pipe_materials
from dosewright.tables.site import insulation_materials, site_default
from dosewright.topics.site import charts
from dosewright.topics.site.contracts.condensation import (
    ChamberSurface,
    CondensationAnswer,
    CondensationRequest,
    PipeSurface,
    SurfaceState,
)

__all__ = ["condensation"]

Ask = CondensationRequest[Numbers]
Surface = PipeSurface[Numbers] | ChamberSurface[Numbers]

_DEW_POINT = Basis(
    method="dew point = temperature at which the saturation pressure equals the vapour pressure of the room",
    source="ASHRAE Handbook, Fundamentals (2017), chapter 1, after Hyland and Wexler (1983)",
    validity="air from -20 to 60 degC; frost point below freezing",
)
_BALANCE = Basis(
    method="steady heat balance: conduction through cylindrical insulation, still air (Churchill and Chu) and "
    "radiation outside; the bare wall has the temperature of the water",
    source="Churchill and Chu (1975), Int. J. Heat Mass Transfer 18, 1049 and 1323; Stefan-Boltzmann law",
    validity="still air in a room whose walls have the air temperature; joints, hangers and gaps in the insulation are "
    "colder; a nearby wall slows the air; underestimates the surface temperature of plastic pipe",
)
_FILM = Basis(
    method="steady heat balance: conduction through cylindrical insulation, with the heat transfer coefficient entered",
    source="radial conduction; coefficient as entered",
    validity="as valid as the coefficient entered; the bare wall has the temperature of the water",
)


@calculation(
    "site/condensation",
    views=Views(chart=charts.condensation),
    request=CondensationRequest,
    answer=CondensationAnswer,
    summary="Will pipes and chamber sweat, and the insulation that stops it",
    example={
        "air_temperature": "75 degF",
        "relative_humidity": "70 %",
        "water_temperature": "50 degF",
        "surfaces": [
            {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "insulation_thickness": "6 mm"},
            {"kind": "chamber", "outer_diameter": "89 mm", "height": "0.9 m"},
        ],
        "insulation": "elastomeric_foam",
    },
)
def condensation(ask: Ask, notes: Notes) -> CondensationAnswer[Numbers]:
    """Dew point of the room, temperature of each surface, and the insulation that keeps it dry.

    Well water is often colder than the dew point of a summer cellar: pipes and chamber then drip. Mount controls,
    ballast and outlets above and to the side of the plumbing, never below it.
    """
    notes.add_basis(_DEW_POINT, _BALANCE if ask.film_coefficient is None else _FILM)
    dew_point = moist_air.dew_point(ask.air_temperature, ask.relative_humidity)
    conductivity = _conductivity(ask, notes)
    required = dew_point + ask.margin
    states = [_state(ask, surface, dew_point, required, conductivity) for surface in ask.surfaces]
    sweats: Any = states[0].sweats
    for state in states[1:]:
        sweats = np.logical_or(sweats, state.sweats)
    _warn(ask, states, sweats, dew_point, notes)
    return CondensationAnswer(
        dew_point=dew_point,
        highest_dry_humidity=_highest_humidity(ask),
        sweats=sweats,
        surfaces=states,
    )


@condensation.check("surfaces")
def _clear_diameters(ask: Ask, notes: Notes) -> None:
    for index, surface in enumerate(ask.surfaces):
        with known_only():
            if isinstance(surface, PipeSurface):
                _check_pipe(surface, f"surfaces/{index}", notes)


def _check_pipe(pipe: PipeSurface[Numbers], at: str, notes: Notes) -> None:
    if pipe.outer_diameter is not None:
        if pipe.material is not None or pipe.nominal_size is not None:
            message = "Enter outer_diameter, or material and nominal_size, but not both."
            notes.refuse("conflicting_inputs", f"{at}/outer_diameter", message)
        return
    if pipe.material is None or pipe.nominal_size is None:
        missing = "nominal_size" if pipe.material else "material" if pipe.nominal_size else "outer_diameter"
        notes.refuse("required", f"{at}/{missing}", "Enter material and nominal_size, or outer_diameter.")
        return
    sizes = pipe_materials()[pipe.material].sizes
    if pipe.nominal_size not in sizes:
        title = pipe_materials()[pipe.material].title
        message = f"The tables have no size {pipe.nominal_size} of {title}. Choose one of the allowed sizes."
        notes.refuse("unknown_choice", f"{at}/nominal_size", message, allowed=list(sizes))


def _diameter(surface: Surface) -> Numbers:
    if surface.outer_diameter is not None:
        return surface.outer_diameter
    if not isinstance(surface, ChamberSurface) and surface.material and surface.nominal_size:
        return pipe_materials()[surface.material].sizes[surface.nominal_size].outer_diameter
    raise ValueError("a pipe needs its outside diameter, or a material and a size of that material")


def _conductivity(ask: Ask, notes: Notes) -> Numbers:
    if ask.insulation_conductivity is not None:
        return ask.insulation_conductivity
    material = insulation_materials()[ask.insulation]
    notes.add_basis(
        Basis(
            method=f"conductivity of {material.title} {material.conductivity:.3f} W/(m.K)",
            source=material.source,
            validity="dry and new, at 24 degC; wet insulation conducts several times as much",
        )
    )
    return material.conductivity


def _state(
    ask: Ask, surface: Surface, dew_point: Numbers, required: Numbers, conductivity: Numbers
) -> SurfaceState[Any]:
    diameter = _diameter(surface)
    outside = surface_heat.surface_temperature(
        ask.water_temperature,
        ask.air_temperature,
        diameter,
        surface.insulation_thickness,
        conductivity,
        ask.emittance,
        surface.height,
        ask.film_coefficient,
    )
    needed = surface_heat.insulation_thickness(
        required,
        ask.water_temperature,
        ask.air_temperature,
        diameter,
        conductivity,
        ask.emittance,
        surface.height,
        ask.film_coefficient,
    )
    return SurfaceState(
        kind=str(type(surface).__struct_config__.tag),
        outer_diameter=diameter,
        surface_temperature=outside,
        sweats=outside <= dew_point,  # pyright: ignore[reportArgumentType] - one flag a row in a batch
        margin_ok=outside >= required,  # pyright: ignore[reportArgumentType]
        sweats_bare=ask.water_temperature <= dew_point,  # pyright: ignore[reportArgumentType]
        required_insulation_thickness=needed,
    )


def _against_dew_point(ask: Ask, state: SurfaceState[Any], dew_point: Numbers, side: str) -> str:
    """Return surface temperature and dew point in the caller's unit; in a batch, the side only."""
    surface: Any = state.surface_temperature
    if np.ndim(surface) or np.ndim(dew_point):
        return f"the surface is {side} the dew point"
    at, dew = (in_profile("temperature", float(value), ask.units) for value in (surface, dew_point))
    return f"the surface is at {at}, the dew point is {dew}"


def _highest_humidity(ask: Ask) -> Numbers:
    colder = ask.water_temperature < ask.air_temperature
    share = moist_air.saturation_pressure(ask.water_temperature) / moist_air.saturation_pressure(ask.air_temperature)
    return np.where(colder, share, np.nan)[()]


def _warn(ask: Ask, states: list[SurfaceState[Any]], sweats: Any, dew_point: Numbers, notes: Notes) -> None:
    for index, state in enumerate(states):
        at = _against_dew_point(ask, state, dew_point, "at or below")
        message = f"It sweats: {at}. Insulate it without gaps, or dry the air."
        notes.warn("surface_sweats", f"surfaces.{index}.surface_temperature", message, when=state.sweats)
        close = np.logical_and(np.logical_not(state.sweats), np.logical_not(state.margin_ok))[()]
        notes.warn(
            "margin_not_kept",
            f"surfaces.{index}.surface_temperature",
            f"The margin is too small: {_against_dew_point(ask, state, dew_point, 'just above')}. It sweats on "
            "a damper day or at a gap in the insulation. Add insulation.",
            when=close,
        )
        needed: Any = state.required_insulation_thickness
        notes.warn(
            "insulation_insufficient",
            f"surfaces.{index}.required_insulation_thickness",
            "The air is so humid that its dew point is within the margin of the air temperature. No insulation keeps "
            "this surface dry. Dry the air.",
            when=np.isnan(needed),
        )
    message = "The dew point is below freezing: moisture settles as frost."
    notes.warn("frost_point", "dew_point", message, when=dew_point < moist_air.TRIPLE_POINT)
    margin, source = site_default("condensation_margin")
    message = f"The margin is below the usual {margin:g} degF ({source}). Temperatures within a room differ by more."
    notes.warn("margin_small", "margin", message, when=ask.margin < (margin / 1.8) * (1.0 - 1e-9))
    notes.caution("controls_above_plumbing", "mains_near_water", "local_rules")
    if bool(np.any(sweats)):
        notes.caution("mould_from_damp")
