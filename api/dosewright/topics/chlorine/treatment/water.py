"""Effect of the water on the chlorine: demand, pH after chlorination, and acid to lower it."""

from typing import Any, NamedTuple, Protocol

import numpy as np

from dosewright.core.chlorine import acidity, chlorine, hypochlorous
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import chlorine_limit, demand_ratios
from dosewright.topics.chlorine.contracts.shock import ShockRequest
from dosewright.topics.chlorine.speciation import MORRIS

__all__ = ["Acidity", "acidity_of", "check_water", "counted_demand", "demand_of", "warn_water"]

Ask = ShockRequest[Numbers]

_PER_CALCIUM_CARBONATE = 1.0 / 50.043  # mol of charge/m³ in 1 mg/L as CaCO₃
_NAMES = ("iron", "manganese", "sulfide", "ammonia")

# White vinegar of 5 g of acetic acid in 100 mL.
_VINEGAR = 50.0 / 60.052e-3  # mol/m³: 50 kg/m³ over 0.060052 kg/mol
_ACETIC_PKA = 4.756

_DEMAND = Basis(
    method="demand = chlorine_demand + 0.635 iron + 1.291 manganese + 8.32 sulfide + 10 ammonia nitrogen",
    source="stoichiometry; ammonia: Weiner, Applications of Environmental Aquatic Chemistry, chapter 4 (breakpoint at "
    "7.6 in theory, 10 to 15 in practice)",
    validity="dissolved iron and manganese; organic matter only as far as chlorine_demand includes it",
)
_CARBONATE = Basis(
    method="pH from alkalinity and inorganic carbon; each mole of hypochlorite adds one of base; no CO2 lost",
    source="Plummer and Busenberg (1982), Geochim. Cosmochim. Acta 46, 1011, partly as in USGS PHREEQC 3 [K1 from "
    "memory]; Morris (1966) for hypochlorous acid",
    validity="dilute carbonate water, 5 to 35 degC; without excess caustic of the product and acid from the demand",
)
_ACID = Basis(
    method="vinegar = acid to the target pH / (0.833 mol/L x its dissociated share, pKa 4.756)",
    source="charge balance; acetic acid 5 g in 100 mL: common practice, no source; pKa: CRC Handbook [from memory]",
    validity="white distilled vinegar, stirred in before the chlorine",
)


class Acidity(NamedTuple):
    """pH and share of hypochlorous acid, with and without vinegar.

    Attributes
    ----------
    ph : float, array or None
        pH after the chlorine [1].
    share : float, array or None
        Share of hypochlorous acid at that pH [1].
    vinegar : float, array or None
        Vinegar that brings the water to the target pH [m³].
    target_share : float, array or None
        Share of hypochlorous acid after vinegar and chlorine [1].
    vinegar_ph : float, array or None
        pH after the vinegar, before the chlorine [1].
    final_ph : float, array or None
        pH after vinegar and chlorine [1].
    """

    ph: Numbers | None
    share: Numbers | None
    vinegar: Numbers | None
    target_share: Numbers | None
    vinegar_ph: Numbers | None = None
    final_ph: Numbers | None = None


def check_water(ask: Ask, notes: Notes) -> None:
    """Reject a pH without alkalinity, a target outside the constants, and an impossible pair of pH and alkalinity."""
    if ask.ph_target is not None:
        message = (
            "The constants for the pH are valid from 5 to 35 degC (Morris 1966), so the vinegar cannot be calculated "
            "here. Leave out ph_target."
        )
        beyond = np.logical_not(hypochlorous.speciation_known(7.0, ask.water_temperature))
        notes.refuse("outside_method", "water_temperature", message, when=beyond[()], allowed="5 to 35 degC")
    if ask.raw_ph is None and ask.alkalinity is None:
        if ask.ph_target is not None:
            message = "ph_target requires raw_ph and alkalinity. Enter both."
            notes.refuse("required", "raw_ph", message)
        return
    if ask.raw_ph is None or ask.alkalinity is None:
        missing = "raw_ph" if ask.raw_ph is None else "alkalinity"
        notes.refuse("required", missing, "raw_ph and alkalinity belong together. Enter both or neither.")
        return
    constants = acidity.carbonate_constants(_measured(ask.water_temperature))
    carbon = acidity.inorganic_carbon(ask.raw_ph, ask.alkalinity * _PER_CALCIUM_CARBONATE, constants)
    message = "This pH is not possible with this alkalinity. Check both values."
    notes.refuse("contradiction", "raw_ph", message, when=carbon <= 0.0)


def _measured(temperature: Numbers) -> Numbers:
    """Return the temperature, or the nearest valid one: results outside the range are withheld later."""
    return np.minimum(np.maximum(temperature, hypochlorous.LOWEST_TEMPERATURE), hypochlorous.HIGHEST_TEMPERATURE)


class DemandFields(Protocol):
    """Chlorine demand: as measured, and from substances in the water [kg/m³]."""

    @property
    def chlorine_demand(self) -> Numbers:
        """Measured demand."""
        ...


def counted_demand(ask: DemandFields) -> Numbers:
    """Return the total chlorine demand: the measured one plus that of dissolved substances [kg/m³]."""
    ratios = demand_ratios()
    demand = ask.chlorine_demand
    for name in _NAMES:
        held: Numbers | None = getattr(ask, name)
        if held is not None:
            demand = demand + held * ratios[name][0]
    return demand


def demand_of(ask: DemandFields, notes: Notes) -> Numbers:
    """Return the total chlorine demand [kg/m³], and add its basis."""
    demand = counted_demand(ask)
    if any(getattr(ask, name) is not None for name in _NAMES):
        notes.add_basis(_DEMAND)
    message = (
        "No chlorine demand was measured. Organic matter uses up chlorine too, and only a test shows how much. Check "
        "the free chlorine after an hour, and add more if it is too low."
    )
    unmeasured = np.logical_and(ask.chlorine_demand <= 0.0, demand > 0.0)
    notes.warn("organic_demand_not_measured", "chlorine_demand", message, when=unmeasured[()])
    return demand


def acidity_of(ask: Ask, volume: Numbers, dose: Numbers, notes: Notes) -> Acidity:
    """Return the pH after the chlorine, the share of hypochlorous acid, and the vinegar for the target pH."""
    if ask.ph is None and (ask.raw_ph is None or ask.alkalinity is None):
        notes.warn("ph_not_given", "ph", "No pH: the share of hypochlorous acid is not known. Enter ph.")
        return Acidity(None, None, None, None)
    known = hypochlorous.speciation_known(7.0, ask.water_temperature)
    ph = ask.ph
    vinegar = target_share = vinegar_ph = final_ph = None
    if ask.raw_ph is not None and ask.alkalinity is not None:
        constants = acidity.carbonate_constants(_measured(ask.water_temperature))
        alkalinity = ask.alkalinity * _PER_CALCIUM_CARBONATE
        carbon = acidity.inorganic_carbon(ask.raw_ph, alkalinity, constants)
        moles = dose / chlorine.CHLORINE
        if ph is None or ask.ph_target is not None:
            notes.add_basis(_CARBONATE)
        if ph is None:
            ph = _withheld(acidity.ph_with_hypochlorite(carbon, alkalinity, moles, constants), known)
        if ask.ph_target is not None:
            notes.add_basis(_ACID)
            acid = acidity.acid_to_reach(ask.ph_target, carbon, alkalinity, moles, constants)
            portion = _vinegar(ask.ph_target, np.maximum(acid, 0.0))
            vinegar = portion * volume
            vinegar_ph = acidity.ph_with_weak_acid(carbon, alkalinity, portion * _VINEGAR, _ACETIC_PKA, constants)
            plain = acidity.ph_with_hypochlorite(carbon, alkalinity, moles, constants)
            final_ph = np.minimum(ask.ph_target, plain)
            target_share = _share(final_ph, ask.water_temperature)
            _warn_acid(acid, alkalinity, vinegar_ph, notes)
    share = None if ph is None else _share(ph, ask.water_temperature)
    notes.add_basis(MORRIS)
    texts = np.logical_and(known, True if ph is None else np.logical_and(ph >= hypochlorous.LOWEST_PH, ph <= 14.0))
    message = (
        "The acid constant of Morris (1966) is valid from 5 to 35 degC and from pH 5 up. Outside that range no share "
        "is calculated. Use chlorine/speciation with relation wagman_1982 for 0 to 50 degC."
    )
    notes.warn("speciation_out_of_range", "hypochlorous_acid_share", message, when=np.logical_not(texts))
    return Acidity(ph, share, vinegar, target_share, vinegar_ph, final_ph)


def _withheld(value: Numbers, known: Any) -> Numbers | None:
    """Return a value where it is valid; None, or not a number, elsewhere."""
    if np.ndim(known) == 0:
        return value if known else None
    return np.where(known, value, np.nan)


def _share(ph: Numbers, temperature: Numbers) -> Numbers | None:
    known = hypochlorous.speciation_known(ph, temperature)
    if np.ndim(known) == 0:
        return hypochlorous.hypochlorous_acid_share(ph, temperature) if known else None
    held = np.where(known, ph, hypochlorous.LOWEST_PH)
    warm = np.where(known, temperature, hypochlorous.LOWEST_TEMPERATURE)
    return np.where(known, hypochlorous.hypochlorous_acid_share(held, warm), np.nan)


def _vinegar(ph: Numbers, acid: Numbers) -> Numbers:
    """Return the vinegar for an amount of acid in a volume of water [m³/m³]."""
    # The acid given off at a pH is the dissociated share at that pH.
    dissociated = 1.0 - hypochlorous.share_at_pka(ph, _ACETIC_PKA)
    return acid / (_VINEGAR * dissociated)


def _warn_acid(acid: Numbers, alkalinity: Numbers, vinegar_ph: Numbers, notes: Notes) -> None:
    message = (
        f"The vinegar alone would bring the water below pH {hypochlorous.LOWEST_PH:g}, where the product releases "
        "chlorine gas and the constants are not valid. Raise ph_target, lower the dose, or leave out ph_target and "
        "hold longer."
    )
    sour = vinegar_ph < hypochlorous.LOWEST_PH
    allowed = f"a target that leaves at least pH {hypochlorous.LOWEST_PH:g} before the chlorine"
    notes.refuse("outside_method", "ph_target", message, when=sour, allowed=allowed)
    message = "The water stays at or below the target pH without acid. Add no vinegar."
    notes.warn("acid_not_needed", "vinegar_volume", message, when=acid <= 0.0)
    message = (
        "This much acid uses up the alkalinity of the water. Before the chlorine goes in, the water would be acidic "
        "enough to release chlorine gas from the product. Lower the dose, raise ph_target, or leave the pH as it is "
        "and hold longer."
    )
    notes.warn("acid_exceeds_alkalinity", "vinegar_volume", message, when=acid > 0.9 * alkalinity)


def warn_water(ask: Ask, demand: Numbers, dose: Numbers, ph: Numbers | None, notes: Notes) -> None:
    """Warn of a missing demand, of ammonia and metals, and of a pH outside the useful range."""
    message = (
        "No chlorine demand is included. Iron, manganese, sulfide, ammonia and organic matter use up chlorine. Enter "
        "chlorine_demand or the results of a water test."
    )
    notes.warn("demand_not_included", "chlorine_demand", message, when=demand <= 0.0)
    if ask.ammonia is not None:
        ratio, source = demand_ratios()["ammonia"]
        message = (
            f"Ammonia binds chlorine up to the breakpoint, at about {ratio:g} times its nitrogen ({source}). Below it "
            "there is only chloramine, which disinfects slowly and smells. Test for free chlorine, not total."
        )
        notes.warn("breakpoint", "ammonia", message, when=ask.ammonia > 0.0)
        message = "The dose is below 15 times the ammonia nitrogen, so the breakpoint is uncertain. Raise the dose."
        notes.warn("breakpoint_not_passed", "dose", message, when=dose < 15.0 * ask.ammonia)
    message = "Chlorine precipitates iron and manganese: the water turns brown or black, and valves foul. Flush well."
    metals = [held for held in (ask.iron, ask.manganese) if held is not None]
    for held in metals:
        notes.warn("metals_precipitate", "iron" if held is ask.iron else "manganese", message, when=held > 0.3e-3)
    if ph is None:
        return
    (low, _), (high, source) = chlorine_limit("lowest_ph"), chlorine_limit("highest_ph")
    message = (
        f"Above pH {high:g} ({source}), more of the chlorine is hypochlorite ion, which disinfects slowly. Hold "
        "longer, or have the pH corrected. Never add acid to the chlorine itself."
    )
    notes.warn("ph_high", "ph", message, when=ph > high)
    message = f"Below pH {low:g} ({source}), the water is corrosive and can release chlorine gas. Raise the pH."
    notes.warn("ph_low", "ph", message, when=ph < low)
