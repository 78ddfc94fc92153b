"""Imports every topic, so that the register is complete."""

from dosewright.topics.chlorine import batch as chlorine
from dosewright.topics.chlorine import contact_time, feed, product, retest, speciation
from dosewright.topics.chlorine import ct_regression as ct_regressions
from dosewright.topics.chlorine import neutralise as neutralising
from dosewright.topics.pipe import largest_flow, pressure_drop
from dosewright.topics.pipe import peak as demand
from dosewright.topics.pipe import velocity as pipe
from dosewright.topics.pipe import volume as pipe_volume
from dosewright.topics.plan import plan
from dosewright.topics.site import clearance, commissioning, condensation, upkeep, water_check
from dosewright.topics.uv import curves as uv_curves
from dosewright.topics.uv import derated_flow as uv_derating
from dosewright.topics.uv import dose as uv
from dosewright.topics.uv import field_models as uv_field
from dosewright.topics.uv import inactivation as uv_inactivation
from dosewright.topics.uv import uncertainty as uv_uncertainty
from dosewright.topics.uv import water as uv_water

__all__ = [
    "chlorine",
    "clearance",
    "commissioning",
    "condensation",
    "contact_time",
    "ct_regressions",
    "demand",
    "feed",
    "largest_flow",
    "neutralising",
    "pipe",
    "pipe_volume",
    "plan",
    "pressure_drop",
    "product",
    "retest",
    "speciation",
    "upkeep",
    "uv",
    "uv_curves",
    "uv_derating",
    "uv_field",
    "uv_inactivation",
    "uv_uncertainty",
    "uv_water",
    "water_check",
]
