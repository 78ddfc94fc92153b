"""RED, bounds and distribution of the doses in one chamber, for the chosen hydraulics."""

import itertools
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.arrays import Array, Values, over_chunks, sum_over_nodes
from dosewright.core.light import dose
from dosewright.core.light.doses import dose_distribution, dose_shares, equivalent_dose, laminar_dose
from dosewright.core.light.doses.dose_distribution import FINE, Distribution
from dosewright.core.light.field import Field
from dosewright.core.light.survival import DoseResponse
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.unit import DoseBin, DoseDistribution, DosePercentile, DoseRequest

__all__ = ["Passage", "bounds_of", "distribution_of", "of_another_flow", "red_of", "refuse_unclear_residence_times"]

Ask = DoseRequest[Numbers]

_UNEVEN = Basis(
    method=(
        "red_to_mean_dose: survival falls more and more slowly as the dose rises, so water with more than the mean "
        "dose does not make up for water with less. The RED is below the mean dose. The difference grows with uneven "
        "doses and with sensitive organisms"
    ),
    source="Jensen's inequality",
    validity=(
        "dose responses that are convex over the doses that occur: first order and tails; a shoulder can reverse it"
    ),
)
_NO_RED = "The RED has no value: the only surviving organisms are those that no dose inactivates."
_LEAST_STAY, _MOST_STAY = 0.9, 1.1  # mean residence time over volume / flow
_CHUNK = 1024
_FINE_CHUNK = 64
_SHARES = (0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)
_BARS = tuple(0.2 * step for step in range(11))


class Passage(NamedTuple):
    """Water that passes through one chamber.

    Attributes
    ----------
    field : Field
        Lamp and chamber.
    power, absorption, flow : float or array
        UV-C output of the aged, fouled lamp, absorption of the water, flow. [W], [1/m], [m³/s]
    mean_fluence_rate, mean_dose : float or array
        Chamber average, and the dose in the mean residence time. [W/m²], [J/m²]
    response : DoseResponse or None
        Dose response of the organism.
    """

    field: Field
    power: Numbers
    absorption: Numbers
    flow: Numbers
    mean_fluence_rate: Numbers
    mean_dose: Numbers
    response: DoseResponse | None


def red_of(ask: Ask, passage: Passage, notes: Notes) -> Numbers | None:
    """Return the RED with the chosen hydraulics, or None without hydraulics."""
    response, mean = passage.response, passage.mean_dose
    _warn_residence_times(ask, passage, notes)
    if ask.hydraulics is None:
        return None
    if ask.hydraulics == "plug_flow" or response is None:
        red: Numbers = mean
    elif ask.hydraulics == "laminar":
        red = laminar_dose.laminar_dose(passage.field, passage.power, passage.absorption, passage.flow, response)[0]
    elif ask.hydraulics == "tanks_in_series" and response.form == "first_order" and response.floor is None:
        red = dose.reduction_equivalent_dose(mean, response.rate, _known(ask.tanks))
    else:
        red = _red_of_parcels(ask, passage, response)
    if red is not mean:
        notes.add_basis(_UNEVEN)
    notes.refuse("red_undefined", "dose_response", _NO_RED, when=np.isnan(red))
    if not response_is_convex(response):
        message = (
            "With a shoulder or a tail the RED is above the mean dose. Log inactivation and verdict use the mean "
            "dose instead: no more is credited."
        )
        notes.warn("red_above_mean", "reduction_equivalent_dose", message, when=red > mean)
    return red


def _warn_residence_times(ask: Ask, passage: Passage, notes: Notes) -> None:
    if ask.hydraulics != "residence_times":
        for name in ("residence_times", "residence_shares"):
            if getattr(ask, name) is not None:
                notes.warn("not_used", name, f"{name} is used only with hydraulics residence_times.")
        return
    ratio = _stay_ratio(ask, passage)
    message = (
        "The mean of the residence times is more than 10 % below volume / flow. Possible reasons: times of "
        "another flow, a dead zone that the tracer did not enter, or lost tracer."
    )
    notes.warn("residence_times_differ", "residence_times", message, when=ratio < _LEAST_STAY)
    message = (
        "The mean of the residence times is more than 10 % above volume / flow, which is impossible. The times "
        "are from a lower flow, or the chamber's sizes are wrong. Dose and RED are overestimated. Do not rely on "
        "them."
    )
    notes.warn("residence_times_too_long", "residence_times", message, when=ratio > _MOST_STAY)


def _stay_ratio(ask: Ask, passage: Passage) -> Numbers:
    """Return the mean of the residence times, divided by volume / flow."""
    times, shares = _tracer(ask)
    return float(np.sum(times * shares) / np.sum(shares)) * passage.flow / passage.field.volume


def of_another_flow(ask: Ask, passage: Passage) -> Any:
    """Return whether the residence times were measured at another flow. Then there is no verdict."""
    if ask.hydraulics != "residence_times":
        return False
    ratio = _stay_ratio(ask, passage)
    return np.logical_or(ratio < _LEAST_STAY, ratio > _MOST_STAY)[()]


def response_is_convex(response: DoseResponse | None) -> bool:
    """Return whether uneven doses can only be less effective than their mean."""
    return response is None or response.convex


def _known(value: Numbers | None) -> Numbers:
    return 1.0 if value is None else value


def _parcels(ask: Ask, mean: Values, rate: Values, tanks: Values, nodes: int) -> Distribution:
    if ask.hydraulics == "residence_times":
        times, shares = _tracer(ask)
        return dose_distribution.from_residence_times(rate, times, shares)
    if ask.hydraulics == "tanks_in_series":
        return dose_distribution.in_tanks(mean, tanks, nodes)
    return dose_distribution.single_dose(mean)


def _tracer(ask: Ask) -> tuple[Array, Array]:
    return np.asarray(ask.residence_times, dtype=np.float64), np.asarray(ask.residence_shares, dtype=np.float64)


def _red_of_parcels(ask: Ask, passage: Passage, response: DoseResponse) -> Numbers:
    def kernel(mean: Values, rate: Values, tanks: Values, response: DoseResponse) -> tuple[Array]:
        nodes = dose_distribution.STREAMLINES if response.convex else FINE
        spread = _parcels(ask, mean, rate, tanks, nodes)
        return (equivalent_dose.reduction_equivalent_dose(spread, response),)

    tanks = _known(ask.tanks)
    return over_chunks(kernel, _CHUNK, passage.mean_dose, passage.mean_fluence_rate, tanks, response)[0]


def bounds_of(passage: Passage, notes: Notes) -> tuple[Numbers, Numbers]:
    """Return the RED of unmixed laminar flow, and of water that all receives the mean dose."""
    least = laminar_dose.laminar_dose(passage.field, passage.power, passage.absorption, passage.flow, passage.response)[
        0
    ]
    notes.warn("red_undefined", "red_lower_bound", _NO_RED, when=np.isnan(least))
    if not response_is_convex(passage.response):
        message = (
            "With this dose response, unmixed laminar flow is more effective than the mean dose. Water between "
            "these two cases can be less effective than both. The lower bound is therefore at most the mean dose."
        )
        notes.warn("red_above_mean", "red_lower_bound", message, when=least > passage.mean_dose)
    return np.minimum(least, passage.mean_dose), passage.mean_dose


def distribution_of(ask: Ask, passage: Passage) -> DoseDistribution[Numbers] | None:
    """Return percentiles and histogram of the doses with the chosen hydraulics; laminar without hydraulics."""
    average, least, missed, *rest = _percentiles_and_bars(ask, passage)
    doses, bars = rest[: len(_SHARES)], rest[len(_SHARES) :]
    ends: list[Numbers | None] = [bar * average for bar in _BARS[1:]]
    return DoseDistribution(
        mean=average,
        least=least,
        below_target=missed,
        percentiles=[DosePercentile(share=share, dose=value) for share, value in zip(_SHARES, doses, strict=True)],
        histogram=[
            DoseBin(start=bar * average, end=end, share=share)
            for bar, end, share in zip(_BARS, [*ends, None], bars, strict=True)
        ],
    )


def _percentiles_and_bars(ask: Ask, passage: Passage) -> tuple[Any, ...]:
    """Return mean, lowest dose, share below the target, doses by share, and shares by bar."""
    laminar = ask.hydraulics in {None, "laminar"}

    def kernel(
        field: Field,
        power: Values,
        absorption: Values,
        flow: Values,
        mean: Values,
        rate: Values,
        tanks: Values,
        target: Values,
    ) -> tuple[Array, ...]:
        if laminar:
            spread = dose_distribution.in_laminar_flow(field, power, absorption, flow, FINE)
        else:
            spread = _parcels(ask, mean, rate, tanks, FINE)
        average = sum_over_nodes(spread.doses * spread.shares)
        below = [dose_shares.share_below(spread, bar * average) for bar in _BARS[1:]]
        bars = [below[0], *(above - under for under, above in itertools.pairwise(below)), 1.0 - below[-1]]
        doses = [dose_shares.percentile(spread, share) for share in _SHARES]
        least = np.min(spread.doses, axis=0) if ask.hydraulics != "tanks_in_series" else 0.0 * average
        return (average, least, dose_shares.share_below(spread, target), *doses, *bars)

    return over_chunks(
        kernel,
        _FINE_CHUNK,
        passage.field,
        passage.power,
        passage.absorption,
        passage.flow,
        passage.mean_dose,
        passage.mean_fluence_rate,
        _known(ask.tanks),
        ask.target_dose,
    )


def refuse_unclear_residence_times(ask: Ask, notes: Notes) -> None:
    """Refuse residence times without their shares, and shares without times."""
    times: object = ask.residence_times
    shares: object = ask.residence_shares
    if ask.hydraulics != "residence_times":
        return
    for name, given in (("residence_times", times), ("residence_shares", shares)):
        if given is None:
            notes.refuse("required", name, f"residence_times needs {name}, with one value per share of the water.")
    if isinstance(times, tuple) and isinstance(shares, tuple):
        if len(times) != len(shares):  # pyright: ignore[reportUnknownArgumentType]
            message = "residence_times and residence_shares must have the same number of values."
            notes.refuse("lengths_differ", "residence_shares", message)
        elif not sum(shares) > 0.0:  # pyright: ignore[reportUnknownArgumentType]
            notes.refuse("shares_all_zero", "residence_shares", "At least one share must be above zero.")
