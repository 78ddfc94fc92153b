"""Strength of a hypochlorite product, fresh and stored."""

from typing import NamedTuple

import numpy as np

from dosewright.core.chlorine import chlorine, hypochlorite_decay
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.sentences import listed
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import density_line, half_lives, products
from dosewright.topics.chlorine.contracts.hypochlorite import Granules, Liquid, ListedProduct, Tablets

__all__ = [
    "AnyProduct",
    "GranuleStrength",
    "LiquidStrength",
    "Stored",
    "check_product",
    "check_storage",
    "spelled_out",
    "stored",
    "strength_of",
    "warn_product",
    "warn_storage",
]

AnyProduct = Liquid[Numbers] | Granules[Numbers] | Tablets[Numbers] | ListedProduct

_STRENGTHS = ("sodium_hypochlorite", "trade_strength", "available_chlorine")

_DECAY = Basis(
    method="-dc/dt = k c^2, log10 k = 0.149 I + log10(2.083e10 T exp(-1.018e5/(R T)) exp(-56.5/R)), I twice the "
    "hypochlorite",
    source="Gordon, Adam and Bubnis (1995), J. AWWA 87(6), 97 [from memory; second order read in its abstract]; "
    "activation energy agrees with Lister (1956)",
    validity="0 to 60 degC, in the dark, pH 11 to 13, without metals; about 10 % in strength over a month",
)
_LOSS_TABLE = Basis(
    method="remaining share = 1/(1 + t/half-life), log half-life interpolated over 1/T and log strength; the weaker "
    "result of this and the rate law is used",
    source=f"{half_lives().source} [from memory]; 12.5 trade %: scaled to a swimming-pool owners' public table",
    validity="0.5 to 12.5 trade %, 15 to 60 degC; colder or weaker: nearest entry; stronger: extrapolated. A "
    "university safety sheet: 20 to 50 % lost in 6 months",
)
_STRONGEST_STORED = 6000.0 / 2.0 * chlorine.CHLORINE  # kg/m³: where the rate law's ionic strength ends


class LiquidStrength(NamedTuple):
    """Available chlorine of a liquid.

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
    """Available chlorine of granules or tablets.

    Attributes
    ----------
    by_mass : float or array
        Available chlorine [kg/kg].
    bulk_density : float, array or None
        Bulk density of granules [kg/m³].
    tablet_mass : float, array or None
        Mass of one tablet; None for granules [kg].
    """

    by_mass: Numbers
    bulk_density: Numbers | None
    tablet_mass: Numbers | None = None


def strength_of(product: AnyProduct) -> LiquidStrength | GranuleStrength:
    """Return the strength of a product; a missing density is interpolated where it is needed."""
    if isinstance(product, Tablets):
        return GranuleStrength(product.available_chlorine, None, product.tablet_mass)
    product = spelled_out(product)
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


def spelled_out(product: AnyProduct) -> Liquid[Numbers] | Granules[Numbers]:
    """Return a listed product as on its label, and tablets as granules of their strength."""
    if isinstance(product, Tablets):
        return Granules[Numbers](available_chlorine=product.available_chlorine)
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
    # A share by weight equals the content of 1 kg of solution in 1 m³.
    return chlorine.sodium_hypochlorite_share(liquid.available_chlorine, 1.0)


def _density(share: Numbers) -> Numbers:
    line = density_line()
    return chlorine.hypochlorite_density(share, line.water_density, line.solution_density, line.solution_chlorine)


class Stored(NamedTuple):
    """A liquid after storage: by the rate law and by published half-lives; the weaker result is used.

    Attributes
    ----------
    left : float or array
        Remaining share of the strength, the lower of the two below [1].
    law_left, table_left : float or array
        Remaining share by the rate law, and by the published half-lives [1].
    strength : LiquidStrength
        Present strength.
    half_life : float or array
        Half-life of the fresh product, the shorter of the two [s].
    chlorate : float or array
        Maximum of the chlorate ion formed [kg/m³].
    """

    left: Numbers
    law_left: Numbers
    table_left: Numbers
    strength: LiquidStrength
    half_life: Numbers
    chlorate: Numbers


def stored(fresh: LiquidStrength, time: Numbers, temperature: Numbers) -> Stored:
    """Return a liquid after storage."""
    moles = fresh.by_volume / chlorine.CHLORINE
    salt = hypochlorite_decay.ionic_strength_of_solution(moles)
    constant = hypochlorite_decay.decomposition_constant(temperature, salt)
    law = hypochlorite_decay.half_life(moles, constant)
    published = half_lives()
    table = hypochlorite_decay.tabulated_half_life(fresh.by_volume, temperature, published.strengths, published.rows)
    law_left, table_left = hypochlorite_decay.left_after(time, law), hypochlorite_decay.left_after(time, table)
    left = np.minimum(law_left, table_left)
    # Rounding must not make the loss negative.
    lost = np.maximum(moles * (1.0 - left), 0.0)
    return Stored(
        left=left,
        law_left=law_left,
        table_left=table_left,
        strength=LiquidStrength(
            by_volume=fresh.by_volume * left,
            by_mass=None if fresh.by_mass is None else fresh.by_mass * left,
            density=fresh.density,
        ),
        half_life=np.minimum(law, table),
        chlorate=hypochlorite_decay.chlorate_formed(lost) * chlorine.CHLORATE,
    )


def check_storage(product: AnyProduct, time: Numbers | None, temperature: Numbers | None, notes: Notes) -> None:
    """Reject a time without a temperature or the reverse, and a strength outside the rate law."""
    if time is None and temperature is None:
        return
    if time is None or temperature is None:
        missing = "storage_time" if time is None else "storage_temperature"
        message = "storage_time and storage_temperature belong together. Enter both or neither."
        notes.refuse("required", missing, message)
        return
    product = spelled_out(product)
    if isinstance(product, Granules):
        message = (
            "No rate law is known for granules or tablets. Keep them dry and cool, and enter the measured strength."
        )
        notes.refuse("not_for_granules", "storage_time", message)
        return
    if len([name for name in _STRENGTHS if getattr(product, name) is not None]) != 1:
        return
    try:
        strength = strength_of(product)
    except ValueError:
        return  # reported as a fault of the product
    message = f"The rate law is valid up to {_STRONGEST_STORED / 10.0:.3g} trade %. Enter the present strength instead."
    over = strength.by_volume > _STRONGEST_STORED if isinstance(strength, LiquidStrength) else False
    notes.refuse(
        "outside_method", "product", message, when=over, allowed=f"at most {_STRONGEST_STORED / 10.0:.3g} trade %"
    )


def warn_storage(what: Stored, notes: Notes) -> None:
    """Add the basis of the remaining strength, and warn where it is uncertain."""
    notes.add_basis(_DECAY, _LOSS_TABLE)
    message = (
        "The rate law and the published half-lives are recalled, not read; the weaker result is used. Light, metals "
        "and dilution speed up the loss. Measure the strength where it matters."
    )
    notes.warn("decay_from_memory", "product", message)
    message = "More than half of the strength is lost, and chlorate has formed. Use a fresh product."
    notes.warn("product_old", "product", message, when=what.left < 0.5)


def check_product(product: AnyProduct, notes: Notes) -> None:
    """Reject a liquid without a strength, with more than one, or too strong for an assumed density."""
    if not isinstance(product, Liquid):
        return
    given = [name for name in _STRENGTHS if getattr(product, name) is not None]
    if not given:
        message = "Enter the strength on the label as sodium_hypochlorite, trade_strength or available_chlorine."
        notes.refuse("required", "product/sodium_hypochlorite", message, allowed=list(_STRENGTHS))
    elif len(given) > 1:
        message = f"Enter only one strength, not {listed(given)}."
        notes.refuse("too_many", f"product/{given[1]}", message)
    elif product.density is None and product.trade_strength is None:
        line = density_line()
        strongest = chlorine.sodium_hypochlorite_share(line.solution_chlorine, line.solution_density)
        message = "A solution this strong needs a density. Enter density from the data sheet, or trade_strength."
        notes.refuse("required", "product/density", message, when=_sodium_hypochlorite(product) > strongest)


def warn_product(product: AnyProduct, notes: Notes, *, aged: bool = False) -> None:
    """Add the basis of the strength, and warn where it is uncertain; `aged` if storage is included."""
    if isinstance(product, Tablets):
        message = (
            "Tablets dissolve slowly and sink to the bottom. Dissolve them in a bucket of water first, and check the "
            "chlorine at the top and at the taps. Maryland does not accept tablets as the only material in a well "
            "(COMAR 26.04.04.24 D)."
        )
        notes.warn("tablets_dissolve_slowly", "product", message)
    product = spelled_out(product)
    notes.add_basis(
        Basis(
            method="available chlorine = weight % NaOCl x density x M(Cl2)/M(NaOCl); 1 trade % is 10 g/L",
            source="White, Handbook of Chlorination (1972); IUPAC atomic weights 2021 [from memory]",
            validity="fresh product; household labels in weight % of NaOCl: 5.25 % is 53.5 g/L of chlorine (leaflets: "
            "52.5)",
        )
    )
    if isinstance(product, Granules):
        return
    if not aged:
        message = "Bleach gets weaker with age. Use a fresh bottle, or enter its present strength."
        notes.warn("strength_decreases", "product", message)
    if product.density is None and product.trade_strength is None:
        message = "The density is assumed from the strength, within about 1 %. Better enter the data sheet's."
        notes.warn("density_assumed", "product.density", message)
        line = density_line()
        notes.add_basis(
            Basis(
                method="density of hypochlorite linear in available chlorine, from water to 120 g/L",
                source=line.source,
                validity="up to 120 g/L of available chlorine, about 20 degC, little excess caustic",
            )
        )
