"""Survival of organisms after a dose: first order, shoulders, tails, a floor; and the dose for a survival.

All calculations use the natural logarithm of the survival, which keeps its digits where the survival itself is
far too small for a number.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless

__all__ = ["DoseResponse", "between_points", "dose_for_log_survival", "log_survival"]

_NEWTON_STEPS: Final = 8  # a convex curve from below: errors square, from at most ln 2 over the slower rate


class DoseResponse(NamedTuple):
    """Dose response of an organism; fields can be arrays.

    Attributes
    ----------
    form : {"first_order", "shoulder", "multi_target", "two_groups"}
        Which curve.
    rate : float or array
        Inactivation rate, base e; of the sensitive group where there are two. [m²/J]
    shoulder_dose : float or array
        ``shoulder``: length of the shoulder. [J/m²]
    targets : float or array
        ``multi_target``: number of targets, at least 1. [-]
    resistant_fraction, resistant_rate : float or array
        ``two_groups``: share and rate of the resistant group. [-], [m²/J]
    floor : float or array
        Share that no dose inactivates. [-]
    """

    form: Literal["first_order", "shoulder", "multi_target", "two_groups"]
    rate: Values
    shoulder_dose: Values = 0.0
    targets: Values = 1.0
    resistant_fraction: Values = 0.0
    resistant_rate: Values = 0.0
    floor: Values | None = None

    def refuse_nonsense(self) -> None:
        """Raise ValueError if the response is impossible."""
        refuse_unless((self.rate > 0.0) & (self.rate < np.inf), "inactivation rate must be above zero, and finite")
        refuse_unless((self.shoulder_dose >= 0.0) & (self.shoulder_dose < np.inf), "shoulder must be zero or more")
        refuse_unless((self.targets >= 1.0) & (self.targets < np.inf), "targets must be at least 1")
        if self.form == "two_groups":
            refuse_unless(
                (self.resistant_fraction > 0.0) & (self.resistant_fraction < 1.0),
                "resistant share must be between 0 and 1",
            )
            refuse_unless(
                (self.resistant_rate > 0.0) & (self.resistant_rate <= self.rate),
                "the resistant group must have the smaller rate",
            )
        if self.floor is not None:
            refuse_unless((self.floor >= 0.0) & (self.floor < 1.0), "floor must be at least 0 and below 1")

    @property
    def convex(self) -> bool:
        """Whether survival is a convex function of the dose, so that an uneven dose can only be less effective."""
        return self.form in {"first_order", "two_groups"}


def log_survival(dose: Values, response: DoseResponse) -> Values:
    """Natural logarithm of the share that survives a dose.

    Parameters
    ----------
    dose : float or array
        Dose. [J/m²]
    response : DoseResponse
        The organism's dose response.

    Returns
    -------
    float or array
        ln(survival), zero or below. [-]

    Raises
    ------
    ValueError
        The dose is below zero, or the response is impossible.

    Notes
    -----
    first_order: exp(-k D). shoulder: exp(-k D) exp(k Ds)/(1 + (exp(k Ds) - 1) exp(-k D)). multi_target:
    1 - (1 - exp(-k D))^m. two_groups: (1 - b) exp(-k D) + b exp(-k2 D). With a floor f: f + (1 - f) times that.

    References
    ----------
    Geeraerd, A. H., Herremans, C. H., Van Impe, J. F. (2000), International Journal of Food Microbiology 59, for the
    shoulder (from memory); the others are textbook forms.
    """
    response.refuse_nonsense()
    refuse_unless(dose >= 0.0, "dose must be zero or more")
    plain = _without_floor(dose, response)
    if response.floor is None:
        return plain
    return np.log(response.floor + (1.0 - response.floor) * np.exp(plain))


def _without_floor(dose: Values, response: DoseResponse) -> Values:
    steps = response.rate * dose
    if response.form == "shoulder":
        held = response.rate * response.shoulder_dose
        with np.errstate(divide="ignore"):
            start = np.log(0.0 - np.expm1(-held))
        return 0.0 - np.logaddexp(start, steps - held)
    if response.form == "multi_target":
        # Each form of the logarithm keeps its digits on its own side; at no dose it is minus infinity.
        with np.errstate(divide="ignore"):
            hit = np.where(steps < 0.5, np.log(0.0 - np.expm1(-steps)), np.log1p(0.0 - np.exp(-steps)))
            left = np.log(0.0 - np.expm1(response.targets * hit))
        # At high doses only one target remains to be hit, and 1 - (1 - e)^m is m e.
        return np.where(steps > 500.0, np.log(response.targets) - steps, left)
    if response.form == "two_groups":
        weak = np.log1p(-response.resistant_fraction) - steps
        return np.logaddexp(weak, np.log(response.resistant_fraction) - response.resistant_rate * dose)
    return 0.0 - steps


def dose_for_log_survival(log_survival: Values, response: DoseResponse) -> Values:
    """Dose for a survival: the inverse of `log_survival`.

    Parameters
    ----------
    log_survival : float or array
        ln(survival), zero or below. [-]
    response : DoseResponse
        The organism's dose response.

    Returns
    -------
    float or array
        Dose; NaN where the floor keeps survival above the required one. [J/m²]

    Raises
    ------
    ValueError
        The logarithm is above zero, or the response is impossible.

    References
    ----------
    As for `log_survival`.
    """
    response.refuse_nonsense()
    refuse_unless(log_survival <= 1e-12, "survival must be at most 1")
    required = np.minimum(log_survival, 0.0)
    if response.floor is not None:
        above = np.exp(required) - response.floor
        required = np.log(np.where(above > 1e-12 * response.floor, above, np.nan) / (1.0 - response.floor))
        required = np.minimum(required, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        if response.form == "shoulder":
            lost = np.log(0.0 - np.expm1(required)) - required
            return np.logaddexp(0.0, lost + response.rate * response.shoulder_dose) / response.rate
        if response.form == "multi_target":
            hit = np.log1p(0.0 - np.exp(required)) / response.targets
            steps = 0.0 - np.log(0.0 - np.expm1(hit))
            return np.where(required < -500.0, np.log(response.targets) - required, steps) / response.rate
    if response.form == "two_groups":
        return _two_groups_dose(required, response)
    return (0.0 - required) / response.rate


def _two_groups_dose(required: Values, response: DoseResponse) -> Array:
    """Newton's steps on a convex, falling curve from the left never overshoot."""
    weak, tough = np.log1p(-response.resistant_fraction), np.log(response.resistant_fraction)
    dose = np.maximum((weak - required) / response.rate, (tough - required) / response.resistant_rate)
    dose = np.maximum(dose, 0.0)
    for _ in range(_NEWTON_STEPS):
        first, second = weak - response.rate * dose, tough - response.resistant_rate * dose
        together = np.logaddexp(first, second)
        slope = response.rate * np.exp(first - together) + response.resistant_rate * np.exp(second - together)
        dose = dose + (together - required) / slope
    return np.maximum(dose, 0.0)  # for a survival of 1, rounding can put the last step just below zero


def between_points(value: Values, given: tuple[float, ...], required: tuple[float, ...]) -> Values:
    """Interpolate linearly in a table of points, in either direction.

    Parameters
    ----------
    value : float or array
        A dose, or a log inactivation.
    given, required : tuple of float
        Rising points of its kind, and those of the other; the first of both is zero.

    Returns
    -------
    float or array
        The other value; NaN above the last point.

    Source
    ------
    Textbook method: linear interpolation.
    """
    read = np.interp(value, given, required)
    return (
        np.where(np.asarray(value) <= given[-1], read, np.nan)
        if np.ndim(value)
        else (float(read) if value <= given[-1] else float("nan"))
    )
