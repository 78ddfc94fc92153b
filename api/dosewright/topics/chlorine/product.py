"""Strength of hypochlorite products on every basis, fresh and after storage."""

from typing import Any

import numpy as np

from dosewright.core.chlorine import chlorine
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import density_line
from dosewright.topics.chlorine.contracts.hypochlorite import ProductAnswer, ProductRequest, StoredProduct
from dosewright.topics.chlorine.page import chlorine_page
from dosewright.topics.chlorine.treatment.hypochlorite import (
    GranuleStrength,
    LiquidStrength,
    check_product,
    check_storage,
    stored,
    strength_of,
    warn_product,
    warn_storage,
)

__all__ = ["product"]

Ask = ProductRequest[Numbers]

_CALCIUM = Basis(
    method="weight % Ca(OCl)2 = available chlorine x M(Ca(OCl)2) / (2 M(Cl2))",
    source="IUPAC atomic weights 2021 [from memory]",
    validity="assumes that all available chlorine is Ca(OCl)2; a dihydrate weighs more",
)


@calculation(
    "chlorine/product",
    views=Views(page=chlorine_page),
    request=ProductRequest,
    answer=ProductAnswer,
    summary="Strength of a hypochlorite product on every basis, fresh and after storage",
    example={
        "product": {"kind": "liquid", "trade_strength": "12.5 %", "density": "1.16 kg/L"},
        "storage_time": "90 d",
        "storage_temperature": "25 degC",
    },
)
def product(ask: ProductRequest[Numbers], notes: Notes) -> ProductAnswer[Numbers]:
    """Trade percent, weight percent of NaOCl, available chlorine by weight and by volume, and strength after storage.

    The four ways to express the strength of one product differ by up to a quarter: 12.5 trade percent is 10.8 % by
    weight of available chlorine and 11.3 % of NaOCl.
    """
    strength = strength_of(ask.product)
    warn_product(ask.product, notes, aged=ask.storage_time is not None)
    _add_cautions(isinstance(strength, GranuleStrength), notes)
    if isinstance(strength, GranuleStrength):
        notes.add_basis(_CALCIUM)
        share = strength.by_mass * (chlorine.CALCIUM_HYPOCHLORITE / (2.0 * chlorine.CHLORINE))
        message = "This is more available chlorine than pure Ca(OCl)2 contains. Check the label."
        notes.warn("above_pure", "calcium_hypochlorite", message, when=share > 1.0)
        return ProductAnswer(
            chlorine_concentration=None,
            trade_strength=None,
            available_chlorine=strength.by_mass,
            sodium_hypochlorite=None,
            calcium_hypochlorite=share,
            density=None,
            stored=None,
        )
    strength = _with_density(strength, notes)
    return ProductAnswer(
        chlorine_concentration=strength.by_volume,
        trade_strength=chlorine.trade_share(strength.by_volume),
        available_chlorine=strength.by_mass,
        sodium_hypochlorite=_sodium_hypochlorite(strength),
        calcium_hypochlorite=None,
        density=strength.density,
        stored=_stored(strength, ask, notes),
    )


@product.check("product")
def _(ask: Ask, notes: Notes) -> None:
    check_product(ask.product, notes)


@product.check("product", "storage_time", "storage_temperature")
def _(ask: Ask, notes: Notes) -> None:
    check_storage(ask.product, ask.storage_time, ask.storage_temperature, notes)


def _with_density(strength: LiquidStrength, notes: Notes) -> LiquidStrength:
    """Assume a density for a trade percentage, within the range of published densities."""
    if strength.density is not None:
        return strength
    line = density_line()
    known: Any = strength.by_volume <= line.strongest
    message = (
        f"No density is published above {line.strongest / 10.0:g} trade %. Enter density for the weight percentages."
    )
    notes.warn("density_unknown", "density", message, when=np.logical_not(known))
    if np.ndim(known) == 0 and not known:
        return strength
    message = "The density is assumed from the strength, within about 1 %. Better enter the data sheet's."
    notes.warn("density_assumed", "density", message, when=known)
    notes.add_basis(
        Basis(
            method="density of hypochlorite linear in available chlorine, from water through 120 g/L",
            source=line.source,
            validity=f"up to {line.strongest:g} g/L of available chlorine, about 20 degC, little excess caustic",
        )
    )
    within = strength.by_volume if np.ndim(known) == 0 else np.where(known, strength.by_volume, line.strongest)
    density = chlorine.hypochlorite_density_at(
        within, line.water_density, line.solution_density, line.solution_chlorine, line.strongest
    )
    if np.ndim(known):
        density = np.where(known, density, np.nan)
    return LiquidStrength(strength.by_volume, strength.by_volume / density, density)


def _sodium_hypochlorite(strength: LiquidStrength) -> Numbers | None:
    # A share by weight equals the content of 1 kg of solution in 1 m³.
    return None if strength.by_mass is None else strength.by_mass * chlorine.HYPOCHLORITE_PER_CHLORINE


def _stored(strength: LiquidStrength, ask: Ask, notes: Notes) -> StoredProduct[Numbers] | None:
    if ask.storage_time is None or ask.storage_temperature is None:
        return None
    what = stored(strength, ask.storage_time, ask.storage_temperature)
    warn_storage(what, notes)
    return StoredProduct(
        remaining_strength=what.left,
        law_remaining_strength=what.law_left,
        table_remaining_strength=what.table_left,
        chlorine_concentration=what.strength.by_volume,
        trade_strength=chlorine.trade_share(what.strength.by_volume),
        sodium_hypochlorite=_sodium_hypochlorite(what.strength),
        half_life=what.half_life,
        chlorate=what.chlorate,
    )


def _add_cautions(granules: bool, notes: Notes) -> None:  # noqa: FBT001 - private, one caller
    notes.caution(
        "chlorine_mixing",
        "chlorine_acid",
        "chlorine_ammonia",
        "chlorine_other_hypochlorites",
        "chlorine_organics",
        "chlorine_cyanurates",
        "chlorine_handling",
        "chlorine_ventilation",
    )
    if granules:
        notes.caution("chlorine_granules")
    notes.caution("chlorine_storage", "local_rules")
