"""Velocity of water in a pipe."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from dosewright.core.hydraulics import friction, pipe, surge
from dosewright.core.water_and_air import water
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.engine.registry import Cases, Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.pipes import implausible_velocity, noise_limit, pipe_materials
from dosewright.topics.pipe.contracts.velocity import VelocityAnswer, VelocityRequest
from dosewright.topics.pipe.run.pipe_choice import bore_of, limit_of, published_limit, refuse_unclear_bore, sizes_of
from dosewright.topics.pipe.run.ratings import warn_rating

__all__ = ["velocity"]

_CONTINUITY = Basis(
    method="mean velocity = flow / bore area; Reynolds number = velocity x bore / kinematic viscosity",
    source="definitions; viscosity and density of water: IAPWS SR6-08(2011)",
    validity="liquid water, 0 to 100 degC, near atmospheric pressure",
)
_KORTEWEG = Basis(
    method="wave speed = sound / sqrt(1 + density x sound^2 x bore / (modulus x wall)); surge = density x wave speed x "
    "velocity",
    source="Korteweg 1878, Joukowsky 1900; sound in water: Marczak 1997",
    validity=(
        "full pipe without air, thin wall, a flow stopped at once; branches lower the surge, dead ends can double it"
    ),
)
_MICHAUD = Basis(
    method="slow closing: surge x 2 length / (wave speed x closing time)",
    source="Michaud 1878",
    validity=(
        "a flow that falls evenly; a valve that closes mostly at the end of its travel acts faster than its "
        "closing time"
    ),
)
_IMPLAUSIBLE = "No house supply has water this fast. Check flow, bore and their units."
_ASKED = "The velocity is above the limit in this request. Use a wider pipe or less flow."


_CASES = Cases("flow", "gal/min", (2, 4, 6, 8, 10, 12, 14, 16), "velocity")


@calculation(
    "pipe/velocity",
    request=VelocityRequest,
    answer=VelocityAnswer,
    summary="Velocity in a pipe, and whether the pipe is wide enough",
    example={
        "flow": "9 gal/min",
        "material": "copper_type_l",
        "nominal_size": "3/4",
        "water_temperature": "12 degC",
        "length": "40 ft",
        "closing_time": "0.03 s",
        "static_pressure": "60 psi",
        "pressure_rating": "600 psi",
    },
    views=Views(cases=_CASES),
)
def velocity(ask: VelocityRequest[Numbers], notes: Notes) -> VelocityAnswer[Numbers]:
    """Calculate mean velocity, Reynolds number and flow regime of water in a full round pipe.

    The pipe has a material and nominal size, or a bore. The velocity is compared with the limit in the request, or with
    the published limit for the material at the water's temperature (without a material: for pipes of any material). The
    answer has the smallest bore and nominal size within the limit.
    """
    notes.add_basis(_CONTINUITY)
    bore = bore_of(ask, notes)
    speed = pipe.velocity(ask.flow, bore)
    reynolds = pipe.reynolds_number(speed, bore, water.kinematic_viscosity(ask.water_temperature))
    if ask.velocity_limit is None:
        limit = published_limit(ask.material, ask.water_temperature, speed, notes, "velocity")
    else:
        limit = ask.velocity_limit
        notes.warn("velocity_above_limit", "velocity", _ASKED, when=speed > limit)
    smallest = pipe.bore_for_velocity(ask.flow, limit)
    _warn_noise_and_wear(ask, speed, bore, notes)
    hammer = _surge(ask, speed, bore, notes)
    highest = ask.static_pressure if hammer.peak is None else hammer.peak
    field = "static_pressure" if hammer.peak is None else "peak_pressure"
    warn_rating((ask.material, ask.nominal_size), ask.water_temperature, highest, field, notes)
    notes.caution("local_rules")
    return VelocityAnswer(
        velocity=speed,
        bore=bore,
        reynolds_number=reynolds,
        regime=label(friction.flow_regime(reynolds), friction.REGIMES),
        velocity_limit=limit,
        within_limit=speed <= limit,  # pyright: ignore[reportArgumentType] - one flag a row in a batch
        smallest_bore=smallest,
        smallest_nominal_size=_smallest_size(ask.material, smallest, notes),
        wave_speed=hammer.wave_speed,
        surge_pressure=hammer.surge,
        reflection_time=hammer.reflection_time,
        closing_surge_pressure=hammer.closing_surge,
        peak_pressure=hammer.peak,
    )


@velocity.check("nominal_size", "wall")
def _one_wall(ask: VelocityRequest[Numbers], notes: Notes) -> None:
    if ask.wall is not None and ask.nominal_size is not None:
        message = "The nominal size sets the wall. Enter the wall only with a bore."
        notes.refuse("conflicting_inputs", "wall", message)


@velocity.check("pressure_rating", "static_pressure")
def _rating_with_pressure(ask: VelocityRequest[Numbers], notes: Notes) -> None:
    if ask.pressure_rating is not None and ask.static_pressure is None:
        notes.refuse(
            "required",
            "static_pressure",
            "Enter the static pressure too: the rating is compared with static pressure plus surge.",
        )


@velocity.check("closing_time", "length")
def _time_with_length(ask: VelocityRequest[Numbers], notes: Notes) -> None:
    if ask.closing_time is not None and ask.length is None:
        notes.refuse(
            "required",
            "length",
            "Enter the length too: whether a closing time is quick depends on the length of the pipe.",
        )


@velocity.check("material", "nominal_size", "bore")
def _one_bore(ask: VelocityRequest[Numbers], notes: Notes) -> None:
    refuse_unclear_bore(ask, notes)


def _smallest_size(material: str | None, smallest: Numbers, notes: Notes) -> Any:
    if material is None:
        return None
    sizes = sizes_of(material)
    index = sizes.bores.searchsorted(smallest)
    message = "No nominal size of this material in the tables is wide enough. Use another material or less flow."
    notes.warn("no_size_large_enough", "smallest_nominal_size", message, when=index == len(sizes.bores))
    return label(index, sizes.names)


@cache
def _noise_message() -> str:
    noise = noise_limit()
    return (
        f"Water above {noise.velocity:.2f} m/s ({noise.velocity / 0.3048:.3g} ft/s) is noisy in narrow pipes "
        f"({noise.source}). Stay below it where people sleep."
    )


@cache
def _modulus_basis(material: str) -> Basis:
    made_of = pipe_materials()[material]
    known = made_of.stiffness
    method = "short-term modulus of elasticity at the temperature of the water, interpolated in its logarithm"
    if len(known.temperatures) == 1:
        method = f"modulus of elasticity {known.moduli[0] / 1e6:.0f} MPa at every temperature"
    coldest, warmest = known.temperatures[0] - 273.15, known.temperatures[-1] - 273.15
    held = (
        ""
        if coldest == warmest
        else (
            f"; {coldest:.0f} to {warmest:.0f} degC, constant outside this range, which overestimates "
            "the surge above it"
        )
    )
    return Basis(method=method, source="; ".join(known.sources), validity=f"{made_of.title}{held}")


def _modulus(ask: VelocityRequest[Numbers], material: str, notes: Notes) -> Numbers:
    """Return the modulus of a material's wall at the temperature of the water [Pa]."""
    known = pipe_materials()[material].stiffness
    notes.add_basis(_modulus_basis(material))
    message = (
        "Grades of PEX differ. The stiffest is used here. Others have less surge, at 40 degC by more than a "
        "third. Enter the elastic_modulus of the pipe if you know it."
    )
    notes.warn("stiffest_grade", "surge_pressure", message, when=material.startswith("pex"))
    return surge.modulus_at(ask.water_temperature, known.temperatures, known.moduli)


def _warn_noise_and_wear(ask: VelocityRequest[Numbers], speed: Numbers, bore: Numbers, notes: Notes) -> None:
    noise = noise_limit()
    audible = (speed > noise.velocity) & (bore <= noise.highest_bore)
    if audible is not False:
        notes.warn("noise", "velocity", _noise_message(), when=audible)
    implausible = speed > implausible_velocity()
    if implausible is not False:
        notes.warn("implausible_velocity", "flow", _IMPLAUSIBLE, when=implausible)
    if ask.material is not None and pipe_materials()[ask.material].metal:
        limit = limit_of(ask.material, ask.water_temperature)
        message = (
            "Above its velocity limit, water erodes metal at bends and fittings. Hot water erodes faster "
            "than cold water."
        )
        notes.warn("erosion", "velocity", message, when=speed > limit)


@dataclass(slots=True)
class _Surge:
    """Water hammer of one flow; see the fields of the answer."""

    wave_speed: Numbers | None = None
    surge: Numbers | None = None
    reflection_time: Numbers | None = None
    closing_surge: Numbers | None = None
    peak: Numbers | None = None


def _surge(ask: VelocityRequest[Numbers], speed: Numbers, bore: Numbers, notes: Notes) -> _Surge:
    modulus, wall = ask.elastic_modulus, ask.wall
    if ask.material is not None:
        material = pipe_materials()[ask.material]
        if wall is None and ask.nominal_size is not None:
            wall = material.sizes[ask.nominal_size].wall
        if modulus is None and wall is not None:
            modulus = _modulus(ask, ask.material, notes)
    if modulus is None or wall is None:
        return _Surge()
    notes.add_basis(_KORTEWEG)
    notes.caution("pressure")
    density = water.density(ask.water_temperature)
    wave = surge.wave_speed(surge.sound_speed(ask.water_temperature), density, bore, wall, modulus)
    rise = whole = surge.joukowsky_surge(density, wave, speed)
    found = _Surge(wave, whole)
    if ask.length is not None:
        found.reflection_time = surge.reflection_time(ask.length, wave)
        if ask.closing_time is not None:
            notes.add_basis(_MICHAUD)
            found.closing_surge = rise = surge.closing_surge(whole, found.reflection_time, ask.closing_time)
            message = (
                "The valve closes before the pressure wave returns, so the full surge occurs. Fit a water-hammer "
                "arrester next to the valve, or a valve that closes more slowly."
            )
            quick = ask.closing_time <= found.reflection_time
            notes.warn("quick_closing_valve", "closing_time", message, when=quick)
    if ask.static_pressure is not None:
        found.peak = ask.static_pressure + rise
        if ask.pressure_rating is not None:
            message = (
                "Static pressure plus surge is above the pressure rating of the pipework. Pipes or fittings can burst."
            )
            notes.warn("surge_above_rating", "peak_pressure", message, when=found.peak > ask.pressure_rating)
    return found
