"""Volume of water in wells, tanks, chambers and pipes."""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive
from dosewright.core.hydraulics import annulus

__all__ = [
    "ATMOSPHERE",
    "annulus_volume",
    "box_volume",
    "cylinder_volume",
    "left_in_laminar_pipe",
    "pore_volume",
    "standing_water",
    "water_behind_air",
    "water_held",
]

_QUARTER_PI: Final = np.pi / 4.0

ATMOSPHERE: Final = 101325.0
"""Standard atmosphere [Pa]."""


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

    Source
    ------
    Definition: volume of a cylinder.
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

    Source
    ------
    Definition: geometry of two concentric cylinders.
    """
    refuse_unless_positive("outer diameter", outer_diameter)
    refuse_unless_positive("inner diameter", inner_diameter)
    refuse_unless_positive("length", length)
    refuse_unless(inner_diameter < outer_diameter, "inner diameter must be below outer diameter")
    return annulus.volume(0.5 * outer_diameter, 0.5 * inner_diameter, length)


def standing_water(well_depth: Values, water_level: Values) -> Values:
    """Height of the standing water in a well.

    Parameters
    ----------
    well_depth : float or array
        Depth of the bottom of the well [m].
    water_level : float or array
        Depth of the static water level below the same point [m]; negative if the water is above it.

    Returns
    -------
    float or array
        Height of the water [m].

    Raises
    ------
    ValueError
        The water level lies at or below the bottom of the well.

    Source
    ------
    Definition: depth less water level.
    """
    refuse_unless(well_depth > water_level, "water level must be above the bottom of the well")
    return well_depth - water_level


def water_held(volume: Values, fill: Values) -> Values:
    """Water in a vessel that is only partly full, as a pressure tank under its air cushion is.

    Parameters
    ----------
    volume : float or array
        Volume of the whole vessel [m³].
    fill : float or array
        Share of it that is water, above 0 and at most 1 [1].

    Returns
    -------
    float or array
        Volume of water [m³].

    Raises
    ------
    ValueError
        The volume is not finite and above zero, or the share is outside its range.

    Source
    ------
    Definition: volume x the share that is full.
    """
    refuse_unless_positive("volume", volume)
    refuse_unless((fill > 0.0) & (fill <= 1.0), "fill must be above 0 and at most 1")
    return volume * fill


def box_volume(length: Values, width: Values, depth: Values) -> Values:
    """Volume of water in a vessel with upright walls.

    Parameters
    ----------
    length, width, depth : float or array
        Inside length and width, and depth of the water [m].

    Returns
    -------
    float or array
        Volume [m³].

    Raises
    ------
    ValueError
        A size is not finite and above zero.

    Source
    ------
    Definition: volume of a box.
    """
    refuse_unless_positive("length", length)
    refuse_unless_positive("width", width)
    refuse_unless_positive("depth", depth)
    return length * width * depth


def pore_volume(outer_diameter: Values, inner_diameter: Values, length: Values, porosity: Values) -> Values:
    """Water in the pores of a gravel pack round a screen.

    Parameters
    ----------
    outer_diameter, inner_diameter : float or array
        Diameter of the hole, and outside diameter of the screen [m].
    length : float or array
        Length of the pack in water [m].
    porosity : float or array
        Share of the pack that is pores, between 0 and 1 [1].

    Returns
    -------
    float or array
        Volume [m³].

    Raises
    ------
    ValueError
        A size cannot be, or the porosity is not between 0 and 1.

    Source
    ------
    Definition: porosity.
    """
    refuse_unless((porosity > 0.0) & (porosity < 1.0), "porosity must be between 0 and 1")
    return annulus_volume(outer_diameter, inner_diameter, length) * porosity


def water_behind_air(volume: Values, precharge: Values, pressure: Values) -> Values:
    """Water in a pressure tank whose air was shut in at its precharge.

    Parameters
    ----------
    volume : float or array
        Volume of the whole tank [m³].
    precharge, pressure : float or array
        Gauge pressure of the air without water, and of the system [Pa].

    Returns
    -------
    float or array
        Volume of water; 0 where the pressure does not exceed the precharge [m³].

    Raises
    ------
    ValueError
        The volume is not above zero, or a pressure is below zero.

    Notes
    -----
    V (1 - (p₀ + patm)/(p + patm)): the air keeps its mass and comes back to its temperature (Boyle). At an altitude of
    2000 m the lower atmosphere gives 1 to 3 % of the tank more.

    References
    ----------
    Boyle's law; standard atmosphere 101,325 Pa: BIPM, The International System of Units, 9th ed. (2019).
    """
    refuse_unless_positive("volume", volume)
    refuse_unless((precharge >= 0.0) & (precharge < np.inf), "precharge must be finite and at least 0")
    refuse_unless((pressure >= 0.0) & (pressure < np.inf), "pressure must be finite and at least 0")
    share = 1.0 - (precharge + ATMOSPHERE) / (pressure + ATMOSPHERE)
    return volume * np.maximum(share, 0.0)


def left_in_laminar_pipe(exchanges: Values) -> Values:
    """Share of the old water that remains in a pipe after a number of volume changes in laminar flow.

    Parameters
    ----------
    exchanges : float or array
        Volume of water that has entered, divided by the volume of the pipe. [-]

    Returns
    -------
    float or array
        1 - exchanges until the fastest new water arrives, at half an exchange; 1 / (4 exchanges) from then on. [-]

    Notes
    -----
    The water that leaves at a time t has a share (T/2t)^2 of old water, from the parabolic profile without mixing. The
    rest follows by integration.

    Source
    ------
    Derived here: from the parabolic profile of laminar flow, as the notes say.

    Examples
    --------
    >>> left_in_laminar_pipe(1.0), left_in_laminar_pipe(0.25)
    (np.float64(0.25), np.float64(0.75))
    """
    return np.where(exchanges < 0.5, 1.0 - exchanges, 0.25 / np.maximum(exchanges, 0.5))[()]
