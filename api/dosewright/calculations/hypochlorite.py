"""Strength of the hypochlorite product a request names."""

from typing import NamedTuple

from dosewright.calculations.notes import Notes
from dosewright.contracts.base import Basis
from dosewright.contracts.chlorine import Granules, Liquid, ListedProduct
from dosewright.core import chlorine
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import density_line, products

__all__ = ["AnyProduct", "GranuleStrength", "LiquidStrength", "check_product", "note_product", "strength_of"]

AnyProduct = Liquid[Numbers] | Granules[Numbers] | ListedProduct

_STRENGTHS = ("sodium_hypochlorite", "trade_strength", "available_chlorine")


class LiquidStrength(NamedTuple):
    """What a liquid holds.

    Attributes
    ----------
    by_volume : float or array
        Available chlorine [kg/m³].
    by_mass : float, array or None
        Available chlorine [kg/kg]; None where the density is not known.
    density : float, array or None
        Density [kg/m³].
    """

    by_volume: Numbers
    by_mass: Numbers | None
    density: Numbers | None


class GranuleStrength(NamedTuple):
    """What granules hold.

    Attributes
    ----------
    by_mass : float or array
        Available chlorine [kg/kg].
    bulk_density : float, array or None
        Bulk density [kg/m³].
    """

    by_mass: Numbers
    bulk_density: Numbers | None


def strength_of(product: AnyProduct) -> LiquidStrength | GranuleStrength:
    """Return the strength of a product, its density interpolated where it is needed and not given."""
    product = _spelled_out(product)
    if isinstance(product, Granules):
        return GranuleStrength(product.available_chlorine, product.bulk_density)
    if product.trade_strength is not None:
        by_volume = chlorine.available_chlorine_from_trade_share(product.trade_strength)
        by_mass = None if product.density is None else by_volume / product.density
        return LiquidStrength(by_volume, by_mass, product.density)
    share = _sodium_hypochlorite(product)
    density = _density(share) if product.density is None else product.density
    by_volume = chlorine.available_chlorine(share, density)
    return LiquidStrength(by_volume, by_volume / density, density)


def _spelled_out(product: AnyProduct) -> Liquid[Numbers] | Granules[Numbers]:
    if not isinstance(product, ListedProduct):
        return product
    listed = products()[product.name]
    if listed.granules:
        return Granules[Numbers](available_chlorine=listed.strength)
    if listed.strength_basis == "trade_percent":
        return Liquid[Numbers](trade_strength=listed.strength)
    return Liquid[Numbers](sodium_hypochlorite=listed.strength)


def _sodium_hypochlorite(liquid: Liquid[Numbers]) -> Numbers:
    if liquid.sodium_hypochlorite is not None:
        return liquid.sodium_hypochlorite
    if liquid.available_chlorine is None:
        raise ValueError("a liquid needs one of its strengths")
    # A share by weight is what 1 kg of solution in 1 m³ would hold.
    return chlorine.sodium_hypochlorite_share(liquid.available_chlorine, 1.0)


def _density(share: Numbers) -> Numbers:
    line = density_line()
    return chlorine.hypochlorite_density(share, line.water_density, line.solution_density, line.solution_chlorine)


def check_product(product: AnyProduct, notes: Notes) -> None:
    """Refuse a liquid with no strength, with more than one, or too strong for its density to be assumed."""
    if not isinstance(product, Liquid):
        return
    given = [name for name in _STRENGTHS if getattr(product, name) is not None]
    if not given:
        message = "Give the strength as the label states it: sodium_hypochlorite, trade_strength or available_chlorine."
        notes.refuse("required", "product/sodium_hypochlorite", message, allowed=list(_STRENGTHS))
    elif len(given) > 1:
        message = f"Give one strength, not {' and '.join(given)}."
        notes.refuse("too_many_given", f"product/{given[1]}", message)
    elif product.density is None and product.trade_strength is None:
        line = density_line()
        strongest = chlorine.sodium_hypochlorite_share(line.solution_chlorine, line.solution_density)
        message = "A solution this strong by weight needs its density, off the data sheet; or give its trade percent."
        notes.refuse("required", "product/density", message, when=_sodium_hypochlorite(product) > strongest)


def note_product(product: AnyProduct, notes: Notes) -> None:
    """Say what the strength rests on, and what of it deserves a look."""
    product = _spelled_out(product)
    notes.rest_on(
        Basis(
            method="available chlorine = weight % NaOCl x density x M(Cl2)/M(NaOCl); 1 trade % is 10 g/L",
            source="White, Handbook of Chlorination (1972); IUPAC atomic weights 2021 [from memory]",
            validity="fresh product at its labelled strength",
        )
    )
    if isinstance(product, Granules):
        return
    message = "Hypochlorite solution loses strength in storage: use it fresh, or give the strength it has now."
    notes.warn("strength_falls", "product", message)
    if product.density is None and product.trade_strength is None:
        message = "The density is assumed from the strength, within about 1 %; one off the data sheet is better."
        notes.warn("density_assumed", "product.density", message)
        line = density_line()
        notes.rest_on(
            Basis(
                method="density of hypochlorite linear in available chlorine, from water to 120 g/L",
                source=line.source,
                validity="up to 120 g/L of available chlorine, about 20 degC, little excess caustic",
            )
        )
