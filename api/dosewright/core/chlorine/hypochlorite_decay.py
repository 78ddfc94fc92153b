"""Loss of strength of a stored hypochlorite solution."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dosewright.core.arrays import Array

__all__ = [
    "COLDEST",
    "HOTTEST",
    "chlorate_formed",
    "decomposition_constant",
    "half_life",
    "hypochlorite_left",
    "ionic_strength_of_solution",
    "left_after",
    "tabulated_half_life",
]

COLDEST: Final = 273.15
"""Lower end of the rate law here, 0 °C [K]."""

HOTTEST: Final = 333.15
"""Upper end of the rate law here, 60 °C [K]."""

_STRONGEST_SALT: Final = 6000.0  # mol/m³
_ROUNDING: Final = 1e-6
_LN_10: Final = np.log(10.0)

# The gas constant as the relation's authors write it: with the modern one the constant is 0.3 % higher.
_GAS_CONSTANT: Final = 8.314
_FREQUENCY: Final = 2.083e10
_ENTHALPY: Final = 1.018e5
_ENTROPY: Final = -56.5
_SALT: Final = 0.149


def ionic_strength_of_solution(hypochlorite: Values) -> Values:
    """Ionic strength of a solution made from chlorine and caustic soda.

    Parameters
    ----------
    hypochlorite : float or array
        Hypochlorite ion of the fresh solution [mol/m³].

    Returns
    -------
    float or array
        Twice the hypochlorite: one sodium chloride forms with each sodium hypochlorite [mol/m³].

    Raises
    ------
    ValueError
        The value is not finite and above zero.

    Notes
    -----
    Cl₂ + 2 NaOH → NaOCl + NaCl + H₂O. Excess caustic (about 0.05 mol/L) is ignored; low-salt products contain less.

    Source
    ------
    Definition: ionic strength, with the reaction of the notes.
    """
    refuse_unless_positive("hypochlorite", hypochlorite)
    return 2.0 * hypochlorite


def decomposition_constant(temperature: Values, ionic_strength: Values) -> Values:
    """Rate constant of the second-order decomposition of hypochlorite ion.

    Parameters
    ----------
    temperature : float or array
        Temperature, within 273.15 to 333.15 (0 to 60 °C) [K].
    ionic_strength : float or array
        Ionic strength, at most 6000 (6 mol/L) [mol/m³].

    Returns
    -------
    float or array
        Rate constant k in -dc/dt = k c² [m³/(mol s)].

    Raises
    ------
    ValueError
        Temperature or ionic strength is out of range.

    Notes
    -----
    log₁₀ k = 0.149 I + log₁₀(2.083·10¹⁰ T exp(-1.018·10⁵/(R T)) exp(-56.5/R)), k in L/(mol s) and I in mol/L. For
    clean solutions of pH 11 to 13; copper, nickel and light speed it. The activation energy that follows,
    104 kJ/mol at room temperature, agrees with the 24.8 kcal/mol of Lister's slow step.

    References
    ----------
    Gordon, G., Adam, L., Bubnis, B., 1995. Minimizing chlorate formation. J. AWWA 87(6), 97-106. Digits from memory.
    Lister, M. W., 1956. Decomposition of sodium hypochlorite: the uncatalyzed reaction. Can. J. Chem. 34(4), 465-478.
    doi:10.1139/v56-068 (abstract read).
    """
    refuse_unless(
        (temperature >= COLDEST - _ROUNDING) & (temperature <= HOTTEST + _ROUNDING),
        "temperature must be within 0 to 60 °C",
    )
    refuse_unless(
        (ionic_strength >= 0.0) & (ionic_strength <= _STRONGEST_SALT), "ionic strength must be within 0 to 6 mol/L"
    )
    salt = np.exp(_LN_10 * _SALT * (ionic_strength * 1e-3))
    barrier = np.exp(-_ENTHALPY / (_GAS_CONSTANT * temperature)) * np.exp(_ENTROPY / _GAS_CONSTANT)
    return 1e-3 * salt * (_FREQUENCY * temperature) * barrier


def hypochlorite_left(hypochlorite: Values, constant: Values, time: Values) -> Values:
    """Hypochlorite that remains after a storage time.

    Parameters
    ----------
    hypochlorite : float or array
        Hypochlorite at first [mol/m³].
    constant : float or array
        Rate constant [m³/(mol s)].
    time : float or array
        Time in store, at least 0 [s].

    Returns
    -------
    float or array
        c/(1 + k c t) [mol/m³].

    Raises
    ------
    ValueError
        A value is out of range.

    Notes
    -----
    Ionic strength stays as it was: 3 ClO⁻ → ClO₃⁻ + 2 Cl⁻ keeps the number of ions.

    Source
    ------
    Derived here: the second-order rate of `decomposition_constant`, integrated over time.
    """
    refuse_unless_positive("hypochlorite", hypochlorite)
    refuse_unless_positive("constant", constant)
    refuse_unless((time >= 0.0) & (time < np.inf), "time must be finite and at least 0")
    return hypochlorite / (1.0 + constant * hypochlorite * time)


def half_life(hypochlorite: Values, constant: Values) -> Values:
    """Time in which half of the hypochlorite is lost. The next half-life is twice as long.

    Parameters
    ----------
    hypochlorite : float or array
        Hypochlorite at first [mol/m³].
    constant : float or array
        Rate constant [m³/(mol s)].

    Returns
    -------
    float or array
        1/(k c) [s].

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Source
    ------
    Derived here: from `hypochlorite_left`.
    """
    refuse_unless_positive("hypochlorite", hypochlorite)
    refuse_unless_positive("constant", constant)
    return 1.0 / (constant * hypochlorite)


def left_after(time: Values, half_life_at_first: Values) -> Values:
    """Share of the hypochlorite that remains, from the half-life of the fresh solution.

    Parameters
    ----------
    time : float or array
        Time in store, at least 0 [s].
    half_life_at_first : float or array
        Half-life of the fresh solution [s].

    Returns
    -------
    float or array
        1/(1 + t/half-life), as second order has it [1].

    Raises
    ------
    ValueError
        A value is out of range.

    Source
    ------
    Derived here: from `hypochlorite_left`, with the constant taken out of the half-life.
    """
    refuse_unless_positive("half_life_at_first", half_life_at_first)
    refuse_unless((time >= 0.0) & (time < np.inf), "time must be finite and at least 0")
    return 1.0 / (1.0 + time / half_life_at_first)


def tabulated_half_life(
    strength: Values, temperature: Values, strengths: Sequence[float], rows: Sequence[tuple[Array, Array]]
) -> Values:
    """Half-life of a fresh solution, interpolated in a published table.

    Parameters
    ----------
    strength : float or array
        Available chlorine [kg/m³].
    temperature : float or array
        Temperature, no warmer than the warmest of every row [K].
    strengths : sequence of float
        Strength of each row of the table, rising; two or more [kg/m³].
    rows : sequence of (array, array)
        Temperatures [K], rising, and half-lives [s] at each strength.

    Returns
    -------
    float or array
        Half-life [s]. Linear in its logarithm over 1/T and over the logarithm of the strength.

    Raises
    ------
    ValueError
        A value is out of range.

    Notes
    -----
    Below the table's temperatures or strengths, its coldest or weakest entry is used: the half-life is too short. Above
    its strengths, the slope between its two strongest rows is extrapolated.

    Source
    ------
    Derived here: straight between the strengths of the caller's table, in logarithms.
    """
    refuse_unless_positive("strength", strength)
    warmest = min(float(temperatures[-1]) for temperatures, _ in rows)
    refuse_unless(
        (temperature >= COLDEST - _ROUNDING) & (temperature <= warmest + _ROUNDING), "temperature is outside the table"
    )
    logs = [np.interp(-1.0 / temperature, -1.0 / temperatures, np.log(lives)) for temperatures, lives in rows]
    result = logs[0]
    for place in range(len(logs) - 1):
        low, high = strengths[place], strengths[place + 1]
        along = np.log(strength / low) / np.log(high / low)
        result = np.where(strength > low, logs[place] + along * (logs[place + 1] - logs[place]), result)
    return np.exp(result)[()]


def chlorate_formed(hypochlorite_lost: Values) -> Values:
    """Chlorate ion formed from the lost hypochlorite.

    Parameters
    ----------
    hypochlorite_lost : float or array
        Hypochlorite lost, at least 0 [mol/m³].

    Returns
    -------
    float or array
        A third of it: an upper bound, since up to a tenth goes to oxygen instead [mol/m³].

    Raises
    ------
    ValueError
        The value is below zero or not finite.

    References
    ----------
    As for `decomposition_constant`.
    """
    refuse_unless((hypochlorite_lost >= 0.0) & (hypochlorite_lost < np.inf), "loss must be finite and at least 0")
    return hypochlorite_lost / 3.0
