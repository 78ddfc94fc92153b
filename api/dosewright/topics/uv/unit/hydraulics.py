"""Hydraulics of an ultraviolet chamber, the organism, and the RED that follows."""

from typing import Any, Protocol

import numpy as np

from dosewright.core.light import dose, survival
from dosewright.core.light.survival import DoseResponse
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.ultraviolet import OrganismResponse, organism_response
from dosewright.topics.uv.contracts.lamp import DoseResponseItem, FirstOrder, MultiTarget, Shoulder, TwoGroups

__all__ = [
    "ORGANISMS",
    "HydraulicsFields",
    "hydraulics_of",
    "log_inactivation",
    "refuse_unclear_hydraulics",
    "response_of",
    "warn_lowest_dose",
    "warn_organism",
    "warn_target_between",
]

ORGANISMS = ("inactivation_rate", "organism", "dose_response")

_LN_10 = 2.302585092994045684

_PLUG_FLOW = Basis(
    method="plug_flow: mixed across the section, not along it; RED = mean dose",
    source="definition",
    validity="the upper bound for a first-order organism; jets and short circuits deliver less",
)
_TANKS = Basis(
    method=(
        "tanks_in_series: for a first-order organism RED = (tanks/k) ln(1 + k mean dose/tanks); for others "
        "the doses of separate parcels, gamma distributed"
    ),
    source="equal mixed tanks in series, textbook",
    validity="the entered organism; the number of tanks comes from a tracer test",
)
_LAMINAR = Basis(
    method=(
        "laminar: fully developed annular profile, 64 streamlines that never mix, each with the light along its path"
    ),
    source="laminar annular flow, textbook; doses along streamlines derived for Dosewright",
    validity=(
        "Reynolds numbers below 2000 and no stirring at the inlet; a low estimate, but short circuits can be worse"
    ),
)
_MEASURED = Basis(
    method="residence_times: dose = mean fluence rate x time of each share of the water, mixed across the section",
    source="residence-time distribution, definition",
    validity="the flow at which the times were measured",
)
_BOUNDS = Basis(
    method="bounds: upper, all water at the mean dose; lower, laminar flow that never mixes",
    source="plug flow and laminar annular flow, textbook",
    validity=(
        "first-order organisms; the RED between the bounds depends on the mixing at the inlet and, below "
        "Reynolds 2000, on whether the streamlines last; short circuits are below both"
    ),
)
_UNNAMED = (
    "No hydraulics were chosen. The mean dose is an upper bound that only plug flow reaches. Laminar flow that "
    "never mixes is a lower bound. The RED between them depends on how well inlet and baffles mix the water: a "
    "tracer test measures it (tanks_in_series, residence_times). Short circuits can be worse than both. A mean "
    "dose is not a validated RED, and flows and limits based on it are upper bounds as well."
)
_BY_KIND = {"plug_flow": _PLUG_FLOW, "laminar": _LAMINAR, "residence_times": _MEASURED, "tanks_in_series": _TANKS}


class HydraulicsFields(Protocol):
    """Fields for hydraulics and organism."""

    @property
    def hydraulics(self) -> str | None:
        """How the water mixes."""
        ...

    @property
    def tanks(self) -> Numbers | None:
        """Number of tanks [-]."""
        ...

    @property
    def inactivation_rate(self) -> Numbers | None:
        """First-order inactivation rate, base e [m²/J]."""
        ...

    @property
    def organism(self) -> str | None:
        """Name in the table of organisms."""
        ...

    @property
    def dose_response(self) -> Any:
        """Dose response entered by the caller."""
        ...


def response_of(ask: HydraulicsFields) -> DoseResponse | None:
    """Return the chosen dose response, or None without an organism."""
    if ask.inactivation_rate is not None:
        return DoseResponse("first_order", ask.inactivation_rate)
    if ask.organism is not None:
        rate = organism_response(ask.organism).rate
        return None if rate is None else DoseResponse("first_order", rate)
    own: DoseResponseItem[Numbers] | None = ask.dose_response
    if isinstance(own, Shoulder):
        return DoseResponse("shoulder", own.rate, shoulder_dose=own.shoulder_dose, floor=own.floor)
    if isinstance(own, MultiTarget):
        return DoseResponse("multi_target", own.rate, targets=own.targets, floor=own.floor)
    if isinstance(own, TwoGroups):
        rates = (own.rate, 0.0, 1.0, own.resistant_fraction, own.resistant_rate)
        return DoseResponse("two_groups", *rates, own.floor)
    if isinstance(own, FirstOrder):
        return DoseResponse("first_order", own.rate, floor=own.floor)
    return None


def hydraulics_of(ask: HydraulicsFields, notes: Notes, field: str) -> str | None:
    """Return the chosen hydraulics. Add their basis, or a warning if none were chosen, and warn about unused fields."""
    if ask.hydraulics is None:
        notes.add_basis(_BOUNDS)
        notes.warn("hydraulics_not_named", field, _UNNAMED)
    else:
        notes.add_basis(_BY_KIND[ask.hydraulics])
    if ask.tanks is not None and ask.hydraulics != "tanks_in_series":
        notes.warn("not_used", "tanks", "tanks is used only with hydraulics tanks_in_series.")
    return ask.hydraulics


def warn_target_between(mean: Numbers, lower: Numbers, target: Numbers, field: str, notes: Notes) -> None:
    """Warn if the target is between the bounds without hydraulics; `field` is the lower bound."""
    message = "The target is between the bounds. Whether it is met depends on how the water is mixed."
    notes.warn("target_between_bounds", field, message, when=(mean >= target) & (lower < target))


def warn_organism(ask: HydraulicsFields, notes: Notes) -> None:
    """Add the source of an organism in the table, and how reliable its figures are."""
    if ask.organism is None:
        return
    known = organism_response(ask.organism)
    marks = {"memory": "from memory, not yet checked in the source", "found": "read in the source"}
    notes.add_basis(
        Basis(
            method=f"dose response of {known.organism} {known.strain}".strip() + ": first order",
            source=f"{known.source} ({marks[known.status]})",
            validity=f"doses up to {known.dose_most / 10.0:.3g} mJ/cm2, log inactivation up to {known.logs[-1]:.2g}; "
            f"{known.caution}",
        )
    )
    if known.status == "memory":
        message = (
            "The organism's constant is from memory and not yet checked in its source. Check it before you rely on it."
        )
        notes.warn("value_from_memory", "organism", message)
    warn_lowest_dose(known, "organism", notes)


def warn_lowest_dose(known: OrganismResponse, field: str, notes: Notes) -> None:
    """Warn if the source of an organism has only a rate, without the lowest dose for it."""
    message = (
        "The lowest dose of this organism's data is unknown: its source has only a rate. At small doses a "
        "shoulder would make the inactivation less than this rate predicts."
    )
    notes.warn("lowest_dose_unknown", field, message, when=known.rate is not None)


def log_inactivation(ask: HydraulicsFields, response: DoseResponse, red: Numbers, notes: Notes) -> Numbers:
    """Return the log inactivation for a RED; not a number outside the organism's data."""
    if response.form == "first_order" and response.floor is None:
        logs = dose.log_inactivation(red, response.rate)
    else:
        # A RED that is not a number is rejected already. Here it must not cause an error.
        texts = np.where(np.isnan(red), 0.0, red) if np.ndim(red) else (0.0 if np.isnan(red) else red)
        logs = survival.log_survival(texts, response) / -_LN_10
    if ask.organism is None:
        return logs
    known = organism_response(ask.organism)
    warn_lowest_dose(known, "log_inactivation", notes)
    beyond = red > known.dose_most
    message = (
        "The dose is above the data of this organism. Its effect there is unknown, so no log inactivation is "
        "given. The basis has the value at the end of the data."
    )
    notes.warn("outside_data", "log_inactivation", message, when=beyond)
    return np.where(beyond, np.nan, logs) if np.ndim(beyond) else (float("nan") if beyond else logs)


def refuse_unclear_hydraulics(ask: HydraulicsFields, notes: Notes) -> None:
    """Refuse hydraulics without their number of tanks or their organism, and more than one organism."""
    named = [name for name in ORGANISMS if getattr(ask, name) is not None]
    if len(named) > 1:
        message = f"Enter only one organism. This request has {' and '.join(named)}."
        notes.refuse("more_than_one", named[1], message, allowed=f"one of {', '.join(ORGANISMS)}")
    own: DoseResponseItem[Numbers] | None = ask.dose_response
    if isinstance(own, TwoGroups):
        message = "The resistant group must have the smaller rate."
        notes.refuse("response_impossible", "dose_response/resistant_rate", message, when=own.resistant_rate > own.rate)
    if ask.hydraulics in {"tanks_in_series", "laminar", "residence_times"} and not named:
        message = (
            f"{ask.hydraulics} needs an organism, since the RED depends on it. Enter inactivation_rate, organism "
            "or dose_response."
        )
        notes.refuse("required", "inactivation_rate", message)
    if ask.hydraulics == "tanks_in_series" and ask.tanks is None:
        notes.refuse("required", "tanks", "tanks_in_series needs tanks, the number of tanks.")
