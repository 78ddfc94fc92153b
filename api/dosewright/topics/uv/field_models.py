"""The light itself: every field model side by side, and a map of one."""

from typing import Any

import numpy as np

from dosewright.core.light import dose
from dosewright.core.light.field import Field
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Calculation, calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.curves import (
    FieldModelsAnswer,
    FieldModelsRequest,
    FluenceMapAnswer,
    FluenceMapRequest,
    MapPoint,
    ModelResult,
)
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    field_by_model,
    field_of,
    hear_lamp,
    lamp_power,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    rest_on_field_model,
)

__all__ = ["field_models", "fluence_map"]

_PER_CENTIMETRE = 0.01  # path of a UVT [m]
_MODELS = ("refracted_line", "cosine_segments", "line_source", "radial")
_EVEN_RADII = tuple(step / 6.0 for step in range(7))
_EVEN_PLACES = tuple(step / 8.0 for step in range(9))
_MOST_VALUES = 4_000_000  # points times rows of a batch's chunk: what memory bounds

_SIDE_BY_SIDE = Basis(
    method="each model with the same lamp, sleeve and water; refracted_line and cosine_segments lose light at the "
    "sleeve's faces by Fresnel, line_source and radial by the sleeve transmittance",
    source="uv/dose, model by model",
    validity="refracted_line for decisions; the others show what the choice of model is worth",
)
_EXAMPLE = {
    "chamber_bore": "80 mm",
    "sleeve_outer_diameter": "25 mm",
    "arc_length": "720 mm",
    "chamber_length": "780 mm",
    "uvc_output": "17 W",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "85 %",
    "uvt": "88 %",
}


def _checked(entry: Calculation[Any, Any]) -> None:
    sizes = ("chamber_bore", "sleeve_outer_diameter", "sleeve_wall", "arc_length", "chamber_length", "opaque_ends")
    entry.check(*sizes)(refuse_impossible_chamber)


@calculation(
    "uv/field-models",
    request=FieldModelsRequest,
    answer=FieldModelsAnswer,
    summary="Fluence rate and energy balance of a chamber by every field model",
    example={**_EXAMPLE, "flow": "30 L/min"},
)
def field_models(ask: FieldModelsRequest[Numbers], notes: Notes) -> FieldModelsAnswer[Numbers]:
    """Work out one chamber by all four field models, with the energy balance of each."""
    rest_on_field_model(ask, notes, "models")
    hear_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.rest_on(_SIDE_BY_SIDE)
    notes.caution(*CAUTIONS)
    power = lamp_power(ask)
    absorption = dose.absorption_coefficient(ask.uvt, _PER_CENTIMETRE)
    sizes = (ask.arc_length, ask.chamber_length, ask.sleeve_outer_diameter, ask.chamber_bore)
    reference = field_of(ask, *sizes).average(power, absorption)
    models: list[ModelResult[Numbers]] = []
    for name in _MODELS:
        field = field_by_model(name, ask, *sizes)
        rates, balance = field.rates_and_balance(power, absorption)
        stay = None if ask.flow is None else dose.residence_time(field.volume, ask.flow)
        models.append(
            ModelResult(
                model=name,
                mean_fluence_rate=rates.average,
                fluence_rate_at_sleeve=rates.at_sleeve,
                fluence_rate_at_wall=rates.at_wall,
                ratio=rates.average / reference,
                mean_dose=None if stay is None else dose.mean_dose(rates.average, stay),
                sleeve=balance.sleeve,
                water=balance.water,
                wall=balance.wall,
                ends=balance.ends,
            )
        )
    return FieldModelsAnswer(mean_fluence_rate=reference, models=models)


_checked(field_models)


@field_models.check("sleeve_transmittance", "n_air", "n_quartz")
def _possible_sleeve_of_any(ask: FieldModelsRequest[Numbers], notes: Notes) -> None:
    refuse_impossible_sleeve(ask, notes, always=True)


@calculation(
    "uv/fluence-map",
    request=FluenceMapRequest,
    answer=FluenceMapAnswer,
    summary="Fluence rate over radius and length of a chamber",
    example={**_EXAMPLE, "radii": "12.5, 20, 40 mm", "positions": "0, 200, 360, 390 mm"},
)
def fluence_map(ask: FluenceMapRequest[Numbers], notes: Notes) -> FluenceMapAnswer[Numbers]:
    """Map the fluence rate over half the chamber, from sleeve to bore and from its middle to its end."""
    rest_on_field_model(ask, notes, "points")
    hear_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.caution(*CAUTIONS)
    field = field_of(ask, ask.arc_length, ask.chamber_length, ask.sleeve_outer_diameter, ask.chamber_bore)
    power = lamp_power(ask)
    absorption = dose.absorption_coefficient(ask.uvt, _PER_CENTIMETRE)
    average = field.average(power, absorption)
    points = _map(ask, field, power, absorption, int(np.size(average)), notes)
    return FluenceMapAnswer(mean_fluence_rate=average, points=points)


def _map(
    ask: FluenceMapRequest[Numbers], field: Field, power: Numbers, absorption: Numbers, rows: int, notes: Notes
) -> list[MapPoint[Numbers]]:
    radii, places = np.array(ask.radii or _EVEN_RADII), np.array(ask.positions or _EVEN_PLACES)
    if radii.size * places.size * rows > _MOST_VALUES:
        message = f"Points and rows together are too many values: ask for {_MOST_VALUES // rows} points or fewer."
        notes.refuse("too_many_points", "radii", message)
        return []
    radius, position = radii[:, None, None], places[None, :, None]
    if ask.radii is None:
        radius = field.sleeve_radius + (field.bore_radius - field.sleeve_radius) * radius
    else:
        outside = np.any((radius < field.sleeve_radius) | (radius > field.bore_radius), axis=(0, 1))
        message = "Each radius must lie between the sleeve's outer radius and the bore's: both are half the diameters."
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
            "Each position must lie within half the chamber's length.",
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


_checked(fluence_map)


@fluence_map.check("sleeve_transmittance", "field_model", "n_air", "n_quartz")
def _possible_sleeve(ask: FluenceMapRequest[Numbers], notes: Notes) -> None:
    refuse_impossible_sleeve(ask, notes)
