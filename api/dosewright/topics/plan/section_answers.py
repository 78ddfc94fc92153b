"""Answers of a plan's sections, and the choice among the units."""

from functools import cached_property
from typing import Any

from dosewright.engine.compose import Composer
from dosewright.engine.fields.known import Known
from dosewright.engine.fields.measure import known
from dosewright.quantities import Unit
from dosewright.topics.plan.contract import PlanRequest

__all__ = ["SectionAnswers", "deciding_field", "deciding_flow", "failing_field", "failing_flow"]


def deciding_field(unit: Any) -> str:
    """Return the field of the deciding flow: the lower bound where the unit has one, else the derated flow."""
    return "derated_flow" if unit.flow_lower_bound is None else "flow_lower_bound"


def deciding_flow(unit: Any) -> Any:
    """Return the deciding flow [m³/s]."""
    return getattr(unit, deciding_field(unit))


def failing_field(unit: Any) -> str:
    """Return the field of the peak flow above which the unit is too small.

    Without hydraulics only the mean dose decides that: between it and the lower bound nothing is known.
    """
    return deciding_field(unit) if unit.method != "chamber" else "derated_flow"


def failing_flow(unit: Any) -> Any:
    """Return the peak flow above which the unit is too small [m³/s]."""
    return getattr(unit, failing_field(unit))


class SectionAnswers:
    """Answers of the sections in SI, each there once it was calculated.

    None: the section was not given, or lacks a value that it takes from elsewhere.

    Attributes
    ----------
    ask : PlanRequest
        The request.
    composer : Composer
        Requests of the sections.
    water_test, demand, plumbing, chlorination, condensation, clearance, commissioning, upkeep : Answer or None
        Answers.
    equipment : list of Answer
        Answers of the units, in their order; empty unless every unit could be calculated.
    """

    def __init__(self, ask: PlanRequest[float], composer: Composer) -> None:
        self.ask = ask
        self.composer = composer
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

    @property
    def peak_flow(self) -> float | None:
        """Peak flow for units and pipes [m³/s]."""
        if self.ask.peak_flow is not None:
            return self.ask.peak_flow
        return None if self.demand is None else self.demand.peak_flow

    @property
    def peak_to_share(self) -> float | Known | None:
        """Peak flow for other sections, in the unit of its answer."""
        if self.ask.peak_flow is not None or self.demand is None:
            return self.ask.peak_flow
        return known(self.demand.peak_flow, self.unit_of("demand", "peak_flow"))

    def unit_of(self, section: str, field: str) -> Unit:
        """Return the unit that a field of a section's answer is written in."""
        return self.composer.ran[section].units.units[field]

    def flow_unit(self, number: int) -> Unit:
        """Return the unit of the deciding flow of a UV unit."""
        return self.unit_of(f"equipment/{number}", deciding_field(self.equipment[number]))

    @property
    def sharing_uvt(self) -> frozenset[int]:
        """Numbers of the units that use the UVT of the water test."""
        given: Any = self.ask.equipment or ()
        return frozenset(number for number, unit in enumerate(given) if unit.raw.get("uvt") is None)

    @cached_property
    def flows(self) -> list[float]:
        """Deciding flow of each unit [m³/s]."""
        return [deciding_flow(answer) for answer in self.equipment]

    @cached_property
    def covering(self) -> list[int]:
        """Units that cover the peak flow, smallest first."""
        flows = self.flows
        covering = [number for number, answer in enumerate(self.equipment) if answer.covers_peak_flow]
        return sorted(covering, key=lambda number: flows[number])

    @cached_property
    def chosen(self) -> int | None:
        """The smallest unit that covers the peak flow; else the largest of those that could, then of all."""
        if not self.equipment:
            return None
        covering, flows = self.covering, self.flows
        too_small = [answer.covers_peak_flow is False for answer in self.equipment]
        return covering[0] if covering else max(range(len(flows)), key=lambda n: (not too_small[n], flows[n]))
