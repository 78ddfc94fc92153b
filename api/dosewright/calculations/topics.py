"""Imports every topic, so that the register is complete."""

from dosewright.calculations import pipe

__all__ = ["pipe"]
