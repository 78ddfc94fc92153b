"""Constants that several subjects share; each is defined here once."""

from typing import Final

__all__ = ["CELSIUS_ZERO", "CENTIMETRE", "ROUNDING", "STANDARD_GRAVITY"]

CENTIMETRE: Final = 0.01
"""Path to which a transmittance (UVT) refers [m]."""

STANDARD_GRAVITY: Final = 9.80665
"""Standard acceleration of gravity [m/s²], 3rd CGPM (1901), exact by definition."""

CELSIUS_ZERO: Final = 273.15
"""0 °C [K], exact by definition (SI Brochure, 9th edition, 2019, section 2.3.1)."""

ROUNDING: Final = 1e-9
"""Relative difference that a conversion of units leaves; not a difference in the quantity."""
