"""Tendency of the water to form lime scale on the sleeve."""

from dataclasses import dataclass
from typing import Any, cast

import numpy as np

from dosewright.core.constants import CELSIUS_ZERO
from dosewright.core.water_and_air import scaling
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.engine.sentences import listed
from dosewright.quantities import Numbers
from dosewright.tables.site import langelier_offset, site_default
from dosewright.topics.site.contracts.water_check import WaterCheckRequest

__all__ = ["Scale", "scale_of", "warn_scale"]

_NEEDED = {
    "ph": "pH",
    "calcium_hardness": "calcium hardness",
    "alkalinity": "alkalinity",
    "total_dissolved_solids": "total dissolved solids",
    "water_temperature": "water temperature",
}
_COLD = 303.15  # K; above it the printed chart agrees with PHREEQC
_TENDENCIES = ("scale_dissolving", "balanced", "scale_forming")

_INDEX = Basis(
    method="Langelier index = pH - pHs, Ryznar index = 2 pHs - pH; pHs = (9.3 + A + B) - (C + D)",
    source="Langelier (1936), Journal AWWA 28, 1500, and Ryznar (1944), Journal AWWA 36, 472; equation as printed by "
    "corrosion-doctors.org",
    validity="0 to 90 degC; accurate to a few tenths; shows whether scale can form, not how fast. At the sleeve, the "
    "pH of the water is assumed",
)


@dataclass(frozen=True, slots=True)
class Scale:
    """The scaling indices; all None where an input is missing.

    Attributes
    ----------
    saturation_ph, langelier_index, ryznar_index, index_at_sleeve : float, array or None
        The indices.
    forms_scale : flag, flags or None
        Whether the index, corrected for the chart reading too low, is above the limit in the water or at the sleeve.
    tendency : text, labels or None
        The tendency in a word.
    """

    saturation_ph: Numbers | None = None
    langelier_index: Numbers | None = None
    ryznar_index: Numbers | None = None
    index_at_sleeve: Numbers | None = None
    forms_scale: Any = None
    tendency: Any = None


def _missing(ask: WaterCheckRequest[Numbers]) -> list[str]:
    return [name for name in _NEEDED if getattr(ask, name) is None]


def scale_of(ask: WaterCheckRequest[Numbers]) -> Scale:
    """Return the indices of a water, or none if an input is missing."""
    if _missing(ask):
        return Scale()
    temperature: Any = ask.water_temperature
    ph, calcium, alkalinity, solids = (getattr(ask, name) for name in _NEEDED if name != "water_temperature")
    # Water without dissolved solids has no index; the request allows 0.
    solids = np.where(solids > 0.0, solids, np.nan)[()]
    known = np.where(np.isnan(solids), 0.3, solids)[()]

    def index_at(here: Any) -> tuple[Any, Any]:
        saturation = scaling.saturation_ph(calcium, alkalinity, known, here)
        saturation = np.where(np.isnan(solids), np.nan, saturation)[()]
        return saturation, scaling.langelier_index(ph, saturation)

    saturation, index = index_at(temperature)
    at_sleeve = None if ask.sleeve_temperature is None else index_at(ask.sleeve_temperature)[1]
    worst = index if at_sleeve is None else np.fmax(index, at_sleeve)
    saturated = index + _offset(temperature)
    if at_sleeve is not None:
        saturated = np.fmax(saturated, at_sleeve + _offset(ask.sleeve_temperature))
    forms = saturated > site_default("scale_forming_above")[0]
    dissolves = worst < site_default("scale_dissolving_below")[0]
    return Scale(
        saturation_ph=saturation,
        langelier_index=index,
        ryznar_index=scaling.ryznar_index(ph, saturation),
        index_at_sleeve=at_sleeve,
        forms_scale=forms,
        tendency=label(_codes(forms, dissolves, worst), (*_TENDENCIES, None)),
    )


def _offset(temperature: Any) -> Numbers:
    """Return how far the chart reads below calcite saturation."""
    celsius, offsets = langelier_offset()
    return cast("Numbers", np.interp(temperature - CELSIUS_ZERO, celsius, offsets))


def _codes(forms: Any, dissolves: Any, worst: Any) -> Any:
    return np.where(np.isnan(worst), 3, np.where(forms, 2, np.where(dissolves, 0, 1)))[()]


def warn_scale(ask: WaterCheckRequest[Numbers], scale: Scale, notes: Notes) -> None:
    """Add the basis of the indices and warn of scale, or of the missing inputs."""
    missing = _missing(ask)
    if missing:
        message = f"No scaling index: enter {listed(_NEEDED[name] for name in missing)}."
        notes.warn("scaling_not_assessed", missing[0], message)
        return
    notes.add_basis(_INDEX)
    limit, source = site_default("scale_forming_above")
    field = "langelier_index" if scale.index_at_sleeve is None else "langelier_index_at_sleeve"
    message = (
        f"The corrected Langelier index is above {limit:g} ({source}): scale forms on the sleeve and blocks the light. "
        "Fit a softener, or clean the sleeve often."
    )
    notes.warn("scale_forming", field, message, when=scale.forms_scale)
    cold: Any = ask.water_temperature
    message = (
        "In cold water this chart reads too low: by 0.1 to 0.2 at 25 degC and by 0.2 to 0.3 at 0 to 10 degC (compared "
        "with PHREEQC). The scale result corrects for that. Water with a slightly negative index can still form scale."
    )
    notes.warn("index_reads_low", "langelier_index", message, when=cold < _COLD)
    none: Any = scale.saturation_ph
    message = "No scaling index: total dissolved solids are 0. Enter the measured value."
    notes.warn("scaling_not_assessed", "total_dissolved_solids", message, when=np.isnan(none))
    if scale.index_at_sleeve is None:
        message = (
            "The sleeve is warmer than the water, most of all when no water runs, so it scales sooner. Enter "
            "sleeve_temperature."
        )
        notes.warn("sleeve_temperature_not_given", "sleeve_temperature", message)
