"""What the sections of a plan answered, and which unit is chosen of several."""

from functools import cached_property
from typing import Any

from dosewright.quantities import KINDS

__all__ = ["Found", "failing_flow", "secured_flow", "si"]


def si(kind: str, value: float, unit: str) -> float:
    """Return a number of an answer in SI."""
    return float(KINDS[kind].lookup[unit].to_si(value))


def secured_flow(unit: Any) -> tuple[float, str]:
    """Return the flow that is sure, with its unit: the lower bound where the unit has one, else the derated flow."""
    if unit.flow_lower_bound is not None:
        return unit.flow_lower_bound, unit.units["flow_lower_bound"]
    return unit.derated_flow, unit.units["derated_flow"]


def failing_flow(unit: Any) -> tuple[float, str]:
    """Return the peak flow above which the unit is too small, with its unit.

    Without named hydraulics the mean dose decides on that alone: between it and the lower bound nothing is known.
    """
    return secured_flow(unit) if unit.method != "chamber" else (unit.derated_flow, unit.units["derated_flow"])


class Found:
    """The sections' answers, not changed once they are asked about.

    None stands where a section was not given, or lacks what it takes from elsewhere.

    Attributes
    ----------
    peak_flow : float or None
        Flow that units and pipes are held against. [m³/s]
    water_test, demand, plumbing, chlorination, condensation, clearance, commissioning, upkeep : Answer or None
        Answers.
    equipment : list of Answer
        Answers of the units, in their order; empty unless every unit given could be judged.
    """

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
        # Why the peak flow cannot run through the plumbing at all, where it cannot.
        self.no_flow: str | None = None
        # Numbers of the units whose UVT is that of the water test.
        self.sharing_uvt: frozenset[int] = frozenset()

    @cached_property
    def flows(self) -> list[float]:
        """Flow that each unit is sure to carry [m³/s]."""
        return [si("flow", *secured_flow(answer)) for answer in self.equipment]

    @cached_property
    def covering(self) -> list[int]:
        """Which units cover the peak flow, smallest first."""
        flows = self.flows
        covering = [number for number, answer in enumerate(self.equipment) if answer.covers_peak_flow]
        return sorted(covering, key=lambda number: flows[number])

    @cached_property
    def chosen(self) -> int | None:
        """The smallest unit that covers the peak flow; else the largest of those that may cover it, then of all."""
        if not self.equipment:
            return None
        covering, flows = self.covering, self.flows
        too_small = [answer.covers_peak_flow is False for answer in self.equipment]
        return covering[0] if covering else max(range(len(flows)), key=lambda n: (not too_small[n], flows[n]))
