"""Charts of the site topic."""

import numpy as np

from dosewright.present.picture.chart import Axis, Chart, Level, Line, Mark, with_unit
from dosewright.present.picture.curve_points import answers_over, unit_of
from dosewright.topics.site.contracts.condensation import CondensationAnswer

__all__ = ["condensation"]

_POINTS = 61


def condensation(answer: CondensationAnswer[float]) -> Chart:
    """Dew point at each humidity of the room, with the temperature of each surface."""
    unit = unit_of(answer, "dew_point", "temperature")
    surface_unit = unit_of(answer, "surfaces.surface_temperature", "temperature")
    inputs = answer.inputs
    humidity = np.linspace(min(0.2, inputs["relative_humidity"]), 1.0, _POINTS)
    dew_point = unit.from_si(answers_over("site/condensation", inputs, "relative_humidity", humidity, "dew_point"))
    levels: list[Level] = []
    texts: list[str] = []
    for number, surface in enumerate(answer.surfaces, 1):
        temperature = unit.from_si(surface_unit.to_si(surface.surface_temperature))
        label = (
            f"{surface.kind} {number}: {with_unit(temperature, unit.symbol)}, {'sweats' if surface.sweats else 'dry'}"
        )
        texts.append(label)
        levels.append(Level(temperature, label, role="limit" if surface.sweats else "found"))
    here, percent = answer.dew_point, 100.0 * inputs["relative_humidity"]
    return Chart(
        title="Dew point and surface temperatures",
        description=f"At a humidity of {with_unit(percent, '%')} the dew point is {with_unit(here, unit.symbol)}. A "
        f"surface below it sweats. Surfaces: {'; '.join(texts)}.",
        x=Axis("relative humidity of the room", "%", low=100.0 * humidity[0], high=100.0),
        y=Axis("temperature", unit.symbol),
        lines=(Line(100.0 * humidity, dew_point, "dew point: colder surfaces sweat"),),
        marks=(Mark(percent, here, f"this room: {with_unit(here, unit.symbol)}"),),
        levels=tuple(levels),
    )
