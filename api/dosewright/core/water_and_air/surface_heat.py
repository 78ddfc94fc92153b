"""Surface temperature of an insulated pipe, and the insulation that keeps it above a required temperature."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive
from dosewright.core.constants import STANDARD_GRAVITY

__all__ = [
    "GREATEST_THICKNESS",
    "air_film_coefficient",
    "insulation_thickness",
    "natural_convection_coefficient",
    "surface_temperature",
]

GREATEST_THICKNESS: Final = 0.5
"""Insulation thicker than this is not looked for [m]."""

_COLDEST, _HOTTEST = 223.15, 373.15
_STEFAN_BOLTZMANN: Final = 5.670374419e-8  # CODATA 2018 [W/(m²·K⁴)]
_PRESSURE: Final = 101325.0
_GAS_CONSTANT: Final = 287.05287  # of dry air [J/(kg·K)]
_HEAT_CAPACITY: Final = 1006.0  # of dry air at room temperature [J/(kg·K)]

# Steps after which the error is at rounding from any start, the slowest of many random cases and some to spare.
_TEMPERATURE_STEPS: Final = 8
_THICKNESS_STEPS: Final = 12


def _air(temperature: Values) -> tuple[Values, Values, Values]:
    """Return kinematic viscosity [m²/s], conductivity [W/(m·K)] and Prandtl number of dry air at one atmosphere."""
    root = temperature * np.sqrt(temperature)
    viscosity = 1.458e-6 * root / (temperature + 110.4)
    conductivity = 2.64638e-3 * root / (temperature + 245.4 * np.exp(-27.631021115928547 / temperature))
    kinematic = viscosity * (_GAS_CONSTANT * temperature) / _PRESSURE
    return kinematic, conductivity, viscosity * _HEAT_CAPACITY / conductivity


def _chosen(condition: Any, one: Values, other: Values) -> Values:
    return np.where(condition, one, other)[()]


class _Film(NamedTuple):
    """A heat transfer coefficient by the outside's diameter: (least + growth sqrt(diameter))² passed/diameter + even.

    Attributes
    ----------
    least, growth : float or array
        Of the square root of the Nusselt number. [-], [m^(-1/2)]
    passed : float or array
        Conductivity of the air. [W/(m·K)]
    even : float or array
        The part that does not depend on the diameter. [W/(m²·K)]
    """

    least: Values
    growth: Values
    passed: Values
    even: Values

    def by_diameter(self, diameter: Values) -> tuple[Values, Values]:
        """Coefficient times diameter [W/(m·K)], and its slope along the logarithm of the diameter."""
        grown = self.growth * np.sqrt(diameter)
        root, even = self.least + grown, self.even * diameter
        return root * root * self.passed + even, root * grown * self.passed + even


def _still_air(
    surface_temperature: Values, air_temperature: Values, *, vertical: bool
) -> tuple[Values, Values, Values]:
    """Return the square root of the Nusselt number: its start, its gain by the root of the size; with k of the air."""
    for temperature in (surface_temperature, air_temperature):
        refuse_unless(
            (temperature >= _COLDEST) & (temperature <= _HOTTEST),
            "temperatures in air must be within 223.15 K to 373.15 K",
        )
    mean = 0.5 * (surface_temperature + air_temperature)
    kinematic, conductivity, prandtl = _air(mean)
    drop = np.abs(air_temperature - surface_temperature)
    least, share = (0.825, 0.492) if vertical else (0.60, 0.559)
    damping = np.power(1.0 + np.power(share / prandtl, 9.0 / 16.0), 8.0 / 27.0)
    by_cube = STANDARD_GRAVITY * drop / mean / (kinematic * kinematic) * prandtl  # Rayleigh number over the size's cube
    return least, 0.387 * np.power(by_cube, 1.0 / 6.0) / damping, conductivity


def _radiation(surface_temperature: Values, air_temperature: Values, emittance: Values) -> Values:
    refuse_unless((emittance >= 0.0) & (emittance <= 1.0), "emittance must be within 0 to 1")
    squares = surface_temperature * surface_temperature + air_temperature * air_temperature
    return emittance * _STEFAN_BOLTZMANN * squares * (surface_temperature + air_temperature)


def natural_convection_coefficient(
    surface_temperature: Values, air_temperature: Values, size: Values, *, vertical: bool = False
) -> Values:
    """Heat transfer coefficient of still air around a horizontal or vertical cylinder.

    Parameters
    ----------
    surface_temperature, air_temperature : float or array
        Temperature of the surface and of the air far from it. [K]
    size : float or array
        Diameter of a horizontal cylinder, or height of a vertical one. [m]
    vertical : bool
        Whether the cylinder is vertical.

    Returns
    -------
    float or array
        Heat transfer coefficient. [W/(m²·K)]

    Raises
    ------
    ValueError
        A temperature is outside 223.15 K to 373.15 K, or a size is not finite and above zero.

    Notes
    -----
    Nu = (a + 0.387 Ra^(1/6)/(1 + (b/Pr)^(9/16))^(8/27))², with a = 0.60, b = 0.559 on the diameter of a horizontal
    cylinder and a = 0.825, b = 0.492 on the height of a vertical surface; Ra to 1e12. The curvature of a standing
    cylinder, which raises it, is ignored. Properties of dry air at the mean of both temperatures and one atmosphere.

    References
    ----------
    Churchill and Chu (1975), International Journal of Heat and Mass Transfer 18, 1049 and 1323. U.S. Standard
    Atmosphere (1976), equations for viscosity and conductivity of air.
    """
    refuse_unless_positive("size", size)
    least, growth, conductivity = _still_air(surface_temperature, air_temperature, vertical=vertical)
    root = least + growth * np.sqrt(size)
    return root * root * conductivity / size


def air_film_coefficient(
    surface_temperature: Values,
    air_temperature: Values,
    diameter: Values,
    emittance: Values,
    height: Values | None = None,
) -> Values:
    """Heat transfer coefficient of still air and of radiation from surroundings at the air's temperature.

    Parameters
    ----------
    surface_temperature, air_temperature : float or array
        Temperature of the surface, and of air and surroundings. [K]
    diameter : float or array
        Outside diameter. [m]
    emittance : float or array
        Emittance of the surface, 0 to 1. [1]
    height : float or array, optional
        Height of a vertical cylinder; without it, the cylinder is horizontal. [m]

    Returns
    -------
    float or array
        Heat transfer coefficient. [W/(m²·K)]

    Raises
    ------
    ValueError
        A temperature is outside 223.15 K to 373.15 K, an emittance outside 0 to 1, or a size is not above zero.

    Notes
    -----
    Natural convection plus emittance x sigma x (T₁² + T₂²)(T₁ + T₂).

    References
    ----------
    See `natural_convection_coefficient`; Stefan-Boltzmann law with the constant of CODATA 2018.
    """
    size = diameter if height is None else height
    convection = natural_convection_coefficient(surface_temperature, air_temperature, size, vertical=height is not None)
    return convection + _radiation(surface_temperature, air_temperature, emittance)


def _resistance_ratio(inner: Values, outer: Values, conductivity: Values) -> Values:
    """Return what the insulation's resistance is to that of a film of 1 W/(m²·K) on its outside [W/(m²·K)]⁻¹."""
    return 0.5 * outer * np.log(outer / inner) / conductivity


def surface_temperature(
    water_temperature: Values,
    air_temperature: Values,
    diameter: Values,
    thickness: Values,
    conductivity: Values,
    emittance: Values,
    height: Values | None = None,
    film: Values | None = None,
) -> Values:
    """Temperature of the outside of an insulated pipe or chamber.

    Parameters
    ----------
    water_temperature, air_temperature : float or array
        Temperature of the water, and of air and surroundings. [K]
    diameter : float or array
        Outside diameter of the bare pipe. [m]
    thickness : float or array
        Thickness of the insulation, 0 where bare. [m]
    conductivity : float or array
        Conductivity of the insulation. [W/(m·K)]
    emittance : float or array
        Emittance of the outside. [1]
    height : float or array, optional
        Height of a vertical cylinder. [m]
    film : float or array, optional
        Heat transfer coefficient outside, in place of the computed one. [W/(m²·K)]

    Returns
    -------
    float or array
        Temperature of the outside. [K]

    Raises
    ------
    ValueError
        A size or conductivity is not above zero, a thickness is negative, or a temperature is out of range.

    Notes
    -----
    Steady state: what passes the film passes the insulation. The bare wall takes the temperature of the water, which
    underestimates the temperature: wall and inner film of the pipe are ignored.

    Source
    ------
    Energy balance: radial conduction through a cylinder, and the film of `air_film_coefficient`.
    """
    refuse_unless_positive("diameter", diameter)
    refuse_unless_positive("conductivity", conductivity)
    refuse_unless((thickness >= 0.0) & (thickness < np.inf), "thickness must be finite and not negative")
    outer = diameter + 2.0 * thickness
    ratio = _resistance_ratio(diameter, outer, conductivity)
    across = air_temperature - water_temperature

    def closer(share: Values) -> Values:
        """Share of the temperature rise across the insulation, from the film coefficient at an assumed share."""
        here = water_temperature + share * across
        outside = air_film_coefficient(here, air_temperature, outer, emittance, height) if film is None else film
        return ratio * outside / (1.0 + ratio * outside)

    before: Values = 0.5 + 0.0 * ratio
    share = closer(before)
    missed_before = share - before
    for _ in range(0 if film is not None else _TEMPERATURE_STEPS):
        missed = closer(share) - share
        if not np.any(missed):
            break
        # Where two points have the same error there is no chord. The share has converged and stays.
        turns = missed != missed_before
        chord = (share - before) / _chosen(turns, missed_before - missed, 1.0)
        step = _chosen(turns, share + missed * chord, share)
        before, missed_before = share, missed
        share = np.minimum(np.maximum(step, 0.0), 1.0)
    return water_temperature + share * across


def insulation_thickness(
    required: Values,
    water_temperature: Values,
    air_temperature: Values,
    diameter: Values,
    conductivity: Values,
    emittance: Values,
    height: Values | None = None,
    film: Values | None = None,
) -> Values:
    """Minimum thickness of insulation that keeps its outside at or above a required temperature.

    Parameters
    ----------
    required : float or array
        Required minimum temperature of the outside. [K]
    water_temperature, air_temperature : float or array
        Temperature of the water, and of air and surroundings. [K]
    diameter : float or array
        Outside diameter of the bare pipe. [m]
    conductivity, emittance, height, film : float or array
        As for `surface_temperature`.

    Returns
    -------
    float or array
        Thickness: 0 where the water itself is warm enough; not a number where the air is too cold or
        more than 0.5 m is required. [m]

    Raises
    ------
    ValueError
        A size or conductivity is not above zero, or a temperature is out of range.

    Notes
    -----
    Newton's steps in x, the logarithm of the diameters' ratio, on x times the heat absorbed by the outside at the
    required temperature. This is convex and rises, so steps from above never overshoot. The start is above, since
    the outside absorbs at least as much heat as the bare pipe.

    Source
    ------
    Energy balance: that of `surface_temperature`, solved by Newton's method.
    """
    refuse_unless_positive("diameter", diameter)
    refuse_unless_positive("conductivity", conductivity)
    lacking = required - water_temperature
    spare = air_temperature - required
    # A required temperature far away, or below the water's, is not used for the film. It is handled by `spare` and
    # `lacking` below.
    beside = _chosen((spare > 0.0) & (lacking > 0.0), required, air_temperature)
    outside = _film(beside, air_temperature, emittance, height, film)
    warmed = _chosen((spare > 0.0) & (lacking > 0.0), lacking / _chosen(spare > 0.0, spare, 1.0), 0.0)
    goal = 2.0 * conductivity * warmed
    greatest = np.log(1.0 + 2.0 * GREATEST_THICKNESS / diameter)
    most = greatest * outside.by_diameter(diameter * np.exp(greatest))[0]
    beyond, goal = most < goal, np.minimum(most, goal)
    logarithm = np.minimum(greatest, goal / outside.by_diameter(diameter)[0])
    for _ in range(_THICKNESS_STEPS):
        heat, slope = outside.by_diameter(diameter * np.exp(logarithm))
        logarithm = logarithm - (logarithm * heat - goal) / (heat + logarithm * slope)
    found = 0.5 * diameter * (np.exp(logarithm) - 1.0)
    found = _chosen(beyond, np.nan, found)
    return _chosen(lacking <= 0.0, 0.0, _chosen(spare <= 0.0, np.nan, found))


def _film(
    surface_temperature: Values, air_temperature: Values, emittance: Values, height: Values | None, film: Values | None
) -> _Film:
    """Return the outer film coefficient as a function of the diameter; constant if vertical or entered."""
    if film is not None:
        return _Film(0.0, 0.0, 0.0, film)
    if height is not None:
        return _Film(0.0, 0.0, 0.0, air_film_coefficient(surface_temperature, air_temperature, 1.0, emittance, height))
    least, growth, passed = _still_air(surface_temperature, air_temperature, vertical=False)
    return _Film(least, growth, passed, _radiation(surface_temperature, air_temperature, emittance))
