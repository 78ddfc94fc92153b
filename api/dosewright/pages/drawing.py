"""The elevation of a train, drawn if the answer was not asked to."""

from dosewright.contracts.clearance import ClearanceAnswer
from dosewright.engine.run import run

__all__ = ["drawing_of"]


def drawing_of(answer: ClearanceAnswer[float]) -> str:
    """Return the drawing of a train to scale, as SVG."""
    if answer.drawing is not None:
        return answer.drawing
    return str(run("site/clearance", {**answer.inputs, "units": "si", "draw": True}).drawing)
