"""Asks the calculation again for a picture: over a column of one input, in the units of the answer."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from dosewright.engine.base import Answer
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.writing import units_for
from dosewright.present.picture.chart import Values
from dosewright.quantities import KINDS, PROFILES, Unit, UnitProfile

__all__ = ["answers_over", "profile_of", "unit_for", "unit_of"]


def profile_of(answer: Answer) -> UnitProfile:
    """Return the unit profile whose units an answer has; where single units were chosen, the nearest one."""

    def agreeing(profile: UnitProfile) -> int:
        symbols = units_for(type(answer), profile, None).symbols
        return sum(answer.units[name] == symbol for name, symbol in symbols.items())

    return max(("metric", *PROFILES), key=agreeing)


def unit_for(answer: Answer, kind: str) -> Unit:
    """Return the unit of a kind of quantity that goes with an answer."""
    return KINDS[kind].profiles[profile_of(answer)]


def unit_of(answer: Answer, field: str, kind: str) -> Unit:
    """Return the unit of a numeric field of an answer."""
    return KINDS[kind].lookup[answer.units[field]]


def answers_over(path: str, inputs: Mapping[str, Any], name: str, values: Values, field: str) -> Values:
    """Return one field of the answers over a column of one input; not a number where there is no answer.

    Parameters
    ----------
    path : str
        Topic and name of the calculation.
    inputs : mapping
        Its other inputs, in SI.
    name : str
        The input that varies.
    values : array
        Its values, in SI.
    field : str
        Numeric field of the answer, which is returned in SI.
    """
    answer = run_batch(path, {**inputs, name: values, "units": "si"})
    return np.asarray(answer.columns[field], dtype=np.float64)
