"""Amounts in household measures: rounded up, and written in the units of a system."""

import math
from functools import cache
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.measures import round_up_to_step
from dosewright.quantities import KINDS, Numbers
from dosewright.tables.emergency import emergency_rule
from dosewright.tables.measures import MeasureSystem, MeasureUnit, measure_system
from dosewright.tables.names import MeasuredAs as Dimension
from dosewright.tables.names import MeasureSystemName as System

__all__ = ["Dimension", "Measured", "System", "drops_of", "measured", "tablets_of"]

_FRACTIONS = {0.0: "", 0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}
_COUNTED = 1e-6  # tolerance, so that rounding of a unit's size does not lose a count


class Measured(NamedTuple):
    """An amount rounded up.

    Attributes
    ----------
    amount : float or array
        In SI.
    text : str, or array of str
        In words, e.g. ``1 quart + 2 tablespoons``.
    """

    amount: Numbers
    text: Any


def measured(amount: Numbers, system: System, dimension: Dimension) -> Measured:
    """Round an amount [m³ or kg] up to a mark of a system of measures, and write it in words."""
    marks = measure_system(system, dimension)
    size = _size_of(marks.step_unit, dimension)
    counts = round_up_to_step(amount / size, marks.least, marks.step)
    if np.ndim(counts) == 0:
        return Measured(counts * size, _in_words(float(counts), marks, dimension))
    # There are few marks for any number of rows: each is written in words once.
    distinct, which = np.unique(counts, return_inverse=True)
    words = np.array([_in_words(float(count), marks, dimension) for count in distinct], dtype=object)
    return Measured(counts * size, words[which])


def drops_of(amount: Numbers) -> Numbers | None:
    """Return an amount [m³] as drops, rounded up; None, or not a number, above a teaspoon."""
    counts = round_up_to_step(amount / emergency_rule("drop"), np.array([0.0]), np.array([1.0]))
    few = amount <= _size_of("tsp", "volume") * (1.0 + _COUNTED)
    if np.ndim(few) == 0:
        return counts if few else None
    return np.where(few, counts, np.nan)


def tablets_of(mass: Numbers, tablet_mass: Numbers) -> Measured:
    """Round a mass [kg] up to whole tablets, and write the number."""
    counts = round_up_to_step(mass / tablet_mass, np.array([0.0]), np.array([1.0]))
    if np.ndim(counts) == 0:
        return Measured(counts * tablet_mass, _tablets(float(counts)))
    distinct, which = np.unique(counts, return_inverse=True)
    words = np.array([_tablets(float(count)) for count in distinct], dtype=object)
    return Measured(counts * tablet_mass, words[which])


def _tablets(count: float) -> str:
    return f"{count:.0f} tablet{'' if count == 1.0 else 's'}"


@cache
def _size_of(symbol: str, dimension: Dimension) -> float:
    return KINDS[dimension].lookup[symbol].to_si(1.0)


def _in_words(count: float, marks: MeasureSystem, dimension: Dimension) -> str:
    size = _size_of(marks.step_unit, dimension)
    rest = count * size
    parts: list[str] = []
    for unit in marks.units:
        one = _size_of(unit.symbol, dimension)
        number = math.floor(rest / one / unit.fraction + _COUNTED) * unit.fraction
        if number >= unit.least:
            parts.append(_counted(number, unit))
            rest -= number * one
    return " + ".join(parts)


def _counted(number: float, unit: MeasureUnit) -> str:
    if unit.fraction not in {0.25, 1.0} or unit.symbol in {"mL", "g"}:
        return f"{number:.12g} {unit.symbol}"
    whole, part = divmod(number, 1.0)
    digits = " ".join(text for text in (f"{whole:.0f}" if whole else "", _FRACTIONS[part]) if text)
    return f"{digits} {unit.title}{'s' if number > 1.0 else ''}"
