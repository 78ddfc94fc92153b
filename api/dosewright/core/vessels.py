"""Water held by wells, tanks, chambers and pipes."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core import annulus
from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

__all__ = ["annulus_volume", "cylinder_volume", "standing_water", "water_held"]

_QUARTER_PI: Final = np.pi / 4.0


def cylinder_volume(diameter: Values, length: Values) -> Values:
    """Volume of a round vessel: a casing's standing water, a dug well, the contents of a pipe.

    Parameters
    ----------
    diameter : float or array
        Inside diameter [m].
    length : float or array
        Length, or height of the water [m].

    Returns
    -------
    float or array
        Volume [m³].

    Raises
    ------
    ValueError
        A diameter or length is not finite and above zero.
    """
    refuse_unless_positive("diameter", diameter)
    refuse_unless_positive("length", length)
    return _QUARTER_PI * (diameter * diameter) * length


def annulus_volume(outer_diameter: Values, inner_diameter: Values, length: Values) -> Values:
    """Volume between two concentric cylinders: a chamber round its sleeve, a casing round its drop pipe.

    Parameters
    ----------
    outer_diameter : float or array
        Inside diameter of the outer cylinder [m].
    inner_diameter : float or array
        Outside diameter of the inner cylinder, below the outer one [m].
    length : float or array
        Length [m].

    Returns
    -------
    float or array
        Volume [m³].

    Raises
    ------
    ValueError
        A size is not finite and above zero, or the inner cylinder does not fit inside the outer one.
    """
    refuse_unless_positive("outer diameter", outer_diameter)
    refuse_unless_positive("inner diameter", inner_diameter)
    refuse_unless_positive("length", length)
    refuse_unless(inner_diameter < outer_diameter, "inner diameter must be below outer diameter")
    return annulus.volume(0.5 * outer_diameter, 0.5 * inner_diameter, length)


def standing_water(well_depth: Values, water_level: Values) -> Values:
    """Height of the water that stands in a well.

    Parameters
    ----------
    well_depth : float or array
        Depth of the bottom of the well [m].
    water_level : float or array
        Depth of the resting water surface below the same point [m]; below zero where the water stands above it.

    Returns
    -------
    float or array
        Height of the water [m].

    Raises
    ------
    ValueError
        The water level lies at or below the bottom of the well.
    """
    refuse_unless(well_depth > water_level, "water level must lie above the bottom of the well")
    return well_depth - water_level


def water_held(volume: Values, fill: Values) -> Values:
    """Water in a vessel that is only partly full, as a pressure tank under its air cushion is.

    Parameters
    ----------
    volume : float or array
        Volume of the whole vessel [m³].
    fill : float or array
        Share of it that holds water, above 0 and at most 1 [1].

    Returns
    -------
    float or array
        Volume of water [m³].

    Raises
    ------
    ValueError
        The volume is not finite and above zero, or the share is outside its range.
    """
    refuse_unless_positive("volume", volume)
    refuse_unless((fill > 0.0) & (fill <= 1.0), "fill must lie above 0 and at most at 1")
    return volume * fill
