"""Log inactivation of organisms, and the doses that treatment credit requires."""

from typing import Any

import numpy as np

from dosewright.core.light.survival import between_points
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.tables.ultraviolet import OrganismResponse, credit_doses, organism_response
from dosewright.topics.uv.contracts.water import InactivationAnswer, InactivationRequest
from dosewright.topics.uv.unit.hydraulics import warn_lowest_dose

__all__ = ["inactivation"]

Ask = InactivationRequest[Numbers]

_CREDIT = Basis(
    method="regulatory UV dose table: half-log rows, read both ways, no interpolation",
    source=(
        "40 CFR 141.720(d)(1); USEPA UV Disinfection Guidance Manual, EPA 815-R-06-007 (2006), UV dose table "
        "(digits read on a page that reproduces it; the limits of use partly from memory)"
    ),
    validity=(
        "validated and monitored reactors of public water systems; 254 nm light of low-pressure lamps; "
        "behind the filters, or in unfiltered systems that meet the avoidance criteria; at least 95 % of "
        "each month's water within the validated conditions (from memory); a validated dose, never a mean "
        "dose"
    ),
)
_MARKS = {"memory": "from memory, not yet checked in the source", "found": "read in the source"}


@calculation(
    "uv/inactivation",
    request=InactivationRequest,
    answer=InactivationAnswer,
    summary="Log inactivation from a dose, dose for a log inactivation, and doses for treatment credit",
    example={
        "organism": "cryptosporidium_parvum",
        "dose": "10 mJ/cm2",
        "required_log_inactivation": "2",
        "credit_organism": "cryptosporidium",
        "required_credit": "3",
    },
)
def inactivation(ask: Ask, notes: Notes) -> InactivationAnswer[Numbers]:
    """Read the published dose response of an organism both ways, and the regulatory dose table separately.

    The two are never mixed. The dose response describes one organism in the laboratory. The regulation says which
    validated dose earns a credit, with its own margins. Above the data, the value at their end is a lower bound.
    """
    logs = needed = None
    known: OrganismResponse | None = None
    if ask.organism is not None:
        known = organism_response(ask.organism)
        _warn_organism(known, notes)
        logs, needed = _read_both_ways(ask, known, notes)
    credit_dose = credit = None
    if ask.credit_organism is not None:
        notes.add_basis(_CREDIT)
        credit_dose, credit = _credit(ask, credit_doses(ask.credit_organism), notes)
    notes.caution("uvc_eyes_skin", "local_rules")
    return InactivationAnswer(
        log_inactivation=logs,
        log_lower_bound=None if known is None or ask.dose is None else _at_least(ask.dose, known),
        required_dose=needed,
        data_dose_maximum=None if known is None else known.dose_most,
        data_log_maximum=None if known is None else known.logs[-1],
        data_status=None if known is None else known.status,
        credit_dose=credit_dose,
        credit=credit,
    )


def _warn_organism(known: OrganismResponse, notes: Notes) -> None:
    form = "first order" if known.rate is not None else "linear between the published points"
    about = f"{known.organism} {known.strain}".strip()
    notes.add_basis(
        Basis(
            method=f"dose response of {about}: {form}",
            source=f"{known.source} ({_MARKS[known.status]})",
            validity=f"doses up to {known.dose_most / 10.0:.3g} mJ/cm2, log inactivation up to {known.logs[-1]:.2g}"
            + (f"; {known.caution}" if known.caution else ""),
        )
    )
    if known.status == "memory":
        message = (
            "The organism's figures are from memory and not yet checked in their source. Check them before you "
            "rely on them."
        )
        notes.warn("value_from_memory", "organism", message)


def _read_both_ways(ask: Ask, known: OrganismResponse, notes: Notes) -> tuple[Numbers | None, Numbers | None]:
    logs = needed = None
    message = "Outside the data of this organism. log_lower_bound is that at the end of the data (data_log_maximum)."
    if ask.dose is not None:
        logs = between_points(ask.dose, known.doses, known.logs)
        notes.warn("outside_data", "log_inactivation", message, when=ask.dose > known.dose_most)
        _warn_below_data(known, "log_inactivation", ask.dose < known.doses[1], notes)
        if ask.dose_kind == "mean_dose":
            uneven = (
                "A mean dose inactivates less than the same dose given to all the water. Use the RED of this organism."
            )
            notes.warn("mean_dose_not_red", "log_inactivation", uneven)
    if ask.required_log_inactivation is not None:
        needed = between_points(ask.required_log_inactivation, known.logs, known.doses)
        notes.warn("outside_data", "required_dose", message, when=ask.required_log_inactivation > known.logs[-1])
        _warn_below_data(known, "required_dose", ask.required_log_inactivation < known.logs[1], notes)
    return logs, needed


def _warn_below_data(known: OrganismResponse, field: str, below: Any, notes: Notes) -> None:
    """Warn below the lowest published dose. A rate constant has no lowest published dose."""
    if known.rate is not None:
        warn_lowest_dose(known, field, notes)
        return
    message = (
        f"The dose is below the lowest published dose of {known.doses[1] / 10.0:.3g} mJ/cm2. A straight line from "
        "zero dose is used there. With a shoulder the inactivation would be less."
    )
    notes.warn("below_data", field, message, when=below)


def _at_least(given: Numbers, known: OrganismResponse) -> Any:
    """Log inactivation at a dose: above the data the value at their end, below the lowest published dose none."""
    logs = between_points(np.minimum(given, known.dose_most), known.doses, known.logs)
    if known.rate is not None:
        return logs
    sure = np.where(np.asarray(given) < known.doses[1], 0.0, logs)
    return sure if np.ndim(given) else float(sure)


def _credit(ask: Ask, rows: tuple[tuple[float, float], ...], notes: Notes) -> tuple[Numbers | None, Numbers | None]:
    credit_dose: Any = None
    if ask.required_credit is not None:
        credit_dose = np.asarray(ask.required_credit) * np.nan
        for log, amount in rows:
            credit_dose = np.where(np.asarray(ask.required_credit) == log, amount, credit_dose)
        credit_dose = credit_dose if np.ndim(credit_dose) else float(credit_dose)
    if ask.dose is None:
        return credit_dose, None
    if ask.dose_kind != "validated_dose":
        message = (
            "No credit is given: a calculated mean dose or RED is not a validated dose. Only a validated and "
            "monitored reactor earns credit, whatever the calculated dose."
        )
        notes.warn("no_credit_without_validation", "credit", message)
        return credit_dose, None
    credit: Any = 0.0 * np.asarray(ask.dose)
    for log, amount in rows:
        credit = np.where(np.asarray(ask.dose) >= amount, log, credit)
    message = (
        "The credit applies only to public water systems with a validated and monitored reactor, behind the "
        "filters or in an unfiltered system that meets the avoidance criteria. The authority decides. Between "
        "two rows of the table, the lower credit is used."
    )
    notes.warn("credit_conditions", "credit", message)
    return credit_dose, credit if np.ndim(credit) else float(credit)


@inactivation.check("organism", "credit_organism", "dose", "required_log_inactivation", "required_credit")
def _something_to_answer(ask: Ask, notes: Notes) -> None:
    if ask.organism is None and ask.credit_organism is None:
        notes.refuse("required", "organism", "Enter an organism, a credit_organism, or both.")
    if ask.dose is None and ask.required_log_inactivation is None and ask.required_credit is None:
        notes.refuse("required", "dose", "Enter a dose, a required_log_inactivation or a required_credit.")
    if ask.required_log_inactivation is not None and ask.organism is None:
        notes.refuse("required", "organism", "A required_log_inactivation needs an organism.")
    if ask.required_credit is not None:
        if ask.credit_organism is None:
            notes.refuse(
                "required",
                "credit_organism",
                "A required_credit needs a credit_organism, the column of the regulation.",
            )
        rungs = [0.5 * step for step in range(1, 9)]
        between = ~np.isin(ask.required_credit, rungs)
        message = "The regulation has half-log rows only, and no rule for values between them."
        allowed = ", ".join(str(rung) for rung in rungs)
        when = between if np.ndim(between) else bool(between)
        notes.refuse("between_rows", "required_credit", message, when=when, allowed=allowed)
