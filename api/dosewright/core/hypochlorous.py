"""How free chlorine divides between hypochlorous acid and hypochlorite ion."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dosewright.core.arrays import Values, refuse_unless

__all__ = [
    "HIGHEST_PH",
    "HIGHEST_TEMPERATURE",
    "LOWEST_PH",
    "LOWEST_TEMPERATURE",
    "hypochlorous_acid_pka",
    "hypochlorous_acid_share",
    "speciation_known",
]

LOWEST_TEMPERATURE: Final = 278.15
"""Lower end of the measurements behind the equation, 5 °C [K]."""

HIGHEST_TEMPERATURE: Final = 308.15
"""Upper end of the measurements behind the equation, 35 °C [K]."""

LOWEST_PH: Final = 5.0
"""Below this, molecular chlorine, which the two-species balance leaves out, begins to appear."""

HIGHEST_PH: Final = 14.0
"""Upper end of the pH scale."""

# So that 41 degF, which converts to a hair's breadth beside 5 °C, is taken as 5 °C.
_ROUNDING: Final = 1e-6

_LN_10: Final = np.log(10.0)


def _measured(temperature: Values) -> np.bool_ | NDArray[np.bool_]:
    return np.logical_and(temperature >= LOWEST_TEMPERATURE - _ROUNDING, temperature <= HIGHEST_TEMPERATURE + _ROUNDING)


def _two_species(ph: Values) -> np.bool_ | NDArray[np.bool_]:
    return np.logical_and(ph >= LOWEST_PH, ph <= HIGHEST_PH)


def speciation_known(ph: Values, temperature: Values) -> np.bool_ | NDArray[np.bool_]:
    """Tell where the share of hypochlorous acid is known.

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
        A temperature is outside the range that was measured. Water between freezing and 5 °C is refused, not
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
    refuse_unless(_two_species(ph), f"pH must lie within {LOWEST_PH} to {HIGHEST_PH}")
    return 1.0 / (1.0 + np.exp(_LN_10 * (ph - hypochlorous_acid_pka(temperature))))
