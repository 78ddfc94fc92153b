"""Pipes: peak demand, velocity, pressure loss and volume."""

from dosewright.topics.pipe import largest_flow, peak, pressure_drop, velocity, volume

__all__ = ["largest_flow", "peak", "pressure_drop", "velocity", "volume"]
