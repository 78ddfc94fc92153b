"""pH of a carbonate water with added hypochlorite, and the acid that lowers it again."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive
from dosewright.core.chlorine.hypochlorous import hypochlorous_acid_pka

__all__ = [
    "CarbonateConstants",
    "acid_to_reach",
    "alkalinity_at",
    "carbonate_constants",
    "inorganic_carbon",
    "ph_with_hypochlorite",
    "ph_with_weak_acid",
]

_LN_10: Final = np.log(10.0)

_LOWEST_PH: Final = 4.0
_HIGHEST_PH: Final = 12.0
_LOWEST_PH_OF_ACID: Final = 2.0
_HALVINGS: Final = 52  # of 8 pH units, to below 1e-14


class CarbonateConstants(NamedTuple):
    """Equilibrium constants of water and carbonic acid, with concentrations in mol/m³.

    Attributes
    ----------
    first, second : float or array
        Acid constants of carbonic acid and of hydrogen carbonate [mol/m³].
    water : float or array
        Ion product of water [mol²/m⁶].
    hypochlorous : float or array
        Acid constant of hypochlorous acid [mol/m³].
    """

    first: Values
    second: Values
    water: Values
    hypochlorous: Values


def _power_of_ten(exponent: Values) -> Values:
    return np.exp(_LN_10 * exponent)


def carbonate_constants(temperature: Values) -> CarbonateConstants:
    """Equilibrium constants at a temperature, for zero ionic strength.

    Parameters
    ----------
    temperature : float or array
        Water temperature, within 278.15 to 308.15 (5 to 35 °C), where that of hypochlorous acid was measured [K].

    Returns
    -------
    CarbonateConstants
        The four constants.

    Raises
    ------
    ValueError
        The temperature is out of range.

    Notes
    -----
    log₁₀K = a + b T + c/T + d log₁₀T + e/T²: K₁ -356.3094, -0.06091964, 21834.37, 126.8339, -1684915; K₂ -107.8871,
    -0.03252849, 5151.79, 38.92561, -563713.9; water 293.29227, 0.1360833, -10576.913, -123.73158 and
    -6.996455·10⁻⁵ T².

    References
    ----------
    Plummer, L. N., Busenberg, E., 1982. The solubilities of calcite, aragonite and vaterite in CO₂-H₂O solutions
    between 0 and 90 °C. Geochim. Cosmochim. Acta 46(6), 1011-1040. Parkhurst, D. L., Appelo, C. A. J., 2013. PHREEQC
    version 3. USGS Techniques and Methods 6-A43: database phreeqc.dat (K₂ and water read there; K₁ from memory).
    Morris, 1966: see `hypochlorous`.
    """
    pka = hypochlorous_acid_pka(temperature)
    log_temperature = np.log(temperature) / _LN_10
    square = temperature * temperature
    first = (
        -356.3094 - 0.06091964 * temperature + 21834.37 / temperature + 126.8339 * log_temperature - 1684915.0 / square
    )
    second = (
        -107.8871 - 0.03252849 * temperature + 5151.79 / temperature + 38.92561 * log_temperature - 563713.9 / square
    )
    water = (
        293.29227
        + 0.1360833 * temperature
        - 10576.913 / temperature
        - 123.73158 * log_temperature
        - 6.996455e-5 * square
    )
    return CarbonateConstants(
        first=1e3 * _power_of_ten(first),
        second=1e3 * _power_of_ten(second),
        water=1e6 * _power_of_ten(water),
        hypochlorous=1e3 * _power_of_ten(-pka),
    )


def alkalinity_at(ph: Values, carbon: Values, chlorine: Values, constants: CarbonateConstants) -> Values:
    """Alkalinity, counting hypochlorite ion as a base.

    Parameters
    ----------
    ph : float or array
        pH [1].
    carbon, chlorine : float or array
        Inorganic carbon and free chlorine [mol/m³].
    constants : CarbonateConstants
        At the water's temperature.

    Returns
    -------
    float or array
        HCO₃⁻ + 2 CO₃²⁻ + OCl⁻ + OH⁻ - H⁺ [mol of charge/m³].

    Source
    ------
    Charge balance: carbonates, hydroxide and hypochlorite ion less hydrogen ion.
    """
    hydrogen = 1e3 * _power_of_ten(-ph)
    first, second, water, acid = constants
    whole = hydrogen * hydrogen + first * hydrogen + first * second
    carbonates = carbon * (first * hydrogen + 2.0 * first * second) / whole
    return carbonates + chlorine * acid / (acid + hydrogen) + water / hydrogen - hydrogen


def inorganic_carbon(ph: Values, alkalinity: Values, constants: CarbonateConstants) -> Values:
    """Inorganic carbon of a water without chlorine, from its pH and alkalinity.

    Parameters
    ----------
    ph : float or array
        pH, within 4 to 12 [1].
    alkalinity : float or array
        Alkalinity, above zero [mol of charge/m³].
    constants : CarbonateConstants
        At the water's temperature.

    Returns
    -------
    float or array
        Inorganic carbon [mol/m³]; zero or negative where pH and alkalinity contradict each other.

    Raises
    ------
    ValueError
        A value is out of range.

    Source
    ------
    Charge balance: that of `alkalinity_at` without chlorine, solved for the carbon.
    """
    refuse_unless((ph >= _LOWEST_PH) & (ph <= _HIGHEST_PH), "pH must be within 4 to 12")
    refuse_unless_positive("alkalinity", alkalinity)
    hydrogen = 1e3 * _power_of_ten(-ph)
    first, second, water, _ = constants
    whole = hydrogen * hydrogen + first * hydrogen + first * second
    return (alkalinity - water / hydrogen + hydrogen) * whole / (first * hydrogen + 2.0 * first * second)


def acid_to_reach(
    target: Values, carbon: Values, alkalinity: Values, chlorine: Values, constants: CarbonateConstants
) -> Values:
    """Strong acid that brings water dosed with hypochlorite to a pH, without loss of carbon dioxide.

    Parameters
    ----------
    target : float or array
        Required pH, within 4 to 12 [1].
    carbon, alkalinity : float or array
        Of the water before the chlorine [mol/m³, mol of charge/m³].
    chlorine : float or array
        Hypochlorite added and not used up, one base for each [mol/m³].
    constants : CarbonateConstants
        At the water's temperature.

    Returns
    -------
    float or array
        Acid; negative if the water is already below the target pH [mol of charge/m³].

    Raises
    ------
    ValueError
        The target is out of range.

    Source
    ------
    Charge balance: the alkalinity after dosing less that at the target.
    """
    refuse_unless((target >= _LOWEST_PH) & (target <= _HIGHEST_PH), "target must be within 4 to 12")
    return alkalinity + chlorine - alkalinity_at(target, carbon, chlorine, constants)


def ph_with_weak_acid(
    carbon: Values, alkalinity: Values, acid: Values, acid_pka: float, constants: CarbonateConstants
) -> Values:
    """Find the pH of water without chlorine after adding a weak acid, without loss of carbon dioxide.

    Parameters
    ----------
    carbon, alkalinity : float or array
        Of the water before the acid [mol/m³, mol of charge/m³].
    acid : float or array
        Acid added, at least 0 [mol/m³].
    acid_pka : float
        Its constant [1].
    constants : CarbonateConstants
        At the water's temperature.

    Returns
    -------
    float or array
        pH, by halving the range from 2 to 12 [1].

    Notes
    -----
    Charge balance: alkalinity at the pH + acid / (1 + 10^(pKa - pH)) = alkalinity before.

    Source
    ------
    Charge balance: the one in the notes, solved by halving the bracket.
    """
    low = _LOWEST_PH_OF_ACID + 0.0 * (alkalinity + acid)
    high = _HIGHEST_PH + 0.0 * (alkalinity + acid)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        lost = acid / (1.0 + _power_of_ten(acid_pka - middle))
        over = alkalinity_at(middle, carbon, 0.0, constants) + lost > alkalinity
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return 0.5 * (low + high)


def ph_with_hypochlorite(carbon: Values, alkalinity: Values, chlorine: Values, constants: CarbonateConstants) -> Values:
    """Find the pH of water after adding hypochlorite, without loss of carbon dioxide.

    Parameters
    ----------
    carbon, alkalinity : float or array
        Of the water before the chlorine [mol/m³, mol of charge/m³].
    chlorine : float or array
        Hypochlorite added and not used up [mol/m³].
    constants : CarbonateConstants
        At the water's temperature.

    Returns
    -------
    float or array
        pH, by halving the range from 4 to 12 [1].

    Notes
    -----
    Dilute water. The excess caustic of a product, which raises pH a little further, is ignored.

    Source
    ------
    Charge balance: that of `alkalinity_at`, solved by halving the bracket.
    """
    required = alkalinity + chlorine
    low = _LOWEST_PH + 0.0 * required
    high = _HIGHEST_PH + 0.0 * required
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        over = alkalinity_at(middle, carbon, chlorine, constants) > required
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return 0.5 * (low + high)
