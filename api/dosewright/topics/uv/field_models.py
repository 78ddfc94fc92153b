"""Fluence rate by every field model, side by side."""

from typing import Any

from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Calculation, calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.curves import (
    FieldModelsAnswer,
    FieldModelsRequest,
    ModelResult,
)
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    add_basis_of_field_model,
    field_by_model,
    field_of,
    lamp_power,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    warn_lamp,
)
from dosewright.topics.uv.unit.example import EXAMPLE_CHAMBER

__all__ = ["check_sizes", "field_models"]

_MODELS = ("refracted_line", "cosine_segments", "line_source", "radial")

_SIDE_BY_SIDE = Basis(
    method=(
        "each model with the same lamp, sleeve and water; refracted_line and cosine_segments lose light at "
        "the sleeve's faces by Fresnel reflection, line_source and radial by the sleeve transmittance"
    ),
    source="as uv/dose, for each model",
    validity="use refracted_line for decisions; the other models show the effect of the choice of model",
)


def check_sizes(entry: Calculation[Any, Any]) -> None:
    """Add the check that the chamber can be built."""
    sizes = ("chamber_bore", "sleeve_outer_diameter", "sleeve_wall", "arc_length", "chamber_length", "opaque_ends")
    entry.check(*sizes)(refuse_impossible_chamber)


@calculation(
    "uv/field-models",
    request=FieldModelsRequest,
    answer=FieldModelsAnswer,
    summary="Fluence rate and energy balance of a chamber by every field model",
    example={**EXAMPLE_CHAMBER, "flow": "30 L/min"},
)
def field_models(ask: FieldModelsRequest[Numbers], notes: Notes) -> FieldModelsAnswer[Numbers]:
    """Calculate one chamber with all four field models, and the energy balance of each."""
    add_basis_of_field_model(ask, notes, "models")
    warn_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.add_basis(_SIDE_BY_SIDE)
    notes.caution(*CAUTIONS)
    power = lamp_power(ask)
    absorption = dose.absorption_coefficient(ask.uvt, CENTIMETRE)
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
                end_loss=balance.ends,
            )
        )
    return FieldModelsAnswer(mean_fluence_rate=reference, models=models)


check_sizes(field_models)


@field_models.check("sleeve_transmittance", "n_air", "n_quartz")
def _possible_sleeve_of_any(ask: FieldModelsRequest[Numbers], notes: Notes) -> None:
    refuse_impossible_sleeve(ask, notes, always=True)
