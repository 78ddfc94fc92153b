"""Shares of the two forms of free chlorine."""

from typing import Any

import numpy as np

from dosewright.core.chlorine import hypochlorous
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import chlorine_limit
from dosewright.topics.chlorine import charts
from dosewright.topics.chlorine.contracts.chemistry import SpeciationAnswer, SpeciationRequest
from dosewright.topics.chlorine.page import chlorine_page

__all__ = ["MORRIS", "speciation"]

MORRIS = Basis(
    method="HOCl share = 1/(1 + 10^(pH - pKa)), pKa = 3000/T - 10.0686 + 0.0253 T",
    source="Morris (1966), J. Phys. Chem. 70, 3798, as quoted by later works",
    validity="5 to 35 degC, pH 5 to 14, dilute water",
)
_WAGMAN = Basis(
    method="pKa = 43.1 kJ/mol / (R 298.15 K ln 10) + 13.8 kJ/mol / (R ln 10) x (1/T - 1/298.15 K)",
    source="Wagman et al. (1982), NBS tables of chemical thermodynamic properties [from memory]; van 't Hoff equation",
    validity="0 to 50 degC, constant enthalpy, dilute water",
)
_SALTS = Basis(
    method="pKa minus A (sqrt(I)/(1 + sqrt(I)) - 0.3 I); I = 2.5e-5 mol/mg x total dissolved solids",
    source="Davies (1962), Ion Association; Langelier (1936), J. AWWA 28, 1500 [both from memory]",
    validity="ionic strength up to 0.5 mol/L; waters of ordinary composition",
)
_TITLES = {"morris_1966": "Morris (1966)", "wagman_1982": "Wagman et al. (1982)"}


@calculation(
    "chlorine/speciation",
    views=Views(chart=charts.speciation, page=chlorine_page),
    request=SpeciationRequest,
    answer=SpeciationAnswer,
    summary="Share of free chlorine that is hypochlorous acid",
    example={
        "ph": "7.6",
        "water_temperature": "12 degC",
        "free_chlorine": "1.2 mg/L",
        "total_dissolved_solids": "450 mg/L",
    },
)
def speciation(ask: SpeciationRequest[Numbers], notes: Notes) -> SpeciationAnswer[Numbers]:
    """Hypochlorous acid and hypochlorite ion at a pH and temperature, from two published acid constants.

    Dissolved salts lower the apparent acid constant, by 0.02 in soft and 0.08 in brackish water. Enter the total
    dissolved solids to include this.
    """
    other = "wagman_1982" if ask.relation == "morris_1966" else "morris_1966"
    dilute = _pka(ask.relation, ask.water_temperature)
    pka = _in_salt(dilute, ask)
    share = hypochlorous.share_at_pka(ask.ph, pka)
    ion = 1.0 - share
    other_pka, other_share = _other(other, ask)
    notes.add_basis(MORRIS, _WAGMAN)
    if ask.total_dissolved_solids is None:
        message = (
            "The acid constant is for dilute water. Dissolved salts lower it, so the share of hypochlorous acid is "
            "slightly overestimated. Enter total_dissolved_solids."
        )
        notes.warn("ionic_strength_not_included", "pka", message)
    else:
        notes.add_basis(_SALTS)
    _warn_ph(ask, notes)
    notes.caution("local_rules")
    return SpeciationAnswer(
        hypochlorous_acid_share=share,
        hypochlorite_ion_share=ion,
        pka=pka,
        dilute_pka=dilute,
        hypochlorous_acid=None if ask.free_chlorine is None else ask.free_chlorine * share,
        hypochlorite_ion=None if ask.free_chlorine is None else ask.free_chlorine * ion,
        other_relation=_TITLES[other],
        other_pka=other_pka,
        other_hypochlorous_acid_share=other_share,
    )


@speciation.check("water_temperature", "relation")
def _(ask: SpeciationRequest[Numbers], notes: Notes) -> None:
    if ask.relation == "morris_1966":
        message = "Morris (1966) is valid from 5 to 35 degC. Use relation wagman_1982, valid from 0 to 50 degC."
        outside = np.logical_not(hypochlorous.speciation_known(7.0, ask.water_temperature))
        notes.refuse("outside_method", "water_temperature", message, when=outside, allowed="5 degC to 35 degC")


def _pka(relation: str, temperature: Numbers) -> Numbers:
    if relation == "morris_1966":
        return hypochlorous.hypochlorous_acid_pka(temperature)
    return hypochlorous.pka_from_formation(temperature)


def _in_salt(pka: Numbers, ask: SpeciationRequest[Numbers]) -> Numbers:
    if ask.total_dissolved_solids is None:
        return pka
    strength = hypochlorous.ionic_strength_of_water(ask.total_dissolved_solids)
    return hypochlorous.pka_in_salt(pka, strength, ask.water_temperature)


def _other(relation: str, ask: SpeciationRequest[Numbers]) -> tuple[Numbers | None, Numbers | None]:
    known: Any = True
    temperature: Any = ask.water_temperature
    if relation == "morris_1966":
        known = hypochlorous.speciation_known(7.0, temperature)
        if np.ndim(known) == 0 and not known:
            return None, None
        temperature = np.where(known, temperature, hypochlorous.LOWEST_TEMPERATURE)
    pka = _in_salt(_pka(relation, temperature), ask)
    share = hypochlorous.share_at_pka(ask.ph, pka)
    if np.ndim(known) == 0:
        return pka, share
    return np.where(known, pka, np.nan), np.where(known, share, np.nan)


def _warn_ph(ask: SpeciationRequest[Numbers], notes: Notes) -> None:
    high, source = chlorine_limit("highest_ph")
    message = f"Above pH {high:g} ({source}), much of the chlorine is hypochlorite ion, which disinfects slowly."
    notes.warn("ph_high", "ph", message, when=ask.ph > high)
