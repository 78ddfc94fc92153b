"""Warnings and cautions of a water test."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from dosewright.engine.notes import Notes
from dosewright.engine.sentences import capitalised
from dosewright.present.rounding import quantity_text
from dosewright.quantities import Numbers
from dosewright.tables.site import Treatment, WaterLimit, water_limits
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
    "warn_cysts",
    "warn_results",
]

Ask = WaterCheckRequest[Numbers]
Result = ParameterResult[Any]
SPECIALIST = "specialist"
DEEP = "drilled_well"
_NEAR, _NEAR_PH = 0.1, 0.2
_SOFT, _ACIDIC = 3.5, 7.0  # hardness in gpg, 60 mg/L; pH
_HIGH_PH = 8.5  # 40 CFR 143.3, secondary maximum contaminant levels
_SULFATE_FOR_INFANTS = 400.0  # mg/L
CLOSE = 1e-9  # a limit read in another unit comes back with a rounding error


def wants(found: tuple[tuple[Treatment, ...], Any], stage: str) -> Any:
    """Return where a result needs a treatment stage."""
    treatments, place = found
    required: Any = False
    for index, treatment in enumerate(treatments, start=1):
        if treatment.stage == stage:
            required = required | (place == index)
    return required


def has_faecal(results: Mapping[str, tuple[Result, Any]]) -> Any:
    """Return whether the test shows E. coli; None where it was not tested."""
    return np.logical_not(results["e_coli"][0].within) if "e_coli" in results else None


def needs_cyst_filter(ask: Ask, results: Mapping[str, tuple[Result, Any]]) -> Any:
    """Return whether sewage or manure can bring cysts: E. coli in open, shallow or unknown water."""
    faecal = has_faecal(results)
    return False if faecal is None or ask.water_source == DEEP else faecal


def warn_cysts(ask: Ask, results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    """Warn of cysts, and name the filter that removes them."""
    message = (
        "E. coli in open or shallow water means parasites can be in it too. Fit a filter that removes cysts (1 µm "
        "absolute) ahead of the UV unit."
    )
    notes.warn("cyst_filter_needed", "e_coli", message, when=needs_cyst_filter(ask, results))


def warn_results(
    results: Mapping[str, tuple[Result, Any]], missing: Mapping[str, WaterLimit], bacteria: Any, notes: Notes
) -> None:
    """Warn of each result that needs attention."""
    for name, limit in missing.items():
        reason = notes.undecided.get(name)
        opening = f"Not known: {limit.title}. {reason}" if reason else f"Not tested: {limit.title}."
        notes.warn("not_tested", name, f"{opening} This test shows {limit.judges}.")
    for name, (result, found) in results.items():
        if result.effect == "aesthetic":
            message = f"{_above_limit(result)} It is a standard for taste; the verdict does not depend on it."
            notes.warn("aesthetic_limit", name, message, when=np.logical_not(result.within))
        message = (
            f"{_titled(result)}: ordinary household treatment is not enough. Have a specialist design the treatment, "
            "or use other water."
        )
        notes.warn("specialist_needed", name, message, when=wants(found, SPECIALIST))
        notes.warn(
            "neutraliser_adds_hardness",
            name,
            "A neutralising filter adds hardness. Test the hardness again after it.",
            when=wants(found, "neutraliser"),
        )
    _warn_chemicals(results, notes)
    _warn_soft_water(results, notes)
    _warn_high_ph(results, notes)
    for name, (result, _) in results.items():
        message = (
            f"{_titled(result)}: close to the limit ({_limits(result)}). Test again, also in another season, before "
            "relying on it."
        )
        notes.warn("close_to_limit", name, message, when=_is_close(name, result))
    if "uvt" in results:
        uvt = results["uvt"][0]
        message = (
            f"{_titled(uvt)}: the limit is {_limits(uvt)}. Find out what absorbs the light (iron, tannin, organic "
            "matter) before choosing a filter. A unit can also be derated for a lower UVT: see uv/derated-flow."
        )
        notes.warn("uvt_low", "uvt", message, when=np.logical_not(uvt.within))
    _warn_bacteria(results, bacteria, notes)


def _warn_bacteria(results: Mapping[str, tuple[Result, Any]], bacteria: Any, notes: Notes) -> None:
    if "e_coli" in results:
        message = (
            "E. coli means sewage or manure is getting in. Find the source and stop it: look at the well cap, the "
            "casing and any septic field. Then disinfect the well or cistern and the pipes with chlorine. UV light "
            "comes after that, not instead of it."
        )
        notes.warn("faecal_pollution", "e_coli", message, when=np.logical_not(results["e_coli"][0].within))
    if bacteria is not None:
        message = (
            "UV kills bacteria, but first disinfect the well or cistern and the pipes with chlorine, and find how they "
            "got in."
        )
        notes.warn("bacteria_present", "bacteria_present", message, when=bacteria)


def _warn_chemicals(results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    if "nitrate_nitrogen" in results:
        message = (
            f"{_above_limit(results['nitrate_nitrogen'][0])} Give infants and pregnant women other water. Do not boil "
            "it: boiling raises nitrate. Fit reverse osmosis or anion exchange at the drinking tap. UV light does not "
            "remove nitrate; uv_verdict shows whether the UV unit works."
        )
        above = np.logical_not(results["nitrate_nitrogen"][0].within)
        notes.warn("nitrate_above_limit", "nitrate_nitrogen", message, when=above)
    for name in ("lead", "copper", "arsenic", "fluoride", "uranium"):
        if name in results:
            message = (
                f"{_above_limit(results[name][0])} Drink and cook with other water until reverse osmosis certified "
                f"for {name} is fitted at the tap and its water is tested. Boiling does not remove it."
            )
            above = np.logical_not(results[name][0].within)
            notes.warn("chemical_above_limit", name, message, when=above)
    if "sulfate" in results:
        message = (
            f"{_titled(results['sulfate'][0])}: above 400 mg/L, do not use the water for infant formula (Ohio State "
            "University, health text)."
        )
        notes.warn("sulfate_infants", "sulfate", message, when=results["sulfate"][0].value > _SULFATE_FOR_INFANTS)


def _warn_soft_water(results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    if "ph" not in results and "hardness" not in results:
        return
    # The untested one of the two is assumed to be as bad.
    soft: Any = results["hardness"][0].value < _SOFT if "hardness" in results else True
    acidic: Any = results["ph"][0].value < _ACIDIC if "ph" in results else True
    message = (
        f"Water softer than {_SOFT:g} gpg with a pH below {_ACIDIC:g} dissolves lead and copper from pipes and "
        "fittings. Test both in the first water of the morning, and raise the pH (common practice, no source)."
    )
    field = "ph" if "ph" in results else "hardness"
    notes.warn("lead_and_copper", field, message, when=np.logical_and(soft, acidic)[()])


def _warn_high_ph(results: Mapping[str, tuple[Result, Any]], notes: Notes) -> None:
    if "ph" not in results:
        return
    message = (
        f"{_titled(results['ph'][0])}: above the secondary standard of {_HIGH_PH:g} (40 CFR 143.3). The water tastes "
        "of soda, forms scale sooner and weakens chlorine."
    )
    notes.warn("ph_above_secondary", "ph", message, when=results["ph"][0].value > _HIGH_PH * (1.0 + CLOSE))


def _is_close(name: str, result: Result) -> Any:
    """Return whether a result within its limits is close to one: within a tenth of the limit, or 0.2 of a pH."""
    close: Any = False
    for limit, side in ((result.lower_limit, 1.0), (result.upper_limit, -1.0)):
        if limit:
            margin = _NEAR_PH if name == "ph" else _NEAR * limit
            close = np.logical_or(close, side * (result.value - limit) < margin)
    return np.logical_and(close, result.within)[()]


def _limits(result: Result) -> str:
    bounds = [
        f"{word} {limit:g}"
        for word, limit in (("at least", result.lower_limit), ("at most", result.upper_limit))
        if limit
    ]
    return f"{' and '.join(bounds)} {result.unit}".strip()


def _titled(result: Result) -> str:
    """Return the parameter with its value; in a batch, where each row has its own value, without it."""
    title = capitalised(water_limits()[result.name].title)
    if np.ndim(result.value):
        return title
    return f"{title} {result.reported or quantity_text(result.value, result.unit)}"


def _above_limit(result: Result) -> str:
    """Return the sentence that a result is above its limit, with its value unless in a batch."""
    title = capitalised(water_limits()[result.name].title)
    value = "" if np.ndim(result.value) else f"{quantity_text(result.value, result.unit, 'up')}, "
    return f"{title}: {value}above the limit of {quantity_text(result.upper_limit or 0.0, result.unit)}."


def caution_of_water(results: Mapping[str, tuple[Result, Any]], bacteria: Any, notes: Notes) -> None:
    """Add the cautions of the water."""
    notes.caution("uv_not_chemicals")
    # Boiling concentrates nitrate, so with both the advice is to use other water.
    nitrate = "nitrate_nitrogen" in results and not bool(np.all(results["nitrate_nitrogen"][0].within))
    if bacteria is not None and bool(np.any(bacteria)):
        notes.caution("other_water_until_safe" if nitrate else "boil_until_safe")
    if nitrate:
        notes.caution("nitrate_infants")
    notes.caution("pressure", "well_authority", "local_rules")
