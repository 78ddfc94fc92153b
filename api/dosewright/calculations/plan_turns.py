"""How far one input moves before the chosen unit no longer covers, or begins to cover, the peak flow."""

from typing import Any

import numpy as np

from dosewright.calculations.batch import answer_batch
from dosewright.calculations.plan_reasons import Found
from dosewright.calculations.registry import find
from dosewright.contracts.plan import PlanTurn
from dosewright.faults import RequestRefused

__all__ = ["turns_of"]

_POINTS = 65
_ROUNDS = 4
# Ranges searched, in the unit of the text; ends where the calculation itself ends.
_RANGES = {"uvt": (1.0, 100.0), "lamp_ageing_factor": (1.0, 100.0), "sleeve_fouling_factor": (1.0, 100.0)}


def turns_of(found: Found) -> list[PlanTurn]:
    """Return the turning point of each input of the chosen unit, by the unit's own calculation over a column."""
    number = found.chosen
    if number is None or found.peak_flow is None:
        return []
    unit = found.equipment[number]
    given: dict[str, Any] = unit.inputs
    flow_unit = unit.units["derated_flow"]
    turns = [
        PlanTurn(
            input="peak_flow",
            now=f"{found.peak_flow / Found.si('flow', 1.0, flow_unit):.6g} {flow_unit}",
            turns_at=f"{unit.derated_flow:.6g} {flow_unit}",
        )
    ]
    for name, (low, high) in _RANGES.items():
        turning = _turning_point(given, name, low, high, found.peak_flow)
        turns.append(
            PlanTurn(
                input=f"equipment.{number}.{name}",
                now=f"{unit.inputs[name] * 100:.6g} %",
                turns_at=None if turning is None else f"{turning:.6g} %",
            )
        )
    return turns


def _turning_point(given: dict[str, Any], name: str, low: float, high: float, peak_flow: float) -> float | None:
    """Narrow the place where the derated flow, which rises with each of these, crosses the peak flow."""
    for _ in range(_ROUNDS):
        grid = np.linspace(low, high, _POINTS)
        flows = _flows(given, name, grid)
        if flows is None:
            return None
        known = np.flatnonzero(np.isfinite(flows))
        above = known[flows[known] >= peak_flow]
        if not above.size or above[0] == known[0]:
            return None
        before = known[np.searchsorted(known, above[0]) - 1]
        low, high = float(grid[before]), float(grid[above[0]])
    return high


def _flows(given: dict[str, Any], name: str, grid: np.ndarray[Any, np.dtype[np.float64]]) -> Any:
    request = {**given, name: {"value": grid, "unit": "%"}, "units": "si"}
    try:
        return answer_batch(find("uv/derated-flow"), request).columns["derated_flow"]
    except RequestRefused:
        return None
