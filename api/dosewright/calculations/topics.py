"""Imports every topic, so that the register is complete."""

from dosewright.calculations import (
    chlorine,
    clearance,
    commissioning,
    condensation,
    feed,
    largest_flow,
    neutralising,
    pipe,
    pressure_drop,
    product,
    speciation,
    upkeep,
    uv,
    uv_derating,
    water_check,
)

__all__ = [
    "chlorine",
    "clearance",
    "commissioning",
    "condensation",
    "feed",
    "largest_flow",
    "neutralising",
    "pipe",
    "pressure_drop",
    "product",
    "speciation",
    "upkeep",
    "uv",
    "uv_derating",
    "water_check",
]
