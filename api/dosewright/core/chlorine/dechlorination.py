"""Removing chlorine: reducing agents, and flushing."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Values
from dosewright.core.bounds import refuse_unless_positive
from dosewright.core.chlorine.chlorine import CHLORINE

__all__ = ["flush_volume", "neutraliser_mass", "stoichiometric_ratio"]


def stoichiometric_ratio(molar_mass: Values, chlorine_reduced: Values) -> Values:
    """Mass of a reducing agent that neutralises one mass of chlorine.

    Parameters
    ----------
    molar_mass : float or array
        Molar mass of the agent, with its water of crystallisation [kg/mol].
    chlorine_reduced : float or array
        Moles of Cl₂ that one mole of the agent reduces [1].

    Returns
    -------
    float or array
        Agent per chlorine [kg/kg].

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Source
    ------
    Mass balance: molar masses of the reaction that the caller names.
    """
    refuse_unless_positive("molar mass", molar_mass)
    refuse_unless_positive("chlorine reduced", chlorine_reduced)
    return molar_mass / (chlorine_reduced * CHLORINE)


def neutraliser_mass(volume: Values, concentration: Values, ratio: Values) -> Values:
    """Mass of a reducing agent that neutralises the chlorine in a volume of water.

    Parameters
    ----------
    volume : float or array
        Water to neutralise [m³].
    concentration : float or array
        Free chlorine in it [kg/m³].
    ratio : float or array
        Agent per chlorine, from `stoichiometric_ratio` or from a handbook [kg/kg].

    Returns
    -------
    float or array
        Agent [kg].

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Source
    ------
    Mass balance: mass of chlorine x mass of the agent for each mass of chlorine.
    """
    refuse_unless_positive("volume", volume)
    refuse_unless_positive("concentration", concentration)
    refuse_unless_positive("ratio", ratio)
    return volume * concentration * ratio


def flush_volume(volume: Values, concentration: Values, residual: Values) -> Values:
    """Clean water that dilutes a chlorinated volume to a residual, if the two mix fully.

    Parameters
    ----------
    volume : float or array
        Volume of chlorinated water [m³].
    concentration : float or array
        Free chlorine in it [kg/m³].
    residual : float or array
        Required free chlorine at the end, above zero [kg/m³].

    Returns
    -------
    float or array
        Water to run through [m³]; 0 where the concentration is not above the residual.

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Notes
    -----
    V ln(c/r): one fully mixed vessel. Displacement without mixing would need one volume. A real system is in between,
    and only a water sample, not this figure, shows when flushing is complete.

    Source
    ------
    Mass balance: of one fully mixed vessel, integrated over the volume.
    """
    refuse_unless_positive("volume", volume)
    refuse_unless_positive("concentration", concentration)
    refuse_unless_positive("residual", residual)
    return volume * np.maximum(np.log(concentration / residual), 0.0)
