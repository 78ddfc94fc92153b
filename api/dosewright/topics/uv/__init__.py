"""Ultraviolet disinfection: dose, derated flow, limits and what they depend on."""

from dosewright.topics.uv import curves, derated_flow, dose, field_models, inactivation, uncertainty, water

__all__ = ["curves", "derated_flow", "dose", "field_models", "inactivation", "uncertainty", "water"]
