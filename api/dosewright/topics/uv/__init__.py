"""Ultraviolet disinfection: dose, derated flow, limits and what they depend on."""

from dosewright.topics.uv import (
    derated_flow,
    derating_curve,
    dose,
    field_models,
    fluence_map,
    idle_heating,
    inactivation,
    limits,
    transmittance,
    uncertainty,
)

__all__ = [
    "derated_flow",
    "derating_curve",
    "dose",
    "field_models",
    "fluence_map",
    "idle_heating",
    "inactivation",
    "limits",
    "transmittance",
    "uncertainty",
]
