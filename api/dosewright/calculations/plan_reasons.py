"""What the sections of a plan say about the whole: reasons by weight, what is missing, and the verdict."""

from collections.abc import Iterator
from typing import Any, Literal

from dosewright.contracts.plan import PlanGap, PlanReason, PlanRequest
from dosewright.quantities import KINDS

__all__ = ["Found", "gaps", "reasons_of", "verdict_of"]

Weight = Literal["stop", "fix_first", "look"]
_ORDER = ("stop", "fix_first", "look")


class Found:
    """The sections' answers; None where a section was not given."""

    def __init__(self) -> None:
        self.peak_flow: float | None = None
        self.water_test: Any = None
        self.demand: Any = None
        self.equipment: list[Any] = []
        self.plumbing: Any = None
        self.chlorination: Any = None
        self.condensation: Any = None
        self.clearance: Any = None
        self.commissioning: Any = None
        self.upkeep: Any = None

    @property
    def chosen(self) -> int | None:
        """The smallest unit that covers the peak flow; the largest where none does, or none is known to."""
        if not self.equipment:
            return None
        flows = [Found.si("flow", answer.derated_flow, answer.units["derated_flow"]) for answer in self.equipment]
        covering = [number for number, answer in enumerate(self.equipment) if answer.covers_peak_flow]
        if covering:
            return min(covering, key=lambda number: flows[number])
        return max(range(len(flows)), key=lambda number: flows[number])

    @staticmethod
    def si(kind: str, value: float, unit: str) -> float:
        """Return a number of an answer in SI."""
        return float(KINDS[kind].lookup[unit].to_si(value))


_GAPS = {
    "water_test": "whether the water is fit for ultraviolet light, and what must be treated first",
    "equipment": "whether a unit carries the peak flow at this water",
    "plumbing": "whether pipe and filters pass the peak flow, and what pressure is left",
    "chlorination": "how much hypochlorite disinfects what lies downstream, and how long it stands",
    "condensation": "whether pipes and chamber sweat and drip",
    "clearance": "whether lamp and sleeve can be drawn out where it hangs",
    "commissioning": "the steps of the start, with their times",
    "upkeep": "what falls due when, and what a year costs",
}


def gaps(ask: PlanRequest[float]) -> list[PlanGap]:
    """Return what was not given, and what cannot be judged without it."""
    found = [
        PlanGap(section=name, cannot_judge=meaning) for name, meaning in _GAPS.items() if getattr(ask, name) is None
    ]
    if ask.peak_flow is None and ask.demand is None:
        meaning = "whether any unit or pipe is large enough: give peak_flow, or the fixtures"
        found.insert(0, PlanGap(section="demand", cannot_judge=meaning))
    return found


def reasons_of(found: Found) -> list[PlanReason]:
    """Return every reason, heaviest first; within a weight in the order of the work."""
    parts = (_of_water, _of_equipment, _of_plumbing, _of_condensation, _of_clearance, _of_upkeep)
    reasons = [reason for part in parts for reason in part(found)]
    return sorted(reasons, key=lambda reason: _ORDER.index(reason.weight))


def verdict_of(reasons: list[PlanReason], ask: PlanRequest[float], found: Found) -> str:
    """Return the verdict: the heaviest reason, and no go without water test, unit and peak flow."""
    weights = {reason.weight for reason in reasons}
    if "stop" in weights:
        return "do_not"
    if "fix_first" in weights:
        return "treat_first"
    judged = ask.water_test is not None and ask.equipment is not None and found.peak_flow is not None
    return "go" if judged and found.water_test.verdict == "ok" else "incomplete"


def _reason(weight: Weight, section: str, code: str, message: str, beyond_by: str | None = None) -> PlanReason:
    return PlanReason(weight=weight, section=section, code=code, message=message, beyond_by=beyond_by)


def _amount(answer: Any, field: str, value: float | None = None) -> str:
    shown = getattr(answer, field) if value is None else value
    return f"{shown:.4g} {answer.units.get(field, '')}".rstrip()


def _of_water(found: Found) -> Iterator[PlanReason]:
    test = found.water_test
    if test is None:
        return
    if test.verdict == "unsuitable":
        message = "The water is beyond what ultraviolet light and common household treatment make safe."
        yield _reason("stop", "water_test", "water_unsuitable", message)
    for result in test.parameters:
        if result.within or result.effect == "disinfection":
            continue
        weight: Weight = "look" if result.effect == "aesthetic" else "fix_first"
        treatment = f": treat it by {result.treatment.replace('_', ' ')}" if result.treatment else ""
        message = f"{result.name.replace('_', ' ')} is outside its limit{treatment}."
        by = f"{result.beyond_by:.4g} {result.unit}".rstrip()
        yield _reason(weight, "water_test", f"{result.name}_outside_limit", message, by)
    for gap in test.not_tested:
        if gap.needed:
            message = f"{gap.name.replace('_', ' ')} was not tested: it cannot be judged {gap.cannot_judge}"
            yield _reason("look", "water_test", f"{gap.name}_not_tested", f"{message.rstrip(',. ')}.")


def _of_equipment(found: Found) -> Iterator[PlanReason]:
    if found.chosen is None:
        return
    section = f"equipment.{found.chosen}"
    unit = found.equipment[found.chosen]
    if unit.covers_peak_flow is False:
        message = "No unit given carries the peak flow at this water, lamp age and sleeve."
        yield _reason("stop", section, "unit_too_small", message, _amount(unit, "head_room", -unit.head_room))
    elif unit.covers_peak_flow is None:
        message = "The peak flow is not known, so it cannot be said whether the unit is large enough."
        yield _reason("look", section, "peak_flow_unknown", message)


def _of_plumbing(found: Found) -> Iterator[PlanReason]:
    run = found.plumbing
    if run is None:
        return
    codes = {warning.code: warning for warning in run.warnings}
    if run.within_limit is False or "not_enough_pressure" in codes:
        told = codes.get("not_enough_pressure")
        message = told.message if told else "The run costs more pressure than it may at the peak flow."
        yield _reason("fix_first", "plumbing", "pressure_too_low", message, _short_of_pressure(run))
    if "velocity_above_limit" in codes:
        yield _reason("fix_first", "plumbing", "velocity_above_limit", codes["velocity_above_limit"].message)


def _short_of_pressure(run: Any) -> str | None:
    """Return by how much the run costs more pressure than it may."""
    given = run.inputs
    limit = given.get("pressure_drop_limit")
    if limit is None and "inlet_pressure" in given:
        limit = given["inlet_pressure"] - given.get("required_outlet_pressure", 0.0)
    if limit is None:
        return None
    unit = KINDS["pressure"].lookup[run.units["pressure_drop"]]
    beyond = float(unit.from_si(unit.to_si(run.pressure_drop) - limit))
    return _amount(run, "pressure_drop", beyond) if beyond > 0.0 else None


def _of_condensation(found: Found) -> Iterator[PlanReason]:
    if found.condensation is not None and found.condensation.sweats:
        message = "Pipe or chamber sweats in this room: insulate it, or dry the air, and keep controls above."
        yield _reason("fix_first", "condensation", "surface_sweats", message)


def _of_clearance(found: Found) -> Iterator[PlanReason]:
    place = found.clearance
    if place is None:
        return
    for field, what in (
        ("clears_floor", "the floor is in the way of lamp and sleeve"),
        ("clears_ceiling", "the ceiling is in the way of lamp and sleeve"),
        ("fits_width", "the train is wider than the wall"),
    ):
        if getattr(place, field) is False:
            yield _reason("fix_first", "clearance", f"{field}_not", f"As mounted here {what}.")


def _of_upkeep(found: Found) -> Iterator[PlanReason]:
    due = found.upkeep
    if due is not None and any(warning.code == "peak_flow_not_covered" for warning in due.warnings):
        message = "Before its lamp is changed the unit no longer covers the peak flow."
        yield _reason("fix_first", "upkeep", "lamp_kept_too_long", message)
