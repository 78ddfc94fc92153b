"""Hypochlorite strength, shock dosing and contact, all as available chlorine (Cl₂)."""

from __future__ import annotations

from typing import Final

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

__all__ = [
    "CALCIUM_HYPOCHLORITE",
    "CHLORATE",
    "CHLORINE",
    "HYPOCHLORITE_PER_CHLORINE",
    "SODIUM_HYPOCHLORITE",
    "available_chlorine",
    "available_chlorine_from_trade_share",
    "chlorine_produced",
    "concentration_time",
    "hypochlorite_density",
    "hypochlorite_density_at",
    "product_quantity",
    "sodium_hypochlorite_share",
    "trade_share",
]

CHLORINE: Final = 70.90e-3
"""Molar mass of Cl₂ [kg/mol], from the abridged standard atomic weight 35.45."""

SODIUM_HYPOCHLORITE: Final = 74.439e-3
"""Molar mass of NaOCl [kg/mol], from the abridged standard atomic weights 22.990, 15.999 and 35.45.

Prohaska, T. et al., 2022. Standard atomic weights of the elements 2021 (IUPAC technical report). Pure Appl. Chem.
94(5), 573-600. doi:10.1515/pac-2019-0603. From memory.
"""

CALCIUM_HYPOCHLORITE: Final = 142.976e-3
"""Molar mass of Ca(OCl)₂ [kg/mol], from the abridged standard atomic weights 40.078, 15.999 and 35.45, as above."""

CHLORATE: Final = 83.447e-3
"""Molar mass of the chlorate ion, ClO₃⁻ [kg/mol], as above."""

# One mole of hypochlorite oxidises as much as one mole of Cl₂.
_CHLORINE_PER_HYPOCHLORITE: Final = CHLORINE / SODIUM_HYPOCHLORITE

HYPOCHLORITE_PER_CHLORINE: Final = SODIUM_HYPOCHLORITE / CHLORINE
"""Sodium hypochlorite equivalent to one mass of chlorine [kg/kg]."""

_TRADE_UNIT: Final = 1000.0  # one trade percent is 10 g/L, so a trade share of 1 is 1000 kg/m³


def available_chlorine(sodium_hypochlorite: Values, density: Values) -> Values:
    """Available chlorine of a solution labelled by weight percent of sodium hypochlorite.

    Parameters
    ----------
    sodium_hypochlorite : float or array
        Mass share of NaOCl, between 0 and 1 [1].
    density : float or array
        Density of the solution [kg/m³].

    Returns
    -------
    float or array
        Available chlorine [kg/m³].

    Raises
    ------
    ValueError
        The share is not between 0 and 1, or the density not above zero.

    Notes
    -----
    w ρ M(Cl₂)/M(NaOCl). Many leaflets divide by 52.5 g/L for 5.25 % bleach: that treats the NaOCl as chlorine and the
    solution as water, two errors that nearly cancel (53.5 g/L at a relative density of 1.07).

    References
    ----------
    White, G. C., 1972. Handbook of Chlorination (strength relations, as quoted in industrial literature).
    """
    refuse_unless_positive("sodium hypochlorite share", sodium_hypochlorite)
    refuse_unless_positive("density", density)
    refuse_unless(sodium_hypochlorite < 1.0, "sodium hypochlorite share must be below 1")
    return sodium_hypochlorite * density * _CHLORINE_PER_HYPOCHLORITE


def available_chlorine_from_trade_share(trade_share: Values) -> Values:
    """Available chlorine of a solution labelled by trade percent.

    Parameters
    ----------
    trade_share : float or array
        Trade percent divided by 100, between 0 and 1 [1].

    Returns
    -------
    float or array
        Available chlorine [kg/m³].

    Raises
    ------
    ValueError
        The share is not between 0 and 1.

    Notes
    -----
    One trade percent is 10 g of available chlorine in a litre of solution; no density enters.

    References
    ----------
    327 Indiana Administrative Code 8-3.4-24, note to the table; White, G. C., 1972. Handbook of Chlorination.
    """
    refuse_unless_positive("trade share", trade_share)
    refuse_unless(trade_share < 1.0, "trade share must be below 1")
    return trade_share * _TRADE_UNIT


def trade_share(available: Values) -> Values:
    """Trade percent of a solution, divided by 100: grams of available chlorine in 1 mL.

    Parameters
    ----------
    available : float or array
        Available chlorine [kg/m³].

    Returns
    -------
    float or array
        Trade share [1].

    Raises
    ------
    ValueError
        The available chlorine is not finite and above zero.

    References
    ----------
    327 Indiana Administrative Code 8-3.4-24, note to the table, as for `available_chlorine_from_trade_share`.
    """
    refuse_unless_positive("available chlorine", available)
    return available / _TRADE_UNIT


def sodium_hypochlorite_share(available: Values, density: Values) -> Values:
    """Weight share of sodium hypochlorite in a solution of known available chlorine.

    Parameters
    ----------
    available : float or array
        Available chlorine [kg/m³].
    density : float or array
        Density of the solution [kg/m³].

    Returns
    -------
    float or array
        Mass share of NaOCl [1].

    Raises
    ------
    ValueError
        A value is not above zero, or the chlorine is more than pure NaOCl contains.

    Source
    ------
    Definition: the inverse of `available_chlorine`.
    """
    refuse_unless_positive("available chlorine", available)
    refuse_unless_positive("density", density)
    share = available / (density * _CHLORINE_PER_HYPOCHLORITE)
    refuse_unless(share < 1.0, "available chlorine is above that of pure sodium hypochlorite")
    return share


def hypochlorite_density(
    sodium_hypochlorite: Values, water_density: float, solution_density: float, solution_chlorine: float
) -> Values:
    """Density of a hypochlorite solution, interpolated between water and one published solution.

    Parameters
    ----------
    sodium_hypochlorite : float or array
        Mass share of NaOCl [1].
    water_density : float
        Density of water [kg/m³].
    solution_density : float
        Density of the published solution [kg/m³].
    solution_chlorine : float
        Available chlorine of the published solution [kg/m³].

    Returns
    -------
    float or array
        Density [kg/m³].

    Raises
    ------
    ValueError
        The solution would be stronger than the published one.

    Notes
    -----
    Linear in available chlorine c: ρ = ρw + s c, with c = w ρ M(Cl₂)/M(NaOCl), so ρ = ρw/(1 - s w M(Cl₂)/M(NaOCl)).
    Salt and excess caustic shift it by about 1 %; a density off the product's data sheet is better.

    Source
    ------
    Derived here: a straight line in available chlorine between water and the solution that the caller names.
    """
    refuse_unless_positive("sodium hypochlorite share", sodium_hypochlorite)
    slope = (solution_density - water_density) / solution_chlorine
    strongest = solution_chlorine / (solution_density * _CHLORINE_PER_HYPOCHLORITE)
    refuse_unless(
        sodium_hypochlorite <= strongest,
        f"density is known up to a sodium hypochlorite share of {strongest:.4f}; give the density",
    )
    return water_density / (1.0 - slope * _CHLORINE_PER_HYPOCHLORITE * sodium_hypochlorite)


def hypochlorite_density_at(
    available: Values, water_density: float, solution_density: float, solution_chlorine: float, strongest: float
) -> Values:
    """Density of a hypochlorite solution of known available chlorine, on the line of `hypochlorite_density`.

    Parameters
    ----------
    available : float or array
        Available chlorine [kg/m³].
    water_density, solution_density, solution_chlorine : float
        The line's two ends [kg/m³].
    strongest : float
        Available chlorine up to which the line was compared with published densities [kg/m³].

    Returns
    -------
    float or array
        Density [kg/m³].

    Raises
    ------
    ValueError
        The solution is stronger than that.

    Source
    ------
    Derived here: the line of `hypochlorite_density`.
    """
    refuse_unless_positive("available chlorine", available)
    refuse_unless(available <= strongest, f"density is known up to {strongest:g} kg/m³ of available chlorine")
    return water_density + (solution_density - water_density) / solution_chlorine * available


def product_quantity(volume: Values, concentration: Values, strength: Values) -> Values:
    """Product that brings a volume of water to a concentration.

    Parameters
    ----------
    volume : float or array
        Water to dose [m³].
    concentration : float or array
        Chlorine to add per volume: required free chlorine plus the water's demand [kg/m³].
    strength : float or array
        Available chlorine of the product: by volume for a liquid [kg/m³], by mass for granules [kg/kg].

    Returns
    -------
    float or array
        Product, a volume [m³] or a mass [kg] as the strength was given.

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Notes
    -----
    The product's own volume is ignored, as in published dosing tables: a 50 g/L bleach dosed to
    100 mg/L ends 0.2 % low.

    Source
    ------
    Mass balance: the chlorine in the product is that in the water.
    """
    refuse_unless_positive("volume", volume)
    refuse_unless_positive("concentration", concentration)
    refuse_unless_positive("strength", strength)
    return volume * concentration / strength


def chlorine_produced(quantity: Values, strength: Values, volume: Values) -> Values:
    """Concentration that a measured quantity of product gives, before any demand is met.

    Parameters
    ----------
    quantity : float or array
        Product added, a volume [m³] or a mass [kg] as the strength is given.
    strength : float or array
        Available chlorine of the product [kg/m³] or [kg/kg].
    volume : float or array
        Water dosed [m³].

    Returns
    -------
    float or array
        Chlorine added to each volume [kg/m³].

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Source
    ------
    Mass balance: the chlorine in the product is that in the water.
    """
    refuse_unless_positive("quantity", quantity)
    refuse_unless_positive("strength", strength)
    refuse_unless_positive("volume", volume)
    return quantity * strength / volume


def concentration_time(concentration: Values, time: Values) -> Values:
    """CT: concentration times contact time.

    Parameters
    ----------
    concentration : float or array
        Free chlorine over the whole time; the lowest that was measured, where it falls [kg/m³].
    time : float or array
        Contact time [s].

    Returns
    -------
    float or array
        Concentration times time [kg·s/m³]; 1 mg·min/L is 0.06 of it.

    Raises
    ------
    ValueError
        A value is not finite and above zero.

    Source
    ------
    Definition: concentration x time.
    """
    refuse_unless_positive("concentration", concentration)
    refuse_unless_positive("time", time)
    return concentration * time
