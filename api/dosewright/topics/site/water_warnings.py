"""Warnings and cautions of a water test."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from dosewright.engine.notes import Notes
from dosewright.engine.sentences import capitalised
from dosewright.quantities import Numbers
from dosewright.tables.site import Treatment, WaterLimit
from dosewright.topics.site.contracts.water_check import (
    ParameterResult,
    WaterCheckRequest,
)

__all__ = [
    "CLOSE",
    "SPECIALIST",
    "Ask",
    "Result",
    "caution_of_water",
    "has_faecal",
    "needs_cyst_filter",
    "wants",
    "warn_of_cysts",
    "warn_of_results",
]

Ask = WaterCheckRequest[Numbers]
Result = ParameterResult[Any]
SPECIALIST = "specialist"
DEEP = "drilled_well"
_NEAR, _NEAR_PH = 0.1, 0.2
_SOFT, _ACIDIC = 3.5, 7.0  # hardness in gpg, 60 mg/L; pH
_HIGH_PH = 8.5  # 40 CFR 143.3, secondary maximum contaminant levels
_SULFATE_FOR_INFANTS = 400.0  # mg/L
CLOSE = 1e-9  # a limit read in another unit comes back a rounding error beside itself


def wants(found: tuple[tuple[Treatment, ...], Any], stage: str) -> Any:
    """Return where a result asks for a stage of treatment."""
    treatments, place = found
    wanted: Any = False
    for index, treatment in enumerate(treatments, start=1):
        if treatment.stage == stage:
            wanted = wanted | (place == index)
    return wanted


def has_faecal(results: Mapping[str, tuple[Result, Any]]) -> Any:
    """Return whether E. coli was found; None where it was not tested."""
    return np.logical_not(results["e_coli"][0].within) if "e_coli" in results else None


def needs_cyst_filter(ask: Ask, results: Mapping[str, tuple[Result, Any]]) -> Any:
    """Return whether faeces can bring cysts: E. coli in water that is open, shallow or of unknown source."""
    faecal = has_faecal(results)
    return False if faecal is None or ask.water_source == DEEP else faecal


def warn_of_cysts(ask: Ask, results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    """Warn of cysts, and name the filter against them."""
    message = (
        "E. coli in open or shallow water means that parasites can be in it too: fit a filter that holds back cysts "
        "(1 µm absolute) ahead of the UV unit."
    )
    notes.warn("cyst_filter_needed", "e_coli", message, when=needs_cyst_filter(ask, results))


def warn_of_results(
    results: Mapping[str, tuple[Result, Any]], missing: Mapping[str, WaterLimit], bacteria: Any, notes: Notes
) -> None:
    """Warn of what the results show, one by one."""
    for name, limit in missing.items():
        message = f"Not tested: {limit.title}. {capitalised(limit.judges)} cannot be judged."
        notes.warn("not_tested", name, message)
    for name, (result, found) in results.items():
        if result.effect == "aesthetic":
            message = "Above the secondary standard, which is one of taste; the verdict does not hang on it."
            notes.warn("aesthetic_limit", name, message, when=np.logical_not(result.within))
        message = (
            "Beyond what common household stages are printed for: have the treatment designed, or find other water."
        )
        notes.warn("specialist_needed", name, message, when=wants(found, SPECIALIST))
        notes.warn(
            "neutraliser_adds_hardness",
            name,
            "A bed that raises the pH adds hardness: test the hardness again behind it.",
            when=wants(found, "neutraliser"),
        )
    _note_chemicals(results, notes)
    _note_soft_water(results, notes)
    _note_high_ph(results, notes)
    for name, (result, _) in results.items():
        message = (
            f"Close to its limit: {_close_to(result)}. Test it again, in another season too, before relying on it."
        )
        notes.warn("close_to_limit", name, message, when=_is_close(name, result))
    if "uvt" in results:
        message = (
            "Find what takes up the light (iron, tannin, organic matter) before choosing a filter; a unit may also be "
            "derated for a lower UVT, see uv/derated-flow."
        )
        notes.warn("uvt_low", "uvt", message, when=np.logical_not(results["uvt"][0].within))
    _warn_of_bacteria(results, bacteria, notes)


def _warn_of_bacteria(results: Mapping[str, tuple[Result, Any]], bacteria: Any, notes: Notes) -> None:
    if "e_coli" in results:
        message = (
            "E. coli comes from faeces: find and stop their way in (to a well by its cap or casing, or from a septic "
            "field) and disinfect well or cistern and the pipes with chlorine; ultraviolet light comes after, not "
            "instead."
        )
        notes.warn("faecal_pollution", "e_coli", message, when=np.logical_not(results["e_coli"][0].within))
    if bacteria is not None:
        message = (
            "Bacteria are what the light is for; still, disinfect well or cistern and the pipes with chlorine once, "
            "and look for their way in."
        )
        notes.warn("bacteria_found", "bacteria_found", message, when=bacteria)


def _note_chemicals(results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    if "nitrate_nitrogen" in results:
        message = (
            "Nitrate is above the limit: give infants and pregnant women other water, and do not boil it, since "
            "boiling raises nitrate. Fit reverse osmosis or anion exchange at the drinking tap. Ultraviolet light "
            "leaves nitrate as it is; uv_verdict says whether the unit works."
        )
        above = np.logical_not(results["nitrate_nitrogen"][0].within)
        notes.warn("nitrate_above_limit", "nitrate_nitrogen", message, when=above)
    for name in ("lead", "copper", "arsenic", "fluoride", "uranium"):
        if name in results:
            message = (
                f"{name.capitalize()} is above the limit: drink and cook with other water until reverse osmosis at the "
                "tap, certified for it, is fitted and its water tested. Boiling does not remove it."
            )
            above = np.logical_not(results[name][0].within)
            notes.warn("chemical_above_limit", name, message, when=above)
    if "sulfate" in results:
        message = (
            "More than 400 mg/L of sulfate: do not use it for infant formula (Ohio State University, health text)."
        )
        notes.warn("sulfate_infants", "sulfate", message, when=results["sulfate"][0].value > _SULFATE_FOR_INFANTS)


def _note_soft_water(results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    if "ph" not in results and "hardness" not in results:
        return
    # What was not tested may be as bad as the other: one of the two is enough.
    soft: Any = results["hardness"][0].value < _SOFT if "hardness" in results else True
    acidic: Any = results["ph"][0].value < _ACIDIC if "ph" in results else True
    message = (
        "Soft and acidic water dissolves lead and copper from pipes and fittings: test both in the first water of the "
        "morning, and raise the pH (common practice, no source)."
    )
    field = "ph" if "ph" in results else "hardness"
    notes.warn("lead_and_copper", field, message, when=np.logical_and(soft, acidic)[()])


def _note_high_ph(results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    if "ph" not in results:
        return
    message = (
        "A pH above 8.5 is beyond the secondary standard of 40 CFR 143.3: the water tastes of soda, lays scale sooner "
        "and makes chlorine weaker."
    )
    notes.warn("ph_above_secondary", "ph", message, when=results["ph"][0].value > _HIGH_PH * (1.0 + CLOSE))


def _is_close(name: str, result: Result) -> Any:
    """Return whether a result within its limits is near one: a tenth of the limit, or 0.2 of a pH."""
    close: Any = False
    for limit, side in ((result.lower_limit, 1.0), (result.upper_limit, -1.0)):
        if limit:
            margin = _NEAR_PH if name == "ph" else _NEAR * limit
            close = np.logical_or(close, side * (result.value - limit) < margin)
    return np.logical_and(close, result.within)[()]


def _close_to(result: Result) -> str:
    bounds = [
        f"{word} {limit:g}"
        for word, limit in (("at least", result.lower_limit), ("at most", result.upper_limit))
        if limit
    ]
    return f"{' and '.join(bounds)} {result.unit}".strip()


def caution_of_water(results: Mapping[str, tuple[Result, Any]], bacteria: Any, notes: Notes) -> None:
    """Add the cautions of the water."""
    notes.caution("uv_not_chemicals")
    if bacteria is not None and bool(np.any(bacteria)):
        notes.caution("boil_until_safe")
    if "nitrate_nitrogen" in results and not bool(np.all(results["nitrate_nitrogen"][0].within)):
        notes.caution("nitrate_infants")
    notes.caution("pressure", "well_authority", "local_rules")
