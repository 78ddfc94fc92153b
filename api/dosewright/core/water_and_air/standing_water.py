"""Standing water in a lit chamber: its temperature over time, and the trickle flow that keeps it cool."""

from __future__ import annotations

from typing import Any

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

__all__ = ["final_temperature", "temperature_after", "time_to_temperature", "trickle_flow"]


def final_temperature(power: Values, loss: Values, air_temperature: Values) -> Values:
    """Temperature at which the chamber loses what the lamp gives.

    Parameters
    ----------
    power : float or array
        Heat that stays in the chamber. [W]
    loss : float or array
        Heat lost to the air per kelvin above it. [W/K]
    air_temperature : float or array
        Of the room. [K]

    Returns
    -------
    float or array
        air + power/loss; infinite without loss. [K]

    Source
    ------
    Energy balance: power is what the chamber loses.
    """
    _refuse_nonsense(power, loss)
    lossless = np.asarray(loss) == 0.0
    bound: Any = air_temperature + np.where(lossless, np.inf, power / np.where(lossless, 1.0, loss))
    return bound if np.ndim(bound) else float(bound)


def temperature_after(
    time: Values, start: Values, power: Values, loss: Values, air_temperature: Values, heat_capacity: Values
) -> Values:
    """Temperature of standing water after a time.

    Parameters
    ----------
    time : float or array
        Time with the valve closed. [s]
    start : float or array
        Temperature at its beginning. [K]
    power, loss, air_temperature : float or array
        As in `final_temperature`. [W], [W/K], [K]
    heat_capacity : float or array
        Of water and chamber together. [J/K]

    Returns
    -------
    float or array
        Temperature. [K]

    Notes
    -----
    start + (power - loss (start - air)) time/capacity (1 - exp(-x))/x with x = loss time/capacity: the same as the
    exponential approach to the final temperature, and finite without loss.

    Source
    ------
    Energy balance: of the mixed chamber, solved over time.
    """
    _refuse_nonsense(power, loss)
    refuse_unless_positive("heat capacity", heat_capacity)
    refuse_unless(time >= 0.0, "time must be zero or more")
    ratio = np.asarray(loss * time / heat_capacity)
    small = ratio < 1e-8
    mean = np.where(small, 1.0 - 0.5 * ratio, (0.0 - np.expm1(-ratio)) / np.where(small, 1.0, ratio))
    end: Any = start + (power - loss * (start - air_temperature)) * time / heat_capacity * mean
    return end if np.ndim(end) else float(end)


def time_to_temperature(
    limit: Values, start: Values, power: Values, loss: Values, air_temperature: Values, heat_capacity: Values
) -> Values:
    """Time until standing water reaches a temperature.

    Parameters
    ----------
    limit : float or array
        Temperature limit. [K]
    start, power, loss, air_temperature, heat_capacity : float or array
        As in `temperature_after`. [K], [W], [W/K], [K], [J/K]

    Returns
    -------
    float or array
        Time; zero where the water is already that warm, NaN where it never is. [s]

    Source
    ------
    Energy balance: of the mixed chamber, solved for the time.
    """
    _refuse_nonsense(power, loss)
    refuse_unless_positive("heat capacity", heat_capacity)
    first = power - loss * (start - air_temperature)
    last = power - loss * (limit - air_temperature)
    rises = (np.asarray(limit) > start) & (last > 0.0)
    part = np.where(rises, loss * (limit - start) / np.where(rises, first, 1.0), 0.0)
    small = part < 1e-8
    stretch = np.where(small, 1.0 + 0.5 * part, (0.0 - np.log1p(-part)) / np.where(small, 1.0, part))
    time = heat_capacity * (limit - start) / np.where(rises, first, 1.0) * stretch
    reached: Any = np.where(np.asarray(limit) <= start, 0.0, np.where(rises, time, np.nan))
    return reached if np.ndim(reached) else float(reached)


def trickle_flow(
    limit: Values,
    inlet: Values,
    power: Values,
    loss: Values,
    air_temperature: Values,
    volumetric_heat_capacity: Values,
) -> Values:
    """Steady flow that keeps the water at a temperature.

    Parameters
    ----------
    limit : float or array
        Temperature to be kept. [K]
    inlet : float or array
        Temperature of the water that comes in. [K]
    power, loss, air_temperature : float or array
        As in `final_temperature`. [W], [W/K], [K]
    volumetric_heat_capacity : float or array
        Of water. [J/(m³·K)]

    Returns
    -------
    float or array
        Flow; zero where the loss alone keeps it, NaN where the inlet is no cooler than the limit. [m³/s]

    Notes
    -----
    (power - loss (limit - air))/(capacity (limit - inlet)): the whole chamber at the limit, mixed.

    Source
    ------
    Energy balance: of the mixed chamber with flow, at the limit.
    """
    _refuse_nonsense(power, loss)
    refuse_unless_positive("heat capacity", volumetric_heat_capacity)
    spare = np.maximum(power - loss * (limit - air_temperature), 0.0)
    rise = np.asarray(limit - inlet)
    flow: Any = np.where(rise > 0.0, spare / (volumetric_heat_capacity * np.where(rise > 0.0, rise, 1.0)), np.nan)
    return flow if np.ndim(flow) else float(flow)


def _refuse_nonsense(power: Values, loss: Values) -> None:
    refuse_unless((power >= 0.0) & (power < np.inf), "power must be zero or more, and finite")
    refuse_unless((loss >= 0.0) & (loss < np.inf), "loss must be zero or more, and finite")
