"""Values in a plan that conflict with each other, or that are below what the job needs."""

from collections.abc import Iterator
from typing import Any

from dosewright.present.rounding import in_profile, measured
from dosewright.quantities import KINDS, read
from dosewright.tables import marked, table
from dosewright.topics.plan.contract import PlanReason, Severity
from dosewright.topics.plan.section_answers import SectionAnswers, deciding_flow

__all__ = ["conflicts", "reason_of"]

_ROUNDING = 1e-9  # of a value that was read back from its text
# Warnings of a section that are a reason of the plan too, with their severity.
_WARNINGS: tuple[tuple[str, str, Severity], ...] = (
    ("chlorination", "hold_time_below_rule", "fix_first"),
    ("chlorination", "below_strictest_rule", "fix_first"),
    ("chlorination", "plumbing_not_entered", "check"),
    ("demand", "pump_below_peak", "check"),
    ("demand", "supply_below_peak", "check"),
)


def conflicts(found: SectionAnswers) -> Iterator[PlanReason]:
    """Yield the reasons of conflicting values, of a low target dose, and of a section's own warnings."""
    yield from _peak_below_demand(found)
    yield from _low_target_dose(found)
    yield from _own_values(found)
    for section, code, severity in _WARNINGS:
        answer = getattr(found, section)
        for warning in answer.warnings if answer is not None else ():
            if warning.code == code:
                yield reason_of(severity, section, code, warning.message)


def reason_of(
    severity: Severity, section: str, code: str, message: str, exceeds_limit_by: str | None = None
) -> PlanReason:
    """Return a reason for the verdict."""
    return PlanReason(severity=severity, section=section, code=code, message=message, exceeds_limit_by=exceeds_limit_by)


def _peak_below_demand(found: SectionAnswers) -> Iterator[PlanReason]:
    entered = found.ask.peak_flow
    if entered is None or found.demand is None or entered >= found.demand.peak_flow * (1.0 - _ROUNDING):
        return
    unit = found.unit_of("demand", "peak_flow")
    peak, demand = (measured(float(unit.from_si(one)), unit.symbol, "up") for one in (entered, found.demand.peak_flow))
    message = (
        f"The peak flow of {peak} is below the {demand} of the fixtures. Remove peak_flow, or correct the fixtures or "
        "name the plumbing code that applies."
    )
    yield reason_of("fix_first", "demand", "peak_flow_below_demand", message)


def _low_target_dose(found: SectionAnswers) -> Iterator[PlanReason]:
    row = next(row for row in table("uv_defaults").rows if row["field"] == "target_dose")
    value, unit = read(row["value"], KINDS["dose"], None)
    required = float(unit.to_si(value))
    source = marked(f"{row['source']}, {row['section']}", row["status"])
    if found.chosen is not None:
        target = found.equipment[found.chosen].inputs["target_dose"]
        if target < required * (1.0 - _ROUNDING):
            low, high = (in_profile("dose", float(value), found.ask.units) for value in (target, required))
            message = (
                f"The target dose of {low} is below the {high} required of units for water that is not disinfected "
                f"already ({source}). Use that target dose."
            )
            yield reason_of("fix_first", f"equipment.{found.chosen}", "target_dose_low", message)


def _own_values(found: SectionAnswers) -> Iterator[PlanReason]:
    """Yield each section's own value that makes its answer better than the plan's value would."""
    units = [(f"equipment.{number}", unit, "peak_flow") for number, unit in enumerate(found.equipment)]
    for section, answer, name in (*units, ("plumbing", found.plumbing, "flow"), ("upkeep", found.upkeep, "peak_flow")):
        own = None if answer is None else answer.inputs.get(name)
        if own is not None and found.peak_flow is not None and own < found.peak_flow * (1.0 - _ROUNDING):
            message = f"The section's own {name} is below the peak flow of the plan, so that peak flow is not checked."
            yield reason_of("fix_first", section, "smaller_peak_flow", f"{message} Remove {name} from the section.")
    tested = None if found.water_test is None else found.water_test.inputs.get("uvt")
    for section, unit, _ in units:
        if isinstance(tested, float) and unit.inputs["uvt"] > tested * (1.0 + _ROUNDING):
            message = (
                "The unit's UVT is above that of the water test. Use it only if the water is treated before the unit."
            )
            yield reason_of("check", section, "uvt_above_tested", message)
    if found.upkeep is not None and found.chosen is not None:
        own, sure = (_new_lamp_flow(*pair) for pair in _flows_of_upkeep(found, found.upkeep))
        if own > sure * (1.0 + _ROUNDING):
            message = "The section's own derated_flow is above that of the chosen unit. Remove it from the section."
            yield reason_of("fix_first", "upkeep", "larger_derated_flow", message)


def _flows_of_upkeep(found: SectionAnswers, due: Any) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return derated flow and lamp ageing factor: those of the upkeep, and those of the chosen unit."""
    unit = found.equipment[found.chosen or 0]
    sure, ageing = deciding_flow(unit), unit.inputs["lamp_ageing_factor"]
    return (due.inputs.get("derated_flow", sure), due.inputs.get("lamp_ageing_factor", ageing)), (sure, ageing)


def _new_lamp_flow(flow: float, ageing: float) -> float:
    return flow / ageing
