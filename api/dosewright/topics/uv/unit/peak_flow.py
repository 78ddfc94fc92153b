"""Whether a derated flow, or its lower bound, covers the peak flow."""

from typing import Any

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.uv.unit.chamber import (
    ONLY_A_MISS,
)

__all__ = ["UNMIXED", "against_peak", "against_peak_from_points"]


def against_peak_from_points(
    peak: Numbers | None, flow: Numbers, lower: Numbers, notes: Notes
) -> tuple[Any, Numbers | None]:
    """Compare the lower bound with the peak flow. Nothing was measured between or around the rated points."""
    if peak is None:
        return None, None
    message = "The derated flow does not cover the peak flow. At the peak the dose falls below the target."
    notes.warn("peak_flow_not_covered", "derated_flow", message, when=flow < peak)
    message = (
        "The peak flow is between the lower bound and the derated flow. The lower bound decides. Another rated "
        "point, at a UVT near this water's and not above it, would bring the bounds closer."
    )
    notes.warn("peak_between_bounds", "flow_lower_bound", message, when=(flow >= peak) & (lower < peak))
    message = (
        "The peak flow is covered by a calculated flow, not by a validated one. Certificate and treatment credit "
        "apply only at the conditions that they state."
    )
    notes.warn("calculated_not_validated", "covers_peak_flow", message, when=lower >= peak)
    return lower >= peak, lower - peak


def against_peak(
    peak: Numbers | None, flow: Numbers, lower: Numbers | None, notes: Notes
) -> tuple[Any, Numbers | None]:
    """Compare the flow, or its lower bound, with the peak flow."""
    if peak is None:
        return None, None
    message = "The derated flow does not cover the peak flow. At the peak the dose falls below the target."
    notes.warn("peak_flow_not_covered", "derated_flow", message, when=flow < peak)
    if lower is None:
        message = (
            "The peak flow is covered by a calculated flow, not by a validated one. Certificate and treatment "
            "credit apply only at the conditions that they state."
        )
        notes.warn("calculated_not_validated", "covers_peak_flow", message, when=flow >= peak)
        return flow >= peak, flow - peak
    message = "The peak flow is between the bounds. Whether it is covered depends on how the water is mixed."
    notes.warn("peak_between_bounds", "flow_lower_bound", message, when=(flow >= peak) & (lower < peak))
    return ONLY_A_MISS[1 * (flow < peak)], None


UNMIXED = Basis(
    method="lower bound from a rated point: in darker water the lowest dose of a streamline falls, not the mean",
    source="laminar annular flow, textbook; streamlines as derived for Dosewright",
    validity="water that mixed no more at the rated point than here; a mixed chamber does better",
)
