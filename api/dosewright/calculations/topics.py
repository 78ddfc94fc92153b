"""Imports every topic, so that the register is complete."""

from dosewright.calculations import chlorine, pipe, pressure_drop, uv, uv_derating

__all__ = ["chlorine", "pipe", "pressure_drop", "uv", "uv_derating"]
