"""Dose of a coaxial ultraviolet chamber."""

from typing import Any

import numpy as np

from dosewright.calculations.chamber import (
    CAUTIONS,
    NOT_VALIDATED,
    Chamber,
    hydraulics_of,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    refuse_unclear_hydraulics,
    rest_on_field_model,
)
from dosewright.calculations.notes import Notes, label
from dosewright.calculations.registry import calculation
from dosewright.contracts.base import Basis
from dosewright.contracts.uv import DoseAnswer, DoseRequest
from dosewright.core import annulus, dose, fluence, friction, water
from dosewright.quantities import Numbers

__all__ = ["uv_dose"]

Ask = DoseRequest[Numbers]

_PER_CENTIMETRE = 0.01  # path of a UVT [m]

_ONLY_A_MISS = np.array([None, False], dtype=object)

_MEAN_DOSE = Basis(
    method="mean dose = mean fluence rate x volume / flow; absorption coefficient = -ln(UVT)/1 cm",
    source="definitions",
    validity=NOT_VALIDATED,
)
_FIRST_ORDER = Basis(
    method="log inactivation = k RED / ln 10",
    source="first-order inactivation, definition",
    validity="doses over which the organism's dose response is a straight line; none of its tail or shoulder",
)


@calculation(
    "uv/dose",
    request=DoseRequest,
    answer=DoseAnswer,
    summary="Dose that an ultraviolet chamber delivers, against a target",
    example={
        "chamber_bore": "80 mm",
        "sleeve_outer_diameter": "25 mm",
        "arc_length": "720 mm",
        "chamber_length": "780 mm",
        "uvc_output": "17 W",
        "lamp_ageing_factor": "80 %",
        "sleeve_fouling_factor": "85 %",
        "uvt": "88 %",
        "flow": "30 L/min",
        "target_dose": "40 mJ/cm2",
        "hydraulics": "tanks_in_series",
        "tanks": "3",
        "inactivation_rate": "0.12 cm2/mJ",
        "water_temperature": "9 degC",
    },
)
def uv_dose(ask: Ask, notes: Notes) -> DoseAnswer[Numbers]:
    """Fluence rate, residence time, mean dose and RED of a lamp on the axis of an annular chamber.

    The light of the finite lamp is averaged over the water, by way of the sleeve; the dose is what water gets on its
    mean stay. With hydraulics named the RED follows and is held against the target dose; with the inactivation rate of
    an organism, its log inactivation.
    """
    rest_on_field_model(ask.field_model, notes, "mean_fluence_rate")
    notes.rest_on(_MEAN_DOSE)
    chamber = Chamber.of(ask, ask.arc_length, ask.chamber_length, ask.sleeve_outer_diameter, ask.chamber_bore)
    absorption = dose.absorption_coefficient(ask.uvt, _PER_CENTIMETRE)
    power = ask.uvc_output * ask.lamp_ageing_factor * ask.sleeve_fouling_factor
    rates = chamber.fluence_rates(power, absorption)
    volume = chamber.volume
    time = dose.residence_time(volume, ask.flow)
    mean = dose.mean_dose(rates.average, time)
    red = _reduction_equivalent_dose(ask, mean, hydraulics_of(ask, notes, "mean_dose"))
    reynolds = _reynolds_number(ask, chamber, notes)
    notes.caution(*CAUTIONS)
    return DoseAnswer(
        mean_fluence_rate=rates.average,
        fluence_rate_at_sleeve=rates.at_sleeve,
        fluence_rate_at_wall=rates.at_wall,
        absorption_coefficient=absorption,
        absorbed_share=fluence.absorbed_share(rates.average, absorption, volume, power),
        volume=volume,
        residence_time=time,
        reynolds_number=reynolds,
        regime=label(friction.flow_regime(reynolds), friction.REGIMES),
        mean_dose=mean,
        reduction_equivalent_dose=red,
        log_inactivation=_log_inactivation(ask, red, notes),
        meets_target=_meets(ask, mean, red, notes),
    )


@uv_dose.check("chamber_bore", "sleeve_outer_diameter", "sleeve_wall", "arc_length", "chamber_length")
def _possible_chamber(ask: Ask, notes: Notes) -> None:
    refuse_impossible_chamber(ask, notes)


@uv_dose.check("sleeve_transmittance", "field_model", "n_air", "n_quartz")
def _possible_sleeve(ask: Ask, notes: Notes) -> None:
    refuse_impossible_sleeve(ask, notes)


@uv_dose.check("hydraulics", "tanks", "inactivation_rate")
def _clear_hydraulics(ask: Ask, notes: Notes) -> None:
    refuse_unclear_hydraulics(ask, notes)


def _reduction_equivalent_dose(ask: Ask, mean: Numbers, hydraulics: str | None) -> Numbers | None:
    if hydraulics == "plug_flow":
        return mean
    if hydraulics is None or ask.tanks is None or ask.inactivation_rate is None:
        return None
    return dose.reduction_equivalent_dose(mean, ask.inactivation_rate, ask.tanks)


def _reynolds_number(ask: Ask, chamber: Chamber, notes: Notes) -> Numbers:
    viscosity = water.kinematic_viscosity(ask.water_temperature)
    reynolds = annulus.reynolds_number(ask.flow, chamber.bore_radius, chamber.sleeve_radius, viscosity)
    message = (
        "The flow is laminar: water near wall and sleeve and in the middle of the gap gets doses far apart unless the "
        "inlet stirs it, and the RED may lie well below what these hydraulics give."
    )
    notes.warn("laminar_flow", "reynolds_number", message, when=reynolds < friction.TRANSITION_STARTS_AT)
    return reynolds


def _log_inactivation(ask: Ask, red: Numbers | None, notes: Notes) -> Numbers | None:
    if red is None or ask.inactivation_rate is None:
        return None
    notes.rest_on(_FIRST_ORDER)
    return dose.log_inactivation(red, ask.inactivation_rate)


def _meets(ask: Ask, mean: Numbers, red: Numbers | None, notes: Notes) -> Any:
    """Tell whether the target is met; where no hydraulics are named only a miss is known."""
    if red is None:
        missed = mean < ask.target_dose
        notes.warn("target_missed", "mean_dose", "Even the mean dose misses the target dose.", when=missed)
        return _ONLY_A_MISS[1 * missed]
    met = red >= ask.target_dose
    message = "The dose misses the target: less flow, clearer water, a newer lamp or a larger chamber is needed."
    notes.warn("target_missed", "reduction_equivalent_dose", message, when=red < ask.target_dose)
    message = f"The target is met by {NOT_VALIDATED}."
    notes.warn("calculated_not_validated", "meets_target", message, when=met)
    return met
