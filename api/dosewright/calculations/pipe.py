"""Calculations of the pipe topic."""

import numpy as np

from dosewright.calculations.notes import Notes, label
from dosewright.calculations.registry import calculation
from dosewright.contracts.base import Basis
from dosewright.contracts.pipe import VelocityAnswer, VelocityRequest
from dosewright.core import water
from dosewright.quantities import Numbers

__all__ = ["velocity"]

_CONTINUITY = Basis(
    method="mean velocity = flow / bore area; Reynolds number = velocity x bore / kinematic viscosity",
    source="definitions; viscosity and density of water: IAPWS SR6-08(2011)",
    validity="liquid water, 0 to 100 degC, near atmospheric pressure",
)


@calculation(
    "pipe/velocity",
    request=VelocityRequest,
    answer=VelocityAnswer,
    summary="Velocity and flow regime in a pipe",
    example={"flow": "9 gal/min", "bore": "20 mm", "water_temperature": "12 degC"},
)
def velocity(ask: VelocityRequest[Numbers], notes: Notes) -> VelocityAnswer[Numbers]:
    """Mean velocity and Reynolds number of water in a round pipe."""
    speed = ask.flow / (0.25 * np.pi * ask.bore * ask.bore)
    reynolds = speed * ask.bore / water.kinematic_viscosity(ask.water_temperature)
    notes.rest_on(_CONTINUITY)
    notes.caution("local_rules")
    return VelocityAnswer(
        velocity=speed,
        reynolds_number=reynolds,
        regime=label((reynolds >= 2000.0) * 1 + (reynolds >= 4000.0) * 1, ("laminar", "transition", "turbulent")),
    )
