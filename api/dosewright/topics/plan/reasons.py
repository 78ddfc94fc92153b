"""Reasons for the verdict of a plan, from the answers of its sections, most severe first."""

from collections.abc import Iterator
from typing import Any

from dosewright.engine.sentences import capitalised
from dosewright.present.rounding import measured, quantity_text
from dosewright.quantities import Unit
from dosewright.tables.site import treatment_train, water_limits
from dosewright.topics.plan.contract import PlanReason, Severity, Verdict
from dosewright.topics.plan.section_answers import SectionAnswers, deciding_flow

__all__ = ["SPECIALIST", "reasons_of", "verdict_of", "weighs"]

SPECIALIST = "specialist"
"""Treatment of water for which ordinary household treatment is not enough."""

_ROUNDING = 1e-9  # of a value that was read back from its text
_ORDER = ("blocking", "fix_first", "check")
# Warnings of the water check that replace the general message about a limit.
_TOLD = {"total_coliform": ("bacteria_present", "bacteria_present"), "e_coli": ("e_coli", "faecal_pollution")}
_FIRST_TREATED = ("surface_water", "rainwater")
_UNIT_WARNINGS = (
    "above_rated_flow",
    "scaled_to_clearer_water",
    "above_rated_factor",
    "units_in_parallel",
    "units_in_series",
)


def reasons_of(found: SectionAnswers) -> list[PlanReason]:
    """Return every reason, most severe first; within a severity in the order of the work."""
    parts = (_of_water, _of_equipment, _of_plumbing, _of_condensation, _of_clearance, _of_upkeep, _of_own_values)
    reasons = [reason for part in parts for reason in part(found)]
    return sorted(reasons, key=lambda reason: _ORDER.index(reason.severity))


def verdict_of(reasons: list[PlanReason], *, judged: bool) -> Verdict:
    """Return the verdict from the most severe reason; a go only if everything needed for it was assessed."""
    severities = {reason.severity for reason in reasons}
    if "blocking" in severities:
        return "not_suitable"
    if "fix_first" in severities:
        return "fix_first"
    return "suitable" if judged else "incomplete"


def weighs(name: str, effect: str) -> Severity:
    """Return the severity of a water parameter outside its limit.

    UV kills bacteria. But E. coli means sewage or manure is getting in, which must be stopped first.
    """
    if effect == "aesthetic" or (effect == "disinfection" and name != "e_coli"):
        return "check"
    return "fix_first"


def _reason(
    severity: Severity, section: str, code: str, message: str, exceeds_limit_by: str | None = None
) -> PlanReason:
    return PlanReason(severity=severity, section=section, code=code, message=message, exceeds_limit_by=exceeds_limit_by)


def _of_water(found: SectionAnswers) -> Iterator[PlanReason]:
    test = found.water_test
    if test is None:
        return
    if test.verdict == "not_suitable":
        message = "UV light and ordinary household treatment are not enough for this water. Ask a specialist."
        yield _reason("blocking", "water_test", "water_not_suitable", message)
    for warning in test.warnings:
        if warning.field == "water_source":
            severity = "fix_first" if warning.code in _FIRST_TREATED else "check"
            yield _reason(severity, "water_test", warning.code, warning.message)
    told = {(warning.field, warning.code): warning.message for warning in test.warnings}
    for result in test.parameters:
        if not result.within:
            severity = weighs(result.name, result.effect)
            message = told.get(_TOLD.get(result.name, ("", ""))) or _outside(result)
            by = quantity_text(result.exceeds_limit_by, result.unit, "up")
            yield _reason(severity, "water_test", f"{result.name}_outside_limit", message, by)
    if test.scaling == "scale_forming":
        message = "Scale forms on the sleeve and blocks the light. Fit a softener."
        yield _reason("fix_first", "water_test", "scale_forming", message)
    for gap in test.not_tested:
        if gap.needed:
            yield _reason("check", "water_test", f"{gap.name}_not_tested", told[gap.name, "not_tested"])


def _outside(result: Any) -> str:
    title = capitalised(water_limits()[result.name].title)
    low: Any = result.lower_limit
    below = low is not None and result.value < low
    value = quantity_text(result.value, result.unit, "down" if below else "up")
    limit: Any = low if below else result.upper_limit
    side = "below" if below else "above"
    message = f"{title}: {value}, {side} the limit of {quantity_text(limit, result.unit)}."
    if result.treatment == SPECIALIST:
        return f"{message} Ordinary household treatment is not enough. Have a specialist design the treatment."
    if result.treatment:
        return f"{message} Fit {_with_article(treatment_train()[result.treatment].title)}."
    return message


def _with_article(title: str) -> str:
    if title.startswith("reverse osmosis"):
        return title
    return f"{'an' if title[0] in 'aeiou' else 'a'} {title}"


def _of_equipment(found: SectionAnswers) -> Iterator[PlanReason]:
    if found.chosen is None:
        return
    section = f"equipment.{found.chosen}"
    unit = found.equipment[found.chosen]
    if unit.covers_peak_flow is False:
        written = found.flow_unit(found.chosen)
        peak, flow = (float(written.from_si(one)) for one in (found.peak_flow or 0.0, deciding_flow(unit)))
        by = quantity_text(peak - flow, written.symbol, "up")
        message = (
            "No unit is large enough with this water, lamp age and sleeve: the largest carries "
            f"{measured(flow, written.symbol, 'down')}, the peak flow is {measured(peak, written.symbol, 'up')}. "
            "Choose a larger unit."
        )
        yield _reason("blocking", section, "unit_too_small", message, by)
    for warning in unit.warnings:
        if warning.code in _UNIT_WARNINGS:
            yield _reason("check", section, warning.code, warning.message)


def _of_plumbing(found: SectionAnswers) -> Iterator[PlanReason]:
    run = found.plumbing
    if found.no_flow is not None:
        yield _reason("fix_first", "plumbing", "pressure_too_low", found.no_flow)
    if run is None:
        return
    unit = found.unit_of("plumbing", "pressure_drop")
    codes = {warning.code: warning for warning in run.warnings}
    if run.within_limit is False or "not_enough_pressure" in codes:
        told = codes.get("not_enough_pressure")
        message = told.message if told else _pressure_lost(run, unit)
        yield _reason("fix_first", "plumbing", "pressure_too_low", message, _short_of_pressure(run, unit))
    if "velocity_above_limit" in codes:
        yield _reason("fix_first", "plumbing", "velocity_above_limit", codes["velocity_above_limit"].message)


def _available_pressure(run: Any, unit: Unit) -> float | None:
    """Return the pressure that the run can lose, in a unit; None without a limit."""
    given = run.inputs
    limits = [given["pressure_drop_limit"]] if "pressure_drop_limit" in given else []
    if "inlet_pressure" in given:
        limits.append(given["inlet_pressure"] - given.get("required_outlet_pressure", 0.0))
    return float(unit.from_si(min(limits))) if limits else None


def _pressure_lost(run: Any, unit: Unit) -> str:
    lost, available = (
        measured(float(unit.from_si(run.pressure_drop)), unit.symbol, "up"),
        _available_pressure(run, unit),
    )
    limit = "" if available is None else f", {measured(max(available, 0.0), unit.symbol, 'down')} available"
    return f"Pressure loss at peak flow is too high: {lost} lost{limit}. Use larger pipe, or fittings with less loss."


def _short_of_pressure(run: Any, unit: Unit) -> str | None:
    """Return how much pressure is missing; None if none is."""
    available = _available_pressure(run, unit)
    beyond = 0.0 if available is None else float(unit.from_si(run.pressure_drop)) - available
    return quantity_text(beyond, unit.symbol, "up") if beyond > 0.0 else None


def _of_condensation(found: SectionAnswers) -> Iterator[PlanReason]:
    room = found.condensation
    if room is not None and room.sweats:
        coldest = min(surface.surface_temperature for surface in room.surfaces)
        surface, dew_point = room.units["surfaces.surface_temperature"], room.units["dew_point"]
        message = (
            f"Pipe or chamber sweats: its surface is at {measured(coldest, surface)}, the dew point is "
            f"{measured(room.dew_point, dew_point)}. Insulate it or dry the air, and mount controls above it."
        )
        yield _reason("fix_first", "condensation", "surface_sweats", message)


def _of_clearance(found: SectionAnswers) -> Iterator[PlanReason]:
    place = found.clearance
    if place is None:
        return
    messages = {warning.code: warning.message for warning in place.warnings}
    for field, code in (
        ("clears_floor", "reaches_floor"),
        ("clears_ceiling", "reaches_ceiling"),
        ("fits_width", "wider_than_wall"),
    ):
        if getattr(place, field) is False:
            yield _reason("fix_first", "clearance", f"{field}_not", messages[code])


def _of_upkeep(found: SectionAnswers) -> Iterator[PlanReason]:
    due = found.upkeep
    if due is None:
        return
    for warning in due.warnings:
        if warning.code == "peak_flow_not_covered":
            severity = "check" if _only_the_bound_is_short(found, due) else "fix_first"
            yield _reason(severity, "upkeep", "lamp_changed_too_late", warning.message)


def _of_own_values(found: SectionAnswers) -> Iterator[PlanReason]:
    """Point out a section's own value that makes its answer better than the plan's value would."""
    units = [(f"equipment.{number}", unit, "peak_flow") for number, unit in enumerate(found.equipment)]
    for section, answer, name in (*units, ("plumbing", found.plumbing, "flow"), ("upkeep", found.upkeep, "peak_flow")):
        own = None if answer is None else answer.inputs.get(name)
        if own is not None and found.peak_flow is not None and own < found.peak_flow * (1.0 - _ROUNDING):
            message = f"The section's own {name} is below the peak flow of the plan, so that peak flow is not checked."
            yield _reason("fix_first", section, "smaller_peak_flow", f"{message} Remove {name} from the section.")
    tested = None if found.water_test is None else found.water_test.inputs.get("uvt")
    for section, unit, _ in units:
        if isinstance(tested, float) and unit.inputs["uvt"] > tested * (1.0 + _ROUNDING):
            message = (
                "The unit's UVT is above that of the water test. Use it only if the water is treated before the unit."
            )
            yield _reason("check", section, "uvt_above_tested", message)
    if found.upkeep is not None and found.chosen is not None:
        own, sure = (_new_lamp_flow(*pair) for pair in _flows_of_upkeep(found, found.upkeep))
        if own > sure * (1.0 + _ROUNDING):
            message = "The section's own derated_flow is above that of the chosen unit. Remove it from the section."
            yield _reason("fix_first", "upkeep", "larger_derated_flow", message)


def _flows_of_upkeep(found: SectionAnswers, due: Any) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return derated flow and lamp ageing factor: those of the upkeep, and those of the chosen unit."""
    unit = found.equipment[found.chosen or 0]
    sure, ageing = deciding_flow(unit), unit.inputs["lamp_ageing_factor"]
    return (due.inputs.get("derated_flow", sure), due.inputs.get("lamp_ageing_factor", ageing)), (sure, ageing)


def _new_lamp_flow(flow: float, ageing: float) -> float:
    return flow / ageing


def _only_the_bound_is_short(found: SectionAnswers, due: Any) -> bool:
    """Tell whether the mean dose would still cover the peak flow each day; then the missing hydraulics decide."""
    if not due.inputs["hydraulics_unknown"] or found.chosen is None:
        return False
    unit = found.equipment[found.chosen]
    lowest = min(event.derated_flow for event in due.events)
    return lowest * unit.derated_flow / unit.flow_lower_bound >= due.inputs["peak_flow"]
