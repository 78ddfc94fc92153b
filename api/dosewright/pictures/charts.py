"""Which calculations have a picture, and what it shows."""

from collections.abc import Callable, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from dosewright.engine.base import Answer
from dosewright.engine.registry import calculations
from dosewright.present.chart import Chart
from dosewright.topics.chlorine import charts as chlorine
from dosewright.topics.pipe import charts as pipe
from dosewright.topics.site import charts as site
from dosewright.topics.uv import charts as ultraviolet

__all__ = ["CHARTS", "NoPictureError", "chart_of", "has_picture"]

CHARTS: Mapping[str, Callable[[Any], Chart]] = MappingProxyType(
    {
        "chlorine/batch": chlorine.holding,
        "chlorine/speciation": chlorine.speciation,
        "pipe/largest-flow": pipe.grade_line,
        "pipe/pressure-drop": pipe.grade_line,
        "site/condensation": site.condensation,
        "uv/derated-flow": ultraviolet.derated_flow,
        "uv/derating-curve": ultraviolet.derating_curve,
        "uv/dose": ultraviolet.dose,
    }
)
"""One function a calculation, by path: an answer in, what its picture shows out."""


class NoPictureError(LookupError):
    """Raised where no picture is drawn of an answer."""


@cache
def _paths() -> Mapping[type[Any], str]:
    return {entry.answer: path for path, entry in calculations().items()}


def has_picture(path: str) -> bool:
    """Tell whether a calculation has a picture, by its path."""
    return path in CHARTS


def chart_of(answer: Any) -> Chart:
    """Return what the picture of an answer shows.

    Raises
    ------
    NoPictureError
        The answer is a batch, or of a calculation that has no picture.
    """
    path = _paths().get(type(answer)) if isinstance(answer, Answer) else None
    draw = CHARTS.get(path or "")
    if draw is None:
        what = path or type(answer).__name__
        raise NoPictureError(f"No picture is drawn of {what}; there are pictures of: {', '.join(CHARTS)}.")
    return draw(answer)
