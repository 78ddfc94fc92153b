"""Reasons for the verdict of a plan, from the answers of its sections, most severe first."""

from collections.abc import Iterator
from typing import Any

from dosewright.engine.sentences import capitalised
from dosewright.present.rounding import measured, quantity_text
from dosewright.quantities import Unit
from dosewright.tables.site import treatment_train, water_limits
from dosewright.topics.plan.conflicts import conflicts, reason_of
from dosewright.topics.plan.contract import PlanReason, Severity, Verdict
from dosewright.topics.plan.section_answers import SectionAnswers, deciding_flow

__all__ = ["SPECIALIST", "reasons_of", "verdict_of", "weighs"]

SPECIALIST = "specialist"
"""Treatment of water for which ordinary household treatment is not enough."""

_ORDER = ("blocking", "fix_first", "check")
# Warnings of the water check that replace the general message about a limit.
_WARNING_OF = {"total_coliform": ("bacteria_present", "bacteria_present"), "e_coli": ("e_coli", "faecal_pollution")}
_FIRST_TREATED = ("surface_water", "rainwater")
_UNIT_WARNINGS = (
    "above_rated_flow",
    "scaled_to_clearer_water",
    "above_rated_factor",
    "rated_ageing_assumed",
    "rated_point_impossible",
    "water_layer_assumed",
    "water_layer_decides",
    "units_in_parallel",
    "units_in_series",
)


def reasons_of(found: SectionAnswers) -> list[PlanReason]:
    """Return every reason, most severe first; within a severity in the order of the work."""
    parts = (_of_water, _of_equipment, _of_plumbing, _of_condensation, _of_clearance, _of_upkeep)
    reasons = [reason for part in parts for reason in part(found)]
    reasons += conflicts(found)
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


def _of_water(found: SectionAnswers) -> Iterator[PlanReason]:
    test = found.water_test
    if test is None:
        return
    if test.verdict == "not_suitable":
        message = "UV light and ordinary household treatment are not enough for this water. Ask a specialist."
        yield reason_of("blocking", "water_test", "water_not_suitable", message)
    for warning in test.warnings:
        if warning.field == "water_source":
            severity = "fix_first" if warning.code in _FIRST_TREATED else "check"
            yield reason_of(severity, "water_test", warning.code, warning.message)
    messages = {(warning.field, warning.code): warning.message for warning in test.warnings}
    for result in test.parameters:
        if not result.within:
            severity = weighs(result.name, result.effect)
            message = messages.get(_WARNING_OF.get(result.name, ("", ""))) or _outside(result)
            # "present" and >200.5 do not say by how much.
            counted = not result.reported or result.reported[0].isdigit()
            by = quantity_text(result.exceeds_limit_by, result.unit, "up") if counted else None
            yield reason_of(severity, "water_test", f"{result.name}_outside_limit", message, by)
    if test.scaling == "scale_forming":
        message = "Scale forms on the sleeve and blocks the light. Fit a softener."
        yield reason_of("fix_first", "water_test", "scale_forming", message)
    for gap in test.not_tested:
        if gap.needed:
            yield reason_of("check", "water_test", f"{gap.name}_not_tested", messages[gap.name, "not_tested"])


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
        yield reason_of("blocking", section, "unit_too_small", message, by)
    for warning in unit.warnings:
        if warning.code in _UNIT_WARNINGS:
            yield reason_of("check", section, warning.code, warning.message)


def _of_plumbing(found: SectionAnswers) -> Iterator[PlanReason]:
    run = found.plumbing
    if found.no_flow is not None:
        yield reason_of("fix_first", "plumbing", "pressure_too_low", found.no_flow)
    if run is None:
        return
    unit = found.unit_of("plumbing", "pressure_drop")
    codes = {warning.code: warning for warning in run.warnings}
    if run.within_limit is False or "not_enough_pressure" in codes:
        warning = codes.get("not_enough_pressure")
        message = warning.message if warning else _pressure_lost(run, unit)
        yield reason_of("fix_first", "plumbing", "pressure_too_low", message, _short_of_pressure(run, unit))
    if "velocity_above_limit" in codes:
        yield reason_of("fix_first", "plumbing", "velocity_above_limit", codes["velocity_above_limit"].message)


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
        unit = found.unit_of("condensation", "surfaces.surface_temperature")
        coldest = float(unit.from_si(min(surface.surface_temperature for surface in room.surfaces)))
        dew_point = float(found.unit_of("condensation", "dew_point").from_si(room.dew_point))
        message = (
            f"Pipe or chamber sweats: its surface is at {measured(coldest, unit.symbol)}, the dew point is "
            f"{measured(dew_point, unit.symbol)}. Insulate it or dry the air, and mount controls above it."
        )
        yield reason_of("fix_first", "condensation", "surface_sweats", message)


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
            yield reason_of("fix_first", "clearance", f"{field}_not", messages[code])


def _of_upkeep(found: SectionAnswers) -> Iterator[PlanReason]:
    due = found.upkeep
    if due is None:
        return
    for warning in due.warnings:
        if warning.code == "peak_flow_not_covered":
            severity = "check" if _only_the_bound_is_short(found, due) else "fix_first"
            yield reason_of(severity, "upkeep", "lamp_changed_too_late", warning.message)


def _only_the_bound_is_short(found: SectionAnswers, due: Any) -> bool:
    """Tell whether the mean dose would still cover the peak flow each day; then the missing hydraulics decide."""
    if not due.inputs["hydraulics_unknown"] or found.chosen is None:
        return False
    unit = found.equipment[found.chosen]
    lowest = min(event.derated_flow for event in due.events)
    return lowest * unit.derated_flow / unit.flow_lower_bound >= due.inputs["peak_flow"]
