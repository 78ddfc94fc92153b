"""The steps from the first flow to the derated flow, and from there to its lower bound."""

from typing import Any

from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.derated_flow import DeratingStep

__all__ = ["Steps", "take_arrangement", "take_output"]


class Steps:
    """A first flow and the factors on it.

    Attributes
    ----------
    flow : float or array
        Flow after the last step. [m³/s]
    taken : list of DeratingStep
        The steps, the first with the factor 1.
    """

    def __init__(self, name: str, meaning: str, flow: Numbers) -> None:
        self.flow = flow
        self.taken: list[DeratingStep[Numbers]] = [DeratingStep(name=name, meaning=meaning, factor=1.0, flow=flow)]

    def take(self, name: str, meaning: str, factor: Numbers) -> None:
        """Multiply the flow."""
        self.flow = self.flow * factor
        self.taken.append(DeratingStep(name=name, meaning=meaning, factor=factor, flow=self.flow))


def take_output(steps: Steps, ask: Any) -> None:
    """Account for the output factor, if there is one."""
    if ask.output_factor is not None:
        steps.take("output", "Output factor: output while warming up or in this water.", ask.output_factor)


def take_arrangement(steps: Steps, ask: Any, notes: Notes) -> None:
    """Account for several units: units in series share the target, parallel units share the flow."""
    meaning = "Units in series: each gives its share of the target. The water mixes between them."
    steps.take("units_in_series", meaning, ask.units_in_series)
    steps.take("units_in_parallel", "Parallel units: the flow is split evenly.", ask.units_in_parallel)
    message = (
        "Doses of units in series add only if the water mixes between them and each keeps its hydraulics. One "
        "failed unit must close the line."
    )
    notes.warn("units_in_series", "units_in_series", message, when=ask.units_in_series > 1.0)
    message = (
        "Parallel units share the flow evenly only with equal pipes or balancing valves. The unit with the most "
        "flow gives the lowest dose."
    )
    notes.warn("units_in_parallel", "units_in_parallel", message, when=ask.units_in_parallel > 1.0)
