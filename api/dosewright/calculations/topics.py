"""Imports every topic, so that the register is complete."""

from dosewright.calculations import (
    chlorine,
    commissioning,
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
)

__all__ = [
    "chlorine",
    "commissioning",
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
]
