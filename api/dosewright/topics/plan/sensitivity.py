"""How far one input can change before a reason for the verdict appears or disappears."""

import math
from collections.abc import Iterator, Mapping
from typing import Any

import msgspec
import numpy as np

from dosewright.core.arrays import Array
from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run_si
from dosewright.quantities import Unit
from dosewright.tables.site import water_limits
from dosewright.topics.plan.contract import PlanReason, PlanSensitivity, Severity
from dosewright.topics.plan.gaps import all_assessed
from dosewright.topics.plan.reasons import SPECIALIST, verdict_of, weighs
from dosewright.topics.plan.section_answers import SectionAnswers, failing_field, failing_flow
from dosewright.topics.uv.contracts.derated_flow import DeratedFlowRequest

__all__ = ["thresholds_of"]

_LOWEST, _HIGHEST, _POINTS = 0.01, 1.0, 100  # UVT searched [-]
_TOO_SMALL, _OTHER = "unit_too_small", "unit_choice_changes"
_STOP: Severity = "blocking"
_UNSUITABLE = "water_not_suitable"
_LIMIT = "pressure_drop_limit"


class _Thresholds:
    """Finds the verdict beyond each threshold, all other reasons unchanged."""

    def __init__(self, found: SectionAnswers, reasons: list[PlanReason]) -> None:
        self._reasons = reasons
        self._judged = all_assessed(found)
        self.unit_fails_below = -math.inf  # UVT of the water test below which the unit is too small [%]

    def at(
        self,
        name: str,
        now: str,
        threshold: str | None,
        *codes: str,
        severity: Severity | None = "blocking",
        judged_then: bool = True,
    ) -> PlanSensitivity:
        """Return one threshold; reasons of a severity appear or disappear together there, without one nothing changes.

        `judged_then` is false where something is not assessed beyond the threshold that was before.
        """
        reasons = [reason for reason in self._reasons if severity is None or reason.code not in codes]
        if severity is not None and len(reasons) == len(self._reasons):
            reasons.append(PlanReason(severity=severity, section="", code=codes[0], message="", exceeds_limit_by=None))
        then = None if threshold is None else verdict_of(reasons, judged=self._judged and judged_then)
        return PlanSensitivity(input=name, now=now, threshold=threshold, reason=codes[0], verdict_beyond=then)


def thresholds_of(found: SectionAnswers, reasons: list[PlanReason]) -> list[PlanSensitivity]:
    """Return the thresholds of peak flow, chosen unit, water, pressures and humidity."""
    turns = _Thresholds(found, reasons)
    parts = (_of_equipment, _of_water, _of_plumbing, _of_condensation)
    return [turn for part in parts for turn in part(found, turns)]


def _of_equipment(found: SectionAnswers, turns: _Thresholds) -> Iterator[PlanSensitivity]:
    number = found.chosen
    if number is None or found.peak_flow is None:
        return
    unit = found.equipment[number]
    # While another unit covers the peak flow or could, what happens to the chosen one changes only the choice.
    others = [other for n, other in enumerate(found.equipment) if n != number and other.covers_peak_flow is not False]
    code, severity = (_OTHER, None) if others else (_TOO_SMALL, _STOP)
    judged_then = not others or any(other.covers_peak_flow for other in others)
    written = found.unit_of(f"equipment/{number}", failing_field(unit))
    failing, last = failing_flow(unit), max(failing_flow(one) for one in found.equipment)
    now = _shown(found.peak_flow, written)
    if others and failing < last:
        yield turns.at("peak_flow", now, _shown(failing, written), _OTHER, severity=None, judged_then=judged_then)
    yield turns.at("peak_flow", now, _shown(last, written), _TOO_SMALL)
    share = found.peak_flow / failing
    requested = found.composer.ran[f"equipment/{number}"].request
    turning = {"uvt": _lowest_uvt(requested, found.peak_flow)}
    for name in ("lamp_ageing_factor", "sleeve_fouling_factor"):
        # With either method the derated flow is proportional to both.
        turning[name] = unit.inputs[name] * share if unit.inputs[name] * share <= 1.0 else None
    for name, at in turning.items():
        given = f"{unit.inputs[name] * 100.0:.6g} %"
        text = None if at is None else f"{at * 100.0:.6g} %"
        shared = name == "uvt" and number in found.sharing_uvt
        if shared and at is not None and not others:
            turns.unit_fails_below = 100.0 * at
        place = "water_test.uvt" if shared else f"equipment.{number}.{name}"
        yield turns.at(place, given, text, code, severity=severity, judged_then=judged_then)


def _shown(value: float, unit: Unit) -> str:
    return f"{float(unit.from_si(value)):.6g} {unit.symbol}"


def _lowest_uvt(requested: DeratedFlowRequest[float], peak_flow: float) -> float | None:
    """Return the UVT at which the derated flow, which increases with UVT, equals the peak flow.

    1/flow is nearly linear in the absorption, so the value between two points of the column is interpolated in those.
    Between rated points the deciding bound increases in steps, at the points only; above them it stays.
    """
    points = requested.rated_points or []
    rated = np.unique([point.uvt for point in points])
    grid: Array = np.union1d(np.linspace(_LOWEST, _HIGHEST, _POINTS), rated)
    flows = _flows(requested, grid)
    if flows is None:
        return None
    known = np.isfinite(flows) & (flows > 0.0)
    grid, flows = grid[known], flows[known]
    first = int(np.argmax(flows >= peak_flow)) if np.any(flows >= peak_flow) else 0
    if first == 0:
        return None
    if points and grid[first] > rated[0]:
        return float(grid[first])
    last = int(np.count_nonzero(grid <= rated[0])) if points else grid.size
    near = slice(max(first - 2, 0), min(first + 2, last))
    uvt = _read_off(grid[near], flows[near], peak_flow)
    if not points:
        return uvt
    # The lower bound from one point is less linear: repeat with a finer column.
    closer = np.linspace(0.999 * uvt, min(1.001 * uvt, rated[0]), 4)
    flows = _flows(requested, closer)
    return uvt if flows is None or not np.all(np.isfinite(flows)) else _read_off(closer, flows, peak_flow)


def _read_off(uvts: Array, flows: Array, peak_flow: float) -> float:
    absorptions = np.asarray(dose.absorption_coefficient(uvts, CENTIMETRE))
    found = _interpolated(1.0 / flows, absorptions, 1.0 / peak_flow)
    return float(dose.transmittance(found, CENTIMETRE))


def _interpolated(given: Array, values: Array, required: float) -> float:
    """Lagrange's polynomial through a few points, at one value."""
    places: list[float] = given.tolist()
    total = 0.0
    for here, value in zip(places, values.tolist(), strict=True):
        shares = ((required - other) / (here - other) for other in places if other != here)
        total += value * math.prod(shares)
    return total


def _flows(requested: DeratedFlowRequest[float], uvts: Array) -> Any:
    """Return the derated flow along a column of UVTs; None if one of them is rejected."""
    try:
        given, _ = run_si(find("uv/derated-flow"), msgspec.structs.replace(requested, uvt=uvts, answer_units=None))
    except RequestRefused:
        return None
    return failing_flow(given)


def _of_water(found: SectionAnswers, turns: _Thresholds) -> Iterator[PlanSensitivity]:
    if found.water_test is None:
        return
    results = {result.name: result for result in found.water_test.parameters}
    hopeless = [name for name, result in results.items() if result.treatment == SPECIALIST]
    for name, result in results.items():
        if weighs(name, result.effect) == "check":
            continue
        unit = f" {result.unit}".rstrip()
        now = f"{result.value:.6g}{unit}"
        codes = (f"{name}_outside_limit", *([_UNSUITABLE] if hopeless == [name] else []))
        for limit, severity in _limits_to_cross(result):
            if name == "uvt" and limit < turns.unit_fails_below:
                continue  # the unit is already too small there
            yield turns.at(f"water_test.{name}", now, f"{limit:.6g}{unit}", *codes, severity=severity)
        at = _unsuitable_from(name, results)
        # If another parameter is not_suitable too, this one has no threshold.
        if at is not None and hopeless in ([], [name]):
            yield turns.at(f"water_test.{name}", now, f"{at:.6g}{unit}" if at > 0.0 else None, _UNSUITABLE)


def _unsuitable_from(name: str, results: Mapping[str, Any]) -> float | None:
    """Return the value beyond which ordinary treatment is not enough, if that is not the limit itself."""
    at = _specialist_from(results[name])
    manganese = results.get("manganese")
    if at is None or manganese is None or "iron" not in results:
        return at
    # Iron and manganese load one filter together, if there is manganese to remove.
    if name == "manganese":
        return at - results["iron"].value
    both = _specialist_from(manganese)
    return min(at, both - manganese.value) if name == "iron" and both and not manganese.within else at


def _specialist_from(result: Any) -> float | None:
    reached = (one.above or 0.0 for one in water_limits()[result.name].above if one.stage == SPECIALIST)
    return next((at for at in reached if at > result.upper_limit), None)


def _limits_to_cross(result: Any) -> Iterator[tuple[float, Severity]]:
    """Yield each limit that the result crosses next, on either side, with the severity beyond it."""
    limit = water_limits()[result.name]
    sides = (
        (result.lower_limit, result.within or result.value < (result.lower_limit or 0.0), limit.below),
        (result.upper_limit, result.within or result.value > (result.upper_limit or 0.0), limit.above),
    )
    for bound, next_to_it, treatments in sides:
        if bound is None or not next_to_it:
            continue
        reached = [one.stage for one in treatments if one.above is None or one.above <= bound]
        yield bound, "blocking" if SPECIALIST in reached[-1:] else "fix_first"


def _of_plumbing(found: SectionAnswers, turns: _Thresholds) -> Iterator[PlanSensitivity]:
    run = found.plumbing
    if run is None or run.within_limit is None:
        return
    unit = found.unit_of("plumbing", "pressure_drop")
    taken = run.pressure_drop
    inlet, required, limit = (run.inputs.get(f) for f in ("inlet_pressure", "required_outlet_pressure", _LIMIT))
    kept, left = limit is None or taken <= limit, inlet is None or required is None or taken <= inlet - required
    at: list[tuple[str, float, float, bool]] = []
    if limit is not None:
        at.append((_LIMIT, limit, taken, left))
    if inlet is not None and required is not None:
        at.append(("inlet_pressure", inlet, required + taken, kept))
        at.append(("required_outlet_pressure", required, inlet - taken, kept))
    for name, given, turning, others_kept in at:
        text = _shown(turning, unit) if turning > 0.0 else None
        severity: Severity | None = "fix_first" if others_kept else None
        yield turns.at(f"plumbing.{name}", _shown(given, unit), text, "pressure_too_low", severity=severity)


def _of_condensation(found: SectionAnswers, turns: _Thresholds) -> Iterator[PlanSensitivity]:
    room = found.condensation
    # A bare surface has the temperature of the water; for insulated ones alone the threshold is not known.
    if room is None or not any(surface["insulation_thickness"] == 0.0 for surface in room.inputs["surfaces"]):
        return
    now = f"{room.inputs['relative_humidity'] * 100.0:.6g} %"
    at = room.highest_dry_humidity
    text = None if at is None else f"{at * 100.0:.6g} %"
    yield turns.at("condensation.relative_humidity", now, text, "surface_sweats", severity="fix_first")
