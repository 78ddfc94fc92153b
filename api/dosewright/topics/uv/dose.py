"""Dose of a coaxial ultraviolet chamber."""

from typing import Any

import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.hydraulics import annulus, friction
from dosewright.core.light import dose
from dosewright.core.light.field import Field
from dosewright.core.water_and_air import water
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.engine.registry import Cases, Views, calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv import charts
from dosewright.topics.uv.contracts.unit import DoseAnswer, DoseRequest, EnergyShares
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    NOT_VALIDATED,
    ONLY_A_MISS,
    add_basis_of_field_model,
    field_of,
    lamp_power,
    refuse_impossible_chamber,
    refuse_impossible_sleeve,
    warn_lamp,
)
from dosewright.topics.uv.unit.hydraulics import (
    ORGANISMS,
    hydraulics_of,
    log_inactivation,
    refuse_unclear_hydraulics,
    response_of,
    warn_organism,
    warn_target_between,
)
from dosewright.topics.uv.unit.target_flow import credited_dose
from dosewright.topics.uv.unit.uneven_dose import (
    Passage,
    bounds_of,
    distribution_of,
    of_another_flow,
    red_of,
    refuse_unclear_residence_times,
)

__all__ = ["uv_dose"]

Ask = DoseRequest[Numbers]

_VERDICTS = np.array([None, False, True], dtype=object)

_RESIDUAL = 1e-6  # accuracy of the integrals

_MEAN_DOSE = Basis(
    method="mean dose = mean fluence rate x volume / flow; absorption coefficient = -ln(UVT)/1 cm",
    source="definitions",
    validity=NOT_VALIDATED,
)
_FIRST_ORDER = Basis(
    method="log inactivation = k RED / ln 10",
    source="first-order inactivation, definition",
    validity="doses over which the organism's dose response is a straight line, without tail or shoulder",
)

_OTHER_RESPONSE = Basis(
    method="log inactivation = -log10 of the survival after the RED, by the entered dose response",
    source="shoulder: Geeraerd, Herremans and Van Impe (2000), from memory; multi_target, two_groups: textbook",
    validity="doses over which the constants were fitted; a shoulder can raise the RED above the mean dose",
)


_CASES = Cases("flow", "L/min", (10, 15, 20, 25, 30, 40, 50, 60), "mean_dose")


@calculation(
    "uv/dose",
    views=Views(chart=charts.dose, cases=_CASES),
    request=DoseRequest,
    answer=DoseAnswer,
    summary="Dose of an ultraviolet chamber, compared with a target",
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
    """Calculate fluence rate, residence time, mean dose and RED of a lamp on the axis of an annular chamber.

    The light of the finite lamp, after the sleeve, is averaged over the water. The mean dose is that of water with the
    mean residence time. With hydraulics the answer has a RED and compares it with the target dose. With an organism, it
    has the log inactivation.
    """
    add_basis_of_field_model(ask, notes, "mean_fluence_rate")
    warn_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.add_basis(_MEAN_DOSE)
    field = field_of(ask, ask.arc_length, ask.chamber_length, ask.sleeve_outer_diameter, ask.chamber_bore)
    absorption = dose.absorption_coefficient(ask.uvt, CENTIMETRE)
    power = lamp_power(ask)
    rates, balance = field.rates_and_balance(power, absorption)
    time = dose.residence_time(field.volume, ask.flow)
    mean = dose.mean_dose(rates.average, time)
    passage = Passage(field, power, absorption, ask.flow, rates.average, mean, response_of(ask))
    hydraulics = hydraulics_of(ask, notes, "mean_dose")
    warn_organism(ask, notes)
    red = red_of(ask, passage, notes)
    credited = None if red is None else credited_dose(red, mean)
    lower, upper = bounds_of(passage, notes) if hydraulics is None else (None, None)
    reynolds = _reynolds_number(ask, field, notes)
    notes.caution(*CAUTIONS)
    return DoseAnswer(
        mean_fluence_rate=rates.average,
        fluence_rate_at_sleeve=rates.at_sleeve,
        fluence_rate_at_wall=rates.at_wall,
        absorption_coefficient=absorption,
        absorbed_share=balance.water,
        volume=field.volume,
        residence_time=time,
        reynolds_number=reynolds,
        regime=label(friction.flow_regime(reynolds), friction.REGIMES),
        mean_dose=mean,
        reduction_equivalent_dose=red,
        red_to_mean_dose=None if red is None else red / mean,
        red_lower_bound=lower,
        red_upper_bound=upper,
        log_inactivation=_log_inactivation(ask, passage, credited, notes),
        meets_target=_meets(ask, passage, credited, lower, notes),
        energy_balance=_energy_balance(balance, notes),
        dose_distribution=distribution_of(ask, passage) if ask.distribution else None,
    )


def _energy_balance(balance: Any, notes: Notes) -> EnergyShares[Numbers]:
    residual = 1.0 - balance.total
    message = (
        "The error of the energy balance is above 1e-6. The chamber is far outside those that the integrals were "
        "tested on. The relative error of fluence rates and doses is about this residual."
    )
    notes.warn("energy_balance_not_closed", "energy_balance", message, when=abs(residual) > _RESIDUAL)
    return EnergyShares(
        emitted_share=1.0,
        sleeve=balance.sleeve,
        water=balance.water,
        wall=balance.wall,
        end_loss=balance.ends,
        residual=residual,
    )


@uv_dose.check("chamber_bore", "sleeve_outer_diameter", "sleeve_wall", "arc_length", "chamber_length", "opaque_ends")
def _possible_chamber(ask: Ask, notes: Notes) -> None:
    refuse_impossible_chamber(ask, notes)


@uv_dose.check("sleeve_transmittance", "field_model", "n_air", "n_quartz")
def _possible_sleeve(ask: Ask, notes: Notes) -> None:
    refuse_impossible_sleeve(ask, notes)


@uv_dose.check("hydraulics", "tanks", *ORGANISMS)
def _clear_hydraulics(ask: Ask, notes: Notes) -> None:
    refuse_unclear_hydraulics(ask, notes)


@uv_dose.check("hydraulics", "residence_times", "residence_shares")
def _whole_residence_times(ask: Ask, notes: Notes) -> None:
    refuse_unclear_residence_times(ask, notes)


def _reynolds_number(ask: Ask, field: Field, notes: Notes) -> Numbers:
    viscosity = water.kinematic_viscosity(ask.water_temperature)
    reynolds = annulus.reynolds_number(ask.flow, field.bore_radius, field.sleeve_radius, viscosity)
    message = (
        "The flow is laminar. Water near wall and sleeve receives a dose very different from water in the middle "
        "of the gap, unless the inlet stirs it. The RED can be well below the value from these hydraulics."
    )
    if ask.hydraulics != "laminar":
        notes.warn("laminar_flow", "reynolds_number", message, when=reynolds < friction.TRANSITION_STARTS_AT)
        return reynolds
    message = (
        "The flow is not laminar. It mixes across the section, so the RED of unmixed streamlines is below the "
        "expected RED, apart from short circuits."
    )
    notes.warn("not_laminar", "reynolds_number", message, when=reynolds >= friction.TRANSITION_STARTS_AT)
    return reynolds


def _log_inactivation(ask: Ask, passage: Passage, red: Numbers | None, notes: Notes) -> Numbers | None:
    if red is None or passage.response is None:
        return None
    notes.add_basis(_FIRST_ORDER if passage.response.form == "first_order" else _OTHER_RESPONSE)
    return log_inactivation(ask, passage.response, red, notes)


def _meets(ask: Ask, passage: Passage, red: Numbers | None, lower: Numbers | None, notes: Notes) -> Any:
    """Return whether the target is met. Without hydraulics only a miss can be decided."""
    mean = passage.mean_dose
    if red is None:
        missed = mean < ask.target_dose
        notes.warn("target_missed", "mean_dose", "Even the mean dose is below the target dose.", when=missed)
        if lower is not None:
            warn_target_between(mean, lower, ask.target_dose, "red_lower_bound", notes)
        return ONLY_A_MISS[1 * missed]
    unknown = of_another_flow(ask, passage)
    met = np.logical_and(red >= ask.target_dose, np.logical_not(unknown))[()]
    message = (
        "The dose is below the target. Reduce the flow, make the water clearer, fit a new lamp, or use a "
        "larger chamber."
    )
    notes.warn("target_missed", "reduction_equivalent_dose", message, when=red < ask.target_dose)
    message = f"The target is met by {NOT_VALIDATED}."
    notes.warn("calculated_not_validated", "meets_target", message, when=met)
    if unknown is False:
        return met
    message = "The residence times were measured at another flow, so there is no verdict. Measure them at this flow."
    notes.warn("no_verdict", "meets_target", message, when=unknown)
    return _VERDICTS[np.where(unknown, 0, np.where(met, 2, 1))[()]]
