"""Velocity of water in a pipe."""

from typing import Any

from dosewright.calculations.notes import Notes, label
from dosewright.calculations.pipe_choice import bore_of, published_limit, refuse_unclear_bore, sizes_of
from dosewright.calculations.registry import calculation
from dosewright.contracts.base import Basis
from dosewright.contracts.pipe import VelocityAnswer, VelocityRequest
from dosewright.core import friction, pipe, water
from dosewright.quantities import Numbers

__all__ = ["velocity"]

_CONTINUITY = Basis(
    method="mean velocity = flow / bore area; Reynolds number = velocity x bore / kinematic viscosity",
    source="definitions; viscosity and density of water: IAPWS SR6-08(2011)",
    validity="liquid water, 0 to 100 degC, near atmospheric pressure",
)
_ASKED = "Faster than the velocity limit asked for."


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
    },
)
def velocity(ask: VelocityRequest[Numbers], notes: Notes) -> VelocityAnswer[Numbers]:
    """Mean velocity, Reynolds number and flow regime of water in a full round pipe.

    The pipe is given by material and nominal size, or by its bore. The velocity is held against the limit published
    for the material at the water's temperature (without a material: against the one for pipes of any material), or
    against the limit asked for; the smallest bore and nominal size that keep below it are told.
    """
    notes.rest_on(_CONTINUITY)
    bore = bore_of(ask, notes)
    speed = pipe.velocity(ask.flow, bore)
    reynolds = pipe.reynolds_number(speed, bore, water.kinematic_viscosity(ask.water_temperature))
    if ask.velocity_limit is None:
        limit = published_limit(ask.material, ask.water_temperature, speed, notes, "velocity")
    else:
        limit = ask.velocity_limit
        notes.warn("velocity_above_limit", "velocity", _ASKED, when=speed > limit)
    smallest = pipe.bore_for_velocity(ask.flow, limit)
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
    )


@velocity.check("material", "nominal_size", "bore")
def _one_bore(ask: VelocityRequest[Numbers], notes: Notes) -> None:
    refuse_unclear_bore(ask, notes)


def _smallest_size(material: str | None, smallest: Numbers, notes: Notes) -> Any:
    if material is None:
        return None
    sizes = sizes_of(material)
    index = sizes.bores.searchsorted(smallest)
    message = "No nominal size of this material in the tables keeps the velocity below the limit."
    notes.warn("no_size_wide_enough", "smallest_nominal_size", message, when=index == len(sizes.bores))
    return label(index, sizes.names)
