"""The elevation of a train, drawn now if the request did not include the drawing."""

from dosewright.engine.run import run
from dosewright.topics.site.contracts.clearance import ClearanceAnswer

__all__ = ["drawing_of"]


def drawing_of(answer: ClearanceAnswer[float]) -> str:
    """Return the drawing of a train to scale, as SVG."""
    if answer.drawing is not None:
        return answer.drawing
    return str(run("site/clearance", {**answer.inputs, "units": "si", "include_drawing": True}).drawing)
