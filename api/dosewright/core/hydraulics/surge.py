"""Water hammer: how fast a pressure wave runs along a pipe, and how high it rises when a valve closes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["closing_surge", "joukowsky_surge", "modulus_at", "reflection_time", "sound_speed", "wave_speed"]

# Marczak 1997, m/s over powers of the temperature in °C.
_SOUND: Final = (1.402385e3, 5.038813, -5.799136e-2, 3.287156e-4, -1.398845e-6, 2.787860e-9)


def sound_speed(temperature: Values) -> Values:
    """Speed of sound in liquid water at atmospheric pressure.

    Parameters
    ----------
    temperature : float or array
        Water temperature. [K]

    Returns
    -------
    float or array
        Speed of sound. [m/s]

    Raises
    ------
    ValueError
        A temperature is outside 273.15 K to 373.15 K.

    Notes
    -----
    Fitted to 0 °C to 95 °C; carried to 100 °C it stays within 0.1 % of IAPWS-95.

    References
    ----------
    W. Marczak (1997), Water as a standard in the measurements of speed of sound in liquids, Journal of the Acoustical
    Society of America 102(5), 2776-2779, doi:10.1121/1.420332.

    Examples
    --------
    >>> round(float(sound_speed(293.15)), 2)
    1482.38
    """
    refuse_unless(
        (temperature >= 273.15) & (temperature <= 373.15), "water temperature must be within 273.15 K to 373.15 K"
    )
    t = temperature - 273.15
    speed = _SOUND[-1]
    for coefficient in reversed(_SOUND[:-1]):
        speed = coefficient + t * speed
    return speed


def wave_speed(sound: Values, density: Values, bore: Values, wall: Values, elastic_modulus: Values) -> Values:
    """Speed of a pressure wave in the water of an elastic pipe.

    Parameters
    ----------
    sound : float or array
        Speed of sound in the water. [m/s]
    density : float or array
        Density of the water. [kg/m³]
    bore, wall : float or array
        Inside diameter and wall of the pipe. [m]
    elastic_modulus : float or array
        Modulus of elasticity of the wall. [Pa]

    Returns
    -------
    float or array
        Speed of the wave, below that of sound. [m/s]

    Raises
    ------
    ValueError
        A bore, wall or modulus is not above zero.

    Notes
    -----
    sound / sqrt(1 + density sound² bore / (modulus wall)). A thin wall free to stretch along the pipe; held walls and
    thick ones change the speed by a few percent. Air in the water lowers it much.

    References
    ----------
    D. J. Korteweg (1878), Ueber die Fortpflanzungsgeschwindigkeit des Schalles in elastischen Röhren, Annalen der
    Physik 241(12), 525-542, doi:10.1002/andp.18782411206.

    Examples
    --------
    >>> round(float(wave_speed(1450.0, 1000.0, 0.3, 0.02, 2.6e9)))
    400
    """
    refuse_unless((bore > 0.0) & (wall > 0.0), "bore and wall must be above zero")
    refuse_unless(elastic_modulus > 0.0, "modulus of elasticity must be above zero")
    return sound / np.sqrt(1.0 + density * sound * sound * bore / (elastic_modulus * wall))


def joukowsky_surge(density: Values, wave_speed: Values, velocity: Values) -> Values:
    """Pressure rise where a flow is stopped at once: density x wave speed x velocity.

    Parameters
    ----------
    density : float or array
        Density of the water. [kg/m³]
    wave_speed : float or array
        Speed of the pressure wave. [m/s]
    velocity : float or array
        Velocity that is stopped. [m/s]

    Returns
    -------
    float or array
        Rise above the pressure before. [Pa]

    References
    ----------
    N. Joukowsky (1900), Über den hydraulischen Stoss in Wasserleitungsröhren, Mémoires de l'Académie Impériale des
    Sciences de St.-Pétersbourg, series 8, 9(5).

    Examples
    --------
    >>> joukowsky_surge(1000.0, 1200.0, 1.5)
    1800000.0
    """
    return density * wave_speed * velocity


def reflection_time(length: Values, wave_speed: Values) -> Values:
    """Time in which the wave runs to the tank or main and back: a valve that closes within it is quick.

    Parameters
    ----------
    length : float or array
        Length of pipe from the valve to the tank or main. [m]
    wave_speed : float or array
        Speed of the pressure wave. [m/s]

    Returns
    -------
    float or array
        2 length / wave speed. [s]

    Raises
    ------
    ValueError
        A wave speed is not above zero.

    Source
    ------
    Definition: twice the length over the wave speed.

    Examples
    --------
    >>> reflection_time(60.0, 1200.0)
    0.1
    """
    refuse_unless(wave_speed > 0.0, "wave speed must be above zero")
    return 2.0 * length / wave_speed


def closing_surge(surge: Values, reflection_time: Values, closing_time: Values) -> Values:
    """Pressure rise where a valve closes in a stated time.

    Parameters
    ----------
    surge : float or array
        Rise where the flow is stopped at once. [Pa]
    reflection_time : float or array
        Time in which the wave runs to the tank or main and back. [s]
    closing_time : float or array
        Time in which the valve closes. [s]

    Returns
    -------
    float or array
        The whole rise up to the reflection time, then less in proportion. [Pa]

    Notes
    -----
    Michaud's estimate for a flow that falls evenly. A valve stops most of the flow at the end of its travel, so
    that its effective closing time is shorter than the time it takes.

    References
    ----------
    J. Michaud (1878), Coups de bélier dans les conduites, Bulletin de la Société Vaudoise des Ingénieurs et des
    Architectes 4.

    Examples
    --------
    >>> float(closing_surge(1.8e6, 0.1, 0.05)), round(closing_surge(1.8e6, 0.1, 1.0))
    (1800000.0, 180000)
    """
    quick = closing_time <= reflection_time
    return np.where(quick, surge, surge * (reflection_time / np.where(quick, 1.0, closing_time)))[()]


def modulus_at(temperature: Values, temperatures: Sequence[float], moduli: Sequence[float]) -> Values:
    """Modulus of elasticity at a temperature, between published ones in its logarithm.

    Parameters
    ----------
    temperature : float or array
        Of the wall. [K]
    temperatures : sequence of float
        Rising. [K]
    moduli : sequence of float
        At these temperatures. [Pa]

    Returns
    -------
    float or array
        Exactly the published one at its own temperature. Held at the ends: above the warmest it is too high, and the
        surge with it. [Pa]

    Source
    ------
    Derived here: straight between the published temperatures, in the logarithm of the modulus.

    Examples
    --------
    >>> float(modulus_at(300.0, (273.15,), (1.2e11,))), round(float(modulus_at(295.0, (290.0, 300.0), (4.0, 1.0))), 12)
    (120000000000.0, 2.0)
    """
    at = np.asarray(moduli, dtype=float)
    place = np.interp(temperature, temperatures, np.arange(len(at)))
    below = np.floor(place).astype(int)
    above = np.minimum(below + 1, len(at) - 1)
    return (at[below] * np.power(at[above] / at[below], place - below))[()]
