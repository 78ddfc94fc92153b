"""Fluence rate over the cross-section and length of a chamber."""

from typing import Any

import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose
from dosewright.core.light.field import Field
from dosewright.engine.notes import Notes
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.curves import (
    FluenceMapAnswer,
    FluenceMapRequest,
    MapPoint,
)
from dosewright.topics.uv.field_models import check_sizes
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    add_basis_of_field_model,
    field_of,
    lamp_power,
    refuse_impossible_sleeve,
    warn_lamp,
)
from dosewright.topics.uv.unit.example import EXAMPLE_CHAMBER

__all__ = ["fluence_map"]

_EVEN_RADII = tuple(step / 6.0 for step in range(7))
_EVEN_PLACES = tuple(step / 8.0 for step in range(9))
_MOST_VALUES = 4_000_000  # points times rows of a batch's chunk; limited by memory


@calculation(
    "uv/fluence-map",
    request=FluenceMapRequest,
    answer=FluenceMapAnswer,
    summary="Fluence rate over radius and length of a chamber",
    example={**EXAMPLE_CHAMBER, "radii": "12.5, 20, 40 mm", "positions": "0, 200, 360, 390 mm"},
)
def fluence_map(ask: FluenceMapRequest[Numbers], notes: Notes) -> FluenceMapAnswer[Numbers]:
    """Map the fluence rate over half the chamber, from sleeve to bore and from its middle to its end."""
    add_basis_of_field_model(ask, notes, "points")
    warn_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.caution(*CAUTIONS)
    field = field_of(ask, ask.arc_length, ask.chamber_length, ask.sleeve_outer_diameter, ask.chamber_bore)
    power = lamp_power(ask)
    absorption = dose.absorption_coefficient(ask.uvt, CENTIMETRE)
    average = field.average(power, absorption)
    points = _map(ask, field, power, absorption, int(np.size(average)), notes)
    return FluenceMapAnswer(mean_fluence_rate=average, points=points)


def _map(
    ask: FluenceMapRequest[Numbers], field: Field, power: Numbers, absorption: Numbers, rows: int, notes: Notes
) -> list[MapPoint[Numbers]]:
    radii, places = np.array(ask.radii or _EVEN_RADII), np.array(ask.positions or _EVEN_PLACES)
    if radii.size * places.size * rows > _MOST_VALUES:
        message = f"Points and rows together are too many values. Request at most {_MOST_VALUES // rows} points."
        notes.refuse("too_many_points", "radii", message)
        return []
    radius, position = radii[:, None, None], places[None, :, None]
    if ask.radii is None:
        radius = field.sleeve_radius + (field.bore_radius - field.sleeve_radius) * radius
    else:
        outside = np.any((radius < field.sleeve_radius) | (radius > field.bore_radius), axis=(0, 1))
        message = (
            "Each radius must be between half the sleeve's outer diameter and half the chamber bore. Radii "
            "are measured from the axis."
        )
        notes.refuse("outside_chamber", "radii", message, when=_flag(outside))
        radius = np.clip(radius, field.sleeve_radius, field.bore_radius)
    if ask.positions is None:
        position = 0.5 * field.chamber_length * position
    else:
        half = 0.5 * field.chamber_length
        outside = np.any(position > half * (1.0 + 1e-9), axis=(0, 1))
        notes.refuse(
            "outside_chamber",
            "positions",
            "Each position must be within half the chamber's length. Positions are measured from the middle.",
            when=_flag(outside),
        )
        position = np.minimum(position, half)
    rates = np.asarray(field.point(power, absorption, radius, position))
    shape = (radii.size, places.size, rates.shape[-1])
    radius, position = np.broadcast_to(radius, shape), np.broadcast_to(position, shape)

    def one(values: Any) -> Any:
        return values if values.size > 1 else float(values[0])

    return [
        MapPoint(radius=one(radius[i, j]), position=one(position[i, j]), fluence_rate=one(rates[i, j]))
        for i in range(radii.size)
        for j in range(places.size)
    ]


def _flag(outside: Any) -> Any:
    return outside if outside.size > 1 else bool(outside[0])


@fluence_map.check("sleeve_transmittance", "field_model", "n_air", "n_quartz")
def _possible_sleeve(ask: FluenceMapRequest[Numbers], notes: Notes) -> None:
    refuse_impossible_sleeve(ask, notes)


check_sizes(fluence_map)
