"""The flow at which one chamber gives a target dose, and the targets that no flow reaches."""

from typing import Any

import numpy as np

from dosewright.core.light import dose
from dosewright.core.light.doses import laminar_dose, tank_doses
from dosewright.core.light.field import Field
from dosewright.core.light.survival import DoseResponse
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.uv.unit.hydraulics import response_of

__all__ = [
    "NO_FLOW",
    "credited_dose",
    "flow_for_target",
    "mean_dose_needed",
    "red_in_tanks",
    "reds_add",
    "refuse_endless_dose",
    "unmixed_flow",
    "warn_where_capped",
]

NO_FLOW = (
    "No flow gives this RED. The dose response has a floor above it, or so few tanks in series would need more "
    "than a thousand times the target."
)

_RED_ABOVE = (
    "With this dose response the RED would be above the mean dose. At most the mean dose is credited: this is "
    "the value for the mean dose."
)
_CAPPED = 1.0 - 1e-6  # of the mean dose or its flow: difference between two sums of one dose


def flow_for_target(ask: Any, field: Field, power: Numbers, absorption: Numbers, target: Numbers) -> Numbers:
    """Return the flow of one unit at which its RED with the chosen hydraulics, or its mean dose, is the target."""
    response = response_of(ask)
    if ask.hydraulics == "laminar" and response is not None:
        return laminar_dose.flow_for_laminar_dose(field, power, absorption, target, response)
    average = field.average(power, absorption)
    # Not a number if no mean dose gives the target. The caller adds the fault.
    return average * field.volume / mean_dose_needed(ask, target)


def unmixed_flow(
    ask: Any, field: Field, power: Numbers, absorption: Numbers, target: Numbers, units_in_series: Numbers = 1.0
) -> Numbers:
    """Return the flow of one unit at which unmixed laminar flow gives the target: the lower bound without hydraulics.

    The lowest dose of a streamline is used without an organism, and for units in series whose REDs do not add.
    """
    response = response_of(ask)
    light = (field, power, absorption, target)
    if response is None or reds_add(response) or not np.any(units_in_series > 1.0):
        return laminar_dose.flow_for_laminar_dose(*light, response)
    least = laminar_dose.flow_for_laminar_dose(*light, None)
    if not np.ndim(units_in_series):
        return least
    return np.where(units_in_series > 1.0, least, laminar_dose.flow_for_laminar_dose(*light, response))


def mean_dose_needed(ask: Any, target: Numbers) -> Numbers:
    """Return the mean dose of one unit that the chosen hydraulics need for a target; without tanks, the target."""
    response = response_of(ask)
    if ask.hydraulics != "tanks_in_series" or ask.tanks is None or response is None:
        return target
    if reds_add(response):
        return dose.mean_dose_needed(target, response.rate, ask.tanks)
    return np.maximum(tank_doses.mean_dose_needed(target, response, ask.tanks), target)


def red_in_tanks(mean_dose: Numbers, response: DoseResponse, tanks: Numbers) -> Numbers:
    """RED of tanks in series for any dose response."""
    if reds_add(response):
        return dose.reduction_equivalent_dose(mean_dose, response.rate, tanks)
    return tank_doses.reduction_equivalent_dose(mean_dose, response, tanks)


def credited_dose(red: Numbers, mean_dose: Numbers) -> Numbers:
    """Return the credited dose. With a shoulder or a tail the RED can be above the mean dose, which is the maximum."""
    return np.minimum(red, mean_dose)


def warn_where_capped(ask: Any, value: Numbers, most: Numbers, field: str, notes: Notes) -> None:
    """Warn if uneven doses are limited to the mean dose, the highest credit."""
    response = response_of(ask)
    if ask.hydraulics == "plug_flow" or response is None or response.convex:
        return
    notes.warn("red_above_mean", field, _RED_ABOVE, when=(value >= _CAPPED * most))


def reds_add(response: DoseResponse) -> bool:
    """Return whether the REDs of units in series add: survivals multiply for a first-order organism without a floor."""
    return response.form == "first_order" and response.floor is None


def refuse_endless_dose(ask: Any, notes: Notes) -> None:
    """Refuse a target for which so few tanks need an infinite mean dose."""
    response = response_of(ask)
    if ask.hydraulics != "tanks_in_series" or ask.tanks is None or getattr(ask, "rated_points", 0):
        return
    if response is None or not reds_add(response):
        return
    each = ask.target_dose / getattr(ask, "units_in_series", 1.0)
    most = dose.MOST_EXPONENT * ask.tanks / response.rate
    beyond = each >= most
    given = "" if np.ndim(beyond) else f" of {each / 10.0:.4g} mJ/cm2"
    allowed = "below 700 x tanks / rate" if np.ndim(beyond) else f"below {most / 10.0:.4g} mJ/cm2"
    message = (
        f"A RED{given} cannot be reached with so few tanks in series for so sensitive an organism. The water that "
        "passes a mixed tank fastest sets the survival, and the mean dose would be infinite. Enter a lower "
        "target, or more tanks."
    )
    notes.refuse("target_unreachable", "target_dose", message, when=beyond, allowed=allowed)
