"""Shares of hypochlorous acid and hypochlorite ion in free chlorine."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dosewright.core.arrays import Values, refuse_unless

__all__ = [
    "COLDEST_FORMATION",
    "HIGHEST_PH",
    "HIGHEST_TEMPERATURE",
    "HOTTEST_FORMATION",
    "LOWEST_PH",
    "LOWEST_TEMPERATURE",
    "hypochlorous_acid_pka",
    "hypochlorous_acid_share",
    "ionic_strength_of_water",
    "pka_from_formation",
    "pka_in_salt",
    "share_at_pka",
    "speciation_known",
]

LOWEST_TEMPERATURE: Final = 278.15
"""Lower end of the equation's measurements, 5 °C [K]."""

HIGHEST_TEMPERATURE: Final = 308.15
"""Upper end of the equation's measurements, 35 °C [K]."""

LOWEST_PH: Final = 5.0
"""Below this, molecular chlorine, which the two-species balance leaves out, begins to appear."""

HIGHEST_PH: Final = 14.0
"""Upper end of the pH scale."""

# 41 degF converts to a value next to 5 °C because of rounding, and is treated as 5 °C.
_ROUNDING: Final = 1e-6

_LN_10: Final = np.log(10.0)

COLDEST_FORMATION: Final = 273.15
"""Lower end of `pka_from_formation`, 0 °C: 25 K below the temperature of its figures [K]."""

HOTTEST_FORMATION: Final = 323.15
"""Upper end of `pka_from_formation`, 50 °C [K]."""

_GAS_CONSTANT: Final = 8.314462618  # J/(mol K), exact in the SI of 2019
_REFERENCE: Final = 298.15  # K
# Ion less acid, of the formation properties of ClO⁻(aq) and HClO(aq) [J/mol].
_FREE_ENERGY: Final = -36.8e3 + 79.9e3
_ENTHALPY: Final = -107.1e3 + 120.9e3

_STRONGEST_SALT: Final = 0.5  # mol/L, where Davies' equation ends
_DAVIES_SLOPE: Final = 0.3
_DEBYE_HUECKEL: Final = 1.82e6


def _measured(temperature: Values) -> np.bool_ | NDArray[np.bool_]:
    return np.logical_and(temperature >= LOWEST_TEMPERATURE - _ROUNDING, temperature <= HIGHEST_TEMPERATURE + _ROUNDING)


def _two_species(ph: Values) -> np.bool_ | NDArray[np.bool_]:
    return np.logical_and(ph >= LOWEST_PH, ph <= HIGHEST_PH)


def speciation_known(ph: Values, temperature: Values) -> np.bool_ | NDArray[np.bool_]:
    """Return where the share of hypochlorous acid is known.

    Parameters
    ----------
    ph : float or array
        pH of the water [1].
    temperature : float or array
        Water temperature [K].

    Returns
    -------
    bool or array of bool
        Whether `hypochlorous_acid_share` answers there.

    Source
    ------
    Definition: the ranges of pH and temperature that `hypochlorous_acid_share` accepts.
    """
    return np.logical_and(_two_species(ph), _measured(temperature))


def hypochlorous_acid_pka(temperature: Values) -> Values:
    """Acid constant of hypochlorous acid in dilute water.

    Parameters
    ----------
    temperature : float or array
        Water temperature, within 278.15 to 308.15 (5 to 35 °C) [K].

    Returns
    -------
    float or array
        Negative decimal logarithm of the acid constant [1].

    Raises
    ------
    ValueError
        A temperature is outside the measured range. Water between freezing and 5 °C is rejected, not
        extrapolated; so is warmer water than 35 °C.

    Notes
    -----
    pKa = 3000.00/T - 10.0686 + 0.0253 T, for zero ionic strength. One textbook rounds to 7.54 at 25 °C (the equation:
    7.5366); another prints K = 2.7e-8 at 20 °C, pKa 7.569 (the equation: 7.582).

    References
    ----------
    Morris, J. C., 1966. The acid ionization constant of HOCl from 5 to 35°. J. Phys. Chem. 70(12), 3798-3805.
    doi:10.1021/j100884a007. The equation was read as later works quote it, not in the paper itself.
    """
    refuse_unless(
        _measured(temperature),
        f"the acid constant was measured from {LOWEST_TEMPERATURE} to {HIGHEST_TEMPERATURE} K (5 to 35 °C)",
    )
    return 3000.00 / temperature - 10.0686 + 0.0253 * temperature


def hypochlorous_acid_share(ph: Values, temperature: Values) -> Values:
    """Share of free chlorine that is hypochlorous acid, the form that disinfects fast.

    Parameters
    ----------
    ph : float or array
        pH of the water once the chlorine is in it, within 5 to 14 [1].
    temperature : float or array
        Water temperature, within 278.15 to 308.15 (5 to 35 °C) [K].

    Returns
    -------
    float or array
        Share of free chlorine as hypochlorous acid; the rest is hypochlorite ion [1].

    Raises
    ------
    ValueError
        pH or temperature is outside its range.

    Notes
    -----
    1/(1 + 10^(pH - pKa)), with the pKa of `hypochlorous_acid_pka`: two species, zero ionic strength. Dissolved salts
    lower the apparent pKa, so that the share in hard or salty water is a little below this.

    References
    ----------
    As for `hypochlorous_acid_pka`.
    """
    return share_at_pka(ph, hypochlorous_acid_pka(temperature))


def share_at_pka(ph: Values, pka: Values) -> Values:
    """Share of free chlorine that is hypochlorous acid, by any acid constant.

    Parameters
    ----------
    ph : float or array
        pH of the water once the chlorine is in it, within 5 to 14 [1].
    pka : float or array
        Acid constant on the pH's own scale, negative decimal logarithm [1].

    Returns
    -------
    float or array
        Share of free chlorine as hypochlorous acid; the rest is hypochlorite ion [1].

    Raises
    ------
    ValueError
        pH is outside its range.

    Notes
    -----
    1/(1 + 10^(pH - pKa)).

    Source
    ------
    Definition: the acid constant, solved for the share.
    """
    refuse_unless(_two_species(ph), f"pH must be within {LOWEST_PH} to {HIGHEST_PH}")
    return 1.0 / (1.0 + np.exp(_LN_10 * (ph - pka)))


def pka_from_formation(temperature: Values) -> Values:
    """Acid constant of hypochlorous acid from tabulated formation properties and the van 't Hoff equation.

    Parameters
    ----------
    temperature : float or array
        Water temperature, within 273.15 to 323.15 (0 to 50 °C) [K].

    Returns
    -------
    float or array
        Negative decimal logarithm of the acid constant at zero ionic strength [1].

    Raises
    ------
    ValueError
        A temperature is more than 25 K from that of the figures.

    Notes
    -----
    pKa = ΔG/(R T₀ ln 10) + ΔH/(R ln 10) (1/T - 1/T₀), T₀ = 298.15 K, with
    ΔG = 43.1 and ΔH = 13.8 kJ/mol (ClO⁻ -36.8 and -107.1; HClO -79.9 and -120.9). The enthalpy is taken as constant:
    7.551 at 25 °C against Morris's 7.537, and 0.03 below him at 5 °C.

    References
    ----------
    Wagman, D. D. et al., 1982. The NBS tables of chemical thermodynamic properties. J. Phys. Chem. Ref. Data 11,
    supplement 2. From memory; the enthalpy of the ion (-25.6 kcal/mol) was also read in a thermodynamic database.
    """
    known = np.logical_and(temperature >= COLDEST_FORMATION - _ROUNDING, temperature <= HOTTEST_FORMATION + _ROUNDING)
    refuse_unless(known, f"this relation is valid from {COLDEST_FORMATION} to {HOTTEST_FORMATION} K (0 to 50 °C)")
    at_reference = _FREE_ENERGY / (_GAS_CONSTANT * _REFERENCE * _LN_10)
    return at_reference + _ENTHALPY / (_GAS_CONSTANT * _LN_10) * (1.0 / temperature - 1.0 / _REFERENCE)


def ionic_strength_of_water(total_dissolved_solids: Values) -> Values:
    """Ionic strength of an ordinary water, estimated from its dissolved solids.

    Parameters
    ----------
    total_dissolved_solids : float or array
        Dissolved solids, at least 0 [kg/m³].

    Returns
    -------
    float or array
        2.5·10⁻⁵ mol for each milligram [mol/m³].

    Raises
    ------
    ValueError
        The value is below zero or not finite.

    References
    ----------
    Langelier, W. F., 1936. The analytical control of anti-corrosion water treatment. J. AWWA 28(10), 1500-1521. From
    memory.
    """
    refuse_unless(
        (total_dissolved_solids >= 0.0) & (total_dissolved_solids < np.inf), "solids must be finite and at least 0"
    )
    return 25.0 * total_dissolved_solids


def pka_in_salt(pka: Values, ionic_strength: Values, temperature: Values) -> Values:
    """Apparent acid constant in water with dissolved salts, as measured with a pH electrode.

    Parameters
    ----------
    pka : float or array
        Acid constant at zero ionic strength [1].
    ionic_strength : float or array
        Ionic strength, at most 500 (0.5 mol/L) [mol/m³].
    temperature : float or array
        Water temperature, within 273.15 to 323.15 (0 to 50 °C) [K].

    Returns
    -------
    float or array
        pKa less A (√I/(1 + √I) - 0.3 I), for the activity of the ion alone: pH is itself an activity [1].

    Raises
    ------
    ValueError
        Ionic strength is below zero or above the equation's range, or the temperature is out of range.

    Notes
    -----
    A = 1.82·10⁶ (ε T)^(-3/2), ε = 87.740 - 0.40008 t + 9.398·10⁻⁴ t² - 1.410·10⁻⁶ t³, t in °C. The acid itself, which
    has no charge, is treated as ideal.

    References
    ----------
    Davies, C. W., 1962. Ion Association. Butterworths, London. Malmberg, C. G., Maryott, A. A., 1956. Dielectric
    constant of water from 0 to 100 °C. J. Res. NBS 56(1), 1-8. Both from memory.
    """
    strength = ionic_strength * 1e-3
    refuse_unless((strength >= 0.0) & (strength <= _STRONGEST_SALT), "ionic strength must be within 0 to 500 mol/m³")
    known = np.logical_and(temperature >= COLDEST_FORMATION - _ROUNDING, temperature <= HOTTEST_FORMATION + _ROUNDING)
    refuse_unless(known, "temperature must be within 0 to 50 °C")
    celsius = temperature - 273.15
    permittivity = 87.740 + celsius * (-0.40008 + celsius * (9.398e-4 - 1.410e-6 * celsius))
    product = permittivity * temperature
    slope = _DEBYE_HUECKEL / (product * np.sqrt(product))
    root = np.sqrt(strength)
    return pka - slope * (root / (1.0 + root) - _DAVIES_SLOPE * strength)
